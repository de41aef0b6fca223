"""What a shell wants of the program: completion, a page of the manual; amounts below zero are no options."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.unit.conftest import Run


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_each_shell_gets_what_completes(run: Run, shell: str) -> None:
    code, out, _ = run("--completion", shell)
    assert code == 0
    assert "_OPTIMISER_COMPLETE" in out
    if shutil.which(shell) and shell == "bash":
        subprocess.run(["bash", "-n"], input=out, text=True, check=True)


@pytest.fixture
def try_it() -> Path:
    return Path(__file__).parents[2] / "examples" / "try-it"


def completed(folder: Path, *words: str) -> list[str]:
    line = " ".join(["optimiser", *words])
    told = {"_OPTIMISER_COMPLETE": "bash_complete", "COMP_WORDS": line, "COMP_CWORD": str(len(words))}
    ran = subprocess.run(
        [sys.executable, "-m", "optimiser"], cwd=folder, env={**os.environ, **told}, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    return [row.partition(",")[2] for row in ran.stdout.splitlines() if row]


def test_verbs_steps_and_names_are_completed(run: Run, tmp_path: Path, try_it: Path) -> None:
    folder = Path(shutil.copytree(try_it, tmp_path / "job"))
    assert run("plan", folder)[0] == 0
    assert "bought" in completed(folder, "bo")
    assert {"1", "6"} <= {*completed(folder, "found", "")}
    assert completed(folder, "compare", "zzz") == []
    assert completed(tmp_path, "plan", "jo") == ["job"]


def test_the_manual_is_made_from_the_help(run: Run) -> None:
    code, out, _ = run("--manual")
    assert code == 0
    assert out.startswith(".TH OPTIMISER 1")
    assert all(f".SS\n{verb} " in out for verb in ("begin", "plan", "found", "bought", "moved"))
    if shutil.which("groff"):
        ran = subprocess.run(["groff", "-man", "-Tutf8", "-ww"], input=out, text=True, capture_output=True, check=True)
        assert ran.stderr == ""


def test_an_amount_below_zero_is_answered(run: Run, tmp_path: Path, try_it: Path) -> None:
    folder = Path(shutil.copytree(try_it, tmp_path / "job"))
    code, _, err = run("spent", folder, "-5", "tape")
    assert code == 2
    assert "'-5' is below zero" in err


def test_undo_strikes_the_latest_and_says_which(run: Run, tmp_path: Path, try_it: Path) -> None:
    folder = Path(shutil.copytree(try_it, tmp_path / "job"))
    run("noted", folder, "first")
    run("noted", folder, "second")
    assert "Struck out entry 2: note: second" in run("undo", folder)[1]
    assert "Struck out entry 1: note: first" in run("undo", folder)[1]
    code, _, err = run("undo", folder)
    assert code == 2
    assert err
