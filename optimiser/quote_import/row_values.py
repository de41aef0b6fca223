"""Everything in a row but money: counts, shares, days, months, dates, conditions. None where a cell cannot be read."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from functools import cache, lru_cache
from typing import cast

from optimiser.model.quotes import Condition
from optimiser.quote_import import lexicon, pieces
from optimiser.quote_import.lexicon import plain
from optimiser.quote_import.numbers import percent
from optimiser.sheet_files.grid import Cells, Marked, UnfitCell, Value, cell_at

MOST = 10**6
_REMEMBERED = 16_384
_DATE = re.compile(
    r"(\d{1,4})(?:st|nd|rd|th|er|º)?[./\- ]\s?(?:de )?([^\W\d_]{3,12}|\d{1,2})\.?[./\- ,]\s?(?:de )?(\d{2,4})",
    re.IGNORECASE,
)
_OURS = "nos"
_OURS_BEFORE = frozenset(("prix", "tarifs", "pièces", "conditions", "clients", "produits", "articles", "stocks"))
"""Before these it is the French word for ours, and says nothing of old stock."""
_NOT = ("not", "non", "never", "nicht", "kein", "keine", "pas", "niet", "nie", "inte", "ikke", "não")
_TO = r"(?:-|\N{EN DASH}|to|or|bis|à|a|tot|do|till|til|ou|of|o|e)"
_IN_DAYS = {"days": 1, "weeks": 7, "months": 30, "years": 365}
_IN_MONTHS = {"months": 1, "years": 12}
_TICKS, _CROSSES = frozenset("✓✔☑✅🗸"), frozenset("✗✘✖✕❌☒")
_NO_TICK = frozenset(("x", "\N{MULTIPLICATION SIGN}", "-", "\N{EN DASH}", "\N{EM DASH}"))
_ONE = frozenset(("pcs", "pieces", "stk", "stueck", "units", "off"))


def text(value: Value) -> str:
    """A cell as text: numbers without noise, dates by ISO 8601."""
    if isinstance(value, str):
        return value
    if isinstance(value, Marked):
        value = value.number
    if isinstance(value, Decimal):
        return f"{value.normalize():f}" if value else "0"
    if isinstance(value, date):
        return value.isoformat()
    return value.reason if isinstance(value, UnfitCell) else ""


def text_at(cells: Cells, index: int) -> str:
    """A cell of a line as text."""
    return text(cell_at(cells, index))


@lru_cache(maxsize=_REMEMBERED)
def count(value: Value) -> int | None:
    """Whole pieces: "4", "4 pcs", "set of 4", "pair"."""
    if isinstance(value, Decimal):
        return _whole(value)
    if not isinstance(value, str) or re.search(r"\d\s?[.,/\-]\s?\d|^\s*-", value):
        return None
    said = plain(value)
    words = lexicon.headings().prices
    per, _, one = said.partition(" ")
    if said in _ONE or (per in lexicon.headings().qualifiers["per"] and one in words["each"]):
        return 1
    named = {"pair": 2, "dozen": 12, "each": 1}
    for kind, number in named.items():
        if said in words[kind] and not said.isdigit():
            return number
    found = re.findall(r"[0-9]+", said)
    rest = set(re.sub(r"[0-9]+", " ", said).split()) - lexicon.headings().cells["stock"]["beside"] - words["pack"]
    if len(found) == 1 and not rest and len(found[0]) <= 6:
        return int(found[0])
    packed, left = pieces.in_name(value)
    return packed if packed and not left else None


def is_holder(value: Value) -> bool:
    """Whether a cell says that something is sold as one, and not how many pieces it is: "set", "Satz"."""
    known = lexicon.headings().prices
    return isinstance(value, str) and count(value) is None and plain(value) in known["pack"] | known["holders"]


def least(value: Value) -> int | None:
    """Whole pieces, or those from which a price holds: "10+", "ab 10", "10-49"."""
    known = count(value)
    found = pieces.BAND.fullmatch(value.casefold().strip()) if known is None and isinstance(value, str) else None
    return int(found["pieces"]) if found else known


def _whole(value: Decimal) -> int | None:
    return int(value) if 0 <= value <= MOST and value == value.to_integral_value() else None


@lru_cache(maxsize=_REMEMBERED)
def stock(value: Value) -> tuple[bool, int | None]:
    """Whether the cell can be read, and the packs to be had (None: no limit said)."""
    said, words = plain(text(value)), lexicon.headings().cells["stock"]
    sign = text(value).strip().removesuffix("\N{VARIATION SELECTOR-16}")
    if said in words["some"] or sign in _TICKS:
        return True, None
    if said in words["none"] | words["kept"] or sign in _CROSSES:
        return True, 0
    least = re.fullmatch(r"(?:over |more than |> ?)?([0-9]{1,6}) ?\+?", text(value).casefold().strip())
    in_words = (number for number, name in enumerate(("one", "two", "three", "four"), start=1) if said in words[name])
    known = int(least[1]) if least else next(in_words, count(value))
    return known is not None, known


def stock_in(remark: str) -> int | None:
    """How many a remark says are to be had: "2 left", "only 3 in stock"."""
    words = lexicon.headings().cells["stock"]
    found = _LEFT.fullmatch(plain(remark))
    return int(found[1]) if found and found[2] in words["some"] | words["left"] else None


def is_no_tick(value: Value) -> bool:
    """Whether a cell has a sign that says no beside ticks, and anything where none stand."""
    return text(value).strip().casefold() in _NO_TICK


def says_yes(value: Value) -> bool:
    """Whether a cell says that something is to be had, and not how many: a tick, "yes"."""
    return value is not None and stock(value) == (True, None)


def is_sold(cells: Cells) -> bool:
    """Whether a cell of a line says no more than that what it offers is sold, or since when: "Sold 3 Nov"."""
    return any(isinstance(cell, str) and _says_sold(plain(cell).split()) for cell in cells)


def _says_sold(words: list[str]) -> bool:
    stock = lexicon.headings().cells["stock"]
    if stock["sold"].isdisjoint(words):
        return False
    rest = [word for word in words if word not in stock["sold"] | stock["already"]]
    return all(word.isdecimal() or (len(word) > 2 and _month(word)) for word in rest) and len(rest) != 1


_LEFT = re.compile(r"(?:\w+ )?(\d{1,4}) ([^\d]+)")


def is_of_stock(value: Value) -> bool:
    """Whether a cell says of itself that something is to be had or not: "sold out", and no mere yes or no."""
    words = lexicon.headings().cells["stock"]
    return plain(text(value)) in (words["some"] | words["none"] | words["kept"]) - words["bare"]


def is_kept(value: Value) -> bool:
    """Whether a cell says that something is kept for somebody."""
    return isinstance(value, str) and plain(value) in lexicon.headings().cells["stock"]["kept"]


@lru_cache(maxsize=_REMEMBERED)
def share(value: Value) -> float | None:
    """A share from 0 to 1: "0.9", "90 %", "full", "no"; 1 is the whole."""
    said = plain(text(value))
    if said in ("full", "full refund", "all"):
        return 1.0
    if said in ("no", "none", "no returns", "non returnable"):
        return 0.0
    read = percent(value if isinstance(value, Decimal) else text(value))
    if read == 1 and "%" not in text(value):
        return 1.0
    return None if read is None else float(read / 100)


@lru_cache(maxsize=_REMEMBERED)
def days(value: Value, times: int = 1) -> int | None:
    """Days until it arrives; of a span the longer one."""
    said = plain(text(value))
    soon = (int(days) for days, words in lexicon.headings().cells["days"].items() if said in words)
    known = next(soon, None)
    return _span(value, times, _IN_DAYS) if known is None else known


@lru_cache(maxsize=_REMEMBERED)
def months(value: Value, times: int = 1) -> int | None:
    """Months of warranty; days are counted by thirty, rounded down."""
    said, words = plain(text(value)), lexicon.headings().cells
    if said in words["stock"]["none"] or said in words["spans"]["no_warranty"]:
        return 0
    found = re.fullmatch(r"([0-9]{1,4}) ?(\w+)", said)
    return int(found[1]) // 30 if found and found[2] in words["spans"]["days"] else _span(value, times, _IN_MONTHS)


def _span(value: Value, times: int, units: Mapping[str, int]) -> int | None:
    if isinstance(value, Decimal):
        return _whole(value * times)
    words = lexicon.headings().cells["spans"]
    found = _spans().fullmatch(text(value).casefold().strip())
    if not found:
        return None
    longest = max(int(found[1]), int(found[2] or 0))
    unit = [word for word in plain(found[3]).split() if word not in words["working"]]
    if not unit:
        return longest * times
    if len(unit) == 1 and unit[0] in words["hours"] and units is _IN_DAYS:
        return -(-longest // 24)
    each = [count for kind, count in units.items() if len(unit) == 1 and unit[0] in words[kind]]
    return longest * each[0] if each else None


@cache
def _spans() -> re.Pattern[str]:
    about = "|".join(sorted(lexicon.headings().cells["spans"]["about"], key=len, reverse=True))
    return re.compile(rf"(?:(?:{about})\.?\s)?(\d{{1,4}})(?:\s?{_TO}\s?(\d{{1,4}}))?\s?([^\d,;+/]*)")


def dates(values: Iterable[Value]) -> bool | None:
    """Whether days stand before months in a column of dates; None where none of them tells, or they disagree."""
    order: set[bool] = set()
    for value in values:
        found = _DATE.fullmatch(value.strip()) if isinstance(value, str) else None
        if found and found[2].isdecimal() and len(found[1]) < 3:
            first, second = int(found[1]), int(found[2])
            if max(first, second) > 12 >= min(first, second) > 0:
                order.add(first > 12)
    return order.pop() if len(order) == 1 else None


DAY = re.compile(
    r"\b\d{1,2}(?:st|nd|rd|th|er|º)?[./\- ]\s?(?:de )?(?:[^\W\d_]{3,12}|\d{1,2})\.?[./\- ](?:de )?\d{2,4}\b"
    r"|\b\d{4}-\d\d-\d\d\b"
)


_MONTH_FIRST = {"USD": False, "CAD": None}
"""Whether days stand before months where such money is paid, if not everywhere; None where both are usual."""


def order_of_days(texts: Iterable[Value], currency: str) -> bool | None:
    """Whether days stand before months in lines of text, by the other days in them or by where one pays so."""
    if currency not in _MONTH_FIRST:
        return True
    told = dates(found for text in texts if isinstance(text, str) for found in DAY.findall(text))
    return _MONTH_FIRST[currency] if told is None else told


def days_in(text: str, *, day_first: bool | None = True) -> set[date]:
    """The days that a text names; both readings of one where the order of days and months is open."""
    orders = (True, False) if day_first is None else (day_first,)
    read = (day(each, day_first=order)[0] for each in DAY.findall(text) for order in orders)
    return {found for found in read if found is not None}


@lru_cache(maxsize=_REMEMBERED)
def day(value: Value, *, day_first: bool | None) -> tuple[date | None, bool]:
    """The date, and whether two were possible: then it is the earlier one, so that no offer is used past its day."""
    if isinstance(value, date):
        return value, False
    found = _DATE.fullmatch(value.strip()) if isinstance(value, str) else None
    if not found:
        return None, False
    first, middle, last = found[1], found[2], found[3]
    if len(first) == 4:
        return _date(int(first), _month(middle), int(last) if len(last) == 2 else 0), False
    year = int(last) + (2000 if len(last) == 2 else 0)
    if not middle.isdecimal():
        return _date(year, _month(middle), int(first)), False
    readings = [_date(year, int(middle), int(first)), _date(year, int(first), int(middle))]
    if day_first is not None and all(readings):
        readings = readings[:1] if day_first else readings[1:]
    sound = sorted({each for each in readings if each is not None})
    return (sound[0], len(sound) > 1) if sound else (None, False)


def _month(written: str) -> int:
    """The number of a month by its name or the beginning of it; 0 where it is none, or may be two."""
    if written.isdecimal():
        return int(written)
    begins = lexicon.bare(written)
    names = lexicon.headings().cells["dates"].items()
    every = {(int(month), lexicon.bare(word)) for month, words in names for word in words}
    told = {(month, word) for month, word in every if word.startswith(begins)}
    found = {month for month, word in told if word == begins} or {month for month, _ in told}
    return found.pop() if len(found) == 1 and len(begins) > 2 else 0


def _date(year: int, month: int, of_month: int) -> date | None:
    try:
        return date(year, month, of_month)
    except ValueError:
        return None


@lru_cache(maxsize=_REMEMBERED)
def condition(written: str, *, strong_only: bool = False) -> tuple[Condition | None, str, str]:
    """The condition that a text names, the text without the words that say so, and why there is none.

    Words of two conditions, or of a part that is sold as broken, give none.
    """
    known = lexicon.conditions()
    words = plain(written).split()
    found: set[str] = set()
    rest: list[str] = []
    place, as_new = 0, False
    while place < len(words):
        lengths = known.lengths.get(words[place], ())
        phrases = (" ".join(words[place : place + length]) for length in lengths)
        phrase = next((each for each in phrases if each in known.strong), "")
        if phrase == _OURS and not _OURS_BEFORE.isdisjoint(words[place + 1 : place + 2]):
            phrase = ""
        if phrase:
            if known.strong[phrase] and place and words[place - 1] in _NOT:
                return None, " ".join(words), "says what it is not"
            found.add(known.strong[phrase])
            as_new = as_new or (known.strong[phrase] == "new" and phrase not in known.unfitted)
        else:
            rest.append(words[place])
        place += max(1, len(phrase.split()))
    if not found and not strong_only:
        found = {known.weak[word] for word in rest if word in known.weak}
    if found == {"new", "refurbished"} and not as_new:
        found = {"refurbished"}  # "reconditioned and never fitted"
    if "" in found:
        return None, " ".join(rest), "sold as not working"
    if len(found) > 1:
        return None, " ".join(rest), f"says {' and '.join(sorted(found))} at once"
    if not found:
        return None, written, "no condition that is known"
    return cast("Condition", found.pop()), " ".join(rest), ""
