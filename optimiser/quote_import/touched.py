"""Which rows each thing had a part in that was settled on an earlier sheet."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence

from optimiser.job_folder.problems import shown
from optimiser.model.imports import TakenRow, Told
from optimiser.quote_import import row_values
from optimiser.quote_import.columns import key
from optimiser.quote_import.grid import Cells, cell_at
from optimiser.quote_import.lexicon import plain
from optimiser.quote_import.rows import Taking

_MOST = 6
"""Runs of rows that are listed."""


class Touched:
    """The rows of one file that became quotes, and the lines in which words of theirs were met."""

    def __init__(self, takings: Sequence[Taking], rows: Sequence[TakenRow], words: Mapping[str, set[int]]) -> None:
        taken = {(row.sheet, row.row) for row in rows}
        self._takings, self._words = takings, words
        self._lines = [
            (taking, line.number, line.cells)
            for taking in takings
            for line in taking.layout.grid.lines
            if (taking.layout.grid.sheet, line.number) in taken
        ]

    def by(self, told: Told) -> Iterator[tuple[str, set[int]]]:
        """Each thing that was settled, in words, and the rows that it touched; the decimal sign is that of all."""
        for heading, column in told.columns.items():
            yield f"{shown(heading)} is {column}", self._under(heading)
        if told.decimal:
            yield f"the decimal sign is {'a point' if told.decimal == '.' else 'a comma'}", set()
        if told.ex_tax:
            yield f"the tax to add is {told.ex_tax}", {row for taking in self._takings for row in taking.money.rated}
        if told.condition:
            yield f"the condition is {told.condition}", {row for taking in self._takings for row in taking.as_told}
        for name, each in (*told.parts.items(), *told.suppliers.items()):
            yield f"{shown(name)} is {each}", self._called(name)
        for word, each in told.words.items():
            yield f"{shown(word)} is {each}", self._words.get(plain(word), set())
        for name, count in told.packs.items():
            yield f"{shown(name)} is a pack of {count}", self._called(name) | self._under(name)

    def _under(self, heading: str) -> set[int]:
        """Rows with something under a heading."""
        found = set()
        for taking, number, cells in self._lines:
            places = (index for index, text in enumerate(taking.layout.texts) if key(text) == key(heading))
            if any(cell_at(cells, index) is not None for index in places):
                found.add(number)
        return found

    def _called(self, name: str) -> set[int]:
        """Rows that name a part or a supplier so."""
        return {number for taking, number, cells in self._lines if plain(name) in _names(taking, cells)}


def rows_in_words(numbers: Collection[int]) -> str:
    """Rows by their numbers: "row 3", "rows 2 to 5, 9"; nothing for none."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1] = [runs[-1][0], number]
        else:
            runs.append([number])
    told = [" to ".join(map(str, run)) for run in runs[:_MOST]]
    told += ["and more"] if len(runs) > _MOST else []
    return f"row{'' if len(numbers) == 1 else 's'} {', '.join(told)}" if told else ""


def _names(taking: Taking, cells: Cells) -> set[str]:
    places = [index for column in ("part", "ref", "supplier") for index in taking.layout.at.get(column, ())]
    return {plain(row_values.text_at(cells, index)) for index in places}
