"""What columns under unknown headings are likeliest to be, by their cells: named in a mend, never taken for it."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from optimiser.money import Currency
from optimiser.quote_import import lexicon, prices, row_values
from optimiser.quote_import.headings import meaning
from optimiser.quote_import.prices import AsWritten
from optimiser.sheet_files.grid import Grid, SheetLine, Value, text_alone

_LOOKED_AT = 40
_HALF = 0.5
_MOST_WORDS = 3
"""Words of a heading above a single price."""


def like_prices(cells: Sequence[Value]) -> float:
    """How much cells look like prices: with a currency or decimals most, any number a little."""
    read = [prices.price(cell) for cell in cells]
    marks = [2.0 if each.currency or prices.has_decimals(each) else 1.0 for each in read if isinstance(each, AsWritten)]
    return sum(marks) / max(1, len(cells))


def like_names(cells: Sequence[Value]) -> float:
    """How much cells look like the names of parts: long texts that differ from row to row."""
    texts = [cell for cell in cells if isinstance(cell, str) and not prices.is_amount(cell)]
    return len(set(texts)) * sum(map(len, texts)) / max(1, len(cells)) ** 2


def below(lines: Sequence[SheetLine], index: int) -> list[Value]:
    """The cells of a column that are not empty, of lines with more than one cell where there are any."""
    looked_at = lines[:_LOOKED_AT]
    rows = [line for line in looked_at if sum(cell is not None for cell in line.cells) > 1] or looked_at
    return [cell for line in rows if index < len(line.cells) and (cell := line.cells[index]) is not None]


def columns(grid: Grid, is_part: Callable[[str], bool]) -> dict[str, str]:
    """By the texts of the line that is likeliest to hold the headings: the part, the price, the condition.

    ``is_part``: whether a text names a part of the job. Empty where no line of texts stands above figures.
    """
    for place, line in enumerate(grid.lines[:_LOOKED_AT]):
        texts = [cell for cell in line.cells if isinstance(cell, str)]
        under = grid.lines[place + 1 :]
        if len(texts) < 2 or len(texts) < sum(cell is not None for cell in line.cells) or any(map(is_part, texts)):
            continue
        if not any(prices.is_amount(cell) for line in under[:1] for cell in line.cells):
            continue
        cells = {index: below(under, index) for index, cell in enumerate(line.cells) if cell is not None}
        is_old = {index: _says_before(str(line.cells[index])) for index in cells}
        like = {index: like_prices(cells[index]) for index in cells}
        price = max(cells, key=lambda index: (like[index] > 0, not is_old[index], like[index]))
        rest = [index for index in cells if index != price]
        named = {at: sum(isinstance(cell, str) and is_part(cell) for cell in cells[at]) for at in rest}
        part = max(rest, key=lambda index: (named[index], like_names(cells[index])))
        is_sentence = len(cells[price]) < 2 and any(len(text.split()) > _MOST_WORDS for text in texts)
        if like_prices(cells[price]) >= _HALF and like_names(cells[part]) and not is_sentence:
            found = {str(line.cells[part]): "part", str(line.cells[price]): "price"}
            of_words = (at for at in rest if at != part and like_prices(cells[at]) < _HALF)
            worded = [at for at in of_words if like_names(cells[at])]
            states = [
                index
                for index in worded
                if all(row_values.condition(row_values.text(cell))[0] for cell in cells[index])
            ] or (
                []
                if _names_condition(grid)
                else [at for at in worded if not meaning(str(line.cells[at]), Currency.of("XXX")).column]
            )
            return {**found, **{str(line.cells[at]): "condition" for at in states[:1]}}
    return {}


def _says_before(heading: str) -> bool:
    """Whether a heading is that of what was asked once: "Was", "Statt"."""
    return not lexicon.headings().prices["was"].isdisjoint(lexicon.plain(heading).split())


def _names_condition(grid: Grid) -> bool:
    """Whether a line of text says what the parts are."""
    return any(row_values.condition(text_alone(line), strong_only=True)[0] is not None for line in grid.lines)
