"""What the checks of a fault are worth to a plan: its other routes stay as they are, this fault's may be any other.

So a check's own price is paid from the pot, and never pushes out the repair that it serves while money lies unspent.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from copy import copy
from dataclasses import dataclass
from functools import cached_property, partial
from itertools import groupby
from math import inf
from operator import itemgetter
from typing import NamedTuple

from optimiser.diagnosis.candidates import FaultRoutes, FaultSearch
from optimiser.diagnosis.evidence import check_of
from optimiser.diagnosis.shares import Scene, units_of
from optimiser.model.candidates import Proposal
from optimiser.model.plan import CheckWorth, Verdict
from optimiser.model.quotes import Quote
from optimiser.model.route import AttemptStep, CheckStep, Node
from optimiser.orders import cheapest_order

LEAST_CHANCE = 0.0005
LEAST_MINOR = 0.5
"""Less than this of a fix or of a minor unit is nothing to speak of."""


class Total(NamedTuple):
    """What routes come to together: cash out at the most, and net cost with own time, in minor units."""

    cash_minor: int
    cost_minor: float


@dataclass(frozen=True)
class Beside:
    """The routes of all other faults as planned, to see what each route of one fault would come to beside them."""

    scene: Scene
    others: Sequence[Proposal]

    @cached_property
    def left_minor(self) -> int:
        """What of the pot is not taken by what the others do not share."""
        return max(0, self.scene.job.pot.remaining_minor) - sum(p.cash_minor for p in self.others)

    def best(
        self, routes: Iterable[Proposal], value: Callable[[Proposal], tuple[float, ...]], gain_minor: float
    ) -> _Pick | None:
        """The best of these routes that pot, stock, hours and suppliers allow; where there is none the fault is left.

        By ``value``, then by cost less ``gain_minor`` a cure.
        """
        valued = [(value(route), route) for route in routes]
        for _, equals in groupby(sorted(valued, key=itemgetter(0), reverse=True), key=itemgetter(0)):
            found = self._cheapest([route for _, route in equals], gain_minor)
            if found is not None:
                return found
        left = self._together.total
        return None if left is None else _Pick(None, left.cost_minor)

    def _cheapest(self, routes: Sequence[Proposal], gain_minor: float) -> _Pick | None:
        """The route of least cost less gain that is affordable.

        What it shares adds to its own cost, but for postage that its goods may save others: so far, and no further, one
        that costs more by itself can come out cheaper.
        """
        worth = self.scene.job.hour_worth_minor / 60

        def own(route: Proposal) -> float:
            return route.net_minor + worth * route.expected_minutes - gain_minor * route.chance

        best: tuple[float, _Pick] | None = None
        pot, (least_cash, least_cost) = max(0, self.scene.job.pot.remaining_minor), self._least
        for route in sorted(routes, key=own):
            if best is not None and least_cost + own(route) >= best[0]:
                break
            if least_cash + route.cash_minor > pot:
                continue
            total = self.with_one(route)
            if total is None or total.cash_minor > pot:
                continue
            if best is None or total.cost_minor - gain_minor * route.chance < best[0]:
                best = (total.cost_minor - gain_minor * route.chance, _Pick(route, total.cost_minor))
        return None if best is None else best[1]

    @cached_property
    def _least(self) -> tuple[float, float]:
        """No more than the whole plan takes, and costs, beside what one more route does by itself.

        One route more could save others all postage that goods may waive.
        """
        saved = sum(s.postage_minor for s in self.scene.job.suppliers if s.free_over_minor is not None)
        alone = self._together.total
        return (-inf, -inf) if alone is None else (alone.cash_minor - saved, alone.cost_minor - saved)

    @cached_property
    def _together(self) -> _Sums:
        together = _Sums(self.scene, self.others)
        _ = together.orders_minor  # reckoned now, once for all that is added
        return together

    def with_one(self, route: Proposal) -> Total | None:
        """What they come to with one more; None where stock, minimums, hours or the number of suppliers forbid it."""
        name = (
            units_of(route.certain), route.suppliers, route.access, route.own_access, route.relies_on, route.ahead,
            frozenset(route.other_packs.items()),
        )  # fmt: skip
        if name not in self._common:
            self._common[name] = self._together.with_shared(route).shared
        return self._together.total_of(self._common[name], route)

    @cached_property
    def _common(self) -> dict[tuple[object, ...], _Common | None]:
        """What all share with one route more, by what that one shares: many share alike."""
        return {}


class _Common(NamedTuple):
    """What routes share with each other: cash out at the most, deposits that come back, minutes."""

    cash_minor: int
    back_minor: int
    minutes: int


class _Pick(NamedTuple):
    """A route of the fault (None: it is left) and what the whole plan costs with it."""

    route: Proposal | None
    cost_minor: float

    @property
    def chance(self) -> float:
        """The fault's chance of a cure."""
        return 0.0 if self.route is None else self.route.chance


