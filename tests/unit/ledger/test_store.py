"""The record as a file: written once, whole, alone in its folder; and what is said when that cannot be."""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from optimiser.errors import CallError, InputError, RecordError, RecordInUseError, RecordUnwritableError
from optimiser.ledger import RECORD_FILE, Store, schema, stored_rows
from optimiser.model import events as h

from .sample import AT, apart, as_nobody, full_store, left_in, note, one_of_each, purchase

fork_only = pytest.mark.skipif(not hasattr(os, "fork"), reason="rights are tried in a forked process")


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path)


def test_no_record_reads_as_empty_and_makes_none(store) -> None:
    assert store.entries() == ()
    assert store.plans() == ()
    assert store.everything() == ((), ())
    assert left_in(store.folder) == []


def test_an_empty_file_is_no_record_yet(store) -> None:
    """A writer may be killed between making the file and its first write."""
    store.path.touch()
    assert store.entries() == ()
    assert store.path.read_bytes() == b""
    assert store.append([note()]) == (1,)


def test_every_kind_comes_back_as_it_was_written(store) -> None:
    happenings = one_of_each()
    assert store.append(happenings) == tuple(range(1, len(happenings) + 1))
    assert [entry.happening for entry in store.entries()] == happenings
    assert [type(entry.happening) for entry in store.entries()] == [type(each) for each in happenings]


def test_several_are_written_together_or_not_at_all(store) -> None:
    store.append([note("before")])
    unreadable = note("x").model_copy(update={"text": None})
    with pytest.raises((ValueError, UserWarning)):
        store.append([note("first of two"), unreadable])
    assert [entry.happening.text for entry in store.entries()] == ["before"]


def test_nothing_to_write_writes_nothing(store) -> None:
    assert store.append([]) == ()
    assert left_in(store.folder) == []


def test_only_the_record_lies_in_the_folder(store) -> None:
    for do in (
        lambda: store.append([note()]),
        lambda: store.add_plan(AT, "{}"),
        lambda: store.strike(AT, "strike"),
        store.everything,
    ):
        do()
        assert left_in(store.folder) == [RECORD_FILE]


def test_a_copied_folder_is_whole(store, tmp_path_factory) -> None:
    full, everything = full_store(store.folder)
    copy = tmp_path_factory.mktemp("copy")
    shutil.copytree(full.folder, copy, dirs_exist_ok=True)
    assert Store(copy).everything() == everything


def test_reading_changes_nothing(store) -> None:
    full_store(store.folder)
    before = store.path.read_bytes(), store.path.stat().st_mtime_ns
    store.everything()
    assert (store.path.read_bytes(), store.path.stat().st_mtime_ns) == before


def test_strike_marks_the_latest_and_deletes_nothing(store) -> None:
    store.append([note("a"), note("b"), note("c")])
    struck = store.strike(AT, "strike", "wrong van")
    assert (struck.number, struck.struck_by) == (3, 4)
    assert store.strike(AT, "strike").number == 2
    assert store.append([note("d")]) == (6,)
    assert store.strike(AT, "strike").number == 6
    assert [(e.number, e.struck_by, e.stands) for e in store.entries()] == [
        (1, None, True),
        (2, 5, False),
        (3, 4, False),
        (4, None, False),
        (5, None, False),
        (6, 7, False),
        (7, None, False),
    ]
    assert [e.happening.text for e in h.standing(store.entries())] == ["a"]


def test_nothing_left_to_strike(store) -> None:
    with pytest.raises(CallError, match="nothing left to strike out"):
        store.strike(AT, "strike")
    store.append([note(), h.Lost(at=AT, source="rescue")])
    assert store.strike(AT, "strike").number == 1
    with pytest.raises(CallError, match="nothing left to strike out"):
        store.strike(AT, "strike")
    assert len(store.entries()) == 3


def test_a_strike_is_not_appended(store) -> None:
    with pytest.raises(ValueError, match="strike"):
        store.append([h.Strike(at=AT, source="strike", strikes=1)])


def test_plans_are_numbered_and_know_what_came_before(store) -> None:
    assert store.add_plan(AT, '{"fixes": 1.0}').number == 1
    store.append([note(), note()])
    assert store.add_plan(AT, '"two"') == h.PlanMade(number=2, at=AT, after=2, text='"two"')
    assert [(plan.number, plan.after, plan.text) for plan in store.plans()] == [
        (1, 0, '{"fixes": 1.0}'),
        (2, 2, '"two"'),
    ]
    with pytest.raises(ValueError, match="JSON"):
        store.add_plan(AT, "no JSON")
    assert len(store.plans()) == 2


