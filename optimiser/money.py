"""Money as whole minor units of an ISO 4217 currency: read it, write it, share it without losing a unit.

No float ever holds money.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Context, Decimal, Inexact, InvalidOperation

from optimiser.errors import CallError

GREATEST_MINOR = 10**12
MOST_SHOWN = 60
_EXACT = Context(prec=40, traps=[Inexact])
"""Arithmetic that raises rather than rounds."""
NO_CURRENCY = "XXX"
"""ISO 4217's own code for "no currency involved": a job that names none is reckoned in two decimal places."""

_NO_PLACES = "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF"
_THREE_PLACES = "BHD IQD JOD KWD LYD OMR TND"
_FOUR_PLACES = "CLF UYW"
_TWO_PLACES = """
AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BMD BND BOB BOV BRL BSD BTN BWP BYN BZD CAD CDF CHE CHF CHW CNY COP COU
CRC CUP CVE CZK DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GTQ GYD HKD HNL HTG HUF IDR ILS INR IRR JMD KES
KGS KHR KPW KYD KZT LAK LBP LKR LRD LSL MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MXV MYR MZN NAD NGN NIO NOK NPR
NZD PAB PEN PGK PHP PKR PLN QAR RON RSD RUB SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC SYP SZL THB TJS TMT TOP
TRY TTD TWD TZS UAH USD USN UYU UZS VED VES WST XAD XCD XCG YER ZAR ZMW ZWG XXX
"""

PLACES: dict[str, int] = {
    code: places
    for places, codes in ((0, _NO_PLACES), (2, _TWO_PLACES), (3, _THREE_PLACES), (4, _FOUR_PLACES))
    for code in codes.split()
}
"""Decimal places by currency code, ISO 4217 list one of 2026-01-01."""

_GROUPED = re.compile(r"-?\d{1,3}(?:(?:,\d{2,3})*,\d{3}|(?:\.\d{3})+)")
"""Thousands parted by commas, lakhs too, or by points."""
COMMA_PARTS_THOUSANDS = ("GBP", "INR", "USD")
"""Where a sign stands before the figures people part thousands by commas alone: £1,200 (common practice)."""
_BELOW_A_THOUSAND = re.compile(r"-?[1-9]\d{0,2}")
_EXPONENT = re.compile(r"\d[eE][+-]?\d")
SIGNS = {"£": "GBP", "€": "EUR", "$": "USD", "zł": "PLN", "Kč": "CZK", "Ft": "HUF", "₹": "INR", "¥": "JPY", "₺": "TRY"}
"""Signs that are written for one currency more than for any other."""
WORDS = {
    "pounds": "GBP", "pound": "GBP", "quid": "GBP", "euros": "EUR", "euro": "EUR", "dollars": "USD", "dollar": "USD",
}  # fmt: skip
"""What people call a currency."""
_BARE = ", without signs or spaces"


@dataclass(frozen=True)
class Currency:
    """A currency of ISO 4217 and its number of decimal places."""

    code: str
    places: int

    @classmethod
    def of(cls, code: str) -> Currency:
        """The currency with this code. Raises ``ValueError`` for a code that ISO 4217 does not list."""
        if code not in PLACES:
            raise ValueError(f"{code!r} is no currency code of ISO 4217")
        return cls(code, PLACES[code])

    def text(self, minor: int) -> str:
        """Minor units as a decimal string in the currency's places: 1250 in GBP is "12.50"."""
        if self.places == 0:
            return str(minor)
        whole, part = divmod(abs(minor), 10**self.places)
        return f"{'-' if minor < 0 else ''}{whole}.{part:0{self.places}d}"

    def decimal(self, minor: int) -> Decimal:
        """Minor units as an exact decimal number of the currency."""
        return Decimal(minor).scaleb(-self.places)


def parse(value: object, currency: Currency) -> int:
    """A decimal string or number as minor units.

    Raises ``ValueError`` that says what is wrong: no number, not finite, too many decimal places, too large.
    """
    if isinstance(value, bool) or not isinstance(value, str | int | Decimal):
        raise ValueError(f"an amount such as {currency.text(1250)!r} is expected")
    try:
        amount = Decimal(_plain(value.strip()) if isinstance(value, str) else value)
    except InvalidOperation:
        raise ValueError(f"an amount such as {currency.text(1250)!r} is expected{_BARE}") from None
    if not amount.is_finite():
        raise ValueError("an amount that is a finite number is expected")
    # the exponent is judged first: arithmetic on 1e9999999 overflows, and on 1e-9999999 it comes to 0
    if amount and amount.adjusted() > len(str(GREATEST_MINOR)):
        raise ValueError(f"the amount is larger than the tool reckons with ({currency.text(GREATEST_MINOR)})")
    try:
        minor = _EXACT.to_integral_exact(_EXACT.scaleb(amount, currency.places))
    except Inexact:
        raise ValueError(f"{currency.code} has {currency.places} decimal places") from None
    if abs(minor) > GREATEST_MINOR:
        raise ValueError(f"the amount is larger than the tool reckons with ({currency.text(GREATEST_MINOR)})")
    return int(minor)


