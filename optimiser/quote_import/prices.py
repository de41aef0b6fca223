"""Money as people write it in a cell: the amount, what it buys, its currency, its tax; or why there is no price."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Context, Decimal
from functools import lru_cache
from typing import TypeAlias

from optimiser.money import GREATEST_MINOR, Currency
from optimiser.quote_import import lexicon, taxes
from optimiser.quote_import.numbers import NUMBER, Digits, digits, in_figures
from optimiser.quote_import.taxes import Mark
from optimiser.sheet_files import currencies
from optimiser.sheet_files.grid import Marked, UnfitCell, Value

_ROUND = Context(prec=60, rounding=ROUND_HALF_UP)
_TOKEN = re.compile(rf"(?P<number>{NUMBER})|(?P<sign>{currencies.SIGN.pattern})|(?P<word>[^\W\d_]+)|(?P<mark>[^\s\w])", re.IGNORECASE)  # noqa: E501 # fmt: skip
_MONEY = rf"(?:[£€$] ?|kr\.? )?{NUMBER}(?: ?(?:[£€]|(?:kr|zł|eur|sek|dkk|pln)\b\.?))?"
_TWO_AMOUNTS = re.compile(rf"([^\d£€$]*?) ?({_MONEY})([^\d£€$]+?)({_MONEY})([^\d£€$]*)", re.IGNORECASE)
_NO_DECIMALS = re.compile(r"\d[:,.]-")
_ORE = re.compile(r"(?<![\d:])(\d{1,5}):(\d\d)(?=\s?kr\b)", re.IGNORECASE)
"""A colon before the decimals of crowns: "49:50 kr"."""
_JOINED = re.compile(r"(?<=\d)(?:er)?-(?=[^\W\d_])")
"""Between a number of pieces and what holds them: "4er-Satz", "4-pack"."""
_LONGEST = 80
_DROPPED = frozenset("()[]:;.\"'")
_MOST_IN_A_PACK = 10_000
_PER, _A = frozenset(("per", "pro", "je")), frozenset(("a", "an"))
_BESIDE = re.compile(r"\s?[/;]\s?|,?\s(?:or|oder|ou|of|o|oppure|lub|albo|eller)\s", re.IGNORECASE)
"""Between two prices in one cell."""


@dataclass(frozen=True)
class AsWritten:
    """A price as written. ``pack``: the pieces that it names, ``per``: whether it is for each or for the pack."""

    amount: Digits
    pack: int | None = None
    per: str = ""
    currency: str = ""
    tax: Mark = ""
    small: bool = False
    exact: bool = False
    """A spreadsheet's own number: nothing about its digits is open."""


@dataclass(frozen=True)
class NoPrice:
    """A cell without a price in it: none is asked yet (``asked`` false), or none can be read."""

    reason: str
    asked: bool = False


Price: TypeAlias = AsWritten | NoPrice


def price(value: Value) -> Price:
    """What a price cell says."""
    if value is None:
        return NoPrice("no price")
    if isinstance(value, UnfitCell):
        return NoPrice(value.reason, asked=True)
    if isinstance(value, Marked):
        return replace(_of_number(value.number), currency=value.currency) if value.number >= 0 else _negative()
    if isinstance(value, Decimal):
        return _of_number(value) if value >= 0 else _negative()
    if isinstance(value, str):
        return _of_text(value)
    return NoPrice("a date where the price should be", asked=True)


def _of_number(value: Decimal) -> AsWritten:
    return AsWritten(Digits(value), exact=True)


def _negative() -> NoPrice:
    return NoPrice("a price below 0", asked=True)


_RAISED = ("<super>", "<sub>")


@lru_cache(maxsize=131_072)  # a large sheet is gone through twice: first for its decimal sign
def _of_text(cell: str) -> Price:
    words = lexicon.headings().prices
    said = lexicon.plain(cell)
    if said in words["none"] or not said:
        return NoPrice(f"no price: {cell[:_LONGEST]}")
    if said in words["free"]:
        return AsWritten(Digits(Decimal(0)), per="free")
    if len(cell) > _LONGEST or len(said) > _LONGEST:
        return NoPrice("a text where the price should be", asked=True)
    if any(unicodedata.decomposition(sign).startswith(_RAISED) for sign in cell):
        return NoPrice("a price with a raised or lowered figure, which may be a footnote", asked=True)
    now = _ORE.sub(r"\1,\2", _now(unicodedata.normalize("NFKC", cell)))
    figures = in_figures(now)
    text = _JOINED.sub(" ", now if figures.isdecimal() else figures)  # "twelve" by itself may be anything
    if text.startswith("(") and text.endswith(")"):
        return _negative()  # as accounts write it
    tokens = [(str(found.lastgroup), found[0]) for found in _TOKEN.finditer(text)]
    return _without_currency(tokens) or NoPrice("a price that cannot be read for certain", asked=True)