def test_rows_are_only_ever_added(store) -> None:
    full_store(store.folder)
    with closing(sqlite3.connect(store.path)) as connection:
        for table in ("happenings", "plans"):
            for words in (f"UPDATE {table} SET checksum = ''", f"DELETE FROM {table}"):
                with pytest.raises(sqlite3.IntegrityError, match="only ever added to"):
                    connection.execute(words)


def test_how_the_file_is_kept(store, monkeypatch) -> None:
    """The settings on which the promise rests: a kill cannot show them, only a power cut would."""
    seen: list[tuple[object, ...]] = []
    write_tally = schema.write_tally

    def spying(connection: sqlite3.Connection, *words: int) -> None:
        asked = ("synchronous", "journal_mode", "trusted_schema", "application_id", "user_version")
        seen.append(tuple(connection.execute(f"PRAGMA {word}").fetchone()[0] for word in asked))
        write_tally(connection, *words)

    monkeypatch.setattr("optimiser.ledger.stored_rows.write_tally", spying)
    store.append([note()])
    assert seen == [(3, b"delete", 0, schema.APPLICATION_ID, 1)]
    with closing(sqlite3.connect(store.path)) as connection:
        strict = [row[5] for row in connection.execute("PRAGMA table_list") if not row[1].startswith("sqlite_")]
        assert strict == [int(sqlite3.sqlite_version_info >= (3, 37))] * 3


@pytest.mark.parametrize("name", ["a?mode=memory", "50% off #1", "löwe \u00df", " leading", "a&b;c'd\"e", "new\nline"])
def test_any_folder_name(tmp_path, name) -> None:
    folder = tmp_path / name
    folder.mkdir()
    Store(folder).append([note()])
    assert left_in(folder) == [RECORD_FILE]
    assert len(Store(folder).entries()) == 1


def holding(store: Store, how: str) -> closing[sqlite3.Connection]:
    other = sqlite3.connect(store.path, isolation_level=None)
    other.execute(f"BEGIN {how}")
    return closing(other)


def test_two_at_once_wait_and_say_so(store) -> None:
    store.append([note("mine")])
    hasty = Store(store.folder, wait_seconds=0.2)
    with holding(store, "IMMEDIATE"):
        started = time.monotonic()
        with pytest.raises(RecordInUseError, match=r"0\.2 seconds") as caught:
            hasty.append([note("late")])
        assert 0.15 < time.monotonic() - started < 3
        assert caught.value.exit_code == 3
        assert caught.value.mend
        assert len(hasty.entries()) == 1  # reading needs no turn
    assert hasty.append([note("later")]) == (2,)


def test_reading_waits_for_a_write_that_is_under_way(store) -> None:
    store.append([note("mine")])
    with holding(store, "EXCLUSIVE"), pytest.raises(RecordInUseError):
        Store(store.folder, wait_seconds=0.1).entries()


@fork_only
@pytest.mark.parametrize("read", [Store.entries, Store.everything])
def test_what_is_read_is_of_one_moment(store, monkeypatch, read) -> None:
    """Somebody writes between the tally and the rows, or means to."""
    store.append([note("mine")])
    tally, met = stored_rows.tally, []

    def slow(connection: sqlite3.Connection) -> stored_rows.RowCount:
        answer = tally(connection)
        monkeypatch.setattr(stored_rows, "tally", tally)
        met.append(apart(lambda: fresh_turn(store)))
        return answer

    monkeypatch.setattr(stored_rows, "tally", slow)
    answer = read(store)
    assert [e.happening.text for e in (answer if read is Store.entries else answer.entries)] == ["mine"]
    assert met[0][0] is RecordInUseError


def fresh_turn(store: Store) -> tuple[int, ...]:
    """In a forked process, whose turn it would otherwise never be."""
    from optimiser.ledger import store as module  # noqa: PLC0415

    module._TURN = threading.Lock()
    return Store(store.folder, wait_seconds=0.1).append([note("between")])


def test_a_reader_that_stays_does_not_lose_a_write(store) -> None:
    store.append([note("mine")])
    with holding(store, "DEFERRED") as other:
        other.execute("SELECT * FROM happenings").fetchone()
        with pytest.raises(RecordInUseError):
            Store(store.folder, wait_seconds=0.1).append([note("late")])
    assert left_in(store.folder) == [RECORD_FILE]
    assert [entry.happening.text for entry in store.entries()] == ["mine"]


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that a user without rights can reach; pytest's own are closed to them."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder)
        path.chmod(0o777)
        yield path
        path.chmod(0o777)


