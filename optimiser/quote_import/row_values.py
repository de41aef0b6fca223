"""Everything in a row but money: counts, shares, days, months, dates, conditions. None where a cell cannot be read."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from functools import lru_cache
from typing import cast

from optimiser.model.quotes import Condition
from optimiser.quote_import import lexicon
from optimiser.quote_import.grid import Marked, UnfitCell, Value
from optimiser.quote_import.lexicon import plain
from optimiser.quote_import.numbers import percent

MOST = 10**6
_REMEMBERED = 16_384
_NONE_WORDS = (
    "no|none|sold out|out of stock|n|nil|sold|gone|reserved|unavailable|not available|"
    "discontinued|0 left|nein|ausverkauft|nicht verfügbar|nicht lieferbar|verkauft|non|"
    "épuisé|rupture|en rupture|vendu|nee|uitverkocht|niet op voorraad|verkocht|agotado|"
    "sin stock|vendido|esaurito|venduto|brak|niedostępny|sprzedane|nej|slut|slutsåld|såld|"
    "udsolgt|ikke på lager|solgt|não|esgotado|sem stock"
)
_ALL_WORDS = (
    "yes|y|in stock|available|ex stock|plenty|ja|auf lager|verfügbar|lieferbar|"
    "sofort lieferbar|vorrätig|oui|en stock|disponible|op voorraad|beschikbaar|sí|si|sì|"
    "disponibile|tak|dostępny|dostępna|na stanie|i lager|finns|på lager|sim|disponível|"
    "em stock"
)
_NONE, _ALL = frozenset(_NONE_WORDS.split("|")), frozenset(_ALL_WORDS.split("|"))
_UNITS = (
    r"working\sdays business\sdays days? d wks? weeks? w months? mths? mth m years? yrs? yr y hours? hrs? h"
    r" werktage? arbeitstage? tage?n? wochen? monate?n? jahre?n? jours? semaines? mois dagar? dagen dage dag weken"
    r" veckor uger d[ií]as? semanas? meses m[eê]s giorni giorno settimane mesi dni dzień tygodnie tygodni miesięcy"
    r" månader måneder mdr maanden dager uker päivää viikkoa kuukautta"
)
_SPAN = re.compile(
    r"(?:(?:up to|max|within|c|ca|about|approx)\s)?(\d{1,4})(?:\s?(?:-|to|or|bis)\s?(\d{1,4}))?\s?"
    rf"({'|'.join(_UNITS.split())})?"
)
_DAYS = {"d": 1, "t": 1, "g": 1, "w": 7, "m": 30, "y": 365}
_MONTHS = {"m": 1, "y": 12}
_IRREGULAR = {"jour": "d", "jours": "d", "tygodnie": "w", "tygodni": "w", "werktag": "d", "werktage": "d"}
_IRREGULAR |= dict.fromkeys(("jahr", "jahre", "jahren"), "y")
_IRREGULAR |= {"päivää": "d", "viikkoa": "w", "uker": "w", "kuukautta": "m"}
_IRREGULAR |= dict.fromkeys(("settimane", "semanas", "semana", "semaine", "semaines", "veckor", "uger"), "w")
_SOON = {
    **dict.fromkeys(("same day", "today", "in stock", "ex stock", "immediate", "collect", "collection"), 0),
    **dict.fromkeys(
        ("sofort", "sofort lieferbar", "ab lager", "auf lager", "op voorraad", "en stock", "disponible"), 0
    ),
    **dict.fromkeys(("disponibile", "na stanie", "i lager", "på lager", "em stock", "skladem", "varastossa"), 0),
    **dict.fromkeys(("next day", "overnight", "tomorrow", "24h"), 1),
    **dict.fromkeys(("a week", "one week"), 7),
    **dict.fromkeys(("a fortnight", "two weeks"), 14),
}
_DATE = re.compile(r"(\d{1,4})(?:st|nd|rd|th)?[./\- ]([^\W\d_]{3,9}|\d{1,2})\.?[./\- ,]\s?(\d{2,4})")
_MONTHS_IN_ORDER = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
_MONTH_NAMES = {name: place for place, name in enumerate(_MONTHS_IN_ORDER, start=1)}
_ONE = frozenset(("pcs", "pieces", "stk", "stueck", "units", "off"))
_PIECES = frozenset(
    (
        "pcs",
        "pc",
        "off",
        "pieces",
        "piece",
        "stk",
        "x",
        "of",
        "pack",
        "box",
        "set",
        "per",
        "units",
        "nos",
        "left",
        "st",
        "szt",
        "stuks",
        "pz",
    )
)


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


@lru_cache(maxsize=_REMEMBERED)
def count(value: Value) -> int | None:
    """Whole pieces: "4", "4 pcs", "set of 4", "pair"."""
    if isinstance(value, Decimal):
        return _whole(value)
    if not isinstance(value, str) or re.search(r"\d\s?[.,/\-]\s?\d|^\s*-", value):
        return None
    said = plain(value)
    words = lexicon.headings().prices
    if said in _ONE:
        return 1
    named = {"pair": 2, "dozen": 12, "each": 1}
    for kind, pieces in named.items():
        if said in words[kind] and not said.isdigit():
            return pieces
    found = re.findall(r"[0-9]+", said)
    rest = set(re.sub(r"[0-9]+", " ", said).split()) - _PIECES
    return int(found[0]) if len(found) == 1 and not rest and len(found[0]) <= 6 else None


def _whole(value: Decimal) -> int | None:
    return int(value) if 0 <= value <= MOST and value == value.to_integral_value() else None


@lru_cache(maxsize=_REMEMBERED)
def stock(value: Value) -> tuple[bool, int | None]:
    """Whether the cell can be read, and the packs to be had (None: no limit said)."""
    said = plain(text(value))
    if said in _ALL:
        return True, None
    if said in _NONE:
        return True, 0
    least = re.fullmatch(r"(?:over |more than |> ?)?([0-9]{1,6}) ?\+?", text(value).casefold().strip())
    known = int(least[1]) if least else count(value)
    return known is not None, known


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
    return _SOON[said] if said in _SOON else _span(value, times, _DAYS)


@lru_cache(maxsize=_REMEMBERED)
def months(value: Value, times: int = 1) -> int | None:
    """Months of warranty; days are counted by thirty, rounded down."""
    said = plain(text(value))
    if said in _NONE or said == "no warranty":
        return 0
    found = re.fullmatch(r"([0-9]{1,4}) ?(?:d|days?|tage?)", said)
    return int(found[1]) // 30 if found else _span(value, times, _MONTHS)


def _span(value: Value, times: int, units: Mapping[str, int]) -> int | None:
    if isinstance(value, Decimal):
        return _whole(value * times)
    found = _SPAN.fullmatch(text(value).casefold().strip().rstrip("."))
    if not found:
        return None
    longest = max(int(found[1]), int(found[2] or 0))
    unit = found[3] or ""
    if unit.startswith("h"):
        return -(-longest // 24) if units is _DAYS else None
    if unit and not unit.startswith(("work", "bus", "arbeit")):
        each = _IRREGULAR.get(unit, "") or unit[0]
        return longest * units[each] if each in units else None
    return longest * times


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
    return int(written) if written.isdecimal() else _MONTH_NAMES.get(written.casefold()[:3], 0)


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
    place = 0
    while place < len(words):
        lengths = known.lengths.get(words[place], ())
        phrases = (" ".join(words[place : place + length]) for length in lengths)
        phrase = next((each for each in phrases if each in known.strong), "")
        if phrase:
            if known.strong[phrase] and place and words[place - 1] in ("not", "non", "never"):
                return None, " ".join(words), "says what it is not"
            found.add(known.strong[phrase])
        else:
            rest.append(words[place])
        place += max(1, len(phrase.split()))
    if not found and not strong_only:
        found = {known.weak[word] for word in rest if word in known.weak}
    if "" in found:
        return None, " ".join(rest), "sold as not working"
    if len(found) > 1:
        return None, " ".join(rest), f"says {' and '.join(sorted(found))} at once"
    if not found:
        return None, written, "no condition that is known"
    return cast("Condition", found.pop()), " ".join(rest), ""
