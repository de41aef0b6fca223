"""What there is to say about a sheet that was understood: each thing once, with how often and where first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace

from optimiser.job_folder.problems import listed, shown
from optimiser.model.imports import Aside, Heading, How, TakenRow, Told
from optimiser.quote_import import row_values
from optimiser.quote_import.columns import ColumnLayout, key
from optimiser.quote_import.lexicon import plain
from optimiser.quote_import.matching import Match
from optimiser.quote_import.rows import SERVICE, Taking
from optimiser.sheet_files.grid import Cells, Opened, cell_at

_MOST_LISTED = 20
_SIGNS = {".": "a point", ",": "a comma"}


def of_reading(sheets: Sequence[ColumnLayout], decimal: str) -> Iterator[str]:
    """Where the headings stand, and which sign stands before the decimals where that was settled for the sheet."""
    headed = [each.place for each in sheets if not each.is_lettered]
    bare = [each.place for each in sheets if each.is_lettered]
    yield from (f"the headings stand in {listed(headed)}" for _ in headed[:1])
    yield from (f"no headings stand above {listed(bare)}: columns were taken by their cells" for _ in bare[:1])
    if decimal:
        yield f"amounts in text have {_SIGNS[decimal]} before the decimals"


def of_formulas(opened: Opened) -> Iterator[str]:
    """How many cells are results of formulas."""
    count = sum(grid.formulas for grid in opened.grids)
    if count:
        are = "cell is" if count == 1 else "cells are"
        yield f"{count} {are} the stored result of a formula; none was worked out again"


def headings(sheets: Sequence[ColumnLayout], kept: Told, own: Told) -> Iterator[Heading]:
    """Every heading, those that were settled on an earlier sheet or are the job's own words named as such."""
    names = {key(name): How.KEPT for name in kept.columns} | {key(name): How.OWN for name in own.columns}
    for heading in (heading for each in sheets for heading in each.headings()):
        how = names.get(key(heading.text)) if heading.how is How.TOLD else None
        yield replace(heading, how=how) if how else heading


def whose(by_file: str, supplier: str, kept: Told, touched: Touched) -> Iterator[str]:
    """That only the file's name says whose sheet it is; what was settled on an earlier one, and the rows it touched."""
    if by_file:
        yield f"only the file's name says whose sheet it is: {by_file}; if that is not so, say --supplier THEIR-NAME"
    if kept == Told():
        return
    said = [f"{what} ({rows_in_words(rows)})" if rows else what for what, rows in touched.by(kept)]
    yield f"settled on an earlier sheet of {supplier} and used again: {listed(said)}"


def shops(by_sheet: Mapping[str, Sequence[str]]) -> Iterator[str]:
    """The shops that stood side by side."""
    for names in filter(None, by_sheet.values()):
        yield f"{listed(names)} stand side by side above the prices: each price was taken as the offer of its shop"


def as_above(by_sheet: Mapping[str, Sequence[int]]) -> Iterator[str]:
    """The rows that were given the part of the row above."""
    for sheet, numbers in by_sheet.items():
        if numbers:
            of_sheet = f" of sheet {sheet}" if sheet else ""
            yield f"taken to be about the part of the row above it: {rows_in_words(numbers)}{of_sheet}"


def cautions(takings: Sequence[Taking], rows: Sequence[TakenRow], to_pay: Collection[str]) -> Iterator[str]:
    """Everything that was read by a rule rather than as it stands."""
    for taking in takings:
        yield from _of_headings(taking.layout)
        yield from _of_money(taking)
        yield from _of_cells(taking)
    if takings and (line := takings[0].suppliers.by_line):
        yield f"{shown(line)} above the headings was taken for the supplier's name"
    if takings:
        yield from _of_names("part", takings[0].parts.close)
        yield from _of_names("supplier", takings[0].suppliers.close)
        used = {row.supplier for row in rows}
        new = [name for name in takings[0].suppliers.new if name in used]
        without = [name for name in new if name not in to_pay]
        if without:
            yield f"not in suppliers.csv, so without postage and minimum order: {listed(without)}"
        if told := [name for name in new if name in to_pay]:
            yield f"not in suppliers.csv but for the postage told, so without minimum order: {listed(told)}"
    yield from _of_rows(rows)


def services(aside: Sequence[Aside]) -> Iterator[str]:
    """The rows that are no parts."""
    if numbers := {row.row for row in aside if row.reason == SERVICE}:
        yield f"left out as work, or what is lent, and no part: {rows_in_words(numbers)}"


