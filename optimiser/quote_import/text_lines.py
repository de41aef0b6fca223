"""What lines of text around the rows say of all prices, where it cannot be put right without a person."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta

from optimiser.job_folder.problems import Place, shown
from optimiser.job_folder.quote_sheets import IGNORE
from optimiser.model.imports import Told
from optimiser.model.quotes import Condition
from optimiser.money import Currency
from optimiser.quote_import import asking, currencies, heeding, lexicon, prices, row_values, taxes
from optimiser.quote_import.columns import ColumnLayout, typed
from optimiser.quote_import.grid import Grid, SheetLine, cell_at
from optimiser.quote_import.lexicon import plain

_LONGEST = 500
_CLAUSES = re.compile(r"[.,;:!()|]+(?=\s|$)|\s[-\N{EN DASH}\N{EM DASH}]+\s")
_ENDS = re.compile(r"[.,;!]+\s+|\s[-\N{EN DASH}\N{EM DASH}]+\s")
_MOST_CLAUSES = 12
_IN = re.compile(r"\b(?:prices?|amounts?|figures?|all|preise|prix)\b[^.;]*?\bin\s+([^\s.,;:)]+)", re.IGNORECASE)
_PER = re.compile(r"\bprices?\b[^.;]*?\bper\s+(\d+)\b", re.IGNORECASE)
_SCALES = ("000", "00", "hundred", "hundreds", "thousand", "thousands", "tausend", "milliers", "tysiącach", "tusental")
"""By what amounts may be divided, as a line says of all of them: "in thousands"."""
_OFF = re.compile(r"\b\d+(?:[.,]\d+)?\s?%\s*(?:off|discount|rabatt)\b|\bless\s+\d+(?:[.,]\d+)?\s?%", re.IGNORECASE)
_DAY = re.compile(
    r"\b\d{1,2}(?:st|nd|rd|th|er|º)?[./\- ]\s?(?:de )?(?:[^\W\d_]{3,12}|\d{1,2})\.?[./\- ](?:de )?\d{2,4}\b"
    r"|\b\d{4}-\d\d-\d\d\b"
)
_SPAN = re.compile(r"\b\d{1,3} (?:[^\W\d_]+ )?[^\W\d_]+")
_VALID = re.compile(
    r"\b(?:valid|until|till|held|holds?|expires?|ends?|gültig|bis|valable|jusqu\w*|geldig|hasta|fino|ważn\w|giltig|gäller|gyldig|gælder|até)\b",
    re.IGNORECASE,
)


def doubts(layout: ColumnLayout, told: Told, currency: Currency, place: Place) -> set[str]:
    """Note every line that puts all prices in another currency or unit, for so many pieces, or less a discount.

    The lines that were noted.
    """
    noted: set[str] = set()
    grid, headings = layout.grid, [layout.texts[index] for index in layout.prices]
    for line, text in _lines(grid):
        at, before = place.at(grid.place(line)), place.complaints.count
        money = next((found[1] for found in _IN.finditer(text) if _is_other(found[1], currency)), "")
        out = typed("word", text, IGNORE)
        if any(layout.meanings[index].small for index in layout.prices) and _is_small(money, currency):
            continue
        if money or currencies.others_in(text, currency):
            mend = f"ask for them in it; if it says nothing of these prices, {out}"
            at.complain("currency", found=shown(text), expected=f"prices in {currency.code}", mend=mend)
        elif (found := _PER.search(text)) and told.packs.keys() & set(headings):
            noted.add(text)
        elif found:
            packs = " ".join(typed("pack", heading, found[1]) for heading in headings)
            mend = f"if all prices are for {found[1]}, {packs}; if it says nothing of them, {out}"
            at.complain("pack", found=shown(text), expected="how many pieces a price is for", mend=mend)
        elif _OFF.search(text):
            mend = f"put the prices that you will pay into the sheet; once that is done, or if it is not for you, {out}"
            at.complain("price", found=shown(text), expected="prices with every discount taken off", mend=mend)
        if place.complaints.count > before:
            noted.add(text)
    return noted


def in_small_coin(layout: ColumnLayout, currency: Currency) -> set[str]:
    """Take the prices for pence where a line says so and all of them are whole numbers; such lines."""
    lines = layout.rows
    cells = [cell for line in lines for i in layout.prices if (cell := cell_at(line.cells, i)) is not None]
    read = [each for cell in cells if isinstance(each := prices.price(cell), prices.AsWritten)]
    said = {text for _, text in _lines(layout.grid) if any(_is_small(each[1], currency) for each in _IN.finditer(text))}
    if not said or any(each.currency or prices.has_decimals(each) for each in read):
        return set()
    for index in layout.prices:
        layout.meanings[index] = replace(layout.meanings[index], small=True)
    return said


def _is_small(word: str, currency: Currency) -> bool:
    return currency.places == 2 and currencies.SMALL.get(word.casefold(), "-") in ("", currency.code)


def beyond(grid: Grid, is_followed: Callable[[str], bool], place: Place) -> None:
    """Note what a line that was followed for its supplier, its condition or its last day says of money besides.

    What it says of the tax stands in a line of its own (``tax_lines.parted``).
    """
    for line, text in _lines(grid):
        clauses = _ENDS.split(text)
        more = list(filter(_is_of_money, clauses[:_MOST_CLAUSES])) if len(clauses) > 1 else []
        if more and len(more) < len(clauses) and not taxes.in_line(text) and is_followed(text):
            about = heeding.kind(more[0])
            kept = typed("word", text, ", ".join(each for each in clauses if each not in more).rstrip(" .,;!"))
            mend = f"put the prices that you will pay into the sheet; then, or if it changes nothing, {kept}"
            at = place.at(grid.place(line))
            at.complain(about, found=f"{shown(more[0])} in {shown(text)}", expected=asking.EXPECTED[about], mend=mend)


def _is_of_money(clause: str) -> bool:
    """Whether a clause must be heeded that says neither of the tax nor until when prices hold."""
    about = heeding.kind(clause)
    return about not in ("", "valid", "tax") and not (
        about == "money" and _DAY.search(clause) and _VALID.search(clause)
    )


def last_day(lines: Sequence[SheetLine]) -> tuple[date | None, set[str]]:
    """The last day of all offers as lines of text say it, the earliest of several, and those lines.

    A span such as "valid for 30 days" counts from the one day on which the sheet was written.
    """
    known, days, spans, written = lexicon.headings(), dict[str, date](), dict[str, int](), set[date]()
    for line in lines:
        text, says = _pair(line)
        about = heeding.kind(_DAY.sub(" ", says))
        found = {day for each in _DAY.findall(says) if (day := row_values.day(each, day_first=True)[0]) is not None}
        of_offer = not about and set(plain(says).split()) & (known.suppliers["of_titles"] | known.heeded["money"])
        is_valid = (about in ("valid", "tax") or of_offer) and _VALID.search(says) is not None
        span = _SPAN.search(says)
        if is_valid and len(found) == 1:
            days[text] = found.pop()
        elif is_valid and span and not found and (count := row_values.days(span[0])) is not None:
            spans[text] = count
        elif _is_dated(says):
            written |= found
    if len(written) == 1:
        days |= {text: day + timedelta(days=count) for text, count in spans.items() for day in written}
    return min(days.values(), default=None), {text for text in days if heeding.kind(_DAY.sub(" ", text)) != "tax"}


def _is_dated(text: str) -> bool:
    """Whether a line says when the sheet was written, and nothing else: "Quote date", "Devis n° 118 du"."""
    known = lexicon.headings()
    words = {word for word in plain(_DAY.sub(" ", text)).split() if not word.isdecimal()}
    return (
        bool(words & known.suppliers["of_titles"])
        and words <= known.suppliers["of_titles"] | known.suppliers["of_dates"] | known.qualifiers["neutral"]
    )


def _pair(line: SheetLine) -> tuple[str, str]:
    """A line of one text, or of a label and what it says, as a row set aside has it and as one text; else nothing."""
    texts = [row_values.text(cell) for cell in line.cells if cell is not None]
    first = next((cell for cell in line.cells if cell is not None), None)
    fits = len(texts) < 3 and isinstance(first, str) and len(" ".join(texts)) < _LONGEST
    return (" | ".join(texts), " ".join(texts)) if fits else ("", "")


def condition_of_all(lines: Sequence[SheetLine]) -> tuple[Condition | None, set[str]]:
    """The condition that lines above the headings give to everything below ("All parts used and tested"), and those.

    None where a condition is named and more is said of it than that all goods are so, or where two are.
    """
    said: dict[str, Condition] = {}
    for text in (cell for line in lines for cell in line.cells if isinstance(cell, str) and len(cell) < _LONGEST):
        for clause in _CLAUSES.split(text):
            named, rest, why = row_values.condition(clause, strong_only=True)
            if named is None and ("at once" in why or "working" in why):
                return None, set()
            if named is not None and not _is_name(clause, rest):
                if not _says_no_more(rest):
                    return None, set()
                said[text] = named
    conditions = set(said.values())
    return (conditions.pop(), set(said)) if len(conditions) == 1 else (None, set())


def _is_name(clause: str, rest: str) -> bool:
    """Whether a clause is a firm's name, of which a word for a condition is that of its trade: "Zelah Breakers"."""
    of_trade = not lexicon.headings().of_firms.isdisjoint(plain(clause).split())
    return of_trade and not _says_no_more(rest) and all(word[0].isupper() for word in clause.split())


