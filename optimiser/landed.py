"""What an option costs to have in hand: whole packs, postage or its waiver, deposits that come back, opening up."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from optimiser.diagnosis.cash import OwnLanded
from optimiser.model.job import Job
from optimiser.model.option import Option
from optimiser.model.plan import Order
from optimiser.model.quotes import Quote


class Alone:
    """Reckons options bought by themselves: whole packs, an order topped up in the cheapest way where its terms ask."""

    def __init__(self, job: Job, quotes: Iterable[Quote]) -> None:
        self.job = job
        self.terms = {supplier.id: supplier for supplier in job.suppliers}
        self.access_minor = {access.id: access.price_minor for access in job.access}
        self.quotes: dict[str, list[Quote]] = defaultdict(list)
        for quote in quotes:
            if quote.supplier is not None and quote.supplier in self.terms and self.terms[quote.supplier].has_threshold:
                self.quotes[quote.supplier].append(quote)

    def __call__(self, option: Option) -> tuple[int, int]:
        """Cash and net cost in minor units.

        Where the supplier's quotes cannot reach its minimum order, the minimum itself is counted.
        """
        quotes = [quote for supplier in sorted(option.suppliers) for quote in self.quotes[supplier]]
        cost = OwnLanded(self.terms, quotes)(option, ())
        if cost is None:
            return extra_cost(self.job, option)
        opening = sum(self.access_minor[access] for access in option.access)
        return cost.cash_minor + opening, cost.net_minor + opening


@dataclass(frozen=True)
class Standing:
    """What is ordered and opened already: goods by supplier, spare pieces by quote, accesses by id."""

    goods_minor: Mapping[str, int] = field(default_factory=dict)
    spare: Mapping[str, int] = field(default_factory=dict)
    opened: frozenset[str] = frozenset()

    @classmethod
    def after(cls, orders: Iterable[Order], opened: Iterable[str]) -> Standing:
        """What stands once these orders are placed."""
        orders = list(orders)
        return cls(
            goods_minor={order.supplier.id: order.goods_minor for order in orders},
            spare={line.quote.id: line.pieces - line.fitted for order in orders for line in order.lines},
            opened=frozenset(opened),
        )


NOTHING_STANDS = Standing()


def extra_cost(job: Job, option: Option, standing: Standing = NOTHING_STANDS) -> tuple[int, int]:
    """Cash and net cost of an option on top of what stands, in minor units.

    An order below the supplier's minimum is counted as topped up to it. Spending more only to reach free postage is
    not counted: the mix does that where it pays.
    """
    goods: dict[str, int] = {}
    deposits = back = 0
    for line in option.lines:
        quote = line.quote
        if quote.supplier is None:
            continue
        packs = quote.packs_for(max(0, line.units - standing.spare.get(quote.id, 0)))
        goods[quote.supplier] = goods.get(quote.supplier, 0) + packs * quote.price_minor
        deposits += packs * quote.pack * quote.deposit_minor
        back += line.units * quote.deposit_minor
    orders = sum(_order_rise(job, supplier, more, standing) for supplier, more in goods.items())
    opening = sum(a.price_minor for a in job.access if a.id in option.access and a.id not in standing.opened)
    cash = orders + deposits + option.direct_minor + opening
    return cash, cash - back


def _order_rise(job: Job, supplier_id: str, more_minor: int, standing: Standing) -> int:
    """How much an order's goods and postage rise by these goods."""
    terms = job.supplier(supplier_id)
    before = standing.goods_minor.get(supplier_id)

    def to_pay(goods: int) -> int:
        goods = max(goods, terms.minimum_order_minor)
        waived = terms.free_over_minor is not None and goods >= terms.free_over_minor
        return goods + (0 if waived else terms.postage_minor)

    return to_pay(more_minor) if before is None else to_pay(before + more_minor) - to_pay(before)
