"""A mix over many routes, asked over few: a small program first, then all that could be as good as what it found.

What may be left out, and why, is in ``shrinking``; which of what is left is the best, the program says.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from optimiser.model.candidates import Offer, Proposal
from optimiser.model.job import Job
from optimiser.solver.climbing import Climb, climb, nothing_taken
from optimiser.solver.exact_solve import Clock, Ending
from optimiser.solver.formulation import build
from optimiser.solver.program import Mix
from optimiser.solver.shrinking import Bools, Bounds, Question, Table

WORTH_SHRINKING = 100
"""Routes from which on it pays to leave out what is in no best mix."""
OF_EACH, MORE = 2, 60
"""Routes of the first, small program: of every fault the most promising, and so many more."""


@dataclass
class Narrowed:
    """What is left of an offer, what its stages are known to reach, and what no mix with a route passes in a stage.

    ``core`` is a small program with its best mix, worse than none that was left out; None where none was found.
    """

    offer: Offer
    table: Table
    keep: Bools
    known: dict[str, int] = field(default_factory=dict)
    bounds: dict[str, Bounds] = field(default_factory=dict)
    core: tuple[Mix, Climb] | None = None

    @property
    def left(self) -> Offer:
        """The offer without what is in no best mix."""
        return within(self.offer, self.table, self.keep)

    def close_in(self, mix: Mix, stage: str, level: int) -> None:
        """Close the routes of a mix with which it cannot come to a level."""
        if stage in self.bounds:
            reach = self.bounds[stage].reach(level)
            for row in np.flatnonzero(self.keep & ~reach).tolist():
                column = mix.take[self.table.proposals[row].key]
                if not column.lowBound:
                    column.upBound = 0


def within(offer: Offer, table: Table, keep: Bools) -> Offer:
    """The offer with the routes that are kept."""
    routes = tuple(table.proposals[row] for row in np.flatnonzero(keep).tolist())
    if offer.routes is not None:
        return replace(offer, routes=routes)
    keys = {route.key for route in routes}
    return replace(offer, options=tuple(option for option in offer.options if option.key in keys))


def narrowed(
    job: Job,
    offer: Offer,
    clock: Clock,
    near: Collection[Proposal] = (),
    prices: Mapping[str, Bounds] | None = None,
) -> Narrowed:
    """Leave out what is in no best mix. ``near`` are routes of a good mix, ``prices`` bounds of a question like it."""
    table = Table.of(job, offer)
    found = Narrowed(offer, table, table.all_open())
    if len(table.proposals) < WORTH_SHRINKING:
        return found
    values = [stage.name for stage in table.stages[:-1]]
    good = {p.key: p.content for p in near}
    own = np.array([good.get(p.key) == p.content for p in table.proposals])
    while len(found.known) < len(values) and clock.left > 0:
        _bound(found, values, prices or {})
        core = _promising(found, values[-1]) | own
        mix = build(job, within(offer, table, core))
        mix.sketched = True
        climbed = climb(mix, mix.stages[:-1], clock, nothing_taken(mix))
        if climbed.ending is not Ending.CLOSED:
            found.bounds.clear()
            break
        found.core = (mix, climbed)
        open_stage = _filtered(found, values, climbed)
        if open_stage in (None, values[-1]):
            break
        mix = build(job, found.left)
        climbed = climb(mix, mix.stages[: values.index(open_stage) + 1], clock, nothing_taken(mix))
        if climbed.ending is not Ending.CLOSED:
            break
        found.known |= climbed.levels
        own |= np.array([p.key in mix.take and climbed.values[mix.take[p.key].name] == 1 for p in table.proposals])
    return found


def _bound(found: Narrowed, values: list[str], prices: Mapping[str, Bounds]) -> None:
    """Bound each stage that is not known, those before it held to what they may come to at best."""
    held = dict(found.known)
    for stage in values[len(held) :]:
        start = prices[stage].prices if stage in prices else None
        found.bounds[stage] = Question(found.table, found.keep, held).bounds(stage, start)
        held[stage] = found.bounds[stage].level or 0


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
