"""One row of a sheet after another: a quote, or a row set aside with its reason."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date

from optimiser.model.intake import Aside, TakenRow, Told, Why
from optimiser.model.quotes import Condition
from optimiser.read.intake import fields, lexicon
from optimiser.read.intake.grid import Cells, Line, Unfit, Value
from optimiser.read.intake.layout import ENOUGH, Layout, score
from optimiser.read.intake.lexicon import plain
from optimiser.read.intake.money_cells import SetAsideError, SheetMoney
from optimiser.read.intake.naming import Parts, Suppliers, condition_of

_MOST_NEAREST = 1000
"""Different names for which the nearest parts are worked out."""
_LONGEST_NAMED, _LONGEST_SAID, _LONGEST_NOTE = 60, 120, 1000


@dataclass
class Taking:
    """What the rows of a sheet are read with, and what has been noticed on the way."""

    layout: Layout
    money: SheetMoney
    parts: Parts
    suppliers: Suppliers
    told: Told
    supplier: str
    """The supplier of the whole sheet; rows may name another."""
    day_first: bool | None
    unread: dict[str, list[int]] = field(default_factory=dict)
    either_date: list[int] = field(default_factory=list)
    beside: list[int] = field(default_factory=list)
    condition_used: bool = False
    section: Condition | None = None
    """The condition that a line by itself gives to all rows below it."""
    other_headings: int = 0
    """The row of other headings further down; nothing below it is read by those above."""
    _nearest: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def rows(self) -> Iterator[TakenRow | Aside]:
        """Every line below the headings, and every line of text above them."""
        lines = self.layout.grid.lines
        for line in lines[: self.layout.first]:
            yield self._aside(line, Why.TEXT, "a line above the headings")
        for line in lines[self.layout.last + 1 :]:
            try:
                yield self._row(line)
            except SetAsideError as reason:
                yield self._aside(line, reason.kind, reason.reason)

    def _row(self, line: Line) -> TakenRow | Aside:
        cells = line.cells
        self._must_be_a_quote(line)
        if self.other_headings:
            raise SetAsideError(Why.SHAPE, f"it stands below other headings, those of row {self.other_headings}")
        texts = [text for index in self.layout.at.get("part", ()) if (text := self._text(cells, index))]
        ref = self._said("ref", cells)
        if not texts and not ref:
            raise SetAsideError(Why.PART, "no part is named")
        match, named = self.parts.of_row(texts, ref)
        if match is None:
            return self._unknown_part(line, named or ref)
        notes = [note for index in self.layout.at.get("note", ()) if (note := self._text(cells, index))]
        notes += [text for text in texts if text != named and plain(text) != plain(match.id)]
        state = self._said("condition", cells)
        condition = condition_of(state, [*texts, *notes], self.section or self.told.condition)
        self.condition_used = self.condition_used or not state
        price = self.money.priced(cells, line.number)
        deposit = self.money.deposit(cells, line.number)
        supplier = self._said("supplier", cells)
        if not supplier and not self.supplier:
            raise SetAsideError(Why.SUPPLIER, "no supplier is named")
        rest = _Rest(self, cells, line.number, notes)
        return TakenRow(
            sheet=self.layout.grid.sheet,
            row=line.number,
            part=match.id,
            supplier=self.suppliers.find(supplier) if supplier else self.supplier,
            condition=condition,
            price_minor=price.minor,
            pack=price.pack,
            stock=rest.stock(),
            good_chance=rest.share("good_chance"),
            deposit_minor=deposit,
            refund_share=rest.share("refund_share"),
            lead_days=rest.days(),
            warranty_months=rest.months(),
            valid_until=rest.valid_until(),
            ref=ref,
            note="; ".join(notes)[:_LONGEST_NOTE],
            written=self._said("price", cells),
            working=price.working,
        )

    def _must_be_a_quote(self, line: Line) -> None:
        """Lines of text, headings again, sums: none of them is a quote."""
        cells = line.cells
        filled = [cell for cell in cells if cell is not None]
        if len(filled) == 1 and isinstance(filled[0], str):
            named, rest, _ = fields.condition(filled[0])
            if named is not None and not rest.strip():
                self.section = named
                raise SetAsideError(Why.TEXT, f"a line of text: the rows below it are taken as {named}")
            raise SetAsideError(Why.TEXT, "a line of text")
        width = len(self.layout.texts)
        if len(cells) > width:
            if not self.layout.grid.spreadsheet:
                raise SetAsideError(Why.SHAPE, f"{len(cells)} cells where the headings are {width}")
            self.beside.append(line.number)
        for column in ("part", "price", "pack"):
            index = self.layout.one(column)
            if index is not None and index < len(cells) and isinstance(cells[index], Unfit):
                raise SetAsideError(Why.FIELD, fields.text(cells[index]))
        if filled == [text for text in self.layout.texts if text]:
            raise SetAsideError(Why.TEXT, "the headings again")
        first = next((cell for cell in filled if isinstance(cell, str)), "")
        if plain(first).rstrip(" 0123456789") in lexicon.headings().totals:
            raise SetAsideError(Why.TOTAL, "a sum or a charge, no quote")

    def _unknown_part(self, line: Line, named: str) -> Aside:
        if all(cell is None or isinstance(cell, str) for cell in line.cells) and score(line.cells) >= ENOUGH:
            self.other_headings = line.number
            raise SetAsideError(Why.SHAPE, "other headings")
        if named not in self._nearest and len(self._nearest) < _MOST_NEAREST:
            self._nearest[named] = self.parts.names.nearest(named)
        reason = f'"{named[:_LONGEST_NAMED]}" is no part of the job'
        return self._aside(line, Why.PART, reason, self._nearest.get(named, ()), named)

    def _aside(self, line: Line, kind: Why, reason: str, nearest: tuple[str, ...] = (), named: str = "") -> Aside:
        says = " | ".join(fields.text(cell) for cell in line.cells[:12] if cell is not None)
        return Aside(self.layout.grid.sheet, line.number, kind, reason, says[:_LONGEST_SAID], nearest, named)

    def _said(self, column: str, cells: Cells) -> str:
        index = self.layout.one(column)
        return "" if index is None else self._text(cells, index)

    @staticmethod
    def _text(cells: Cells, index: int) -> str:
        return fields.text(cells[index]) if index < len(cells) else ""


@dataclass
class _Rest:
    """The cells of a row that no plan falls with: what cannot be read stays as a note, and is counted."""

    taking: Taking
    cells: Cells
    row: int
    notes: list[str]

    def _value(self, column: str) -> Value:
        index = self.taking.layout.one(column)
        return self.cells[index] if index is not None and index < len(self.cells) else None

    def _times(self, column: str) -> int:
        index = self.taking.layout.one(column)
        return 1 if index is None else self.taking.layout.meanings[index].times

    def _unread(self, column: str, value: Value) -> None:
        self.notes.append(f"{column}: {fields.text(value)}")
        self.taking.unread.setdefault(column, []).append(self.row)

    def stock(self) -> int | None:
        value = self._value("stock")
        if value is None:
            return None
        known, packs = fields.stock(value)
        if not known:
            self._unread("stock", value)
        return packs

    def share(self, column: str) -> float | None:
        value = self._value(column)
        if value is None:
            return None
        read = fields.share(value)
        if read is None:
            self._unread(column, value)
        return read

    def days(self) -> int | None:
        return self._span("lead_days", fields.days)

    def months(self) -> int | None:
        return self._span("warranty_months", fields.months)

    def _span(self, column: str, read: Callable[[Value, int], int | None]) -> int | None:
        value = self._value(column)
        if value is None:
            return None
        span = read(value, self._times(column))
        if span is None or span > fields.MOST:
            self._unread(column, value)
            return None
        return span

    def valid_until(self) -> date | None:
        value = self._value("valid_until")
        if value is None:
            return None
        read, either = fields.day(value, day_first=self.taking.day_first)
        if read is None:
            self._unread("valid_until", value)
        elif either:
            self.taking.either_date.append(self.row)
        return read
