"""The verbs that write down what happened: said once on disk, then the moves; nothing written where words are wrong."""

from __future__ import annotations

import csv
import json
import os
import pty
import random
import resource
import select
import shlex
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from optimiser import cli, service
from optimiser.errors import RecordUnwritableError, SolverError
from optimiser.ledger import Store, export
from optimiser.model import events as h
from optimiser.state import history
from tests.unit.entries import shed

MARIGOLD = Path(__file__).parents[2] / "examples" / "marigold"

Run = Callable[..., tuple[int, str, str]]
PLAIN = {**os.environ, "COLUMNS": "80", "PYTHONUNBUFFERED": ""}
"""With Python's own buffers, whatever the tests run under: what is said at once must be flushed."""


@pytest.fixture(scope="module")
def planned_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = shed.write(tmp_path_factory.mktemp("recording") / "burdock")
    assert cli.main(["plan", str(folder), "--json"]) == 0
    return folder


@pytest.fixture
def folder(planned_once: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(planned_once, tmp_path / "burdock"))


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    monkeypatch.setenv("COLUMNS", "80")

    def called(*words: object) -> tuple[int, str, str]:
        capsys.readouterr()
        code = cli.main([str(word) for word in words])
        return code, *capsys.readouterr()

    return called


def started(*words: object, **more: object) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "optimiser", *map(str, words)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        encoding="utf-8",
        env=PLAIN,
        **more,  # type: ignore[call-overload]
    )


def one_line(text: str) -> str:
    return " ".join(text.split())


def kinds(folder: Path) -> list[str]:
    return [entry.happening.kind for entry in Store(folder).entries()]


STORY: list[tuple[tuple[str, ...], str, str]] = [
    (("found", "2", "spins"), "finding", "Feed the motor through a fused lead: spins, 5.00 GBP"),
    (("bought", "7", "--postage", "6"), "purchase", "from Cole and Daughter, 15.00 GBP (new; postage 6.00 in it)"),
    (("fitted", "1", "cured"), "fitting", "Clutch slips: Fit clutch shoes, cured; 2 x Clutch shoe (entry 2)"),
    (("refunded", "shoe", "1.25", "--why", "box was open"), "refund", "1.25 GBP came back (entry 2): box was open"),
    (("spent", "4.50", "tube of grease"), "spend", "4.50 GBP spent: tube of grease"),
    (("corrected", "relay", "from", "cole", "13"), "price", "Cole and Daughter asks 13.00 GBP for relay, not 12.00"),
    (("corrected", "feeder", "motor", "7"), "odds", "odds of motor 6 -> 7"),
    (("noted", "ring Odell"), "note", "note: ring Odell"),
    (("bought", "spare-motor", "from", "odell"), "purchase", "spare-motor bought from Odell, 9.00 GBP"),
    (("returned", "spare-motor"), "sent-back", "1 x spare-motor sent back (entry 9)"),
    (("found", "new", "Belt cracked", "--severity", "minor"), "new-fault", "seen: Belt cracked (minor)"),
]  # fmt: skip


def test_every_verb_writes_says_so_and_shows_the_moves(folder: Path, run: Run) -> None:
    """Run in the folder's order; after each the money balances: cap = committed + held back + remaining."""
    for count, (words, kind, said) in enumerate(STORY, start=1):
        code, out, err = run(words[0], folder, *words[1:])
        assert code == 0, err
        assert kinds(folder)[-1] == kind
        assert len(kinds(folder)) == count
        assert f"Written down as entry {count}: " in out
        assert said in one_line(out)
        assert ("to spend" in out) == (kind != "note")
        pot = service.moment(folder, shed.TODAY).job.pot
        assert pot.cap_minor == pot.committed_minor + pot.hold_back_minor + pot.remaining_minor
        assert pot.recorded_minor == sum(e.happening.cash_minor for e in h.standing(Store(folder).entries()))
    out = run("diary", folder)[1]
    assert "less 32.25 in it" in one_line(out)


@pytest.mark.parametrize(("words", "kind", "said"), [STORY[0], STORY[1], STORY[4], STORY[7], STORY[10]])
def test_suppose_says_it_and_writes_nothing(
    folder: Path, run: Run, words: tuple[str, ...], kind: str, said: str
) -> None:
    before = Store(folder).path.read_bytes()
    code, out, err = run(words[0], folder, *words[1:], "--suppose")
    assert code == 0, err
    assert "Suppose: " in out
    assert said in one_line(out)
    assert "Nothing is written down." in out
    assert Store(folder).path.read_bytes() == before
    document = json.loads(run(words[0], folder, *words[1:], "--suppose", "--json")[1])
    assert document["supposed"] is True
    assert [(entry["number"], entry["kind"]) for entry in document["entries"]] == [(None, kind)]


