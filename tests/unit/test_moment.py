"""One call knows the job of one moment: read once, and a kept plan says no more than what it was planned from."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from optimiser import cli, job_folder
from optimiser.ledger import Store
from optimiser.model.events import Spend
from optimiser.planning import choose
from optimiser.state import current, history
from tests.unit.entries import shed

Run = Callable[..., tuple[int, str, str]]
WRITING = ("found", "bought", "strike", "noted", "spent")
HIRE = Spend(at=shed.AT, source="spent", currency="GBP", amount_minor=30_000, text="hire")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return shed.write(tmp_path / "job")


@pytest.mark.parametrize("verb", ["plan", "orders", "moved"])
def test_a_plan_is_kept_with_what_it_was_planned_from(
    verb: str, folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While it is thought out a price rises and money is spent: the plan knew neither, and is kept so."""
    if verb == "moved":
        assert run("plan", folder)[0] == 0
    before = job_folder.job(folder, shed.TODAY)
    chosen = choose.chosen

    def meanwhile(*words: Any, **more: Any) -> Any:
        monkeypatch.setattr(choose, "chosen", chosen)
        Store(folder).append([HIRE])
        sheet = folder / "quotes.csv"
        sheet.write_text(sheet.read_text(encoding="utf-8").replace("9.00", "19.00"), encoding="utf-8")
        return chosen(*words, **more)

    monkeypatch.setattr(choose, "chosen", meanwhile)
    assert run(verb, folder)[0] == 0
    made = Store(folder).plans()[-1]
    kept = history.read(made.text)
    assert kept is not None
    assert (made.after, kept.job) == (0, before)
    said = run("moved", folder)[1]
    assert "300.00 GBP spent: hire" in " ".join(said.split())
    assert "nothing that was looked for" not in said


@pytest.fixture(scope="module")
def begun(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The job with a plan and an entry; nobody is to write into it."""
    folder = shed.write(tmp_path_factory.mktemp("begun") / "job")
    for words in (["plan"], ["spent", "2.00", "rags"]):
        assert cli.main([words[0], str(folder), *words[1:]]) == 0
    return folder


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """How often a call reads the folder, opens the record to read, folds one moment, parses one kept plan."""
    told: Counter[str] = Counter()

    def counting(owner: Any, name: str, key: Callable[..., str]) -> None:
        once = getattr(owner, name)

        def counts(*words: Any, **more: Any) -> Any:
            told[key(*words)] += 1
            return once(*words, **more)

        monkeypatch.setattr(owner, name, counts)

    counting(job_folder, "job", lambda *_: "folder")
    counting(Store, "_read", lambda *_: "record")
    counting(current._Fold, "__init__", lambda _, job: f"fold {job.model_dump_json()}")
    counting(history, "read", lambda text: f"parse {text}")
    return told


@pytest.mark.parametrize(
    "words",
    [["plan"], ["orders"], ["moved"], ["found", "feeder", "feed", "spins"], ["bought", "cole"], ["strike"],
     ["noted", "x"],
     ["compare"], ["spent", "1.00", "rags", "--suppose"], ["diary"], ["verify"]],
)  # fmt: skip
def test_everything_is_read_once(
    words: list[str], begun: Path, tmp_path: Path, run: Run, counted: Counter[str]
) -> None:
    folder = shutil.copytree(begun, tmp_path / "begun")
    assert run(words[0], folder, *words[1:])[0] == 0
    assert (counted["folder"], counted["record"]) == (1, 1)
    assert [count for what, count in counted.items() if what.startswith("parse ")] in ([], [1], [1, 1])
    folds = [count for what, count in counted.items() if what.startswith("fold ")]
    assert sum(folds) <= (2 if words[0] in (*WRITING, "moved") else 1), (
        "before and after a write, then and now; else once"
    )
