"""What can still be read of a damaged file: taken from a copy in memory, the file is not touched."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

from optimiser.calls import call
from optimiser.errors import Problem
from optimiser.ledger import schema, stored_rows
from optimiser.ledger.sqlite_errors import DamagedRecordError, DamageFound
from optimiser.model.events import Entry, Happening, Lost, PlanMade, entries

_LEAF = 13
"""The first byte of a page that holds rows of a table (SQLite's file format, section 1.6)."""
_MOST_ROWS = schema.PAGE_BYTES // 64
"""Rows on a page: each has a checksum of 64 digits."""
_MOST_STRETCHES, _MOST_SIGNS = 40, 200
_UNREADABLE = (sqlite3.DatabaseError, MemoryError, DamageFound)


def _mend() -> str:
    return (
        f"write out what is whole with: {call('diary', '--rescue', 'FILE')}, move the damaged file away and take that"
        " in with --import; or put back a copy of the folder from before"
    )


def damaged(path: Path, damage: DamageFound) -> DamagedRecordError:
    """The error for a person: what was found, how much is whole, which happenings are known to be lost."""
    found = _what_is_whole(path.read_bytes())
    happenings, plans = dict(sorted(found.happenings.items())), dict(sorted(found.plans.items()))
    count = found.tally.happenings if found.tally else None
    last = max((count or 0, *happenings), default=0)
    lost = [number for number in range(1, last + 1) if number not in happenings]
    what = "".join(c if c.isprintable() else " " for c in damage.found)[:_MOST_SIGNS]
    whole = f"{len(happenings)} {'happening is' if len(happenings) == 1 else 'happenings are'} whole"
    more = "" if count is not None else "; whether more came after the last of them cannot be told"
    problems = [
        Problem(path.name, damage.where, "", f"damage: {what}", f"a file as it was written; {whole}{more}", _mend())
    ]
    stretches = list(_stretches(lost))
    problems += [
        Problem(path.name, where, "", "no longer readable", "a happening as it was written", "record it again")
        for where in stretches[:_MOST_STRETCHES]
    ]
    left_out = max(0, len(stretches) - _MOST_STRETCHES)
    return DamagedRecordError(problems, left_out, entries(happenings.items()), tuple(plans.values()), lost)


def is_of_the_latest(path: Path) -> bool:
    """Whether the count of rows was written by the latest version that we know, whatever the head says."""
    return _what_is_whole(path.read_bytes()).tally is not None


def filled(error: DamagedRecordError, at: datetime) -> tuple[tuple[Entry, ...], tuple[PlanMade, ...]]:
    """What is whole, ready to be exported: numbers kept, a ``Lost`` in every gap; plans numbered anew."""
    gaps: list[tuple[int, Happening]] = [(number, Lost(at=at, source="rescue")) for number in error.lost]
    whole = sorted([*((entry.number, entry.happening) for entry in error.entries), *gaps], key=lambda pair: pair[0])
    plans = (
        plan.model_copy(update={"number": number, "after": min(plan.after, len(whole))})
        for number, plan in enumerate(error.plans, start=1)
    )
    return entries(whole), tuple(plans)


def _stretches(numbers: list[int]) -> Iterator[str]:
    """Numbers as readable stretches: happening 4, happenings 7 to 9."""
    start = 0
    for place, number in enumerate(numbers, start=1):
        if place == len(numbers) or numbers[place] != number + 1:
            first = numbers[start]
            yield f"happening {first}" if first == number else f"happenings {first} to {number}"
            start = place


@dataclass
class _Whole:
    """Happenings and plans that pass their checks, by number, and the tally if it passes its own."""

    happenings: dict[int, Happening] = field(default_factory=dict)
    plans: dict[int, PlanMade] = field(default_factory=dict)
    tally: stored_rows.RowCount | None = None

    def gather(self, page: sqlite3.Connection) -> None:
        """Take what a page holds, row by row: each is asked for by its place, so that none is lost with another."""
        with suppress(*_UNREADABLE):
            self.tally = stored_rows.tally(page)
        for table, columns in (
            ("happenings", "number, body, checksum"),
            ("plans", "number, at, after, text, checksum"),
        ):
            take = self._take_plan if table == "plans" else self._take_happening
            asked = " ".join(("SELECT", columns, "FROM", table, "LIMIT 1 OFFSET ?"))
            for place in range(_MOST_ROWS):
                with suppress(*_UNREADABLE):
                    row = page.execute(asked, (place,)).fetchone()
                    if row is None:
                        break
                    take(row)

    def _take_happening(self, row: tuple[Any, ...]) -> None:
        body = stored_rows.whole_body(row)
        if body is not None and row[0] not in self.happenings:
            with suppress(DamageFound):
                self.happenings[row[0]] = stored_rows.happening(row[0], body)

    def _take_plan(self, row: tuple[Any, ...]) -> None:
        plan = stored_rows.whole_plan(row)
        if plan is not None:
            self.plans.setdefault(plan.number, plan)


def _what_is_whole(data: bytes) -> _Whole:
    """Everything that the file still tells.

    The first page of an empty record stands in for the file's own, and every page that holds rows is read as if it were
    the whole of each table: so no page is needed to find another, and each row's checksum says where it belongs.
    """
    whole = _Whole()
    places = [place for place in range(schema.PAGE_BYTES, len(data), schema.PAGE_BYTES) if data[place]]
    pages = bytearray(_first_page(len(data)) + data[schema.PAGE_BYTES :])
    for place in places:
        pages[place] = _LEAF  # what begins with 0 is the rest of a long row; on all others this byte may be the damage
    with suppress(*_UNREADABLE), closing(sqlite3.connect(":memory:", isolation_level=None)) as copy:
        copy.text_factory = bytes
        copy.deserialize(bytes(pages))
        copy.execute("PRAGMA writable_schema=ON")
        for place in places:
            number = place // schema.PAGE_BYTES + 1
            copy.execute("UPDATE sqlite_master SET rootpage = ? WHERE type = 'table'", (number,))
            copy.execute(f"PRAGMA schema_version={number}")  # else the tables stay where they were read before
            whole.gather(copy)
    return whole


def _first_page(size: int) -> bytes:
    """The first page of an empty record, for a file of so many bytes."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as fresh:
        schema.prepare(fresh)
        schema.make(fresh)
        page = bytearray(fresh.serialize()[: schema.PAGE_BYTES])
    page[28:32] = (size // schema.PAGE_BYTES).to_bytes(4, "big")
    return bytes(page)
