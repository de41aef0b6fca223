"""Cells and lines of a sheet put into the words that a person says they stand for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeAlias

from optimiser.job_folder.quote_sheets import IGNORE
from optimiser.quote_import.columns import ENOUGH, key, score
from optimiser.quote_import.grid import SheetLine
from optimiser.quote_import.lexicon import plain

Met: TypeAlias = dict[str, set[int]]
"""Words of theirs, plain, with the numbers of the lines in which they stand."""


def said_in_words(lines: Sequence[SheetLine], words: Mapping[str, str]) -> tuple[list[SheetLine], Met]:
    """The lines with every cell that a person gave a meaning to in the words that it stands for, and the words met.

    A line whose first words mean nothing is left out.
    """
    meant = {key(text): meaning for text, meaning in words.items()}
    met: Met = {}
    said = []
    for line in lines:
        cells = list(line.cells)
        first = True
        gone = False
        of_headings = score(line.cells) >= ENOUGH
        for index, cell in enumerate(cells):
            if isinstance(cell, str):
                meaning = meant.get(plain(cell))
                if meaning is not None and not (of_headings and meaning == IGNORE):
                    met.setdefault(plain(cell), set()).add(line.number)
                    cells[index] = None if meaning == IGNORE else meaning
                    gone = gone or (first and meaning == IGNORE)
            first = first and cell is None
        if not gone and any(cell is not None for cell in cells):
            said.append(SheetLine(line.number, tuple(cells)))
    return said, met
