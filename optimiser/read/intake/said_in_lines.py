"""What lines of text around the rows say of all prices, where it cannot be put right without a person."""

from __future__ import annotations

import re
from collections.abc import Iterator

from optimiser.model.intake import place_of
from optimiser.money import Currency
from optimiser.read.complaints import Place, shown
from optimiser.read.intake import currencies
from optimiser.read.intake.grid import Grid, Line

_LONGEST = 500
_IN = re.compile(r"\b(?:prices?|amounts?|figures?|all|preise|prix)\b[^.;]*?\bin\s+([^\s.,;:)]+)", re.IGNORECASE)
_PER = re.compile(r"\bprices?\b[^.;]*?\bper\s+(\d+)\b", re.IGNORECASE)
_OFF = re.compile(r"\b\d+(?:[.,]\d+)?\s?%\s*(?:off|discount|rabatt)\b|\bless\s+\d+(?:[.,]\d+)?\s?%", re.IGNORECASE)


def doubts(grid: Grid, currency: Currency, place: Place) -> None:
    """Note every line that puts all prices in another currency or unit, for so many pieces, or less a discount."""
    for line, text in _lines(grid):
        at = place.at(place_of(grid.sheet, line.number))
        money = next((found[1] for found in _IN.finditer(text) if _is_other(found[1], currency)), "")
        if money:
            mend = "ask for them in it, or take the line out of the sheet if it is not so"
            at.complain("currency", found=shown(text), expected=f"prices in {currency.code}", mend=mend)
        elif found := _PER.search(text):
            mend = f'put {found[1]} into a column called "per", and take the line out'
            at.complain("pack", found=shown(text), expected="what each price is for in its row", mend=mend)
        elif _OFF.search(text):
            mend = "put the prices that you will pay into the sheet, and take the line out"
            at.complain("price", found=shown(text), expected="prices with every discount taken off", mend=mend)


def _lines(grid: Grid) -> Iterator[tuple[Line, str]]:
    for line in grid.lines:
        texts = [cell for cell in line.cells if cell is not None]
        if len(texts) == 1 and isinstance(texts[0], str) and len(texts[0]) < _LONGEST:
            yield line, texts[0]


def _is_other(word: str, currency: Currency) -> bool:
    if word.casefold() in currencies.SMALL:
        return True
    return currencies.is_mark(word) and not currencies.fits(word, currency)
