"""A step number of which two plans made in the same moment make two steps is refused with both; no other is."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimiser import entries
from optimiser.entries import Deal, step_numbers
from optimiser.errors import WordsError
from optimiser.model.kept import KeptPiece, Step
from tests.tiny_job import but
from tests.unit.entries import shed
from tests.unit.entries.shed import add, desk


@pytest.fixture
def anew(folder: Path) -> Path:
    """Two plans, neither of which knew the other: the first has checks, so the numbers after them differ."""
    add(folder, *entries.found(desk(folder), ("feeder", "is", "motor")))
    shed.plan(folder)
    return folder


def steps(folder: Path) -> dict[int, tuple[str, str, str]]:
    seen = desk(folder).seen
    assert seen is not None
    return {n: (step.kind, step.fault, step.id) for n, step in seen.steps.items()}


def told(folder: Path, verb: str, *words: str) -> str:
    at = desk(folder, verb)
    with pytest.raises(WordsError) as caught:
        getattr(entries, verb)(at, words)
    return " ".join(part for problem in caught.value.problems for part in problem)


def test_what_was_another_attempt_is_refused_with_both_and_what_to_type(anew: Path) -> None:
    assert steps(anew)[4] == ("attempt", "horn", "horn")
    said = told(anew, "fitted", "4", "not-cured")
    assert "Step 4 was to try motor on feeder with 1 x motor, refurbished of cole at 60.00, ref M-1 in plan 1" in said
    assert "is to try horn on horn in plan 2" in said
    assert "optimiser fitted feeder motor cured (or not-cured)" in said
    assert "optimiser fitted horn horn cured (or not-cured)" in said


def test_a_number_that_always_meant_the_same_is_taken(anew: Path) -> None:
    assert steps(anew)[1] == ("attempt", "clutch", "shoes")
    at = desk(anew, "bought")
    assert [one.part for one in entries.bought(at, ("1",), Deal())] == ["shoe"]


def test_what_can_only_be_meant_of_the_step_that_it_is_now_is_taken(anew: Path) -> None:
    """Step 2 was a check, and a check is not fitted."""
    assert steps(anew)[2] == ("attempt", "feeder", "motor")
    assert "not written down as bought" in told(anew, "fitted", "2", "cured")
    assert "Step 2 was the check feed of feeder in plan 1" in told(anew, "found", "2", "spins")


def test_each_verb_says_what_to_type(anew: Path) -> None:
    assert steps(anew)[5][0] == "order"
    said = told(anew, "bought", "5")
    assert "Step 5 was to try motor on feeder with 1 x motor, salvage of odell at 200.00 in plan 1" in said
    assert "For the former say: optimiser bought motor from odell --condition salvage;" in said
    assert "for the latter: optimiser bought shoe from cole --condition new" in said
    assert "optimiser bought motor from cole --condition refurbished --ref M-1" in told(anew, "bought", "6")
    assert "PRICE" in told(anew, "corrected", "5", "3.00")
    assert "optimiser refunded motor AMOUNT" in told(anew, "refunded", "5", "3.00")
    assert "optimiser found feeder is CAUSE" in told(anew, "found", "4", "is", "motor")


def test_once_more_shown_the_numbers_are_still_two_steps(anew: Path) -> None:
    shed.plan(anew)
    assert "in plan 1" in told(anew, "fitted", "4", "cured")
    shed.plan(anew, carried=True)
    assert "in plan 1" in told(anew, "fitted", "4", "cured")


ON_IT = Step(number=4, kind="attempt", id="clean", fault="horn")
NOTHING_BOUGHT = "optimiser fitted horn clean cured (or not-cured), as it needs nothing bought"
PAD = KeptPiece(part="pad", units=2, supplier=None, condition="new", quote="owned:1")


@pytest.mark.parametrize(
    ("step", "verb", "typed"),
    [
        (ON_IT, "bought", NOTHING_BOUGHT),
        (but(ON_IT, pieces=(PAD,)), "bought", NOTHING_BOUGHT),
        (ON_IT, "refunded", "nothing, as it needs nothing bought"),
        (ON_IT, "corrected", "nothing, as it needs nothing bought"),
        (but(ON_IT, pieces=(PAD,)), "returned", "optimiser returned pad"),
        (ON_IT, "found", "optimiser fitted horn clean cured (or not-cured)"),
        (but(ON_IT, fault="feeder"), "found", "optimiser found feeder is CAUSE"),
        (but(ON_IT, kind="check"), "fitted", "optimiser found horn clean RESULT"),
        (but(ON_IT, kind="check"), "bought", "optimiser found horn clean RESULT"),
        (Step(number=4, kind="order", pieces=(but(PAD, supplier="cole"),)), "found",
         "optimiser bought pad from cole --condition new"),
    ],
)  # fmt: skip
def test_what_to_type_fits_the_step(step: Step, verb: str, typed: str, folder: Path) -> None:
    assert step_numbers.typed(step, verb, desk(folder).faults) == typed


def test_no_cause_is_asked_of_a_fault_that_lists_none(folder: Path) -> None:
    said = told(folder, "found", "horn", "is", "rust")
    assert "horn lists no causes, so there is none to name." in said
    assert "something-else" not in said
    assert [one.cause for one in entries.found(desk(folder), ("horn", "is", "something-else"))] == ["something-else"]