def foot_of_all(lines: Sequence[SheetLine]) -> list[SheetLine]:
    """Lines of text below the rows that say of everything above them what it is: "All units reconditioned by us"."""
    last = max((place for place, line in enumerate(lines) if sum(c is not None for c in line.cells) > 1), default=-1)
    return [
        line for line in lines[last + 1 :] if any(isinstance(cell, str) and _is_of_all(cell) for cell in line.cells)
    ]


def _is_of_all(text: str) -> bool:
    clauses = (row_values.condition(clause, strong_only=True)[1] for clause in _CLAUSES.split(text))
    return bool(lexicon.headings().rows["every"].intersection(plain(text).split())) and all(map(_says_no_more, clauses))


def _says_no_more(rest: str) -> bool:
    """Whether what is left of a line says only that goods are in a condition, and how long a guarantee holds."""
    known = lexicon.headings()
    spans = known.cells["spans"]
    passed = known.rows["goods"] | spans["days"] | spans["months"] | spans["years"]
    words = (word for word in plain(rest).split() if not word.isdecimal())
    return set(words) <= passed - {"stock"}  # "new stock" has just arrived


def _lines(grid: Grid) -> Iterator[tuple[SheetLine, str]]:
    for line in grid.lines:
        texts = [row_values.text(cell) for cell in line.cells if cell is not None]
        if len(texts) == 1 and isinstance(line.cells[-1], str) and len(texts[0]) < _LONGEST:
            yield line, texts[0]


def _is_other(word: str, currency: Currency) -> bool:
    if word.casefold() in currencies.SMALL or plain(word) in _SCALES:
        return True
    return currencies.is_mark(word) and not currencies.fits(word, currency)
