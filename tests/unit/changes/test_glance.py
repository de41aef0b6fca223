"""At first sight: what moves with all else left as it is, shown while everything is still searched."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from optimiser import service
from optimiser.changes import against, ask
from optimiser.changes.first_sight import changed
from optimiser.model import events as h
from optimiser.model.events import Happening
from optimiser.model.job import Job, Owned, Pot, Time
from optimiser.model.moves import Moves, Turn
from optimiser.planning import choose
from optimiser.show import change_words
from tests.tiny_job import BASE, BLOWER, CHECKED, HORN, LAMP, NEW, USED, but
from tests.unit.changes.stories import MONEY, SAID, fitted, kept, moment, note, spend

FAULTS = (HORN, LAMP, but(BLOWER, twin="pair"), but(BLOWER, id="other", twin="pair"))
JOB = but(CHECKED, faults=FAULTS, quotes=(NEW, USED), suppliers=BASE.suppliers,
          pot=Pot(cap_minor=9000, hour_worth_minor=0))  # fmt: skip
SPINS = h.CheckMade(**MONEY, fault="blower", check="feed", result="spins")
OTHERWISE: Mapping[str, tuple[Job, tuple[Happening, ...], set[str]]] = {
    "nothing": (JOB, (note(),), set()),
    "money": (but(JOB, pot=Pot(cap_minor=100)), (spend(5),), set()),
    "a finding, and its twin": (JOB, (SPINS,), {"blower", "other"}),
    "an attempt": (JOB, (fitted("lamp", "clean", cured=False),), {"lamp"}),
    "a cure tells of the twin": (JOB, (fitted("blower", "wire", cured=True),), {"blower", "other"}),
    "a price": (but(JOB, quotes=(but(NEW, price_minor=1), USED)), (), {"horn"}),
    "a purchase": (JOB, (h.Purchase.of(NEW, 1, currency="GBP", postage_minor=0, **SAID),), {"horn"}),
    "the shelf": (but(JOB, owned=(Owned(part="disc", condition="new", good_chance=1),)), (), {"horn"}),
    "a row of its own": (but(JOB, faults=(HORN, but(LAMP, importance=2.0), *FAULTS[2:])), (), {"lamp"}),
    "a fault that is new": (but(JOB, faults=(*FAULTS, but(LAMP, id="later"))), (), {"later"}),
    "rows turned round": (but(JOB, faults=FAULTS[::-1], quotes=(USED, NEW)), (), set()),
}


@pytest.mark.parametrize("story", OTHERWISE)
def test_the_faults_to_be_thought_over(story: str) -> None:
    job, happenings, faults = OTHERWISE[story]
    assert changed(moment(JOB).planned, moment(job, *happenings).planned) == faults


@pytest.fixture
def shown(monkeypatch: pytest.MonkeyPatch) -> list[Moves]:
    """What was shown at first sight, however small the job."""
    monkeypatch.setattr(choose, "WORTH_A_FIRST_SIGHT", 0)
    return []


def told(shown: list[Moves], was: Job, *happenings: Happening, now: Job | None = None) -> Moves:
    here = moment(now or was, *happenings)
    return against(kept(was, here), here, service.drawn_up, 60, lambda _: None, shown.append)


def test_a_finding_shows_what_it_moves_at_once(shown: list[Moves]) -> None:
    told(shown, but(JOB, faults=(HORN, BLOWER)), SPINS)
    (early,) = shown
    assert {move.fault.id for move in early.moved} == {"blower"}
    first, item = change_words.at_first(early)
    assert first == "So far, all else left as it is (everything is still being searched):"
    assert item.startswith('- Blower dead (minor): goes on as the plan foresaw; now "Mend the wire".')
    assert item.endswith("Because of entry 1 (Feed it 12 V: spins).")


def test_nothing_moved_so_far(shown: list[Moves]) -> None:
    told(shown, JOB, note())
    assert list(change_words.at_first(shown[0])) == [
        "So far the plan stays as it was; everything is still being searched."
    ]


def test_money_freed_is_spent_on_what_was_left(shown: list[Moves]) -> None:
    """The motor's 40.00 are free once the wire is known to be it: the horn was left for them."""
    was = but(JOB, faults=(but(BLOWER, importance=9.0), HORN), pot=Pot(cap_minor=4050), quotes=(NEW,))
    late = told(shown, was, SPINS)
    assert {move.fault.id: move.turn for move in shown[0].moved} == {"blower": Turn.AS_FORESEEN, "horn": Turn.ADDED}
    assert late.plan.selection == shown[0].plan.selection


ONE_WAY = but(BASE, settings=but(CHECKED.settings, most_attempts=1), pot=Pot(cap_minor=600))


def test_what_nothing_changed_for_begins_as_before(shown: list[Moves]) -> None:
    """20.00 more pay for the new disc; at first sight the horn keeps the used one."""
    late = told(shown, ONE_WAY, h.Refund(**MONEY, amount_minor=1400))
    assert [move.fault.id for move in late.moved] == ["horn"]
    assert shown[0].moved == ()


def test_what_something_changed_for_is_thought_over(shown: list[Moves]) -> None:
    """The used disc costs as much as the new one from now on."""
    was = but(ONE_WAY, pot=Pot(cap_minor=1000))
    late = told(shown, was, now=but(was, quotes=(but(NEW, price_minor=300), USED)))
    assert [move.fault.id for move in late.moved] == ["horn"]
    assert [move.fault.id for move in shown[0].moved] == ["horn"]


def test_what_would_only_be_dropped_is_not_shown_too_soon(shown: list[Moves]) -> None:
    """With 10.00 less the new disc is out of reach, and the search for another takes its time."""
    was = but(BASE, settings=CHECKED.settings, pot=Pot(cap_minor=1000), quotes=(NEW, USED))
    told(shown, was, spend(700))
    assert shown == []


def test_a_small_job_is_searched_at_once() -> None:
    shown: list[Moves] = []
    told(shown, JOB, SPINS)
    assert shown == []


def test_hours_that_would_be_passed_are_not_shown(shown: list[Moves]) -> None:
    was = but(JOB, time=Time(hours=0.3))
    told(shown, was, SPINS, now=but(JOB, time=Time(hours=0.05)))
    assert shown == []


def test_without_an_earlier_plan_there_is_no_first_sight(shown: list[Moves]) -> None:
    ask(None, moment(JOB, SPINS), service.drawn_up, 60, lambda _: None, shown.append)
    assert shown == []


def test_the_plan_is_the_same_with_and_without_it(shown: list[Moves]) -> None:
    here = moment(JOB, SPINS)
    then = kept(JOB, here)
    quiet = against(then, here, service.drawn_up, 60, lambda _: None)
    assert against(then, here, service.drawn_up, 60, lambda _: None, shown.append) == quiet
    assert shown


def test_later_steps_are_not_told_so_soon(shown: list[Moves]) -> None:
    told(shown, JOB, SPINS)
    (move,) = [move for move in shown[0].moves if move.fault.id == "blower"]
    early = shown[0].model_copy(update={"moves": (move.model_copy(update={"turn": Turn.LATER_STEPS}),)})
    assert len(list(change_words.at_first(early))) == 1