def test_json_of_a_finding(folder: Path, run: Run) -> None:
    code, out, err = run("found", folder, "2", "spins", "--json")
    assert code == 0
    assert "Written down as entry 1" in err
    document = json.loads(out)
    (entry,) = document["entries"]
    assert (entry["number"], entry["kind"], entry["cost"], entry["result"]) == (1, "finding", "5.00", "spins")
    assert document["money"]["committed"] == "55.00"
    assert document["moves"]["against"]["plan"] == 1
    assert {move["fault"] for move in document["moves"]["moves"]} == {"feeder", "clutch", "horn"}
    assert document["next"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("found", "2", "spin"), "Did you mean: spins, not-spins?"),
        (("found", "1", "spins"), "1 cured; or not-cured."),
        (("bought", "2"), "is a check"),
        (("bought", "1", "--price", "x"), "--price 'x' is no amount"),
        (("bought", "1", "--packs", "0"), "--packs"),
        (("fitted", "1", "cured"), "shoe from cole."),
        (("fitted", "77", "cured"), "There is no step 77 in the plan last shown (plan 1)"),
        (("refunded", "shoe", "3"), "There are none"),
        (("returned", "shoe"), "There are none"),
        (("spent", "3"), "what it was for"),
        (("noted",), "noted takes"),
        (("corrected", "1"), "does not take these words"),
        (("strike",), "nothing left to strike out"),
        (("strike", "0"), "no entry 0"),
        (("strike", "x"), "takes the number of one entry"),
        (("diary", "x"), "is no folder with a job.toml"),
    ],
)
def test_nothing_is_written_when_anything_is_wrong(folder: Path, run: Run, words: tuple[str, ...], told: str) -> None:
    before = Store(folder).path.read_bytes()
    code, out, err = run(words[0], folder, *words[1:])
    assert (code, out) == (2, "")
    assert told in one_line(err)
    assert "Traceback" not in err
    assert Store(folder).path.read_bytes() == before


def test_a_job_that_cannot_be_read_takes_nothing_in(folder: Path, run: Run) -> None:
    (folder / "job.toml").write_text(shed.JOB.replace('cap = "400.00"', 'cap = "lots"'), encoding="utf-8")
    code, out, err = run("noted", folder, "x")
    assert (code, out) == (2, "")
    assert "lots" in err
    assert kinds(folder) == []


MANY_DIGITS = "9" * 5000


@pytest.mark.parametrize(
    "words",
    [
        ("spent", MANY_DIGITS, "x"),
        ("found", MANY_DIGITS, "spins"),
        ("found", "2", "spins", "--cost", MANY_DIGITS),
        ("bought", MANY_DIGITS),
        ("bought", "7", "--packs", MANY_DIGITS),
        ("fitted", MANY_DIGITS, "cured"),
        ("returned", MANY_DIGITS),
        ("refunded", MANY_DIGITS, "1"),
        ("corrected", MANY_DIGITS, "1"),
        ("corrected", "relay", "from", "cole", MANY_DIGITS),
        ("strike", MANY_DIGITS),
        ("moved", MANY_DIGITS),
        ("spent", "1_0", "x"),
        ("spent", "\u0663", "x"),
        ("refunded", "1_0"),
    ],
)
def test_numbers_that_nobody_means_are_refused(folder: Path, run: Run, words: tuple[str, ...]) -> None:
    code, _, err = run(words[0], folder, *words[1:])
    assert code == 2
    assert "fault of the program" not in err
    assert kinds(folder) == []


def test_what_is_typed_reaches_no_terminal_raw(folder: Path, run: Run) -> None:
    raw = "a\x1b[31mb\x9b31mc\u202ed\x07e"
    for words in (("found", raw, raw, raw), ("noted", raw), ("spent", "1", raw), ("bought", raw, "from", raw),
                  ("refunded", raw, "1"), ("fitted", raw, raw, raw), ("diary",)):  # fmt: skip
        _, out, err = run(words[0], folder, *words[1:])
        assert not set("\x1b\x9b\u202e\x07") & set(out + err)


