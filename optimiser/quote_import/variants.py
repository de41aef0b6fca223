"""Several columns of prices side by side: new, recon, used; nearside, offside; 1+, 5+, 10+."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from optimiser.model.imports import How
from optimiser.money import Currency
from optimiser.quote_import import currencies, lexicon, pieces, row_values, taxes
from optimiser.quote_import.headings import PRICES, Meaning, Variant, meaning, said_besides
from optimiser.quote_import.lexicon import plain

SIDED = ("front", "rear", "left", "right", "nearside", "offside")


def marked(texts: Sequence[str], meanings: Sequence[Meaning], currency: Currency) -> list[Meaning]:
    """The meanings, with each of several price columns marked with what it is for."""
    for family in (_condition, _side, _pieces):
        found = {}
        for index, (text, each) in enumerate(zip(texts, meanings, strict=True)):
            variant = family(text, currency) if text and each.how is not How.TOLD else None
            if variant is not None:
                found[index] = variant
        prices = sum(each.column in PRICES for each in meanings)
        several = len(set(found.values())) > 1 or (family is _pieces and len(found) == prices == 1)
        if several and (family is not _pieces or not all(texts[index].strip().isdecimal() for index in found)):
            others = [i for i, each in enumerate(meanings) if each.column in PRICES and i not in found]
            if family is _pieces and len(others) == 1 and min(each.pieces for each in found.values()) > 1:
                found[others.pop()] = Variant(pieces=1)  # the price beside "10+" is that of one
            if others:
                continue
            said = {index: said_besides(texts[index], currency) for index in found}
            if family is _pieces:
                said = _alike(said)
            return [
                replace(said[index], column="price", how=How.SYNONYM, likeness=100.0, variant=found[index])
                if index in found
                else each
                for index, each in enumerate(meanings)
            ]
    return _of_packs(meanings)


def _alike(said: Mapping[int, Meaning]) -> dict[int, Meaning]:
    """What one of several bands says of tax and currency holds for those that say nothing."""
    taxes_said, currencies_said = {each.tax for each in said.values()}, {each.currency for each in said.values()}
    tax, currency = max(taxes_said), max(currencies_said)
    if len(taxes_said - {""}) > 1 or len(currencies_said - {""}) > 1:
        return dict(said)
    return {index: replace(each, tax=tax, currency=currency) for index, each in said.items()}


def _of_packs(meanings: Sequence[Meaning]) -> list[Meaning]:
    """Prices of one piece and of packs of different sizes side by side: "Price each", "Price for 10"."""
    prices = [i for i, each in enumerate(meanings) if each.column in PRICES and each.how is not How.TOLD]
    packs = {meanings[index].pack or 1 for index in prices}
    alike = len({(meanings[index].tax, meanings[index].currency) for index in prices}) == 1
    if not alike or not 1 < len(packs) == len(prices) or any(each.column == "pack" for each in meanings):
        return list(meanings)
    variants = {index: Variant(pieces=meanings[index].pack or 1, whole=True) for index in prices}
    return [
        replace(each, column="price", variant=variants[index]) if index in variants else each
        for index, each in enumerate(meanings)
    ]


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
    return Variant(side=side) if side in SIDED else None


def _pieces(text: str, currency: Currency) -> Variant | None:
    _, rest = currencies.in_heading(text, currency)
    found = pieces.BAND.search(rest.casefold().strip())
    if found is None or not int(found["pieces"]):
        return None
    before, marked = rest.strip()[: found.start()].strip(), found[0].strip() != found["pieces"]
    of_price = not before or (marked and meaning(before, currency).column in PRICES)  # "Price 2" is another price
    return Variant(pieces=int(found["pieces"])) if of_price else None
