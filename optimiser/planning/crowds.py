"""Of thousands of quotes for one part, those that enough others beat for a fault whatever else is chosen.

Whatever else: the better one takes no longer, lasts as long, cannot run out, is as sure and gives back as much, and the
money that it spares is more than all that a change of supplier can cost. With fallbacks a fault tries several quotes,
so one that is beaten may still be the next to be tried; but where as many beat it as a route may try, one of these is
not tried, and the route is better with that one in its place, everywhere.
"""

from __future__ import annotations

from bisect import insort
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date
from heapq import nsmallest
from itertools import chain, islice, zip_longest
from math import inf, prod
from operator import attrgetter
from typing import NamedTuple

from optimiser.model.evidence import Finding
from optimiser.model.job import Fault, Job
from optimiser.model.quotes import Quote, Supplier

CROWD = 100
"""Quotes of one part up to which all are looked at, so that what-ifs show every one of them."""
MOST_IN_ALL = 300
"""Quotes of all crowds of a job together that are looked at: no mix of more is proven in an hour, and none better found
in the time. Fifty crowds come to 46.3 fixes with six quotes of each in 10 s, to 45.5 with a hundred in 14 s."""
FEWEST = 6
"""Quotes of each crowd that are looked at all the same."""


class Crowd(NamedTuple):
    """What beats what for one part of one fault.

    ``pieces`` are the most that all faults together may want, ``alone`` whether no other fault wants any; of so many
    that are better (``enough``) one is not tried; ``elsewhere``: whether they may be another supplier's.
    """

    pieces: int
    alone: bool
    enough: int
    elsewhere: bool

    @classmethod
    def of(cls, job: Job, fault: Fault, part: str, shelf: Iterable[Quote]) -> Crowd:
        """For a fault's repairs that want the part; ``shelf`` are the rows of it that lie there."""
        settings, row = job.settings, job.part(part)
        wanted = {f.id: f.most_of(row) for f in job.faults}
        free = settings.most_suppliers is None and settings.needed_by is None
        return cls(
            pieces=sum(wanted.values()),
            alone=sum(wanted.values()) == wanted[fault.id],
            enough=_most_tried(job, fault, list(shelf)) + 1,
            elsewhere=free and _one_order(job, fault),
        )

    def unbeaten(self, quotes: Sequence[Quote], shops: Mapping[str, ShopTerms]) -> list[Quote]:
        """The quotes that fewer than enough others beat."""
        beaten = {quote.id for some in _by_kind(quotes) for quote in self._beaten(some, shops)}
        return [quote for quote in quotes if quote.id not in beaten]

    def _beaten(self, alike: Sequence[Quote], shops: Mapping[str, ShopTerms]) -> Iterable[Quote]:
        anywhere = _Prices(self.enough, self.pieces)
        at = {name: _Prices(self.enough, self.pieces) for name in {q.supplier for q in alike if q.supplier is not None}}
        sold = [
            (quote, shops[quote.supplier], (quote.pack, quote.lead_days, quote.valid_until or date.max))
            for quote in alike
            if quote.supplier is not None
        ]
        for quote, shop, pack in sold:
            if quote.pack > 1 or not self._lasts_out(quote, shop):
                continue
            if not shop.least_minor:
                at[shop.name].add(pack, quote.price_minor)
            stays = quote.valid_until is None and not shop.trips
            if self.elsewhere and stays and quote.price_minor >= shop.least_minor:
                anywhere.add(pack, quote.price_minor + shop.postage_minor)
        for quote, shop, pack in sold:
            if shop.least_minor or (quote.pack > 1 and not self.alone):
                continue
            limit = quote.price_minor - shop.waived_minor
            moves = self.elsewhere and not shop.trips and shop.postage_minor < quote.price_minor
            if (moves and anywhere[pack] < limit) or at[shop.name][pack] < limit:
                yield quote

    def _lasts_out(self, quote: Quote, shop: ShopTerms) -> bool:
        """Whether there is enough of it whatever is chosen; what tops orders up may take any number."""
        return quote.stock is None or (quote.stock >= self.pieces and not shop.threshold)


