"""Work of one's own on what only the licensed work on: written down as it happened, and never passed over."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.unit.conftest import Run


@pytest.fixture
def run(run_on: Callable[[Path], Run], tmp_path: Path) -> Run:
    call = run_on(tmp_path / "van")
    assert call("begin", "--pot", "900", "--fault", "seat torn", "--fault", "camper-gas-smell")[0] == 0
    return call


def own(run: Run, *words: str) -> tuple[int, str, str]:
    return run("add", "burner cleaned by me", "--to", "gas-smell", "--price", "5", "--minutes", "20", *words)


def test_add_says_at_once_that_no_plan_offers_it_and_what_would(run: Run, tmp_path: Path) -> None:
    code, said, _ = own(run)
    assert code == 0
    assert "! Work on gas is for those licensed for it: no plan offers this as work of your own." in said
    assert 'by = "workshop" under it in job.toml' in said
    assert 'licensed = ["gas"] under [job]' in said
    job = tmp_path / "van" / "job.toml"
    written = job.read_text(encoding="utf-8")
    for before, after in (
        ('title = "burner cleaned by me"', 'title = "burner cleaned by me"\nby = "workshop"'),
        ("[job]", '[job]\nlicensed = ["gas"]'),
    ):
        job.write_text(written.replace(before, after), encoding="utf-8")
        offered = {one["repair"] for one in json.loads(run("compare", "gas-smell", "--json")[1])["options"]}
        assert "burner-cleaned-by-me" in offered, "either mend lets a plan have it"


def test_a_workshops_way_and_an_ordinary_one_are_added_without_a_word(run: Run) -> None:
    for words in (("--to", "gas-smell", "--workshop"), ("--to", "seat-torn")):
        _, said, _ = run("add", "put right by hand", "--price", "5", *words)
        assert "licensed" not in said
    document = json.loads(own(run, "--json")[1])
    assert document["licences_lacking"] == ["gas"]


def test_that_it_was_done_is_written_down_and_told_the_buyer(run: Run, tmp_path: Path) -> None:
    own(run)
    code, said, minded = run("fitted", "gas-smell", "burner-cleaned-by-me", "cured")
    assert code == 0
    assert said.startswith("Written down as entry 1:")
    assert "Mind: Work on gas is for those licensed for it: do not use it before one of them has tested it." in minded
    paper = tmp_path / "sale.html"
    assert run("report", "--sale", str(paper))[0] == 0
    text = " ".join(paper.read_text(encoding="utf-8").split())
    told = "Put right by the owner; work on gas is for those licensed for it, and no test by one of them is told here"
    assert told in text
    assert "NOT TESTED: work on gas was done by the owner" in text


def test_what_a_workshop_did_is_put_right_and_no_more(run: Run, tmp_path: Path) -> None:
    own(run)
    run("fitted", "gas-smell", "burner-cleaned-by-me", "cured")
    run("found", "gas-smell", "is-back")
    run("add", "gas fitter mends it", "--to", "gas-smell", "--workshop", "--price", "90")
    assert "licensed" not in run("fitted", "gas-smell", "gas-fitter-mends-it", "cured")[2]
    paper = tmp_path / "sale.html"
    run("report", "--sale", str(paper))
    text = paper.read_text(encoding="utf-8")
    assert "Put right, came back, and put right again" in text
    assert "NOT TESTED" not in text


NOT_TESTED = "! NOT TESTED: nobody licensed for gas has put this right or tested it: Smell of gas"


def test_every_answer_says_that_it_is_not_tested_until_that_is_written_down(run: Run, tmp_path: Path) -> None:
    own(run)
    _, said, minded = run("fitted", "gas-smell", "burner-cleaned-by-me", "cured")
    assert NOT_TESTED in " ".join(said.split())
    assert minded.rstrip().endswith("gas-smell tested")
    for verb in ("plan", "tonight", "orders", "diary", "verify", "compare", "stretch"):
        assert "NOT TESTED" in run(verb)[1], verb
    assert json.loads(run("plan", "--json")[1])["untested"] == [{"id": "gas-smell", "systems": ["gas"]}]
    card = tmp_path / "card.html"
    run("report", "--card", "-o", str(card))
    assert "NOT TESTED" in card.read_text(encoding="utf-8")
    code, said, _ = run("found", "gas-smell", "tested")
    assert (code, "tested by somebody licensed, and passed" in said, "NOT TESTED" in said) == (0, True, False)
    paper = tmp_path / "sale.html"
    run("report", "--sale", str(paper))
    told = paper.read_text(encoding="utf-8")
    assert ("Tested by somebody licensed for it, and passed." in told, "NOT TESTED" in told) == (True, False)
    run("undo")
    assert "NOT TESTED" in run("plan")[1], "struck out, nobody has tested it"


def test_work_done_anew_is_to_be_tested_anew(run: Run) -> None:
    own(run)
    done = ("fitted", "gas-smell", "burner-cleaned-by-me", "cured")
    for words in (done, ("found", "gas-smell", "tested"), ("found", "gas-smell", "is-back")):
        run(*words)
    assert "NOT TESTED" not in run("plan")[1], "it is open, and said so as that"
    assert "NOT TESTED" in run(*done)[1]


def test_what_is_open_is_not_written_down_as_tested(run: Run) -> None:
    code, said, wrong = run("found", "gas-smell", "tested")
    assert (code, said) == (2, "")
    assert "gas-smell is open: there is nothing yet to test." in wrong
    assert "gas-smell REPAIR cured" in wrong
    assert "nothing is written down yet" in run("diary")[1]
