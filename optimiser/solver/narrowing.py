"""A mix over many routes, asked over few: a small program first, then all that could be as good as what it found.

What may be left out, and why, is in ``shrinking``; which of what is left is the best, the program says.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from optimiser.model.candidates import Offer, Proposal, known_by
from optimiser.model.job import Job
from optimiser.model.plan import LEAST_MONEY, Selection
from optimiser.solver.climbing import Climb, climb, is_better, nothing_taken
from optimiser.solver.exact_solve import Clock, Ending, measured
from optimiser.solver.formulation import build
from optimiser.solver.program import Mix, Values, total
from optimiser.solver.shrinking import Bools, Bounds, Mixes, RouteTable

WORTH_SHRINKING = 100
"""Routes from which on it pays to leave out what is in no best mix."""
SECONDS_TO_SKETCH = 5.0
"""For the first, small program, whatever is left of the time: without it there may be no mix at all."""
WORTH_STATING = 3
"""Times the seconds that it takes to state a program: with less time left nothing comes of stating it."""
VERY_MANY, FIRST_FEW = 2_000, 500
"""Routes of it from which on so few are stated before it, for whatever time there is: stating 4,000 takes two seconds
and more."""
SHARE_FOR_FEW, SECONDS_FOR_FEW = 1 / 4, 2.0
"""Of the time, to climb that program, and the least for it."""
OF_EACH, MORE = 2, 60
"""Routes of the first, small program: of every fault the most promising, and so many more."""


@dataclass
class Narrowed:
    """What is left of an offer, what its stages are known to reach, and what no mix with a route passes in a stage.

    ``core`` is a small program with its best mix, worse than none that was left out; None where none was found.
    ``sketch`` is one that time left open; ``seconds_a_route`` is about what stating one takes.
    ``most`` are the levels that no mix passes, each with those before it reached. ``impossible``: no mix works on all
    faults that are to be ``taken``.
    """

    offer: Offer
    table: RouteTable
    keep: Bools
    known: dict[str, int] = field(default_factory=dict)
    bounds: dict[str, Bounds] = field(default_factory=dict)
    core: tuple[Mix, Climb] | None = None
    sketch: tuple[Mix, Climb] | None = None
    seconds_a_route: float = 0.0
    most: dict[str, int] = field(default_factory=dict)
    taken: Collection[str] = ()
    impossible: bool = False

    @property
    def floors(self) -> Mapping[str, int]:
        """The levels of a mix that the program over what is left holds, what it pays out among them."""
        if self.core is None:
            return {}
        mix, found = self.core
        stages = {stage.name: measured(stage.measures, found.values) for stage in mix.stages}
        return {**stages, LEAST_MONEY: measured(mix.cash, found.values)}

    def seconds_for(self, rows: Bools) -> float:
        """About what it takes to state the program over some routes."""
        return self.seconds_a_route * int(rows.sum())

    @property
    def seconds(self) -> float:
        """About what it takes to state the program over what is left."""
        return self.seconds_for(self.keep)

    @property
    def left(self) -> Offer:
        """The offer without what is in no best mix."""
        return within(self.offer, self.table, self.keep)

    def program(self, rows: Bools | None = None, last: Selection | None = None, *, bare: bool = False) -> Mix:
        """The program over what is left, or over some of that; the faults that are to be taken are.

        ``bare``: orders are topped up with what some route takes alone.
        """
        offer = within(self.offer, self.table, self.keep if rows is None else rows)
        if bare:
            own = {line.quote.id for proposal in offer.proposals for line in proposal.certain}
            offer = replace(offer, quotes=tuple(quote for quote in offer.quotes if quote.id in own))
        mix = build(self.table.job, offer, last)
        for fault in self.taken:
            columns = [mix.take[p.key] for p in mix.by_fault.get(fault, [])]
            mix.row("taken", total(columns) >= 1)
            mix.forced |= {column.name for column in columns}
        mix.narrowed, mix.good = self.core is not None, self._good(mix)
        return mix

    def _good(self, mix: Mix) -> frozenset[str]:
        """The columns of the routes of the best mix found so far, where this one has all of them."""
        if self.core is None:
            return frozenset()
        known, found = self.core
        keys = [key for key, column in known.take.items() if found.values[column.name]]
        return frozenset(mix.take[key].name for key in keys) if mix.take.keys() >= set(keys) else frozenset()

    def nothing(self, mix: Mix) -> Values | None:
        """The mix that leaves every fault, where it may."""
        return None if self.taken else nothing_taken(mix)

    def close_in(self, mix: Mix, stage: str, level: int) -> None:
        """Close the routes of a mix with which it cannot come to a level."""
        if stage in self.bounds:
            reach = self.bounds[stage].reach(level)
            for row in np.flatnonzero(self.keep & ~reach).tolist():
                column = mix.take[self.table.proposals[row].key]
                if not column.lowBound:
                    column.upBound = 0


def within(offer: Offer, table: RouteTable, keep: Bools) -> Offer:
    """The offer with the routes that are kept."""
    routes = tuple(table.proposals[row] for row in np.flatnonzero(keep).tolist())
    if offer.routes is not None:
        return replace(offer, routes=routes)
    keys = {route.key for route in routes}
    return replace(offer, options=tuple(option for option in offer.options if option.key in keys))


@dataclass(frozen=True)
class Start:
    """What helps to begin with: routes of a good mix, and bounds of a question like this one."""

    routes: Collection[Proposal] = ()
    bounds: Mapping[str, Bounds] = field(default_factory=dict)


@dataclass(frozen=True)
class Ground:
    """What all questions about one plan begin from: the routes as columns, and those of the plan with its prices."""

    offer: Offer
    table: RouteTable
    start: Start

    @classmethod
    def of(cls, job: Job, offer: Offer, chosen: Selection, clock: Clock) -> Ground:
        """The offer that a plan was chosen from."""
        table = RouteTable.of(job, offer)
        taken = {known_by(route) for route in chosen.routes}
        routes = [p for p in table.proposals if known_by(p) in taken]
        best = np.array([not p.outdone for p in table.proposals], dtype=bool)
        bounds = narrowed(job, offer, clock, Start(routes), table, best).bounds
        return cls(offer, table, Start(routes, bounds))

    def beginning_with(self, fault: str, first_step: tuple[str, ...]) -> Bools:
        """Every route of other faults that may be in a best mix, and of this one those that begin so."""
        return np.array(
            [p.first_step == first_step if p.fault == fault else not p.outdone for p in self.table.proposals]
        )


def narrowed(
    job: Job,
    offer: Offer,
    clock: Clock,
    start: Start = Start(),
    table: RouteTable | None = None,
    keep: Bools | None = None,
    taken: Collection[str] = (),
) -> Narrowed:
    """Leave out what is in no best mix of the routes in ``keep`` (None: all) that works on the ``taken`` faults."""
    table = RouteTable.of(job, offer) if table is None else table
    found = Narrowed(offer, table, table.all_open() if keep is None else keep, taken=taken)
    if found.keep.sum() < WORTH_SHRINKING:
        return found
    values = [stage.name for stage in table.stages[:-1]]
    good = {p.key: p.content for p in start.routes}
    own = np.array([good.get(p.key) == p.content for p in table.proposals], dtype=bool) & found.keep
    while len(found.known) < len(values) and not (found.core and clock.over()):
        _bound(found, values, start.bounds)
        if found.impossible:
            break
        rows = _promising(found, values[-1]) | own
        if not found.core and int(rows.sum()) > VERY_MANY and not _fits(found, values[-1], rows, own, clock):
            found.bounds.clear()
            break
        mix, climbed = _sketch(found, rows, clock, least=0 if found.sketch else SECONDS_TO_SKETCH)
        if climbed.ending is not Ending.CLOSED:
            found.bounds.clear()
            break
        found.core = (mix, climbed)
        open_stage = _filtered(found, values, climbed)
        if open_stage in (None, values[-1]) or clock.left <= found.seconds:
            break
        mix = found.program()
        stages = mix.stages[: values.index(open_stage) + 1]
        climbed = climb(mix, stages, clock, found.nothing(mix), floors=found.floors)
        if climbed.ending is not Ending.CLOSED:
            break
        found.known |= climbed.levels
        own |= np.array([p.key in mix.take and climbed.values[mix.take[p.key].name] == 1 for p in table.proposals])
    return found


def _sketch(
    found: Narrowed, rows: Bools, clock: Clock, share: float = 1, least: float = 0, *, bare: bool = False
) -> tuple[Mix, Climb]:
    """State a program of some routes and climb it, for that ``share`` of the time that is left then or the ``least``.

    Its answer is better than none, and tells how long stating takes.
    """
    before = clock.spent
    mix = found.program(rows, bare=bare)
    found.seconds_a_route = (clock.spent - before) / max(1, int(rows.sum()))
    mix.sketched = True
    climbed = climb(mix, mix.stages[:-1], clock.part(share, least), found.nothing(mix))
    if climbed.values and (found.sketch is None or is_better(mix, climbed, found.sketch[1])):
        found.sketch = (mix, climbed)
    return mix, climbed


def _bound(found: Narrowed, values: list[str], prices: Mapping[str, Bounds]) -> None:
    """Bound each stage that is not known, those before it held to what they may come to at best."""
    held = dict(found.known)
    for stage in values[len(held) :]:
        start = prices[stage].prices if stage in prices else None
        found.bounds[stage] = Mixes(found.table, found.keep, held, found.taken).bounds(stage, start)
        level = found.bounds[stage].level
        if level is None or (level < 0 and not found.bounds[stage].stage.per_minor):  # nobody mends less than nothing
            found.impossible = True
            return
        held[stage] = level
    found.most = held


def _fits(found: Narrowed, stage: str, rows: Bools, own: Bools, clock: Clock) -> bool:
    """Whether there is time to state very many routes; before that, so few as are stated at once, and if there is not
    then as many as there is time for.
    """
    _sketch(found, _first(found, stage, rows, FIRST_FEW) | own, clock, SHARE_FOR_FEW, SECONDS_FOR_FEW, bare=True)
    fitting = int(clock.left / WORTH_STATING / max(found.seconds_a_route, 1e-9))
    if 2 * FIRST_FEW <= fitting < int(rows.sum()):
        _sketch(found, _first(found, stage, rows, fitting) | own, clock, bare=True)
    return fitting >= int(rows.sum())


def _first(found: Narrowed, stage: str, rows: Bools, number: int) -> Bools:
    """So many of some routes, those with which a mix may come to most, the cheapest first."""
    most = np.where(rows, found.bounds[stage].by_route, -np.inf)
    few = np.zeros(len(most), dtype=np.bool_)
    few[np.lexsort((found.table.cash, -most))[:number]] = True
    return few & rows


def _promising(found: Narrowed, stage: str) -> Bools:
    """The routes with which a mix may come to most, of every fault some."""
    most, fault = found.bounds[stage].by_route, found.table.fault
    order = np.lexsort((-most, fault))
    rank = np.arange(len(order)) - np.searchsorted(fault[order], fault[order])
    core = np.zeros(len(order), dtype=np.bool_)
    core[order[rank < OF_EACH]] = True
    core[np.argsort(-most, kind="stable")[:MORE]] = True
    return core & found.keep


def _filtered(found: Narrowed, values: list[str], climbed: Climb) -> str | None:
    """Keep what may be as good as a mix that was found; the first stage in which one may be better, None for none."""
    for stage in values[len(found.known) :]:
        level, bounds = climbed.levels[stage], found.bounds[stage]
        found.keep = found.keep & bounds.reach(level)
        if bounds.level != level:
            for later in values[values.index(stage) + 1 :]:  # bounded for mixes that come to more in this stage
                del found.bounds[later]
            return stage
        found.known[stage] = level
    return None


def that_reach(
    job: Job, offer: Offer, floor: Mapping[str, int], most: Mapping[str, int], start: Bounds | None
) -> tuple[Offer, Bounds | None]:
    """The offer without routes of which no mix comes to ``floor``; no mix of it comes to more than ``most``.

    The stage that says so is the first in which these differ, else the last that money does not enter; with its bounds.
    """
    table = RouteTable.of(job, offer)
    values = [stage for stage in table.stages if not stage.per_minor]
    if len(table.proposals) < WORTH_SHRINKING or not values:
        return offer, None
    decides = next((stage for stage in values if floor[stage.name] != most[stage.name]), values[-1])
    held = {stage.name: floor[stage.name] for stage in values[: values.index(decides)]}
    prices = None if start is None or start.stage.name != decides.name else start.prices
    bounds = Mixes(table, table.all_open(), held).bounds(decides.name, prices)
    return within(offer, table, bounds.reach(floor[decides.name])), bounds
