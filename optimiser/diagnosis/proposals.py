"""Put forward the routes of every fault: one frontier for each way of sharing orders, access and stock with the rest.

What a route shares is counted once in the whole mix, so it is no part of the route's own cost; a dearer route that
shares less may then be the better one. Each way of sharing is a set of *shares* that a route may use; its frontier is
kept where it rises above those of all smaller sets, so what is kept uses all of its set.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import chain, combinations
from typing import NamedTuple

import numpy as np

from optimiser.diagnosis.belief import Belief, Table
from optimiser.diagnosis.case import Case, Cost
from optimiser.diagnosis.cash import AttemptCost, CashOf
from optimiser.diagnosis.routes import Point, points_of, read_route
from optimiser.diagnosis.shares import (
    MINIMUM,
    ORDER,
    OWN_ACCESS,
    PRICE,
    STOCK,
    Scene,
    Share,
    Shares,
    Subset,
    covers,
    meets,
    rest_goods,
    units_of,
)
from optimiser.diagnosis.sweep import BARRED, FIXES, Best, Goal, Opening, Sweep, profit
from optimiser.model.evidence import Finding, Tried
from optimiser.model.job import Check, Fault, Severity
from optimiser.model.offer import Proposal
from optimiser.model.option import Line, Option
from optimiser.model.route import Route

MOST_MOVES = 8_000
"""How far one way of sharing is searched: some tenths of a second."""
MOST_FALLBACKS = 7
"""Options that may be fallbacks where trying every option after every other would be too much."""
MOST_SHARES = 9
"""Shares whose sets are all gone through; more than that in one fault is rare, and the rest is then always allowed."""
MOST_SHARES_NARROWED = 4
"""As many in a fault that is past the size anyway."""


class Way(NamedTuple):
    """One way of sharing: what comes for certain, and which shares may be used after the start and in first orders."""

    start: tuple[str, ...]
    certain: tuple[tuple[str, int], ...]
    allowed: Shares
    first: Shares


@dataclass(frozen=True)
class Found:
    """The routes of one fault, and how far they were searched.

    Where ``fallbacks`` is set only so many options were searched as fallbacks. ``short`` is what a route that was not
    searched could be better by, at the same cash and shares: in chance, for aim profit also in minor units; 0 where
    none is missing.
    """

    fault: str
    proposals: tuple[Proposal, ...]
    fallbacks: int | None
    short: float
    short_minor: float


class FaultSearch:
    """The search over one fault. ``options`` and ``checks`` are those that may be taken at all."""

    def __init__(
        self,
        scene: Scene,
        fault: Fault,
        belief: Belief,
        seen: Sequence[Tried],
        options: Sequence[Option],
        checks: Sequence[Check],
        tables: Mapping[str, Table],
    ) -> None:
        self.scene, self.fault, self.belief, self.seen, self.tables = scene, fault, belief, seen, tables
        self.options = sorted(options, key=lambda o: o.content)
        made = {entry.check for entry in seen if isinstance(entry, Finding)}
        self.checks = sorted((c for c in checks if c.id not in made), key=lambda c: c.id)
        self.tops: dict[tuple[Goal, Way], Best] = {}
        self.fallbacks: int | None = None
        self.coarse = False
        self.short: dict[Goal, float] = {}

    def without(self, checks: Collection[str]) -> FaultSearch:
        """The search without these checks."""
        kept = [check for check in self.checks if check.id not in checks]
        return FaultSearch(self.scene, self.fault, self.belief, self.seen, self.options, kept, self.tables)

    def found(self) -> Found:
        """All routes worth putting forward."""
        proposals = [p for goal in self.goals() for allowed in self._sets() for p in self._within(goal, allowed)]
        kept = undominated(proposals, minutes=self.scene.time_counts)
        named = tuple(replace(p, key=(p.fault, str(number))) for number, p in enumerate(kept))
        surest = max((p.chance for p in named), default=0.0)
        short = surest if self.coarse else self.short.get(FIXES, 0.0)
        earning = max((short for goal, short in self.short.items() if goal != FIXES), default=0.0)
        gain = self.fault.sale_gain_minor * surest if self.coarse else earning
        return Found(self.fault.id, named, self.fallbacks, short, gain)

    def goals(self) -> list[Goal]:
        """For profit also the surest routes of a grave fault, since safety comes before money."""
        settings = self.scene.job.settings
        if settings.aim == "fixes":
            return [FIXES]
        earning = profit(self.fault.sale_gain_minor, self.scene.job.hour_worth_minor)
        grave = settings.safety_first and self.fault.severity != Severity.MINOR
        return [FIXES, earning] if grave else [earning]

    def _sets(self) -> list[Subset]:
        """Sets of accesses and contested quotes that may be used, smallest first."""
        users: dict[Share, set[object]] = {}
        actions: list[Check | Option] = [*self.checks, *self.options]
        for number, action in enumerate(actions):
            for share in self.scene.opening(action):
                users.setdefault(share, set()).add(number)
            if isinstance(action, Option):
                for share in self.scene.stock(action, {}):
                    users.setdefault(share, set()).add((number, "fallback"))
        return self._subsets(users)

    def _subsets(self, users: Mapping[Share, Collection[object]], most: int = MOST_SHARES) -> list[Subset]:
        """All sets of shares, smallest first; shares with the same users go together: one is no use without the other.

        Past ``most`` those with the most users are always in, and are counted whether they are used or not.
        """
        together: dict[frozenset[object], set[Share]] = {}
        for share, actions in users.items():
            together.setdefault(frozenset(actions), set()).add(share)
        bundles = [frozenset(together[key]) for key in sorted(together, key=lambda k: (len(k), sorted(together[k])))]
        self.coarse |= len(bundles) > most
        always: Shares = frozenset(chain.from_iterable(bundles[most:]))
        free = bundles[:most]
        chosen = [some for size in range(len(free) + 1) for some in combinations(free, size)]
        return [
            Subset(always.union(*some), tuple(always.union(*some).difference(one) for one in some)) for some in chosen
        ]

    def _within(self, goal: Goal, allowed: Subset) -> Iterator[Proposal]:
        """The proposals that use just these accesses and contested quotes."""
        options = [o for o in self.options if self.scene.opening(o) <= allowed.shares]
        checks = [c for c in self.checks if self.scene.opening(c) <= allowed.shares]
        if not options:
            return
        sweep = self._sweep(goal, options, checks, allowed.shares)
        n_checks = sweep.layout.n_checks
        for number, option in enumerate(sweep.layout.options, start=n_checks):
            way = Way(option.key, units_of(option.lines), allowed.shares, frozenset())
            less = [way._replace(allowed=shares) for shares in allowed.smaller]
            first = self._first_costs(sweep, [option], dict(way.certain), frozenset())
            yield from self._opened(
                goal, way, less, sweep, option.lines, Opening(sweep, first, only=[number], may_stop=False)
            )
        # a fault past the size keeps to what is simple: nothing certain across branches, and few shares told apart
        for certain in ([()] if sweep.narrowed else meets(options)) if n_checks else ():
            yield from self._check_first(goal, allowed, sweep, certain)

    def _sweep(self, goal: Goal, options: Sequence[Option], checks: Sequence[Check], allowed: Shares) -> Sweep:
        """All that may follow a first attempt; where that is too much, the fallbacks that give most for the money."""
        barred = {o.key for o in options if not self.scene.stock(o, {}) <= allowed}
        case = self.case(options, checks, barred, self._costs(options))
        sweep = Sweep(case, goal, most_moves=MOST_MOVES)
        if sweep.exact:
            return sweep
        likely = self._likely_fallbacks([o for o in options if o.key not in barred])
        case = replace(case, first_only={o.key for o in options} - likely)
        sweep = Sweep(case, goal, most_moves=MOST_MOVES, narrowed=True)
        self.fallbacks = min(self.fallbacks or len(self.options), len(likely))
        return sweep

    def _likely_fallbacks(self, options: Sequence[Option]) -> set[tuple[str, ...]]:
        """Of each repair the options that no other beats in landed cost and chance, the cheapest fixes first."""
        cost = {o.key: c.cash_minor for o in options if (c := self.scene.own_landed(o)) is not None}
        kept = [
            o
            for o in options
            if o.key in cost
            and not any(
                other.repair == o.repair
                and (cost[other.key], -other.chance, other.content) < (cost[o.key], -o.chance, o.content)
                and other.chance >= o.chance
                for other in options
                if other.key in cost
            )
        ]
        return {o.key for o in sorted(kept, key=lambda o: cost[o.key] / o.chance)[:MOST_FALLBACKS]}

    def _costs(self, options: Sequence[Option]) -> CashOf:
        """First attempts at their least, with all their parts shared; later ones at their own landed cost."""
        own = self.scene.own_landed
        first = {o.key: own.beside(o, dict(units_of(o.lines))) for o in options}
        later = {o.key: own(o) for o in options}

        def cash_of(option: Option, tried: tuple[Option, ...]) -> AttemptCost | None:
            return (later if tried else first)[option.key]

        return cash_of

    def case(
        self,
        options: Sequence[Option],
        checks: Sequence[Check],
        first_only: Collection[tuple[str, ...]],
        cash_of: CashOf,
    ) -> Case:
        """The fault as it stands, with these options and checks, access free."""
        job = self.scene.job
        return Case(
            fault=self.fault,
            belief=self.belief,
            options=options,
            checks=checks,
            cash_of=cash_of,
            seen=self.seen,
            today=job.settings.today,
            needed_by=job.settings.needed_by,
            cash_minor=max(0, job.pot.remaining_minor),
            minutes=job.time.minutes if self.scene.timed else None,
            first_only=first_only,
            most_attempts=job.settings.most_attempts,
            tables=self.tables,
        )

    def _check_first(self, goal: Goal, allowed: Subset, sweep: Sweep, certain: tuple[Line, ...]) -> Iterator[Proposal]:
        """Routes that begin with a check and then buy ``certain`` in every branch (nothing: or stop)."""
        units, scene = dict(units_of(certain)), self.scene
        options = [o for o in sweep.layout.options if covers(o, units) and scene.stock(o, units) <= allowed.shares]
        if certain and len(options) < 2:
            return
        sure = {line.quote.supplier for line in certain}
        rests = {o.key: rest_goods(o, units, sure) for o in options}
        users = self._first_order_users(options, rests)
        checks = range(sweep.layout.n_checks)
        for first in self._subsets(users, MOST_SHARES_NARROWED if sweep.narrowed else MOST_SHARES):
            orders = {s.name for s in first.shares if s.kind == ORDER}
            relied = frozenset(s.name for s in first.shares if s.kind == MINIMUM)
            if any(Share(ORDER, s) in users for s in relied - orders):
                continue
            open_to = [o for o in options if all(s in orders or not scene.order_counts(s) for s in rests[o.key])]
            costs = self._first_costs(sweep, open_to, units, relied)
            way = Way(("check",), units_of(certain), allowed.shares, first.shares)
            less = [way._replace(allowed=shares) for shares in allowed.smaller]
            less += [way._replace(first=shares) for shares in first.smaller]
            yield from self._opened(
                goal, way, less, sweep, certain, Opening(sweep, costs, only=checks, may_stop=not certain)
            )

    def _first_order_users(
        self, options: Sequence[Option], rests: Mapping[tuple[str, ...], Mapping[str, int]]
    ) -> dict[Share, set[object]]:
        """Who uses the first orders that are not certain, and the minimums that other faults may reach for them."""
        users: dict[Share, set[object]] = {}
        for option in options:
            for supplier, goods_minor in rests[option.key].items():
                if self.scene.order_counts(supplier):
                    users.setdefault(Share(ORDER, supplier), set()).add(option.key)
                if goods_minor < self.scene.job.supplier(supplier).minimum_order_minor:
                    users.setdefault(Share(MINIMUM, supplier), set()).add(supplier)
        return users

    def _first_costs(
        self, sweep: Sweep, options: Sequence[Option], certain: Mapping[str, int], relied: Collection[str]
    ) -> dict[int, Cost]:
        """What each of the options takes as a first attempt beside the certain lines."""
        numbers = {o.key: n for n, o in enumerate(sweep.layout.options, start=sweep.layout.n_checks)}
        found = {}
        for option in options:
            reached = {*relied, *(x.quote.supplier or "" for x in option.lines if x.quote.id in certain)}
            cost = self.scene.own_landed.beside(option, certain, reached)
            if cost is not None:
                found[numbers[option.key]] = Cost(cost.cash_minor, cost.net_minor, cost.refund_minor, option.minutes)
        return found

    def _opened(
        self,
        goal: Goal,
        way: Way,
        less: Sequence[Way],
        sweep: Sweep,
        certain: tuple[Line, ...],
        opening: Opening,
    ) -> Iterator[Proposal]:
        """The proposals of one way of sharing: where its frontier rises above those of all that share less."""
        self.tops[goal, way] = opening.top
        if not sweep.exact:
            self.short[goal] = max(self.short.get(goal, 0.0), _short(opening.at_most, opening.top))
        below = [self.tops[goal, smaller] for smaller in less if (goal, smaller) in self.tops]
        for point in points_of(sweep, opening.top, below):
            if point.chance > 0:
                yield self._proposal(way, certain, opening, point)

    def _proposal(self, way: Way, certain: tuple[Line, ...], opening: Opening, point: Point) -> Proposal:
        shares = way.allowed | way.first
        first_step, content = self._first_step(opening, point)
        relied = frozenset(s.name for s in shares if s.kind == MINIMUM)
        stocked = {s.name for s in shares if s.kind == STOCK}
        ordered = {s.name for s in shares if s.kind == ORDER}
        minutes = round(point.minutes) if point.worst_minutes is None else point.worst_minutes
        return Proposal(
            fault=self.fault.id,
            first_step=first_step,
            content=(*content, way.certain, sorted(shares), point.cash_minor, minutes, point.net_minor),
            certain=certain,
            suppliers=frozenset(ordered | {x.quote.supplier for x in certain if x.quote.supplier is not None}),
            access=frozenset(s.name for s in shares if s.kind == PRICE),
            own_access=frozenset(s.name for s in shares if s.kind == OWN_ACCESS),
            cash_minor=point.cash_minor,
            chance=point.chance,
            net_minor=point.net_minor,
            expected_minutes=point.minutes,
            minutes=minutes,
            read=partial(_read, opening, point, certain, relied),
            relies_on=relied,
            other_packs={name: max(s.packs for s in shares if s.name == name) for name in stocked},
        )

    def _first_step(self, opening: Opening, point: Point) -> tuple[tuple[str, ...], tuple[object, ...]]:
        """What the route begins with, by name and as a sort key."""
        top, layout = opening.top, opening.sweep.layout
        action = int(top.choice[0][top.at(point.cash_minor, point.worst_minutes or 0)])
        if action < layout.n_checks:
            check = layout.checks[action].id
            return (self.fault.id, "check", check), (1, check)
        option = layout.options[action - layout.n_checks]
        return option.key, (0, option.content)


def _read(opening: Opening, point: Point, certain: tuple[Line, ...], relied: frozenset[str]) -> Route:
    return read_route(opening, point).model_copy(update={"certain": certain, "relies_on": tuple(sorted(relied))})


def _short(above: Best, below: Best) -> float:
    """How far one step function's first row is under another's at the start, at the worst amounts."""
    i = np.maximum(below.cash.searchsorted(above.cash, "right") - 1, 0)
    j = np.maximum(below.minutes.searchsorted(above.minutes, "right") - 1, 0)
    under = below.value[0, 0][i][:, j]
    possible = above.value[0, 0] > BARRED / 2
    return float((above.value[0, 0] - under)[possible].max(initial=0.0))


def undominated(proposals: Sequence[Proposal], *, minutes: bool) -> list[Proposal]:
    """Leave out every proposal that another of the same first step beats whatever the rest of the mix does.

    What is left is in an order made of content; what-ifs need routes of every first step.
    ``minutes`` says whether they decide anything but ties.
    """
    ordered = sorted(proposals, key=lambda p: p.content)
    groups: dict[object, list[Proposal]] = {}
    for proposal in ordered:
        groups.setdefault((proposal.first_step, units_of(proposal.certain)), []).append(proposal)
    kept = {id(p) for group in groups.values() for p in _best_of(group, minutes=minutes)}
    return [p for p in ordered if id(p) in kept]


def _best_of(group: Sequence[Proposal], *, minutes: bool) -> list[Proposal]:
    """Those that no other of the same certain lines beats: as sure, as cheap, as quick, sharing no more."""
    shares = [_marks(p) for p in group]
    bits = {mark: 1 << n for n, mark in enumerate(set().union(*shares))}
    masks = [sum(bits[mark] for mark in own) for own in shares]
    figures = np.array([(-p.chance, p.cash_minor, p.net_minor, p.minutes, p.expected_minutes) for p in group]).T
    slack = np.array([1e-12, 0.5, 1e-7, 0.5, 1e-7])[:, None]
    counted = len(figures) if minutes else 3
    kept = []
    for n, proposal in enumerate(group):
        differ = figures - figures[:, n : n + 1]
        rivals = np.flatnonzero((differ[:counted] <= slack[:counted]).all(0))
        better = (differ[:counted] < -slack[:counted]).any(0)
        if not any(
            masks[m] & ~masks[n] == 0 and (better[m] or masks[m] != masks[n] or m < n) for m in rivals if m != n
        ):
            kept.append(proposal)
    return kept


def _marks(proposal: Proposal) -> set[tuple[str, str, int]]:
    """What a proposal shares, so that a subset shares less; packs of a quote count one by one."""
    return {
        *((ORDER, supplier, 0) for supplier in proposal.suppliers),
        *((PRICE, access, 0) for access in proposal.access),
        *((OWN_ACCESS, access, 0) for access in proposal.own_access),
        *((MINIMUM, supplier, 0) for supplier in proposal.relies_on),
        *((STOCK, quote, n) for quote, most in proposal.other_packs.items() for n in range(most)),
    }
