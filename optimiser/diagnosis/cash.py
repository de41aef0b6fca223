"""What one attempt costs. Routes take any ``CashOf``; ``OwnLanded`` reckons each attempt by itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from optimiser.model.option import Line, Option
from optimiser.model.quotes import Quote, Supplier


@dataclass(frozen=True)
class AttemptCost:
    """Cash out, cash less the deposits that come back, what a failure gives back (minor units), and trip minutes.

    Access is not in it: the route knows what is open.
    """

    cash_minor: int
    net_minor: int
    refund_minor: int = 0
    trip_minutes: int = 0


CashOf = Callable[[Option, tuple[Option, ...]], AttemptCost | None]
"""The cost of an option once these others of the fault, in the order listed, have failed; None where it is closed then.

With none tried before it is the first attempt of its branch, the one that the shared orders may carry.
"""


class _OrderCost(NamedTuple):
    """Goods, top-up and postage of one order, and whether postage is in it."""

    outlay_minor: int
    posted: bool


@dataclass(frozen=True)
class OwnLanded:
    """Every attempt at its own landed cost: whole packs, deposits, direct price, postage, minimum order.

    Postage and trip count once a supplier and fault, and postage not where the attempt's own goods waive it. An order
    below the supplier's minimum is topped up in the cheapest way from ``quotes``, all that are offered; so is one where
    reaching free postage is cheaper than paying it. Deposits on pieces bought to top up are lost.
    """

    suppliers: Mapping[str, Supplier]
    quotes: Sequence[Quote] = ()

    def __call__(self, option: Option, tried: tuple[Option, ...]) -> AttemptCost | None:
        """The cost of this attempt after those; None where a minimum order cannot be reached."""
        cash, minutes = option.direct_minor + sum(_deposits(line) for line in option.lines), 0
        for supplier in sorted(option.suppliers):
            before = [self._order(other, supplier) for other in tried if supplier in other.suppliers]
            order = self._order(option, supplier, posted=any(o is not None and o.posted for o in before))
            if order is None:
                return None
            cash += order.outlay_minor
            minutes += 0 if before else self._terms(supplier).trip_minutes
        back = sum(line.quote.deposit_minor * line.units for line in option.lines)
        return AttemptCost(cash, cash - back, sum(_refund(line) for line in option.lines), minutes)

    def _terms(self, supplier: str) -> Supplier:
        return self.suppliers.get(supplier) or Supplier(id=supplier)

    def _order(self, option: Option, supplier: str, *, posted: bool = False) -> _OrderCost | None:
        """The option's order to one supplier, its postage already paid or not; None where it cannot be made."""
        terms, goods = self._terms(supplier), _goods(option, supplier)
        postage = 0 if posted else terms.postage_minor
        ways = [(terms.minimum_order_minor, postage)]
        waived = max(terms.free_over_minor or 0, terms.minimum_order_minor)
        if terms.free_over_minor is not None and (waived < goods + postage or goods < terms.minimum_order_minor):
            ways.append((waived, 0))
        left = self._left(option, supplier) if any(level > goods for level, _ in ways) else ()
        orders = [
            _OrderCost(goods + top_up + due, due > 0)
            for level, due in ways
            if (top_up := least_top_up(level - goods, left)) is not None
        ]
        return min(orders, default=None)

    def _left(self, option: Option, supplier: str) -> tuple[Pack, ...]:
        """What the supplier may be asked for beside the option's own packs."""
        taken = {line.quote.id: line.quote.packs_for(line.units) for line in option.lines}
        quotes = {q.id: q for q in (*self.quotes, *(line.quote for line in option.lines)) if q.supplier == supplier}
        return tuple(
            Pack(q.price_minor, q.deposit_minor * q.pack, None if q.stock is None else q.stock - taken.get(q.id, 0))
            for q in quotes.values()
        )


class Pack(NamedTuple):
    """A pack that may be bought to top up an order, and how many of it there are (None: no limit)."""

    price_minor: int
    deposits_minor: int
    left: int | None


@lru_cache(maxsize=4096)
def least_top_up(short_minor: int, packs: tuple[Pack, ...]) -> int | None:
    """The least outlay, deposits included, for at least ``short_minor`` of further goods; None where out of reach.

    A bounded knapsack in covering form, by doubling of packs (Martello and Toth, Knapsack Problems, 1990, section 3.2).
    """
    if short_minor <= 0:
        return 0
    out_of_reach = 2**60
    least = np.full(short_minor + 1, out_of_reach, dtype=np.int64)
    least[0] = 0
    for pack in packs:
        if pack.price_minor == 0:
            continue
        most = -(-short_minor // pack.price_minor)
        left, chunk = most if pack.left is None else min(most, pack.left), 1
        while left > 0:
            count = min(chunk, left)
            goods = min(count * pack.price_minor, short_minor)
            outlay = count * (pack.price_minor + pack.deposits_minor)
            reached = least[short_minor - goods :].min()
            least[goods:] = np.minimum(least[goods:], least[: short_minor + 1 - goods] + outlay)
            least[short_minor] = min(least[short_minor], reached + outlay)
            left, chunk = left - count, chunk * 2
    return None if least[short_minor] >= out_of_reach else int(least[short_minor])


def _goods(option: Option, supplier: str) -> int:
    """What the option's packs from one supplier cost."""
    return sum(_line_goods(line) for line in option.lines if line.quote.supplier == supplier)


def _line_goods(line: Line) -> int:
    return line.quote.price_minor * line.quote.packs_for(line.units)


def _deposits(line: Line) -> int:
    """Deposits paid now, on every piece in the packs."""
    return line.quote.deposit_minor * line.quote.packs_for(line.units) * line.quote.pack


def _refund(line: Line) -> int:
    """What comes back of the line's goods when the attempt has failed, half a unit up."""
    share = Decimal(repr(line.quote.refund_share))
    return int((share * _line_goods(line)).to_integral_value(ROUND_HALF_UP))