def test_strike_the_latest_or_that_of_a_number(folder: Path, run: Run) -> None:
    for words in (("noted", "a"), ("spent", "3.00", "b"), ("noted", "c")):
        run(words[0], folder, *words[1:])
    before = Store(folder).path.read_bytes()
    assert "Suppose: entry 2 struck out" in run("strike", folder, "2", "--suppose")[1]
    assert Store(folder).path.read_bytes() == before
    out = run("strike", folder, "2", "--why", "wrong till")[1]
    assert "Struck out entry 2: 3.00 GBP spent: b." in one_line(out)
    assert "350.00 GBP to spend" in one_line(out)
    assert "Struck out entry 3: note: c." in one_line(run("strike", folder)[1])
    document = json.loads(run("strike", folder, "--json")[1])
    assert document["entries"][0]["strikes"] == 1
    assert [(e.number, e.struck_by) for e in Store(folder).entries()] == [
        (1, 6),
        (2, 4),
        (3, 5),
        (4, None),
        (5, None),
        (6, None),
    ]
    for number, told in ((2, "struck out already"), (4, "is nothing that happened"), (9, "no entry 9")):
        code, _, err = run("strike", folder, number)
        assert code == 2
        assert told in err


def test_the_diary_as_text_as_json_and_as_a_table(folder: Path, run: Run, tmp_path: Path) -> None:
    assert "nothing is written down yet" in run("diary", folder)[1]
    run("spent", folder, "3.00", "a")
    run("spent", folder, "4.00", "b")
    run("strike", folder, "1")
    code, out, _ = run("diary", folder, "--csv", tmp_path / "diary.csv")
    assert code == 0
    assert "STRUCK OUT by 3: 3.00 GBP spent: a" in one_line(out)
    assert "346.00 GBP left to plan with" in one_line(out)
    with (tmp_path / "diary.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [(row["money"], row["left"], row["struck_by"]) for row in rows] == [
        ("0.00", "350.00", "3"), ("4.00", "346.00", ""), ("0.00", "346.00", ""),
    ]  # fmt: skip
    document = json.loads(run("diary", folder, "--json")[1])
    assert [(e["number"], e["counts"], e["money"], e["left"]) for e in document["entries"]] == [
        (1, False, "0.00", "350.00"), (2, True, "4.00", "346.00"), (3, False, "0.00", "346.00"),
    ]  # fmt: skip
    assert document["entries"][1]["happening"]["amount"] == "4.00"
    assert document["money"]["remaining"] == "346.00"


def test_out_and_in_again_is_the_same_record(folder: Path, run: Run, tmp_path: Path) -> None:
    for words, _, _ in STORY:
        run(words[0], folder, *words[1:])
    run("strike", folder)
    assert run("diary", folder, "--export", tmp_path / "a.jsonl")[0] == 0
    other = shed.write(tmp_path / "other")
    assert "12 entries" in run("diary", other, "--import", tmp_path / "a.jsonl")[1]
    assert run("diary", other, "--export", tmp_path / "b.jsonl")[0] == 0
    assert (tmp_path / "a.jsonl").read_bytes() == (tmp_path / "b.jsonl").read_bytes()
    assert Store(other).everything() == Store(folder).everything()
    for words, told in (
        (("--export", tmp_path / "a.jsonl"), "is there already"),
        (("--import", tmp_path / "a.jsonl"), "already holds a record"),
        (("--import", tmp_path / "none"), "is no file"),
        (("--import", tmp_path / "a.jsonl", "--json"), "go by themselves"),
    ):
        code, out, err = run("diary", folder, *words)
        assert (code, out) == (2, "")
        assert told in err


def test_an_export_needs_no_job_that_can_be_read(folder: Path, run: Run, tmp_path: Path) -> None:
    run("noted", folder, "x")
    (folder / "job.toml").write_text("[[[", encoding="utf-8")
    assert run("diary", folder, "--export", tmp_path / "a.jsonl")[0] == 0
    assert len(export.read(tmp_path / "a.jsonl").entries) == 1


