"""Lines of text that say whether the tax is in the prices: of all of them, or of those below the line."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from itertools import groupby, islice

from optimiser.quote_import import heeding, lexicon, numbers, prices, taxes
from optimiser.quote_import.columns import ColumnLayout
from optimiser.quote_import.grid import Grid, SheetLine, Value, cell_at
from optimiser.quote_import.headings import PRICES
from optimiser.quote_import.lexicon import plain

_MOST_TEXTS = 40
"""Cells of a line of text that are looked at."""
_LONGEST = 500
_MOST_BESIDES = 8
_SENTENCE = re.compile(r"(?<=[.;!])\s+(?=[^\W_])")
_BREAK = re.compile(
    r"[.;,:!]+\s+|\s(?:[-/\N{EN DASH}\N{EM DASH}+]|plus|but|aber|mais|maar|pero|ma|ale|men|mas)\s"
    r"|\s(?P<both>[&]|and|und|et|en|y|e|i|och|og)\s",
    re.IGNORECASE,
)
"""Where a text may go on about something else; ``both`` where the same may be said of it."""


def parted(lines: Iterable[SheetLine]) -> list[SheetLine]:
    """The lines, with one that goes on about something else that must be heeded made into two.

    "Prices include VAT. Carriage extra." would else be followed for the tax, and the carriage passed over; and so would
    be what stands behind "Valid 14 days." once a person has said what that means.
    """
    return [SheetLine(line.number, cells) for line in lines for cells in _parts(line)]


def _parts(line: SheetLine) -> list[tuple[Value, ...]]:
    filled = [(index, cell) for index, cell in enumerate(line.cells) if cell is not None]
    index, text = filled[0] if len(filled) == 1 else (0, None)
    if not isinstance(text, str) or len(text) > _LONGEST:
        return [line.cells]
    texts = _apart(text) if taxes.in_line(text) else _sentences(text)
    return [(*line.cells[:index], each) for each in texts] if len(texts) > 1 else [line.cells]


def _sentences(text: str) -> list[str]:
    """The sentences of a text, where they must be heeded for different things."""
    said = [each for each in _SENTENCE.split(text) if each]
    kinds = list(map(heeding.kind, said)) if 1 < len(said) <= _MOST_BESIDES else []
    return said if len({*kinds} - {""}) > 1 else [text]


def _apart(text: str) -> list[str]:
    """A text about the tax without what it says besides that must be heeded, and each of these."""
    mark, left, apart = taxes.in_line(text), text, list[str]()
    for rest, may_be_in_too in islice(_besides(text), _MOST_BESIDES):
        about = heeding.kind(numbers.PERCENT.sub(" ", rest))
        is_price = lexicon.headings().columns.get(plain(rest)) in PRICES
        is_in_too = may_be_in_too and mark == "with" and about == "postage"
        without = left.replace(rest, "", 1)
        if about and rest in left and not is_price and not is_in_too and taxes.in_line(without) == mark:
            left = without
            apart.append(rest)
    return [left.strip(" .,;-"), *apart] if apart else [text]


def _besides(text: str) -> Iterator[tuple[str, bool]]:
    """The pieces of a text without a word for the tax, and whether what stands before may be said of them too.

    The longest first, then less what stands at either end, which may belong to the tax: "Carriage extra. Prices inc.".
    """
    breaks = [(0, 0, False), *((*found.span(), bool(found["both"])) for found in _BREAK.finditer(text))]
    ends = [*(start for start, _, _ in breaks[1:]), len(text)]
    pieces = [(start, end, both) for (_, start, both), end in zip(breaks, ends, strict=True)]
    for of_tax, run in groupby(pieces, lambda piece: taxes.names_tax(plain(text[piece[0] : piece[1]]).split())):
        if not of_tax:
            whole = list(run)
            for several in filter(None, (whole, whole[:-1], whole[1:])):
                yield text[several[0][0] : several[-1][1]], several[0][2]


def in_lines(sheet: ColumnLayout, elsewhere: Sequence[SheetLine]) -> tuple[taxes.Mark, Decimal | None, set[str]]:
    """What lines of text say of the tax in all prices, the rate if one is named, and the lines.

    Both at once say nothing. Of the sheets without quotes (``elsewhere``) a line counts that says it is in the prices.
    """
    marks = {text: mark for _, text, mark in _said(of_text(sheet), sheet.grid)}
    marks |= {text: mark for _, text, mark in _said(elsewhere) if mark == "with"}
    said, rates = set(marks.values()), {rate for text in marks for rate in _rates(text)}
    if len(said) != 1 or any(each.tax not in ("", *said) for each in sheet.meanings if each.column in PRICES):
        return "", None, set()
    return said.pop(), rates.pop() if len(rates) == 1 else None, set(marks)


def by_sections(sheet: ColumnLayout) -> dict[int, tuple[str, taxes.Mark]]:
    """Lines of text by their numbers that say of the tax in the prices below them what others do not say of theirs.

    Empty unless prices stand below each of them and none above the first.
    """
    found = {number: (text, mark) for number, text, mark in _said(of_text(sheet), sheet.grid)}
    index = sheet.prices[0] if sheet.prices else 0
    priced = [
        line.number for line in sheet.rows if line.number not in found and prices.is_amount(cell_at(line.cells, index))
    ]
    if len({mark for _, mark in found.values()}) < 2 or not priced or min(found) > min(priced):
        return {}
    below = {max(start for start in found if start < row) for row in priced}
    return found if below == found.keys() else {}


def of_text(sheet: ColumnLayout) -> list[SheetLine]:
    """The lines above the headings, and those of one cell below them."""
    lines = sheet.grid.lines
    return [each for each in lines if each.number < sheet.number or sum(c is not None for c in each.cells) == 1]


def _said(lines: Sequence[SheetLine], grid: Grid | None = None) -> Iterator[tuple[int, str, taxes.Mark]]:
    """What the texts in lines say of the tax in all prices, with the numbers of the lines.

    Where a person's word for a line says nothing of it, the line as it was written in the sheet still counts.
    """
    for line in lines:
        texts = [cell for cell in line.cells[:_MOST_TEXTS] if isinstance(cell, str)]
        before = grid.as_written.get(line.number, "") if grid is not None else ""
        for some in (texts, [before]):
            if found := [(line.number, text, mark) for text in some if (mark := _mark(text))]:
                yield from found
                break


def _mark(text: str) -> taxes.Mark:
    mark = taxes.in_line(text) if len(text) < 500 and not heeding.is_tax_of_some(text) else ""
    return mark if mark != "inside" else ""


def _rates(text: str) -> set[Decimal]:
    found = (numbers.percent(word + "%") for word in numbers.PERCENT.findall(text))
    return {rate for rate in found if rate is not None}
