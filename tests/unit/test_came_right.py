"""A fault that is gone and that nothing written down cured: it is closed by a word, and told as what it is."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.unit.conftest import Run

JOB = """
[job]
currency = "GBP"

[money]
cap = "90.00"

[[fault]]
id = "washers"
title = "Washers dead"
severity = "minor"
causes = { jets = 2, pump = 1 }

  [[fault.repair]]
  id = "jets"
  cures = { jets = 0.9 }

  [[fault.repair]]
  id = "pump"
  cures = { pump = 0.9 }
  price = "20.00"

[[fault]]
id = "brake"
title = "Brake pulls"
severity = "dangerous"

  [[fault.repair]]
  id = "bleed"
  chance = 0.8
  price = "9.00"

[[fault]]
id = "smell"
title = "Smell of gas"
severity = "dangerous"
system = "gas"

  [[fault.repair]]
  id = "fitter"
  chance = 0.9
  by = "workshop"
  price = "40.00"
"""


@pytest.fixture
def run(run_on: Callable[[Path], Run], tmp_path: Path) -> Run:
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    return run_on(tmp_path)


def planned(run: Run) -> dict[str, Any]:
    document: dict[str, Any] = json.loads(run("plan", "--json")[1])
    return document


@pytest.mark.parametrize("word", ["works", "gone"])
def test_it_is_closed_until_the_word_is_struck_out_or_it_is_back(run: Run, word: str) -> None:
    code, said, minded = run("found", "washers", word)
    assert code == 0
    assert said.startswith("Written down as entry 1: Washers dead: came right by itself.")
    assert "optimiser fitted" in minded
    assert "washers REPAIR cured" in minded
    assert "dangerous" not in minded
    assert planned(run)["closed"] == ["washers"]
    assert "Washers dead: came right by itself" in run("diary")[1]
    assert run("undo")[0] == 0
    assert planned(run)["closed"] == []
    run("found", "washers", word)
    run("found", "washers", "is-back")
    assert planned(run)["closed"] == []


def test_it_tells_nothing_of_the_cause(run: Run) -> None:
    run("fitted", "washers", "jets", "not-cured")
    before = planned(run)["faults"]
    run("found", "washers", "works")
    run("found", "washers", "is-back")
    assert planned(run)["faults"] == before


def test_what_is_dangerous_is_to_be_proved(run: Run) -> None:
    code, _, minded = run("found", "brake", "works")
    assert code == 0
    assert "Brake pulls is dangerous, and what comes right by itself may come back by itself: prove it at a" in minded


def test_what_only_the_licensed_work_on_stays_untested_until_one_has_passed_it(run: Run) -> None:
    assert "It is for those licensed for gas" in run("found", "smell", "gone")[2]
    assert "NOT TESTED: nobody licensed for gas has put this right or tested it: Smell of gas." in run("plan")[1]
    assert run("found", "smell", "tested")[0] == 0
    assert "NOT TESTED" not in run("plan")[1]


def test_the_buyer_is_told_that_nothing_was_done_for_it(run: Run, tmp_path: Path) -> None:
    for fault in ("washers", "smell"):
        run("found", fault, "works")
    paper = tmp_path / "sale.html"
    assert run("report", "--sale", str(paper))[0] == 0
    text = " ".join(paper.read_text(encoding="utf-8").split())
    assert "Came right by itself</strong>" in text
    assert "Gone, and nothing was done for it." in text
    assert "NOT TESTED: came right by itself, and nobody licensed for gas has looked at it: Smell of gas." in text
    assert "by the owner" not in text


def test_the_plan_moves_by_it(run: Run) -> None:
    run("plan")
    assert "Washers dead: came right by itself" in run("found", "washers", "works")[1]


def test_who_names_no_repair_is_told_the_word(run: Run) -> None:
    code, _, wrong = run("fitted", "washers", "cured")
    assert code == 2
    assert "If it came right by itself: optimiser found" in wrong
    assert "washers works" in wrong