def _now(text: str) -> str:
    """Of what was asked before and the less that is asked now the latter: "was £55 now £42", "£42 (was £55)"."""
    found = _TWO_AMOUNTS.fullmatch(text)
    if found is None:
        return text
    words = lexicon.headings().prices
    before, between, behind = (lexicon.plain(found[place]) for place in (1, 3, 5))
    for said, other, now, was in (("now", "was", found[4], found[2]), ("was", "now", found[2], found[4])):
        if between in words[said] and (before in words[other] or not before) and not behind and _is_less(now, was):
            return now
    return text


def _is_less(one: str, other: str) -> bool:
    """Whether one amount is less than the other, both with a currency or both without."""
    pair = (_of_text(one), _of_text(other))
    values = [each.amount.value for each in pair if isinstance(each, AsWritten) and each.amount.value is not None]
    marks = {each.currency for each in pair if isinstance(each, AsWritten)}
    return len(values) == 2 and len(marks) == 1 and values[0] < values[1]


Tokens: TypeAlias = list[tuple[str, str]]


def _without_currency(tokens: Tokens) -> AsWritten | None:
    """Take the currency out; what is left is the amount and words about it."""
    each = lexicon.headings().prices["each"]  # "cad." is each in Italian, CAD the dollar of Canada
    words = {word for kind, word in tokens if kind == "word" and currencies.is_mark(word)}
    marks = {word for kind, word in tokens if kind == "sign"} | {w for w in words if w.isupper() or w not in each}
    marks |= {sign for kind, word in tokens if kind == "number" for sign in "£€$" if sign in word}
    if len({mark.casefold() for mark in marks}) > 1:
        return None
    for place, (_, word) in enumerate(tokens):
        if word in marks:
            beside = place + 1 if tokens[place + 1 : place + 2] and tokens[place + 1][0] == "number" else place - 1
            if beside >= 0 and tokens[beside][0] == "number":
                tokens[beside] = ("money", tokens[beside][1])
    rest = [(kind, word) for kind, word in tokens if word not in marks and word not in _DROPPED]
    read = _without_tax(rest)
    if read is None or (read.small and marks):
        return None
    return replace(read, currency=next(iter(marks), "") or read.currency)


def _without_tax(tokens: Tokens) -> AsWritten | None:
    """Take what is said of the tax out: "+ VAT", "inc VAT", "ex"."""
    words = ["plus" if word == "+" else word.casefold() for _, word in tokens]
    mark, left = taxes.said(words, alone=True)
    if not mark:
        return _amount(tokens)
    rest: Tokens = []
    wanted = list(left)
    for token, word in zip(tokens, words, strict=True):
        if wanted and word == wanted[0]:
            rest.append(token)
            wanted.pop(0)
    read = _amount(rest)
    return None if read is None or mark == "inside" else replace(read, tax=mark)


def _amount(tokens: Tokens) -> AsWritten | None:
    """One number with words about the pieces that it is for, or two numbers: pieces and price."""
    numbers = [place for place, (kind, _) in enumerate(tokens) if kind in ("number", "money")]
    words = [word.casefold() for kind, word in tokens if kind not in ("number", "money") and word != "/"]
    if any(len(word) == 1 and not word.isalnum() and word != "?" for word in words):
        return None
    if len(numbers) == 1:
        return _one_number(tokens[numbers[0]][1], numbers[0], words)
    if len(numbers) == 2:
        return _two_numbers(tokens, numbers)
    return None


def _one_number(number: str, place: int, words: list[str]) -> AsWritten | None:
    amount = digits(number)
    if amount is None:
        return None
    known, said = lexicon.headings().prices, " ".join(words)
    if not said:
        return AsWritten(amount)
    if said in currencies.SMALL and place == 0:
        # "12.50p" is twelve and a half pence to the letter, and to nobody who writes it
        return AsWritten(amount, currency=currencies.SMALL[said], small=True) if number.isdecimal() else None
    ways = {said, *[" ".join(word for word in words if word not in known["little"])][: not place]}
    if ways & known["each"] and place == 0:
        return AsWritten(amount, per="each")
    pieces = {"pair": 2, "dozen": 12, "pack": None, "lump": None}
    kind = next((kind for kind in pieces if ways & known[kind]), None)
    return None if kind is None else AsWritten(amount, pack=pieces[kind], per="pack")


def _two_numbers(tokens: Tokens, places: list[int]) -> AsWritten | None:
    """Such as "2 for 30", "30 per 4", "box of 10 12.50", "12.50 per box of 10", "4 Stück für 10", "lot de 4 à 10 €".

    So many at so much may be the price of one ("3 stuks à 5"), unless they are called a set or a lot.
    """
    known, (one, other) = lexicon.headings().prices, places
    holders = known["pack"] | known["holders"]
    first, second = tokens[one], tokens[other]
    spans = tokens[:one], tokens[one + 1 : other], tokens[other + 1 :]
    before, between, behind = ([word.casefold() for _, word in span if word != "/"] for span in spans)
    all_words = {*before, *between, *behind}
    is_set, link = bool(all_words & holders), between[-1] if between else ""
    of_pieces = {word for word in all_words - holders if word in known["each"] or lexicon.is_count_of_pieces(word)}
    strange = (all_words - holders - of_pieces - known["little"] - known["for"] - _A) | all_words & known["pair"]
    if strange or not (is_set or link in known["for"]):  # "2 par för 100 kr" is for four
        return None
    if not behind and (holders.intersection(before) or of_pieces.intersection(between[:1])):
        return _packed(second[1], first[1]) if first[0] != "money" else None
    if before or of_pieces.intersection(between):
        return None
    if behind or (link in _PER and first[0] == second[0] and first[1].isdecimal() == second[1].isdecimal()):
        return _packed(first[1], second[1]) if second[0] != "money" else None
    return _for(first, second)


