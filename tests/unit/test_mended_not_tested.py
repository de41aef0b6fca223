"""What was dangerous and put right at home is recalled until a licensed test is written down."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.unit.conftest import Run

LINE = "! Mended, and no licensed test is written down: Brakes grind."


@pytest.fixture
def run(run_on: Callable[[Path], Run], tmp_path: Path) -> Run:
    call = run_on(tmp_path / "van")
    assert call("begin", "--pot", "900", "--fault", "seat torn")[0] == 0
    for who in ((), ("--workshop",)):
        name = ("--as", "brakes-grind") if not who else ("--as", "rear-brakes-grind")
        words = ("Brakes grind", "--plain", "--severity", "dangerous", "--chance", "0.9", "--price", "45", *who, *name)
        assert call("add", *words)[0] == 0
    return call


def test_it_is_recalled_until_it_has_passed_and_again_once_it_is_back(run: Run, tmp_path: Path) -> None:
    cured = ("fitted", "brakes-grind", "put-it-right", "cured")
    for words in (cured, ("plan",), ("tonight",), ("diary",)):
        assert LINE in " ".join(run(*words)[1].split()), words
    assert json.loads(run("plan", "--json")[1])["unproven"] == ["brakes-grind"]
    paper = tmp_path / "sale.html"
    run("report", "--sale", str(paper))
    assert "no test of it by somebody licensed is told here" in paper.read_text(encoding="utf-8")
    assert "no licensed test" not in run("found", "brakes-grind", "tested")[1]
    run("report", "--sale", str(paper))
    assert "no test of it" not in paper.read_text(encoding="utf-8")
    assert "no licensed test" not in run("found", "brakes-grind", "is-back")[1]
    assert LINE in " ".join(run(*cured)[1].split())


def test_what_a_workshop_put_right_is_the_workshops_to_prove(run: Run) -> None:
    assert "no licensed test" not in run("fitted", "rear-brakes-grind", "put-it-right", "cured")[1]


def test_what_came_right_by_itself_was_proven_by_nobody(run: Run) -> None:
    assert LINE in " ".join(run("found", "brakes-grind", "works")[1].split())
