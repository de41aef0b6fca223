"""Put forward the routes of every fault: whatever they share with others, and only what the best mix could want.

What a route shares is counted once in the whole mix, so it is no part of the route's own cost; a dearer route that
shares less may then be the better one. Routes are searched once for each set of certain lines; what else they share is
a mark on each of them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from itertools import combinations
from math import inf, prod
from typing import Any

import numpy as np

from optimiser.chances import counted, counted_for_safety
from optimiser.diagnosis.belief import Belief, Table, likelihoods, telling
from optimiser.diagnosis.case import MOST_AHEAD, Case, CaseLayout, Cost
from optimiser.diagnosis.dominance import kept, outdone
from optimiser.diagnosis.dynamic_program import Sweep
from optimiser.diagnosis.labels import Floats, Goal, Labels, Toll, all_counted, numbered
from optimiser.diagnosis.leading_steps import Family
from optimiser.diagnosis.limits import (
    LEAST,
    CutShortError,
    Effort,
    Over,
    TimeOverError,
    TooMuchError,
    never,
    while_time,
)
from optimiser.diagnosis.payments import Payment
from optimiser.diagnosis.routes import Book, Row, Searched, points_of
from optimiser.diagnosis.shares import (
    AHEAD,
    MINIMUM,
    ORDER,
    Marks,
    Scene,
    Share,
    covers,
    meets,
    units_of,
)
from optimiser.diagnosis.sharing import Shared, Sharing
from optimiser.model.candidates import Proposal, once
from optimiser.model.evidence import Finding, Tried
from optimiser.model.job import Check, Fault, Severity
from optimiser.model.option import Line, Option
from optimiser.model.route import Route
from optimiser.orders import AttemptCost, CashOf

MOST_MOVES = 12_000
"""How far one fault is searched: mostly some tenths of a second."""
MOST_OPENING = 3_000
"""Steps that lead (checks with their results, attempts that buy nothing) make at most so many states: seven checks of
two results each do. Past that the most telling checks are searched."""
MOST_LEADING = 20
TOO_MANY = 2
"""So many fewer checks are searched where a search comes to be too much all the same: each makes it four times less."""
MOST_TOLLS = 12
"""Marks of which every set has its price in a table."""
MARGIN_MINOR = 2.0
"""By so much cheaper routes are cheaper in the mix too, which rounds each route's amounts to whole minor units."""
MOST_FALLBACKS = 7
"""Options that may be fallbacks where trying every option after every other would be too much."""


@dataclass(frozen=True)
class FaultRoutes:
    """The routes of one fault, and how far they were searched.

    Where ``fallbacks`` is set only so many options were searched as fallbacks. ``short`` is what a route that was not
    searched could be better by, at the same cash and shares: in chance, for aim profit also in minor units; 0 where
    none is missing. ``savings_cut``: of very many routes the surest were kept, and a cheaper one may be missing.
    """

    fault: str
    proposals: tuple[Proposal, ...]
    fallbacks: int | None
    short: float
    short_minor: float
    savings_cut: bool = False
    unsearched: int = 0
    """So many checks, the least telling, were not searched."""
    ahead_left: bool = False
    """With lines bought ahead it would have been too much."""
    hurried: bool = False  # there was no time to search further


