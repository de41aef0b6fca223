"""The best mix of what is offered: few routes first, the rest shrunk away, the stages climbed, ties broken."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

from optimiser.model.candidates import Offer, Proposal
from optimiser.model.job import Job
from optimiser.model.plan import LAST, MONEY, Outcome, Selection, per_minor
from optimiser.solver import last_tie
from optimiser.solver.climbing import (
    Climb,
    Progress,
    climb,
    climb_rest,
    is_better,
    nothing_taken,
    selection,
    tidied,
    unfinished,
)
from optimiser.solver.exact_solve import SECONDS_TO_TIDY, WORTH_RELAXING, Clock, Ending
from optimiser.solver.formulation import build
from optimiser.solver.narrowing import WORTH_STATING, Narrowed, Start, narrowed
from optimiser.solver.program import Mix, Values, Variable
from optimiser.solver.shrinking import Mixes, RouteTable
from optimiser.solver.ties import asked_by
from optimiser.solver.top_up_sums import TopUpSums

MOST_TIMES = 6
"""A mix is sought over sums of top-ups, before it is over all packs as they are."""


@dataclass(frozen=True)
class Solved:
    """A program whose stages are climbed: any of the best mixes, and the first of them once ties matter."""

    mix: Mix
    found: Climb
    clock: Clock
    left: Narrowed
    packed: Packed | None = None

    @property
    def taken(self) -> list[Proposal]:
        """The routes of its mix."""
        return [p for p in self.mix.proposals if self.found.values[self.mix.take[p.key].name] == 1]

    @property
    def start(self) -> Start:
        """What helps with a question like this one."""
        return Start(self.taken, self.left.bounds)

    def of_fewer(self, before: Solved) -> Solved:
        """The answer beside that to a question with more mixes in it, whose bound holds here too."""
        known, reached = before.found.outcome, before.found.levels
        lost = (s for s in reached if self.found.levels.get(s) != reached[s])
        stage = next((s for s in (*lost, known.stage) if s), "")
        if not known.proven:
            stage = min(stage, known.stage, key=list(reached).index)
        lower = abs(reached[stage] - self.found.levels[stage]) if stage else 0
        better = -(-lower // per_minor(stage)) + (known.better_at_most if stage == known.stage else 0)
        return replace(self, found=replace(self.found, outcome=_open(stage, better) if stage else Outcome(proven=True)))

    def any_of_equals(self) -> Selection:
        """The mix that the solver came to."""
        if self.packed is None:
            return selection(self.mix, self.found)
        return self.packed.mix.any_of_equals().model_copy(update={"outcome": self.found.outcome})

    def first_of_equals(self) -> Selection:
        """The best mix by model section 4, the tie-breaks in order where it is proven. To be asked for once."""
        if not self.found.outcome.proven:
            return self.any_of_equals()
        first = replace(self.found, values=_first_of_equals(self.mix, self.found.values, self.clock))
        if self.packed is None:
            return selection(self.mix, first)
        packed = _with_packs(self.packed.offer, replace(self, found=first), self.packed.last)
        if packed is not None:
            return packed.first_of_equals()
        return _solved(
            self.mix.job, self.packed.offer, self.packed.last, before=self, clock=self.clock
        ).first_of_equals()


@dataclass(frozen=True)
class Packed:
    """The packs for a mix over sums of top-ups: what they are chosen from, and that mix with the best of them."""

    offer: Offer
    last: Selection | None
    mix: Solved


def solved(
    job: Job,
    offer: Offer,
    last: Selection | None = None,
    progress: Progress = lambda _: None,
    before: Solved | None = None,
    clock: Clock | None = None,
) -> Solved:
    """The stages of model section 4 climbed, net cost the last. ``before`` is the answer to a question like it.

    Raises ``SolverError`` where the solver that the job asks for is missing or gives nothing usable.
    """
    clock = clock or Clock(job.solve.seconds)
    sums = TopUpSums.of(job, offer)
    for _ in range(MOST_TIMES):
        if sums is None:
            break
        found = _solved(job, sums.offer, last, progress, before, clock=clock)
        if found.found.outcome.proven and (packed := _with_packs(offer, found, last)):
            return replace(found, packed=Packed(offer, last, packed))
        if not found.found.outcome.proven or clock.over():
            few = _of_these(offer, found.taken)
            return _solved(job, few, last, clock=Clock(max(clock.left, SECONDS_TO_TIDY))).of_fewer(found)
        missed, before = sums.missed(found.mix, found.found.values), found
        sums = sums.without(missed) if missed else None
    return _solved(job, offer, last, progress, before, clock=clock)


def _with_packs(offer: Offer, over_sums: Solved, last: Selection | None) -> Solved | None:
    """The routes of a mix over sums with real packs, where these come to the same."""
    mix = build(over_sums.mix.job, _of_these(offer, over_sums.taken), last)
    *values, cost = mix.stages
    levels = over_sums.found.levels
    known = {stage.name: levels[stage.name] for stage in values}
    clock = Clock(max(over_sums.clock.left, SECONDS_TO_TIDY))
    found = climb_rest(mix, mix.stages, known, clock, nothing_taken(mix))
    same = found.ending is Ending.CLOSED and found.levels[cost.name] == levels[cost.name]
    return Solved(mix, found, clock, over_sums.left) if same else None


def _of_these(offer: Offer, routes: Sequence[Proposal]) -> Offer:
    """The offer with these routes alone."""
    if offer.routes is not None:
        return replace(offer, routes=tuple(routes))
    keys = {route.key for route in routes}
    return replace(offer, options=tuple(option for option in offer.options if option.key in keys))


def _solved(
    job: Job,
    offer: Offer,
    last: Selection | None,
    progress: Progress = lambda _: None,
    before: Solved | None = None,
    *,
    clock: Clock,
) -> Solved:
    """As ``solved``, over all packs that are offered."""
    left = narrowed(job, offer, clock, Start() if before is None else before.start)
    small = left.core or left.sketch
    if small is not None and clock.left <= (1 if left.core else WORTH_STATING) * left.seconds:
        return Solved(small[0], _bounded(left, *small), clock, left)
    mix = left.program(last=last)
    start, close_in = nothing_taken(mix), partial(left.close_in, mix)
    found = climb_rest(mix, mix.stages, left.known, clock, start, progress, close_in, left.floors)
    if small is not None and found.ending is not Ending.CLOSED:
        known = _bounded(left, *small)
        if found.ending is not Ending.OPEN or is_better(mix, known, found):
            mix, found = small[0], known
    return Solved(mix, found, clock, left)


def _bounded(left: Narrowed, mix: Mix, climbed: Climb) -> Climb:
    """The mix of a small program beside all that there are, by what none of these passes."""
    found = unfinished(mix, climbed)
    stage = next((s for s in mix.stages[:-1] if found.levels[s.name] != left.most[s.name]), None)
    if stage is None:
        return found
    better = -(-abs(left.most[stage.name] - found.levels[stage.name]) // per_minor(stage.name))
    return replace(found, outcome=_open(stage.name, better))


def _open(stage: str, better: int) -> Outcome:
    return Outcome(proven=False, stage=stage, unit="money" if stage in MONEY else "fixes", better_at_most=better)


def best(
    job: Job,
    offer: Offer,
    last: Selection | None = None,
    progress: Progress = lambda _: None,
    clock: Clock | None = None,
) -> Selection:
    """The best mix by model section 4: stages, then cost, then the tie-breaks in order. Raises as ``solved`` does."""
    return solved(job, offer, last, progress, clock=clock).first_of_equals()


def most_valued(job: Job, offer: Offer, more_than: int, seconds: float) -> Selection | None:
    """A mix that is the best in the first stage alone, with the cheapest packs and orders for it; nothing else counts.

    For a job without safety stages that is all fixes, or the profit. None where its bound says that no mix is
    worth ``more_than`` so much.
    """
    clock = Clock(min(seconds, job.solve.seconds))
    sums = TopUpSums.of(job, offer)
    asked = offer if sums is None else sums.offer
    table = RouteTable.of(job, asked)
    stage = table.stages[0].name
    bounds = Mixes(table, table.all_open(), {}).bounds(stage)
    if bounds.level is None or bounds.level <= more_than:
        return None
    left = narrowed(job, asked, clock, Start(bounds={stage: bounds}), table, bounds.reach(more_than))
    if left.core is not None and stage in left.known:
        mix, found = left.core
    else:
        mix = left.program()
        found = climb(mix, mix.stages[:1], clock, nothing_taken(mix), floors=left.floors)
    if sums is not None:
        mix = build(job, _of_these(offer, [p for p in mix.proposals if found.values[mix.take[p.key].name] == 1]))
        found = climb(mix, mix.stages[:1], clock.part(1, SECONDS_TO_TIDY), nothing_taken(mix))
    return selection(mix, replace(found, values=tidied(mix, found.values)))


def _first_of_equals(mix: Mix, values: Values, clock: Clock) -> Values:
    """The tie-breaks in order."""
    clock = clock.for_ties()
    least = asked_by(mix, clock)
    if sum(bool(column.upBound) for column in mix.take.values()) >= WORTH_RELAXING:
        _keep_the_interchangeable(mix, values)
    loose = last_tie.loose_faults(mix, values, least)
    if loose is None:
        return values
    values = climb(mix, mix.ties, clock, values).values
    return last_tie.first(mix, loose, values, least)


def _keep_the_interchangeable(mix: Mix, values: Values) -> None:
    """Close every route that is worth something else than each route taken: among so many, equals are alike in worth.

    Two mixes of routes that are worth other amounts one by one, and yet the same in sum to a millionth, are not sought.
    """
    # read out once: PuLP 4 goes through a whole expression to find one column's coefficient
    stages = [
        {column.name: coefficient for column, coefficient in stage.measures.items()}
        for stage in mix.stages
        if stage.name not in LAST
    ]

    def worth(column: Variable) -> tuple[float, ...]:
        return tuple(stage.get(column.name, 0) for stage in stages)

    taken = {worth(column) for column in mix.take.values() if values[column.name]}
    for column in mix.take.values():
        if worth(column) not in taken:
            column.upBound = 0
