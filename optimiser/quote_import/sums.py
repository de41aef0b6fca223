"""The lines of sums and charges below the rows: which amounts follow from the prices, and which say something new."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from optimiser.quote_import.beside_prices import NEAR

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


def rate_of(tax: Decimal, net: Decimal) -> str:
    """The rate in whole percent that an amount of tax may be; empty where it is none."""
    percent = 100 * tax / net if net > 0 else Decimal(0)
    whole = percent.quantize(Decimal(1))
    likely = _LEAST_RATE <= whole <= _MOST_RATE and abs(whole * net / 100 - tax) < NEAR
    return str(whole) if likely else ""
