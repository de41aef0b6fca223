"""README and guide are run: sessions give what is shown, code works; commands, words and keys are the program's."""

from __future__ import annotations

import re
import shutil
import textwrap
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

import optimiser
from optimiser import cli, job_folder
from optimiser.entries import findings, fitting
from optimiser.job_folder import package_data
from optimiser.job_folder.row_reader import keys_of
from optimiser.model.base import Record
from optimiser.model.job import Access, Check, Fault, Job, Owned, Part, Pot, Repair, Settings, SheetWords, Solve, Time
from optimiser.model.quotes import Quote, Supplier
from tests.word_tables import TABLES, filled

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = package_data.guide()
PAGES = {"README": README, **GUIDE}


def blocks(language: str, page: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", page, flags=re.DOTALL)


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
        pytest.param(
            block, id=f"{topic}: {block.splitlines()[0]}", marks=[pytest.mark.slow] if "marigold" in block else []
        )
        for topic, page in PAGES.items()
        for block in blocks("console", page)
    ]


@pytest.mark.parametrize("session", sessions())
def test_a_session_gives_the_output_that_is_shown(session: str, said: Callable[[str], str]) -> None:
    for command, shown in calls(session):
        real = said(command)
        assert matches(timeless(shown), timeless(real)), f"{command}\n{real}"


def read_from(block: str, folder: Path) -> Job:
    (folder / "job.toml").write_text(block, encoding="utf-8")
    return job_folder.job(folder, date(2026, 11, 24))


def test_every_job_that_is_shown_reads(tmp_path: Path) -> None:
    jobs = {topic: read_from(block, tmp_path) for topic, page in PAGES.items() for block in blocks("toml", page)}
    assert len(jobs["README"].faults) == 1
    assert [fault.shared_causes for fault in jobs["twins"].faults] == [("fuse",)] * 2
    assert [access.id for access in jobs["twins"].access] == ["check:lamp-left.feed"]


def of_the_docstring() -> str:
    return textwrap.dedent("\n".join(re.findall(r"(?m)^    .+$", optimiser.__doc__ or "")))


@pytest.mark.usefixtures("planned_once")
@pytest.mark.parametrize("code", [*blocks("python", "".join(PAGES.values())), of_the_docstring()])
def test_python_that_is_shown_runs(
    code: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, marigold_once: Path
) -> None:
    """From a folder whose full example gives every fault one attempt: that is planned sooner, and once."""
    assert "service.plan(" in code
    shutil.copytree(marigold_once, tmp_path / "examples" / "marigold")
    shutil.copytree(ROOT / "examples" / "shortest", tmp_path / "examples" / "shortest")
    monkeypatch.chdir(tmp_path)
    exec(compile(code, "README.md", "exec"), {})  # the block is ours


def test_the_readme_is_a_front_door() -> None:
    assert len(README.splitlines()) <= 200


def test_the_table_of_commands_is_the_program_s() -> None:
    named = re.findall(r"^\| `optimiser (\w+) ", README, flags=re.MULTILINE)
    assert sorted(named) == sorted(cli.program.commands)


def verbs_with(option: str) -> set[str]:
    return {name for name, verb in cli.program.commands.items() if any(option in each.opts for each in verb.params)}


def test_the_readme_says_which_verbs_answer_in_json_and_csv() -> None:
    said = " ".join(README.split())
    assert "With `--json` every verb but `guide` and `page` answers in JSON" in said
    assert verbs_with("--json") == set(cli.program.commands) - {"guide", "page"}
    (tables,) = re.findall(r"With `--csv FILE` these write their table too.*?: (.*?)\.", said)
    assert verbs_with("--csv") == set(re.findall(r"`(\w+)`", tables))


def test_the_readme_names_every_page_by_its_title() -> None:
    named = re.findall(r"^\| \[(\w+)\]\(data/guide/(\w+)\.md\) \| (.+) \|$", README, flags=re.MULTILINE)
    assert all(topic == file for topic, file, _ in named)
    assert {topic: title for topic, _, title in named} == {t: page.splitlines()[0][2:] for t, page in GUIDE.items()}


def test_every_option_is_named() -> None:
    said = "".join(PAGES.values())
    for command in cli.program.commands.values():
        for parameter in command.params:
            for option in parameter.opts:
                if option.startswith("--"):
                    assert option in said, option


def test_every_topic_that_a_page_sends_to_is_there() -> None:
    sent = {word for page in PAGES.values() for word in re.findall(r"`optimiser guide ([a-z]+)`", page)}
    assert sent
    assert sent <= GUIDE.keys()


@pytest.mark.parametrize("topic", TABLES)
def test_tables_of_words_are_made_from_the_data(topic: str) -> None:
    assert filled(GUIDE[topic], [make() for make in TABLES[topic]]) == GUIDE[topic], "run python -m tests.word_tables"


KEYS = {
    "[job]": Settings, "[money]": Pot, "[time]": Time, "[solve]": Solve, "[words]": SheetWords,
    "[[access]]": Access, "[[part]]": Part,
    "[[owned]]": Owned, "[[fault]]": Fault, "[[fault.check]]": Check, "[[fault.repair]]": Repair,
}  # fmt: skip


@pytest.mark.parametrize("table", KEYS)
def test_the_job_page_names_every_key_where_it_stands(table: str) -> None:
    (said,) = re.findall(rf"(?m)^\| `{re.escape(table)}` ((?:.*\n\| )*?.*\n)(?=\| `|\n)", GUIDE["job"])
    words = set(re.findall(r"\w+", said))
    assert {key for key in keys_of(KEYS[table]) if f"[[fault.{key}]]" not in KEYS} <= words


@pytest.mark.parametrize(("sheet", "kind"), [("quotes.csv", Quote), ("suppliers.csv", Supplier)])
def test_the_job_page_names_every_column(sheet: str, kind: type[Record]) -> None:
    said = GUIDE["job"].split(f"**{sheet}**")[1].split("**")[0]
    assert {*keys_of(kind)} - {"id"} <= set(re.findall(r"\w+", said))


def test_every_result_that_is_written_down_is_named() -> None:
    for word in (*fitting.OUTCOMES, *(f"--{fate}" for fate in fitting.FATES.values())):
        assert f"`{word}`" in GUIDE["words"]
    for word in re.findall(r"\b(?:is|is-not|is-back|works|still)\b(?= CAUSE|,|;)", findings.say()):
        assert f"`{word}`" in GUIDE["words"]
