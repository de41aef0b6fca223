"""What one attempt costs. Routes take any ``CashOf``; ``OwnLanded`` reckons each attempt as an order of its own."""

from __future__ import annotations

from array import array
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import floor, gcd
from typing import TYPE_CHECKING, NamedTuple

from optimiser.model.events import Purchase
from optimiser.model.option import Line, Option
from optimiser.model.quotes import Quote, Supplier

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


Topping = tuple[tuple[str, int], ...]
"""What an order is topped up with: packs by quote id, beside those that are needed."""


@dataclass(frozen=True)
class AttemptCost:
    """Cash out, cash less the deposits that come back, what a failure gives back (minor units), and trip minutes.

    Access is not in it: the route knows what is open. ``marks`` are what it shares, as bits.
    """

    cash_minor: int
    net_minor: int
    refund_minor: int = 0
    trip_minutes: int = 0
    marks: int = 0
    topping: Topping = ()


CashOf = Callable[[Option, tuple[Option, ...]], AttemptCost | Sequence[AttemptCost] | None]
"""The ways to pay for an option once these others of the fault, in the order listed, have failed; None: closed then.

Attempts that buy nothing and wait for nothing are not among the others. With none tried before it is the first attempt
of its branch, the one that the shared orders may carry.
"""


def ways_to_pay(found: AttemptCost | Sequence[AttemptCost] | None) -> tuple[AttemptCost, ...]:
    """What a ``CashOf`` says, as so many ways."""
    return () if found is None else (found,) if isinstance(found, AttemptCost) else tuple(found)


@dataclass(frozen=True)
class OwnLanded:
    """Every attempt at its own landed cost: whole packs, deposits, direct price, postage and trip, minimum order.

    An order below the supplier's minimum is topped up in the cheapest way from ``quotes``, all that may be bought for
    that; so is one where reaching free postage is cheaper than paying it. Deposits on pieces bought to top up are lost.
    """

    suppliers: Mapping[str, Supplier]
    quotes: Sequence[Quote] = ()

    def __call__(self, option: Option, tried: tuple[Option, ...] = ()) -> AttemptCost | None:  # noqa: ARG002
        """The cost of this attempt, whatever was tried; None where a minimum order cannot be reached."""
        orders = [self._order(option, supplier) for supplier in sorted(option.suppliers)]
        if None in orders:
            return None
        cash = option.direct_minor + sum(deposits(line, line.units) for line in option.lines)
        cash += sum(order for order in orders if order is not None)
        back = sum(line.quote.deposit_minor * line.units for line in option.lines)
        trips = sum(self._terms(supplier).trip_minutes for supplier in option.suppliers)
        return AttemptCost(cash, cash - back, sum(refund(x.quote, goods(x, x.units)) for x in option.lines), trips)

    def _terms(self, supplier: str) -> Supplier:
        return self.suppliers.get(supplier) or Supplier(id=supplier)

    def _order(self, option: Option, supplier: str) -> int | None:
        """Goods, top-up and postage of the option's order to one supplier; None where it cannot be made."""
        units = {line.quote.id: line.units for line in option.lines if line.quote.supplier == supplier}
        terms = self._terms(supplier).alone
        paid = sum(goods(line, line.units) for line in option.lines if line.quote.id in units)
        way = cheapest_order(terms, paid, lambda short: least_top_up(short, self._left(option, supplier, units)))
        return None if way is None else way.total_minor

    def _left(self, option: Option, supplier: str, units: Mapping[str, int]) -> tuple[Pack, ...]:
        """What the supplier may be asked for beside the option's own packs for these pieces."""
        taken = {x.quote.id: x.quote.packs_for(units.get(x.quote.id, 0)) for x in option.lines}
        return tuple(
            Pack(q.price_minor, q.deposit_minor * q.pack, None if q.stock is None else q.stock - taken.get(q.id, 0))
            for q in self.quotes
            if q.supplier == supplier
        )


class OrderSums(NamedTuple):
    """What an order comes to, deposits on its own pieces apart: its goods, what tops it up, postage."""

    goods_minor: int
    top_up_minor: int
    postage_minor: int

    @property
    def total_minor(self) -> int:
        """All of it."""
        return self.goods_minor + self.top_up_minor + self.postage_minor


