"""Several columns of prices side by side: new, recon, used; nearside, offside; 1+, 5+, 10+."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from optimiser.model.imports import How
from optimiser.money import Currency
from optimiser.quote_import import currencies, lexicon, row_values, taxes
from optimiser.quote_import.headings import PRICES, Meaning, Variant, said_besides
from optimiser.quote_import.lexicon import plain

_BREAK = re.compile(
    r"(?:from |ab |qty |price )?(\d{1,5}) ?(?:(\+)|[-\N{EN DASH}] ?\d{1,5}|or more|and over|up)?(?: ?(?:pcs|off|stk))?"
)
_SIDED = ("front", "rear", "left", "right", "nearside", "offside")


def marked(texts: Sequence[str], meanings: Sequence[Meaning], currency: Currency) -> list[Meaning]:
    """The meanings, with each of several price columns marked with what it is for."""
    for family in (_condition, _side, _pieces):
        found = {}
        for index, (text, meaning) in enumerate(zip(texts, meanings, strict=True)):
            variant = family(text, currency) if text and meaning.how is not How.TOLD else None
            if variant is not None:
                found[index] = variant
        several = len(set(found.values())) > 1
        if several and (family is not _pieces or any("+" in texts[index] for index in found)):
            if any(m.column in PRICES and index not in found for index, m in enumerate(meanings)):
                continue
            said = {index: said_besides(texts[index], currency) for index in found}
            return [
                replace(said[index], column="price", how=How.SYNONYM, likeness=100.0, variant=found[index])
                if index in found
                else each
                for index, each in enumerate(meanings)
            ]
    return list(meanings)


def _words(text: str, currency: Currency) -> list[str]:
    """The words of a heading without its currency, its tax and the word price."""
    _, rest = currencies.in_heading(text, currency)
    _, words = taxes.said(plain(rest.replace("+", " plus ")).split(), alone=True)
    columns = lexicon.headings().columns
    return [word for word in words if columns.get(word) not in PRICES]


def _condition(text: str, currency: Currency) -> Variant | None:
    condition, rest, _ = row_values.condition(" ".join(_words(text, currency)), strong_only=True)
    return Variant(condition=condition) if condition is not None and not rest else None


def _side(text: str, currency: Currency) -> Variant | None:
    name = " ".join(_words(text, currency))
    side = lexicon.headings().sides.get(name, "")
    return Variant(side=side) if side in _SIDED else None


def _pieces(text: str, currency: Currency) -> Variant | None:
    _, rest = currencies.in_heading(text, currency)
    found = _BREAK.fullmatch(rest.casefold().strip())
    return Variant(pieces=int(found[1])) if found and int(found[1]) else None
