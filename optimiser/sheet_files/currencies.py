"""Signs and codes of currencies as they stand in cells and headings."""

from __future__ import annotations

import re

from optimiser.money import NO_CURRENCY, PLACES, Currency

_DOLLARS = "USD AUD CAD NZD SGD HKD TWD BSD BBD BZD BMD BND FJD GYD JMD KYD LRD NAD SBD SRD TTD XCD MXN CLP COP ARS"
_SIGNS = {
    "GBP FKP GIP SHP EGP SSP SDG SYP LBP": "£",
    "GBP": "stg pounds pound quid £gb",
    "EUR": "€ euro euros",
    _DOLLARS: "$ dollars",
    "USD": "$us us$",
    "AUD": "$au a$ au$",
    "CAD": "$ca c$ ca$",
    "NZD": "$nz nz$",
    "SGD": "s$",
    "HKD": "hk$",
    "JPY CNY": "¥",
    "JPY": "yen",
    "INR": "₹",
    "INR PKR LKR NPR MUR SCR": "rs",
    "SEK NOK DKK ISK": "kr",
    "PLN": "zł",
    "CZK": "kč",
    "HUF": "ft",
    "RON MDL": "lei",
    "CHF": "sfr fr",
    "ZAR": "r",
    "MYR": "rm",
    "TRY": "₺",
    "RUB": "₽",
    "UAH": "₴",
    "KRW KPW": "₩",
    "ILS": "₪",
    "THB": "฿",
    "VND": "₫",
    "NGN": "₦",
}
"""By codes the signs and words that stand for each of them."""
_BY_SIGN = {sign: frozenset(codes.split()) for codes, signs in _SIGNS.items() for sign in signs.split()}
SMALL = {"p": "GBP", "pence": "GBP", "c": "", "ct": "", "cent": "", "cents": ""}
"""Words for minor units, with the currency that they belong to where it is one."""
_EVERYDAY = frozenset((
    "GBP", "EUR", "USD", "AUD", "CAD", "NZD", "JPY", "CHF", "SEK", "NOK", "DKK", "ISK", "PLN", "CZK", "HUF", "RON",
    "INR", "ZAR", "SGD", "HKD", "CNY", "KWD", "AED", "THB", "ILS", "KRW",
))  # fmt: skip
"""Codes that are known in small letters too; others are words as well ("all", "top", "try")."""
_IN_WORDS = frozenset(("euro", "euros", "dollars", "yen"))
"""Names that mean nothing else."""
_COUNTRIES = {
    "svenska": "SEK", "svenske": "SEK", "swedish": "SEK", "danska": "DKK", "danske": "DKK", "danish": "DKK",
    "norska": "NOK", "norske": "NOK", "norwegian": "NOK",
}  # fmt: skip
_CROWNS = re.compile(rf"\b({'|'.join(_COUNTRIES)})\b", re.IGNORECASE)
_OF_CROWNS = re.compile(r"\b(?:kronor|kroner|crowns?)\b", re.IGNORECASE)
SIGN = re.compile(r"\$(?:US|AU|CA|NZ)\b|£GB\b|(?:US|AU|A|CA|C|NZ|S|HK)?\$|[£€¥₹₺₽₴₩₪฿₫₦]", re.IGNORECASE)


def is_mark(word: str) -> bool:
    """Whether a word or sign stands for a currency."""
    return word.casefold() in _BY_SIGN or word in PLACES or word.upper() in _EVERYDAY


def is_small(word: str, currency: Currency) -> bool:
    """Whether a word stands for the minor unit of this currency."""
    return currency.places == 2 and SMALL.get(word.casefold(), "-") in ("", currency.code)


def fits(mark: str, currency: Currency) -> bool:
    """Whether the sign or code can mean this currency; a job that names none takes none."""
    if currency.code == NO_CURRENCY:
        return False
    code = mark.strip().rstrip(".")
    return code.upper() == currency.code or currency.code in _BY_SIGN.get(code.casefold(), frozenset())


def others_in(text: str, currency: Currency) -> list[str]:
    """The signs, codes in capitals and full names of other currencies in a text; none where the job names none."""
    if currency.code == NO_CURRENCY:
        return []
    codes = (word for word in re.findall(r"[^\W\d_]+", text) if word in _EVERYDAY or word.casefold() in _IN_WORDS)
    crowns = _CROWNS.findall(text) if _OF_CROWNS.search(text) else []
    abroad = [word for word in crowns if _COUNTRIES[word.casefold()] != currency.code]
    return [mark for mark in (*SIGN.findall(text), *codes) if not fits(mark, currency)] + abroad


def in_heading(text: str, currency: Currency) -> tuple[str, str]:
    """The currency that a heading names, if any, and the heading without it."""
    sign = SIGN.search(text)
    if sign:
        return sign[0], (text[: sign.start()] + " " + text[sign.end() :]).strip()
    for word in re.findall(r"[^\W\d_]+", text):
        written = word.upper() if currency.code in _EVERYDAY and word.upper() == currency.code else word
        is_sign = len(word) > 1 and word.casefold() in _BY_SIGN and fits(word, currency)
        if (
            is_sign
            or written == currency.code
            or (word.isupper() and word in _EVERYDAY)
            or word.casefold() in _IN_WORDS
        ):
            return word, re.sub(rf"(?<![^\W_]){word}(?![^\W_])", " ", text, count=1).strip()
    return "", text
