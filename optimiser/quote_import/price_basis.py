"""For how many pieces prices are, where another column or a line says that apart from the packs."""

from __future__ import annotations

import re
from dataclasses import replace

from optimiser.model.imports import How
from optimiser.money import Currency
from optimiser.quote_import import headings, heeding, lexicon, prices, row_values
from optimiser.quote_import.columns import ColumnLayout
from optimiser.quote_import.headings import PRICES, Meaning
from optimiser.sheet_files.grid import text_alone

_LONGEST = 500
_CLAUSE = re.compile(r"[.;:,]\s*|\s-\s")
_FOR_SO_MANY = {"per", "je", "pro", "for", "each"}
_PER_MANY = re.compile(r"\b(?:100|1000)\b")
_USUAL = {1, 10, 50, 100, 500, 1000}
"""Pieces for which prices are given where one can be bought."""


def by_number(found: ColumnLayout) -> None:
    """Round numbers under "je" or "per" beside the prices are the pieces that these are for."""
    for index, each in enumerate(found.meanings):
        beside = any(place != index for place in found.of(*PRICES))
        if each.how is How.TOLD or each.column not in ("", "price_each") or not beside or found.has("price_for"):
            continue
        counts = {row_values.count(cell) for cell in found.below(index)}
        named = not _FOR_SO_MANY.isdisjoint(lexicon.plain(found.texts[index]).split())
        if named and counts <= _USUAL and counts - {1}:
            found.meanings[index] = Meaning("price_for", How.CELLS)


def by_whole_packs(found: ColumnLayout) -> None:
    """Numbers under "Bag holds" beside prices for a hundred are packs where a line says that whole bags are sold."""
    per_many = all(_PER_MANY.search(found.texts[index]) for index in found.of(*PRICES))
    sold = {noun for line in found.grid.lines for noun in heeding.sold_whole(text_alone(line))}
    if not sold or not per_many or found.has("pack"):
        return
    for index in found.of(""):
        counts = {row_values.count(cell) for cell in found.below(index)}
        words = set(lexicon.bare(found.texts[index]).split())
        rest = words - sold - lexicon.headings().qualifiers["neutral"]
        holds = rest != words and bool(rest) and rest <= lexicon.headings().heeded["holds"]
        if holds and counts and None not in counts:
            found.meanings[index] = Meaning("pack", How.CELLS)
            return


def are_sold_singly(found: ColumnLayout) -> bool:
    """Whether a line says that one piece can be bought of whatever there is, or one is the least of every row."""
    least = found.of_kind("least")
    ones = bool(least) and {row_values.count(cell) for index in least for cell in found.below(index)} == {1}
    return ones or any(map(heeding.is_sold_singly, filter(None, map(text_alone, found.grid.lines))))


def of_packing(found: ColumnLayout, currency: Currency) -> None:
    """A price without a word of its own is that of one piece, or of the packing whose pieces stand in a column, unless
    a line says that it is that.
    """
    packings = [i for i in found.of("pack") if lexicon.plain(found.texts[i]) in lexicon.headings().prices["packing"]]
    several = any(row_values.count(cell) != 1 and prices.is_amount(cell) for i in packings for cell in found.below(i))
    if not several or found.has("price_for"):
        return
    texts = (text for line in found.grid.lines if (text := text_alone(line)) and len(text) < _LONGEST)
    if any(headings.is_price_of_pack(clause, currency) for text in texts for clause in _CLAUSE.split(text)):
        return
    for index in found.of("price"):
        if found.meanings[index].how is not How.TOLD and headings.is_bare_price(found.texts[index], currency):
            found.meanings[index] = replace(found.meanings[index], column="unit_price")
