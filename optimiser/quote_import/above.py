"""Rows that leave out the name of their part because it stands in the row above, written out."""

from __future__ import annotations

from collections.abc import Mapping

from optimiser.quote_import import lexicon, prices, row_values
from optimiser.quote_import.columns import ColumnLayout
from optimiser.quote_import.grid import SheetLine, Value, cell_at
from optimiser.quote_import.lexicon import plain

AS_ABOVE = "as above"
"""What a cell, or a row without a name, is told to mean where it is about the part of the row above."""
NO_SUPPLIER = "rows without a supplier"
"""How a person speaks of them."""
_MARKS = ('"', "''", ",,", "\N{DITTO MARK}", "\N{RIGHT DOUBLE QUOTATION MARK}", '-"-')
_REPEATED = ("part", "condition", "supplier")


def names_none(row: int) -> str:
    """How a person speaks of a row without a name."""
    return f"row {row} names no part"


def write_out(sheet: ColumnLayout, words: Mapping[str, str]) -> list[int]:
    """Put the words above where a row has "ditto" or a mark for it, or a person said so, and the part where a row
    stands apart by nothing but its condition or its side. The numbers of the lines that were given a part.
    """
    told = {plain(text) for text, meaning in words.items() if meaning == AS_ABOVE}
    part, whose = sheet.one("part"), sheet.one("supplier")
    repeated = [index for column in _REPEATED for index in sheet.at.get(column, ())[:1]]
    before, changed = SheetLine(0, ()), list[int]()
    for place, line in enumerate(sheet.rows, start=sheet.last + 1):
        above = [index for index in repeated if _is_ditto(cell_at(line.cells, index))]
        goes_on = plain(names_none(line.number)) in told or _goes_on(sheet, line, before)
        if part is not None and goes_on and _is_without_name(sheet, line):
            above.append(part)
        named = part is not None and cell_at(line.cells, part) is not None
        if whose is not None and named and plain(NO_SUPPLIER) in told and cell_at(line.cells, whose) is None:
            above.append(whose)
        said = {index: cell for index in above if (cell := cell_at(before.cells, index)) is not None}
        before = line
        if said:
            width = max(len(line.cells), max(said) + 1)
            cells = [said.get(index, cell_at(line.cells, index)) for index in range(width)]
            before = sheet.grid.lines[place] = SheetLine(line.number, tuple(cells))
            changed += [line.number] if part in said else []
    return changed


def _is_ditto(cell: Value) -> bool:
    known = lexicon.headings().heeded["above"]
    return isinstance(cell, str) and (plain(cell) in known or cell.strip() in _MARKS)


def _is_without_name(sheet: ColumnLayout, line: SheetLine) -> bool:
    """Whether a line has a price, and neither a name nor a number of a part."""
    places = (index for column in ("part", "ref") for index in sheet.at.get(column, ()))
    priced = any(prices.is_amount(cell_at(line.cells, index)) for index in sheet.prices)
    return priced and all(cell_at(line.cells, index) is None for index in places)


def _goes_on(sheet: ColumnLayout, line: SheetLine, before: SheetLine) -> bool:
    """Whether a line right below another has a condition or a side of its own, by which it is another quote."""
    state, side = (_text(sheet, column, line) for column in ("condition", "side"))
    tells = row_values.condition(state)[0] is not None or plain(side) in lexicon.headings().sides
    return tells and line.number == before.number + 1


def _text(sheet: ColumnLayout, column: str, line: SheetLine) -> str:
    index = sheet.one(column)
    return "" if index is None else row_values.text_at(line.cells, index)
