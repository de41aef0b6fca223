"""A fault that is left as it is: the words, and what they are refused for."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimiser import entries
from optimiser.errors import WordsError
from optimiser.model import events as h
from tests.unit.entries.shed import add, desk, number


def left(folder: Path, *words: str, text: str = "") -> list[tuple[str, str]]:
    made = entries.left(desk(folder, "left"), words, text)
    return [(one.fault, one.text) for one in made if isinstance(one, h.LeftAsItIs)]


def refused(folder: Path, *words: str) -> str:
    with pytest.raises(WordsError) as caught:
        left(folder, *words)
    return " ".join(part for problem in caught.value.problems for part in problem)


def test_a_fault_is_named_by_itself_or_by_a_step_of_it(folder: Path) -> None:
    assert left(folder, "Horn dead", text="no use") == [("horn", "no use")]
    assert left(folder, number(folder, "attempt", "shoes")) == [("clutch", "")]


def test_it_is_said_of_one_fault_at_a_time(folder: Path) -> None:
    assert "left takes words" in refused(folder)
    assert "left does not take these words" in refused(folder, "horn", "clutch")
    assert "a line to order" in refused(folder, number(folder, "order", "shoe"))
    assert "no fault" in refused(folder, "rudder")


def test_what_is_cured_is_not_left(folder: Path) -> None:
    add(folder, *entries.fitted(desk(folder, "fitted"), ("horn", "horn", "cured")))
    assert "horn is cured" in refused(folder, "horn")


def test_what_is_left_already_is_not_left_again_nor_back(folder: Path) -> None:
    add(folder, *entries.left(desk(folder, "left"), ("horn",)))
    assert "Entry 1 leaves horn as it is" in refused(folder, "horn")
    with pytest.raises(WordsError) as caught:
        entries.found(desk(folder), ("horn", "is-back"))
    assert caught.value.problems[0][1] == "To take it up again: optimiser strike 1"