@fork_only
@pytest.mark.parametrize(("folder_mode", "file_mode"), [(0o555, 0o666), (0o777, 0o444), (0o555, 0o444)])
def test_without_the_right_to_write(open_folder, folder_mode, file_mode) -> None:
    store, everything = full_store(open_folder)
    before = store.path.read_bytes()
    store.path.chmod(file_mode)
    open_folder.chmod(folder_mode)
    kind, said = as_nobody(lambda: store.append([note()]))
    assert kind is RecordUnwritableError, said
    assert RECORD_FILE in said
    assert "allow writing" in said
    assert as_nobody(store.everything) == everything
    assert store.path.read_bytes() == before
    assert left_in(open_folder) == [RECORD_FILE]


@fork_only
def test_without_the_right_to_make_a_record(open_folder) -> None:
    open_folder.chmod(0o555)
    kind, _ = as_nobody(lambda: Store(open_folder).append([note()]))
    assert kind is RecordUnwritableError
    assert left_in(open_folder) == []


@fork_only
def test_without_the_right_to_read(open_folder) -> None:
    store, _ = full_store(open_folder)
    store.path.chmod(0o000)
    for do in (store.entries, lambda: store.append([note()])):
        kind, said = as_nobody(do)
        assert kind is InputError
        assert "Permission" in said


def cut_short(store: Store) -> bytes:
    """Leave the record as a killed writer does, half of its write in the file; the file as it was before."""
    before = store.path.read_bytes()
    child = os.fork()
    if child == 0:
        connection = sqlite3.connect(store.path, isolation_level=None)
        connection.execute("PRAGMA cache_size=1")
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("UPDATE tally SET happenings = 9999")
        for number in range(1000, 1200):
            connection.execute("INSERT INTO happenings VALUES (?, ?, '')", (number, "x" * 1000))
        os.kill(os.getpid(), 9)
    os.waitpid(child, 0)
    assert store.path.read_bytes() != before
    assert len(left_in(store.folder)) == 2
    return before


@fork_only
@pytest.mark.parametrize("first", ["read", "write"])
def test_half_a_write_is_taken_back(store, first) -> None:
    _, everything = full_store(store.folder)
    before = cut_short(store)
    if first == "write":
        store.append([note("after the kill")])
    assert store.entries()[: len(everything.entries)] == everything.entries
    assert left_in(store.folder) == [RECORD_FILE]
    assert (store.path.read_bytes() == before) == (first == "read")


def journal_of(data: bytes, page: int) -> bytes:
    """A rollback journal that holds one page as it was (SQLite's file format, section 3)."""
    size = schema.PAGE_BYTES
    content = data[(page - 1) * size : page * size]
    count, nonce, pages, sector = 1, 7, len(data) // size, 512
    head = bytes.fromhex("d9d505f920a163d7") + b"".join(
        n.to_bytes(4, "big") for n in (count, nonce, pages, sector, size)
    )
    told = nonce + sum(content[place] for place in range(size - 200, 0, -200))
    return head.ljust(sector, b"\0") + page.to_bytes(4, "big") + content + told.to_bytes(4, "big")


def test_half_a_write_in_the_head_is_taken_back(store) -> None:
    """A power cut may tear the first page; the journal holds it as it was."""
    _, everything = full_store(store.folder)
    before = store.path.read_bytes()
    store.path.with_name(f"{RECORD_FILE}-journal").write_bytes(journal_of(before, page=1))
    store.path.write_bytes(bytes(100) + before[100:])
    assert store.everything() == everything
    assert store.path.read_bytes() == before
    assert left_in(store.folder) == [RECORD_FILE]


def naming(journal: bytes, other: Path) -> bytes:
    """The journal as one of several that a super-journal, the other file, binds together."""
    name = str(other).encode()
    told = sum(name)  # of signed bytes, all of them plain letters here
    lock_page = (1 << 30) // schema.PAGE_BYTES + 1
    tail = lock_page.to_bytes(4, "big") + name + len(name).to_bytes(4, "big") + told.to_bytes(4, "big")
    return journal + tail + bytes.fromhex("d9d505f920a163d7")


@pytest.mark.parametrize("linked", [False, True])
def test_a_journal_that_would_have_another_file_deleted_is_refused(store, tmp_path_factory, linked) -> None:
    """The record may be a link: SQLite looks for the journal beside what it leads to."""
    full_store(store.folder)
    theirs = tmp_path_factory.mktemp("theirs") / "photographs"
    theirs.write_bytes(b"of the children")
    before = store.path.read_bytes()
    path = store.path
    if linked:
        path = store.folder / "inner.sqlite"
        store.path.rename(path)
        store.path.symlink_to(path)
    path.with_name(f"{path.name}-journal").write_bytes(naming(journal_of(before, page=1), theirs))
    for call in (store.everything, lambda: store.append([note()])):
        with pytest.raises(InputError, match="names another file"):
            call()
    assert theirs.exists()
    assert path.read_bytes() == before