def _for(first: tuple[str, str], second: tuple[str, str]) -> AsWritten | None:
    """Pieces for a price or a price for pieces: by the currency, by decimals, else the usual order if that can be."""
    if (first[0] == "money") != (second[0] == "money"):
        amount, pieces = (first, second) if first[0] == "money" else (second, first)
    elif first[1].isdecimal() != second[1].isdecimal():
        pieces, amount = (first, second) if first[1].isdecimal() else (second, first)
    elif first[1].isdecimal() and int(first[1][:9]) < int(second[1][:9]):
        pieces, amount = first, second
    else:
        return None
    return _packed(amount[1], pieces[1])


def _packed(amount: str, pieces: str) -> AsWritten | None:
    read = digits(amount)
    if read is None or not pieces.isdecimal() or len(pieces) > 5 or not 1 <= int(pieces) <= _MOST_IN_A_PACK:
        return None
    return AsWritten(read, pack=int(pieces), per="pack")


def each_of(value: Value) -> list[Value]:
    """The cell; the two in it where it says what one costs and what several together do: "£35 each or £60 the pair"."""
    texts = _BESIDE.split(value) if isinstance(value, str) and isinstance(price(value), NoPrice) else []
    read = [each for each in map(price, texts) if isinstance(each, AsWritten)]
    if not len(read) == len(texts) == 2 or len({each.currency for each in read} - {""}) > 1:
        return [value]
    one, several = sorted(read, key=lambda each: each.pack or 1)
    less, more = one.amount.value, several.amount.value
    sound = one.pack is None and one.per != "pack" and several.pack is not None and one.tax == several.tax
    return [*texts] if sound and less is not None and more is not None and less < more else [value]


def is_amount(value: Value) -> bool:
    """Whether a cell is an amount, with what it is for or without."""
    return isinstance(price(value), AsWritten)


def is_lump(text: str) -> bool:
    """Whether a text says that a price is for several things together: "£70 the lot"."""
    return lexicon.any_of(lexicon.headings().prices["lump"]).search(text) is not None


def is_sum(cell: Value) -> bool:
    """Whether a cell is a price with decimals, a stroke in their place or a currency, as under "unit"."""
    read = price(cell)
    whole = isinstance(cell, str) and _NO_DECIMALS.search(cell) is not None
    return isinstance(read, AsWritten) and (has_decimals(read) or bool(read.currency) or whole)


def number_in(cell: Value, decimal: str = "") -> Decimal | None:
    """The amount in a cell; None where there is none, or where the sign in it may be either."""
    read = price(cell)
    return read.amount.under(decimal) if isinstance(read, AsWritten) else None


def with_sign(cell: Value) -> bool:
    """Whether a cell is an amount with a currency."""
    read = price(cell)
    return isinstance(read, AsWritten) and bool(read.currency)


def in_text(text: str) -> list[Digits]:
    """The amounts with a currency sign beside them in a line of text: they too tell the sign before decimals."""
    marked = re.findall(rf"[£€$]\s?({NUMBER})|({NUMBER})\s?[£€]", unicodedata.normalize("NFKC", text[:2000]))
    return [read for pair in marked if (read := digits((pair[0] or pair[1]).rstrip(".,"))) is not None]


def to_minor(amount: Decimal, currency: Currency) -> int:
    """Minor units, rounded half up. Raises ``ValueError`` beyond what the tool reckons with."""
    if amount and amount.adjusted() > 15:
        raise ValueError("an amount larger than the tool reckons with")
    minor = int(_ROUND.quantize(_ROUND.scaleb(amount, currency.places), Decimal(1)))
    if minor > GREATEST_MINOR:
        raise ValueError("an amount larger than the tool reckons with")
    return minor


def minor_within(amount: Decimal, currency: Currency) -> int | None:
    """Minor units, rounded half up; None beyond what the tool reckons with."""
    try:
        return to_minor(amount, currency)
    except ValueError:
        return None


def places_of(amount: Decimal) -> int:
    """Decimal places that say something."""
    exponent = amount.normalize().as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def has_decimals(written: AsWritten) -> bool:
    """Whether an amount is written with places behind the sign for decimals."""
    value = written.amount.value
    return value is None or places_of(value) > 0 or bool(written.amount.tells)