def headings_of(sheet: ColumnLayout) -> str:
    """The headings as a list to read."""
    return listed(text for text in sheet.texts if text)


def _of_headings(sheet: ColumnLayout) -> Iterator[str]:
    for heading in sheet.headings():
        if heading.column and heading.how is How.CLOSE:
            yield f"the heading {shown(heading.text)} was taken for {heading.column} ({heading.likeness:.0f} % alike)"
        elif heading.column in ("price", "supplier") and heading.how is How.CELLS:
            yield f"the heading {shown(heading.text)} was taken for {heading.column} by what stands in its cells"
    for index in sheet.retail:
        taken = shown(sheet.texts[sheet.prices[0]])
        yield f"the price is the one under {taken}, and not the one under {shown(sheet.texts[index])}"


def _of_money(taking: Taking) -> Iterator[str]:
    money, where = taking.money, _sheet(taking.layout)
    if money.unsaid:
        yield f"nothing says whether the prices{where} have the tax in them: they were taken as they stand"
    if money.told.ex_tax and taking.layout.one("price") is not None and money.of_heading() == "with":
        yield f"the heading says that the prices{where} have the tax in them: none was added"
    if any(taking.layout.meanings[index].small for index in taking.layout.prices):
        yield f"the prices{where} are in the smallest coin, as the sheet says"
    for rate, count in money.added.items():
        yield f"{rate} % tax was added to {count} price{'' if count == 1 else 's'}{where}"
    if money.rounded:
        yield f"{len(money.rounded)} amounts{where} were rounded half up to the smallest coin, {_first(money.rounded)}"


def _of_cells(taking: Taking) -> Iterator[str]:
    where = _sheet(taking.layout)
    for column, numbers in taking.unread.items():
        yield f"{len(numbers)} cells for {column}{where} could not be read and are kept as notes, {_first(numbers)}"
    if taking.either_date:
        yield (
            f"{len(taking.either_date)} dates{where} can be read with the day or the month first: the earlier one was"
            f" taken, {_first(taking.either_date)}"
        )


def _of_names(what: str, close: dict[str, Match]) -> Iterator[str]:
    for count, (text, match) in enumerate(close.items()):
        if count == _MOST_LISTED:
            yield f"{len(close) - count} more names of a {what} were matched by likeness"
            return
        why = "another name of it" if match.how is How.SYNONYM else f"{match.likeness:.0f} % alike"
        yield f"{shown(text)} was taken for the {what} {match.id} ({why})"


def _of_rows(rows: Sequence[TakenRow]) -> Iterator[str]:
    alike = Counter(row.content for row in rows)
    same = [key for key, times in alike.items() if times > 1]
    if same:
        yield f"{len(same)} rows stand more than once, alike in everything: all of them stay as quotes"
    prices: dict[tuple[str, str, str, int, str], set[int]] = {}
    for row in rows:
        prices.setdefault(row.key, set()).add(row.price_minor)
    twice = [key for key, asked in prices.items() if len(asked) > 1]
    if twice:
        supplier, part, condition, _, _ = twice[0]
        yield f"{len(twice)} quotes have two prices in this sheet, {part} {condition} from {supplier} first: both stay"


def _sheet(sheet: ColumnLayout) -> str:
    return f" of sheet {sheet.grid.sheet}" if sheet.grid.sheet else ""


def _first(rows: Sequence[int]) -> str:
    return f"first in row {rows[0]}"


_MOST_RUNS = 6
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
        return {number for taking, number, cells in self._lines if plain(name) in _named_in(taking, cells)}


def rows_in_words(numbers: Collection[int]) -> str:
    """Rows by their numbers: "row 3", "rows 2 to 5, 9"; nothing for none."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1] = [runs[-1][0], number]
        else:
            runs.append([number])
    told = [" to ".join(map(str, run)) for run in runs[:_MOST_RUNS]]
    told += ["and more"] if len(runs) > _MOST_RUNS else []
    return f"row{'' if len(numbers) == 1 else 's'} {', '.join(told)}" if told else ""


def _named_in(taking: Taking, cells: Cells) -> set[str]:
    places = [index for column in ("part", "ref", "supplier") for index in taking.layout.at.get(column, ())]
    return {plain(row_values.text_at(cells, index)) for index in places}