class ShopTerms(NamedTuple):
    """A supplier's terms as they bear on a change of lines, the worse of what it asks now and of an order by itself.

    ``least_minor`` is its minimum, ``waived_minor`` the postage that goods can spare, ``trips`` whether goods are
    fetched there, ``threshold`` whether more goods can ever pay.
    """

    name: str
    postage_minor: int
    waived_minor: int
    least_minor: int
    trips: bool
    threshold: bool

    @classmethod
    def of(cls, terms: Supplier) -> ShopTerms:
        """From the terms."""
        both = (terms, terms.alone)
        return cls(
            name=terms.id,
            postage_minor=max(t.postage_minor for t in both),
            waived_minor=max((t.postage_minor for t in both if t.free_over_minor is not None), default=0),
            least_minor=max(t.minimum_order_minor for t in both),
            trips=any(t.trip_minutes for t in both),
            threshold=terms.has_threshold,
        )


def first_of(quotes: Sequence[Quote], shops: Mapping[str, ShopTerms], most: int) -> list[Quote]:
    """So many quotes of one part, in their order: by turns the next of all that costs least for its chance, and of one
    kind of piece after the other the next cheapest, whatever is ordered with it, in an order by itself, and of those
    that last.
    """
    each = {q.id: q.each_minor for q in quotes}
    landed = {q.id: each[q.id] + (shops[q.supplier].postage_minor if q.supplier else 0) for q in quotes}
    for_its_chance = {q.id: landed[q.id] / q.good_chance if q.good_chance else inf for q in quotes}
    ranked = [
        nsmallest(most, few, by.__getitem__)
        for alike in _by_kind(quotes)
        for few in ([q.id for q in alike], [q.id for q in alike if q.valid_until is None])
        for by in (landed, each)
    ]
    ranked.sort(key=lambda few: for_its_chance[few[0]] if few else inf)
    of_all = nsmallest(most, for_its_chance, for_its_chance.__getitem__)
    in_turn = chain.from_iterable(zip_longest(of_all, chain.from_iterable(zip_longest(*ranked))))
    chosen = set(islice(dict.fromkeys(filter(None, in_turn)), most))
    return [quote for quote in quotes if quote.id in chosen or quote.supplier is None]


def shops_of(quotes: Iterable[Quote], suppliers: Mapping[str, Supplier]) -> dict[str, ShopTerms]:
    """The shops that sell any of the quotes."""
    sellers = set(map(attrgetter("supplier"), quotes)) - {None}
    return {name: ShopTerms.of(suppliers.get(name) or Supplier(id=name)) for name in sellers}


def _by_kind(quotes: Iterable[Quote]) -> list[list[Quote]]:
    """Those together that are worth the same once they are here."""
    kinds: dict[object, list[Quote]] = defaultdict(list)
    for q in quotes:
        kinds[q.condition, q.good_chance, q.refund_share, q.deposit_minor, q.rough].append(q)
    return list(kinds.values())


_Pack = tuple[int, int, date]
"""Pieces, days, last day."""


class _Prices(dict[_Pack, float]):
    """Of packs the price that enough of those single pieces that are as soon here and last as long do not pass, for as
    much of a pack as may be wanted (``most``); worked out once all pieces are there.
    """

    def __init__(self, enough: int, most: int) -> None:
        super().__init__()
        self._enough, self._most = enough, most
        self._of: dict[_Pack, list[int]] = defaultdict(list)

    def add(self, piece: _Pack, price_minor: int) -> None:
        """One more that may be taken in the place of others; of those alike only enough are remembered."""
        cheapest = self._of[piece]
        if len(cheapest) < self._enough or price_minor < cheapest[-1]:
            insort(cheapest, price_minor)
            del cheapest[self._enough :]

    def __missing__(self, pack: _Pack) -> float:
        pieces, days, last_day = pack
        able = (p for (_, soon, last), some in self._of.items() if soon <= days and last >= last_day for p in some)
        cheapest = sorted(able)[: self._enough]
        self[pack] = cheapest[-1] * min(pieces, self._most) if len(cheapest) == self._enough else inf
        return self[pack]


def _most_tried(job: Job, fault: Fault, shelf: Collection[Quote]) -> int:
    """No route tries more batches of one part: one an attempt on every path, and those that shelf pieces are of."""
    if not job.settings.fallbacks:
        return 0
    made = {entry.check for entry in job.seen.get(fault.id, ()) if isinstance(entry, Finding)}
    paths = prod(len(check.results) + 1 for check in fault.checks if check.id not in made)
    return job.settings.most_attempts * paths + sum(len(row.came_from) for row in shelf)


def _one_order(job: Job, fault: Fault) -> bool:
    """Whether what a first attempt buys is bought in every outcome: nothing that comes before may make it needless."""
    leads = any(not repair.parts and not repair.lead_days for repair in fault.repairs)
    return not job.settings.fallbacks or not (fault.checks or leads or job.owned)
