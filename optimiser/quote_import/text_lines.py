"""What lines of text around the rows say of all prices, where it cannot be put right without a person."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from itertools import groupby, islice

from optimiser.job_folder.problems import Place, shown
from optimiser.job_folder.quote_sheets import IGNORE
from optimiser.model.imports import Told
from optimiser.model.quotes import Condition
from optimiser.money import Currency
from optimiser.quote_import import (
    asking,
    heeding,
    lexicon,
    numbers,
    prices,
    row_values,
    taxes,
)
from optimiser.quote_import.columns import ENOUGH, ColumnLayout, score
from optimiser.quote_import.headings import PRICES
from optimiser.quote_import.lexicon import plain
from optimiser.sheet_files import currencies
from optimiser.sheet_files.grid import Grid, SheetLine, Value, cell_at, text_alone
from optimiser.text import typed

_LONGEST = 500
_CLAUSES = re.compile(r"[.,;:!()|]+(?=\s|$)|\s[-\N{EN DASH}\N{EM DASH}]+\s")
_ENDS = re.compile(r"[.,;!]+\s+|\s[-\N{EN DASH}\N{EM DASH}]+\s")
_MOST_CLAUSES = 12
_PAIR, _LONGEST_TITLE = 2, 5
_IN = re.compile(r"\b(?:prices?|amounts?|figures?|all|preise|prix)\b[^.;]*?\bin\s+([^\s.,;:)]+)", re.IGNORECASE)
_PER = re.compile(r"\bprices?\b[^.;]*?\bper\s+(\d+)\b", re.IGNORECASE)
_SCALES = ("000", "00", "hundred", "hundreds", "thousand", "thousands", "tausend", "milliers", "tysiącach", "tusental")
"""By what amounts may be divided, as a line says of all of them: "in thousands"."""
_OFF = re.compile(r"\b\d+(?:[.,]\d+)?\s?%\s*(?:off|discount|rabatt)\b|\bless\s+\d+(?:[.,]\d+)?\s?%", re.IGNORECASE)
_SPAN = re.compile(r"\b(\d{1,3} [^\W\d_]+)(?: [^\W\d_]+)?")
_UNTIL = frozenset(("until", "till", "bis", "tot", "hasta", "fino", "até"))
"""Words that say nothing of a day that stands before them: "12 Nov, till 2"."""
_MOST_BETWEEN = 6
"""Words between the one that says that something is valid and for how long."""
_LAST = _UNTIL | frozenset(
    ("to", "through", "including", "by", "before", "zum", "jusquau", "al", "do", "til", "expires", "ends")
)
"""Words before a last day."""
_VALID = re.compile(
    r"\b(?:valid|(?:good|open) for|until|till|held|holds?|expires?|ends?"
    r"|gültig|bis|valable|jusqu\w*|geldig|hasta|fino|ważn\w|giltig|gäller|gyldig|gælder|até)\b",
    re.IGNORECASE,
)

_IN_ENGLISH = re.compile(r"valid|(?:good|open) for|until|till|held|holds?|expires?|ends?", re.IGNORECASE)
"""Of these words, those of the language in which days may stand behind their months."""


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
        if any(layout.meanings[index].small for index in layout.prices) and currencies.is_small(money, currency):
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
            asking.ask(at, "discount", text)
        if place.complaints.count > before:
            noted.add(text)
    _days_that_disagree(grid, currency, place)
    return noted


def _days_that_disagree(grid: Grid, currency: Currency, place: Place) -> None:
    """Note two lines that name two last days of all offers."""
    days = _last_days(grid.lines, currency)
    first = {day: text for text, day in reversed(days.items())}
    if len(first) > 1:
        ways = " or ".join(typed("word", text.partition(" | ")[0], IGNORE) for text in first.values())
        found = " and ".join(map(shown, first.values()))
        place.complain(
            "valid", found=found, expected="one last day of the offers", mend=f"leave one of them out: {ways}"
        )


def in_small_coin(layout: ColumnLayout, currency: Currency) -> set[str]:
    """Take all amounts for pence where a line says so and all prices are whole numbers; such lines."""
    cells = [cell for line in layout.rows for i in layout.prices if (cell := cell_at(line.cells, i)) is not None]
    read = [each for cell in cells if isinstance(each := prices.price(cell), prices.AsWritten)]
    lines = [text for _, text in _lines(layout.grid)]
    said = {text for text in lines if any(currencies.is_small(unit[1], currency) for unit in _IN.finditer(text))}
    if not said or any(each.currency or prices.has_decimals(each) for each in read):
        return set()
    others = (layout.one(column) for column in ("deposit", "postage", "tax_amount"))
    for index in (*layout.prices, *(index for index in others if index is not None)):
        layout.meanings[index] = replace(layout.meanings[index], small=True)
    return said


def of_deposits(layout: ColumnLayout) -> set[str]:
    """Take the deposits for part of the prices where a line says so, or for without the tax where one says it of prices
    and deposits alike; the lines that say that they are inside, or on top.
    """
    untaxed = any(heeding.is_tax_of_deposits_too(text) for _, text in _lines(layout.grid))
    for place in layout.at.get("deposit", ()) if untaxed else ():
        if not layout.meanings[place].tax:
            layout.meanings[place] = replace(layout.meanings[place], tax="without")
    said = {text: where for _, text in _lines(layout.grid) if (where := heeding.of_deposit(text))}
    index = layout.one("deposit")
    if index is None or len(set(said.values())) > 1:
        return set()
    inside = any(layout.meanings[each].deposit_inside for each in (index, *layout.prices))
    if "inside" in said.values():
        layout.meanings[index] = replace(layout.meanings[index], deposit_inside=True)
    return set() if inside and "on top" in said.values() else set(said)


def beyond(grid: Grid, is_followed: Callable[[str], bool], place: Place) -> None:
    """Note what a line that was followed for its supplier, its condition or its last day says of money besides.

    What it says of the tax stands in a line of its own (``parted``).
    """
    for line, text in _lines(grid):
        clauses = _ENDS.split(text)
        more = [each for each in clauses[:_MOST_CLAUSES] if _is_of_money(each) and not is_followed(each)]
        more = more if len(clauses) > 1 else []
        followed = bool(more) and len(more) < len(clauses) and is_followed(text)
        if followed and not taxes.in_line(text) and not heeding.of_deposit(text):
            about = heeding.kind(more[0])
            kept = typed("word", text, ", ".join(each for each in clauses if each not in more).rstrip(" .,;!"))
            mend = f"put the prices that you will pay into the sheet; then, or if it changes nothing, {kept}"
            at = place.at(grid.place(line))
            at.complain(about, found=f"{shown(more[0])} in {shown(text)}", expected=asking.EXPECTED[about], mend=mend)


def _is_of_money(clause: str) -> bool:
    """Whether a clause must be heeded that says neither of the tax nor until when prices hold."""
    about = heeding.kind(clause)
    return about not in ("", "valid", "tax") and not (
        about == "money" and row_values.DAY.search(clause) and _VALID.search(clause)
    )


def last_day(lines: Sequence[SheetLine], currency: Currency) -> tuple[date | None, set[str]]:
    """The last day of all offers as lines of text say it, the earliest of several, and those lines."""
    days = _last_days(lines, currency)
    followed = {text for text in days if heeding.kind(row_values.DAY.sub(" ", text)) != "tax"}
    return min(days.values(), default=None), followed


def _last_days(lines: Sequence[SheetLine], currency: Currency) -> dict[str, date]:
    """The last days of all offers by the lines of text that say them.

    A span such as "valid for 30 days" counts from the one day on which the sheet was written.
    """
    known, days, spans, written = lexicon.headings(), dict[str, date](), dict[str, int](), set[date]()
    day_first = row_values.order_of_days((cell for line in lines for cell in line.cells), currency.code)
    for line in lines:
        text, says = _pair(line)
        about = heeding.kind(row_values.DAY.sub(" ", says))
        of_offer = not about and set(plain(says).split()) & (known.suppliers["of_titles"] | known.heeded["money"])
        word = _VALID.search(says) if about in ("valid", "tax") or of_offer else None
        to_day = word is not None and word[0].casefold() in _UNTIL
        order = day_first if word is None or _IN_ENGLISH.fullmatch(word[0]) else True
        behind = row_values.days_in(says[word.end() :], day_first=order) if word else set()
        is_valid = word is not None and not (to_day and not behind)
        found = behind or row_values.days_in(says, day_first=order)
        count = _span(row_values.DAY.sub(" ", says)) if is_valid else None
        if is_valid and len(found) == 1:
            days[text] = _days_after(found.pop(), (count or 0) if _begins(says) else 0)
        elif count is not None and not found:
            spans[text] = count
        elif _is_dated(says):
            written |= found
    if len(written) == 1:
        days |= {text: _days_after(day, count) for text, count in spans.items() for day in written}
    return days


def _days_after(day: date, count: int) -> date:
    """So many days after a day; the calendar's last where it does not reach so far."""
    return date.fromordinal(min(day.toordinal() + count, date.max.toordinal()))