def test_a_damaged_record_is_rescued_into_a_new_file(folder: Path, run: Run, tmp_path: Path) -> None:
    for word in "abc":
        run("noted", folder, f"note {word} " + "x" * 200)
    path = Store(folder).path
    data = bytearray(path.read_bytes())
    place = data.index(b"note b")
    data[place] ^= 1
    path.write_bytes(data)
    for words in (("noted", "d"), ("diary",), ("plan",), ("diary", "--export", tmp_path / "a.jsonl")):
        code, out, err = run(words[0], folder, *words[1:])
        assert (code, out) == (2, "")
        assert "2 happenings are whole" in one_line(err)
    code, out, _ = run("diary", folder, "--rescue", tmp_path / "whole.jsonl")
    assert code == 0
    assert "2 entries are whole" in out
    assert "Entry 2 cannot be read any more" in out
    assert path.read_bytes() == data, "the damaged record stays as it is"
    path.rename(tmp_path / "damaged.sqlite")
    assert run("diary", folder, "--import", tmp_path / "whole.jsonl")[0] == 0
    assert kinds(folder) == ["note", "lost", "note"]
    assert "could not be read any more" in one_line(run("diary", folder)[1])
    assert "nothing to rescue" in run("diary", folder, "--rescue", tmp_path / "more.jsonl")[1]
    assert not (tmp_path / "more.jsonl").exists()


@pytest.mark.long
def test_a_record_in_use_is_waited_for_and_then_left(folder: Path, run: Run) -> None:
    """The wait is five seconds; the lock is another connection's open write."""
    other = sqlite3.connect(Store(folder).path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    began = time.monotonic()
    code, out, err = run("noted", folder, "x")
    assert time.monotonic() - began >= 4.5
    other.execute("ROLLBACK")
    other.close()
    assert (code, out) == (3, "")
    assert "5 seconds" in err
    assert kinds(folder) == []


def no_room() -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))


@pytest.mark.parametrize("words", [("found", "2", "spins"), ("strike",)])
def test_a_full_disk_is_said_and_nothing_is_lost(folder: Path, words: tuple[str, ...]) -> None:
    shed.add(folder, h.Note(at=shed.AT, source="noted", text="before"))
    before = Store(folder).path.read_bytes()
    process = started(words[0], folder, *words[1:], preexec_fn=no_room)
    out, err = process.communicate(timeout=60)
    assert (process.returncode, out) == (3, "")
    assert "Traceback" not in err
    assert Store(folder).path.read_bytes() == before


