"""Climb the levels of a built mix, one solve a level, and bring the answer back as whole numbers.

What differs between solvers, and between PuLP 3 and 4, is kept in ``optimiser.mix.solvers``.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from enum import Enum, auto

from optimiser.errors import SolverError
from optimiser.mix import content, solvers
from optimiser.mix.formulation import build
from optimiser.mix.program import (
    WIDEST_OBJECTIVE,
    Expression,
    Level,
    Mix,
    Values,
    Variable,
    job_budget,
    total,
)
from optimiser.model.job import Job
from optimiser.model.offer import Offer
from optimiser.model.plan import NET_COST, PROFIT, Outcome, Selection

SHARE_OF_TIME = 2 / 3
"""Of the time left, for each stage but the last: what comes first matters most, and the rest still needs a look."""
WORTH_RELAXING = 200
"""Open routes from which on it pays to sort them by a relaxation first."""
CORE = 12
"""Routes a fault with which the sorted search begins, the most promising ones."""
SECONDS_TO_TIDY = 5.0
"""After the time limit: for settling packs and postage of the faults already chosen."""

Progress = Callable[[str], None]


class Ending(Enum):
    """How a climb ended."""

    CLOSED = auto()
    OPEN = auto()
    IMPOSSIBLE = auto()
    UNKNOWN = auto()


@dataclass
class Clock:
    """What is left of the seconds allowed."""

    seconds: float
    started: float = field(default_factory=time.monotonic)

    @property
    def left(self) -> float:
        """Seconds left, never below zero."""
        return max(0.0, self.seconds - self.spent)

    @property
    def spent(self) -> float:
        """Seconds since the start."""
        return time.monotonic() - self.started


@dataclass(frozen=True)
class Climb:
    """An answer: the whole columns' values, each level's value, and how well it is known."""

    ending: Ending
    values: Values
    levels: dict[str, int]
    outcome: Outcome


def best(job: Job, offer: Offer, last: Selection | None = None, progress: Progress = lambda _: None) -> Selection:
    """The best mix by model section 4: stages, then net cost, then the tie-breaks in order.

    Raises ``SolverError`` where the solver that the job asks for is missing or gives nothing usable.
    """
    clock = Clock(job.solve.seconds)
    mix = build(job, offer, last)
    found = climb(mix, mix.stages, clock, nothing_taken(mix), progress)
    if found.outcome.proven:
        found = replace(found, values=_first_of_equals(mix, found.values, clock))
    return selection(mix, found)


def sketch(job: Job, offer: Offer) -> Selection | None:
    """A good mix over the most promising routes alone, its stages climbed and nothing proven; None where few are.

    It tells in a moment about how much money each fault gets. Raises ``SolverError`` as ``best`` does.
    """
    clock = Clock(job.solve.seconds)
    mix = build(job, offer)
    if len(mix.take) < WORTH_RELAXING:
        return None
    values, reached = nothing_taken(mix), dict[str, int]()
    for stage in mix.stages:
        if stage.name != NET_COST:
            _, answer = _solve_group(mix, [stage], clock.left, values, prove=False)
            values = values if answer is None else answer.values
            reached[stage.name] = _hold(stage, values)
    return selection(mix, Climb(Ending.OPEN, values, reached, Outcome(proven=False)))


def _first_of_equals(mix: Mix, values: Values, clock: Clock) -> Values:
    """The tie-breaks in order; they get no longer than the stages took, so a proven plan is not kept waiting."""
    clock = Clock(min(clock.left, max(SECONDS_TO_TIDY, clock.spent)))

    def least(objective: Expression) -> Values | None:
        ending, answer = solve(mix, objective, clock.left)
        return answer.values if answer is not None and ending is Ending.CLOSED else None

    if sum(bool(column.upBound) for column in mix.take.values()) >= WORTH_RELAXING:
        _keep_the_interchangeable(mix, values)
    loose = content.fix_the_settled(mix, values, least)
    if loose is None:
        return values
    values = climb(mix, mix.ties, clock, values).values
    return content.first(mix, loose, values, least)


def _keep_the_interchangeable(mix: Mix, values: Values) -> None:
    """Close every route that is worth something else than each route taken: among so many, equals are alike in worth.

    Two mixes of routes that are worth other amounts one by one, and yet the same in sum to a millionth, are not sought.
    """
    stages = [stage for stage in mix.stages if stage.name != NET_COST]

    def worth(column: Variable) -> tuple[float, ...]:
        return tuple(stage.measures.get(column, 0) for stage in stages)

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
        if level in mix.stages and level.name != NET_COST:
            yield group
            group = []
    if group:
        yield group


def _ideal(group: Sequence[Level], values: Values) -> bool:
    """Whether nothing could be better: there is nothing to decide, so nothing to solve."""
    return all(measured(g.measures, values) == (g.high if g.maximise else g.low) for g in group)


def _solve_group(
    mix: Mix, group: Sequence[Level], seconds: float, known: Values, *, prove: bool = True
) -> tuple[Ending, solvers.Answer | None]:
    terms: list[Expression] = []
    weight = 1
    for level in reversed(group):
        terms.append((-weight if level.maximise else weight) * level.measures)
        weight *= level.reach
    with _only_counted(mix, group):
        return sorted_solve(mix, total(terms), seconds, known, prove=prove)


@contextmanager
def _only_counted(mix: Mix, group: Sequence[Level]) -> Iterator[None]:
    """While an early stage is solved, options that cannot matter to it stay closed: they only cost money."""
    counted = group[0].counted
    uncounted = [] if counted is None else [column for key, column in mix.take.items() if key not in counted]
    closed = [c for c in uncounted if not c.lowBound and c.upBound and c.name not in mix.forced]
    for column in closed:
        column.upBound = 0
    try:
        yield
    finally:
        for column in closed:
            column.upBound = 1


def sorted_solve(
    mix: Mix, objective: Expression, seconds: float, known: Values, *, prove: bool = True
) -> tuple[Ending, solvers.Answer | None]:
    """As ``solve``, for many routes: first over the promising and ``known`` ones, then over all that could be better.

    The relaxation sorts them: a route of reduced cost d leaves the objective no better than the relaxation's plus d
    (Dantzig, Fulkerson and Johnson 1954; the core of Balas and Zemel 1980). What cannot be in any best mix stays
    closed, which serves the levels that follow, since they hold this one. Without ``prove`` the first answer will do.
    """
    clock = Clock(seconds)
    routes = [column for column in mix.take.values() if column.upBound and not column.lowBound]
    relaxed = None
    if len(routes) >= WORTH_RELAXING:
        mix.problem.setObjective(total([objective]) - objective.constant)
        relaxed = solvers.relaxed(mix, seconds)
    if relaxed is None:
        return solve(mix, objective, clock.left)
    core = _promising(mix, relaxed, known)
    with _closed(column for column in routes if column.name not in core):
        ending, answer = solve(mix, objective, clock.left)
    if answer is None:
        return solve(mix, objective, clock.left)
    room = answer.objective - relaxed.objective
    if not prove or (ending is Ending.CLOSED and room < 1 - 1e-6):
        return ending, answer
    for column in routes:
        if relaxed.reduced_costs[column.name] > room + 0.01 + 1e-6 * abs(relaxed.objective):
            column.upBound = 0
    if ending is Ending.CLOSED and not any(column.upBound for column in routes if column.name not in core):
        return ending, answer
    ending, better = solve(mix, objective, clock.left)
    return (Ending.OPEN, replace(answer, bound=relaxed.objective)) if better is None else (ending, better)


def _promising(mix: Mix, relaxed: solvers.Relaxed, known: Values) -> set[str]:
    """Of every fault the routes that the relaxation likes best, the cheaper first, and those of a known mix."""
    core = {column.name for column in mix.take.values() if known.get(column.name)}
    for proposals in mix.by_fault.values():
        names = sorted(
            ((relaxed.reduced_costs[mix.take[p.key].name], p.cash_minor, mix.take[p.key].name) for p in proposals),
            key=lambda ranked: (max(0.0, round(ranked[0], 3)), *ranked[1:]),
        )
        core |= {name for _, _, name in names[:CORE]}
    return core | relaxed.used


@contextmanager
def _closed(columns: Iterable[Variable]) -> Iterator[None]:
    """While these routes are not to be taken."""
    columns = list(columns)
    for column in columns:
        column.upBound = 0
    try:
        yield
    finally:
        for column in columns:
            column.upBound = 1


def solve(mix: Mix, objective: Expression, seconds: float) -> tuple[Ending, solvers.Answer | None]:
    """Minimise one objective under the bounds as they stand; an answer is exact in whole numbers or is not given.

    Raises ``SolverError`` where the solver's answer breaks a row, or is not what it says, even with presolve off.
    """
    clock = Clock(seconds)
    broken: str | None = None
    objective = total([objective]) - objective.constant  # solvers and PuLP's versions differ over a constant
    for careful in (False, True):
        if clock.left <= 0:
            return Ending.UNKNOWN, None
        mix.problem.setObjective(total([objective]))  # a copy: PuLP adds a column of its own to an empty objective
        answer = solvers.run(mix, clock.left, careful=careful)
        if answer.impossible:
            return Ending.IMPOSSIBLE, None
        if not answer.values:
            return Ending.UNKNOWN, None
        broken = broken_row(mix, answer.values) or _false_objective(objective, answer)
        if broken is None:
            closed = answer.finished and answer.objective - answer.bound < 1 - 1e-6
            return Ending.CLOSED if closed else Ending.OPEN, answer
    raise SolverError(f"the solver's answer breaks the row {broken!r}")


def _false_objective(objective: Expression, answer: solvers.Answer) -> str | None:
    """Solvers have been seen to report an objective that their own columns do not give."""
    if any(column.name not in answer.values for column in objective):
        return None
    return None if abs(measured(objective, answer.values) - answer.objective) < 0.5 else "objective"


def broken_row(mix: Mix, values: Values) -> str | None:
    """The first constraint that whole-number values break, None where they keep all, levels' bounds included."""
    for name, row in mix.rows:
        left = measured(row, values)
        if (row.sense >= 0 and left < 0) or (row.sense <= 0 and left > 0):
            return name
    if measured(mix.cash, values) > job_budget(mix.job):
        return "never_over"
    for level in [*mix.stages, *mix.ties]:
        if not level.column.lowBound <= measured(level.measures, values) <= level.column.upBound:
            return level.name
    return None


def measured(expression: Expression, values: Values) -> int:
    """An expression over whole columns, in whole numbers."""
    terms: list[int] = [round(coefficient) * values[column.name] for column, coefficient in expression.items()]
    return sum(terms, round(expression.constant))


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


def _not_closed(stage: Level, group: Sequence[Level], answer: solvers.Answer | None, values: Values) -> Outcome:
    """What another mix could reach at most in the stage that heads the group."""
    value = measured(stage.measures, values)
    better = abs((stage.high if stage.maximise else stage.low) - value)
    if answer is not None and math.isfinite(answer.bound):
        weight = math.prod(level.reach for level in group[1:])
        better = min(better, math.ceil((answer.objective - answer.bound) / weight - 1e-6))
    return Outcome(
        proven=False,
        stage=stage.name,
        unit="money" if stage.name in (PROFIT, NET_COST) else "fixes",
        better_at_most=better,
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
    decisive = next(level for level in mix.stages if level.name in (PROFIT, NET_COST))
    _, answer = solve(mix, (-1 if decisive.maximise else 1) * decisive.measures, SECONDS_TO_TIDY)
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
