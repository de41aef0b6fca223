"""The witness on what an attempt costs by itself: whole packs, deposits, minimum orders, postage, what comes back.

Every step says what tops its orders up. That is added up here; whether it is the cheapest way is the search's business.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import floor

from optimiser.certificate.belief import exact
from optimiser.certificate.options import Quotes, quote_barred
from optimiser.model.job import Job
from optimiser.model.option import Line
from optimiser.model.route import AttemptStep


@dataclass(frozen=True)
class Costs:
    """What the attempts of one route cost beside its certain lines; ``ahead`` are suppliers that it buys from ahead."""

    job: Job
    quotes: Quotes
    certain: Mapping[str, int]
    relies_on: Collection[str]
    ahead: Collection[str] = ()

    def first_wrong(self, step: AttemptStep) -> Iterator[str]:
        """What does not hold in the first attempt of a branch that buys or waits: what is shared is not in it."""
        rest = {x.quote.id: max(0, x.units - self.certain.get(x.quote.id, 0)) for x in step.option.lines}
        rest |= dict.fromkeys(step.option.ahead, 0)
        reached = {
            *self.relies_on,
            *self.ahead,
            *(x.quote.supplier for x in step.option.lines if x.quote.id in self.certain),
        }
        order = _Order(self, step, rest)
        yield from order.wrong()
        for supplier, goods in order.goods.items():
            if supplier not in reached and goods < self.job.supplier(supplier).minimum_order_minor:
                yield f"the order to {supplier} is below its minimum"
        refund = 0
        if self.job.settings.fallbacks:
            refund = sum(_refund(x, by_the_piece=True) for x in step.option.lines)
        yield from _wrong(step, order, postage_minor=0, refund_minor=refund, trips=0)

    def later_wrong(self, step: AttemptStep) -> Iterator[str]:
        """What does not hold in a later attempt, an order of its own to each supplier, postage paid or waived."""
        there = step.option.ahead
        order = _Order(self, step, {x.quote.id: 0 if x.quote.id in there else x.units for x in step.option.lines})
        yield from order.wrong()
        postage = trips = 0
        for supplier, goods in order.goods.items():
            terms = self.job.supplier(supplier).alone
            if goods < terms.minimum_order_minor:
                yield f"the order to {supplier} is below its minimum"
            waived = terms.free_over_minor is not None and goods >= terms.free_over_minor
            postage += 0 if waived else terms.postage_minor
            trips += self.job.supplier(supplier).trip_minutes
        refund = sum(_refund(x, by_the_piece=x.quote.id in there) for x in step.option.lines)
        yield from _wrong(step, order, postage, refund, trips)


class _Order:
    """What an attempt orders by itself: so many pieces of its lines in whole packs, and what tops that up."""

    def __init__(self, costs: Costs, step: AttemptStep, units: Mapping[str, int]) -> None:
        self.costs, self.step = costs, step
        self.back_minor = sum(
            x.quote.deposit_minor * (x.units if x.quote.id in step.option.ahead else units[x.quote.id])
            for x in step.option.lines
        )
        self.goods: Counter[str] = Counter()
        self.deposits_minor = 0
        for line in step.option.lines:
            packs = _packs(line, units[line.quote.id])
            if line.quote.supplier is not None and packs:
                self.goods[line.quote.supplier] += line.quote.price_minor * packs
                self.deposits_minor += line.quote.deposit_minor * line.quote.pack * packs
        self.suppliers = frozenset(self.goods)
        for name, packs in step.topping:
            quote = costs.quotes.get(name)
            if quote is not None and quote.supplier is not None:
                self.goods[quote.supplier] += quote.price_minor * packs
                self.deposits_minor += quote.deposit_minor * quote.pack * packs

    @property
    def cash_minor(self) -> int:
        """Goods and deposits."""
        return sum(self.goods.values()) + self.deposits_minor

    def wrong(self) -> Iterator[str]:
        """Top-ups that are no quotes of the suppliers ordered from."""
        if len({name for name, _ in self.step.topping}) != len(self.step.topping):
            yield "a quote tops up twice"
        for name, packs in self.step.topping:
            quote = self.costs.quotes.get(name)
            if quote is None or quote.supplier not in self.suppliers or packs < 1:
                yield f"{name} cannot top the order up"
            else:
                yield from quote_barred(self.costs.job, quote, self.costs.quotes)


def _wrong(step: AttemptStep, order: _Order, postage_minor: int, refund_minor: int, trips: int) -> Iterator[str]:
    cash = step.option.direct_minor + order.cash_minor + postage_minor
    if step.cash_minor != cash:
        yield f"cash {step.cash_minor} is not {cash}"
    if step.cash_minor - step.net_minor != order.back_minor:
        yield f"net cost {step.net_minor} is not cash less the {order.back_minor} that come back"
    if step.refund_minor != refund_minor:
        yield f"refund {step.refund_minor} is not {refund_minor}"
    if step.minutes != step.option.minutes + trips:
        yield f"{step.minutes} minutes are not {step.option.minutes + trips}"


def _packs(line: Line, units: int) -> int:
    return -(-units // line.quote.pack)


def _refund(line: Line, *, by_the_piece: bool) -> int:
    """The share of the goods that comes back, half up: of its pieces in a first order, else of whole packs."""
    goods = Fraction(line.quote.price_minor * line.units, line.quote.pack)
    return floor(
        exact(line.quote.refund_share) * (goods if by_the_piece else line.quote.price_minor * _packs(line, line.units))
        + Fraction(1, 2)
    )