def test_a_plan_that_cannot_be_kept_is_an_answer_all_the_same(
    folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise RecordUnwritableError("record.sqlite", "The folder is not there for writing.", "Allow it.")

    run("found", folder, "2", "spins")
    monkeypatch.setattr(Store, "add_plan", refuse)
    for words in (("spent", "1", "x"), ("plan",), ("plan", "--json")):
        code, out, err = run(words[0], folder, *words[1:])
        assert code == 0
        assert out
        assert "not kept" in err
        assert "not there for writing" in err


def test_what_is_written_stands_when_planning_fails(folder: Path, run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object, **__: object) -> None:
        raise SolverError("no solver")

    monkeypatch.setattr(service, "again", fail)
    code, out, err = run("noted", folder, "x")
    assert code == 0
    code, out, err = run("spent", folder, "1", "x")
    assert code == 70
    assert "Written down as entry 2" in out
    assert "Entry 2 stands as written" in err
    assert "Nothing was written" not in err
    assert kinds(folder) == ["note", "spend"]


def test_a_plan_that_says_the_same_is_kept_once(folder: Path, run: Run) -> None:
    for _ in range(2):
        run("plan", folder)
        run("plan", folder, "--json")
    assert len(Store(folder).plans()) == 1
    run("spent", folder, "1", "x")
    assert len(Store(folder).plans()) == 2
    run("noted", folder, "y")
    assert len(Store(folder).plans()) == 2


def test_numbers_stay_with_their_steps_for_the_life_of_the_job(folder: Path, run: Run) -> None:
    def steps() -> dict[int, tuple[str, str, tuple[str, ...]]]:
        kept = history.read(Store(folder).plans()[-1].text)
        assert kept is not None
        return {n: (s.kind, s.fault + s.id, tuple(p.part for p in s.pieces)) for n, s in kept.steps.items()}

    first = steps()
    out = run("found", folder, "2", "not-spins")[1]
    after = steps()
    new = set(after) - set(first)
    assert {n: step for n, step in after.items() if n not in new} == {n: first[n] for n in set(after) - new}
    assert min(new) > max(first)
    assert "Steps keep the numbers they had. New steps:" in out
    assert all(f"\n  {number} " in out for number in new)
    run("bought", folder, *map(str, sorted(new)), *(str(n) for n, s in first.items() if s[0] == "order"))
    assert set(steps()) <= set(after), "what was bought is fitted under the number that it had"
    shown = json.loads(run("orders", folder, "--json")[1])
    assert all(line["step"] in after for order in shown["orders"] for line in order["lines"])
    before = steps()
    run("plan", folder)
    assert steps() == before


def test_numbers_that_orders_shows_count(folder: Path, run: Run) -> None:
    """A new quote takes the order; its line has a number that nothing had, and that number may be used."""
    with (folder / "quotes.csv").open("a", encoding="utf-8") as sheet:
        sheet.write("shoe,odell,new,1.00,2,,,\n")
    shown = json.loads(run("orders", folder, "--json")[1])
    (line,) = [line for order in shown["orders"] for line in order["lines"] if line["part"] == "shoe"]
    assert line["step"] > 6
    out = run("bought", folder, line["step"])[1]
    assert "1 x Clutch shoe bought from Odell" in out.replace("2 x", "1 x")


def test_a_question_is_asked_on_a_terminal(folder: Path) -> None:
    ours, theirs = pty.openpty()
    words = [sys.executable, "-m", "optimiser", "found", str(folder), "2"]
    process = subprocess.Popen(words, stdin=theirs, stderr=theirs, stdout=subprocess.PIPE, encoding="utf-8")
    os.close(theirs)
    seen = b""
    while b"leave it" not in seen and select.select([ours], [], [], 30)[0]:
        seen += os.read(ours, 1000)
    assert b"What did it show?" in seen
    os.write(ours, b"2\n")
    assert process.stdout is not None
    assert "not-spins" in process.stdout.readline() + process.stdout.readline()
    process.communicate(timeout=60)
    os.close(ours)
    assert process.returncode == 0
    assert kinds(folder) == ["finding"]


NEVER_PLANS = """
import sys, time
from optimiser import service
from optimiser.cli import main
service.again = lambda *_, **__: time.sleep(600)
sys.exit(main(sys.argv[1:]))
"""


@pytest.mark.parametrize("way", [(), ("--json",)])
def test_the_write_never_waits_for_the_plan(folder: Path, way: tuple[str, ...]) -> None:
    """With a planner that never comes back the entry is on disk and said to be; beside JSON on standard error."""
    words = [sys.executable, "-c", NEVER_PLANS, "spent", str(folder), "1", "x", *way]
    process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=PLAIN)
    said = process.stderr if way else process.stdout
    assert said is not None
    try:
        assert select.select([said], [], [], 30)[0]
        assert said.readline().startswith(b"Written down as entry 1")
        assert kinds(folder) == ["spend"]
    finally:
        process.kill()
        process.communicate()


def test_interrupted_while_planning_nothing_is_lost(tmp_path: Path) -> None:
    """On the full example, whose plan takes so long that the interruption cannot come too late."""
    folder = shutil.copytree(MARIGOLD, tmp_path / "marigold", ignore=shutil.ignore_patterns("record.*"))
    heed = partial(signal.signal, signal.SIGINT, signal.SIG_DFL)  # a shell in the background lets nobody heed it
    process = started("spent", folder, "1.00", "x", preexec_fn=heed)
    assert process.stdout is not None
    assert process.stdout.readline().startswith("Written down as entry 1")
    process.send_signal(signal.SIGINT)
    _, err = process.communicate(timeout=60)
    assert kinds(folder) == ["spend"]
    assert process.returncode == 130
    assert "Entry 1 stands as written" in one_line(err)


def killed(folder: Path, seconds: float | None) -> bool:
    """Write something down and kill the program once it says so, or after a time; whether it had said so."""
    process = started("spent", folder, "0.01", "x")
    assert process.stdout is not None
    if seconds is not None:
        time.sleep(seconds)
        process.kill()
        said = process.stdout.readline()
    else:
        said = process.stdout.readline()
        process.kill()
    process.communicate(timeout=60)
    return said.startswith("Written down as entry")


def test_killed_once_it_says_so_it_is_there(folder: Path) -> None:
    for count in range(1, 4):
        assert killed(folder, None)
        assert len(kinds(folder)) == count


@pytest.mark.slow
def test_killed_at_any_moment_nothing_acknowledged_is_lost(folder: Path) -> None:
    """A hundred and fifty kills from the start of Python to the end of planning; and the record stays whole."""
    chance = random.Random(5)
    acknowledged = 0
    for count in range(1, 151):
        acknowledged += killed(folder, None if chance.random() < 0.3 else chance.uniform(0.05, 1.2))
        assert acknowledged <= len(kinds(folder)) <= count
        Store(folder).everything()
    assert acknowledged > 50


