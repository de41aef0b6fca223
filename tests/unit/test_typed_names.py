"""What is printed to be typed is taken as printed, whatever signs stand in names."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from optimiser import text
from tests.unit.conftest import Run

NAMES = ("driver's", '5" dish', """driver's 5" dish""", "two words", "$HOME;`x`!")
HEAD = '[job]\ncurrency = "GBP"\n[money]\ncap = "100.00"\n'


@pytest.mark.parametrize("name", NAMES)
def test_a_name_is_one_word_in_a_shell(name: str) -> None:
    assert shlex.split(text.in_shell(name)) == [name]
    assert shlex.split(text.typed("word", name, name)) == ["--word", f"{name}={name}"]


def key(name: str) -> str:
    """As a string of TOML."""
    return '"' + name.replace('"', '\\"') + '"'


@pytest.fixture(params=NAMES)
def name(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def job(tmp_path: Path, name: str) -> Path:
    """A fault, its repair and a part of that name."""
    fault = f'[[fault]]\nid = {key(name)}\nseverity = "minor"\n[[fault.repair]]\nid = {key(name)}\nchance = 0.9\n'
    fault += f"parts = {{ {key(name)} = 1 }}\n"
    (tmp_path / "job.toml").write_text(HEAD + fault, encoding="utf-8")
    cells = name.replace('"', '""')
    quotes = f'part,supplier,condition,price\n"{cells}","{cells}",new,10.00\n'
    (tmp_path / "quotes.csv").write_text(quotes, encoding="utf-8")
    return tmp_path


def commands(said: str, job: Path, verb: str) -> list[list[str]]:
    """What is printed to be typed of the job, from the verb to the end of its line or its sentence."""
    found = re.findall(rf"optimiser {verb} {re.escape(str(job))} (.*?)(?=\. |$)", said, re.MULTILINE)
    return [shlex.split(line.removesuffix(".")) for line in found]


def test_a_purchase_that_is_asked_for(run: Run, job: Path, name: str) -> None:
    _, _, err = run("fitted", job, name, name, "cured")
    assert commands(err, job, "bought") == [[name, "from", "SUPPLIER"]]
    assert run("plan", job)[0] == 0
    (typed,) = commands(run("fitted", job, name, name, "cured")[2], job, "bought")
    assert typed == [name, "from", name]
    assert run("bought", job, *typed)[0] == 0
    assert run("fitted", job, name, name, "cured")[0] == 0
    (typed,) = commands(run("fitted", job, name, name, "cured")[2], job, "found")
    assert run("found", job, *typed)[0] == 0


def test_a_name_of_theirs_that_is_no_part(run: Run, job: Path, name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "500")
    cells = f"{name} of brass".replace('"', '""')
    sheet = job / "arrived.csv"
    sheet.write_text(f'Part,Condition,Price\n"{cells}",new,10.00\n', encoding="utf-8")
    _, out, _ = run("quotes", job, sheet)
    assert shlex.split(re.findall("say which: (.*)", out)[0]) == ["--part", f"{name} of brass=ID"]
    _, _, err = run("quotes", job, sheet, "--pack", f"{name}=many")
    assert shlex.split(err.partition("Say: ")[2].splitlines()[0]) == ["--pack", f"{name}=4"]
