"""Of thousands of quotes for one part, those that enough others beat for a fault whatever else is chosen.

Whatever else: the better one takes no longer, lasts as long, cannot run out, is as sure and gives back as much, and the
money that it spares is more than all that a change of supplier can cost. With fallbacks a fault tries several quotes,
so one that is beaten may still be the next to be tried; but where as many beat it as a route may try, one of these is
not tried, and the route is better with that one in its place, everywhere.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date
from heapq import nsmallest
from math import inf, prod
from typing import NamedTuple

from optimiser.model.evidence import Finding
from optimiser.model.job import Fault, Job
from optimiser.model.quotes import Quote, Supplier

CROWD = 100
"""Quotes of one part up to which all are looked at, so that what-ifs show every one of them."""


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
        settings, set_of = job.settings, job.part(part).renew_in
        wanted = {
            f.id: max((-(-r.parts[part] // set_of) * set_of for r in f.repairs if part in r.parts), default=0)
            for f in job.faults
        }
        free = settings.most_suppliers is None and settings.needed_by is None
        return cls(
            pieces=sum(wanted.values()),
            alone=sum(wanted.values()) == wanted[fault.id],
            enough=_most_tried(job, fault, list(shelf)) + 1,
            elsewhere=free and _one_order(job, fault),
        )

    def unbeaten(self, quotes: Sequence[Quote], suppliers: Mapping[str, Supplier]) -> list[Quote]:
        """The quotes that fewer than enough others beat."""
        alike: dict[object, list[Quote]] = defaultdict(list)
        for quote in quotes:
            alike[quote.condition, quote.good_chance, quote.refund_share, quote.deposit_minor, quote.rough].append(
                quote
            )
        beaten = {quote.id for some in alike.values() for quote in self._beaten(some, suppliers)}
        return [quote for quote in quotes if quote.id not in beaten]

    def _beaten(self, alike: Sequence[Quote], suppliers: Mapping[str, Supplier]) -> Iterable[Quote]:
        anywhere = _Prices(self.enough, self.pieces)
        at = defaultdict[str, _Prices](lambda: _Prices(self.enough, self.pieces))
        for quote in alike:
            terms = _terms(quote, suppliers)
            if terms is None or quote.pack > 1 or not self._lasts_out(quote, terms):
                continue
            if not terms.has_threshold:
                at[terms.id].add(quote, quote.price_minor)
            if self.elsewhere and quote.valid_until is None and _costs_postage_alone(quote, terms):
                anywhere.add(quote, quote.price_minor + max(terms.postage_minor, terms.alone.postage_minor))
        for quote in alike:
            terms = _terms(quote, suppliers)
            if terms is None or (quote.pack > 1 and not self.alone):
                continue
            prices = [at[terms.id].enough_below(quote)] if not terms.has_threshold else []
            if _is_missed_by_none(quote, terms):
                prices.append(anywhere.enough_below(quote) + _waived_minor(terms))
            if min(prices, default=inf) < quote.price_minor:
                yield quote

    def _lasts_out(self, quote: Quote, terms: Supplier) -> bool:
        """Whether there is enough of it whatever is chosen; what tops orders up may take any number."""
        return quote.stock is None or (quote.stock >= self.pieces and not terms.has_threshold)


class _Prices:
    """Prices of single pieces by days and last day; ``most`` is how many a repair may want."""

    def __init__(self, enough: int, most: int) -> None:
        self._enough, self._most = enough, most
        self._of: dict[tuple[int, date], list[int]] = defaultdict(list)
        self._known: dict[tuple[int, int, date], float] = {}

    def add(self, quote: Quote, price_minor: int) -> None:
        """One more that may be taken in the place of others."""
        self._of[_when(quote)].append(price_minor)

    def enough_below(self, quote: Quote) -> float:
        """The price that enough of those that are as soon here and last as long do not pass, for as much of a pack like
        this as may be wanted.
        """
        days, last_day = _when(quote)
        name = (quote.pack, days, last_day)
        if name not in self._known:
            able = (p for when, prices in self._of.items() if when[0] <= days and when[1] >= last_day for p in prices)
            cheapest = nsmallest(self._enough, able)
            self._known[name] = cheapest[-1] * min(quote.pack, self._most) if len(cheapest) == self._enough else inf
        return self._known[name]


def _when(quote: Quote) -> tuple[int, date]:
    return quote.lead_days, quote.valid_until or date.max


def _terms(quote: Quote, suppliers: Mapping[str, Supplier]) -> Supplier | None:
    """The supplier's terms; None for the shelf."""
    return None if quote.supplier is None else suppliers.get(quote.supplier) or Supplier(id=quote.supplier)


def _costs_postage_alone(quote: Quote, terms: Supplier) -> bool:
    """Whether an order of this alone can be placed, and costs postage at the most beside it."""
    least = max(terms.minimum_order_minor, terms.alone.minimum_order_minor)
    return not terms.trip_minutes and not terms.alone.trip_minutes and quote.price_minor >= least


def _is_missed_by_none(quote: Quote, terms: Supplier) -> bool:
    """Whether an order without this loses postage waived at the most, and none would have it bought ahead."""
    both = (terms, terms.alone)
    return all(t.postage_minor < quote.price_minor and not (t.minimum_order_minor or t.trip_minutes) for t in both)


def _waived_minor(terms: Supplier) -> int:
    """The postage that a supplier's goods can spare."""
    return max((t.postage_minor for t in (terms, terms.alone) if t.free_over_minor is not None), default=0)


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
