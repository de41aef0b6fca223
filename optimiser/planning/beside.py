"""The options of every fault of a plan side by side, each bought by itself: nothing is planned again for it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from optimiser.model.option import Option
from optimiser.model.plan import Plan
from optimiser.model.report import OptionBeside, OptionsBeside, Turns
from optimiser.planning import options
from optimiser.planning.landed_cost import Alone

MOST_LISTED = 6
"""Options of a fault that are told beside the efficient ones and those of the plan."""


def beside(plan: Plan) -> dict[str, OptionsBeside]:
    """By fault its options, the cheapest first. Raises ``InputError`` as building the options does."""
    offer = options.build(plan.job, whole={fault.id for fault in plan.job.faults})
    alone, found = Alone(plan.job, offer.quotes), defaultdict[str, list[tuple[int, Option]]](list)
    for option in offer.options:
        found[option.fault].append((alone(option)[1], option))
    return {choice.fault.id: _listed(found[choice.fault.id], _turns(plan, choice.fault.id)) for choice in plan.choices}


def _turns(plan: Plan, fault: str) -> dict[tuple[str, ...], Turns]:
    """What the route of a fault tries, and when."""
    route = plan.selection.route_for(fault)
    if route is None:
        return {}
    first = {} if route.option is None else {route.option.key: Turns.FIRST}
    return {step.option.key: Turns.LATER for step in route.attempts} | first


def _listed(priced: Sequence[tuple[int, Option]], turns: Mapping[tuple[str, ...], Turns]) -> OptionsBeside:
    """Every option with its place; of very many those that the plan tries, the efficient ones and the cheapest."""
    ranked = sorted(priced, key=lambda pair: (pair[0], -pair[1].chance, pair[1].content))
    rows, surest = list[OptionBeside](), 0.0
    for net, option in ranked:
        efficient = option.chance > surest
        surest = max(surest, option.chance)
        turn = turns.get(option.key, Turns.NEVER)
        rows.append(OptionBeside(option=option, net_minor=net, turn=turn, efficient=efficient))
    rest = [row for row in rows if not row.efficient and row.turn == Turns.NEVER]
    dropped = {row.option.key for row in rest[MOST_LISTED:]}
    kept = tuple(row for row in rows if row.option.key not in dropped)
    return OptionsBeside(options=kept, left_out=len(rows) - len(kept))