def _span(text: str) -> int | None:
    """For how many days something is valid: "valid for 14 working days", "2 weeks valid"; not until it is delivered."""
    known, word = lexicon.headings(), _VALID.search(text)
    if word is None:
        return None
    start, end = word.span()
    for found in sorted(_SPAN.finditer(text), key=lambda span: span.start() < start):  # those behind the word first
        words = plain(text[end : found.start()] if found.start() > start else text[found.end() : start]).split()
        of_delivery = any(w in known.heeded["postage"] or known.columns.get(w) == "lead_days" for w in words)
        count = next((days for span in found.group(0, 1) if (days := row_values.days(span)) is not None), None)
        if count is not None and len(words) < _MOST_BETWEEN and not of_delivery:
            return count
    return None


def _begins(text: str) -> bool:
    """Whether the day in a text is not said to be a last one: days of which it speaks run from there."""
    before = plain(row_values.DAY.split(text)[0]).split()[-2:]
    return _LAST.isdisjoint(before)


def _is_dated(text: str) -> bool:
    """Whether a line says when the sheet was written, and nothing else: "Quote date", "Devis n° 118 du"."""
    known = lexicon.headings()
    words = {word for word in plain(row_values.DAY.sub(" ", text)).split() if not word.isdecimal()}
    return (
        bool(words & known.suppliers["of_titles"])
        and words <= known.suppliers["of_titles"] | known.suppliers["of_dates"] | known.qualifiers["neutral"]
    )


