"""Whether a price has the tax in it, as headings, cells and lines of text say it; and adding it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Context, Decimal
from functools import cache
from typing import Literal

from optimiser.quote_import import lexicon, numbers

Mark = Literal["", "with", "without", "inside"]
"""What is said of the tax: nothing, it is in, it is to be added, or the figure is what is in it already."""
_YES, _NO = ("yes", "y", "true"), ("no", "n", "false")
YES_OR_NO = (*_YES, *_NO)
_DAYS = r"(?:days?|tage?n?|jours?|dagen|dagar|dage|d[ií]as?|giorni|gg|dni)"
_PAYABLE = re.compile(
    rf"\b(?:net à payer|\d+ {_DAYS} (?:strictly )?nett?o?|nett?o? (?:in |within )?\d+(?: {_DAYS})?"
    r"|nett?o? (?:monthly|cash|kasse)|strictly nett?)\b"
)
_EXACT = Context(prec=60)
NOT = frozenset((
    "not", "no", "never", "dont", "doesnt", "arent", "isnt", "nicht", "kein", "keine", "non", "pas", "ne", "niet",
    "nie", "inte", "ej", "ikke", "não",
))  # fmt: skip
"""Words that deny what stands behind them."""
_FRENCH = frozenset(("ht", "ttc"))
_COMPOUND = re.compile(r"\b(brutto|netto)(?=prei|pri[sj]|betr|bedr|bel[oø]|einzel|gesamt|verkauf)")


def said(words: Sequence[str], *, alone: bool = False) -> tuple[Mark, list[str]]:
    """What the words say of the tax, and the words that are left.

    ``alone``: "inc" and "ex" count without a word for tax beside them. ``words`` are plain.
    """
    known = lexicon.headings().tax
    words = _without_net(words)
    places = [place for place, word in enumerate(words) if word in known["words"]]
    for place in places:
        for mark, key in (("inside", "inside"), ("without", "without"), ("with", "with")):
            phrases = known[key] | known.get(f"{key}_beside", frozenset())
            if key != "inside" and words[place] in known["s_is_with"]:
                phrases ^= {"s"}
            span = _beside(words, place, phrases)
            if span is not None:
                if mark == "with" and NOT.intersection(words[max(0, span[0] - 3) : span[0]]):
                    mark = "without"  # noqa: PLW2901 - "not VAT inclusive"
                elif mark == "without" and NOT.intersection(words[max(0, place - 1) : place]):
                    return "", list(words)  # "no VAT to add"
                return mark, [*words[: span[0]], *words[span[1] :]]  # type: ignore[return-value]
    for mark in ("without", "with") if not places else ():
        phrases = known[f"{mark}_alone"] | (known[mark] if alone else frozenset())
        for place, word in enumerate(words):
            if word in phrases:
                return mark, [*words[:place], *words[place + 1 :]]  # type: ignore[return-value]
    return "", list(words)


def _without_net(words: Sequence[str]) -> Sequence[str]:
    """The words without "net" where it says that the discount is off: "Prix net HT", "Prezzo netto IVA incl."."""
    known = lexicon.headings().tax
    if not _FRENCH.isdisjoint(words):
        return [word for word in words if word not in ("net", "nette", "nets", "nettes")]
    threes = zip(words, words[1:], words[2:], strict=False)
    is_less = (net in known["without_alone"] and tax in known["words"] and w in known["with"] for net, tax, w in threes)
    place = next((place for place, less in enumerate(is_less) if less), len(words))
    return [*words[:place], *words[place + 1 :]]


def _beside(words: Sequence[str], place: int, phrases: frozenset[str]) -> tuple[int, int] | None:
    """Where the word for tax with a phrase before or behind it begins and ends."""
    for length in (2, 1):
        before = max(0, place - length)
        if place - before == length and " ".join(words[before:place]) in phrases:
            return before, place + 1
        if " ".join(words[place + 1 : place + 1 + length]) in phrases and len(words) > place + length:
            return place, place + 1 + length
    return None


def in_cell(text: str, heading: Mark = "") -> Mark:
    """Whether a cell says that the tax is in the price: "inc", "plus 20%", or yes and no to what its heading says."""
    said_in_it = text.casefold().strip()
    if said_in_it in (*_YES, *_NO):
        return "with" if (said_in_it in _YES) == (heading != "without") else "without"
    without_rate = numbers.PERCENT.sub(" ", said_in_it)
    mark, rest = said(without_rate.replace("+", " plus ").replace(".", "").split(), alone=True)
    return "" if rest or mark == "inside" else mark


def without_terms(words: str) -> str:
    """Plain words without those that say when a bill is to be paid: "30 days net" says nothing of the tax."""
    return _PAYABLE.sub(" ", words)


@cache
def _to_come() -> re.Pattern[str]:
    return lexicon.any_of(lexicon.headings().tax["to_come"])


def in_line(text: str) -> Mark:
    """What a line of text says of the tax in all prices, whatever rate and little words stand between."""
    between = lexicon.headings().tax["between"]
    plainly = without_terms(lexicon.plain(numbers.PERCENT.sub(" ", text).replace("+", " plus ")))
    plainly = plainly.replace("of which", "thereof")  # "of" by itself says nothing
    plainly = _to_come().sub("extra", plainly)
    words = [word for word in _COMPOUND.sub(r"\1 ", plainly).split() if word not in between]
    known, named = lexicon.headings().heeded, lexicon.headings().tax["words"]
    in_prices = NOT.isdisjoint(words) and any(
        word in named and within in known["within"] and price in known["money"] | known["them"]
        for word, within, price in zip(words, words[1:], words[2:], strict=False)
    )
    mark = said(words)[0] or ("with" if in_prices else "")  # "VAT is in the prices"
    of_all = mark == "inside" and not lexicon.headings().rows["every"].isdisjoint(words)
    return "with" if of_all else mark  # "IVA incluido en todos los importes"


def names_tax(words: Sequence[str]) -> bool:
    """Whether a word for tax is among them."""
    return any(word in lexicon.headings().tax["words"] for word in words)


def added(net: Decimal, rate: Decimal) -> Decimal:
    """The price with ``rate`` percent on top, exact."""
    return _EXACT.divide(_EXACT.multiply(net, 100 + rate), Decimal(100))
