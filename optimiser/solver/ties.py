"""Whatever equal answers differ in, settled one thing after the other: of a mix and of a fixed list alike.

Equal answers are rare, so first it is asked which things any of them treats otherwise: most often none, and one solve
has settled everything.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass

from optimiser.solver.exact_solve import Clock, Ending, measured, solve
from optimiser.solver.program import WIDEST_OBJECTIVE, Expression, Program, Values, Variable, total

LeastOf = Callable[[Expression, Values], Values | None]
"""Solves the program for the least of an objective, every level held, from an answer; None where the time ran out."""


def asked_by(program: Program, clock: Clock) -> LeastOf:
    """Puts tie-breaks to a program, as far as the time goes."""

    def least(objective: Expression, values: Values) -> Values | None:
        ending, answer = solve(program, objective, clock.left, known=measured(objective, values))
        return answer.values if answer is not None and ending is Ending.CLOSED else None

    return least


@dataclass(frozen=True)
class Tie:
    """One thing to settle: what is to be least (one of ``reach`` whole values), and what holds it there."""

    measures: Expression
    reach: int
    hold: Callable[[Values], None]


def fix_the_settled(
    columns: Mapping[str, Iterable[Variable]],
    sameness: Callable[[str], Expression],
    values: Values,
    least: LeastOf,
    loose: frozenset[str] = frozenset(),
) -> frozenset[str] | None:
    """Fix every thing that no equal answer treats otherwise and name the others; None where the time ran out.

    Each round asks for an answer in which as many things as can be differ at once, until no more do: ``sameness`` is
    least where a thing does. Those ``loose`` from the start are not asked about.
    """
    while len(loose) < len(columns):
        other = least(total(sameness(name) for name in columns if name not in loose), values)
        if other is None:
            return None
        moved = {name for name, own in columns.items() if any(other[c.name] != values[c.name] for c in own)} - loose
        if not moved:
            break
        loose |= moved
    for name in columns.keys() - loose:
        fix(columns[name], values)
    return loose


def fix(columns: Iterable[Variable], values: Values) -> None:
    """Leave columns no other value than they have."""
    for column in columns:
        column.lowBound = column.upBound = values[column.name]


def settled(ties: Iterable[Tie], values: Values, least: LeastOf) -> Values:
    """Settle one thing after the other, together while one objective keeps them apart; as far as the time goes."""
    for batch in _batches(ties):
        weight, terms = 1, []
        for tie in reversed(batch):
            terms.append(weight * tie.measures)
            weight *= tie.reach
        answer = least(total(terms), values)
        if answer is None:
            return values
        values = answer
        for tie in batch:
            tie.hold(values)
    return values


def _batches(ties: Iterable[Tie]) -> Iterator[list[Tie]]:
    batch: list[Tie] = []
    width = 1
    for tie in list(ties):
        if batch and width * tie.reach > WIDEST_OBJECTIVE:
            yield batch
            batch, width = [], 1
        batch.append(tie)
        width *= tie.reach
    if batch:
        yield batch