SHIPS_FREE = """
[job]
title = "Yarrow, an invented pony trap"
currency = "GBP"
today = 2026-11-24
fallbacks = false
[money]
cap = "200.00"
"""
TWO_PARTS = "".join(
    f'[[fault]]\nid = "fault-{part}"\nseverity = "minor"\n'
    f'[[fault.repair]]\nid = "fit"\nchance = 0.9\nparts = {{ {part} = 1 }}\n'
    for part in ("pa", "pb")
)


@pytest.fixture
def ships_free(tmp_path: Path) -> Path:
    """A plan with one order of 90.00 that ships free from 80.00."""
    folder = tmp_path / "yarrow"
    folder.mkdir()
    (folder / "job.toml").write_text(SHIPS_FREE + TWO_PARTS, encoding="utf-8")
    (folder / "suppliers.csv").write_text("supplier,postage,free_over\nshop,7.00,80.00\n", encoding="utf-8")
    quotes = "part,supplier,condition,price\npa,shop,new,50.00\npb,shop,new,40.00\n"
    (folder / "quotes.csv").write_text(quotes, encoding="utf-8")
    return folder


def test_a_line_of_an_order_that_ships_free_books_no_postage(run: Run, ships_free: Path) -> None:
    run("plan", ships_free)
    code, out, err = run("bought", ships_free, "3")
    assert code == 0
    assert "50.00 GBP (new)" in one_line(out)
    assert "Taken for part of an order that ships free" in one_line(err + out)
    _, out, err = run("bought", ships_free, "4")
    assert "40.00 GBP (new)" in one_line(out)
    assert "Taken for part of an order with entry 1 that ships free" in one_line(err + out)
    bought = [e.happening for e in Store(ships_free).entries()]
    assert [(each.part, each.postage_minor) for each in bought] == [("pa", 0), ("pb", 0)]


def test_what_joins_an_order_names_all_its_entries(run: Run, ships_free: Path) -> None:
    for price in ("10.00", "11.00"):
        run("bought", ships_free, "pa", "from", "shop", "--price", price)
    _, out, err = run("bought", ships_free, "pa", "from", "shop", "--price", "12.00")
    assert "Taken for one order with entries 1 and 2, so no more postage" in one_line(err + out)


def test_a_piece_named_by_its_attempt_and_by_its_order_is_bought_once(run: Run, ships_free: Path) -> None:
    run("plan", ships_free)
    code, out, err = run("bought", ships_free, "1", "3", "03")
    assert code == 0
    assert "bought once" in one_line(err + out)
    assert [e.happening.packs for e in Store(ships_free).entries()] == [1]


@pytest.mark.parametrize(("word", "condition"), [("reman", "refurbished"), ("Used", "salvage"), ("NEW", "new")])
def test_a_condition_is_taken_in_the_words_of_sheets(run: Run, ships_free: Path, word: str, condition: str) -> None:
    code, _, _ = run("bought", ships_free, "pa", "from", "shop", "--price", "10.00", "--condition", word)
    assert code == 0
    assert [e.happening.condition for e in Store(ships_free).entries()] == [condition]


def test_a_word_for_no_condition_is_refused_as_typed(run: Run, ships_free: Path) -> None:
    code, _, err = run("bought", ships_free, "pa", "from", "shop", "--price", "10.00", "--condition", "shiny")
    assert (code, "shiny" in err, "salvage" in err) == (2, True, True)


@pytest.mark.parametrize(
    ("said", "like"),
    [("recoil starter broken", "Pull starter broken"), ("heater blower dead", None), ("odd smell", None)],
)
def test_a_new_fault_is_offered_the_pattern_that_it_sounds_like(
    said: str, like: str | None, folder: Path, run: Run
) -> None:
    """One of a machine, for the job is about one: a blower of a car's heater is none of a baler's."""
    err = " ".join(run("found", folder, "new", said)[2].split())
    assert f"optimiser add {folder} {shlex.quote(said)} --as" in err
    assert (f'It sounds like "{like}".' in err) is (like is not None)


def test_what_overdraws_the_pot_says_so_once(run: Run, ships_free: Path) -> None:
    """It is written down all the same: what happened has happened."""
    notes = [run("spent", ships_free, amount, "soap")[2] for amount in ("1.00", "100000", "1.00")]
    assert ["By this the pot is overdrawn by" in " ".join(note.split()) for note in notes] == [False, True, False]
