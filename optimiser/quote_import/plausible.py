"""Whether prices can be true: in the job's currency, and not far from what such parts cost."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction

from optimiser.job_folder.problems import Place, listed, shown
from optimiser.model.imports import Known, TakenRow
from optimiser.money import NO_CURRENCY, Currency
from optimiser.quote_import import lexicon, prices, row_values, text_lines
from optimiser.quote_import.headings import NOT_ON_OFFER
from optimiser.quote_import.lexicon import plain
from optimiser.quote_import.rows import AS_IT_STANDS, Taking
from optimiser.sheet_files import currencies
from optimiser.sheet_files.grid import cell_at
from optimiser.text import typed

WITHOUT_CURRENCY = "prices without a currency"
"""How a person speaks of them."""
_FAR = 5
"""How many times above or below what a part costs a price is asked about (common practice, no published source)."""
_ENOUGH = 2
"""Headings in words of another country by which a sheet without a word for its tax is one from there."""
_MOST = 12


def doubts(takings: Sequence[Taking], rows: Sequence[TakenRow], known: Known, place: Place) -> None:
    """Note prices that may be in another currency, and those that are far from what the part costs."""
    for taking in takings:
        of_sheet = [row for row in rows if row.sheet == taking.layout.grid.sheet]
        if of_sheet:
            _currency(taking, known.currency, place.at(taking.layout.place))
            _prices(taking, of_sheet, known, place)


def _currency(taking: Taking, currency: Currency, at: Place) -> None:
    said = taking.told_of(WITHOUT_CURRENCY) or ""
    foreign = _words_from_elsewhere(taking, currency)
    if foreign and not currencies.fits(said, currency) and not _names_currency(taking):
        code = currency.code
        mend = (
            f"if they are in {code}, {typed('word', WITHOUT_CURRENCY, code)}; if not, put them into {code} in the sheet"
        )
        expected = f"prices in {code}, the job's currency; in which currency are these?"
        at.complain("currency", found=f"{listed(map(shown, foreign))}, and no sign of a currency", expected=expected, mend=mend)  # noqa: E501 # fmt: skip


def _words_from_elsewhere(taking: Taking, currency: Currency) -> list[str]:
    """The words of a sheet for the tax, or enough of its headings, that belong to countries with other currencies."""
    texts = [row_values.text(cell) for line in text_lines.of_text(taking.layout) for cell in line.cells]
    of_headings = _words(taking.layout.texts)
    said, known = of_headings | _words(texts), lexicon.headings()
    by_tax = {word: codes for codes, words in known.taxes_of.items() for word in words & said.keys()}
    by_words = {word: codes for codes, words in known.words_of.items() for word in words & of_headings.keys()}
    spoken = {code for codes in (*by_tax.values(), *by_words.values()) for code in codes.split()}
    if currency.code in (NO_CURRENCY, *spoken):
        return []
    return [said[word] for word in by_tax or (by_words if len(by_words) >= _ENOUGH else ())]


def _words(texts: Sequence[str]) -> dict[str, str]:
    """Each word of texts, plain, as it is written."""
    return {plain(word): word for text in texts for word in re.findall(r"[^\W\d_]+", text)}


def _names_currency(taking: Taking) -> bool:
    """Whether a price, a heading or a line names the currency; one that is not the job's is asked about elsewhere."""
    layout = taking.layout
    if layout.one("currency") is not None or any(layout.meanings[index].currency for index in layout.prices):
        return True
    written = (prices.price(cell_at(line.cells, index)) for line in layout.rows for index in layout.prices)
    if any(isinstance(each, prices.AsWritten) and each.currency for each in written):
        return True
    texts = (row_values.text(cell) for line in text_lines.of_text(layout) for cell in line.cells)
    return any(currencies.SIGN.search(text) or any(map(currencies.is_mark, text.split())) for text in texts)


def _prices(taking: Taking, rows: Sequence[TakenRow], known: Known, place: Place) -> None:
    dearest: dict[str, int] = {}
    for (part, _), (_, high) in known.usual.items():
        dearest[part] = max(high, dearest.get(part, 0))
    quoted = ((row, known.usual.get((row.part, row.condition), (0, dearest.get(row.part, 0)))) for row in rows)
    far = [(row, ends) for row, ends in quoted if row.part in dearest and _is_far(row, ends)]
    unsettled = [(row, ends) for row, ends in far if taking.told_of(_named(row, known.currency)) != AS_IT_STANDS]
    for row, ends in unsettled[:_MOST]:
        _ask(row, ends, known.currency, place.at(row.place))


def _is_far(row: TakenRow, ends: tuple[int, int]) -> bool:
    """Whether a piece costs many times more or less than the least and the most that such parts do (minor units)."""
    each = Fraction(row.price_minor, row.pack)
    return each > _FAR * ends[1] or _FAR * each < ends[0]


def _named(row: TakenRow, money: Currency) -> str:
    """How a person speaks of a price that is far off."""
    return f"{row.part} at {money.text(row.price_minor)}"


def _ask(row: TakenRow, ends: tuple[int, int], money: Currency, at: Place) -> None:
    usual = " to ".join(dict.fromkeys(map(money.text, ends if ends[0] else ends[1:])))
    pack = f" for {row.pack}" if row.pack > 1 else ""
    side = "above" if row.price_minor > row.pack * ends[1] else "below"
    ways = f"if you will pay that, {typed('word', _named(row, money), AS_IT_STANDS)}"
    if row.written:
        ways += f"; if it is a slip, leave it out, {typed('word', row.written, NOT_ON_OFFER)}"
    found = f"{money.text(row.price_minor)}{pack}, more than {_FAR} times {side} {usual} apiece"
    expected = f"a price near the rough ones and the other quotes of {row.part} (common practice, no published source)"
    at.complain("price", found=found, expected=expected, mend=ways)


def never_bought(rows: Sequence[TakenRow], known: Known) -> Iterator[str]:
    """Quotes that no repair may take."""
    for part, condition in dict.fromkeys((row.part, row.condition) for row in rows):
        if (part, condition) in known.never:
            places = [row.place for row in rows if (row.part, row.condition) == (part, condition)]
            kept = f"its quote {condition} in {listed(places)} is kept and never planned with"
            yield f"{part} cannot be bought used: {kept}"
