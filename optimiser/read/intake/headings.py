"""One heading of a sheet: the column that it means, and what it says of tax and currency."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from optimiser.model.intake import How
from optimiser.money import Currency
from optimiser.read import sheets
from optimiser.read.intake import currencies, lexicon, taxes
from optimiser.read.intake.lexicon import plain
from optimiser.read.intake.taxes import Mark

CLOSE_HEADING = 86.0
"""Likeness in percent from which a heading is a known one spelled wrongly. Our own figure, no published source."""
_SHORTEST, _LONGEST = 4, 60
_PER_DAY = {"week": 7, "weeks": 7, "wks": 7, "wochen": 7}
_PER_MONTH = {"year": 12, "years": 12, "yrs": 12, "yr": 12, "jahre": 12}
PRICES = ("price", "price_each", "unit_price")
MONEY = (*PRICES, "deposit", "tax_rate", "tax_amount", "tax_said", "tax", "currency")
"""Columns where two candidates are a doubt and never a choice."""
COLUMNS = (*sheets.QUOTE_COLUMNS, "price_each", "tax_rate", "tax_amount", "tax_said")
"""What a heading can be told to be."""
IGNORE = "ignore"


@dataclass(frozen=True)
class Meaning:
    """What a heading says. ``column`` is empty where it is not known; ``times`` turns its unit into days or months."""

    column: str
    how: How | None = None
    likeness: float = 0.0
    tax: Mark = ""
    currency: str = ""
    times: int = 1

    @property
    def weight(self) -> float:
        """How much it speaks for a line of headings."""
        known = {How.TOLD: 1.5, How.EXACT: 1.0, How.SYNONYM: 1.0, How.CLOSE: 0.5}
        return 0.0 if self.how is None else known.get(self.how, 0.0) if self.column != IGNORE else 0.2


@lru_cache(maxsize=8192)
def meaning(text: str, currency: Currency) -> Meaning:
    """The meaning of a heading."""
    if len(text) > _LONGEST:
        return Meaning("")
    mark, rest = currencies.in_heading(text, currency)
    words = plain(rest.replace("%", " percent ").replace("+", " plus ")).split()
    name = " ".join(words)
    found = _known(name) or _with_tax(words) or _with_unit(words) or _close(name)
    if found is None:
        return Meaning("")
    return replace(found, currency=mark)


def _known(name: str) -> Meaning | None:
    """A heading that a list has."""
    words = lexicon.headings()
    column = words.columns.get(name)
    if column is not None:
        return Meaning(column, How.EXACT if name == plain(column) else How.SYNONYM, 100.0)
    if name in words.left_out:
        return Meaning(IGNORE, How.SYNONYM, 100.0)
    return Meaning("tax", How.SYNONYM, 100.0) if name in words.tax["words"] else None


def _with_tax(words: list[str]) -> Meaning | None:
    """Such as "Price ex VAT", "VAT %", "inc VAT", "Net"."""
    tax = lexicon.headings().tax
    mark, rest = taxes.said(words)
    if not mark and not taxes.names_tax(words):
        mark, rest = taxes.said(words, alone=True)
    if mark == "inside":
        return Meaning(IGNORE, How.SYNONYM, 100.0)
    if mark:
        price = Meaning("price", How.SYNONYM, 100.0) if not rest else _known(" ".join(rest))
        return replace(price, tax=mark) if price is not None and price.column in PRICES else None
    if not taxes.names_tax(words):
        return None
    about = set(words) - tax["words"] - {"of", "the", "code"}
    if about and about <= tax["rate"]:
        return Meaning("tax_rate", How.SYNONYM, 100.0)
    if about and about <= tax["amount"]:
        return Meaning("tax_amount", How.SYNONYM, 100.0)
    return None if about else Meaning("tax", How.SYNONYM, 100.0)


def _with_unit(words: list[str]) -> Meaning | None:
    """Such as "Lead time (weeks)", "Guarantee years"."""
    if len(words) < 2:
        return None
    found = _known(" ".join(words[:-1]))
    unit = words[-1]
    if found is None or found.column not in ("lead_days", "warranty_months"):
        return None
    table = _PER_DAY if found.column == "lead_days" else _PER_MONTH
    plural = ("days", "day", "tage") if found.column == "lead_days" else ("months", "month", "mths", "monate")
    return replace(found, times=table[unit]) if unit in table else found if unit in plural else None


def _close(name: str) -> Meaning | None:
    """A heading that is all but a known one; none with other figures in it, and none near two columns."""
    if len(name) < _SHORTEST:
        return None
    from rapidfuzz import fuzz, process  # noqa: PLC0415 - wanted only for headings that no list has

    words = lexicon.headings()
    known = [*words.columns, *words.left_out]
    found = process.extract(name, known, scorer=fuzz.ratio, limit=5, score_cutoff=CLOSE_HEADING)
    columns = {words.columns.get(each, IGNORE) for each, _, _ in found if _figures(each) == _figures(name)}
    if len(columns) != 1 or columns == {IGNORE}:
        return None
    return Meaning(columns.pop(), How.CLOSE, found[0][1])


def _figures(name: str) -> str:
    return "".join(sign for sign in name if sign.isdigit())
