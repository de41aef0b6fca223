"""A damaged file: whatever happened to its bytes, the answer is right or a report, and the file stays as it is.

The long run: ``pytest -m slow tests/unit/ledger/test_damage.py -s``.
"""

from __future__ import annotations

import random
import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import astuple
from datetime import UTC, datetime

import pytest

from optimiser.errors import InputError
from optimiser.ledger import RECORD_FILE, DamagedRecordError, Recorded, Store, rescue, schema
from optimiser.ledger import export as lines
from tests.effort import FULL

from .sample import AT, full_store, left_in, note

pytestmark = pytest.mark.long

NOW = datetime(2026, 12, 1, 8, 0, tzinfo=UTC)


@pytest.fixture(scope="module")
def good(tmp_path_factory) -> tuple[bytes, Recorded]:
    """A record of several pages, its bytes and what it holds."""
    store = Store(tmp_path_factory.mktemp("good"))
    _, everything = full_store(store.folder, 150, 6)
    return store.path.read_bytes(), everything


def must_be_right_or_reported(store: Store, data: bytes, expected: Recorded) -> str:
    """Read and write a record with these bytes; "right", or what share of its happenings was reported whole."""
    store.path.write_bytes(data)
    reported = None
    for read, right in ((store.entries, expected.entries), (store.plans, expected.plans), (store.everything, expected)):
        try:
            assert read() == right
        except InputError as error:
            reported = error
            must_be_a_report(error, expected)
        assert store.path.read_bytes() == data
        assert left_in(store.folder) == [RECORD_FILE]
    try:
        number = store.append([note("after the damage")])
        assert number == (len(expected.entries) + 1,)
        assert store.entries()[:-1] == expected.entries
    except InputError as error:
        must_be_a_report(error, expected)
        assert store.path.read_bytes() == data
    assert left_in(store.folder) == [RECORD_FILE]
    return "right" if reported is None else str(len(getattr(reported, "entries", expected.entries)))


def must_be_a_report(error: InputError, expected: Recorded) -> None:
    assert error.exit_code == 2
    for problem in error.problems:
        assert problem.file == RECORD_FILE
        assert problem.found
        assert problem.expected
        assert problem.mend
        assert all(text.isprintable() for text in astuple(problem))
    if isinstance(error, DamagedRecordError):
        right = {entry.number: entry.happening for entry in expected.entries}
        assert all(right[entry.number] == entry.happening for entry in error.entries)
        assert set(error.plans) <= set(expected.plans)
        assert not set(error.lost) & {entry.number for entry in error.entries}


def changed(data: bytes, place: int, new: bytes) -> bytes:
    return data[:place] + new + data[place + len(new) :]


def bytes_at_random(good: tuple[bytes, Recorded], store: Store, places: int, seed: int) -> dict[str, int]:
    """Single bytes changed at random places; how each ended."""
    data, expected = good
    chance = random.Random(seed)
    ended: dict[str, int] = {}
    for _ in range(places):
        place = chance.randrange(len(data))
        new = (data[place] + chance.randrange(1, 256)) % 256
        how = must_be_right_or_reported(store, changed(data, place, bytes([new])), expected)
        ended[how] = ended.get(how, 0) + 1
    return ended


def test_bytes_at_40_random_places(good, tmp_path) -> None:
    ended = bytes_at_random(good, Store(tmp_path), 40, seed=5)
    assert len(ended) > 1


@pytest.mark.slow
def test_bytes_at_500_random_places(good, tmp_path) -> None:
    ended = bytes_at_random(good, Store(tmp_path), 500, seed=7)
    happenings = len(good[1].entries)
    reported = {int(how): count for how, count in ended.items() if how != "right"}
    worst, total = min(reported), sum(reported.values())
    print(f"\n{len(good[0])} bytes, {happenings} happenings: {ended.get('right', 0)} of 500 did not touch the answer,")
    print(f"{total} were reported, with {worst} to {max(reported)} happenings whole,", end=" ")
    print(f"on average {sum(how * count for how, count in reported.items()) / total:.1f}")
    assert total > 100
    assert worst >= happenings - 1


