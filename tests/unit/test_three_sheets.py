"""The story of examples/three-sheets is run command by command in a copy, and every figure in it is worked out here."""

from __future__ import annotations

import re
import shlex
from datetime import date
from pathlib import Path

import pytest

from optimiser import cli, job_folder
from optimiser.money import Currency
from optimiser.quote_import import Known, understand
from tests.unit.conftest import WIDTH
from tests.unit.test_examples import EXAMPLES, TODAY
from tests.unit.test_readme import matches

STORY = EXAMPLES / "three-sheets"
FILES = ("quayside.csv", "angebot-771.csv", "yardlist.xlsx")
QUOTES = {
    # commas and currency signs, the tax in the price
    ("front-disc", "quayside", "new", 4690, 1),
    ("front-pads", "quayside", "new", 3150, 1),
    ("starter", "quayside", "refurbished", 10400, 1),
    ("blower", "quayside", "new", 7900, 1),
    ("tail-lamp", "quayside", "new", 3840, 1),
    ("wiper-blade", "quayside", "new", 820, 1),
    # decimal commas, 19 % to be added: 33.80 is 40.222, 22.10 is 26.299, 71.00 is 84.49, 52.00 is 61.88, and
    # two blades at 4.95 are 9.90, with the tax 11.781
    ("front-disc", "weidenhof", "new", 4022, 1),
    ("front-pads", "weidenhof", "new", 2630, 1),
    ("starter", "weidenhof", "refurbished", 8449, 1),
    ("blower", "weidenhof", "new", 6188, 1),
    ("wiper-blade", "weidenhof", "new", 1178, 2),
    # a workbook: "2 for 30" is a pack of two, "12 each" is 12, POA is no price
    ("starter", "mossback", "salvage", 4500, 1),
    ("front-disc", "mossback", "salvage", 3000, 2),
    ("blower", "mossback", "salvage", 1850, 1),
    ("tail-lamp", "mossback", "salvage", 1200, 1),
    ("wiper-blade", "mossback", "new", 900, 2),
}


def told() -> list[tuple[str, str]]:
    """Every command of the README with the output that it shows; a command may go on over a line's end."""
    blocks = re.findall(r"```console\n(.*?)```", (STORY / "README.md").read_text(encoding="utf-8"), flags=re.DOTALL)
    parts = [re.split(r"(?m)^\$ optimiser ((?:.*\\\n)*.*)\n", block)[1:] for block in blocks]
    return [(call.replace("\\\n", " "), shown) for each in parts for call, shown in zip(each[::2], each[1::2])]


@pytest.fixture
def copy(beside_examples: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    folder = beside_examples / "examples" / "three-sheets"
    monkeypatch.chdir(folder)
    monkeypatch.setenv("COLUMNS", WIDTH)
    return folder


def test_the_story_goes_as_it_is_told(copy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    originals = {path: path.read_bytes() for path in (copy / "arrived").iterdir()}
    assert len(originals) == 3
    for command, shown in told():
        code = cli.main(shlex.split(command))
        said = capsys.readouterr()
        assert (code == 2) == ("nothing was written" in said.err), command
        real = "\n".join(line.rstrip() for line in (said.err + said.out).splitlines())
        assert matches(shown, real), f"optimiser {command}\n{real}"
    quotes = job_folder.job(copy, TODAY).quotes
    assert {(q.part, q.supplier, q.condition, q.price_minor, q.pack) for q in quotes} == QUOTES
    assert len(quotes) == len(QUOTES)
    assert [q.valid_until for q in quotes if q.part == "wiper-blade" and q.supplier == "weidenhof"] == [
        date(2026, 11, 15)
    ]
    assert [q.deposit_minor for q in quotes if q.deposit_minor] == [2500]
    assert {path: path.read_bytes() for path in originals} == originals


@pytest.mark.usefixtures("copy")
def test_the_next_sheets_need_no_more_words(capsys: pytest.CaptureFixture[str]) -> None:
    """What was settled in the story is kept for each supplier, and for the one it was settled for alone."""
    for command, _ in told():
        cli.main(shlex.split(command))
    capsys.readouterr()
    assert cli.main(["quotes", *(f"arrived/{name}" for name in FILES)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert '"We want" is price' in said
    assert "the tax to add is 19 (rows 3 to 7)" in said
    assert said.count("used again") == 2
    assert said.count("quotes as before") == 3


def test_the_workbook_says_that_it_is_invented() -> None:
    known = Known({"starter": "Starter motor"}, {}, Currency.of("EUR"))
    understood = understand(STORY / "arrived" / "yardlist.xlsx", known)
    assert "invented example" in understood.aside[0].says
