"""The ways to pay for an attempt in a mix: what it buys, what tops its orders up, whose minimum it leaves to others.

A quote of which there is little may be wanted elsewhere too, so the cheapest way to top up an order is not the only one
worth having: a dearer one that leaves such a quote alone stands beside it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from functools import cached_property, lru_cache
from itertools import product
from math import gcd
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from optimiser.model.option import Line, Option
from optimiser.model.quotes import Quote, Supplier
from optimiser.orders import OUT_OF_REACH, Topping, deposits, goods, refund

MOST_STEPS = 100_000
"""Steps of goods in which a top-up is looked for; larger ones are reckoned in coarser steps, each pack rounded down."""
MOST_TOPPINGS = 16
"""Ways to top up one order that are told apart by the scarce quotes that they take."""


IntegerArray = NDArray[np.int64]


class Payment(NamedTuple):
    """One way to pay for an attempt: cash out, what of it comes back with the old units, what a failure gives back.

    ``topping`` are the packs that top its orders up, ``orders`` the suppliers that get a first order by it beside those
    of the certain lines, ``relied`` those of them whose minimum is left to the certain lines of others.
    """

    cash_minor: int
    back_minor: int
    refund_minor: int
    trip_minutes: int = 0
    topping: Topping = ()
    orders: frozenset[str] = frozenset()
    relied: frozenset[str] = frozenset()


class _Top(NamedTuple):
    """What tops an order up: what it takes, deposits included, and the packs."""

    outlay_minor: int
    packs: Topping


@dataclass(frozen=True)
class Payments:
    """Reckons attempts. ``quotes`` are all that may top up an order, ``scarce`` those that others may want too.

    Nobody knows on which day a later order is placed, so it is topped up only with quotes that have no last day, or are
    good up to ``last_day``, when all has to be done.
    """

    suppliers: Mapping[str, Supplier]
    quotes: Sequence[Quote] = ()
    scarce: Collection[str] = ()
    last_day: date | None = None
    _kept: dict[object, tuple[Payment, ...]] = field(default_factory=dict, compare=False, repr=False)

    def later(self, option: Option) -> tuple[Payment, ...]:
        """The ways to pay for a later attempt, an order of its own to each supplier; none past a minimum."""
        name = (option.key, option.ahead, option.direct_minor)  # one asked about is dearer than its like
        if name not in self._kept:
            self._kept[name] = tuple(self._later(option))
        return self._kept[name]

    def _later(self, option: Option) -> Iterator[Payment]:
        units = {line.quote.id: 0 if line.quote.id in option.ahead else line.units for line in option.lines}
        orders = [self._own_orders(option, supplier, units) for supplier in sorted(option.suppliers)]
        own = option.direct_minor + sum(deposits(line, line.units) for line in option.ordered)
        back = sum(line.quote.deposit_minor * line.units for line in option.lines)
        given_back = sum(refund(line.quote, goods(line, line.units)) for line in option.ordered)
        given_back += sum(refund(line.quote, _of_packs(line)) for line in option.bought_ahead)
        trips = sum(self.terms(supplier).trip_minutes for supplier in option.suppliers)
        for some in product(*orders):
            cash = own + sum(order.outlay_minor for order in some)
            yield Payment(cash, back, given_back, trips, tuple(pack for order in some for pack in order.packs))

    def _own_orders(self, option: Option, supplier: str, units: Mapping[str, int]) -> list[_Top]:
        """Goods, top-up and postage or its waiver: the ways that no other beats."""
        terms, paid = self.terms(supplier).alone, self._goods(option, supplier, units)
        levels = [(terms.minimum_order_minor, terms.postage_minor)]
        if terms.free_over_minor is not None:
            levels.append((max(terms.free_over_minor, terms.minimum_order_minor), 0))
        ways = [
            _Top(paid + due + top.outlay_minor, top.packs)
            for level, due in levels
            for top in self._toppings(option, supplier, units, level - paid, later=True)
        ]
        return _unbeaten(ways, self.scarce)

    def first(self, option: Option, certain: Mapping[str, int], sure: Collection[str]) -> Iterator[Payment]:
        """The ways to pay for a first attempt beside the shared orders, which bring ``certain`` pieces by quote id.

        The other pieces in whole packs of their own, topped up to the minimum of a supplier that is not ``sure`` to get
        an order, or relying on others for it. Postage and trips are the shared orders'. What comes back after a failure
        is the pieces' share of their packs: the rest may be in use.
        """
        rest = {x.quote.id: x.units - certain.get(x.quote.id, 0) for x in option.lines}
        rest |= dict.fromkeys(option.ahead, 0)
        sure = {*sure, *(x.quote.supplier or "" for x in option.bought_ahead)}
        bought = sorted({x.quote.supplier for x in option.lines if x.quote.supplier and rest[x.quote.id] > 0})
        cash = option.direct_minor + sum(deposits(line, rest[line.quote.id]) for line in option.lines)
        cash += sum(self._goods(option, supplier, rest) for supplier in bought)
        back = sum(line.quote.deposit_minor * rest[line.quote.id] for line in option.ordered)
        back += sum(line.quote.deposit_minor * line.units for line in option.bought_ahead)
        given_back = sum(refund(line.quote, _of_packs(line)) for line in option.lines)
        orders = frozenset(supplier for supplier in bought if supplier not in sure)
        for some in product(*(self._minimum(option, supplier, rest) for supplier in sorted(orders))):
            yield Payment(
                cash + sum(way.outlay_minor for way in some if way is not None),
                back,
                given_back,
                topping=tuple(pack for way in some if way is not None for pack in way.packs),
                orders=orders,
                relied=frozenset(supplier for supplier, way in zip(sorted(orders), some, strict=True) if way is None),
            )

    def _minimum(self, option: Option, supplier: str, rest: Mapping[str, int]) -> list[_Top | None]:
        """The ways to come to a supplier's minimum, None for leaving that to others."""
        short = self.terms(supplier).minimum_order_minor - self._goods(option, supplier, rest)
        return [*self._toppings(option, supplier, rest, short), *([None] if short > 0 else [])]

    def least(self, supplier: str, taken: Mapping[str, int], short_minor: int) -> int | None:
        """The least that tops an order up by so much where so many packs are taken; None where that is out of reach."""
        way = _cheapest(short_minor, _useful(self._packs(supplier, taken)))
        return None if way is None else way.outlay_minor

    def _packs(self, supplier: str, taken: Mapping[str, int], *, later: bool = False) -> tuple[_Pack, ...]:
        return tuple(
            _Pack(q.id, q.price_minor, q.outlay_minor, _left(q, taken), q.id in self.scarce)
            for q in self.of_supplier(supplier)
            if q.price_minor > 0 and _left(q, taken) != 0 and not (later and self._lapses(q))
        )

    def of_supplier(self, supplier: str) -> Sequence[Quote]:
        return self._by_supplier.get(supplier, ())

    @cached_property
    def by_id(self) -> Mapping[str, Quote]:
        return {quote.id: quote for quote in self.quotes}

    @cached_property
    def _by_supplier(self) -> Mapping[str, Sequence[Quote]]:
        found: dict[str, list[Quote]] = {}
        for quote in self.quotes:
            found.setdefault(quote.supplier or "", []).append(quote)
        return found

    def _lapses(self, quote: Quote) -> bool:
        return quote.valid_until is not None and (self.last_day is None or quote.valid_until < self.last_day)

    def terms(self, supplier: str) -> Supplier:
        """The supplier's terms, or the defaults for one that is quoted but not listed."""
        return self.suppliers.get(supplier) or Supplier(id=supplier)

    def _goods(self, option: Option, supplier: str, units: Mapping[str, int]) -> int:
        return sum(goods(x, units[x.quote.id]) for x in option.lines if x.quote.supplier == supplier)

    def _toppings(
        self, option: Option, supplier: str, units: Mapping[str, int], short_minor: int, *, later: bool = False
    ) -> list[_Top]:
        """The ways to top up an order to one supplier by so much; none where that is out of reach."""
        if short_minor <= 0:
            return [_Top(0, ())]
        taken = {x.quote.id: x.quote.packs_for(units.get(x.quote.id, 0)) for x in option.lines}
        return _toppings(short_minor, _useful(self._packs(supplier, taken, later=later)))


