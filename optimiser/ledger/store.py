"""START HERE for the record: ``record.sqlite`` in the job folder, only ever added to; only old plans are made shorter.

Every call opens the file, does one thing and closes it, so that nothing lies beside it afterwards and a copied folder
is whole. A write is one transaction, on disk before the call returns: rollback journal, ``synchronous=EXTRA`` (the
folder too is synchronised once the journal is gone). A killed writer leaves its journal; whoever opens next takes the
half-made write back, which nobody was told of. Apart from that reading changes nothing.
"""

from __future__ import annotations

import os
import sqlite3
import stat
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from types import MappingProxyType
from typing import NamedTuple, TypeVar

from optimiser import files
from optimiser.calls import call
from optimiser.errors import CallError, InputError, Problem
from optimiser.ledger import rescue, schema, stored_rows
from optimiser.ledger.sqlite_errors import DamageFound, NewerRecordError, told
from optimiser.model.events import Entry, Happening, PlanMade, Strike

RECORD_FILE = "record.sqlite"
WAIT_SECONDS = 5.0
"""How long a call waits for another process to finish."""
ALL_WHOLE: Mapping[int, Callable[[str], str]] = MappingProxyType({})
"""No plan is ever made shorter."""
T = TypeVar("T")
_HEAD_BYTES = 100
_JOURNAL_MAGIC = bytes.fromhex("d9d505f920a163d7")
_SHORTEST_WITH_A_NAME = 16
_TURN = threading.Lock()
"""One call at a time within a process: closing any handle of a file gives up the process's POSIX locks on it."""


class Recorded(NamedTuple):
    """All that a record holds."""

    entries: tuple[Entry, ...] = ()
    plans: tuple[PlanMade, ...] = ()


