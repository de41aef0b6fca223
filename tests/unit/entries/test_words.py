"""Words as people type them: yes and no, what the plan prints, the same thing twice, the latest entry undone."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest

from optimiser import entries
from optimiser.entries import Deal
from optimiser.entries.contradicting import LEAVE, ONCE_MORE, WITHIN
from optimiser.entries.naming import plain_answer
from optimiser.errors import WordsError
from tests.unit.entries.shed import AT, add, desk, number


@pytest.mark.parametrize(
    ("word", "results", "meant"),
    [
        ("yes", ["spins", "not-spins"], "spins"),
        ("No", ["spins", "not-spins"], "not-spins"),
        ("if not", ["not-spins", "spins"], "not-spins"),
        ("y", ["spins", "not-spins"], "spins"),
        ("no", ["no", "not-no"], "no"),
        ("no", ["clicks", "silent"], "no"),
        ("no", ["a", "b", "not-a"], "no"),
        ("spins", ["spins", "not-spins"], "spins"),
    ],
)
def test_yes_and_no(word: str, results: list[str], meant: str) -> None:
    assert plain_answer(word, results) == meant


@pytest.mark.parametrize("words", [("if", "not"), ("no",), ("not",), ("not-spins",), ("not", "spins")])
def test_what_the_plan_prints_is_taken_by_found(folder: Path, words: tuple[str, ...]) -> None:
    step = number(folder, "check", "feed")
    (made,) = entries.found(desk(folder), (step, *words))
    assert getattr(made, "result", None) == "not-spins"


@pytest.mark.parametrize(("words", "cured"), [(("yes",), True), (("if", "not"), False), (("no",), False)])
def test_a_repair_is_answered_by_yes_and_no(folder: Path, words: tuple[str, ...], cured: bool) -> None:
    (made,) = entries.fitted(desk(folder, "fitted"), ("horn", *words))
    assert getattr(made, "cured", None) is cured


def test_a_part_by_itself_is_from_its_only_seller(folder: Path) -> None:
    (made,) = entries.bought(desk(folder, "bought"), ("Clutch shoe",), Deal())
    assert (made.part, made.supplier) == ("shoe", "cole")
    (asked,) = entries.bought(desk(folder, "bought", ["odell"]), ("spare-motor",), Deal())
    assert asked.supplier == "odell"


def test_of_several_sellers_one_is_chosen(folder: Path) -> None:
    (made,) = entries.bought(desk(folder, "bought", ["cole"]), ("motor",), Deal())
    assert (made.part, made.supplier) == ("motor", "cole")


def test_the_same_within_minutes_is_asked_about(folder: Path) -> None:
    add(folder, *entries.bought(desk(folder, "bought"), ("relay",), Deal()))
    later = AT + WITHIN
    for answers, told in (([LEAVE], "Left as entry 1 has it."), ([ONCE_MORE], ""), (None, "")):
        at = desk(folder, "bought", answers, later)
        same = entries.bought(at, ("relay",), Deal(postage="6.00"))
        if told:
            with pytest.raises(WordsError, match=told):
                entries.settle(at, same)
        else:
            entries.settle(at, same)
            assert any("Entry 1 says the same" in note for note in at.notes) is (answers is None)


def test_the_same_long_after_and_another_thing_are_no_twins(folder: Path) -> None:
    add(folder, *entries.bought(desk(folder, "bought"), ("relay",), Deal()))
    long_after = desk(folder, "bought", at=AT + WITHIN + timedelta(seconds=1))
    entries.settle(long_after, entries.bought(long_after, ("relay",), Deal(postage="6.00")))
    other = desk(folder, "bought")
    entries.settle(other, entries.bought(other, ("shoe",), Deal()))
    assert not any("says the same" in note for note in (*long_after.notes, *other.notes))