def test_a_row_that_says_it_is_gigabytes_long(good, tmp_path) -> None:
    """Sizes of nothing but ones, up to the body's first signs: Python then says that it has no memory."""
    data, expected = good
    page = leaves(data)[1]
    for start in range(page + 54, page + schema.PAGE_BYTES):
        if data[start : start + 7] == b'{"at":"':
            must_be_right_or_reported(Store(tmp_path), changed(data, start - 54, b"\xff" * 64), expected)


@pytest.mark.parametrize("place", range(100))
def test_every_byte_of_the_head(good, tmp_path, place) -> None:
    """The first 100 bytes say what kind of file it is (SQLite's file format, section 1.3)."""
    data, expected = good
    for new in (0, 1, 2, 255) if FULL else (1, 255):
        must_be_right_or_reported(Store(tmp_path), changed(data, place, bytes([new])), expected)


def damaged(store: Store, data: bytes) -> DamagedRecordError:
    store.path.write_bytes(data)
    with pytest.raises(DamagedRecordError) as caught:
        store.everything()
    return caught.value


@pytest.mark.parametrize("place", range(60, 64))
def test_a_changed_version_is_damage_and_nothing_is_lost(good, tmp_path, place) -> None:
    """The count of rows was written with the version: a later program would have written it anew."""
    data, expected = good
    error = damaged(Store(tmp_path), changed(data, place, b"\x07"))
    assert (error.entries, error.plans) == (expected.entries, expected.plans)


def test_a_report_that_is_kept_holds_no_lock(good, tmp_path) -> None:
    """A plan was damaged, its report lies about, and the next evening is written down all the same."""
    data, expected = good
    store = Store(tmp_path, wait_seconds=0.1)
    kept = [damaged(store, changed(data, data.index(b'"fixes": 2'), b"'"))]
    assert kept[0].entries == expected.entries
    assert store.append([note("all the same")]) == (len(expected.entries) + 1,)


def test_a_byte_that_is_no_letter_in_a_tables_name(good, tmp_path) -> None:
    """SQLite quotes the name in its error, which Python then cannot decode."""
    data, expected = good
    error = damaged(Store(tmp_path), changed(data, data.index(b"plans_no_delete") + 2, b"\xe8"))
    assert (error.entries, error.plans) == (expected.entries, expected.plans)


def test_a_changed_letter_loses_one_happening(good, tmp_path) -> None:
    data, expected = good
    error = damaged(Store(tmp_path), changed(data, data.index(b"fused lead"), b"F"))
    (lost,) = error.lost
    assert expected.entries[lost - 1].happening.text == "fused lead"
    assert len(error.entries) == len(expected.entries) - 1
    assert error.plans == expected.plans
    assert [problem.where for problem in error.problems] == [f"happening {lost}", f"happening {lost}"]
    assert f"{len(expected.entries) - 1} happenings are whole" in error.problems[0].expected


@contextmanager
def unguarded(store: Store, table: str, verb: str) -> Iterator[sqlite3.Connection]:
    """The file by hand, one of its guards off meanwhile."""
    with closing(sqlite3.connect(store.path, isolation_level=None)) as connection:
        name = f"{table}_no_{verb}"
        (guard,) = connection.execute("SELECT sql FROM sqlite_master WHERE name = ?", (name,)).fetchone()
        connection.execute(f"DROP TRIGGER {name}")
        yield connection
        connection.execute(guard)


def test_two_happenings_that_changed_places(tmp_path) -> None:
    """Whole rows with their sums, under each other's numbers."""
    store = Store(tmp_path)
    store.append([note("a"), note("b"), note("c")])
    with unguarded(store, "happenings", "update") as connection:
        (a, b) = connection.execute("SELECT body, checksum FROM happenings WHERE number < 3").fetchall()
        for number, row in ((1, b), (2, a)):
            connection.execute("UPDATE happenings SET body = ?, checksum = ? WHERE number = ?", (*row, number))
    error = damaged(store, store.path.read_bytes())
    assert (error.lost, [entry.happening.text for entry in error.entries]) == ((1, 2), ["c"])


