"""A clean sheet: quotes in the columns of ``formats.md``, as the tool writes them and reads them back."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from sys import intern

from optimiser import text
from optimiser.model.imports import Key, TakenRow
from optimiser.money import NO_CURRENCY, Currency

COLUMNS = (
    "part", "supplier", "condition", "price", "pack", "stock", "good_chance", "deposit", "refund_share",
    "lead_days", "warranty_months", "valid_until", "currency", "ref", "note",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class CleanRow:
    """A row of a clean sheet, as its cells."""

    cells: Mapping[str, str]

    @property
    def key(self) -> Key:
        """What a newer quote must share to take its place."""
        get = self.cells.get
        return (get("supplier", ""), get("part", ""), get("condition", ""), int(get("pack") or 1), get("ref", ""))

    @property
    def last_day(self) -> date | None:
        """The last day on which it holds, None where the row names none."""
        written = self.cells.get("valid_until")
        return date.fromisoformat(written) if written else None

    def holds_on(self, day: date) -> bool:
        """Whether it has not lapsed."""
        return self.last_day is None or self.last_day >= day

    def ended(self, day: date, why: str) -> CleanRow:
        """The same row, lapsed on the day before; what it said of its last day stays in the note."""
        was = self.cells.get("valid_until")
        note = "; ".join(filter(None, [self.cells.get("note", ""), why, f"was valid until {was}" if was else ""]))
        return replace(self, cells={**self.cells, "valid_until": (day - timedelta(days=1)).isoformat(), "note": note})


def of_row(row: TakenRow, currency: Currency) -> CleanRow:
    """The cells of a row that was understood; empty where the sheet did not say."""
    written = {
        "part": row.part,
        "supplier": row.supplier,
        "condition": row.condition,
        "price": currency.text(row.price_minor),
        "pack": str(row.pack),
        "stock": _or_empty(row.stock),
        "good_chance": _or_empty(row.good_chance),
        "deposit": currency.text(row.deposit_minor) if row.deposit_minor else "",
        "refund_share": _or_empty(row.refund_share),
        "lead_days": _or_empty(row.lead_days),
        "warranty_months": _or_empty(row.warranty_months),
        "valid_until": row.valid_until.isoformat() if row.valid_until else "",
        "currency": "" if currency.code == NO_CURRENCY else currency.code,
        "ref": row.ref,
        "note": row.note,
    }
    return CleanRow({column: cell for column, cell in written.items() if cell})


def _or_empty(value: float | None) -> str:
    return "" if value is None else str(value)


def data(rows: Iterable[CleanRow]) -> bytes:
    """The sheet's content: RFC 4180 in UTF-8, nothing in it that a spreadsheet would run."""
    file = io.StringIO(newline="")
    writer = csv.writer(file)
    writer.writerow(COLUMNS)
    written = ([row.cells.get(column, "") for column in COLUMNS] for row in rows)
    writer.writerows([text.neutral(cell) if cell else "" for cell in row] for row in written)
    return file.getvalue().encode()


def standing(content: bytes) -> Sequence[CleanRow]:
    """The rows of a clean sheet of ours. Raises ``ValueError`` for one that is not."""
    reader = csv.reader(io.StringIO(content.decode(), newline=""), strict=True)
    if tuple(next(reader, ())) != COLUMNS:
        raise ValueError("not a clean sheet")
    return [
        CleanRow({column: intern(text.plain_again(cell)) for column, cell in zip(COLUMNS, row, strict=True) if cell})
        for row in reader
    ]
