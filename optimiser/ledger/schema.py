"""How the record lies in its file: tables by version, checksums, and the way from one version to the next.

A row's checksum covers its table, its number and its content. Rows are not chained: damage is chance, not forgery, and
a row that stands by itself is still whole when its neighbour is lost. What a chain would show besides, a row that is
missing, shows in the running numbers and, at the end, in the tally of how many rows there are.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from hashlib import sha256
from typing import Any

from optimiser.errors import Problem
from optimiser.ledger.sqlite_errors import OLDEST_STRICT, DamageFound, NewerRecordError

APPLICATION_ID = 0x6F505452
PAGE_BYTES = 4096
_STRICT = " STRICT" if sqlite3.sqlite_version_info >= OLDEST_STRICT else ""


@dataclass(frozen=True)
class TableVersion:
    """The tables of one version, and the step that makes them of the version before (None for the first)."""

    statements: tuple[str, ...]
    step: Callable[[sqlite3.Connection], None] | None = None


def _append_only(table: str) -> tuple[str, ...]:
    return tuple(
        f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table}"
        f" BEGIN SELECT RAISE(ABORT, '{table} are only ever added to'); END"
        for verb in ("UPDATE", "DELETE")
    )


_TABLES_1 = (
    "CREATE TABLE happenings (number INTEGER PRIMARY KEY, body TEXT NOT NULL, checksum TEXT NOT NULL)",
    (
        "CREATE TABLE plans (number INTEGER PRIMARY KEY, at TEXT NOT NULL, after INTEGER NOT NULL,"
        " text TEXT NOT NULL, checksum TEXT NOT NULL)"
    ),
    (
        "CREATE TABLE tally (one INTEGER PRIMARY KEY CHECK (one = 1), happenings INTEGER NOT NULL,"
        " plans INTEGER NOT NULL, checksum TEXT NOT NULL)"
    ),
)
LAYOUTS: dict[int, TableVersion] = {
    1: TableVersion((*(t + _STRICT for t in _TABLES_1), *_append_only("happenings"), *_append_only("plans")))
}
"""Every version that there was. The last is the one written; a step is never changed once it is out."""


def latest() -> int:
    """The version that is written."""
    return max(LAYOUTS)


def checksum(table: str, number: int, *content: bytes) -> str:
    """The checksum of a row: SHA-256 over its table, its number and its content, as hexadecimal digits."""
    return sha256(b"\n".join((f"{table} {number}".encode(), *content))).hexdigest()


def tally_checksum(version: int, happenings: int, plans: int) -> str:
    """The checksum of the tally; the version is in it, so that a damaged version number shows."""
    return checksum("tally", version, f"{happenings} {plans}".encode())


def prepare(connection: sqlite3.Connection) -> None:
    """What must be said before the first page of a new file is written; on a file that is there it changes nothing."""
    for word in (f"page_size={PAGE_BYTES}", "encoding='UTF-8'", "auto_vacuum=NONE"):
        connection.execute(f"PRAGMA {word}")


def make(connection: sqlite3.Connection) -> None:
    """Lay out an empty record."""
    connection.execute(f"PRAGMA application_id={APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version={latest()}")
    for statement in LAYOUTS[latest()].statements:
        connection.execute(statement)
    write_tally(connection, latest(), 0, 0)


def write_tally(connection: sqlite3.Connection, version: int, happenings: int, plans: int) -> None:
    """Say how many rows there are; part of the same transaction as the rows."""
    row = (happenings, plans, tally_checksum(version, happenings, plans))
    connection.execute("INSERT OR REPLACE INTO tally VALUES (1, ?, ?, ?)", row)


def is_empty(connection: sqlite3.Connection) -> bool:
    """Whether nothing was ever written into the file: a writer may have been killed before its first write."""
    (pages,) = connection.execute("PRAGMA page_count").fetchone()
    (tables,) = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    # SQLite lays out the first page as soon as a write begins
    return pages <= 1 and tables == 0 and application_of(connection) == 0 and version_of(connection) == 0


def application_of(connection: sqlite3.Connection) -> int:
    """Whose file it is."""
    return int(connection.execute("PRAGMA application_id").fetchone()[0])


def version_of(connection: sqlite3.Connection) -> int:
    """The file's version."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def must_be_known(file: str, version: int) -> None:
    """Raises ``NewerRecordError`` for a version later than any that this program knows."""
    if version > latest():
        mend = "use the version of the program that wrote it, or a later one; the file was left as it is"
        expected = f"version {latest()} or earlier"
        raise NewerRecordError([Problem(file, "head", "", f"version {version} of the record", expected, mend)])


def must_be_ours(connection: sqlite3.Connection) -> None:
    """Compare the tables and triggers with those of the version, word for word.

    A record may come by mail: nothing is run that the program did not write. Raises ``DamageFound``.
    """
    given_id = application_of(connection)
    version = version_of(connection)
    if given_id != APPLICATION_ID or version not in LAYOUTS:
        raise DamageFound("head", f"application {given_id:#x}, version {version}")
    found = [row[0] for row in connection.execute("SELECT sql FROM sqlite_master ORDER BY rowid")]
    expected = [statement.encode() for statement in LAYOUTS[version].statements]
    if sorted(map(_plain, found)) != sorted(map(_plain, expected)):
        raise DamageFound("layout", "tables that this program did not make")


def _plain(statement: Any) -> bytes:
    """A statement without STRICT: files come from libraries that know it and from older ones."""
    return statement.removesuffix(b" STRICT") if isinstance(statement, bytes) else b""


def migrate(connection: sqlite3.Connection) -> None:
    """Bring a record that was found whole to the latest version, step by step, within the caller's transaction."""
    for version in range(version_of(connection) + 1, latest() + 1):
        step = LAYOUTS[version].step
        if step is None:
            raise AssertionError(f"no way leads to version {version}")
        step(connection)
        connection.execute(f"PRAGMA user_version={version}")
        happenings, plans = connection.execute("SELECT happenings, plans FROM tally").fetchone()
        write_tally(connection, version, happenings, plans)


def rewrite_bodies(connection: sqlite3.Connection, change: Callable[[dict[str, Any]], dict[str, Any]]) -> None:
    """For a step: put every happening's body as the next version writes it, and its checksum with it."""
    rows = connection.execute("SELECT number, body FROM happenings ORDER BY number").fetchall()
    guard = connection.execute("SELECT sql FROM sqlite_master WHERE name = 'happenings_no_update'").fetchone()[0]
    connection.execute("DROP TRIGGER happenings_no_update")
    for number, body in rows:
        text = json.dumps(change(json.loads(body)), ensure_ascii=False, separators=(",", ":")).encode()
        row = (text.decode(), checksum("happening", number, text), number)
        connection.execute("UPDATE happenings SET body = ?, checksum = ? WHERE number = ?", row)
    connection.execute(guard.decode())
