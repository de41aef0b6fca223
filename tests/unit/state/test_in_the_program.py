"""The record as the verbs that read it meet it: misfits told, damage reported, read where nothing may be written."""

from __future__ import annotations

import io
import json
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, redirect_stderr, redirect_stdout
from pathlib import Path

import pytest

from optimiser import cli
from optimiser.ledger import RECORD_FILE, Store
from optimiser.model import events as h
from tests import tiny_job
from tests.unit.ledger.sample import as_nobody

from .scene import AT, MONEY, SAID, found

READING = ("plan", "orders", "verify")
NEW, USED = tiny_job.NEW, tiny_job.USED
EXCHANGE = tiny_job.but(NEW, deposit_minor=200, lead_days=3)
JOB = tiny_job.but(tiny_job.BASE, quotes=(EXCHANGE, USED))


def bought(quote=EXCHANGE) -> h.Purchase:
    return h.Purchase.of(quote, 1, currency="GBP", at=AT, source="bought", postage_minor=0)


def swap(*, cured: bool, then: str = "stays-on") -> h.Fitting:
    piece = h.FittedPiece(
        part="disc", units=1, quote="bought:1", bought=1, condition="new", good_chance=0.98, then=then
    )
    return h.Fitting(**MONEY, fault="horn", repair="swap", pieces=(piece,), cured=cured)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tiny_job.write(JOB, tmp_path / "tiny")


@pytest.fixture
def open_to_all() -> Iterator[Path]:
    """A folder that a user without rights can come to: pytest's own are for one user alone."""
    with tempfile.TemporaryDirectory() as made:
        Path(made).chmod(0o755)
        yield Path(made)


