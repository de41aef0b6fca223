"""The witness on what an attempt costs by itself: whole packs, deposits, minimum orders, postage, what comes back.

Topping an order up in the cheapest way is a knapsack; past a size the witness holds its outlay between two bounds.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import ceil, floor, gcd
from typing import NamedTuple

from optimiser.mix.certify_belief import exact
from optimiser.mix.certify_options import Quotes, quote_barred
from optimiser.model.job import Job
from optimiser.model.option import Line, Option

MOST_STEPS = 200_000
"""Amounts times packs up to which a top-up is reckoned exactly: some hundredths of a second."""


class Span(NamedTuple):
    """The least and the most that something can cost, in minor units; equal unless a large order is topped up."""

    least_minor: int
    most_minor: int


class Spend(NamedTuple):
    """What an attempt takes: its cash lies in a span; deposits that come back, and a failure's refund, are exact."""

    cash: Span
    back_minor: int
    refund_minor: int
    trip_minutes: int


@dataclass(frozen=True)
class Costs:
    """What the attempts of one route cost beside its certain lines."""

    job: Job
    quotes: Quotes
    certain: Mapping[str, int]
    relies_on: Collection[str]

    def first(self, option: Option) -> Spend | None:
        """The first attempt of a branch: what is shared is not in it. None where a minimum is out of reach."""
        rest = {x.quote.id: max(0, x.units - self.certain.get(x.quote.id, 0)) for x in option.lines}
        reached = {*self.relies_on, *(x.quote.supplier for x in option.lines if x.quote.id in self.certain)}
        spans = []
        for supplier in {x.quote.supplier for x in option.lines if x.quote.supplier and rest[x.quote.id]}:
            goods = sum(_goods(x, rest[x.quote.id]) for x in option.lines if x.quote.supplier == supplier)
            minimum = 0 if supplier in reached else self.job.supplier(supplier).minimum_order_minor
            spans.append(self._topped_up(supplier, goods, minimum))
        refund = 0
        if self.job.settings.fallbacks:
            refund = sum(_refund(x, by_the_piece=True) for x in option.lines)
        return _spend(option, rest, spans, refund, trips=0)

    def later(self, option: Option) -> Spend | None:
        """A later attempt, an order of its own, postage paid or waived. None where a minimum is out of reach."""
        spans: list[Span | None] = []
        suppliers = {x.quote.supplier for x in option.lines if x.quote.supplier}
        for supplier in suppliers:
            terms = self.job.supplier(supplier).alone
            goods = sum(_goods(x, x.units) for x in option.lines if x.quote.supplier == supplier)
            ways = [self._topped_up(supplier, goods, terms.minimum_order_minor, terms.postage_minor)]
            if terms.free_over_minor is not None:
                ways.append(self._topped_up(supplier, goods, max(terms.free_over_minor, terms.minimum_order_minor)))
            open_ways = [way for way in ways if way is not None]
            least, most = (min((way[end] for way in open_ways), default=-1) for end in (0, 1))
            spans.append(Span(least, most) if open_ways else None)
        units = {x.quote.id: x.units for x in option.lines}
        trips = sum(self.job.supplier(supplier).trip_minutes for supplier in suppliers)
        return _spend(option, units, spans, sum(_refund(x, by_the_piece=False) for x in option.lines), trips)

    def _topped_up(self, supplier: str, goods_minor: int, level_minor: int, postage_minor: int = 0) -> Span | None:
        """Goods topped up to a level, deposits on what tops up in it; only from quotes without a stock limit."""
        paid, short = goods_minor + postage_minor, level_minor - goods_minor
        if short <= 0:
            return Span(paid, paid)
        packs = {
            (q.price_minor, q.price_minor + q.pack * q.deposit_minor)
            for q in self.job.quotes
            if q.supplier == supplier and q.stock is None and q.price_minor
            if not any(quote_barred(self.job, q, self.quotes))
        }
        if not packs:
            return None
        more = _least_outlay(short, tuple(sorted(packs)))
        return Span(paid + more.least_minor, paid + more.most_minor)


@lru_cache(maxsize=1024)
def _least_outlay(short_minor: int, packs: tuple[tuple[int, int], ...]) -> Span:
    """The least outlay for at least so much of further goods, by every amount up to it; packs are (price, outlay)."""
    step = gcd(*(price for price, _ in packs))
    steps = -(-short_minor // step)
    if steps * len(packs) > MOST_STEPS:
        least = min(ceil(Fraction(short_minor * outlay, price)) for price, outlay in packs)
        most = min(-(-short_minor // price) * outlay for price, outlay in packs)
        return Span(least, most)
    outlays = [0]
    for amount in range(1, steps + 1):
        outlays.append(min(outlay + outlays[max(0, amount - price // step)] for price, outlay in packs))
    return Span(outlays[-1], outlays[-1])


def _spend(
    option: Option, units: Mapping[str, int], spans: Iterable[Span | None], refund_minor: int, trips: int
) -> Spend | None:
    own = option.direct_minor + sum(
        x.quote.deposit_minor * x.quote.pack * _packs(x, units[x.quote.id]) for x in option.lines
    )
    least = most = own
    for span in spans:
        if span is None:
            return None
        least, most = least + span.least_minor, most + span.most_minor
    back = sum(x.quote.deposit_minor * units[x.quote.id] for x in option.lines)
    return Spend(Span(least, most), back, refund_minor, trips)


def _packs(line: Line, units: int) -> int:
    return -(-units // line.quote.pack)


def _goods(line: Line, units: int) -> int:
    return line.quote.price_minor * _packs(line, units)


def _refund(line: Line, *, by_the_piece: bool) -> int:
    """The share of the goods that comes back, half up: of its pieces in a first order, else of whole packs."""
    goods = Fraction(line.quote.price_minor * line.units, line.quote.pack)
    return floor(
        exact(line.quote.refund_share) * (goods if by_the_piece else _goods(line, line.units)) + Fraction(1, 2)
    )
