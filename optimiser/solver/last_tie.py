"""Equal mixes settled by what options are: fault by fault the first in content order, leaving it last.

Then quotes that top up an order, the last in content order sparingly first.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from functools import partial

from optimiser.solver.program import Expression, Mix, Values, Variable, sure_units, total
from optimiser.solver.ties import LeastOf, Tie, fix, fix_the_settled, settled


def loose_faults(mix: Mix, values: Values, least: LeastOf) -> list[str] | None:
    """Fix every fault that no equal mix treats otherwise and name the others; None where the time ran out."""
    columns = {fault: _columns(mix, fault) for fault in mix.by_fault}

    def sameness(fault: str) -> Expression:
        """Least where another option is taken than now, or one at all where the fault is left."""
        taken = [column for column in columns[fault] if values[column.name]]
        return total(taken or [(column, -1) for column in columns[fault]])

    loose = fix_the_settled(columns, sameness, values, least)
    return None if loose is None else [fault for fault in mix.by_fault if fault in loose]


def first(mix: Mix, loose: Collection[str], values: Values, least: LeastOf) -> Values:
    """Among the mixes that reach every held level, the first by content; as far as the time goes.

    Leaves the program's options and packs fixed.
    """
    values = settled((_option_tie(mix, fault) for fault in loose), values, least)
    return settled(_pack_ties(mix, values), values, least)


def _columns(mix: Mix, fault: str) -> list[Variable]:
    return [mix.take[proposal.key] for proposal in mix.by_fault[fault]]


def _option_tie(mix: Mix, fault: str) -> Tie:
    columns = _columns(mix, fault)
    behind = [(column, rank - len(columns)) for rank, column in enumerate(columns)]
    return Tie(total(behind), len(columns) + 1, partial(fix, columns))


def _pack_ties(mix: Mix, values: Values) -> Iterator[Tie]:
    """Packs of suppliers from whom more is bought than is needed; elsewhere nothing could be less."""
    need = sure_units(mix, values)
    decided = [quote for quote in reversed(mix.in_play) if quote.id in mix.pack_columns]
    topped_up = {
        quote.supplier
        for quote in decided
        if values[mix.pack_columns[quote.id][0].name] > quote.packs_for(need[quote.id])
    }
    for quote in decided:
        column, most = mix.pack_columns[quote.id]
        if quote.supplier in topped_up:
            yield Tie(total([column]), most + 1, partial(fix, [column]))
        else:
            fix([column], values)
