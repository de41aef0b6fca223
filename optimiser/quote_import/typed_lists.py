"""What tells a line of headings and a list that a person typed, for those who open a text file (``sheet_files``)."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from optimiser.quote_import import lexicon, prices, row_values
from optimiser.quote_import.columns import ENOUGH, score
from optimiser.sheet_files.grid import SheetLine, Value

__all__ = ["in_one_order", "is_priced", "of_order", "parted", "score"]
_BEHIND = re.compile(r"([£€$]\s?\d[\d.,]*)\s+([^\W\d][\w, -]*)")
_AMOUNT = (
    r"[£€$]\s?\d[^£€$]*"
    r"|(?:\d{1,3}(?: \d{3})+|\d[\d.,]*)(?:[.,]\d\d|[.,:]-)"
    r"(?: ?(?:(?:kr|zł|eur|sek|dkk|pln|chf|/?st|stk|each|ea)\b\.?|€))?"
    r"|(?<![-\u2013] \d )(?<![-\u2013] \d\d )(?<![-\u2013] \d{3} )"
    r"\d+ ?(?:(?:kr|zł)\.?|(?:quid|pounds?|euros?|eur)\b|[€£])"
)
"""Behind a dash its thousands may stand apart: "- 1 150 kr"."""
_SUM = r"[£€$]? ?\d[\d.,]*(?: ?(?:€|(?:kr|zł|eur|sek|dkk|pln)\b\.?))?"
_EACH = r"(?:(?<!\d )@ ?|(?:je|à|jeweils|per stuk|each|chaque|st) )?"
_IN_FRONT = re.compile(rf"((?:(?![.!?]\s)[^£€$])*?[^£€$\s:,@-]),?\s+{_EACH}({_AMOUNT})", re.IGNORECASE)
"""A name, in which no sentence ends, and a sum of money behind it."""
_NOT_FIRM = re.compile(
    r"((?:(?![.!?]\s)[^£€$])*[^£€$\s:,-]),?\s+"
    r"([£€$]?\d+(?:[.,]\d\d)?(?:\s?\((?:was|before|rrp|statt|avant|era|före|før|było) [£€$]?\d[\d.,]*\)"
    r"|\s?(?:ono|o\.n\.o\.|ovno|obo|vb|vhb)\.?|\s(?:each|ea|apiece)\b.*))",
    re.IGNORECASE,
)
"""A name and a sum of money that was another once, that may be talked about, or that is that of one."""
_OPEN = re.compile(
    r"\b(?:to|or|and|for|from|about|around|over|under|approx|ca|circa|ab|bis|von|oder|für|de|à|ou|pour|dès|vanaf|tot|of|voor"
    r"|desde|hasta|o|por|da|per|fino a|od|do|lub|za|från|till|eller|för|fra|til|for|até)$",
    re.IGNORECASE,
)
"""What stands before a sum of money that is no price by itself: "40 to", "2 for", "from"."""
_ORDERED = re.compile(
    rf"(\d{{1,3}}) ?[x\N{{MULTIPLICATION SIGN}}] (\D.*?),? +(?:@|at|à|je|a|per stuk|:|-) ?({_SUM})"
    rf" ?(?:each ?)?(?:[=:] ?| {{2,}})({_SUM})",
    re.IGNORECASE,
)
_BESIDES = re.compile(r",\s+|\s+(?=plus\s|\()")
"""Between a sum of money and what is said besides."""
_SOLD = [re.compile(rf"(.+?)(?:\s?[:,]|\s-)?\s({words})") for words in (r"\w+", r"\w+,?\s\w+")]
"""A name, and a word or two behind it that may say that it is sold."""
_DOTS = re.compile(r"\s*\.{2,}\s*(?=\S)|\s*\.{2,}$")
_SORRY = re.compile(r",? (?:sorry|already|though|mate|leider|désolé|helaas)$", re.IGNORECASE)
_FEWEST = 2
_MOST_WORDS = 6
"""Words of a name before a sum of money, or of a piece of it between commas; more are a sentence."""


def is_priced(cells: Sequence[Value]) -> bool:
    """Whether an amount with a currency or decimals stands beside something else; or any, last of three or more."""
    if len(cells) > 1 and any(map(prices.is_sum, cells)):
        return True
    texts = len(cells) > _FEWEST and not any(map(prices.is_amount, cells[:-1]))
    return texts and prices.is_amount(cells[-1]) and not any(map(_is_time, cells))


def _is_time(cell: Value) -> bool:
    weekdays = lexicon.headings().cells["weekdays"]["names"]
    return isinstance(cell, str) and not weekdays.isdisjoint(lexicon.plain(cell).split())


def in_one_order(lines: Sequence[SheetLine]) -> list[SheetLine]:
    """The lines with their prices in one column, the second, where they stand now here and now there."""
    at = {len(line.cells) - 1 for line in lines if len(line.cells) > 1 and _ends_in_price(line)}
    if len(at) < 2 or any(score(line.cells) >= ENOUGH for line in lines):
        return list(lines)
    return [
        SheetLine(line.number, (line.cells[0], line.cells[-1], *line.cells[1:-1])) if _ends_in_price(line) else line
        for line in lines
    ]


def _ends_in_price(line: SheetLine) -> bool:
    amounts = [place for place, cell in enumerate(line.cells) if place and prices.is_amount(cell)]
    return amounts == [len(line.cells) - 1]


def of_order(line: str) -> tuple[str, ...]:
    """The name and the price of one in a line of an order whose sum proves them; empty where it is none."""
    ordered = _ORDERED.fullmatch(line)
    return (ordered and _each_of(ordered)) or ()


def parted(cell: str) -> Iterator[str]:
    """A name, the one sum of money behind it or what stands there instead, and a condition or remark behind that."""
    if cell.startswith("(") and cell.endswith(")"):
        yield cell
        return
    cell = _DOTS.sub(" ", cell)
    if each := of_order(cell):
        yield from each
        return
    for name, state in _sold(cell):
        priced = _IN_FRONT.fullmatch(name)
        yield from (priced[1] if priced else name, state)
        return
    offer, *remark = _with_remark(cell)
    yield from (*_named_and_priced(offer), *remark)


def _each_of(ordered: re.Match[str]) -> tuple[str, str] | None:
    """The name and the price of one in a line of an order, where its sum proves it: "2 x Relay @ £4.50 = £9.00"."""
    each, total = (prices.number_in(ordered[place]) for place in (3, 4))
    proven = each is not None and total is not None and int(ordered[1]) * each == total
    return (ordered[2], ordered[3]) if proven else None


def _with_remark(cell: str) -> list[str]:
    """What ends in a sum of money, and a remark behind it that holds none but in brackets: "Relay £6 each, 2 left"; of
    what comes on top of it a deposit, for the tax is a part of the sum.
    """
    for sign in _BESIDES.finditer(cell):
        priced, remark = cell[: sign.start()], cell[sign.end() :]
        in_brackets = remark.startswith("(") and remark.endswith(")") and not _NOT_FIRM.fullmatch(cell)
        if remark.startswith("(") > in_brackets or (in_brackets and prices.is_amount(cell)):
            continue
        if remark.startswith("plus ") and lexicon.headings().heeded["deposit"].isdisjoint(
            lexicon.plain(remark).split()
        ):
            continue
        found = _IN_FRONT.fullmatch(priced)
        amount = found[2] if found else priced if prices.in_text(priced) else ""
        counts = in_brackets or not any(map(str.isdigit, remark)) or row_values.stock_in(remark) is not None
        if prices.is_amount(amount) and counts:
            return [priced, remark]
    return [cell]


def _named_and_priced(cell: str) -> Iterator[str]:
    """A name and the sum of money behind it, which may have a condition behind it."""
    found = _IN_FRONT.fullmatch(cell) or _NOT_FIRM.fullmatch(cell)
    longest = max(len(each.split()) for each in found[1].split(",")) if found else 0
    is_name = found is not None and longest <= _MOST_WORDS and not _OPEN.search(found[1]) and not prices.is_sum(cell)
    is_name = is_name and not (found and _says_what_prices_hold(found[1]))
    for piece in found.groups() if found and is_name else (cell,):
        yield from _amount_and_state(piece)


def _says_what_prices_hold(text: str) -> bool:
    """Whether a text is the beginning of "Each price includes a £20 deposit"."""
    known, words = lexicon.headings(), set(lexicon.plain(text).split())
    return not (known.heeded["money"].isdisjoint(words) or known.tax["with"].isdisjoint(words))


def _sold(cell: str) -> Iterator[tuple[str, str]]:
    """A name and the words behind it that say that it is sold, if these are all; what is said of everything is none."""
    rows, cell = lexicon.headings().rows, _SORRY.sub("", cell)
    for found in (each for pattern in reversed(_SOLD) if (each := pattern.fullmatch(cell))):
        words = set(lexicon.plain(found[1]).split())
        if row_values.is_sold((found[2],)) and len(words) <= _MOST_WORDS and not words <= rows["goods"] | rows["every"]:
            yield found[1], found[2]


def _amount_and_state(cell: str) -> list[str]:
    """A sum of money, and what it is for, and the condition behind it as two cells: "£39 new", "£70 the pair, new"."""
    found = _BEHIND.fullmatch(cell)
    if found is None:
        return [cell]
    named, rest, _ = row_values.condition(found[2], strong_only=True)
    known = lexicon.headings().prices
    if named is None or lexicon.plain(rest) not in {""} | known["each"] | known["pair"] | known["dozen"]:
        return [cell]
    return [f"{found[1]} {rest}", named] if rest else [found[1], found[2]]