def test_a_changed_digit_loses_one_plan(good, tmp_path) -> None:
    data, expected = good
    error = damaged(Store(tmp_path), changed(data, data.index(b'"fixes": 2') + 9, b"9"))
    assert error.plans == tuple(plan for plan in expected.plans if plan.number != 3)
    assert error.entries == expected.entries
    assert error.problems[0].where == "plan 3"


def test_a_plan_that_moved_in_time(tmp_path) -> None:
    store, expected = full_store(tmp_path)
    with unguarded(store, "plans", "update") as connection:
        connection.execute("UPDATE plans SET after = 1 WHERE number = 2")
    assert damaged(store, store.path.read_bytes()).plans == expected.plans[:1]


def test_a_plan_that_was_taken_out_stops_the_next_write(tmp_path) -> None:
    store, expected = full_store(tmp_path)
    with unguarded(store, "plans", "delete") as connection:
        connection.execute("DELETE FROM plans WHERE number = 1")
    assert store.entries() == expected.entries
    for do in (store.plans, lambda: store.append([note()])):
        with pytest.raises(DamagedRecordError, match="plan"):
            do()


@pytest.mark.parametrize("page", range(2, 14))
def test_a_page_in_use_that_is_offered_as_free(good, tmp_path, page) -> None:
    """Every row reads well, and yet the next write would land on rows that are there."""
    data, expected = good
    store = Store(tmp_path)
    spoilt = changed(data, 32, page.to_bytes(4, "big") + (1).to_bytes(4, "big"))
    store.path.write_bytes(spoilt)
    assert store.everything() == expected
    with pytest.raises(DamagedRecordError) as caught:
        store.append([note("x" * 2000)] * 5)
    assert caught.value.entries == expected.entries
    assert store.path.read_bytes() == spoilt


@pytest.mark.parametrize("page", range(2, 14))
def test_a_page_in_use_that_is_offered_as_free_well_enough_for_sqlite(good, tmp_path, page) -> None:
    """The list of free pages is in order (SQLite's file format, section 1.5), and names a page that holds rows."""
    data, expected = good
    store = Store(tmp_path)
    trunk = len(data) // schema.PAGE_BYTES + 1
    head = changed(data, 28, b"".join(n.to_bytes(4, "big") for n in (trunk, trunk, 2)))
    free = b"".join(n.to_bytes(4, "big") for n in (0, 1, page))
    spoilt = head + free.ljust(schema.PAGE_BYTES, b"\0")
    store.path.write_bytes(spoilt)
    assert store.everything() == expected
    with pytest.raises(DamagedRecordError, match="pages") as caught:
        store.append([note("x" * 2000)] * 9)
    assert caught.value.entries == expected.entries
    assert store.path.read_bytes() == spoilt


@pytest.mark.parametrize("which", ["first", "middle", "last", "all"])
def test_a_row_that_was_taken_out(tmp_path, which) -> None:
    store, expected = full_store(tmp_path, 9)
    numbers = {"first": [1], "middle": [4, 5, 6], "last": [10], "all": list(range(1, 11))}[which]
    with unguarded(store, "happenings", "delete") as connection:
        for number in numbers:
            connection.execute("DELETE FROM happenings WHERE number = ?", (number,))
    error = damaged(store, store.path.read_bytes())
    assert error.lost == tuple(numbers)
    assert len(error.entries) == len(expected.entries) - len(numbers)
    named = {"first": "happening 1", "middle": "happenings 4 to 6", "last": "happening 10", "all": "happenings 1 to 10"}
    assert error.problems[-1].where == named[which]


def test_a_tally_that_is_gone_leaves_open_how_many_there_were(tmp_path) -> None:
    store, expected = full_store(tmp_path)
    with closing(sqlite3.connect(store.path, isolation_level=None)) as connection:
        connection.execute("DELETE FROM tally")
    error = damaged(store, store.path.read_bytes())
    assert error.entries == expected.entries
    assert error.lost == ()
    assert "whether more came after the last of them cannot be told" in error.problems[0].expected


