"""Digits as people group them: which sign stands before the decimals, and what a spelling leaves open.

Written here and not left to a library: those that parse prices or numbers by locale choose a reading where two are
possible, and here a choice about money is never made in silence. The tests hold it against the locales of the CLDR.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

NUMBER = (
    # groups between spaces
    r"(?:\d{1,3}(?:[ '\N{RIGHT SINGLE QUOTATION MARK}]\d{3})+(?!\d)"
    r"(?:[.,]\d+|(?:[,.:][-\N{EN DASH}]{1,2}|/[-\N{EN DASH}])(?=\s|$))?"
    r"|\d+[£€$]\d\d(?!\d)"
    r"|\d[\d.,]*(?:[.,:][-\N{EN DASH}]{1,2}|/[-\N{EN DASH}])(?=\s|$)"
    r"|\d[\d.,]*|[.,]\d+)"
)
"""One number, groups and decimals included; ",-" behind it stands for no decimals."""
PERCENT = re.compile(r"(\d{1,2}(?:[.,]\d{1,2})?)\s?(?:%|per ?cent)")
_ONES = (
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve", "thirteen",
    "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
_TENS = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_IN_WORDS = {word: value for value, word in enumerate(_ONES, start=1)} | {w: 10 * n for n, w in enumerate(_TENS, 2)}
_SPELT = re.compile(
    rf"\b(?:(?P<hundreds>a|{'|'.join(_ONES[:9])}) hundred\b(?: (?:and )?(?={'|'.join(_ONES + _TENS)}))?)?"
    rf"(?:(?P<tens>{'|'.join(_TENS)})\b(?:[ -](?=(?:{'|'.join(_ONES[:9])})\b))?)?"
    rf"(?P<ones>(?:(?<!ty[ -])(?:{'|'.join(_ONES[9:])})|{'|'.join(_ONES[:9])})\b)?",
    re.IGNORECASE,
)
_BROKEN_GROUPS = re.compile(r"\d{1,2}(\D\d{2})*\D\d{3}|\d{1,3}(\D\d{3})+")
_SPACES = re.compile(r"[ '\N{RIGHT SINGLE QUOTATION MARK}]")
_OTHER = str.maketrans(".,", ",.")
_DASHES = "-\N{EN DASH}"


@dataclass(frozen=True)
class Digits:
    """A number as written. ``value`` is None where the sign in it can be read both ways.

    ``tells`` is the decimal sign that this spelling proves, "" where it proves none; ``grouped`` and ``parted`` are the
    two readings of a spelling that can be both.
    """

    value: Decimal | None
    tells: str = ""
    grouped: Decimal = Decimal(0)
    parted: Decimal = Decimal(0)
    sign: str = ""

    def under(self, decimal: str) -> Decimal | None:
        """The value once the decimal sign is known; None while it is not."""
        if self.value is not None:
            return self.value
        if not decimal:
            return None
        return self.parted if decimal == self.sign else self.grouped


def digits(written: str) -> Digits | None:
    """What the spelling says. None where it is no number as anyone writes one ("1,23,4", "1.2.3")."""
    body = written.rstrip(_DASHES)
    if body != written:
        return _whole(body)
    for sign in "£€$":
        if sign in body:
            return Digits(Decimal(body.replace(sign, ".")))
    bare = _SPACES.sub("", body)
    spaced = bare != body
    commas, points = bare.count(","), bare.count(".")
    if len(bare) > 20:
        return None
    if not commas + points:
        return Digits(Decimal(bare))
    if commas and points:
        return _both(bare)
    sign = "," if commas else "."
    return _one(bare, sign, spaced) if commas + points == 1 else _groups(bare, sign, spaced)


def _whole(body: str) -> Digits | None:
    """A number of which a stroke says that nothing stands behind its decimal sign: what else stands in it is groups."""
    bare = _SPACES.sub("", body.rstrip(",.:/"))
    signs = set(re.sub(r"\d", "", bare))
    if len(signs) > 1 or (signs and not _BROKEN_GROUPS.fullmatch(bare)):
        return None
    decimal = body[-1:] if body[-1:] in ",." else ""
    return Digits(Decimal(re.sub(r"\D", "", bare)), tells="".join(signs).translate(_OTHER) or decimal)


def _groups(bare: str, sign: str, spaced: bool) -> Digits | None:
    """One sign, repeated: it stands between groups, so the other one stands before decimals."""
    if spaced or not _BROKEN_GROUPS.fullmatch(bare):
        return None
    return Digits(Decimal(bare.replace(sign, "")), tells="." if sign == "," else ",")


def _both(bare: str) -> Digits | None:
    """Both signs: the last one stands before the decimals."""
    decimal = max(",.", key=bare.rfind)
    whole, _, rest = bare.rpartition(decimal)
    if decimal in whole or not rest.isdecimal() or not _BROKEN_GROUPS.fullmatch(whole):
        return None
    return Digits(Decimal(re.sub(r"\D", "", whole) + "." + rest), tells=decimal)


def _one(bare: str, sign: str, spaced: bool) -> Digits | None:
    whole, _, rest = bare.partition(sign)
    if not rest:
        return Digits(Decimal(whole))
    parted = Decimal(f"{whole or '0'}.{rest}")
    if len(rest) != 3 or spaced or not 1 <= len(whole) <= 3 or whole.startswith("0"):
        return Digits(parted, tells=sign)
    return Digits(None, grouped=Decimal(whole + rest), parted=parted, sign=sign)


def in_figures(text: str) -> str:
    """A text whose only number stands in words, with figures in its place: "35 quid" for "thirty five quid"."""
    spelt = [found for found in _SPELT.finditer(text) if found[0]]
    if len(spelt) != 1 or any(map(str.isdecimal, text)):
        return text
    said = [(spelt[0][group] or "").casefold() for group in ("hundreds", "tens", "ones")]
    hundreds, tens, ones = (_IN_WORDS.get(word, 0) for word in said)
    number = 100 * (hundreds or said[0] == "a") + tens + ones
    return f"{text[: spelt[0].start()]}{number}{text[spelt[0].end() :]}"


def spelt(text: str) -> list[Decimal]:
    """All numbers in words of a text: "thirty or forty pounds"."""
    found = (in_figures(each[0]) for each in _SPELT.finditer(text) if each[0])
    return [Decimal(figures) for figures in found if figures.isdecimal()]


def told_by(spellings: Iterable[Digits]) -> tuple[str, bool]:
    """The one decimal sign that the spellings prove, and whether any of them needs one.

    "" where they prove none, "both" where they prove either.
    """
    signs: set[str] = set()
    open_ones = False
    for each in spellings:
        signs.add(each.tells)
        open_ones = open_ones or each.value is None
    signs.discard("")
    return ("both" if len(signs) > 1 else next(iter(signs), "")), open_ones


def percent(written: object) -> Decimal | None:
    """A rate in percent: "20", "20 %", "17,5%", 0.2 for twenty. None where it is none or not from 0 to 100."""
    if isinstance(written, Decimal):
        value: Decimal | None = written
    else:
        found = re.fullmatch(rf"({NUMBER})\s*%?", str(written).strip())
        read = digits(found[1]) if found else None
        value = None if read is None else read.value
    if value is None:
        return None
    if 0 < value < 1 and not (isinstance(written, str) and "%" in written):
        value *= 100
    return value if 0 <= value <= 100 else None
