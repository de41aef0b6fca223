"""One question to the solver: an exact answer in whole numbers, over many routes the promising ones first."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from enum import Enum, auto

from optimiser.errors import SolverError
from optimiser.solver import backends
from optimiser.solver.program import HALF, Expression, Mix, Program, Values, Variable, divided, scale_of, step_of, total

WORTH_RELAXING = 200
"""Open routes from which on it pays to sort them by a relaxation first."""
WORTH_SORTING = 500
"""The same, where what is in no best mix is left out already."""
CORE = 12
"""Routes a fault with which the sorted search begins, the most promising ones."""
SECONDS_TO_TIDY = 5.0
"""After the time limit, for settling packs and postage of what is chosen already; for the tie-breaks at least."""
SHARE_FOR_THE_CORE = 1 / 3
"""Of the time: the best of these alone says nothing of the others, so a bound over all is worth more than its proof."""


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
    now: Callable[[], float] = time.monotonic
    started: float = field(init=False)

    def __post_init__(self) -> None:
        self.started = self.now()

    @property
    def left(self) -> float:
        """Seconds left, never below zero."""
        return max(0.0, self.seconds - self.spent)

    @property
    def spent(self) -> float:
        """Seconds since the start."""
        return self.now() - self.started

    def over(self) -> bool:
        """Whether nothing is left."""
        return self.left <= 0

    def for_ties(self) -> Clock:
        """The tie-breaks' time: no longer than was spent so far, so that a proven answer is not kept waiting."""
        return Clock(min(self.left, max(SECONDS_TO_TIDY, self.spent)))

    def part(self, share: float, least: float = 0.0) -> Clock:
        """A clock over a share of what is left, or over so many seconds where that is more."""
        return Clock(max(share * self.left, least), self.now)


def sorted_solve(
    mix: Mix, objective: Expression, seconds: float, values: Values, known: float
) -> tuple[Ending, backends.Answer | None]:
    """As ``solve``, for many routes: first over the promising ones and those of ``values``, then over all that could be
    better.

    The relaxation sorts them: a route of reduced cost d leaves the objective no better than the relaxation's plus d
    (Dantzig, Fulkerson and Johnson 1954; the core of Balas and Zemel 1980). What cannot be in any best mix stays
    closed, which serves the levels that follow, since they hold this one. On the full example (5,500 routes) all stages
    went from 17 s to 4 s.
    """
    clock = Clock(seconds)
    routes = [column for column in mix.take.values() if column.upBound and not column.lowBound]
    relaxed = None
    if len(routes) >= (WORTH_SORTING if mix.narrowed else WORTH_RELAXING):
        unit = _unit_of(objective)
        mix.problem.setObjective(divided(total([objective]) - objective.constant, unit))
        relaxed = backends.relaxed(mix, mix.take.values(), seconds, unit)
    if relaxed is None:
        return solve(mix, objective, clock.left, known=known)
    core = _promising(mix, relaxed, values) | mix.good
    with _closed(column for column in routes if column.name not in core):
        within = known if mix.good else math.inf  # else what is known of may not be among these
        ending, answer = solve(mix, objective, SHARE_FOR_THE_CORE * clock.left, known=within)
    if answer is None:
        return solve(mix, objective, clock.left, known=known)
    room = answer.objective - relaxed.objective
    if ending is Ending.CLOSED and room < 1 - 1e-6:
        return ending, answer
    for column in routes:
        if relaxed.reduced_costs[column.name] > room + 0.01 + 1e-6 * abs(relaxed.objective):
            column.upBound = 0
    if ending is Ending.CLOSED and not any(column.upBound for column in routes if column.name not in core):
        return ending, answer
    ending, better = solve(mix, objective, clock.left, known=min(known, answer.objective + objective.constant))
    if better is None:
        return Ending.OPEN, replace(answer, bound=relaxed.objective)
    bound = max(better.bound, relaxed.objective) if ending is Ending.OPEN else better.bound
    return ending, replace(min(answer, better, key=lambda found: found.objective), bound=bound)


def _promising(mix: Mix, relaxed: backends.Relaxed, known: Values) -> set[str]:
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


def solve(
    program: Program, objective: Expression, seconds: float, step: int | None = None, known: float = math.inf
) -> tuple[Ending, backends.Answer | None]:
    """Minimise one objective under the bounds as they stand; an answer is exact in whole numbers or is not given.

    Its values are multiples of ``step``, which is read off its factors where it is over whole columns alone. Some
    answer is ``known`` to come to so much: nothing worse is looked for.
    Raises ``SolverError`` where the solver's answer breaks a row, or is not what it says, even with presolve off.
    """
    clock = Clock(seconds)
    broken: str | None = None
    constant = objective.constant
    objective = total([objective]) - constant  # solvers and PuLP's versions differ over a constant
    step, unit = step or step_of(objective), _unit_of(objective)
    at_most = (known - constant + step * HALF) / unit
    for careful in (False, True):
        if clock.left <= 0:
            return Ending.UNKNOWN, None
        # a copy: PuLP adds a column of its own to an empty objective
        program.problem.setObjective(divided(total([objective]), unit))
        answer = backends.run(program, clock.left, careful=careful, at_most=at_most)
        at_most = math.inf  # where nothing was found that is as good as what is known, that is not to be believed
        answer = replace(answer, objective=answer.objective * unit, bound=answer.bound * unit)
        if answer.impossible and careful:
            return Ending.IMPOSSIBLE, None
        if not answer.values:
            continue  # out of time, outside its own tolerances, or called impossible by presolve: all seen of HiGHS
        broken = broken_row(program, answer.values) or _false_objective(objective, answer)
        if broken is None:
            closed = answer.finished and answer.objective - answer.bound < step * (1 - 1e-6)
            return Ending.CLOSED if closed else Ending.OPEN, answer
    if broken is None:
        return Ending.UNKNOWN, None
    raise SolverError(f"the solver's answer breaks the row {broken!r}")


def _unit_of(objective: Expression) -> int:
    """The unit in which a solver holds an objective well: all its values are whole in it but for a power of two."""
    step = step_of(objective)
    return step * scale_of(divided(objective, step))


def _false_objective(objective: Expression, answer: backends.Answer) -> str | None:
    """Solvers have been seen to report an objective that their own columns do not give."""
    if any(column.name not in answer.values for column in objective):
        return None
    return None if abs(measured(objective, answer.values) - answer.objective) < 0.5 else "objective"


def broken_row(program: Program, values: Values) -> str | None:
    """The first constraint that whole-number values break, None where they keep all, levels' bounds included."""
    for name, row in program.rows:
        left = measured(row, values)
        if (row.sense >= 0 and left < 0) or (row.sense <= 0 and left > 0):
            return name
    if program.budget_minor is not None and measured(program.cash, values) > program.budget_minor:
        return "never_over"
    for level in [*program.stages, *program.ties]:
        if not level.holds(measured(level.measures, values)):
            return level.name
    return None


def measured(expression: Expression, values: Values) -> int:
    """An expression over whole columns, in whole numbers."""
    terms: list[int] = [round(coefficient) * values[column.name] for column, coefficient in expression.items()]
    return sum(terms, round(expression.constant))