def spoken(text: str, currency: Currency) -> int:
    """An amount as people type it: with the currency's sign, code or name, a comma or a point before the decimals.

    Raises ``ValueError`` as ``parse`` does, and where a comma or a point may part thousands as well as decimals.
    """
    bare = text.strip().replace("\N{MINUS SIGN}", "-")
    signed = currency.code in COMMA_PARTS_THOUSANDS and SIGNS.get(bare[:1]) == currency.code
    for sign in (
        *(sign for sign, code in SIGNS.items() if code == currency.code),
        currency.code,
        currency.code.lower(),
    ):
        bare = bare.removeprefix(sign).removesuffix(sign).strip()
    bare = " ".join(word for word in bare.split() if WORDS.get(word.lower()) != currency.code)
    last = max(bare.rfind(","), bare.rfind("."))
    whole, decimals = (bare, "") if last < 0 else (bare[:last], bare[last + 1 :])
    if last >= 0 and len(decimals) == 3 and currency.places != 3:
        thousands = signed and bare[last] == "," and _BELOW_A_THOUSAND.fullmatch(whole)
        if thousands or "," in whole or "." in whole or currency.places == 0:
            whole, decimals = bare, ""
        else:
            raise ValueError(_of_three_places(whole, decimals, bare[last], currency))
    if _EXPONENT.search(bare):
        raise ValueError("write it out in figures, without an exponent")
    if _GROUPED.fullmatch(whole):
        whole = whole.replace(",", "").replace(".", "")
    return parse(f"{whole}.{decimals}" if decimals else whole, currency)


def _of_three_places(whole: str, decimals: str, sign: str, currency: Currency) -> str:
    """What is wrong with an amount that has three figures behind its one sign, in a currency of other places."""
    thousands = f"{whole}{decimals}.{'':0<{currency.places}}"
    short = decimals.rstrip("0").ljust(currency.places, "0")
    if len(short) == currency.places:
        return f"it may mean {thousands} or {whole}.{short}: write the one that is meant"
    named = "comma" if sign == "," else "point"
    return f"{currency.code} has {currency.places} decimal places: for {thousands} leave out the {named}"


def _in_another(text: str, currency: Currency) -> str | None:
    """The sign or the code of another currency that an amount is written with; small letters are words, not codes."""
    words = [word for word in re.split(r"[\d.,'\s-]+", text.strip()) if word]
    found = words[0] if len(words) == 1 else ""
    code = SIGNS.get(found) or WORDS.get(found.lower(), found)
    return found if code in PLACES and code != currency.code else None


def _around(currency: Currency) -> str:
    """What may stand before or behind an amount."""
    signs = [next((sign for sign, code in table.items() if code == currency.code), "") for table in (SIGNS, WORDS)]
    taken = " or ".join(filter(None, (*signs, currency.code)))
    return _BARE if currency.code == NO_CURRENCY else f"; {taken} may stand before or behind it"


def given(text: str, currency: Currency) -> int:
    """An amount that a person gives, as ``spoken``. Raises ``CallError`` where it is none, or below zero."""
    shown = repr(text.replace("\N{MINUS SIGN}", "-")[:MOST_SHOWN])
    try:
        minor = spoken(text, currency)
    except ValueError as error:
        other, code = _in_another(text, currency), currency.code
        if other and code != NO_CURRENCY:
            mend = f"The job is in {code}: write what it comes to in that, without {other}."
            raise CallError(f"{shown} is no amount in {code}.", mend) from None
        said = str(error).replace(_BARE, _around(currency))
        raise CallError(f"{shown} is no amount.", f"{said[:1].upper()}{said[1:]}.") from None
    if minor < 0:
        raise CallError(f"{shown} is below zero.", "Give the amount without a sign.")
    return minor


def _plain(written: str) -> str:
    """The text where it is written as amounts are: Python would read "1_0" as ten, and digits of any script."""
    return written if written.isascii() and "_" not in written else ""


def share(total: int, weights: Sequence[int]) -> list[int]:
    """Share ``total`` minor units by ``weights`` so that the shares sum to it exactly.

    Largest remainder, earlier places first; equal shares where every weight is 0. ``weights`` are whole and not
    negative, at least one of them.
    """
    scale = sum(weights)
    if scale == 0:
        weights, scale = [1] * len(weights), len(weights)
    shares = [total * weight // scale for weight in weights]
    by_remainder = sorted(range(len(weights)), key=lambda i: (-(total * weights[i] % scale), i))
    for i in by_remainder[: total - sum(shares)]:
        shares[i] += 1
    return shares


def half_up(amount: float) -> int:
    """To the nearest whole number, half up; what floats add at the eighth place and below is noise, not a half."""
    return math.floor(round(amount, 6) + 0.5)


def sums_with(sums: int, price_minor: int, greatest: int, pieces: int | None = None) -> int:
    """Sums of prices as the bits of a whole number, up to ``greatest``, with so many pieces more at one price.

    ``pieces`` None: as many as anybody wants. A price of nothing adds none.
    """
    left = 0 if price_minor <= 0 else greatest // price_minor
    left, at_once, all_bits = left if pieces is None else min(left, pieces), 1, (2 << greatest) - 1
    while left > 0:
        step = min(at_once, left)
        sums |= sums << step * price_minor & all_bits
        left, at_once = left - step, 2 * at_once
    return sums
