"""What every kind of sheet becomes: a bounded grid of cells, each with its place."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from decimal import Context, Decimal, InvalidOperation
from typing import NamedTuple, TypeAlias

from optimiser.model.imports import place_of

MOST_LINES = 250_000
"""Lines with anything in them, of one file."""
MOST_COLUMNS = 256
"""Columns with anything in them."""
MOST_CELLS = 2_500_000
"""Cells of one file, empty ones inside a line included."""
MOST_SIGNS = 32_767
"""Signs in a cell: what spreadsheets allow themselves. A longer cell cannot be used."""
_MOST_FILLED = 2_000_000
# what a spreadsheet keeps of a number: the digits beyond are noise of binary fractions
_DIGITS = Context(prec=15)


class RefusedError(Exception):
    """The file cannot be read: what was found, what is expected, how to mend it."""

    def __init__(self, found: str, expected: str, mend: str, where: str = "") -> None:
        self.found, self.expected, self.mend, self.where = found, expected, mend, where
        super().__init__(found)


class UnfitCell(NamedTuple):
    """A cell that holds nothing to be used, and why."""

    reason: str


class Marked(NamedTuple):
    """A number that the spreadsheet shows with a currency: a sign or a code."""

    number: Decimal
    currency: str


Value: TypeAlias = str | Decimal | date | Marked | UnfitCell | None
Cells: TypeAlias = tuple[Value, ...]


class SheetLine(NamedTuple):
    """One line of a sheet that is not empty, with its number as the spreadsheet or the text file counts it."""

    number: int
    cells: Cells


class Merge(NamedTuple):
    """Cells drawn as one: first and last line, first and last column (from 0)."""

    top: int
    bottom: int
    left: int
    right: int


@dataclass
class Grid:
    """One sheet. ``formulas`` counts the cells whose stored result was taken."""

    sheet: str
    lines: list[SheetLine] = field(default_factory=list)
    merges: list[Merge] = field(default_factory=list)
    formulas: int = 0
    spreadsheet: bool = True
    flags: dict[int, str] = field(default_factory=dict)
    """Lines that a person has marked without words: "hidden", "struck through"."""
    hidden_columns: set[int] = field(default_factory=set)
    """Columns, from 0, that are not shown."""
    as_written: dict[int, str] = field(default_factory=dict)
    """Lines of one text as they stood before a person's words took its place."""
    notes: list[tuple[int, str]] = field(default_factory=list)
    """What is pinned to cells, with the number of the line."""
    price_notes: list[tuple[int, str]] = field(default_factory=list)
    """Footnotes to amounts, with the number of the amount's line."""

    def place(self, line: SheetLine) -> str:
        """A line's place in words."""
        return place_of(self.sheet, line.number)


@dataclass
class Opened:
    """All sheets of a file that can be seen, and what there is to say about the file."""

    grids: list[Grid]
    remarks: list[str] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)


def hide(grid: Grid, first: int, last: int) -> None:
    """Mark columns, from 0, as not shown."""
    grid.hidden_columns.update(range(max(0, first), min(last + 1, MOST_COLUMNS)))


class Counter:
    """Holds a file to its limits while it is read. Raises ``RefusedError`` at the first one that it passes."""

    def __init__(self) -> None:
        self._lines = self._cells = 0

    def line(self, number: int, cells: list[Value]) -> SheetLine | None:
        """The line without the empty cells at its end; None where nothing is left."""
        while cells and cells[-1] is None:
            cells.pop()
        self._cells += len(cells)
        if self._cells > MOST_CELLS:
            raise too_much(f"more than {MOST_CELLS} cells", f"at most {MOST_CELLS} cells")
        if not cells:
            return None
        if len(cells) > MOST_COLUMNS:
            found = f"{len(cells)} columns in row {number}"
            raise too_much(found, f"at most {MOST_COLUMNS} columns")
        self._lines += 1
        if self._lines > MOST_LINES:
            raise too_much(f"more than {MOST_LINES} lines", f"at most {MOST_LINES} lines in a file")
        return SheetLine(number, tuple(cells))


def too_much(found: str, expected: str) -> RefusedError:
    """A file beyond a limit."""
    return RefusedError(found, expected, "keep the columns and the lines that the job needs, and save it again")


def number(written: str) -> Decimal | UnfitCell:
    """A number as a spreadsheet stores it, to the fifteen digits that it means."""
    try:
        value = Decimal(written)
    except InvalidOperation:
        return UnfitCell("a number that is none")
    if not value.is_finite() or (value and not -12 <= value.adjusted() <= 15):
        return UnfitCell("a number beyond all bounds")
    return _DIGITS.plus(value) if len(written) > 15 else value


def text(written: str) -> str | UnfitCell | None:
    """A cell's text on one line, without signs that cannot be seen; None where nothing is left."""
    if len(written) > MOST_SIGNS:
        return UnfitCell(f"a cell of more than {MOST_SIGNS} signs")
    if not written.isprintable():
        written = "".join(c if c.isprintable() else " " if c.isspace() else "" for c in written)
    return " ".join(written.split()) or None


def filled_down(grid: Grid) -> None:
    """Give every line of cells merged downward what their first line says; beside each other they say it once."""
    numbers = [line.number for line in grid.lines]
    by_number = {number: index for index, number in enumerate(numbers)}
    filled: dict[int, list[Value]] = {}
    left = _MOST_FILLED
    for merge in grid.merges:
        first = by_number.get(merge.top)
        above: Sequence[Value] = () if first is None else filled.get(first, grid.lines[first].cells)
        if merge.bottom == merge.top or first is None or merge.left >= len(above):
            continue
        value = above[merge.left]
        for index in _below(numbers, first, merge.bottom):
            left -= 1
            if left < 0:
                raise too_much("more merged cells than a sheet of quotes has", f"at most {_MOST_FILLED} merged cells")
            cells = filled.setdefault(index, list(grid.lines[index].cells))
            cells += [None] * (merge.left + 1 - len(cells))
            cells[merge.left] = value
    for index, cells in filled.items():
        grid.lines[index] = SheetLine(grid.lines[index].number, tuple(cells))


def _below(numbers: list[int], first: int, bottom: int) -> Iterator[int]:
    for index in range(first + 1, len(numbers)):
        if not numbers[first] < numbers[index] <= bottom:
            return
        yield index


def spread(grid: Grid, line: SheetLine) -> Cells:
    """The line as a heading: what stands above several columns, merged, is said of each of them."""
    cells = list(line.cells)
    for merge in grid.merges:
        if merge.top <= line.number <= merge.bottom and merge.left < len(cells) and merge.right < MOST_COLUMNS:
            cells += [None] * (merge.right + 1 - len(cells))
            cells[merge.left : merge.right + 1] = [cells[merge.left]] * (merge.right + 1 - merge.left)
    return tuple(cells)


def cell_at(cells: Cells, index: int) -> Value:
    """The cell of a line; None beyond its end."""
    return cells[index] if index < len(cells) else None


def text_alone(line: SheetLine) -> str:
    """What a line of nothing but one text says; nothing for any other."""
    filled = [cell for cell in line.cells if cell is not None]
    return filled[0] if len(filled) == 1 and isinstance(filled[0], str) else ""


def words(cells: Iterable[Value]) -> list[str]:
    """The texts among the cells."""
    return [cell for cell in cells if isinstance(cell, str)]