class _Sums:
    """What some routes come to together; one route more changes little of it."""

    def __init__(self, scene: Scene, routes: Iterable[Proposal]) -> None:
        self.scene = scene
        self.need: Counter[str] = Counter()
        self.others: Counter[str] = Counter()
        self.buyers: Counter[str] = Counter()
        self.quotes: dict[str, Quote] = {}
        self.suppliers = self.access = self.own_access = self.relied = self.riding = frozenset[str]()
        self.cash_minor = self.minutes = 0
        self.net_minor = self.expected_minutes = 0.0
        self.enough = True
        self.orders: dict[str, int | None] = {}
        for route in routes:
            self.add(route)

    def with_shared(self, route: Proposal) -> _Sums:
        """With what one route more shares."""
        more = copy(self)
        more.need, more.others, more.buyers = self.need.copy(), self.others.copy(), self.buyers.copy()
        more.quotes, more.orders = self.quotes.copy(), self.orders.copy()
        more.share(route)
        return more

    def add(self, route: Proposal) -> None:
        self.share(route)
        self.cash_minor += route.cash_minor
        self.minutes += route.minutes
        self.net_minor += route.net_minor
        self.expected_minutes += route.expected_minutes

    def share(self, route: Proposal) -> None:
        self.others.update(route.other_packs)
        for line in route.certain:
            self.need[line.quote.id] += line.units
            self.quotes[line.quote.id] = line.quote
        self.buyers.update(route.certain_suppliers)
        self.suppliers |= route.suppliers | route.certain_suppliers
        self.access |= route.access
        self.own_access |= route.own_access
        self.relied |= route.relies_on
        self.riding |= route.rides_with
        for name in {*route.other_packs, *(line.quote.id for line in route.certain)}:
            quote = self.quotes.get(name) or self.scene.payments.by_id.get(name)
            if quote is not None:
                self.orders.pop(quote.supplier or "", None)
                self.enough &= quote.stock is None or self._packs(quote) + self.others[name] <= quote.stock

    def _packs(self, quote: Quote) -> int:
        """Packs that the certain lines of a quote come to."""
        return quote.packs_for(self.need[quote.id]) if quote.id in self.quotes else 0

    @property
    def total(self) -> Total | None:
        """See ``Beside.with_one``."""
        return self.total_of(self.shared)

    def total_of(self, shared: _Common | None, *more: Proposal) -> Total | None:
        """The total beside what is shared, with some routes more."""
        job = self.scene.job
        limit = job.time.minutes if self.scene.timed else None
        if shared is None:
            return None
        if limit is not None and shared.minutes + sum((p.minutes for p in more), self.minutes) > limit:
            return None
        expected = shared.minutes + sum((p.expected_minutes for p in more), self.expected_minutes)
        net = shared.cash_minor - shared.back_minor + sum((p.net_minor for p in more), self.net_minor)
        cash = shared.cash_minor + sum((p.cash_minor for p in more), self.cash_minor)
        return Total(cash, net + job.hour_worth_minor * expected / 60)

    @property
    def shared(self) -> _Common | None:
        """What they share; None where stock, minimums or the number of suppliers forbid it."""
        most = self.scene.job.settings.most_suppliers
        if (most is not None and len(self.suppliers) > most) or not self.enough:
            return None
        orders = self.orders_minor
        # nothing that is bought ahead is alone in its order
        if orders is None or not self.relied <= self.buyers.keys() or any(self.buyers[s] < 2 for s in self.riding):
            return None
        return _Common(orders + self.postage_minor + self.access_minor, self.deposits_back_minor, self.shared_minutes)

    @property
    def orders_minor(self) -> int | None:
        """The sure orders, in the cheapest way; None where a minimum is too high."""
        paid = 0
        for supplier in self.buyers:
            if supplier not in self.orders:
                self.orders[supplier] = self._order(supplier)
            order = self.orders[supplier]
            if order is None:
                return None
            paid += order
        return paid

    def _order(self, supplier: str) -> int | None:
        """What is paid to one supplier, deposits included."""
        packs = [(q, self._packs(q)) for q in self.quotes.values() if q.supplier == supplier]
        short = (q for q in self.scene.payments.of_supplier(supplier) if q.stock is not None)
        taken = {q.id: self._packs(q) + self.others[q.id] for q in short}
        goods = sum(quote.price_minor * count for quote, count in packs)
        top_up = partial(self.scene.payments.least, supplier, taken)
        order = cheapest_order(self.scene.terms(supplier), goods, top_up)
        deposits = sum(quote.deposit_minor * quote.pack * count for quote, count in packs)
        return None if order is None else deposits + order.total_minor

    @property
    def deposits_back_minor(self) -> int:
        """What comes back with the old units of the certain pieces."""
        return sum(self.quotes[name].deposit_minor * units for name, units in self.need.items())

    @property
    def postage_minor(self) -> int:
        """Postage of first orders that are not sure."""
        return sum(self.scene.terms(s).postage_minor for s in self.suppliers - self.buyers.keys())

    @property
    def access_minor(self) -> int:
        return sum(self.scene.access[name].price_minor for name in self.access)

    @property
    def shared_minutes(self) -> int:
        """Opening up and trips, once each."""
        trips = sum(self.scene.terms(supplier).trip_minutes for supplier in self.suppliers)
        return trips + sum(self.scene.access[name].minutes for name in self.own_access)


