"""Notes pinned to the cells of a row, read as the remarks of that row."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping

from optimiser.job_folder.quote_sheets import IGNORE
from optimiser.model.imports import How
from optimiser.quote_import.columns import ColumnLayout
from optimiser.quote_import.headings import Meaning
from optimiser.quote_import.lexicon import plain
from optimiser.sheet_files.grid import Grid, SheetLine

HEADING = "notes pinned to cells"


def in_words(grid: Grid, words: Mapping[str, str]) -> None:
    """Put notes into the words that a person gave them a meaning in, and leave out those that mean nothing."""
    meant = {plain(text): meaning for text, meaning in words.items()}
    said = ((number, meant.get(plain(text), text)) for number, text in grid.notes)
    grid.notes = [(number, text) for number, text in said if text != IGNORE]


def beside_rows(sheet: ColumnLayout) -> None:
    """Put the notes of rows into columns of remarks behind all others; those above the rows stay notes."""
    of_rows: dict[int, list[str]] = defaultdict(list)
    below = {line.number for line in sheet.rows}
    for number, text in sheet.grid.notes:
        if number in below:
            of_rows[number].append(text)
    if not of_rows:
        return
    width = max(len(sheet.texts), *(len(line.cells) for line in sheet.rows))
    most = max(map(len, of_rows.values()))
    missing = width - len(sheet.texts)
    sheet.texts += [""] * missing + [HEADING] * most
    sheet.meanings += [Meaning("")] * missing + [Meaning("note", How.CELLS)] * most
    for place, line in enumerate(sheet.grid.lines):
        if line.number in of_rows:
            padded = (*line.cells, *(None for _ in range(width - len(line.cells))))
            sheet.grid.lines[place] = SheetLine(line.number, (*padded, *of_rows[line.number]))
    sheet.grid.notes = [(number, text) for number, text in sheet.grid.notes if number not in below]
