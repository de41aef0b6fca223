"""What becomes of a fault: one story for each turn that it can take."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import pytest

from optimiser.model import events as h
from optimiser.model.job import Repair
from optimiser.model.moves import UNMOVED, Explained, Moves, Turn
from tests.tiny_job import BASE, CHECKED, HORN, LAMP, NEW, ROUTED, USED, but
from tests.unit.changes.stories import MONEY, SAID, causes, fitted, moved, note, of, pot, spend

WITH_FALLBACK = but(BASE, settings=but(BASE.settings, fallbacks=True))
TWO_WAYS = but(
    pot(500, WITH_FALLBACK),
    faults=(but(LAMP, repairs=(but(LAMP.repairs[0], chance=0.9), Repair(id="tap", chance=0.5, price_minor=200))),),
    quotes=(),
)
UNSURE = but(
    BASE,
    faults=(
        but(HORN, causes={"worn": 5.0, "wire": 4.0}, repairs=(but(HORN.repairs[0], chance=None, cures={"worn": 1.0}),)),
        LAMP,
    ),
)
UNLIKELY = h.OddsCorrected(**SAID, fault="horn", cause="wire", was=4.0, now=40.0)
SPINS = h.CheckMade(**MONEY, fault="blower", check="feed", result="spins")
MENDED = fitted("lamp", "clean", cured=True)
SEEN_AGAIN = h.NewFault(**SAID, fault="lamp")
LATER = but(HORN, id="later")
STORIES: Mapping[str, tuple[str, Turn, Callable[[], Moves]]] = {
    "nothing happens to it": ("horn", Turn.KEPT, lambda: moved(BASE, note())),
    "no money for it, then or now": ("lamp", Turn.LEFT, lambda: moved(pot(200), note())),
    "a fitting cures it": ("lamp", Turn.CURED, lambda: moved(BASE, MENDED)),
    "it is out of the folder": ("lamp", Turn.GONE, lambda: moved(BASE, now=but(BASE, faults=(HORN,)))),
    "it is back": ("lamp", Turn.REOPENED, lambda: moved(BASE, MENDED, SEEN_AGAIN, after=1)),
    "it is new in the folder": ("later", Turn.NEW, lambda: moved(BASE, now=but(BASE, faults=(HORN, LAMP, LATER)))),
    "it was seen": ("rattle", Turn.NEW, lambda: moved(BASE, h.NewFault(**SAID, fault="rattle"))),
    "the check showed what was foreseen": ("blower", Turn.AS_FORESEEN, lambda: moved(CHECKED, SPINS)),
    "it failed, and nothing was to follow": (
        "lamp", Turn.AS_FORESEEN, lambda: moved(WITH_FALLBACK, fitted("lamp", "clean", cured=False)),
    ),
    "money came for it": ("lamp", Turn.ADDED, lambda: moved(pot(400), h.Refund(**MONEY, amount_minor=300))),
    "the money for it is gone": ("lamp", Turn.DROPPED, lambda: moved(BASE, spend(1800))),
    "the other quote does": ("horn", Turn.NEW_CHOICE, lambda: moved(BASE, spend(1000))),
    "it is likely something else": ("horn", Turn.SHIFTED, lambda: moved(UNSURE, UNLIKELY)),
    "the money for its fallback is gone": ("lamp", Turn.LATER_STEPS, lambda: moved(TWO_WAYS, spend(150))),
}  # fmt: skip


@pytest.mark.parametrize("story", STORIES)
def test_every_turn_has_its_story(story: str) -> None:
    fault, turn, told = STORIES[story]
    move = of(told(), fault)
    assert move.turn == turn
    assert move.moved == (turn not in UNMOVED)
    assert move.moved == bool(move.causes)
    assert move.found == (
        Explained.ALONE if len(move.causes) == 1 else Explained.EACH if move.causes else Explained.NOTHING
    )


def test_every_turn_is_told() -> None:
    assert {turn for _, turn, _ in STORIES.values()} == set(Turn)


def test_a_fault_that_is_given_up_was_moved_by_all_that_kept_it_from_being_tried_again() -> None:
    """Without the failure it is still to be tried; without the price that rose another part is worth trying."""
    another = Repair(id="shop", chance=0.95, price_minor=500, by="workshop")
    was = but(BASE, settings=WITH_FALLBACK.settings, faults=(but(LAMP, repairs=(*LAMP.repairs, another)),), quotes=())
    dearer = but(was, faults=(but(LAMP, repairs=(LAMP.repairs[0], but(another, price_minor=9900))),))
    told = moved(pot(700, was), fitted("lamp", "clean", cured=False), now=pot(700, dearer))
    assert of(told, "lamp").before.route.option.repair == "shop"
    assert of(told, "lamp").turn == Turn.DROPPED
    assert {cause.what.value for cause in causes(told, "lamp")} == {"happened", "written"}


def test_either_that_took_the_fallback_away_was_enough_and_a_note_was_not() -> None:
    """5.00 pays for both ways, 4.50; less 1.00 or less 2.00 for the first alone."""
    told = moved(TWO_WAYS, spend(100), spend(100), note())
    lamp = of(told, "lamp")
    assert (lamp.turn, lamp.found, lamp.causes) == (Turn.LATER_STEPS, Explained.ENOUGH, (0, 1))
    assert [cause.number for cause in causes(moved(TWO_WAYS, spend(150), note()), "lamp")] == [1]


def test_what_a_fault_frees_of_the_pot() -> None:
    """From 9.00 of the horn to 3.00; the lamp holds its 2.50 as before."""
    told = moved(BASE, spend(1000))
    horn, lamp = of(told, "horn"), of(told, "lamp")
    assert (horn.before.most_minor, horn.after.most_minor, horn.freed_minor) == (900, 300, 600)
    assert (lamp.freed_minor, lamp.turn) == (0, Turn.KEPT)
    assert told.spent_minor == 1000
    assert (told.before.remaining_minor, told.now.remaining_minor) == (2000, 1000)


def test_what_was_bought_is_paid_on_its_fault_and_still_the_same_choice() -> None:
    bought = h.Purchase.of(NEW, 1, currency="GBP", postage_minor=50, **SAID)
    told = moved(BASE, bought)
    horn = of(told, "horn")
    assert (horn.turn, horn.paid_minor, horn.bought) == (Turn.KEPT, 950, (1,))
    assert horn.freed_minor == 900 - 950


def test_half_of_a_pack_bought_is_half_of_its_price() -> None:
    pair = but(NEW, pack=2)
    was = but(BASE, quotes=(pair, USED))
    told = moved(was, h.Purchase.of(pair, 1, currency="GBP", postage_minor=0, **SAID))
    assert of(told, "horn").paid_minor == 450


def test_a_moved_line_or_price_is_the_same_choice() -> None:
    shuffled = but(BASE, quotes=(but(USED, id="quotes.csv:2"), but(NEW, id="quotes.csv:3", price_minor=850)))
    told = moved(BASE, now=shuffled)
    assert of(told, "horn").turn == Turn.KEPT
    assert not told.moved
    assert [cause.what.value for cause in told.causes] == ["quotes"]


def test_the_gravest_come_first() -> None:
    grave = but(BASE, faults=(LAMP, but(HORN, severity="dangerous"), but(HORN, id="door", importance=2.0)))
    assert [move.fault.id for move in moved(grave, note()).moves] == ["horn", "door", "lamp"]


def test_a_foreseen_check_frees_what_was_kept_for_its_other_result() -> None:
    told = moved(ROUTED["check"], SPINS)
    blower = of(told, "blower")
    assert (blower.before.most_minor, blower.after.most_minor) == (4000, 100)
    assert blower.after.route.option.repair == "wire"
    assert (blower.before.chance, blower.after.chance) == (pytest.approx(1.0), pytest.approx(1.0))