@dataclass(frozen=True)
class Store:
    """The record of one job folder.

    Every call may raise ``RecordInUseError`` after ``wait_seconds``, ``RecordUnwritableError``, ``NewerRecordError``,
    ``DamagedRecordError``, and ``InputError`` where the file may not be read. Whatever it raises, nothing was written.
    """

    folder: Path
    wait_seconds: float = WAIT_SECONDS

    @property
    def path(self) -> Path:
        """The record's file; it need not be there."""
        return self.folder / RECORD_FILE

    def entries(self) -> tuple[Entry, ...]:
        """Every happening in order, those struck out too; empty where there is no record."""
        return self._read(stored_rows.read_entries, ())

    def plans(self) -> tuple[PlanMade, ...]:
        """Every plan made, in order."""
        return self._read(stored_rows.read_plans, ())

    def everything(self) -> Recorded:
        """Happenings and plans of one moment."""
        return self._read(lambda c: Recorded(stored_rows.read_entries(c), stored_rows.read_plans(c)), Recorded())

    def append(self, happenings: Sequence[Happening]) -> tuple[int, ...]:
        """Write happenings, all or none of them, and return their running numbers.

        Raises ``ValueError`` for a strike: see ``strike``.
        """
        if any(isinstance(each, Strike) for each in happenings):
            raise ValueError("a strike is written by strike()")
        return self._write(lambda c: stored_rows.add_happenings(c, happenings)) if happenings else ()

    def strike(self, at: datetime, source: str, text: str = "", number: int | None = None) -> Entry:
        """Strike out the happening of that number, else the latest that still counts, and return it.

        Raises ``CallError`` where there is none.
        """

        def change(connection: sqlite3.Connection) -> Entry:
            struck = to_strike(stored_rows.read_entries(connection), number)
            strike = Strike(at=at, source=source, strikes=struck.number, text=text)
            (own,) = stored_rows.add_happenings(connection, [strike])
            return struck._replace(struck_by=own)

        return self._write(change)

    def add_plan(
        self, at: datetime, text: str, after: int | None = None, shorter: Mapping[int, Callable[[str], str]] = ALL_WHOLE
    ) -> PlanMade:
        """Keep a plan that was made, given as JSON text, and return it with its number.

        ``after`` is the last happening that it was planned from; without it all those that stand in the record.
        ``shorter`` says what the text of a plan becomes as soon as so many newer ones are kept: one row for each.
        """

        def change(connection: sqlite3.Connection) -> PlanMade:
            count = stored_rows.tally(connection)
            known = count.happenings if after is None else min(after, count.happenings)
            plan = PlanMade(number=count.plans + 1, at=at, after=known, text=text)
            for newer, short in shorter.items():  # first, so that the new plan takes the pages that become free
                stored_rows.shorten_plan(connection, plan.number - newer, short)
            stored_rows.add_plans(connection, [plan])
            return plan

        return self._write(change)

    def fill(self, recorded: Recorded) -> None:
        """Take a whole record in where there is none yet. Raises ``CallError`` where something is recorded already."""

        def change(connection: sqlite3.Connection) -> None:
            if stored_rows.tally(connection) != (0, 0):
                found = f"{RECORD_FILE} already holds a record."
                raise CallError(found, "Take an export only into a job folder without one.")
            if any(entry.number != number for number, entry in enumerate(recorded.entries, start=1)):
                raise ValueError("the happenings are not numbered from 1 without a gap")
            stored_rows.add_happenings(connection, [entry.happening for entry in recorded.entries])
            stored_rows.add_plans(connection, recorded.plans)

        self._write(change)

    def _read(self, what: Callable[[sqlite3.Connection], T], nothing: T) -> T:
        """Read in one transaction, so that everything is of one moment."""
        with _TURN, self._telling():
            if not self._is_there():
                return nothing
            try:
                return self._read_as("ro", what, nothing)
            except sqlite3.OperationalError as error:
                if getattr(error, "sqlite_errorcode", None) != sqlite3.SQLITE_READONLY_ROLLBACK:
                    raise
            return self._read_as("rw", what, nothing)  # the half of a killed write is taken back by opening it so

    def _read_as(self, mode: str, what: Callable[[sqlite3.Connection], T], nothing: T) -> T:
        with self._connected(mode) as connection:
            connection.execute("PRAGMA query_only=ON")
            connection.execute("BEGIN")
            if schema.is_empty(connection):
                return nothing
            self._examine(connection)
            if schema.version_of(connection) == schema.latest():
                return what(connection)
            with closing(sqlite3.connect(":memory:", isolation_level=None)) as copy:
                copy.text_factory = bytes
                connection.backup(copy)
                stored_rows.bodies(copy)
                schema.migrate(copy)
                return what(copy)

    def _write(self, change: Callable[[sqlite3.Connection], T]) -> T:
        """Change the record in one transaction, which is on disk when this returns."""
        with _TURN, self._telling():
            self._is_there()
            with self._connected("rwc") as connection:
                schema.prepare(connection)
                connection.execute("PRAGMA journal_mode=DELETE")
                connection.execute("PRAGMA synchronous=EXTRA")
                connection.execute("PRAGMA secure_delete=ON")  # no rows of before a migration for a rescue to find
                connection.execute("PRAGMA recursive_triggers=OFF")  # with it, no row could be replaced
                connection.execute("BEGIN IMMEDIATE")
                if schema.is_empty(connection):
                    schema.make(connection)
                else:
                    self._examine(connection)
                    stored_rows.must_be_sound(connection)
                    schema.migrate(connection)
                answer = change(connection)
                connection.execute("COMMIT")
                return answer

    @staticmethod
    def _examine(connection: sqlite3.Connection) -> None:
        """Once more within the transaction: another process may just have brought the record to a later version."""
        schema.must_be_known(RECORD_FILE, schema.version_of(connection))
        schema.must_be_ours(connection)

    @contextmanager
    def _connected(self, mode: str) -> Iterator[sqlite3.Connection]:
        """A connection that is closed at the end; what was not committed by then is taken back."""
        address = f"{self.path.absolute().as_uri()}?mode={mode}"
        with closing(sqlite3.connect(address, uri=True, timeout=self.wait_seconds, isolation_level=None)) as connection:
            connection.text_factory = bytes
            for word in ("trusted_schema=OFF", "cell_size_check=ON", "mmap_size=0"):
                connection.execute(f"PRAGMA {word}")
            yield connection

    @contextmanager
    def _telling(self) -> Iterator[None]:
        """Errors as a person can use them."""
        try:
            try:
                yield
            except NewerRecordError:
                if rescue.is_of_the_latest(self.path):
                    raise DamageFound("head", "a version that is not the one written") from None
                raise
            except (UnicodeDecodeError, MemoryError):
                # SQLite quotes damaged words in its error, which Python cannot read; a row says it is gigabytes long
                raise DamageFound("", "SQLite cannot make it out") from None
            except sqlite3.Error as error:
                raise told(error, RECORD_FILE, self.wait_seconds) from None
        except DamageFound as found:
            raise rescue.damaged(self.path, found) from None

    def _is_there(self) -> bool:
        """Whether something was written into the file, judged by its first bytes: SQLite itself might touch it.

        Raises ``InputError`` for what is no file, ``NewerRecordError``, and ``DamageFound`` for what is no record.
        """
        try:
            file = Path(os.path.realpath(self.path, strict=True))
            has_journal = _is_journalled(file)  # SQLite follows a link too: the journal lies beside what it leads to
            status = file.stat()
            if not stat.S_ISREG(status.st_mode):
                raise _unreadable("something that is no plain file", "a file", "move it away")
            if status.st_size == 0:
                return False
            head = files.content(file, _HEAD_BYTES)[:_HEAD_BYTES]
        except FileNotFoundError:
            if self.path.is_symlink():
                raise _unreadable("a link that leads nowhere", "a file", "take the link away") from None
            return False
        except OSError as error:
            reason = error.strerror or "it cannot be read"
            raise _unreadable(reason, "permission to read it", "allow reading the file and its folder") from None
        if not has_journal:  # else SQLite first puts the head itself right
            _judge(head)
        return True


