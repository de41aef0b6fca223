"""Sheets that lie on their side, or say of one part after another what it is, set upright: a line for each part."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace

from optimiser.quote_import import likely, prices
from optimiser.quote_import.columns import ENOUGH, score
from optimiser.sheet_files import files
from optimiser.sheet_files.grid import Grid, SheetLine, Value, cell_at, text_alone

_PART = "Part"
"""What stands above the names of the parts, where nothing did."""
_FEWEST, _HALF = 2, 0.5
_MOST = 60
"""Columns that a part may have; lines of a sheet that lies on its side."""


def set_upright(grid: Grid, is_part: Callable[[str], bool], reader: files.Reader) -> tuple[Grid, str]:
    """The sheet as others are, and what was done to it; nothing where a person has marked lines or columns of it."""
    if grid.flags or grid.hidden_columns or grid.notes:
        return grid, ""
    if grid.spreadsheet and all(len(line.cells) == 1 for line in grid.lines):
        lines = [SheetLine(line.number, tuple(files.in_cells(text_alone(line), reader))) for line in grid.lines]
        return replace(grid, lines=lines), ""
    if lines := _out_of_blocks(grid.lines):
        return replace(grid, lines=lines), "the lines about each part, one below the other, were read as a row"
    if lines := _turned(grid.lines, is_part):
        return replace(
            grid, lines=lines
        ), "the sheet lies on its side: its columns were read as rows, and are counted so"
    return grid, ""


def _out_of_blocks(lines: Sequence[SheetLine]) -> list[SheetLine]:
    """The lines with a row for each run of labelled lines that begins with the same label; none where none does."""
    labels = {line.number: label for line in lines if (label := _label(line))}
    often = Counter(labels.values())
    columns = [label for label, times in often.items() if times >= _FEWEST]
    if len(columns) > _MOST or score(tuple(columns)) < ENOUGH:
        return []
    made: list[SheetLine] = []
    row = dict[str, Value]()
    place = -1
    for line in lines:
        label = labels.get(line.number, "")
        if label not in columns or (place < 0 and label != columns[0]):
            made.append(line)
            continue
        if label == columns[0]:
            made += [SheetLine(line.number, tuple(columns))] if place < 0 else []
            row, place = {}, len(made)
            made.append(line)
        if label in row:
            return []  # two prices of one part, and nothing tells what each is for
        row[label] = line.cells[-1]
        made[place] = SheetLine(made[place].number, tuple(map(row.get, columns)))
    return made


def _label(line: SheetLine) -> str:
    """The label of a line of it and what it labels."""
    filled = [cell for cell in line.cells if cell is not None]
    first = filled[0] if len(filled) == _FEWEST else None
    return first.rstrip(" :") if isinstance(first, str) and not prices.is_amount(first) else ""


def _turned(lines: Sequence[SheetLine], is_part: Callable[[str], bool]) -> list[SheetLine]:
    """The lines with the table in them turned, if its headings stand below each other; none where they do not."""
    if len(lines) > _MOST:
        return []
    table = [line for line in lines if sum(cell is not None for cell in line.cells) > 1]
    heads = tuple(cell_at(line.cells, 0) for line in table)
    beside = [cell for line in table for cell in line.cells[1:]]
    names = [line for line in table if any(isinstance(cell, str) and is_part(cell) for cell in line.cells[1:])]
    own = max((score(line.cells) for line in lines), default=0)
    if len(names) != 1 or not beside or score(heads) <= max(own, ENOUGH - 1):
        return []
    if likely.like_prices([cell for cell in heads if cell is not None]) >= _HALF:
        return []
    top = table[0].number
    width = max(len(line.cells) for line in table)
    turned = [
        SheetLine(top + index, tuple(_named(line, index, names[0]) for line in table))
        for index in range(width)
        if any(cell_at(line.cells, index) is not None for line in table)
    ]
    more = max(0, turned[-1].number - table[-1].number)
    above = [line for line in lines if line.number < top]
    below = [SheetLine(line.number + more, line.cells) for line in lines if line.number > top and line not in table]
    return [*above, *turned, *below]


def _named(line: SheetLine, index: int, names: SheetLine) -> Value:
    cell = cell_at(line.cells, index)
    return _PART if line is names and not index and cell is None else cell
