"""Faults that turn up on the way: how grave they are taken to be, how they get into the plan, and old ones back."""

from __future__ import annotations

import re
import shlex
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from optimiser.calls import HOW_GRAVE
from optimiser.ledger import Store
from optimiser.model import events as h
from tests.unit.conftest import Run

Ask = Callable[[str, list[str]], str | None]
NUTS, RAIL, SMELL = "wheel nuts loose on nearside", "Awning rail leaks", "smell of gas at the wobblestick"


@pytest.fixture
def job(run: Run, tmp_path: Path) -> Path:
    folder = tmp_path / "van"
    assert run("begin", folder, "--pot", "900", "--fault", "horn dead")[0] == 0
    return folder


def newest(job: Path) -> h.NewFault:
    made = Store(job).entries()[-1].happening
    assert isinstance(made, h.NewFault)
    return made


def adding(err: str) -> list[str]:
    """What is printed to be typed, to have it planned: by no pattern where none is sure."""
    _, said = " ".join(err.split()).split("To have it planned", 1)
    return shlex.split(re.findall(r"optimiser (add .*?)(?= \(|; | Or by| Mind:|$)", said)[-1])


@pytest.mark.parametrize(
    ("words", "severity", "told"),
    [
        ("front brakes grind", "dangerous", 'Taken as dangerous, as "'),
        (NUTS, "dangerous", "Taken as dangerous, as is all on such a system."),
        (SMELL, "dangerous", "Taken as dangerous, as is all on such a system."),
        (RAIL, None, "Taken as major, for nobody knows these words. If somebody may be hurt"),
    ],
)
def test_a_new_fault_is_as_grave_as_add_would_have_it(
    words: str, severity: str | None, told: str, job: Path, run: Run
) -> None:
    code, _, err = run("found", job, "new", words)
    assert code == 0
    assert told in " ".join(err.split())
    assert newest(job).severity == severity
    assert run("found", job, "new", words, "again", "--severity", "minor")[0] == 0
    assert newest(job).severity == "minor", "what a person says goes before it"


@pytest.mark.parametrize("words", ["front brakes grind", NUTS, SMELL, RAIL])
def test_what_is_printed_to_have_it_planned_works(words: str, job: Path, run: Run) -> None:
    typed = adding(run("found", job, "new", words)[2])
    if HOW_GRAVE in typed:
        assert run(*typed)[0] == 2, "how grave it is, is to be chosen"
        typed[typed.index(HOW_GRAVE)] = "minor"
    assert run(*typed)[0] == 0
    *_, fault = tomllib.loads((job / "job.toml").read_text(encoding="utf-8"))["fault"]
    assert fault["id"] == newest(job).fault


def test_the_likeliest_patterns_of_a_new_fault_are_named_as_add_names_them(job: Path, run: Run) -> None:
    said = "Rear brake pipe badly corroded"
    err = " ".join(run("found", job, "new", said)[2].split())
    offered = re.findall(r"optimiser (add \S+ (\S+) --as \S+) \(", err)
    named = re.findall(r"optimiser add \S+ (\S+) \(", " ".join(run("add", job, said)[2].split()))
    assert [name for _, name in offered] == named
    assert named[0] == "brake-pipe-corroded"
    assert run(*shlex.split(offered[0][0]))[0] == 0
    assert newest(job).fault in (job / "job.toml").read_text(encoding="utf-8")


def test_words_that_nobody_knows_settle_no_gravity(job: Path, run: Run, tmp_path: Path) -> None:
    told = (
        f"--severity {HOW_GRAVE} --chance 0.9 --price 45 (in place of {HOW_GRAVE} say dangerous (somebody may be hurt"
    )
    for call in (("add", job, RAIL), ("begin", tmp_path / "new", "--pot", "900", "--fault", RAIL)):
        assert told in run(*call)[2]
    assert "--severity dangerous" in run("add", job, SMELL)[2]
    code, _, err = run("add", job, RAIL, "--plain")
    assert code == 2
    assert "Say --severity dangerous, major or minor. Dangerous: somebody may be hurt if it fails." in err


def test_on_a_terminal_it_is_asked(job: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []

    def answer(question: str, answers: list[str]) -> str | None:
        asked.append(question)
        return "dangerous" if "dangerous" in answers else None

    monkeypatch.setattr("optimiser.cli.writing.ask", answer)
    monkeypatch.setattr("optimiser.cli.beginning.ask", answer)
    assert "--plain --severity dangerous" in run("add", job, RAIL)[2]
    assert run("add", job, RAIL, "--plain")[0] == 0
    assert run("found", job, "new", "flap rattles")[0] == 0
    assert newest(job).severity == "dangerous"
    assert all("somebody may be hurt" in question for question in asked if "nearest" not in question)


def test_a_cured_fault_that_is_back_is_that_fault(job: Path, run: Run) -> None:
    run("fitted", job, "horn", "fuse", "cured")
    code, out, err = run("found", job, "horn", "is-back")
    assert (code, err) == (0, "")
    assert "Written down as entry 2: Horn dead: came back." in out
    assert "Horn dead: came back" in run("diary", job)[1]


def test_it_keeps_its_title_once_it_is_out_of_the_job(job: Path, run: Run) -> None:
    file = job / "job.toml"
    head = file.read_text(encoding="utf-8").partition("[[fault]]")[0]
    assert run("found", job, "horn", "is-back")[0] == 2
    run("fitted", job, "horn", "fuse", "cured")
    assert run("found", job, "horn", "is-back")[0] == 0
    file.write_text(head, encoding="utf-8")
    for verb in ("plan", "diary"):
        assert "Horn dead" in run(verb, job)[1]