def _pair(line: SheetLine) -> tuple[str, str]:
    """A line of one text, or of a label and what it says, as a row set aside has it and as one text; of one in several
    cells without an amount that which speaks of a last day; else nothing.
    """
    texts = [row_values.text(cell) for cell in line.cells if cell is not None]
    if len(texts) > _PAIR and not any(map(prices.is_amount, line.cells)):
        return " | ".join(texts), next(filter(_VALID.search, texts), "")
    first = next((cell for cell in line.cells if cell is not None), None)
    fits = len(texts) < 3 and isinstance(first, str) and len(" ".join(texts)) < _LONGEST
    return (" | ".join(texts), " ".join(texts)) if fits else ("", "")


def _lines(grid: Grid) -> Iterator[tuple[SheetLine, str]]:
    for line in grid.lines:
        if (text := text_alone(line)) and len(text) < _LONGEST:
            yield line, text


def _is_other(word: str, currency: Currency) -> bool:
    if word.casefold() in currencies.SMALL or plain(word) in _SCALES:
        return True
    return currencies.is_mark(word) and not currencies.fits(word, currency)


_MOST_TEXTS = 40
"""Cells of a line of text that are looked at."""
_MOST_BESIDES = 8
_FEWEST_WORDS = 2
"""More of them make a sentence behind another: "inkl. MwSt." is none."""
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
    said = [cell for _, cell in filled if isinstance(cell, str) and len(cell) <= _LONGEST]
    if len(said) < len(filled) or not (len(said) == 1 or _is_of_sentences(said)):
        return [line.cells]
    texts = [
        each for text in said for some in _apart(text) for each in ([some] if taxes.in_line(some) else _sentences(some))
    ]
    return [(*line.cells[: filled[0][0]], each) for each in texts] if len(texts) > 1 else [line.cells]


