"""What tells a line of headings and a list that a person typed, for those who open a text file (``sheet_files``)."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from optimiser.quote_import import lexicon, prices, row_values
from optimiser.quote_import.columns import score
from optimiser.sheet_files.grid import Value

__all__ = ["is_priced", "parted", "score"]
_BEHIND = re.compile(r"([£€$]\s?\d[\d.,]*)\s+([^\W\d][\w, -]*)")
_AMOUNT = (
    r"[£€$]\s?\d[^£€$]*|\d[\d.,]*(?:[.,]\d\d|[.,:]-)(?: ?(?:kr|zł|eur|sek|dkk|pln|chf)\b\.?)?"
    r"|\d+ ?(?:(?:kr|zł)\.?|(?:quid|pounds?|euros?|eur)\b|[€£])"
)
_IN_FRONT = re.compile(rf"((?:(?![.!?]\s)[^£€$])*[^£€$\s:-])\s+({_AMOUNT})", re.IGNORECASE)
"""A name, in which no sentence ends, and a sum of money behind it."""
_OPEN = re.compile(
    r"\b(?:to|or|and|for|from|about|around|over|under|approx|ca|circa|ab|bis|von|oder|für|de|à|ou|pour|dès|vanaf|tot|of|voor"
    r"|desde|hasta|o|por|da|per|fino a|od|do|lub|za|från|till|eller|för|fra|til|for|até)$",
    re.IGNORECASE,
)
"""What stands before a sum of money that is no price by itself: "40 to", "2 for", "from"."""
_MOST_WORDS = 6
"""Words of a name before a sum of money; more are a sentence."""


def is_priced(cells: Sequence[Value]) -> bool:
    """Whether an amount with a currency or decimals stands beside something else."""
    found = (each for each in map(prices.price, cells) if isinstance(each, prices.AsWritten))
    return len(cells) > 1 and any(each.currency or prices.has_decimals(each) for each in found)


def parted(cell: str) -> Iterator[str]:
    """A name, the one sum of money behind it, and the condition behind that, in cells of their own."""
    found = _IN_FRONT.fullmatch(cell)
    is_name = found is not None and len(found[1].split()) <= _MOST_WORDS and not _OPEN.search(found[1])
    for piece in found.groups() if found and is_name else (cell,):
        yield from _amount_and_state(piece)


def _amount_and_state(cell: str) -> list[str]:
    """A sum of money, and what it is for, and the condition behind it as two cells: "£39 new", "£70 the pair, new"."""
    found = _BEHIND.fullmatch(cell)
    if found is None:
        return [cell]
    named, rest, _ = row_values.condition(found[2], strong_only=True)
    known = lexicon.headings().prices
    if named is None or lexicon.plain(rest) not in {""} | known["each"] | known["pair"] | known["dozen"]:
        return [cell]
    return [f"{found[1]} {rest}", named] if rest else [found[1], found[2]]
