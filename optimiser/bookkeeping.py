"""The record as the verbs use it: what is written down, struck out, looked up, and carried to another folder.

What is written is handed on as the moment that it makes, so that nothing is read a second time.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from optimiser.errors import OptimiserError
from optimiser.ledger import DamagedRecordError, Recorded, Store, rescue
from optimiser.ledger import export as lines
from optimiser.ledger.store import to_strike
from optimiser.model.events import Entry, Happening, Strike
from optimiser.state import Moment
from optimiser.state.history import Plans


class Written(NamedTuple):
    """What was written down, or is only supposed (then without numbers), and the job once it has happened."""

    now: Moment
    happenings: tuple[Happening, ...]
    numbers: tuple[int, ...] = ()

    @property
    def numbered(self) -> list[tuple[int | None, Happening]]:
        """Each happening with its number, None where it is only supposed."""
        return list(zip(self.numbers or [None] * len(self.happenings), self.happenings, strict=True))


class Rescued(NamedTuple):
    """What of a damaged record was whole: how many entries, the numbers of those lost, how many plans."""

    entries: int
    lost: Sequence[int]
    plans: int


def write_down(folder: Path, before: Moment, happenings: Sequence[Happening]) -> Written:
    """Write happenings down, all or none. Raises ``RecordError``."""
    numbers = Store(folder).append(happenings)
    return Written(_since(folder, before, happenings, numbers), tuple(happenings), numbers)


def suppose(before: Moment, happenings: Sequence[Happening]) -> Written:
    """The job as if these had happened; nothing is written."""
    return Written(before.after(happenings, supposed=True), tuple(happenings))


def strike(
    folder: Path, before: Moment, at: datetime, number: int | None = None, text: str = "", *, supposed: bool = False
) -> tuple[Entry, Written]:
    """Strike out the entry of that number, else the latest that counts, or only suppose so; with the entry.

    Raises ``CallError`` where there is none, ``RecordError``.
    """
    struck = to_strike(before.record, number) if supposed else Store(folder).strike(at, "strike", text, number)
    what = Strike(at=at, source="strike", strikes=struck.number, text=text)
    if struck.struck_by is None:
        return struck, suppose(before, [what])
    return struck, Written(_since(folder, before, [what], (struck.struck_by,)), (what,), (struck.struck_by,))


def export(folder: Path, file: Path) -> Recorded:
    """The whole record into a new file of JSON lines; the job's own files need not be readable."""
    recorded = Store(folder).everything()
    lines.write(file, recorded)
    return recorded


def take_back(folder: Path, file: Path) -> Recorded:
    """Such a file into a folder that has no record yet. Raises ``CallError`` where it has one."""
    recorded = lines.read(file)
    Store(folder).fill(recorded)
    return recorded


def save(folder: Path, file: Path, at: datetime) -> Rescued | None:
    """What is whole in a damaged record into such a file; None where nothing is damaged."""
    try:
        Store(folder).everything()
    except DamagedRecordError as damage:
        entries, plans = rescue.filled(damage, at)
        lines.write(file, Recorded(entries, plans))
        return Rescued(len(damage.entries), damage.lost, len(plans))
    return None


def _since(folder: Path, before: Moment, happenings: Sequence[Happening], numbers: Sequence[int]) -> Moment:
    """The moment after the write; read anew only where somebody else wrote in the same moment, if it can be read."""
    if numbers and numbers[0] != before.known + 1:
        with suppress(OptimiserError):
            recorded = Store(folder).everything()
            return replace(before, record=recorded.entries, plans=Plans(recorded.plans))
    return before.after(happenings)