def test_a_file_that_was_cut_short(good, tmp_path) -> None:
    data, expected = good
    store = Store(tmp_path)
    for size in (1, 50, 99, 100, 2000, schema.PAGE_BYTES, 5 * schema.PAGE_BYTES, len(data) - 1):
        assert must_be_right_or_reported(store, data[:size], expected) != "right"


@pytest.mark.parametrize("page", range(1, 12))
def test_a_page_of_noughts(good, tmp_path, page) -> None:
    """A page that the disk lost: what lies on the others is still offered."""
    data, expected = good
    size = schema.PAGE_BYTES
    must_be_right_or_reported(Store(tmp_path), changed(data, (page - 1) * size, bytes(size)), expected)


def test_the_page_that_leads_to_the_others_lost_loses_no_happening(good, tmp_path) -> None:
    data, expected = good
    (root,) = [place for place in range(0, len(data), schema.PAGE_BYTES) if data[place] == 5]
    error = damaged(Store(tmp_path), changed(data, root, bytes(schema.PAGE_BYTES)))
    assert (error.entries, error.plans, error.lost) == (expected.entries, expected.plans, ())


def test_a_row_whose_size_is_damaged_takes_none_with_it(good, tmp_path) -> None:
    """Neither the rows behind it nor the one before, which Python gives up when it fetches ahead."""
    data, expected = good
    place = data.index(b'{"at":"2026-11-24T20:30:00Z"')
    size_and_number = data.rindex(b"\x3d", place - 12, place) - 2  # number 61 as one byte, after the size of the row
    error = damaged(Store(tmp_path), changed(data, size_and_number, b"\xff\x7f"))
    assert error.lost == (61,)
    assert len(error.entries) == len(expected.entries) - 1


def test_a_page_that_no_longer_says_what_it_is(good, tmp_path) -> None:
    data, expected = good
    for place in leaves(data)[1:3]:
        error = damaged(Store(tmp_path), changed(data, place, b"\x02"))
        assert (error.entries, error.plans, error.lost) == (expected.entries, expected.plans, ())


def leaves(data: bytes) -> list[int]:
    """Places of the pages that hold happenings, in order (SQLite's file format, section 1.6: leaves are of type 13)."""
    places = range(schema.PAGE_BYTES, len(data), schema.PAGE_BYTES)
    return sorted((p for p in places if data[p] == 13 and numbers_on(data, p)), key=lambda p: max(numbers_on(data, p)))


def numbers_on(data: bytes, place: int) -> list[int]:
    """Numbers of the happenings on a page, told by their minutes: one a minute."""
    page = data[place : place + schema.PAGE_BYTES]
    found = re.findall(rb'"at":"2026-11-24T(\d\d):(\d\d):00Z"', page)
    return [(int(hour) - 19) * 60 + int(minute) - 30 + 1 for hour, minute in found]


@pytest.mark.parametrize("tally_too", [False, True])
def test_rows_between_lost_pages_are_found(good, tmp_path, tally_too) -> None:
    """Those before, those behind, and those between, whether or not the tally says how many there were."""
    data, expected = good
    pages = leaves(data)
    lost = [pages[1], pages[-3]]
    for place in lost:
        data = changed(data, place, bytes(schema.PAGE_BYTES))
    if tally_too:
        data = changed(data, data.index(tally_sum(expected)), b"?")
    error = damaged(Store(tmp_path), data)
    gone = {number for place in lost for number in numbers_on(good[0], place)}
    assert 10 < len(gone) < 60
    assert set(error.lost) == gone


def tally_sum(expected: Recorded) -> bytes:
    return schema.tally_checksum(1, len(expected.entries), len(expected.plans)).encode()


def test_the_first_page_lost_loses_no_happening(good, tmp_path) -> None:
    data, expected = good
    error = damaged(Store(tmp_path), changed(data, 0, b"\xff" * schema.PAGE_BYTES))
    assert (error.entries, error.plans, error.lost) == (expected.entries, expected.plans, ())