def judged(
    search: FaultSearch,
    beside: Beside,
    route: Proposal,
    routes: Sequence[Proposal],
    without: Callable[[str, int], FaultRoutes],
) -> Verdict:
    """The checks of one fault judged; ``route`` is what the plan does, ``routes`` all that were put forward.

    ``without`` finds the routes without a check that take no more than so much beside what they share.
    """
    judge = _Judge(search, beside, route)
    taken = {step.check for step in route.read().checks}
    made = (judge.against(check, without(check, beside.left_minor)) for check in sorted(taken))
    left = (judge.first(check.id, routes) for check in search.checks if check.id not in taken)
    begins_with_check = route.first_step[1] == "check"
    return Verdict(checks=(*made, *left), rival=None if begins_with_check else judge.rival(routes))


@dataclass(frozen=True)
class _Judge:
    search: FaultSearch
    beside: Beside
    route: Proposal

    @cached_property
    def with_it(self) -> _Pick:
        """The plan as it is."""
        total = self.beside.with_one(self.route)
        if total is None:
            raise ValueError(f"the plan does not hold with its own route of {self.route.fault}")
        return _Pick(self.route, total.cost_minor)

    def against(self, check: str, fewer: FaultRoutes) -> CheckWorth:
        """What a check of the route adds to the best without it."""
        return self._differ(self.with_it, self._best(fewer.proposals), check=check, taken=True)

    def first(self, check: str, routes: Sequence[Proposal]) -> CheckWorth:
        """What making a check first would add, which is not much, or less than nothing."""
        begun = [p for p in routes if p.first_step == (self.search.fault.id, "check", check)]
        found = self._best(begun)
        if found is None or found.route is None:
            return self._differ(self.with_it, self.with_it, check=check, left_out=True)
        same_next = _same_next(found.route.read().first)
        return self._differ(found, self.with_it, check=check, left_out=True, same_next=same_next)

    def rival(self, routes: Sequence[Proposal]) -> CheckWorth | None:
        """The best plan that begins with a check, against this one, where this one is the better by something."""
        begun = [p for p in routes if p.first_step[1:2] == ("check",)]
        found = self._best(begun)
        if found is None or found.route is None:
            return None
        worth = self._differ(found, self.with_it, check=found.route.first_step[-1])
        return worth if worth.fixes < -LEAST_CHANCE or worth.saved_minor <= -LEAST_MINOR else None

    def _differ(self, one: _Pick, other: _Pick | None, *, check: str, **said: bool) -> CheckWorth:
        """What the one plan has over the other, by a check of which this is ``said``."""
        gained = one.chance - (0.0 if other is None else other.chance)
        saved = 0.0 if other is None else other.cost_minor - one.cost_minor
        return CheckWorth(
            check=check,
            fixes=gained,
            saved_minor=saved,
            earned_minor=self.search.goal.gain * gained + saved if self.search.goal.gain else 0.0,
            minutes=check_of(self.search.fault, check).minutes,
            **said,
        )

    def _best(self, routes: Iterable[Proposal]) -> _Pick | None:
        return self.beside.best(routes, self.search.value, self.search.goal.gain)


def _same_next(first: Node) -> bool:
    """Whether the next step is the same whatever a check shows."""
    return isinstance(first, CheckStep) and len({_step_name(branch.then) for branch in first.then}) == 1


def _step_name(node: Node) -> tuple[str, ...]:
    if isinstance(node, CheckStep):
        return ("check", node.check)
    return node.option.key if isinstance(node, AttemptStep) else ("stop",)