class FaultSearch:
    """The search over one fault. ``options`` and ``checks`` are those that may be taken at all.

    No route takes more than ``cash_minor`` beside what it shares (None: all that remains of the pot). Only so much
    ``effort`` is made, if it is given. ``thrifty``: what only saves money for a sliver of chance is looked for too.
    """

    def __init__(
        self,
        scene: Scene,
        fault: Fault,
        belief: Belief,
        seen: Sequence[Tried],
        options: Sequence[Option],
        checks: Sequence[Check],
        tables: Mapping[str, Table],
        cash_minor: int | None = None,
        unsearched: int = 0,
        effort: Effort | None = None,
        thrifty: bool = True,
    ) -> None:
        self.scene, self.fault, self.belief, self.seen, self.tables = scene, fault, belief, seen, tables
        self.cash_minor = max(0, scene.job.pot.remaining_minor) if cash_minor is None else cash_minor
        self.effort, self.thrifty = effort, thrifty
        self.options = sorted(options, key=lambda o: o.content)
        made = {entry.check for entry in seen if isinstance(entry, Finding)}
        able = sorted((c for c in checks if c.id not in made), key=lambda c: c.id)
        self.checks = self._within_size(able)
        self.unsearched = unsearched + len(able) - len(self.checks)
        self.marks = Marks()
        self.tolls = self._priced()
        self.fallbacks: int | None = None

    def _within_size(self, checks: Sequence[Check]) -> list[Check]:
        """The checks that may be searched together: all, or the most telling of them."""
        most = MOST_OPENING if self.effort is None else self.effort.opening
        room = most >> min(MOST_LEADING, sum(option.leads for option in self.options))
        if prod(1 + len(self._table(check)) for check in checks) <= room:
            return list(checks)
        kept = []
        for check in self._most_telling(checks):
            room //= 1 + len(self._table(check))
            if room == 0:
                break
            kept.append(check)
        return sorted(kept, key=lambda c: c.id)

    def _most_telling(self, checks: Sequence[Check]) -> list[Check]:
        return sorted(checks, key=lambda c: (-telling(self.belief, self._table(c)), c.minutes, c.id))

    def _table(self, check: Check) -> Table:
        return self.tables.get(check.id) or likelihoods(check, list(self.belief))

    def _priced(self) -> list[tuple[int, int]]:
        """Give the first marks to what costs money or time once in the whole mix, whoever shares it; what that is."""
        scene = self.scene
        actions: list[Check | Option] = [*self.checks, *self.options]
        shares = {share for action in actions for share in scene.opening(action)}
        if scene.job.settings.most_suppliers is None:
            suppliers = {supplier for option in self.options for supplier in option.suppliers}
            shares |= {Share(ORDER, supplier) for supplier in suppliers if scene.order_counts(supplier)}
        priced = sorted(shares)[:MOST_TOLLS]
        self.marks.of(priced)
        return [scene.toll(share) for share in priced]

    @property
    def unasked(self) -> frozenset[str]:
        """Checks of the fault that it does without."""
        return frozenset(check.id for check in self.fault.checks) - {check.id for check in self.checks}

    def told_apart(self, scene: Scene) -> FaultSearch:
        """The search in another scene: other quotes are scarce."""
        return self._but(scene=scene)

    def without(self, checks: Collection[str]) -> FaultSearch:
        """The search without these checks."""
        return self._but(checks=[check for check in self.checks if check.id not in checks])

    def within(self, cash_minor: int) -> FaultSearch:
        """The search over routes that take no more than this beside what they share."""
        return self._but(cash_minor=cash_minor)

    def asked(self, options: Sequence[Option]) -> FaultSearch:
        """The search with these options in place of its own."""
        return self._but(options=options)

    def with_fewer_checks(self) -> FaultSearch:
        """The search without the least telling of its checks, two or all."""
        few = self._most_telling(self.checks)[:-TOO_MANY]
        return self._but(checks=few, unsearched=self.unsearched + len(self.checks) - len(few), thrifty=True)

    def without_savings(self) -> FaultSearch:
        """The search for what is surest, whatever it costs within its money."""
        return self._but(thrifty=False)

    def with_effort(self, effort: Effort) -> FaultSearch:
        """The search with no more than this effort."""
        return self._but(effort=effort)

    def _but(self, **changed: Any) -> FaultSearch:
        """The search, begun anew with something changed."""
        names = ("scene", "fault", "belief", "seen", "options", "checks", "tables", "cash_minor", "unsearched")
        return FaultSearch(**{name: getattr(self, name) for name in (*names, "effort", "thrifty")} | changed)

    def value(self, route: Proposal) -> tuple[float, ...]:
        """What a route adds to the stages of value in turn; for aim profit to that of safety alone."""
        settings, safe = self.scene.job.settings, self._for_safety(route.chance) if self._safety_counts else 0.0
        return (safe, float(counted(route.chance, settings.chance_step)) if settings.aim == "fixes" else safe)

    @property
    def most_attempts(self) -> int:
        """No path tries more."""
        most = self.scene.job.settings.most_attempts
        return most if self.effort is None else min(most, self.effort.attempts)

    @cached_property
    def size(self) -> int:
        """About how long the search takes, beside others: states of leading steps times ways to go on."""
        states = prod(1 + len(self._table(check)) for check in self.checks)
        return (states << sum(option.leads for option in self.options)) * len(self.options) ** 2

    def searched(self, over: Over = never) -> Searched:
        """All routes worth putting forward, as they are kept.

        Raises ``TimeOverError`` once it is ``over``, ``TooMuchError`` where it is too much with all its checks.
        """
        if not self.options:
            return Searched((), None)
        if over():
            raise TimeOverError
        if self.each_by_itself:
            return self._once_each()
        variants = [] if self.unsearched else list(self.bought_ahead())
        if variants:
            try:
                return self._searched(variants, over)
            except (CutShortError, TooMuchError):
                return self._searched([], over, ahead_left=True)
        return self._searched([], over)

    def _once_each(self) -> Searched:
        """No routes but those that try one option each; with what others could be better by."""
        short = self._most_worth(CaseLayout(self.case(self.options, (), (), lambda *_: ())))
        if self.goal.loss is not None:
            return Searched((), None, short=short)
        return Searched((), None, short=short and max(option.chance for option in self.options), short_minor=short)

    def _most_worth(self, layout: CaseLayout) -> float:
        """No less than a cure by any route is worth, in chance or in minor units: nothing cures more than all tried."""
        all_tried = 1.0 - float(layout.weight_if_all_fail(0).sum())
        return all_tried if self.goal.loss is not None else self.fault.sale_gain_minor * all_tried

    @cached_property
    def each_by_itself(self) -> bool:
        """Whether every option is ordered and tried once, and nothing comes back after a failure: no search needed."""
        if self.effort != LEAST or any(option.leads for option in self.options):
            return False
        quotes = (line.quote for option in self.options for line in option.lines)
        return not any(quote.refund_share or quote.deposit_minor for quote in quotes)

    def put_forward(self, found: Searched) -> FaultRoutes:
        """What a search came to, for the mix to choose from."""
        proposals: tuple[Proposal, ...] = ()
        if self.each_by_itself:
            proposals = tuple(once(option) for option in self.options if option.direct_minor <= self.cash_minor)
        if found.book is not None:
            book, sharing = found.book, Sharing(self.marks, self.options, self.scene.payments.by_id)
            proposals = tuple(
                self._proposal(book, row, sharing.of(row), (self.fault.id, str(number)))
                for number, row in enumerate(found.rows)
            )
        return FaultRoutes(
            fault=self.fault.id,
            proposals=proposals,
            fallbacks=found.fallbacks if self.effort is None else None,
            short=found.short,
            short_minor=found.short_minor,
            savings_cut=found.savings_cut,
            unsearched=self.unsearched if found.book is not None and self.effort is None else 0,
            ahead_left=found.ahead_left,
            hurried=self.effort is not None and (found.book is not None or bool(proposals)),
        )

    def bought_ahead(self) -> Iterator[Option]:
        """Every option with one or two of its lines bought ahead, where such a line may ride with another."""
        if self.effort is not None or (not self.checks and self.scene.job.settings.most_attempts < 2):
            return
        for option in self.options:
            able = [line.quote.id for line in option.lines if self.scene.may_ride(self.fault.id, line)]
            for some in (*combinations(able, 1), *combinations(able, MOST_AHEAD)):
                yield option.model_copy(update={"ahead": some})

    def _searched(self, variants: Sequence[Option], over: Over, *, ahead_left: bool = False) -> Searched:
        """All routes worth putting forward, with these options that have lines bought ahead; or with none of any.

        Raises ``CutShortError`` where with those a limit is met, and as ``searched`` does.
        """
        sweep = self._sweep(variants, over)
        families = list(self._families(sweep))  # all of them first: only then is it known how many marks there are
        openings = [(family.opening(sweep, self._counted), family.certain) for family in while_time(families, over)]
        routes = [Row(p, lines) for opening, lines in openings for p in points_of(opening) if p.chance > 0]
        if not openings:
            return Searched((), None, fallbacks=self.fallbacks, needs_minor=sweep.needs_minor)
        book = Book.of(openings[-1][0])
        rows = self._unbeaten(book, routes)
        cut = [opening for opening, _ in openings if not opening.exact]
        short = max((opening.short for opening in cut), default=0.0)
        if self.unsearched or self.effort is not None or ahead_left:
            short = max(short, self._most_worth(sweep.layout))
        profit = self.goal.loss is None
        surest = max((row.point.chance for row in rows), default=0.0)
        return Searched(
            rows=rows,
            book=book,
            ahead=bool(variants),
            fallbacks=self.fallbacks,
            short=surest if profit and short else short,
            short_minor=short if profit else 0.0,
            savings_cut=not self.thrifty or any(opening.tables.cost_cut for opening, _ in openings),
            needs_minor=sweep.needs_minor,
            ahead_left=ahead_left,
        )

    @property
    def goal(self) -> Goal:
        """What is best of a route that shares no more and takes no more: see ``_rank``.

        Chance is given up only within what counts as the same: a step of chances at the end, one and a half below a
        certainty; for aim profit on a grave fault a step of safety.
        """
        settings, worth = self.scene.job.settings, self.scene.job.hour_worth_minor
        rounding = 1.5 * settings.chance_step if self.thrifty else 0.0
        if settings.aim == "fixes":
            return Goal(rounding, 0.0, 1.0, worth)
        if not self._safety_counts:
            return Goal(None, self.fault.sale_gain_minor, 1.0, worth)
        most = float(self._for_safety(1.0))
        return Goal(max(settings.safety_step, 1 - most) + rounding, self.fault.sale_gain_minor, 1.0, worth)

    @property
    def _safety_counts(self) -> bool:
        return self.scene.job.settings.safety_first and self.fault.severity == Severity.DANGEROUS

    def _for_safety(self, chance: float) -> float:
        settings = self.scene.job.settings
        return float(
            counted_for_safety(counted(chance, settings.chance_step), settings.good_enough, settings.safety_step)
        )

    def _counted(self, chances: Floats) -> Floats:
        """Chances as they count in the stages of value that the fault's cost does not enter."""
        settings = self.scene.job.settings
        if settings.aim == "fixes":
            return all_counted(chances, settings.chance_step)
        if not self._safety_counts:
            return np.zeros_like(chances)
        some, where = np.unique(all_counted(chances, settings.chance_step), return_inverse=True)
        return np.array([self._for_safety(chance) for chance in some.tolist()])[where]

    def _sweep(self, variants: Sequence[Option], over: Over) -> Sweep:
        """All that may follow a first attempt; where that is too much, the fallbacks that give most for the money."""
        self.fallbacks = None
        most = MOST_MOVES if self.effort is None else self.effort.moves
        cash_of = self._cash_of(variants)
        case = self.case([*self.options, *variants], self.checks, (), cash_of)
        sweep = Sweep(case, self.goal, most_moves=most, whole=bool(variants), over=over)
        if sweep.exact:
            return sweep
        likely = self._likely_fallbacks()
        case = replace(case, first_only={o.key for o in self.options} - likely)
        self.fallbacks = len(likely)
        return Sweep(case, self.goal, most_moves=most, narrowed=True, over=over)

    def _likely_fallbacks(self) -> set[tuple[str, ...]]:
        """Of each repair the options that no other beats in landed cost and chance, the cheapest fixes first."""
        ways = {o.key: self.scene.payments.later(o) for o in self.options}
        cost = {key: min(way.cash_minor for way in some) for key, some in ways.items() if some}
        able, surest = set[tuple[str, ...]](), defaultdict[str, float](float)
        for o in sorted(self.options, key=lambda o: (cost.get(o.key, inf), -o.chance, o.content)):
            if o.key in cost and o.chance > surest[o.repair]:
                surest[o.repair] = o.chance
                able.add(o.key)
        ranked = sorted((o for o in self.options if o.key in able), key=lambda o: cost[o.key] / o.chance)
        return {o.key for o in ranked[:MOST_FALLBACKS]}

    def _cash_of(self, variants: Sequence[Option]) -> CashOf:
        """First attempts at their least, with all their parts shared; later ones at their own landed cost."""
        every = [*self.options, *variants]
        least = {(o.key, o.ahead): self._least(o) for o in every}
        again = [] if self.effort == LEAST else every  # topping up orders that are never placed takes the longest
        later = {(o.key, o.ahead): [self._attempt(o, {}, way) for way in self.scene.payments.later(o)] for o in again}

        def cash_of(option: Option, tried: tuple[Option, ...]) -> Sequence[AttemptCost] | AttemptCost:
            name = (option.key, option.ahead)
            return later[name] if tried else least[name]

        return cash_of

    def _least(self, option: Option) -> AttemptCost:
        """A first attempt with all its parts shared; a leading one takes what it takes from the shelf."""
        if option.leads:
            return self._attempt(option, {}, next(self.scene.payments.first(option, {}, ())))
        way = next(self.scene.payments.first(option, dict(units_of(option.lines)), option.suppliers))
        return AttemptCost(way.cash_minor, way.cash_minor, way.refund_minor)

    def _attempt(self, option: Option, certain: Mapping[str, int], way: Payment) -> AttemptCost:
        """A way to pay with what it shares."""
        shares = self.scene.stock(option, certain, way.topping)
        shares |= {Share(ORDER, supplier) for supplier in way.orders if self.scene.order_counts(supplier)}
        shares |= {Share(MINIMUM, supplier) for supplier in way.relied}
        shares |= {Share(AHEAD, x.quote.id, n) for x in option.bought_ahead for n in range(x.units)}
        return AttemptCost(
            way.cash_minor,
            way.cash_minor - way.back_minor,
            way.refund_minor,
            way.trip_minutes,
            self.marks.of(sorted(shares)),
            way.topping,
        )

    def case(
        self,
        options: Sequence[Option],
        checks: Sequence[Check],
        first_only: Collection[tuple[str, ...]],
        cash_of: CashOf,
    ) -> Case:
        """The fault as it stands, with these options and checks, access free and marked."""
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
            cash_minor=self.cash_minor,
            minutes=job.time.minutes if self.scene.timed else None,
            first_only=first_only,
            most_attempts=self.most_attempts,
            marks_of=lambda action: self.marks.of(sorted(self.scene.opening(action))),
            marks=self.marks,
            tolls=self.tolls,
            tables=self.tables,
        )

    def _families(self, sweep: Sweep) -> Iterator[Family]:
        """Every way to begin: by buying an option; by a leading step, with lines that are certain or none."""
        layout = sweep.layout
        checks = range(layout.n_checks)
        for number, option in enumerate(layout.options, start=layout.n_checks):
            if not (option.leads or option.ahead):
                first = self._first_costs(sweep, [option], option.lines)
                yield Family(option.lines, first, [number], None, may_stop=False)
        leading = [*checks, *(n for n in range(layout.n_checks, layout.n_actions) if layout.leads(n))]
        if leading:
            yield Family((), self._first_costs(sweep, layout.options, ()), leading, None, may_stop=True)
        for certain in meets(self.options) if checks else ():
            able = [option for option in layout.options if covers(option, dict(units_of(certain)))]
            yield Family(certain, self._first_costs(sweep, able, certain), checks, checks, may_stop=False)

    def _first_costs(
        self, sweep: Sweep, options: Sequence[Option], certain: Sequence[Line]
    ) -> dict[int, tuple[Cost, ...]]:
        """The ways to pay for each of the options as a first attempt beside the certain lines."""
        units, sure = dict(units_of(certain)), {line.quote.supplier or "" for line in certain}
        found = {}
        for option in options:
            if units.keys().isdisjoint(option.ahead):
                number = sweep.layout.numbers[option.key, option.ahead]
                opening = self.marks.of(sorted(self.scene.opening(option)))
                ways = [self._attempt(option, units, way) for way in self.scene.payments.first(option, units, sure)]
                found[number] = tuple(
                    Cost(w.cash_minor, w.net_minor, w.refund_minor, option.minutes, w.marks | opening, w.topping)
                    for w in ways
                )
        return found

    def _unbeaten(self, book: Book, routes: Sequence[Row]) -> list[Row]:
        """Without every route that another of the same first step beats whatever the rest of the mix does.

        A greater chance, as it counts, beats all that takes and shares no less; at the same the lesser cost does.
        What is left is in an order made of content; what-ifs need routes of every first step. With each stands whether
        it is in no best mix, for one that begins otherwise with the same lines certain.
        """
        if not routes:
            return []
        sharing = Sharing(self.marks, self.options, self.scene.payments.by_id)
        ordered = sorted(routes, key=lambda route: self._content(book, route, sharing.of(route)))
        sure = [sharing.of(route).units for route in ordered]
        labels, counts = self._labels(ordered), Goal(0.0, 0.0, 1.0, self.goal.hour)
        how = (counts, Toll.of(self.tolls, counts))
        steps = [self._first_step(book, route) for route in ordered]
        node = numbered(zip(steps, sure, strict=True))
        places = np.sort(kept(labels, node, *how, timed=self.scene.timed, most=len(ordered)).places)
        node = numbered(sure)[places]
        left_behind = outdone(labels.take(places), node, *how, MARGIN_MINOR, timed=self.scene.timed)
        behind = zip(places.tolist(), left_behind.tolist(), strict=True)
        return [ordered[place]._replace(outdone=outdone) for place, outdone in behind]

    def _labels(self, routes: Sequence[Row]) -> Labels:
        """What the mix sees of routes: chances as they count, and what a surer cure earns taken off the cost."""
        goal, points = self.goal, [route.point for route in routes]
        labels = Labels.blank(len(routes), max(1, -(-len(self.marks) // 64)), 1)
        labels.cash[:], labels.worst[:] = [p.cash_minor for p in points], [p.worst_minutes for p in points]
        labels.net[:] = [p.net_minor - goal.gain * p.chance for p in points]
        labels.minutes[:] = [p.minutes for p in points]
        labels.chance[:] = self._counted(np.array([p.chance for p in points]))
        for word in range(labels.marks.shape[1]):
            labels.marks[:, word] = [p.marks >> 64 * word & 2**64 - 1 for p in points]
        return labels

    def _content(self, book: Book, route: Row, shared: Shared) -> tuple[object, ...]:
        """A sort key made of what a route is."""
        point = route.point
        step = book.first(point.label)
        what = (0, step.content) if isinstance(step, Option) else (1, step.id)
        return (*what, *shared.order, point.cash_minor, point.worst_minutes, point.net_minor)

    def _first_step(self, book: Book, route: Row) -> tuple[str, ...]:
        step = book.first(route.point.label)
        return step.key if isinstance(step, Option) else (self.fault.id, "check", step.id)

    def _proposal(self, book: Book, row: Row, shared: Shared, key: tuple[str, ...]) -> Proposal:
        point, net_minor = row.point, row.point.net_minor + shared.deposits_minor
        told = {"certain": shared.certain, "ahead": shared.ahead, "relies_on": tuple(sorted(shared.relied))}
        return Proposal(
            fault=self.fault.id,
            first_step=self._first_step(book, row),
            content=self._content(book, row, shared),
            certain=shared.certain,
            suppliers=shared.suppliers,
            access=shared.access,
            own_access=shared.own_access,
            cash_minor=point.cash_minor,
            chance=point.chance,
            net_minor=net_minor,
            expected_minutes=point.minutes,
            minutes=point.worst_minutes if self.scene.timed else round(point.minutes),
            read=partial(_read, book, point.label, told | {"net_minor": net_minor}),
            relies_on=shared.relied,
            ahead=frozenset(shared.ahead),
            other_packs=shared.packs,
            key=key,
            outdone=row.outdone,
        )


def _read(book: Book, label: int, told: Mapping[str, object]) -> Route:
    return book.route(label).model_copy(update=told).with_wanted()
