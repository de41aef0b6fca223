"""What a text is about that must not be passed over: the tax, the pack, the sale, the deposit, the postage, money."""

from __future__ import annotations

import re
from functools import lru_cache

from optimiser.read.intake import currencies, fields, lexicon, taxes
from optimiser.read.intake.lexicon import plain

_DATE = re.compile(r"\b\d{1,4}[./-]\d{1,2}[./-]\d{2,4}\b")
_MONEY = re.compile(r"[£€$¥₹]|\d\s?%|(?<![\d.,])\d{1,6}[.,]\d\d(?!\d|[.,]\d)|\d/-|\d[:,.]-")
_SOLD_AS = re.compile(r"\bsold (?:as|by|in)\b")
_TIME = re.compile(r"\b\d{1,3}(?:\s?-\s?\d{1,3})?\s?(?:working |business )?(?:days?|weeks?|tage?n?|jours|dagen|dagar|dage|días|giorni|dni|dias|hours?|h)\b", re.IGNORECASE)  # noqa: E501
_NUMBER = re.compile(r"\d+")
_ORDER = ("deposit", "discount", "postage", "valid", "sale", "pack")
KINDS = ("tax", *_ORDER, "money", "condition")


@lru_cache(maxsize=65_536)
def kind(text: str) -> str:
    """The first of the kinds that a text speaks of; empty where it may be passed over."""
    words = _SOLD_AS.sub(" ", plain(text)).split()
    heeded = lexicon.headings().heeded
    if taxes.names_tax(words) and not _is_number_of_firm(text, words):
        return "tax"
    mark, _ = taxes.said(words)
    if mark:
        return "tax"
    among = set(words)
    for each in _ORDER:
        if among & heeded[each] and not (each == "postage" and _TIME.search(text) and not _MONEY.search(text)):
            return each
    if "working" in fields.condition(text, strong_only=True)[2]:
        return "sale"
    undated = _DATE.sub(" ", text)
    if _MONEY.search(undated) and any(sign.isdigit() for sign in undated):
        return "money"
    figures = [word for word in plain(undated).split() if word.isdecimal()]
    if figures and (among & heeded["money"] or any(currencies.is_mark(word) for word in among)):
        return "money"
    return ""


def _is_number_of_firm(text: str, words: list[str]) -> bool:
    """Whether the word for tax stands before the number under which a firm is registered."""
    figures = max((len(each) for each in _NUMBER.findall(text.replace(" ", ""))), default=0)
    return bool(set(words) & lexicon.headings().heeded["tax_number"]) and figures >= 6 and "%" not in text  # noqa: PLR2004 - as long as such numbers are