def _is_of_sentences(texts: Sequence[str]) -> bool:
    """Whether texts are sentences that their own commas have parted, and no headings and no row."""
    behind = (each for text in texts for each in _SENTENCE.split(text)[1:])
    goes_on = any(len(each.split()) > _FEWEST_WORDS for each in behind)
    if len(texts) == _PAIR:  # a title, and what is said of all prices beside it
        goes_on = (
            goes_on or sum(len(text.split()) > _LONGEST_TITLE and bool(taxes.in_line(text)) for text in texts) == 1
        )
    return goes_on and score(tuple(texts)) < ENOUGH and not any(map(prices.is_amount, texts))


def _sentences(text: str) -> list[str]:
    """The sentences of a text, where they must be heeded for different things."""
    ends = _ENDS if heeding.is_for_trade(text) else _SENTENCE
    said = [each for each in ends.split(text) if each]
    kinds = list(map(_speaks_of, said)) if 1 < len(said) <= _MOST_BESIDES else []
    return said if len({*kinds} - {""}) > 1 or {"tax", ""} <= {*kinds} else [text]


def _speaks_of(text: str) -> str:
    """What a text must be heeded for, the condition of all goods among it, or two conditions."""
    named, rest, why = row_values.condition(text, strong_only=True)
    of_goods = (named or "") if heeding.says_no_more(rest) else ""
    return heeding.kind(text) or of_goods or ("condition" if why.endswith("at once") else "")


def _apart(text: str) -> list[str]:
    """A text about the tax without what it says besides that must be heeded, and each of these."""
    sentences = _SENTENCE.split(text)
    if len(sentences) > 1 and any(map(heeding.is_tax_of_deposits_too, sentences)):
        return sentences
    if heeding.is_duty_in_too(text):
        return [text]
    mark, left, apart = taxes.in_line(text), text, list[str]()
    for rest, may_be_in_too in islice(_besides(text) if mark else (), _MOST_BESIDES):
        about = _speaks_of(numbers.PERCENT.sub(" ", rest))
        is_price = lexicon.headings().columns.get(plain(rest)) in PRICES
        is_in_too = may_be_in_too and mark == "with" and about == "postage"
        without = left.replace(rest, "", 1)
        if _PLUS.match(without.lstrip()) and left.startswith(rest) and heeding.is_tax_of_some(left):
            continue  # "surcharge plus VAT"
        if heeding.is_tax_of_deposits_too(text):
            break
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
            if _goes_on(text[whole[0][0] : whole[0][1]]):
                whole = whole[1:]
            for several in filter(None, (whole, whole[:-1], whole[1:])):
                yield text[several[0][0] : several[-1][1]], several[0][2]


_RELATIVE = frozenset(("which", "that", "die", "welche", "qui", "que", "che", "la quale", "som", "który", "która"))


_PLUS = re.compile(r"(?:plus|\+)\s", re.IGNORECASE)


def _goes_on(piece: str) -> bool:
    """Whether a piece says of what stands before it nothing but its rate: "which is charged at 20%"."""
    return plain(piece).split(" ")[0] in _RELATIVE and not _speaks_of(numbers.PERCENT.sub(" ", piece))


