"""What was found, by step numbers and by names."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimiser import entries, service
from optimiser.errors import WordsError
from optimiser.model import events as h
from optimiser.model.job import Severity
from tests.unit.entries import shed
from tests.unit.entries.shed import AT, add, desk, number

CURED = h.Fitting(at=AT, source="fitted", fault="horn", repair="horn", cured=True, currency="GBP", price_minor=1500)


def found(folder: Path, *words: str, **said: object) -> h.Happening:
    (one,) = entries.found(desk(folder), words, **said)  # type: ignore[arg-type]
    return one


def wrong(folder: Path, *words: str, **said: object) -> str:
    with pytest.raises(WordsError) as caught:
        entries.found(desk(folder), words, **said)  # type: ignore[arg-type]
    return " ".join(part for problem in caught.value.problems for part in problem)


def test_a_step_and_a_result(planned_once: Path) -> None:
    """The check costs 2.00 and what it opens 3.00."""
    step = number(planned_once, "check", "feed")
    assert found(planned_once, step, "spins") == h.CheckMade(
        at=AT, source="found", fault="feeder", check="feed", result="spins", currency="GBP", cost_minor=500
    )


@pytest.mark.parametrize(
    "words",
    [
        ("feeder", "feed", "spins"),
        ("feeder", "spins"),
        ("Feeder", "FEED", "Spins"),
        ("Feeder does not turn", "Feed the motor through a fused lead", "spins"),
    ],
)
def test_names_and_titles_do_as_well(planned_once: Path, words: tuple[str, ...]) -> None:
    one = found(planned_once, *words)
    assert isinstance(one, h.CheckMade)
    assert (one.fault, one.check, one.result) == ("feeder", "feed", "spins")


def test_a_result_that_is_not_written_is_known(planned_once: Path) -> None:
    one = found(planned_once, "feeder", "feed", "not-spins")
    assert isinstance(one, h.CheckMade)
    assert one.result == "not-spins"


def test_the_cost_may_be_another_and_is_paid_for_once(folder: Path) -> None:
    assert found(folder, "feeder", "feed", "spins", cost="7.25").cash_minor == 725
    add(folder, found(folder, "feeder", "feed", "spins"))
    at = desk(folder)
    (again,) = entries.found(at, ("feeder", "feed", "spins"))
    assert again.cash_minor == 200, "the cover is off already"
    assert "says the same already" in at.notes[0]


def noted(folder: Path, *words: str, verb: str = "found") -> list[str]:
    """What is said beside an entry; it is written down whatever that is."""
    at = desk(folder, verb)
    happenings = getattr(entries, verb)(at, words)
    entries.mind(at, happenings)
    add(folder, *happenings)
    return at.notes


def test_another_result_of_one_check_is_told_and_both_count(folder: Path) -> None:
    """Unless something was fitted in between: then it may well show something else."""
    assert noted(folder, "feeder", "feed", "spins") == []
    assert noted(folder, "feeder", "swap", "clicks") == []
    assert noted(folder, "feeder", "feed", "not-spins") == [
        "Entry 1 says that feed showed spins: both are taken into account. If entry 1 is wrong: optimiser strike 1"
    ]
    assert "says the same already" in noted(folder, "feeder", "feed", "not-spins")[0]
    add(folder, *entries.bought(desk(folder, "bought"), ("relay", "from", "cole")))
    noted(folder, "feeder", "relay", "not-cured", verb="fitted")
    assert not any("both" in note for note in noted(folder, "feeder", "feed", "spins"))


def test_what_cannot_be_true_of_a_cured_fault_is_told_with_its_entries(folder: Path) -> None:
    """Of an open one the plan tells it."""
    add(folder, *entries.bought(desk(folder, "bought"), ("motor", "from", "cole")))
    assert noted(folder, "feeder", "is", "relay") == []
    (told,) = noted(folder, "feeder", "motor", "cured", verb="fitted")
    assert told == (
        "feeder is cured, and what is written down of it cannot all be true: entries 2, 3. If one of them is wrong:"
        " optimiser strike NUMBER"
    )
    assert noted(folder, "feeder", "is-not", "something-else") == []
    assert "entries 3, 5." in noted(folder, "feeder", "is-not", "motor")[0]


def test_a_finding_after_a_cure_that_it_contradicts_is_told(folder: Path) -> None:
    add(folder, *entries.bought(desk(folder, "bought"), ("motor", "from", "cole")))
    assert noted(folder, "feeder", "motor", "cured", verb="fitted") == []
    assert "cannot all be true: entries 2, 3." in noted(folder, "feeder", "feed", "spins")[0]


def test_causes_seen_and_ruled_out(planned_once: Path) -> None:
    assert found(planned_once, "feeder", "is", "relay") == h.SeenToBe(
        at=AT, source="found", fault="feeder", cause="relay"
    )
    for words in (("feeder", "is-not", "something-else"), ("feeder", "is", "not", "something-else")):
        assert found(planned_once, *words) == h.SeenNotToBe(
            at=AT, source="found", fault="feeder", cause="something-else"
        )
    step = number(planned_once, "check", "feed")
    assert found(planned_once, step, "is", "motor").fault == "feeder"  # type: ignore[union-attr]


def test_a_new_fault(planned_once: Path) -> None:
    one = found(planned_once, "new", "Floor", "rotten!", severity=Severity.DANGEROUS)
    assert one == h.NewFault(
        at=AT, source="found", fault="floor-rotten", title="Floor rotten!", severity=Severity.DANGEROUS
    )
    at = desk(planned_once)
    (unsure,) = entries.found(at, ("new", "Floor rotten"))
    assert isinstance(unsure, h.NewFault)
    assert unsure.severity is None
    assert any("Taken as major" in note for note in at.notes)
    assert any("--as floor-rotten --plain" in note for note in at.notes)


def test_a_cured_fault_that_is_back(folder: Path) -> None:
    assert "is open" in wrong(folder, "horn", "is-back")
    add(folder, CURED)
    one = found(folder, "horn", "is-back")
    assert isinstance(one, h.NewFault)
    assert (one.fault, one.severity) == ("horn", Severity.MINOR)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("feder", "feed", "spins"), "Did you mean: feeder?"),
        (("feeder", "fed", "spins"), "Did you mean: feed?"),
        (("feeder", "feed", "spin"), "Did you mean: spins, not-spins?"),
        (("feeder", "nothing-like-it"), "There are: spins, not-spins, clicks, silent."),
        (("feeder", "is", "rely"), "Did you mean: relay?"),
        (("99", "spins"), "There is no step 99 in the plan last shown (plan 1), nor in one before it."),
        (("zzz", "is-back"), "There are: feeder, clutch, horn."),
        (("new", "Horn"), "has a fault horn already"),
        (("new", "!!"), "names no fault"),
        ((), "found takes words"),
        (("horn",), "What was found on horn?"),
        (("a", "b", "c", "d"), "found does not take these words"),
    ],
)
def test_what_is_wrong_is_said_with_the_mend(planned_once: Path, words: tuple[str, ...], told: str) -> None:
    assert told in wrong(planned_once, *words)


def test_a_step_of_another_kind_says_which_verb_takes_it(planned_once: Path) -> None:
    attempt, order = number(planned_once, "attempt", "relay"), number(planned_once, "order", "shoe")
    assert f"to try relay on feeder, not a check. Say: optimiser fitted {attempt} cured" in wrong(
        planned_once, attempt, "spins"
    )
    assert f"a line to order, not a check. Say: optimiser bought {order}" in wrong(planned_once, order, "spins")
    assert "about no one fault" in wrong(planned_once, order, "is", "relay")


def test_a_result_left_out_is_asked_for_on_a_terminal_only(planned_once: Path) -> None:
    step = number(planned_once, "check", "feed")
    assert "Say one of: spins, not-spins" in wrong(planned_once, step)
    (one,) = entries.found(desk(planned_once, answers=["not-spins"]), (step,))
    assert isinstance(one, h.CheckMade)
    assert one.result == "not-spins"
    with pytest.raises(WordsError):
        entries.found(desk(planned_once, answers=[]), (step,))


def test_a_name_not_quite_right_is_asked_about_on_a_terminal(planned_once: Path) -> None:
    (one,) = entries.found(desk(planned_once, answers=["feeder", "spins"]), ("feder", "feed", "spin"))
    assert isinstance(one, h.CheckMade)
    assert (one.fault, one.result) == ("feeder", "spins")


def test_everything_wrong_is_said_at_once(planned_once: Path) -> None:
    with pytest.raises(WordsError) as caught:
        entries.found(desk(planned_once), ("feeder", "is", "rely"), cost="much", severity=Severity.MINOR)
    assert len(caught.value.problems) == 4


@pytest.mark.parametrize("amount", ["-1", "1.234", "nan", "1e99999999", ""])
def test_amounts_that_are_none(planned_once: Path, amount: str) -> None:
    assert "--cost" in wrong(planned_once, "feeder", "feed", "spins", cost=amount)


def test_without_a_kept_plan_there_are_no_numbers_yet(tmp_path: Path) -> None:
    folder = shed.write(tmp_path / "new")
    assert "no step numbers yet" in wrong(folder, "2", "spins")
    assert found(folder, "feeder", "feed", "spins").cash_minor == 500


def test_a_step_keeps_its_number_for_the_life_of_the_job(folder: Path) -> None:
    """A finding takes the relay out of the plan; whoever holds the printed plan may still name its step."""
    relay = number(folder, "attempt", "relay")
    add(folder, found(folder, "feeder", "is", "motor"))
    for _ in range(2):
        shed.plan(folder, carried=True)
        seen = desk(folder).seen
        assert seen is not None
        assert int(relay) not in seen.steps
        assert f"fitted {relay}" in wrong(folder, relay, "spins")
    assert "nor in one before it" in wrong(folder, str(max(seen.numbering.values()) + 1), "spins")
    service.strike(folder, desk(folder).now, AT)
    shed.plan(folder, carried=True)
    assert number(folder, "attempt", "relay") == relay