@pytest.mark.parametrize("data", [b"x", b"not a record\n" * 500, bytes(20_000), b"SQLite format 3\x00" + bytes(5000)])
def test_what_never_was_a_record(tmp_path, data) -> None:
    error = damaged(Store(tmp_path), data)
    assert (error.entries, error.lost) == ((), ())
    assert "0 happenings are whole" in error.problems[0].expected


def test_another_programs_database(tmp_path) -> None:
    store = Store(tmp_path)
    with closing(sqlite3.connect(store.path)) as connection:
        connection.execute("CREATE TABLE happenings (number INTEGER PRIMARY KEY, body TEXT, checksum TEXT)")
    before = store.path.read_bytes()
    for do in (store.entries, lambda: store.append([note()])):
        with pytest.raises(DamagedRecordError, match="another program"):
            do()
    assert store.path.read_bytes() == before


def test_a_journal_beside_it_does_not_hide_whose_it_is(good, tmp_path) -> None:
    """A cut-off journal lies there: the head is then looked at later, but it is looked at."""
    data, _ = good
    store = Store(tmp_path)
    store.path.with_name(f"{RECORD_FILE}-journal").touch()
    store.path.write_bytes(changed(data, 68, b"else"))
    for do in (store.entries, lambda: store.append([note()])):
        with pytest.raises(DamagedRecordError, match="application"):
            do()
    assert store.path.read_bytes() == changed(data, 68, b"else")


def test_a_record_that_was_tampered_with_runs_nothing(tmp_path) -> None:
    """A folder may come by mail. A view in a table's place would run for ever."""
    store, _ = full_store(tmp_path)
    with closing(sqlite3.connect(store.path, isolation_level=None)) as connection:
        connection.execute("ALTER TABLE happenings RENAME TO hidden")
        endless = "WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT 1 FROM n) SELECT i, i, i FROM n WHERE i = 2"
        connection.execute(f"CREATE VIEW happenings (number, body, checksum) AS {endless}")
    for do in (store.entries, lambda: store.append([note()])):
        with pytest.raises(DamagedRecordError, match="tables that this program did not make"):
            do()


def test_a_body_that_makes_no_sense(tmp_path) -> None:
    """Sums that are right over something that is not a happening: reported, the rest offered."""
    store, expected = full_store(tmp_path, 3)
    body = b'{"kind":"dance"}'
    with closing(sqlite3.connect(store.path, isolation_level=None)) as connection:
        connection.execute(
            "INSERT INTO happenings VALUES (5, ?, ?)", (body.decode(), schema.checksum("happening", 5, body))
        )
        connection.execute("UPDATE tally SET happenings = 5, checksum = ?", (schema.tally_checksum(1, 5, 2),))
    error = damaged(store, store.path.read_bytes())
    assert error.problems[0].where == "happening 5"
    assert (error.entries, error.lost) == (expected.entries, (5,))


def test_what_is_whole_becomes_a_new_record(good, tmp_path) -> None:
    """The way that the report names: export what is whole, take it into a new record, go on."""
    data, expected = good
    size = schema.PAGE_BYTES
    error = damaged(Store(tmp_path), changed(data, 7 * size, bytes(size)))
    assert error.lost
    entries, plans = rescue.filled(error, NOW)
    new = Store(tmp_path / "new")
    new.folder.mkdir()
    export = b"".join(lines.lines(Recorded(entries, plans)))
    new.fill(lines.recorded(export, "export.jsonl"))
    assert len(new.entries()) == len(expected.entries)
    for rescued, was in zip(new.entries(), expected.entries, strict=True):
        if was.number in error.lost:
            assert (rescued.happening.kind, rescued.happening.at) == ("lost", NOW)
        else:
            assert rescued.happening == was.happening
    assert [plan.text for plan in new.plans()] == [plan.text for plan in error.plans]
    new.append([note("on we go")])
    new.strike(AT, "strike")