def _left(quote: Quote, taken: Mapping[str, int]) -> int | None:
    return None if quote.stock is None else max(0, quote.stock - taken.get(quote.id, 0))


class _Pack(NamedTuple):
    quote: str
    price_minor: int
    outlay_minor: int
    left: int | None
    scarce: bool


def _useful(packs: Iterable[_Pack]) -> tuple[_Pack, ...]:
    """Without those of which another of which there is no end gives as much for no more."""
    kept: dict[tuple[int, int], _Pack] = {}
    scarce = [pack for pack in packs if pack.left is not None]
    for pack in (pack for pack in packs if pack.left is None):
        kept.setdefault((pack.price_minor, pack.outlay_minor), pack)
    return (*kept.values(), *(p for p in scarce if (p.price_minor, p.outlay_minor) not in kept))


@lru_cache(maxsize=4096)
def _toppings(short_minor: int, packs: tuple[_Pack, ...]) -> list[_Top]:
    """The cheapest way, and for each scarce quote in it the cheapest with fewer packs of that, and so on."""
    found: dict[Topping, _Top] = {}
    pending, asked = [packs], {packs}
    while pending and len(found) < MOST_TOPPINGS:
        some = pending.pop(0)
        way = _cheapest(short_minor, some)
        if way is None:
            continue
        found.setdefault(way.packs, way)
        used = dict(way.packs)
        for place, pack in enumerate(some):
            if pack.scarce and used.get(pack.quote):
                fewer = pack._replace(left=used[pack.quote] - 1)
                less = (*some[:place], *([fewer] if fewer.left else []), *some[place + 1 :])
                if less not in asked:
                    asked.add(less)
                    pending.append(less)
    return _unbeaten(list(found.values()), {pack.quote for pack in packs if pack.scarce})


