"""A record outlives the program that began it: version 1 is read for ever, and a step leads from each version on."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from optimiser.errors import RecordUnwritableError
from optimiser.ledger import RECORD_FILE, DamagedRecordError, NewerRecordError, Store, export, schema
from optimiser.ledger.store import Recorded

from .sample import full_store, left_in, note

VERSION_1 = Path(__file__).with_name("version_1.sql")


@pytest.fixture
def old(tmp_path: Path) -> Store:
    """A folder with the record of version 1."""
    with closing(sqlite3.connect(tmp_path / RECORD_FILE)) as connection:
        connection.executescript(VERSION_1.read_text(encoding="utf-8"))
    return Store(tmp_path)


def shout(body: dict[str, object]) -> dict[str, object]:
    return body | {"text": str(body["text"]).upper() + " \u00e9"} if body["kind"] == "note" else body


def made_up_step(connection: sqlite3.Connection) -> None:
    """Version 2, made up: every note is shouted, and plans know the weather."""
    schema.rewrite_bodies(connection, shout)
    connection.execute("ALTER TABLE plans ADD COLUMN weather TEXT NOT NULL DEFAULT 'dry'")


def made_up_statement(statement: str) -> str:
    weather = "checksum TEXT NOT NULL, weather TEXT NOT NULL DEFAULT 'dry')"
    return statement.replace("checksum TEXT NOT NULL)", weather) if "TABLE plans" in statement else statement


@pytest.fixture
def version_2(monkeypatch) -> None:
    statements = tuple(made_up_statement(statement) for statement in schema.LAYOUTS[1].statements)
    made_up = schema.TableVersion(statements, made_up_step)
    monkeypatch.setattr(schema, "LAYOUTS", schema.LAYOUTS | {2: made_up})


def notes(recorded: Recorded) -> list[str]:
    return [entry.happening.text for entry in recorded.entries if entry.happening.kind == "note"]


def version_of(store: Store) -> int:
    with closing(sqlite3.connect(store.path)) as connection:
        return schema.version_of(connection)


def test_version_1_is_what_is_written_now(old, tmp_path_factory) -> None:
    """If this fails the layout was changed: make it a new version, with a step."""
    _, now = full_store(tmp_path_factory.mktemp("now"), 16, 2, kinds=15)  # kinds that came since are at the end
    assert old.everything() == now
    assert old.append([note()]) == (18,)


@pytest.mark.usefixtures("version_2")
def test_an_older_record_is_read_as_it_would_be_migrated(old) -> None:
    before = old.path.read_bytes()
    assert notes(old.everything()) == ["THE FAN IS CLEAR \u00e9"]
    assert old.path.read_bytes() == before
    assert version_of(old) == 1
    assert left_in(old.folder) == [RECORD_FILE]


@pytest.mark.usefixtures("version_2")
def test_the_first_write_migrates(old) -> None:
    expected = old.everything()
    old.append([note("new")])
    assert version_of(old) == 2
    assert old.everything().entries[:-1] == expected.entries
    assert notes(old.everything()) == ["THE FAN IS CLEAR \u00e9", "new"]
    old.add_plan(expected.plans[0].at, "{}")
    assert len(old.plans()) == 3
    with closing(sqlite3.connect(old.path)) as connection:
        assert connection.execute("SELECT weather FROM plans").fetchall() == [("dry",)] * 3
        with pytest.raises(sqlite3.IntegrityError, match="only ever added to"):
            connection.execute("UPDATE happenings SET body = ''")


@pytest.mark.usefixtures("version_2")
def test_a_migrated_record_is_one_of_the_new_version(old, tmp_path_factory) -> None:
    old.append([note("new")])
    fresh = Store(tmp_path_factory.mktemp("fresh"))
    fresh.fill(old.everything())
    assert b"".join(export.lines(fresh.everything())) == b"".join(export.lines(old.everything()))
    assert version_of(fresh) == 2


@pytest.mark.usefixtures("version_2")
def test_the_program_of_before_refuses_it(old, monkeypatch) -> None:
    old.append([note("new")])
    before = old.path.read_bytes()
    monkeypatch.setattr(schema, "LAYOUTS", {1: schema.LAYOUTS[1]})
    with pytest.raises(NewerRecordError, match="version 2 of the record"):
        old.append([note("with the old program")])
    assert old.path.read_bytes() == before


@pytest.mark.usefixtures("version_2")
def test_a_record_migrated_under_our_hands_is_refused_too(old, monkeypatch) -> None:
    """Another process may do so between the first look and our turn."""
    old.append([note("new")])
    before = old.path.read_bytes()
    monkeypatch.setattr(schema, "LAYOUTS", {1: schema.LAYOUTS[1]})
    monkeypatch.setattr("optimiser.ledger.store._judge", lambda _: None)
    for do in (old.entries, lambda: old.append([note("with the old program")])):
        with pytest.raises(NewerRecordError):
            do()
    assert old.path.read_bytes() == before


@pytest.mark.usefixtures("version_2")
def test_a_migration_that_stops_halfway_leaves_version_1(old, monkeypatch) -> None:
    before = old.path.read_bytes()

    def stops(connection: sqlite3.Connection) -> None:
        made_up_step(connection)
        error = sqlite3.OperationalError("disk full")
        error.sqlite_errorcode = sqlite3.SQLITE_FULL
        raise error

    made_up = schema.TableVersion(schema.LAYOUTS[2].statements, stops)
    monkeypatch.setattr(schema, "LAYOUTS", schema.LAYOUTS | {2: made_up})
    with pytest.raises(RecordUnwritableError):
        old.append([note("new")])
    assert old.path.read_bytes() == before


@pytest.mark.usefixtures("version_2")
def test_a_damaged_record_is_not_migrated(old) -> None:
    """New sums over damaged rows would make the damage look right."""
    data = old.path.read_bytes()
    place = data.index(b"the fan is clear")
    old.path.write_bytes(data[:place] + b"T" + data[place + 1 :])
    before = old.path.read_bytes()
    for do in (old.everything, lambda: old.append([note("new")])):
        with pytest.raises(DamagedRecordError):
            do()
    assert old.path.read_bytes() == before


@pytest.mark.usefixtures("version_2")
def test_a_version_number_that_was_damaged_shows(tmp_path) -> None:
    """Else a record of version 2 whose number reads 1 would be migrated twice: here the tables are the same in both."""
    schema.LAYOUTS[2] = schema.TableVersion(schema.LAYOUTS[1].statements, lambda _: None)
    store = Store(tmp_path)
    store.append([note()])
    with closing(sqlite3.connect(store.path)) as connection:
        connection.execute("PRAGMA user_version=1")
    before = store.path.read_bytes()
    for do in (store.everything, lambda: store.append([note("new")])):
        with pytest.raises(DamagedRecordError, match="tally"):
            do()
    assert store.path.read_bytes() == before
