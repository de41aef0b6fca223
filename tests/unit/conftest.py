"""The program called in this process; and the full example, planned as seldom as can be: it takes ten seconds."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

import optimiser
from optimiser import cli, read, service
from optimiser.model.plan import Plan

MARIGOLD = Path(optimiser.__file__).parents[1] / "examples" / "marigold"


Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    """Call the program in this process: exit code, standard output, standard error."""
    monkeypatch.setenv("COLUMNS", "80")

    def called(*words: object) -> tuple[int, str, str]:
        code = cli.main([str(word) for word in words])
        return code, *capsys.readouterr()

    return called


@pytest.fixture(scope="session")
def marigold_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the full example in which every fault gets one attempt; nobody is to write into it."""
    folder = tmp_path_factory.mktemp("once") / "marigold"
    shutil.copytree(MARIGOLD, folder)
    text = (folder / "job.toml").read_text(encoding="utf-8")
    assert text.count("\n[job]\n") == 1
    (folder / "job.toml").write_text(text.replace("\n[job]\n", "\n[job]\nfallbacks = false\n"), encoding="utf-8")
    return folder


@pytest.fixture
def beside_examples(tmp_path: Path) -> Path:
    """A folder that holds a copy of the examples: what is planned there is kept there."""
    unrecorded = shutil.ignore_patterns("record.sqlite*")
    shutil.copytree(MARIGOLD.parent, tmp_path / "examples", ignore=unrecorded)
    return tmp_path


@pytest.fixture(scope="session")
def marigold_plan() -> Plan:
    """The plan of the full example as it stands; the only time that it is made for these tests."""
    return service.plan(read.job(MARIGOLD, date(2026, 11, 24)))
