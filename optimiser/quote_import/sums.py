"""The lines of sums and charges below the rows: which amounts follow from the prices, and which say something new."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import product

from optimiser.model.imports import Told
from optimiser.quote_import import heeding, lexicon, numbers, taxes
from optimiser.quote_import.beside_prices import NEAR, number_in
from optimiser.quote_import.columns import ColumnLayout
from optimiser.quote_import.grid import SheetLine, cell_at, words
from optimiser.quote_import.lexicon import plain

_LEAST_RATE, _MOST_RATE = Decimal(3), Decimal(30)
"""Between which an amount may be the tax on a sum, in percent (common practice, no published source)."""


@dataclass
class FootSums:
    """``net``: the prices as written times the quantities; ``gross``: as the job takes them; both summed up.

    ``taxes`` are the amounts in such lines that name the tax, and with the tax in the prices such an amount and the sum
    without it are no news. A charge, once it is asked about, is part of the sums below it.
    """

    net: Decimal
    gross: Decimal
    taxes: Sequence[Decimal] = ()
    tax_inside: bool = False
    sections: Sequence[Decimal] = ()
    """The sums of the rows between two such lines, as written and as the job takes them."""
    charges: list[Decimal] = field(default_factory=list)

    def explain(self, amount: Decimal) -> bool:
        """Whether an amount is a sum of the prices, the tax on them, or such a sum with the charges above it."""
        charged = sum(self.charges, Decimal(0))
        whole = (self.net, self.gross, self.gross - self.net, self.net + charged, self.gross + charged)
        known = (*whole, *self.sections)
        return any(abs(amount - each) < NEAR for each in known) or (self.tax_inside and self._is_share(amount))

    def _is_share(self, amount: Decimal) -> bool:
        """Whether it is the tax in all prices, or the sum of them without it."""
        inside = [tax for tax in self.taxes if rate_of(tax, self.gross - tax)]
        return any(abs(amount - each) < NEAR for tax in inside for each in (tax, self.gross - tax))


@dataclass(frozen=True)
class ProvenTax:
    """What the sums at the foot prove of the tax in the prices, the rate in percent, and the amounts that do."""

    mark: taxes.Mark = ""
    rate: Decimal | None = None
    amounts: tuple[Decimal, ...] = ()


def proven_tax(sheet: ColumnLayout, told: Told, decimal: str) -> ProvenTax:
    """That the tax comes on top, where prices and charges, the tax on them, and both together stand there as sums; that
    it is in the prices, where they come to a total of which the tax is a share.
    """
    if len(sheet.prices) != 1 or told.ex_tax or sheet.meanings[sheet.prices[0]].tax == "with":
        return ProvenTax()
    foot: list[tuple[str, Decimal]] = []
    net = Decimal(0)
    for line in sheet.rows:
        label = " ".join(words(line.cells))
        if _is_of_sums(label):
            if taxes.in_line(label) and not set(told.words.values()).isdisjoint(words(line.cells)):
                return ProvenTax()  # a person has said what it means
            foot += [(label, each) for cell in line.cells if (each := number_in(cell, decimal))]
        else:
            net += _of_line(sheet, line, decimal)
    charges = sum((each for label, each in foot if heeding.kind(label) == "postage"), Decimal(0))
    return _proven(foot, (net, net + charges))


def _proven(foot: Sequence[tuple[str, Decimal]], bases: Sequence[Decimal]) -> ProvenTax:
    known = [each for _, each in foot]
    net_alone = lexicon.headings().tax["without_alone"]
    gross = [each for label, each in foot if net_alone.isdisjoint(plain(label).split())]
    taxed = [pair for pair in foot if taxes.names_tax(plain(pair[0]).split())]
    for base, (label, tax) in product(bases, taxed):
        said = {str(int(each)) for word in numbers.PERCENT.findall(label) if (each := numbers.percent(f"{word}%"))}
        on_top, inside = rate_of(tax, base), rate_of(tax, base - tax)
        if on_top and said <= {on_top} and any(abs(each - base - tax) < NEAR for each in known):
            return ProvenTax("without", Decimal(on_top), (base, tax, base + tax))
        sure = not on_top or bool(said) or taxes.in_line(label) in ("inside", "with")
        if inside and sure and said <= {inside} and any(abs(each - base) < NEAR for each in gross):
            return ProvenTax("with", None, (base, tax, base - tax))
    return ProvenTax()


def _is_of_sums(label: str) -> bool:
    known, said = lexicon.headings(), set(plain(label).split())
    return (
        bool(said & (known.rows["sums"] | known.rows["totals"] | known.tax["words"]))
        or heeding.kind(label) == "postage"
    )


def _of_line(sheet: ColumnLayout, line: SheetLine, decimal: str) -> Decimal:
    """The price of a line as often as it is ordered."""
    counts = [number_in(cell_at(line.cells, i)) for i, each in enumerate(sheet.meanings) if each.kind == "quantities"]
    price = number_in(cell_at(line.cells, sheet.prices[0]), decimal) or Decimal(0)
    return price * next((each for each in counts if each is not None), Decimal(1))


def rate_of(tax: Decimal, net: Decimal) -> str:
    """The rate in whole percent that an amount of tax may be; empty where it is none."""
    percent = 100 * tax / net if net > 0 else Decimal(0)
    whole = percent.quantize(Decimal(1))
    likely = _LEAST_RATE <= whole <= _MOST_RATE and abs(whole * net / 100 - tax) < NEAR
    return str(whole) if likely else ""
