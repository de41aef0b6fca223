"""The cost of having an option in hand: whole packs, postage or its waiver, deposits that come back, opening up."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

from optimiser.model.job import Job
from optimiser.model.option import Option
from optimiser.model.plan import Order
from optimiser.model.quotes import Quote, Supplier
from optimiser.orders import OUT_OF_REACH, OrderSums, OwnLanded, Pack, cheapest_order, least_top_up, least_top_ups


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
class OnHand:
    """Orders placed and accesses opened already: goods by supplier, spare pieces by quote, accesses by id."""

    goods_minor: Mapping[str, int] = field(default_factory=dict)
    spare: Mapping[str, int] = field(default_factory=dict)
    opened: frozenset[str] = frozenset()

    @classmethod
    def after(cls, orders: Iterable[Order], opened: Iterable[str]) -> OnHand:
        """The state once these orders are placed."""
        orders = list(orders)
        return cls(
            goods_minor={order.supplier.id: order.goods_minor for order in orders},
            spare={line.quote.id: line.pieces - line.fitted for order in orders for line in order.lines},
            opened=frozenset(opened),
        )


NOTHING_STANDS = OnHand()


def extra_cost(job: Job, option: Option, standing: OnHand = NOTHING_STANDS) -> tuple[int, int]:
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
    closed = set(option.access) - standing.opened
    opening = sum(a.price_minor for a in job.access if a.id in closed) if closed else 0
    cash = orders + deposits + option.direct_minor + opening
    return cash, cash - back


def _order_rise(job: Job, supplier_id: str, more_minor: int, standing: OnHand) -> int:
    """How much an order's goods and postage rise by these goods."""
    terms = job.supplier(supplier_id)
    before = standing.goods_minor.get(supplier_id)

    def to_pay(goods: int) -> int:
        goods = max(goods, terms.minimum_order_minor)
        waived = terms.free_over_minor is not None and goods >= terms.free_over_minor
        return goods + (0 if waived else terms.postage_minor)

    return to_pay(more_minor) if before is None else to_pay(before + more_minor) - to_pay(before)


MOST_AHEAD = 2**16
"""Minor units up to which a shop keeps tables of top-ups; what is short of more is reckoned by itself."""


class Shop:
    """One supplier with all that it offers: what an order to it comes to, as ``OwnLanded`` reckons it, asked often.

    What tops an order up depends on the packs that it holds already only where their stock is short. So tables are kept
    of the least outlay with everything in stock, and with either half of the short stocks away: between the two lies
    what a single taken quote leaves, and where they agree no knapsack need be filled again.
    """

    def __init__(self, terms: Supplier, quotes: Iterable[Quote]) -> None:
        self.terms = terms
        self.quotes = tuple(quotes) if terms.has_threshold else ()
        self.stock = {quote.id: quote.stock for quote in self.quotes}
        short = (quote.id for quote in self.quotes if quote.stock is not None)
        self.half = {name: place % 2 for place, name in enumerate(short)}
        self.tables: dict[int | None, Sequence[int]] = {}

    def order(self, goods_minor: int, taken: Mapping[str, int]) -> OrderSums | None:
        """An order for goods that are so many packs by quote, in the cheapest way; None where it cannot be made."""
        return cheapest_order(self.terms, goods_minor, lambda short_minor: self._top_up(short_minor, taken))

    def _top_up(self, short_minor: int, taken: Mapping[str, int]) -> int | None:
        if short_minor > MOST_AHEAD:
            return least_top_up(short_minor, tuple(_worth_asking(self._left(taken), short_minor)))
        halves = {self.half[name] for name in taken if name in self.half}
        least = self._kept(None, short_minor)
        if not halves or least is None:
            return least
        if len(halves) == 1 and self._kept(halves.pop(), short_minor) == least:
            return least
        return least_top_up(short_minor, tuple(_worth_asking(self._left(taken), short_minor)))

    def _kept(self, away: int | None, short_minor: int) -> int | None:
        """What tops up by so much where that half of the short stocks is away (None: where all is there)."""
        if len(self.tables.get(away, ())) <= short_minor:
            gone = {name: self.stock[name] or 0 for name, half in self.half.items() if half == away}
            likely = max(short_minor, self.terms.minimum_order_minor, self.terms.postage_minor)
            most = min(likely, MOST_AHEAD)
            self.tables[away] = least_top_ups(most, _worth_asking(self._left(gone), most))
        least = self.tables[away][short_minor]
        return None if least == OUT_OF_REACH else least

    def _left(self, taken: Mapping[str, int]) -> Iterator[Pack]:
        for quote in self.quotes:
            left = None if quote.stock is None else quote.stock - taken.get(quote.id, 0)
            yield Pack(quote.price_minor, quote.deposit_minor * quote.pack, left)


def _worth_asking(packs: Iterable[Pack], most_minor: int) -> Iterator[Pack]:
    """Packs that can be part of the least top-up by this much or less.

    Of those of which one is enough the cheapest; of the others those alike put together.
    """
    alike: dict[tuple[int, int], int | None] = {}
    enough: Pack | None = None
    for pack in packs:
        if pack.price_minor == 0 or pack.left == 0:
            continue
        if pack.price_minor < most_minor:
            kind, left = (pack.price_minor, pack.deposits_minor), pack.left
            known = alike.get(kind, 0)
            alike[kind] = None if left is None or known is None else known + left
        elif enough is None or sum(pack[:2]) < sum(enough[:2]):
            enough = pack
    yield from (Pack(*kind, left) for kind, left in sorted(alike.items()))
    if enough is not None:
        yield enough
