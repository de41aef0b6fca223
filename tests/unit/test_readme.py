"""The README is run: its sessions give the output that it shows, its code works, its commands are the program's."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from optimiser import cli, read

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
WIDTH = "96"


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", README, flags=re.DOTALL)


def matches(shown: str, real: str) -> bool:
    """Whether the shown lines stand in the real output in their order, ``...`` standing for any lines."""
    pieces = [re.escape(p.strip("\n")) for p in re.split(r"(?m)^\.\.\.\n", shown)]
    return re.fullmatch(r"[\s\S]*?".join(pieces) + r"[\s\S]*", real) is not None


def calls(session: str) -> list[tuple[str, str]]:
    """The commands of a session, each with what is shown below it; they are run one after the other in one place."""
    parts = re.split(r"(?m)^\$ optimiser (.*)\n", session)
    return list(zip(parts[1::2], parts[2::2]))


def timeless(text: str) -> str:
    """Without the clock: when an entry was written down differs from run to run."""
    text = re.sub(r"\b\d\d [A-Z][a-z]+ \d{4}, \d\d:\d\d(?=\sUTC)", "DD Month YYYY, hh:mm", text)
    return re.sub(r"\b\d\d [A-Z][a-z]{2} \d\d:\d\d\b", "DD Mon hh:mm", text)


def sessions() -> list[object]:
    """The full example takes its time, so a session with it runs with the slow tests."""
    return [
        pytest.param(block, id=block.splitlines()[0], marks=[pytest.mark.slow] if "marigold" in block else [])
        for block in blocks("console")
    ]


@pytest.mark.parametrize("session", sessions())
def test_a_session_gives_the_output_that_is_shown(session: str, beside_examples: Path) -> None:
    for command, shown in calls(session):
        words = shlex.split(command)
        run = subprocess.run(
            [sys.executable, "-m", "optimiser", *words],
            cwd=beside_examples, env={**os.environ, "COLUMNS": WIDTH}, capture_output=True, encoding="utf-8",
            check=True, timeout=120,
        )  # fmt: skip
        real = "\n".join(line.rstrip() for line in run.stdout.splitlines())
        assert matches(timeless(shown), timeless(real)), f"{command}\n{real}"


def test_the_jobs_in_it_read(tmp_path: Path) -> None:
    first, twins = blocks("toml")
    (tmp_path / "job.toml").write_text(first, encoding="utf-8")
    assert len(read.job(tmp_path, date(2026, 11, 24)).faults) == 1
    (tmp_path / "job.toml").write_text(twins, encoding="utf-8")
    job = read.job(tmp_path, date(2026, 11, 24))
    assert [fault.shared_causes for fault in job.faults] == [("fuse",)] * 2
    assert [access.id for access in job.access] == ["check:lamp-left.feed"]


def test_the_python_block_runs(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, marigold_once: Path) -> None:
    """From a folder whose full example gives every fault one attempt: that is planned sooner."""
    shutil.copytree(marigold_once, tmp_path / "examples" / "marigold")
    monkeypatch.chdir(tmp_path)
    (code,) = blocks("python")
    exec(compile(code, "README.md", "exec"), {})  # the block is ours


def test_the_table_of_commands_is_the_program_s() -> None:
    named = re.findall(r"^\| `optimiser (\w+) ", README, flags=re.MULTILINE)
    assert sorted(named) == sorted(cli.program.commands)


def test_every_option_is_named() -> None:
    for command in cli.program.commands.values():
        for parameter in command.params:
            for option in parameter.opts:
                if option.startswith("--"):
                    assert option in README, option