def in_lines(sheet: ColumnLayout, elsewhere: Sequence[SheetLine]) -> tuple[taxes.Mark, Decimal | None, set[str]]:
    """What lines of text say of the tax in all prices, the rate if one is named, and the lines.

    Both at once say nothing. Of the sheets without quotes (``elsewhere``) a line counts that says it is in the prices,
    or that all prices are without it.
    """
    marks = {text: mark for _, text, mark in _taxes_said(of_text(sheet), sheet.grid)}
    marks |= {text: mark for _, text, mark in _taxes_said(elsewhere) if mark == "with" or _is_of_every_price(text)}
    said, rates = set(marks.values()), {rate for text in marks for rate in _rates(text)}
    if len(said) != 1 or any(each.tax not in ("", *said) for each in sheet.meanings if each.column in PRICES):
        return "", None, set()
    return said.pop(), rates.pop() if len(rates) == 1 else None, set(marks)


def _is_of_every_price(text: str) -> bool:
    known, words = lexicon.headings(), set(plain(text).split())
    return bool(words & known.rows["every"] and words & known.heeded["money"])


def rate_alone(sheet: ColumnLayout, sections: Iterable[str]) -> Decimal | None:
    """The rate in lines of nothing else but the words for the tax, "VAT rate: 20%", and in those of ``sections``."""
    texts = (cell for line in of_text(sheet) for cell in line.cells if isinstance(cell, str))
    rates = {rate for text in (*filter(heeding.is_rate_alone, texts), *sections) for rate in _rates(text)}
    return rates.pop() if len(rates) == 1 else None


def by_sections(sheet: ColumnLayout) -> dict[int, tuple[str, taxes.Mark]]:
    """Lines of text by their numbers that say of the tax in the prices below them what others do not say of theirs.

    Empty unless prices stand below each of them and none above the first.
    """
    found = {number: (text, mark) for number, text, mark in _taxes_said(of_text(sheet), sheet.grid)}
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


def and_headings(sheets: Iterable[ColumnLayout]) -> Iterator[str]:
    """The texts of the lines of text, and the headings."""
    for sheet in sheets:
        yield from (*sheet.texts, *(cell for line in of_text(sheet) for cell in line.cells if isinstance(cell, str)))


def _taxes_said(lines: Sequence[SheetLine], grid: Grid | None = None) -> Iterator[tuple[int, str, taxes.Mark]]:
    """What the texts in lines say of the tax in all prices, with the numbers of the lines.

    Where a person's word for a line says nothing of it, the line as it was written in the sheet still counts.
    """
    for line in lines:
        texts = [cell for cell in line.cells[:_MOST_TEXTS] if isinstance(cell, str)]
        before = grid.as_written.get(line.number, "") if grid is not None else ""
        for some in (texts, [before]):
            if found := [(line.number, text, mark) for text in some if (mark := _mark_of(text))]:
                yield from found
                break


def _mark_of(text: str) -> taxes.Mark:
    if len(text) >= _LONGEST or heeding.is_tax_of_some(text) or heeding.of_deposit(text):
        return ""
    mark = taxes.in_line(text)
    if not mark and heeding.is_untaxed(text, used=False):
        return "with"
    if mark != "inside":
        return mark
    of_prices = lexicon.headings().heeded["money"].intersection(plain(text).split())
    return "with" if of_prices and not re.search(r"\d", numbers.PERCENT.sub("", text)) else ""  # "prices contain VAT"


def _rates(text: str) -> set[Decimal]:
    found = (numbers.percent(word + "%") for word in numbers.PERCENT.findall(text))
    return {rate for rate in found if rate is not None}


def conditions_by_likeness(layouts: Iterable[ColumnLayout]) -> list[Condition]:
    """The conditions, that first of which alone lines of text speak; else used, which promises least."""
    texts = [row_values.text(cell) for each in layouts for line in of_text(each) for cell in line.cells]
    named = {row_values.condition(text, strong_only=True)[0] for text in texts} - {None}
    named = named if len(named) == 1 else set()
    every: tuple[Condition, ...] = ("salvage", "new", "refurbished")
    return sorted(every, key=lambda condition: condition not in named)
