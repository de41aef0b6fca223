"""Whatever still ties is settled by what options are: fault by fault the first in content order, leaving it last.

Then quotes that top up an order, the last in content order sparingly first. Equal mixes are rare, so first it is
asked which faults any of them treats otherwise: most often none, and one solve has settled everything.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from optimiser.solver.program import WIDEST_OBJECTIVE, Expression, Mix, Values, Variable, total

LeastOf = Callable[[Expression], Values | None]
"""Solves the program for the least of an objective, every level held; None where the time ran out first."""


@dataclass(frozen=True)
class _Turn:
    """One thing to settle: its columns, what is to be least (one of ``reach`` whole values)."""

    columns: list[Variable]
    measures: Expression
    reach: int


def fix_the_settled(mix: Mix, values: Values, least: LeastOf) -> list[str] | None:
    """Fix every fault that no equal mix treats otherwise and name the others; None where the time ran out.

    Each round asks for a mix in which as many faults as can be differ at once, until no more do.
    """
    loose: set[str] = set()
    while len(loose) < len(mix.by_fault):
        other = least(total(_sameness(mix, fault, values) for fault in mix.by_fault if fault not in loose))
        if other is None:
            return None
        moved = {f for f in mix.by_fault if any(other[c.name] != values[c.name] for c in _columns(mix, f))} - loose
        if not moved:
            break
        loose |= moved
    for fault in mix.by_fault.keys() - loose:
        _fix(_columns(mix, fault), values)
    return [fault for fault in mix.by_fault if fault in loose]


def first(mix: Mix, loose: Sequence[str], values: Values, least: LeastOf) -> Values:
    """Among the mixes that reach every held level, the first by content; as far as the time goes.

    Leaves the program's options and packs fixed.
    """
    values = _in_turn((_option_turn(mix, fault) for fault in loose), values, least)
    return _in_turn(_pack_turns(mix, values), values, least)


def _sameness(mix: Mix, fault: str, values: Values) -> Expression:
    """Least where another option is taken than now, or one at all where the fault is left."""
    columns = _columns(mix, fault)
    taken = [column for column in columns if values[column.name]]
    return total(taken or [(column, -1) for column in columns])


def _columns(mix: Mix, fault: str) -> list[Variable]:
    return [mix.take[proposal.key] for proposal in mix.by_fault[fault]]


def _fix(columns: Sequence[Variable], values: Values) -> None:
    for column in columns:
        column.lowBound = column.upBound = values[column.name]


def _option_turn(mix: Mix, fault: str) -> _Turn:
    columns = _columns(mix, fault)
    behind = [(column, rank - len(columns)) for rank, column in enumerate(columns)]
    return _Turn(columns, total(behind), len(columns) + 1)


def _pack_turns(mix: Mix, values: Values) -> Iterator[_Turn]:
    """Packs of suppliers from whom more is bought than is needed; elsewhere nothing could be less."""
    need: dict[str, int] = {}
    for proposal in mix.proposals:
        if values[mix.take[proposal.key].name]:
            for line in proposal.certain:
                need[line.quote.id] = need.get(line.quote.id, 0) + line.units
    decided = [quote for quote in reversed(mix.in_play) if quote.id in mix.pack_columns]
    topped_up = {
        quote.supplier
        for quote in decided
        if values[mix.pack_columns[quote.id][0].name] > quote.packs_for(need.get(quote.id, 0))
    }
    for quote in decided:
        column, most = mix.pack_columns[quote.id]
        if quote.supplier in topped_up:
            yield _Turn([column], total([column]), most + 1)
        else:
            _fix([column], values)


def _in_turn(turns: Iterator[_Turn], values: Values, least: LeastOf) -> Values:
    """Settle one thing after the other, together while one objective keeps them apart."""
    for batch in _batches(list(turns)):
        weight, terms = 1, []
        for turn in reversed(batch):
            terms.append(weight * turn.measures)
            weight *= turn.reach
        answer = least(total(terms))
        if answer is None:
            return values
        values = answer
        for turn in batch:
            _fix(turn.columns, values)
    return values


def _batches(turns: Sequence[_Turn]) -> Iterator[list[_Turn]]:
    batch: list[_Turn] = []
    width = 1
    for turn in turns:
        if batch and width * turn.reach > WIDEST_OBJECTIVE:
            yield batch
            batch, width = [], 1
        batch.append(turn)
        width *= turn.reach
    if batch:
        yield batch
