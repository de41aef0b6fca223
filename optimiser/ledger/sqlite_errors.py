"""What can go wrong with the record, and what SQLite's own errors mean for a person."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence

from optimiser.errors import InputError, Problem, RecordError, RecordInUseError, RecordUnwritableError
from optimiser.model.events import Entry, PlanMade

OLDEST_STRICT = (3, 37, 0)
"""The first SQLite that knows STRICT tables."""
_DAMAGED = {
    sqlite3.SQLITE_CORRUPT,
    sqlite3.SQLITE_NOTADB,
    sqlite3.SQLITE_ERROR,
    sqlite3.SQLITE_SCHEMA,
    sqlite3.SQLITE_TOOBIG,
    sqlite3.SQLITE_MISMATCH,
    sqlite3.SQLITE_FORMAT,
}


class NewerRecordError(InputError):
    """The record was written by a later version of the program; it was left as it is."""


class DamagedRecordError(InputError):
    """The file is damaged; it was left as it is.

    ``entries`` and ``plans`` are those that are whole, ``lost`` the numbers of the happenings known to be missing.
    """

    def __init__(
        self,
        problems: Sequence[Problem],
        left_out: int,
        entries: tuple[Entry, ...],
        plans: tuple[PlanMade, ...],
        lost: Sequence[int],
    ) -> None:
        self.entries = entries
        self.plans = plans
        self.lost = tuple(lost)
        super().__init__(problems, left_out)


class DamageFound(Exception):  # noqa: N818 - a signal within the room, turned into DamagedRecordError at its door
    """The file is not as it was written: ``where`` within it, ``found`` there."""

    def __init__(self, where: str, found: str) -> None:
        self.where = where
        self.found = found
        super().__init__(f"{where}: {found}")


_NOT_WRITTEN = "Nothing was written:"
_BARRED = (
    "The record or its folder is not there for writing.",
    f"{_NOT_WRITTEN} allow writing the file and its folder.",
)
_IN_USE = (
    "Another program has been writing in the record for {:g} seconds or longer.",
    f"{_NOT_WRITTEN} try again when it is done.",
)
_HALF = ("A write was cut short, and its half may not be taken back.", "Allow writing the file and its folder.")
_TOLD: dict[int, tuple[type[RecordError], tuple[str, str]]] = {
    sqlite3.SQLITE_BUSY: (RecordInUseError, _IN_USE),
    sqlite3.SQLITE_LOCKED: (RecordInUseError, _IN_USE),
    sqlite3.SQLITE_PROTOCOL: (RecordInUseError, _IN_USE),
    sqlite3.SQLITE_FULL: (RecordUnwritableError, ("The disk is full.", f"{_NOT_WRITTEN} make room and try again.")),
    sqlite3.SQLITE_IOERR: (
        RecordUnwritableError,
        ("The disk would not do it.", "See to the disk, then look into the diary before writing it again."),
    ),
    sqlite3.SQLITE_READONLY: (RecordUnwritableError, _BARRED),
    sqlite3.SQLITE_CANTOPEN: (RecordUnwritableError, _BARRED),
    sqlite3.SQLITE_PERM: (RecordUnwritableError, _BARRED),
    sqlite3.SQLITE_AUTH: (RecordUnwritableError, _BARRED),
    sqlite3.SQLITE_READONLY_ROLLBACK: (RecordUnwritableError, _HALF),
}
"""By SQLite's result code, the extended one first (SQLite documentation, "Result and Error Codes")."""


def told(error: sqlite3.Error, file: str, wait_seconds: float) -> Exception:
    """What SQLite's error is to the person: a ``RecordError``, ``DamageFound``, or itself where the fault is ours."""
    code = getattr(error, "sqlite_errorcode", 0)
    kind, words = _TOLD.get(code) or _TOLD.get(code & 0xFF) or (None, ("", ""))
    if kind is not None:
        return kind(file, words[0].format(wait_seconds), words[1])
    if code & 0xFF in _DAMAGED:
        return DamageFound("", f"SQLite cannot make it out ({error})")
    return error