def cheapest_order(terms: Supplier, goods_minor: int, top_up: Callable[[int], int | None]) -> OrderSums | None:
    """An order for these goods in the cheapest way; None where its minimum cannot be reached.

    ``top_up`` says what at least so much of further goods takes (None: out of reach). It is asked only where the order
    is below its minimum, or where reaching free postage might be cheaper than paying it.
    """
    best: OrderSums | None = None
    ways = [(terms.minimum_order_minor, terms.postage_minor)]
    if terms.free_over_minor is not None:
        ways.append((max(terms.free_over_minor, terms.minimum_order_minor), 0))
    for level, due in ways:
        if best is not None and max(level, goods_minor) + due >= best.total_minor:
            continue
        more = top_up(level - goods_minor) if level > goods_minor else 0
        if more is not None and (best is None or goods_minor + more + due < best.total_minor):
            best = OrderSums(goods_minor, more, due)
    return best


OUT_OF_REACH = 2**60
"""In place of an outlay: no number of packs is enough."""
MOST_STEPS = 2_000_000
"""Steps of goods up to which a top-up is looked for, so that no minimum order fills the memory."""


class Pack(NamedTuple):
    """A pack that may be bought to top up an order, and how many of it there are (None: no limit)."""

    price_minor: int
    deposits_minor: int
    left: int | None

    @property
    def outlay_minor(self) -> int:
        """What one takes: price and deposits."""
        return self.price_minor + self.deposits_minor


@lru_cache(maxsize=4096)
def least_top_up(short_minor: int, packs: tuple[Pack, ...]) -> int | None:
    """The least outlay, deposits included, for at least ``short_minor`` of further goods; None where out of reach.

    A bounded knapsack in covering form, by doubling of packs (Martello and Toth, Knapsack Problems, 1990, section 3.2),
    in steps of the greatest amount that divides all prices. More than ``MOST_STEPS`` count as out of reach.
    """
    if short_minor <= 0:
        return 0
    step = gcd(*(pack.price_minor for pack in packs))
    if not step or -(-short_minor // step) > MOST_STEPS:
        return None
    if all(pack.left is not None for pack in packs):
        most = sum(pack.price_minor * (pack.left or 0) for pack in packs)
        if most < short_minor:
            return None
    in_steps = [(pack.price_minor // step, pack.outlay_minor, pack.left) for pack in packs if pack.price_minor]
    least = int(_least_outlays(-(-short_minor // step), in_steps)[-1])
    return None if least == OUT_OF_REACH else least


def least_top_ups(most_minor: int, packs: Iterable[Pack]) -> array[int]:
    """``least_top_up`` for 0, 1, ... ``most_minor`` of further goods, all at once; ``OUT_OF_REACH`` for None."""
    sold = [(pack.price_minor, pack.outlay_minor, pack.left) for pack in packs if pack.price_minor]
    return array("q", _least_outlays(most_minor, sold).tobytes())


def _least_outlays(most: int, packs: Iterable[tuple[int, int, int | None]]) -> NDArray[np.int64]:
    """The least outlay for at least 0, 1, ... ``most`` steps; each pack by its steps, its outlay, and how many."""
    import numpy as np  # noqa: PLC0415 - heavy, and what plans nothing comes here through the imports alone

    least = np.full(most + 1, OUT_OF_REACH, dtype=np.int64)
    least[0] = 0
    for steps, each, stock in packs:
        enough = -(-most // steps)
        left, chunk = enough if stock is None else min(enough, stock), 1
        while left > 0:
            count = min(chunk, left)
            goods, outlay = min(count * steps, most), count * each
            reached = least[most - goods :].min()
            least[goods:] = np.minimum(least[goods:], least[: most + 1 - goods] + outlay)
            least[most] = min(least[most], reached + outlay)
            left, chunk = left - count, chunk * 2
    return np.minimum(np.minimum.accumulate(least[::-1])[::-1], OUT_OF_REACH)


def goods(line: Line, units: int) -> int:
    """What the packs for this many pieces of a line cost."""
    return line.quote.price_minor * line.quote.packs_for(units)


def deposits(line: Line, units: int) -> int:
    """Deposits paid now, on every piece in the packs for this many."""
    return line.quote.deposit_minor * line.quote.packs_for(units) * line.quote.pack


def refund(sold: Quote | Purchase, goods_minor: Fraction | int) -> int:
    """What a supplier gives back of so much of what a quote or a purchase costs, half a unit up."""
    return floor(Fraction(repr(sold.refund_share)) * goods_minor + Fraction(1, 2))
