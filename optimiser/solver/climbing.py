"""Climb the levels of a built mix, one solve a level, and bring the answer back as whole numbers.

What differs between solvers, and between PuLP 3 and 4, is kept in ``optimiser.solver.backends``.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace

from optimiser.errors import SolverError
from optimiser.model.plan import LAST, MONEY, PROFIT, Outcome, Selection, per_minor
from optimiser.solver import backends
from optimiser.solver.exact_solve import SECONDS_TO_TIDY, Clock, Ending, measured, solve, sorted_solve
from optimiser.solver.program import WIDEST_OBJECTIVE, Expression, Level, Mix, Values, divided, sure_units, total

SHARE_OF_TIME = 2 / 3
"""Of the time left, for each stage but the last: what comes first matters most, and the rest still needs a look."""

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Climb:
    """An answer: the whole columns' values, each level's value, and how well it is known."""

    ending: Ending
    values: Values
    levels: dict[str, int]
    outcome: Outcome


def climb_rest(
    mix: Mix,
    levels: Sequence[Level],
    known: Mapping[str, int],
    clock: Clock,
    start: Values | None,
    progress: Progress = lambda _: None,
    proven: Callable[[str, int], None] = lambda _, __: None,
    floors: Mapping[str, int] = {},
) -> Climb:
    """As ``climb``, those levels held that are ``known`` to reach so much and no more."""
    for stage in levels:
        if stage.name in known:
            stage.at_least(known[stage.name])
    rest = [stage for stage in levels if stage.name not in known]
    floors = floors if floors.items() >= known.items() else {}
    found = climb(mix, rest, clock, None if any(known.values()) else start, progress, proven, floors)
    return replace(found, levels={**known, **found.levels})


def nothing_taken(mix: Mix) -> Values:
    """Leaving every fault is always possible."""
    return {column.name: 0 for column in mix.integers}


def climb(
    mix: Mix,
    levels: Sequence[Level],
    clock: Clock,
    start: Values | None = None,
    progress: Progress = lambda _: None,
    proven: Callable[[str, int], None] = lambda _, __: None,
    floors: Mapping[str, int] = {},
) -> Climb:
    """Solve the levels in order, each held by those after it. Leaves the columns' bounds where the levels put them.

    A stage that the time did not let close keeps its choices, so that what is left to decide stays easy. ``proven`` is
    told of each group that was solved to its end what its first level reaches. ``floors`` are the levels of a mix that
    is known of: nothing worse is looked for.
    """
    values, reached, outcome = start, dict[str, int](), Outcome(proven=True)
    ending = Ending.CLOSED
    for group in grouped(levels, mix):
        stage = group[0] if group[0] in mix.stages else None
        if stage is not None:
            progress(stage.name)
        if values is None or not _ideal(group, values):
            objective = _in_one(group)
            known = min(_reached_by(objective, values), _of_floors(group, reached, floors))
            with _only_counted(mix, group):
                seconds = clock.left * _share(mix, stage)
                ending, answer = sorted_solve(mix, objective, seconds, values or {}, known)
            if answer is None and values is None:
                return Climb(ending, {}, {}, outcome)
            values = values if answer is None else answer.values
            if stage is not None and ending is not Ending.CLOSED:
                outcome = _not_closed(stage, group, answer, values or {}) if outcome.proven else outcome
                _keep_choices(mix, stage, answer)
        for level in group:
            reached.setdefault(level.name, _hold(level, values or {}))
        if outcome.proven:
            proven(group[0].name, reached[group[0].name])
    if values is None:
        raise SolverError("there was no level to solve")
    if not outcome.proven and (_loose(mix) or ending is not Ending.CLOSED):
        values = tidied(mix, values)
        reached |= {level.name: measured(level.measures, values) for level in mix.stages if level.name in reached}
    return Climb(Ending.CLOSED if outcome.proven else Ending.OPEN, values, reached, outcome)


def _share(mix: Mix, stage: Level | None) -> float:
    """Of the time left, what a stage may take."""
    return SHARE_OF_TIME if stage is not None and stage is not mix.stages[-1] else 1


def _loose(mix: Mix) -> bool:
    """Whether there are columns that only an open profit stage would hold tight."""
    return any(stage.name == PROFIT for stage in mix.stages)


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


def is_better(mix: Mix, one: Climb, other: Climb) -> bool:
    """Whether the first level in which two answers differ is better in the one."""
    stage = next((s for s in mix.stages if one.levels.get(s.name) != other.levels.get(s.name)), None)
    if stage is None or stage.name not in other.levels:
        return False
    return (one.levels[stage.name] > other.levels[stage.name]) == stage.maximise


def _ideal(group: Sequence[Level], values: Values) -> bool:
    """Whether nothing could be better: there is nothing to decide, so nothing to solve."""
    return all(measured(g.measures, values) == (g.high if g.maximise else g.low) for g in group)


def _in_one(group: Sequence[Level]) -> Expression:
    """The levels of a group as one objective, to be as small as can be."""
    terms: list[Expression] = []
    weight = 1
    for level in reversed(group):
        terms.append((-weight if level.maximise else weight) * divided(level.measures, level.step))
        weight *= level.reach
    return total(terms)


def _reached_by(objective: Expression, values: Values | None) -> float:
    """What a mix that keeps to the bounds comes to."""
    return math.inf if values is None else measured(objective, values)


def _of_floors(group: Sequence[Level], reached: Mapping[str, int], floors: Mapping[str, int]) -> float:
    """What a mix comes to in a group of one level of which the levels are known; it is as good in those before."""
    (stage, *others) = group
    if others or stage.name not in floors or any(floors.get(name) != value for name, value in reached.items()):
        return math.inf
    return (-1 if stage.maximise else 1) * floors[stage.name] / stage.step


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
    level.no_worse_than(value)
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


def _keep_choices(mix: Mix, stage: Level, answer: backends.Answer | None) -> None:
    if answer is None:
        return
    for key, column in mix.take.items():
        if stage.counted is None or key in stage.counted:
            column.lowBound = column.upBound = answer.values[column.name]


def unfinished(mix: Mix, found: Climb) -> Climb:
    """A mix whose value stages were solved, where the time ran out on the last: as it is, its cost not proven."""
    last = mix.stages[-1]
    values = tidied(mix, found.values)
    levels = {stage.name: measured(stage.measures, values) for stage in mix.stages}
    return Climb(Ending.OPEN, values, levels, _not_closed(last, [last], None, values))


def tidied(mix: Mix, values: Values) -> Values:
    """With the faults' choices fixed, the cheapest packs and orders that hold them: a small program."""
    if not any(values.values()):
        return values  # nothing is taken and nothing bought
    for column in mix.take.values():
        column.lowBound = column.upBound = values[column.name]
    _, answer = solve(mix, (-1 if mix.decisive.maximise else 1) * mix.decisive.measures, SECONDS_TO_TIDY)
    return values if answer is None else answer.values


def selection(mix: Mix, found: Climb) -> Selection:
    """The answer in the job's own ids; of what costs nothing only the packs that are wanted."""
    wanted, packs = sure_units(mix, found.values), dict[str, int]()
    for quote in mix.in_play:
        count = measured(total([mix.packs[quote.id]]), found.values)
        free = not (quote.price_minor or quote.deposit_minor)
        packs[quote.id] = min(count, quote.packs_for(wanted[quote.id])) if free else count
    sold = {quote.id for quote in mix.in_play if quote.supplier is not None}
    return Selection(
        routes=tuple(p.read() for p in mix.proposals if found.values[mix.take[p.key].name] == 1),
        packs={quote: count for quote, count in packs.items() if count and quote in sold},
        levels={level.name: found.levels[level.name] for level in mix.stages if level.name in found.levels},
        outcome=found.outcome,
    )