def _unbeaten(ways: Sequence[_Top], scarce: Collection[str]) -> list[_Top]:
    """Without those that take no less than another and no fewer scarce packs; the cheapest first."""
    kept: list[_Top] = []
    for way in sorted(ways, key=lambda w: (w.outlay_minor, w.packs)):
        uses = Counter({quote: packs for quote, packs in way.packs if quote in scarce})
        if not any(Counter({q: n for q, n in other.packs if q in scarce}) <= uses for other in kept):
            kept.append(way)
    return kept


@lru_cache(maxsize=4096)
def _cheapest(short_minor: int, packs: tuple[_Pack, ...]) -> _Top | None:
    """The least outlay for at least so much of further goods, and the packs; None where there are too few.

    A bounded knapsack in covering form, by doubling of packs (Martello and Toth, Knapsack Problems, 1990, section 3.2).
    """
    enough = sum(pack.price_minor * (pack.left or 0) for pack in packs) >= short_minor
    if not enough and all(pack.left is not None for pack in packs):
        return None
    step = gcd(*(pack.price_minor for pack in packs))
    if -(-short_minor // step) > MOST_STEPS:
        step = -(-short_minor // MOST_STEPS)
    most = -(-short_minor // step)
    least = np.full(most + 1, OUT_OF_REACH, dtype=np.int64)
    least[0] = 0
    floor_minor = np.arange(most + 1) * step  # no outlay is below the goods
    used: Counter[str] = Counter()
    telling: list[tuple[_Chunk, IntegerArray]] = []
    still_open = most
    for chunk in (chunk for pack in packs for chunk in _chunks(pack, pack.price_minor // step, most)):
        if still_open == 0:
            break
        better = _with_chunk(least, still_open, chunk)
        if better is not None:
            telling.append((chunk, least))
            least = better
            dearer = np.flatnonzero(least > floor_minor)
            still_open = int(dearer[-1]) if len(dearer) else 0
    if least[most] >= OUT_OF_REACH:
        return None
    at = most
    for chunk, earlier in reversed(telling):
        if earlier[at] > least[at]:
            used[chunk.quote] += chunk.packs
            at = max(0, at - chunk.steps)
        least = earlier
    return _Top(sum(used[p.quote] * p.outlay_minor for p in packs), tuple(sorted(used.items())))


def _with_chunk(least: IntegerArray, still_open: int, chunk: _Chunk) -> IntegerArray | None:
    """The least outlays with one more bundle, None where it changes nothing.

    Beyond ``still_open`` no outlay can fall. A supplier's list of thousands is mostly of no use after a few hundred.
    """
    if chunk.steps >= still_open and chunk.outlay_minor >= least[still_open]:
        return None  # outlays never fall with the goods, so it improves nothing below either
    known = least[: still_open + 1]
    beside = np.full(still_open + 1, chunk.outlay_minor, dtype=np.int64)
    beside[chunk.steps :] += known[: max(0, still_open + 1 - chunk.steps)]
    if not (beside < known).any():
        return None
    better = least.copy()
    np.minimum(known, beside, out=better[: still_open + 1])
    return better


class _Chunk(NamedTuple):
    """Some packs of one quote: the steps of goods that they are, and their outlay."""

    quote: str
    packs: int
    steps: int
    outlay_minor: int


def _chunks(pack: _Pack, steps: int, most: int) -> Iterator[_Chunk]:
    """The packs of one quote in bundles of 1, 2, 4, ..., so that every number up to what is left is a sum."""
    if steps == 0:
        return
    enough = -(-most // steps)
    left, bundle = enough if pack.left is None else min(enough, pack.left), 1
    while left > 0:
        count = min(bundle, left)
        yield _Chunk(pack.quote, count, steps * count, pack.outlay_minor * count)
        left, bundle = left - count, bundle * 2


def _of_packs(line: Line) -> Fraction:
    """What a line's pieces are of the price of their packs."""
    return Fraction(line.quote.price_minor * line.units, line.quote.pack)
