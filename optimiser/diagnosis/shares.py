"""What the routes of several faults share, which the mix counts once: orders, access, minimums, contested stock."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from optimiser.diagnosis.cash import OwnLanded
from optimiser.model.job import Access, Check, Job
from optimiser.model.option import Line, Option
from optimiser.model.quotes import Quote

MOST_TOPPING = 4
"""Quotes in short stock, of suppliers whose orders may be topped up, that are told apart."""


class Share(NamedTuple):
    """Something that the mix counts once: an order to a supplier, an access, a supplier's minimum, a contested quote.

    ``packs`` of a contested quote are those that one attempt takes.
    """

    kind: str
    name: str
    packs: int = 0


ORDER, PRICE, OWN_ACCESS, MINIMUM, STOCK = "order", "access", "own-access", "minimum", "stock"
Shares = frozenset[Share]


@dataclass(frozen=True)
class Scene:
    """What the routes of all faults have in common.

    ``contested`` are quotes of which there is too little for all faults that might want them. A fallback's own order
    is topped up with quotes without a stock limit only. ``timed`` says whether the owner's hours limit the routes.
    """

    job: Job
    contested: frozenset[str]
    own_landed: OwnLanded
    timed: bool

    @classmethod
    def of(cls, job: Job, options: Sequence[Option], quotes: Sequence[Quote], *, timed: bool) -> Scene:
        """The scene of a job whose faults may take these options."""
        suppliers = {supplier.id: supplier for supplier in job.suppliers}
        thresholds = {s.id for s in job.suppliers if s.has_threshold}
        top_up = [q for q in quotes if q.supplier in thresholds and q.stock is None]
        return cls(job, _contested(options, thresholds), OwnLanded(suppliers, top_up), timed)

    @cached_property
    def time_counts(self) -> bool:
        """Whether minutes decide anything but ties."""
        return self.timed or self.job.hour_worth_minor > 0

    @cached_property
    def access(self) -> Mapping[str, Access]:
        """Every access by its id."""
        return {access.id: access for access in self.job.access}

    def order_counts(self, supplier: str) -> bool:
        """Whether an order to the supplier costs anything beside its goods, or counts as one of the most allowed."""
        if self.job.settings.most_suppliers is not None:
            return True
        terms = self.job.supplier(supplier)
        return terms.postage_minor > 0 or (self.time_counts and terms.trip_minutes > 0)

    def opening(self, action: Check | Option) -> Shares:
        """The accesses that an action opens, as far as they cost money, or the owner's minutes where those count."""
        own = not (isinstance(action, Option) and action.by_workshop)
        named = [self.access[name] for name in action.access]
        prices = {Share(PRICE, a.id) for a in named if a.price_minor}
        minutes = {Share(OWN_ACCESS, a.id) for a in named if own and a.minutes and self.time_counts}
        return frozenset(prices | minutes)

    def stock(self, option: Option, certain: Mapping[str, int]) -> Shares:
        """The contested quotes that an attempt takes packs of, beside the certain lines."""
        rest = ((x.quote, x.units - certain.get(x.quote.id, 0)) for x in option.lines if x.quote.id in self.contested)
        return frozenset(Share(STOCK, quote.id, quote.packs_for(units)) for quote, units in rest if units > 0)


def _contested(options: Sequence[Option], thresholds: Collection[str]) -> frozenset[str]:
    """Quotes of which all faults together, or an order that is topped up, might want more packs than there are.

    ``thresholds`` are suppliers whose orders may be topped up, with whatever they have. Where those have many quotes
    in short stock they are not told apart: the mix then tops up with none that a route might want.
    """
    stock: dict[str, int] = {}
    wanted: dict[str, dict[str, set[int]]] = {}
    for option in options:
        for line in option.lines:
            if line.quote.stock is not None:
                stock[line.quote.id] = line.quote.stock
                wanted.setdefault(line.quote.id, {}).setdefault(option.fault, set()).add(line.units)
    quotes = {line.quote.id: line.quote for option in options for line in option.lines}
    short = {
        name
        for name, by_fault in wanted.items()
        if sum(quotes[name].packs_for(max(units)) for units in by_fault.values()) > stock[name]
        or (quotes[name].pack > 1 and any(len(units) > 1 for units in by_fault.values()))
    }
    topping = {name for name in stock if quotes[name].supplier in thresholds}
    return frozenset(short | topping if len(topping) <= MOST_TOPPING else short)


class Subset(NamedTuple):
    """Some shares, and what is left of them with each one in turn taken out."""

    shares: Shares
    smaller: tuple[Shares, ...]


def units_of(lines: Iterable[Line]) -> tuple[tuple[str, int], ...]:
    return tuple(sorted((line.quote.id, line.units) for line in lines))


def covers(option: Option, units: Mapping[str, int]) -> bool:
    own = dict(units_of(option.lines))
    return all(own.get(quote, 0) >= needed for quote, needed in units.items())


def rest_goods(option: Option, certain: Mapping[str, int], sure: Collection[str | None]) -> dict[str, int]:
    """What is bought beside the certain lines from suppliers that are not sure to get an order, in minor units."""
    goods: dict[str, int] = {}
    for line in option.lines:
        units = line.units - certain.get(line.quote.id, 0)
        if units > 0 and line.quote.supplier is not None and line.quote.supplier not in sure:
            packs = line.quote.packs_for(units)
            goods[line.quote.supplier] = goods.get(line.quote.supplier, 0) + packs * line.quote.price_minor
    return goods


def meets(options: Sequence[Option]) -> list[tuple[Line, ...]]:
    """What several options have in common, every such set of lines once; first nothing at all."""
    known: dict[tuple[tuple[str, int], ...], tuple[Line, ...]] = {(): ()}
    pending = [option.lines for option in options]
    for one in pending:
        for option in options:
            shared = _meet(one, option.lines)
            if units_of(shared) not in known:
                known[units_of(shared)] = shared
                pending.append(shared)
    return list(known.values())


def _meet(one: Sequence[Line], other: Sequence[Line]) -> tuple[Line, ...]:
    units = dict(units_of(other))
    shared = ((line, min(line.units, units.get(line.quote.id, 0))) for line in one)
    return tuple(Line(quote=x.quote, units=n, wanted=min(x.wanted, n)) for x, n in shared if n)