@pytest.mark.parametrize("ending", ["-journal", "-wal", "-shm"])
def test_a_pipe_beside_the_record_does_not_hang_us(store, ending) -> None:
    full_store(store.folder)
    os.mkfifo(f"{store.path}{ending}")
    with pytest.raises(InputError) as caught:
        store.entries()
    assert caught.value.problems[0].file == f"{RECORD_FILE}{ending}"


def test_a_record_that_is_a_link_to_nowhere_is_refused(store, tmp_path_factory) -> None:
    theirs = tmp_path_factory.mktemp("theirs") / "new"
    store.path.symlink_to(theirs)
    with pytest.raises(InputError, match="leads nowhere"):
        store.append([note()])
    assert not theirs.exists()


@fork_only
def test_half_a_write_that_may_not_be_taken_back(open_folder) -> None:
    store, everything = full_store(open_folder)
    cut_short(store)
    store.path.chmod(0o444)
    open_folder.chmod(0o555)
    kind, said = as_nobody(store.everything)
    assert kind is RecordUnwritableError
    assert "cut short" in said
    store.path.chmod(0o666)
    open_folder.chmod(0o777)
    assert store.everything() == everything


def test_a_full_disk(store, monkeypatch) -> None:
    """SQLite's own report of a full disk: the file may not grow by a single page."""
    _, everything = full_store(store.folder)
    pages = store.path.stat().st_size // schema.PAGE_BYTES
    connect = sqlite3.connect

    def small(*words, **more) -> sqlite3.Connection:
        connection = connect(*words, **more)
        connection.execute(f"PRAGMA max_page_count={pages}")
        return connection

    before = store.path.read_bytes()
    monkeypatch.setattr(sqlite3, "connect", small)
    with pytest.raises(RecordUnwritableError, match="disk is full") as caught:
        store.append([note("x" * 2000) for _ in range(40)])
    assert caught.value.exit_code == 3
    monkeypatch.undo()
    assert store.path.read_bytes() == before
    assert store.everything() == everything
    assert left_in(store.folder) == [RECORD_FILE]


@fork_only
def test_a_disk_that_will_not_take_more_bytes(store) -> None:
    """The system's limit on file size stands in for a quota."""
    resource = pytest.importorskip("resource")
    _, everything = full_store(store.folder)
    limit = store.path.stat().st_size + schema.PAGE_BYTES

    def write() -> object:
        resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
        return store.append([note("x" * 2000) for _ in range(40)])

    kind, _ = apart(write)
    assert issubclass(kind, RecordError)
    assert store.everything() == everything
    assert left_in(store.folder) == [RECORD_FILE]


def test_what_is_no_file(store) -> None:
    store.path.mkdir()
    for do in (store.entries, lambda: store.append([note()])):
        with pytest.raises(InputError) as caught:
            do()
        assert "no plain file" in caught.value.problems[0].found
    store.path.rmdir()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_a_pipe_does_not_hang_us(store) -> None:
    os.mkfifo(store.path)
    with pytest.raises(InputError):
        store.entries()


def test_a_later_version_is_refused_untouched(store) -> None:
    full_store(store.folder)
    with closing(sqlite3.connect(store.path)) as connection:
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA user_version=2")
        schema.write_tally(connection, 2, *connection.execute("SELECT happenings, plans FROM tally").fetchone())
        connection.commit()
    before = store.path.read_bytes(), store.path.stat().st_mtime_ns
    for do in (store.everything, lambda: store.append([note()]), lambda: store.strike(AT, "strike")):
        with pytest.raises(InputError) as caught:
            do()
        assert caught.value.exit_code == 2
        (problem,) = caught.value.problems
        assert (problem.file, problem.found) == (RECORD_FILE, "version 2 of the record")
        assert "later" in problem.mend
    assert (store.path.read_bytes(), store.path.stat().st_mtime_ns) == before
    assert left_in(store.folder) == [RECORD_FILE]


def test_a_thousand_pieces_of_money_stay_whole(store) -> None:
    store.append([purchase(price_minor=10**12, packs=10**6)])
    assert store.entries()[0].happening.cash_minor == 10**18 + 490 + 2 * 10**6 * 300