def run(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    capsys.readouterr()
    code = cli.main([str(word) for word in words])
    return code, *capsys.readouterr()


def one_line(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize("verb", READING)
@pytest.mark.parametrize("way", [(), ("--json",)])
def test_every_reading_verb_answers_on_a_record(folder, capsys, verb, way) -> None:
    Store(folder).append([bought(), found("radio", cost_minor=7)])
    code, out, _ = run(capsys, verb, folder, *way)
    assert code == 0
    assert out


def test_misfits_are_told_as_cautions(folder, capsys) -> None:
    Store(folder).append([bought(), found("radio", cost_minor=7)])
    told = "Entry 2 of the record (finding) does not fit the job as it is written now: the job has no fault radio."
    for verb in ("verify", "plan"):
        code, out, _ = run(capsys, verb, folder)
        assert code == 0
        assert told in one_line(out)
        assert told in json.loads(run(capsys, verb, folder, "--json")[1])["cautions"]
    assert json.loads(run(capsys, "plan", folder, "--json")[1])["money"]["committed"] == "11.07"


def test_a_clash_is_told_by_verify_too(folder, capsys) -> None:
    seen = [h.SeenToBe(**SAID, fault="horn", cause="something-else"),
            h.SeenNotToBe(**SAID, fault="horn", cause="something-else")]  # fmt: skip
    Store(folder).append(seen)
    code, out, _ = run(capsys, "verify", folder)
    assert code == 0
    assert "What was seen on horn cannot all be true" in one_line(out)


def test_what_is_open_beside_the_plan_is_shown(folder, capsys, monkeypatch) -> None:
    """Cured, on order, deposits due back: in words and in JSON, and the money with them."""
    store = Store(folder)
    store.append([bought(), swap(cured=True), bought(), h.Spend(**MONEY, amount_minor=30, text="tape")])
    monkeypatch.setenv("COLUMNS", "80")
    out = run(capsys, "plan", folder, "--full")[1]
    for title, line in (
        ("Cured", "- horn"),
        ("Bought and not fitted yet", "- 1 x disc from alder (entry 3): here"),
        ("Deposits due back, once the old units are returned", "- 2.00 GBP from alder for 1 x disc (entry 1)"),
    ):
        assert f"\n{title}\n{line}" in out
    assert "less the purchase and what is spent -22.30" in one_line(out)
    document = json.loads(run(capsys, "plan", folder, "--json")[1])
    assert document["money"]["committed"] == "22.30"
    assert document["closed"] == ["horn"]
    (order,) = document["on_order"]
    assert order["days"] in range(4)
    assert order | {"days": 0} == {"bought": 3, "part": "disc", "supplier": "alder", "units": 1, "days": 0}
    assert document["deposits_due_back"] == [
        {"bought": 1, "part": "disc", "supplier": "alder", "pieces": 1, "money": "2.00"}
    ], "the disc of entry 3 is for no fault that is left"
    assert [fault["id"] for fault in document["faults"]] == ["lamp"]


def test_pieces_from_the_record_are_called_by_where_they_came_from(folder, capsys, monkeypatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    Store(folder).append([bought()])
    out = one_line(run(capsys, "plan", folder, "--full")[1])
    assert "1 x disc: new, your shelf (bought, entry 1)" in out
    second = tiny_job.but(tiny_job.HORN, id="second-horn")
    other = tiny_job.write(
        tiny_job.but(JOB, faults=(*JOB.faults, second), quotes=(EXCHANGE,), pot=tiny_job.Pot(cap_minor=1300)),
        folder / "x",
    )
    Store(other).append([bought(), swap(cured=False, then="kept")])
    out = one_line(run(capsys, "plan", other, "--full")[1])
    assert "1 x disc: new, your shelf (kept, entry 2)" in out


@pytest.mark.parametrize("verb", READING)
def test_a_damaged_record_is_reported_with_how_much_is_whole(folder, capsys, verb) -> None:
    """Exit code 2, something in the folder is wrong; 3 is a record that another holds or that may not be written."""
    store = Store(folder)
    store.append([bought(), h.Note(**SAID, text="ring Alder"), found("radio")])
    data = store.path.read_bytes()
    place = data.index(b"ring Alder")
    store.path.write_bytes(data[:place] + b"X" + data[place + 1 :])
    code, out, err = run(capsys, verb, folder)
    assert (code, out) == (2, "")
    told = one_line(err)
    assert "record.sqlite, happening 2" in told
    assert "2 happenings are whole" in told
    assert f"optimiser diary {folder} --rescue FILE" in told
    assert "Traceback" not in err
    assert store.path.read_bytes() != data
    assert store.path.read_bytes()[place : place + 1] == b"X", "left as it is"


def test_verify_lists_the_damage_as_json(folder, capsys) -> None:
    Store(folder).path.write_bytes(b"not a record\n" * 20)
    code, out, _ = run(capsys, "verify", folder, "--json")
    assert code == 2
    (problem,) = json.loads(out)["problems"]
    assert problem["file"] == RECORD_FILE
    assert "0 happenings are whole" in problem["expected"]


@pytest.mark.parametrize("recorded", [True, False])
def test_a_folder_that_may_only_be_read_is_planned(open_to_all, recorded) -> None:
    """The answer comes; that the plan was not kept is said on the other stream."""
    folder = tiny_job.write(JOB, open_to_all / "tiny")
    if recorded:
        Store(folder).append([bought()])
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    for path in folder.iterdir():
        path.chmod(0o444)
    folder.chmod(0o555)
    answer = as_nobody(lambda: called_apart("plan", str(folder), "--json"))
    assert isinstance(answer, tuple)
    code, out, err = answer
    assert code == 0, err
    assert json.loads(out)["money"]["committed"] == ("11.00" if recorded else "0.00")
    assert err.startswith("This plan was not kept")
    code, out, err = as_nobody(lambda: called_apart("verify", str(folder)))  # type: ignore[misc]
    assert (code, err) == (0, "")
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before
    folder.chmod(0o755)


def called_apart(*words: str) -> tuple[int, str, str]:
    """Run within a process of its own, where the streams are not caught."""
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = cli.main(list(words))
    return code, out.getvalue(), err.getvalue()


@pytest.fixture
def impatient(monkeypatch: pytest.MonkeyPatch) -> None:
    init = Store.__init__
    monkeypatch.setattr(Store, "__init__", lambda self, folder, wait_seconds=0.05: init(self, folder, wait_seconds))


@pytest.mark.usefixtures("impatient")
def test_a_record_that_another_is_writing_in_is_still_planned_from(folder, capsys) -> None:
    """Another has begun to write and has not finished: reading goes on, keeping the plan does not."""
    Store(folder).append([bought()])
    with closing(sqlite3.connect(folder / RECORD_FILE, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        code, out, err = run(capsys, "plan", folder, "--json")
    assert code == 0
    assert json.loads(out)["money"]["committed"] == "11.00"
    assert "This plan was not kept" in err
    assert "Another program has been writing in the record" in err


@pytest.mark.usefixtures("impatient")
def test_only_while_the_other_puts_it_on_the_disk_nobody_reads(folder, capsys) -> None:
    Store(folder).append([bought()])
    with closing(sqlite3.connect(folder / RECORD_FILE, isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        code, out, err = run(capsys, "plan", folder, "--json")
    assert (code, out) == (3, "")
    assert "Another program has been writing in the record" in err


def test_no_verb_changes_what_the_person_wrote(folder, capsys) -> None:
    """Nothing edits job.toml, quotes.csv or suppliers.csv: what happened stands in the record alone."""
    comment = "# the horn: look at the fuse first, said Ada\n"
    (folder / "job.toml").write_text(comment + (folder / "job.toml").read_text(encoding="utf-8"), encoding="utf-8")
    wrote = {path.name: path.read_bytes() for path in folder.iterdir()}
    assert set(wrote) == {"job.toml", "quotes.csv", "suppliers.csv"}
    calls: tuple[tuple[str, ...], ...] = (
        ("plan",), ("verify",), ("orders",), ("compare", "horn"), ("bought", "disc", "from", "birch"),
        ("found", "new", "Leak at the tap", "--severity", "minor"), ("found", "horn", "is", "something-else"),
        ("spent", "1.00", "tape"), ("corrected", "disc", "from", "alder", "9.50"), ("noted", "ring Alder"),
        ("refunded", "birch", "1.00"), ("returned", "disc"), ("strike",), ("moved",), ("diary",),
    )  # fmt: skip
    for verb, *words in calls:
        code, _, err = run(capsys, verb, folder, *words)
        assert code == 0, (verb, err)
        left = {path.name: path.read_bytes() for path in folder.iterdir()}
        assert left.pop(RECORD_FILE, b"") or verb == "verify"
        assert left == wrote, verb
    assert len(Store(folder).entries()) == 9
