"""The program called in this process; and the full example, planned as seldom as can be: it takes ten seconds."""

from __future__ import annotations

import os
import shlex
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import optimiser
from optimiser import cli, service
from optimiser.model.job import Job
from optimiser.model.plan import Plan
from optimiser.planning import choose
from tests.planned import plan_of

MARIGOLD = Path(optimiser.__file__).parents[1] / "examples" / "marigold"
WIDTH = "96"
"""The columns of what README, guide and examples show."""

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def kept_for_all(monkeypatch: pytest.MonkeyPatch) -> None:
    """What one test searched is not searched again by the next: for those that change nothing of the search itself."""
    monkeypatch.setenv("XDG_CACHE_HOME", f"{os.environ['XDG_CACHE_HOME']}/verbs")
    monkeypatch.setattr(choose, "WORTH_KEEPING", 0.01)
    monkeypatch.setattr(choose, "A_MIX_WORTH_KEEPING", 0.1)


@pytest.fixture
def run(kept_for_all: None, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:  # noqa: ARG001
    """Call the program in this process: exit code, standard output, standard error."""
    monkeypatch.setenv("COLUMNS", "80")

    def called(*words: object) -> tuple[int, str, str]:
        code = cli.main([str(word) for word in words])
        return code, *capsys.readouterr()

    return called


@pytest.fixture
def run_on(kept_for_all: None, capsys: pytest.CaptureFixture[str]) -> Callable[[Path], Run]:  # noqa: ARG001
    """What calls a verb on one folder and tells both outputs as one line each, so that no width matters."""

    def on(folder: Path) -> Run:
        def called(verb: str, *words: str) -> tuple[int, str, str]:
            code = cli.main([verb, str(folder), *words])
            said = capsys.readouterr()
            return code, " ".join(said.out.split()), " ".join(said.err.split())

        return called

    return on


@pytest.fixture(scope="session")
def marigold_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the full example in which every fault gets one attempt; nobody is to write into it."""
    folder = tmp_path_factory.mktemp("once") / "marigold"
    shutil.copytree(MARIGOLD, folder, ignore=shutil.ignore_patterns("record.sqlite*"))
    text = (folder / "job.toml").read_text(encoding="utf-8")
    assert text.count("\n[job]\n") == 1
    (folder / "job.toml").write_text(text.replace("\n[job]\n", "\n[job]\nfallbacks = false\n"), encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def plans_made() -> list[tuple[Job, Plan]]:
    """Jobs with the plans that were made of them."""
    return []


@pytest.fixture
def planned_once(plans_made: list[tuple[Job, Plan]], monkeypatch: pytest.MonkeyPatch) -> None:
    """A job is planned once a run, for tests that only look at what is made of its plan."""
    planned = service.plan

    def looked_up(job: Job, *words: Any, **more: Any) -> Plan:
        known = [plan for one, plan in plans_made if one == job]
        if not known:
            known = [planned(job, *words, **more)]
            plans_made.append((job, known[0]))
        return known[0]

    monkeypatch.setattr(service, "plan", looked_up)


@pytest.fixture
def beside_examples(tmp_path: Path) -> Path:
    """A folder that holds a copy of the examples: what is planned there is kept there."""
    unrecorded = shutil.ignore_patterns("record.sqlite*")
    shutil.copytree(MARIGOLD.parent, tmp_path / "examples", ignore=unrecorded)
    return tmp_path


@pytest.fixture
def said(
    beside_examples: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Callable[[str], str]:
    """Call the program as a text shows it, beside the examples; what it answers, lines without blanks at their ends."""
    monkeypatch.chdir(beside_examples)
    monkeypatch.setenv("COLUMNS", WIDTH)

    def called(command: str) -> str:
        assert cli.main(shlex.split(command)) == 0, capsys.readouterr().err
        return "\n".join(line.rstrip() for line in capsys.readouterr().out.splitlines())

    return called


@pytest.fixture(scope="session")
def marigold_plan() -> Plan:
    """The plan of the full example as it stands; made once a run, since all that ask for it go to one worker."""
    return plan_of("marigold")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Whatever needs the plan of the full example runs in one worker."""
    for item in items:
        by_name = "test_examples.py" in item.nodeid or "[marigold]" in item.nodeid
        if by_name or {"marigold_plan", "planned_once", "once_text"} & {*getattr(item, "fixturenames", ())}:
            item.add_marker(pytest.mark.together("full example"))
