"""Climb the levels of a built mix, one solve a level, and bring the answer back as whole numbers.

What differs between solvers, and between PuLP 3 and 4, is kept in ``optimiser.solver.backends``.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace

from optimiser.errors import SolverError
from optimiser.model.candidates import Offer
from optimiser.model.job import Job
from optimiser.model.plan import LAST, MONEY, PROFIT, Outcome, Selection, per_minor
from optimiser.solver import backends, last_tie
from optimiser.solver.exact_solve import WORTH_RELAXING, Clock, Ending, measured, solve, sorted_solve
from optimiser.solver.formulation import build
from optimiser.solver.program import WIDEST_OBJECTIVE, Expression, Level, Mix, Values, Variable, divided, total

SHARE_OF_TIME = 2 / 3
"""Of the time left, for each stage but the last: what comes first matters most, and the rest still needs a look."""
SECONDS_TO_TIDY = 5.0
"""After the time limit: for settling packs and postage of the faults already chosen."""

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Climb:
    """An answer: the whole columns' values, each level's value, and how well it is known."""

    ending: Ending
    values: Values
    levels: dict[str, int]
    outcome: Outcome


@dataclass(frozen=True)
class Solved:
    """A program whose stages are climbed: any of the best mixes, and the first of them once ties matter."""

    mix: Mix
    found: Climb
    clock: Clock

    def any_of_equals(self) -> Selection:
        """The mix that the solver came to."""
        return selection(self.mix, self.found)

    def first_of_equals(self) -> Selection:
        """The best mix by model section 4, the tie-breaks in order where it is proven. To be asked for once."""
        if not self.found.outcome.proven:
            return self.any_of_equals()
        values = _first_of_equals(self.mix, self.found.values, self.clock)
        return selection(self.mix, replace(self.found, values=values))


def solved(job: Job, offer: Offer, last: Selection | None = None, progress: Progress = lambda _: None) -> Solved:
    """The stages of model section 4 climbed, net cost the last.

    Raises ``SolverError`` where the solver that the job asks for is missing or gives nothing usable.
    """
    clock = Clock(job.solve.seconds)
    mix = build(job, offer, last)
    return Solved(mix, climb(mix, mix.stages, clock, nothing_taken(mix), progress), clock)


def best(job: Job, offer: Offer, last: Selection | None = None, progress: Progress = lambda _: None) -> Selection:
    """The best mix by model section 4: stages, then cost, then the tie-breaks in order. Raises as ``solved`` does."""
    return solved(job, offer, last, progress).first_of_equals()


def most_valued(job: Job, offer: Offer, more_than: int, seconds: float) -> Selection | None:
    """A mix that is the best in the first stage alone, with the cheapest packs and orders for it; nothing else counts.

    For a job without safety stages that is all fixes, or the profit. None where the relaxation says that no mix is
    worth ``more_than`` so much.
    """
    clock = Clock(min(seconds, job.solve.seconds))
    mix = build(job, offer, None)
    first = mix.stages[0]
    mix.problem.setObjective(total([-1 * first.measures]))
    relaxed = backends.relaxed(mix, mix.take.values(), clock.left)
    if relaxed is not None and -relaxed.objective <= more_than:
        return None
    found = climb(mix, [first], clock, nothing_taken(mix))
    return selection(mix, replace(found, values=_tidied(mix, found.values)))


def _first_of_equals(mix: Mix, values: Values, clock: Clock) -> Values:
    """The tie-breaks in order; they get no longer than the stages took, so a proven plan is not kept waiting."""
    clock = Clock(min(clock.left, max(SECONDS_TO_TIDY, clock.spent)))

    def least(objective: Expression) -> Values | None:
        ending, answer = solve(mix, objective, clock.left)
        return answer.values if answer is not None and ending is Ending.CLOSED else None

    if sum(bool(column.upBound) for column in mix.take.values()) >= WORTH_RELAXING:
        _keep_the_interchangeable(mix, values)
    loose = last_tie.fix_the_settled(mix, values, least)
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


def nothing_taken(mix: Mix) -> Values:
    """Leaving every fault is always possible."""
    return {column.name: 0 for column in mix.integers}


def climb(
    mix: Mix,
    levels: Sequence[Level],
    clock: Clock,
    start: Values | None = None,
    progress: Progress = lambda _: None,
) -> Climb:
    """Solve the levels in order, each held by those after it. Leaves the columns' bounds where the levels put them.

    A stage that the time did not let close keeps its choices, so that what is left to decide stays easy.
    """
    values, reached, outcome = start, dict[str, int](), Outcome(proven=True)
    ending = Ending.CLOSED
    for group in grouped(levels, mix):
        stage = group[0] if group[0] in mix.stages else None
        if stage is not None:
            progress(stage.name)
        if values is None or not _ideal(group, values):
            share = SHARE_OF_TIME if stage is not None and stage is not mix.stages[-1] else 1
            ending, answer = _solve_group(mix, group, clock.left * share, values or {})
            if answer is None and values is None:
                return Climb(ending, {}, {}, outcome)
            values = values if answer is None else answer.values
            if stage is not None and ending is not Ending.CLOSED:
                outcome = _not_closed(stage, group, answer, values or {}) if outcome.proven else outcome
                if answer is not None:
                    _keep_choices(mix, stage, answer.values)
        for level in group:
            reached.setdefault(level.name, _hold(level, values or {}))
    if values is None:
        raise SolverError("there was no level to solve")
    loose = any(stage.name == PROFIT for stage in mix.stages)  # columns that only an open profit stage would hold tight
    if not outcome.proven and (loose or ending is not Ending.CLOSED):
        values = _tidied(mix, values)
        reached |= {level.name: measured(level.measures, values) for level in mix.stages if level.name in reached}
    return Climb(Ending.CLOSED if outcome.proven else Ending.OPEN, values, reached, outcome)


def grouped(levels: Sequence[Level], mix: Mix) -> Iterator[list[Level]]:
    """The value stages each on its own; net cost and the tie-breaks together while one objective keeps them apart."""
    group: list[Level] = []
    for level in levels:
        if group and (level in mix.stages or math.prod(g.reach for g in group) * level.reach > WIDEST_OBJECTIVE):
            yield group
            group = []
        group.append(level)
        if level in mix.stages and level.name not in LAST:
            yield group
            group = []
    if group:
        yield group


def _ideal(group: Sequence[Level], values: Values) -> bool:
    """Whether nothing could be better: there is nothing to decide, so nothing to solve."""
    return all(measured(g.measures, values) == (g.high if g.maximise else g.low) for g in group)


def _solve_group(
    mix: Mix, group: Sequence[Level], seconds: float, known: Values
) -> tuple[Ending, backends.Answer | None]:
    terms: list[Expression] = []
    weight = 1
    for level in reversed(group):
        terms.append((-weight if level.maximise else weight) * divided(level.measures, level.step))
        weight *= level.reach
    with _only_counted(mix, group):
        return sorted_solve(mix, total(terms), seconds, known)


@contextmanager
def _only_counted(mix: Mix, group: Sequence[Level]) -> Iterator[None]:
    """While an early stage is solved, routes that cannot matter to it stay closed: they only cost money.

    One that is not counted matters where a counted one relies on the order that it is sure to place.
    """
    counted = frozenset(mix.take) if group[0].counted is None else group[0].counted
    relied = {supplier for p in mix.proposals if p.key in counted for supplier in p.relies_on | p.rides_with}
    uncounted = [mix.take[p.key] for p in mix.proposals if p.key not in counted and not p.certain_suppliers & relied]
    closed = [c for c in uncounted if not c.lowBound and c.upBound and c.name not in mix.forced]
    for column in closed:
        column.upBound = 0
    try:
        yield
    finally:
        for column in closed:
            column.upBound = 1


def _hold(level: Level, values: Values) -> int:
    """Bound a level by what it reached."""
    value = measured(level.measures, values)
    if level.maximise:
        level.at_least(value)
    else:
        level.at_most(value)
    return value


def release(mix: Mix) -> None:
    """Give every level and option its first bounds back, for the next question to the same program."""
    for level in [*mix.stages, *mix.ties]:
        level.at_least(level.low)
        level.at_most(level.high)
    for column in mix.take.values():
        column.lowBound, column.upBound = 0, 1


def _not_closed(stage: Level, group: Sequence[Level], answer: backends.Answer | None, values: Values) -> Outcome:
    """What another mix could reach at most in the stage that heads the group."""
    value = measured(stage.measures, values)
    better = abs((stage.high if stage.maximise else stage.low) - value)
    if answer is not None and math.isfinite(answer.bound):
        weight = math.prod(level.reach for level in group[1:])
        better = min(better, stage.step * math.ceil((answer.objective - answer.bound) / weight - 1e-6))
    return Outcome(
        proven=False,
        stage=stage.name,
        unit="money" if stage.name in MONEY else "fixes",
        better_at_most=-(-better // per_minor(stage.name)),
    )


def _keep_choices(mix: Mix, stage: Level, values: Values) -> None:
    for key, column in mix.take.items():
        if stage.counted is None or key in stage.counted:
            column.lowBound = column.upBound = values[column.name]


def _tidied(mix: Mix, values: Values) -> Values:
    """With the faults' choices fixed, the cheapest packs and orders that hold them: a small program."""
    if not any(values.values()):
        return values  # nothing is taken and nothing bought
    for column in mix.take.values():
        column.lowBound = column.upBound = values[column.name]
    _, answer = solve(mix, (-1 if mix.decisive.maximise else 1) * mix.decisive.measures, SECONDS_TO_TIDY)
    return values if answer is None else answer.values


def selection(mix: Mix, found: Climb) -> Selection:
    """The answer in the job's own ids."""
    names = {quote.id: quote.supplier for quote in mix.in_play}
    packs = {quote: measured(total([packs]), found.values) for quote, packs in mix.packs.items()}
    return Selection(
        routes=tuple(p.read() for p in mix.proposals if found.values[mix.take[p.key].name] == 1),
        packs={quote: count for quote, count in packs.items() if count and names[quote] is not None},
        levels={level.name: found.levels[level.name] for level in mix.stages if level.name in found.levels},
        outcome=found.outcome,
    )