def to_strike(record: Sequence[Entry], number: int | None) -> Entry:
    """The entry of that number, else the latest one that counts. Raises ``CallError`` where there is none that does."""
    if number is None:
        last = next((entry for entry in reversed(record) if entry.stands), None)
        if last is None:
            raise CallError(
                "There is nothing left to strike out.",
                f"Look into the diary: {call('diary')}. A fault added by mistake goes with its lines in job.toml.",
            )
        return last
    entry = next((entry for entry in record if entry.number == number), None)
    if entry is None:
        raise CallError(f"The record has no entry {number}.", f"It holds {len(record)}: {call('diary')}.")
    if entry.struck_by is not None:
        raise CallError(f"Entry {number} is struck out already.", f"Entry {entry.struck_by} struck it out.")
    if not entry.stands:
        raise CallError(f"Entry {number} is nothing that happened.", "A strike stays; record again what was right.")
    return entry


def _judge(head: bytes) -> None:
    """The head of a database file (SQLite's file format, section 1.3): whose, of which version, how journalled."""
    if len(head) < _HEAD_BYTES or not head.startswith(b"SQLite format 3\x00"):
        raise DamageFound("head", "the file does not begin as a record does")
    if int.from_bytes(head[68:72], "big") != schema.APPLICATION_ID:
        raise DamageFound("head", "the file is another program's, or its head is damaged")
    schema.must_be_known(RECORD_FILE, int.from_bytes(head[60:64], "big"))
    if head[18:20] != b"\x01\x01":
        raise DamageFound("head", "it asks for a way of writing that the record never uses")


def _is_journalled(file: Path) -> bool:
    """Whether the half of a write lies beside a record: what SQLite would act on and we never wrote is refused.

    A journal may end in the name of a super-journal, a file that SQLite takes away once it has rolled back (SQLite's
    file format, section 3); a folder that comes by mail could so name any file. A pipe would hang us.
    """
    for ending in ("-wal", "-shm"):
        if os.path.lexists(f"{file}{ending}"):
            raise _unreadable("a file that no record has beside it", "no such file", "move it away", ending)
    try:
        return _holds_half_a_write(Path(f"{file}-journal"))
    except FileNotFoundError:  # there is none, or its writer has just finished
        return False


def _holds_half_a_write(path: Path) -> bool:
    if not stat.S_ISREG(path.lstat().st_mode):
        raise _unreadable("something that is no plain file", "a file", "move it away", "-journal")
    with path.open("rb") as journal:
        size = journal.seek(0, os.SEEK_END)
        journal.seek(max(0, size - len(_JOURNAL_MAGIC)))
        if size >= _SHORTEST_WITH_A_NAME and journal.read() == _JOURNAL_MAGIC:
            found = "a journal that names another file, for SQLite to delete"
            raise _unreadable(found, "the journal of this record alone", "move it away: we wrote none", "-journal")
    return True


def _unreadable(found: str, expected: str, mend: str, ending: str = "") -> InputError:
    return InputError([Problem(f"{RECORD_FILE}{ending}", "", "", found, expected, mend)])
