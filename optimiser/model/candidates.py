"""What the mix may choose from: routes put forward for every fault, and the quotes that may top up an order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from optimiser.model.option import Line, NotOffered, Option
from optimiser.model.quotes import Quote
from optimiser.model.route import Route
from optimiser.money import half_up


@dataclass(frozen=True)
class Proposal:
    """One route of one fault, reduced to its figures; ``read`` draws up the tree.

    Shared: the ``certain`` lines that the first attempt of every branch buys or that are bought ``ahead``, the
    ``suppliers`` that get a first order, the ``access`` that is paid for and, of it, ``own_access`` that takes the
    owner's minutes; ``relies_on`` are suppliers whose minimum it leaves to the certain lines of others.
    ``other_packs`` are the most packs, beside the certain lines, of quotes that others may want too.

    Its own: ``cash_minor`` is the dearest path without what is shared, ``net_minor`` the expected cost without it;
    ``minutes`` are those of the longest path where hours are limited, else the expected ones, rounded.
    ``outdone``: a route of the fault with another first step is better in every best mix.
    """

    fault: str
    first_step: tuple[str, ...]
    content: tuple[object, ...]
    certain: tuple[Line, ...]
    suppliers: frozenset[str]
    access: frozenset[str]
    own_access: frozenset[str]
    cash_minor: int
    chance: float
    net_minor: float
    expected_minutes: float
    minutes: int
    read: Callable[[], Route] = field(repr=False, compare=False)
    relies_on: frozenset[str] = frozenset()
    ahead: frozenset[str] = frozenset()
    other_packs: Mapping[str, int] = field(default_factory=dict)
    key: tuple[str, ...] = ()
    outdone: bool = False

    @property
    def certain_suppliers(self) -> frozenset[str]:
        """Suppliers that are sure to get an order."""
        return frozenset(line.quote.supplier for line in self.certain if line.quote.supplier is not None)

    @property
    def rides_with(self) -> frozenset[str]:
        """Suppliers of whom it buys one line, ahead: it may only where another fault is sure to buy there too."""
        if not self.ahead:
            return frozenset()
        bought = Counter(line.quote.supplier for line in self.certain)
        alone = (x.quote.supplier for x in self.certain if x.quote.id in self.ahead and bought[x.quote.supplier] == 1)
        return frozenset(supplier for supplier in alone if supplier is not None)

    @property
    def net_whole_minor(self) -> int:
        """The expected cost in whole minor units, half up."""
        return half_up(self.net_minor)

    @property
    def expected_tenths(self) -> int:
        """The expected minutes in whole tenths."""
        return half_up(10 * self.expected_minutes)


def known_by(route: Route | Proposal) -> tuple[object, ...]:
    """What a route that was read is known again by among those put forward: figures, for trees take long to compare."""
    return (route.fault, route.first_step, route.cash_minor, round(route.chance, 9))


def once(option: Option) -> Proposal:
    """The proposal to try one option and leave it at that; deposits come back, nothing is sent back for money."""
    return Proposal(
        fault=option.fault,
        first_step=option.key,
        content=(0, option.content),
        certain=option.lines,
        suppliers=option.suppliers,
        access=frozenset(option.access),
        own_access=frozenset() if option.by_workshop else frozenset(option.access),
        cash_minor=option.direct_minor,
        chance=option.chance,
        net_minor=float(option.direct_minor),
        expected_minutes=float(option.minutes),
        minutes=option.minutes,
        read=lambda: Route.once(option),
        key=option.key,
    )


Spans = tuple[tuple[int, int], ...]
"""Spans of amounts, each by its least and its greatest."""


@dataclass(frozen=True)
class Offer:
    """All that the mix may choose from.

    ``options`` are those of every fault, ``quotes`` all that may top up an order. ``routes`` are what is put forward;
    None where each option is tried once and left at that. Of the quotes ``told_apart`` each route says how many packs
    it may take beside the certain lines; any other quote in short stock has enough for all that the routes want.
    ``sums`` are by supplier the amounts that orders may be topped up with beside ``quotes``, where only those are told.
    ``passed_over`` are the parts with so many quotes that some were not looked at, each with how many.
    """

    options: tuple[Option, ...]
    quotes: tuple[Quote, ...]
    not_offered: tuple[NotOffered, ...] = ()
    routes: tuple[Proposal, ...] | None = None
    told_apart: frozenset[str] = frozenset()
    passed_over: Mapping[str, int] = field(default_factory=dict)
    sums: Mapping[str, Spans] = field(default_factory=dict)

    @cached_property
    def proposals(self) -> tuple[Proposal, ...]:
        """The routes put forward for all faults, each fault's in an order made of content."""
        return tuple(once(option) for option in self.options) if self.routes is None else self.routes

    def without_outdone(self, whole: Collection[str] = ()) -> Offer:
        """All that a best mix may take; of the ``whole`` faults all routes, for a question about how they begin."""
        if self.routes is None:
            return self
        return replace(self, routes=tuple(p for p in self.routes if not p.outdone or p.fault in whole))
