"""What is wanted, in order: the stages of value, net cost, and the tie-breaks; each an objective as a level.

Values are in whole millionths of a fix, money in minor units (with time in sixtieths of them), time in minutes.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import Any

from optimiser.model.plan import ALL_FAULTS, COST_AND_TIME, NET_COST, PROFIT, SAFETY, SIXTIETHS, Selection
from optimiser.money import half_up
from optimiser.solver.program import (
    Expression,
    Level,
    Mix,
    divided,
    greatest_of,
    job_budget,
    most_minutes,
    scale_of,
    step_of,
    total,
)
from optimiser.solver.worth import for_safety, in_cost_and_time, in_fixes, in_sale


def add_levels(mix: Mix, shared_net: Expression, last: Selection | None) -> None:
    """All levels of the job in their order: the safety stage, the final stage, cost and time, then the tie-breaks.

    ``shared_net`` is the net cost of what routes share; what they cost beside it is added here.
    """
    own = total((mix.take[p.key], p.net_whole_minor) for p in mix.proposals if p.net_whole_minor)
    net = total([shared_net, own])
    safety_stage(mix)
    final_stage(mix, net, mix.minutes.expected_tenths)
    if mix.job.settings.aim == "fixes" and mix.job.hour_worth_minor:
        cost_and_time(mix, shared_net, mix.minutes.shared)
    else:
        mix.stages.append(level(mix, NET_COST, net, maximise=False, low=-most_back(mix), high=job_budget(mix.job)))
    if last is not None:
        nearest_to(mix, last)
    fewest_suppliers(mix)
    fewest_minutes(mix)


def most_back(mix: Mix) -> int:
    """No less than routes may be expected to give back beside what is shared: refunds on parts in shared orders."""
    return sum(max(0, *(-p.net_whole_minor for p in proposals)) for proposals in mix.by_fault.values())


def cost_and_time(mix: Mix, shared_net: Expression, shared_minutes: Expression) -> None:
    """Net cost with the owner's expected time at what it is worth, in sixtieths of a minor unit.

    A route's own is one whole number, half up; what is shared counts in full, once.
    """
    worth = mix.job.hour_worth_minor
    own = in_cost_and_time(mix.job, mix.proposals)
    shared = total([SIXTIETHS * shared_net, worth * shared_minutes])
    measures = total([shared, total((mix.take[key], figure) for key, figure in own.items() if figure)])
    back = sum(max(0, *(-own[p.key] for p in routes)) for routes in mix.by_fault.values())
    high = SIXTIETHS * job_budget(mix.job) + worth * most_minutes(mix)
    mix.stages.append(level(mix, COST_AND_TIME, measures, maximise=False, low=-back, high=high))


def safety_stage(mix: Mix) -> None:
    """Dangerous faults alone, in steps of safety, each route counting no more than good enough."""
    worth = for_safety(mix.job, mix.proposals)
    if mix.job.settings.safety_first and mix.job.is_unsafe:
        mix.stages.append(_value_level(mix, SAFETY, worth))


def final_stage(mix: Mix, net: Expression, expected_tenths: Expression) -> None:
    """All faults in full: expected fixes, or what the sale gains less what it costs."""
    if mix.job.settings.aim == "fixes":
        mix.stages.append(_value_level(mix, ALL_FAULTS, in_fixes(mix.job, mix.proposals)))
        return
    gains = in_sale(mix.job, mix.proposals)
    worth = own_time_worth(mix, expected_tenths)
    gained = total((mix.take[key], gain) for key, gain in gains.items())
    profit = total([gained, -1 * net, -1 * worth])
    greatest = sum(max(gains[p.key] for p in routes) for routes in mix.by_fault.values())
    lowest = -job_budget(mix.job) - half_up(most_minutes(mix) * mix.job.hour_worth_minor / 60)
    mix.stages.append(level(mix, PROFIT, profit, maximise=True, low=lowest, high=greatest + most_back(mix)))


def own_time_worth(mix: Mix, expected_tenths: Expression) -> Expression:
    """What the owner's expected minutes are worth, half a minor unit rounded up, once a plan.

    In tenths of minutes: 600 w >= worth x tenths - 299.
    """
    worth_minor = mix.job.hour_worth_minor
    if worth_minor == 0:
        return total([])
    worth = mix.integer(0, most_minutes(mix) * worth_minor // 60 + 1)
    mix.row("time_worth", 600 * worth - worth_minor * expected_tenths >= -299)
    return worth


def _value_level(mix: Mix, name: str, values: Mapping[tuple[str, ...], int]) -> Level:
    best: dict[str, int] = defaultdict(int)
    for key, value in values.items():
        best[key[0]] = max(best[key[0]], value)
    measures = total((mix.take[key], value) for key, value in values.items() if value)
    stage = level(mix, name, measures, maximise=True, low=0, high=sum(best.values()))
    stage.counted = frozenset(values)
    return stage


def nearest_to(mix: Mix, last: Selection) -> None:
    """The fewest faults whose first step differs from the last plan's."""
    terms: list[Any] = []
    constant = 0
    for fault in mix.job.faults:
        before = last.route_for(fault.id)
        proposals = mix.by_fault.get(fault.id, [])
        if before is None:
            terms.extend(mix.take[p.key] for p in proposals)
        else:
            constant += 1
            terms.extend((mix.take[p.key], -1) for p in proposals if p.first_step == before.first_step)
    measures = total(terms) + constant
    mix.ties.append(level(mix, "nearest", measures, maximise=False, low=0, high=len(mix.job.faults)))


def fewest_suppliers(mix: Mix) -> None:
    """Fewer parcels to wait for."""
    if mix.orders:
        measures = total(mix.orders.values())
        mix.ties.append(level(mix, "suppliers", measures, maximise=False, low=0, high=len(mix.orders)))


def fewest_minutes(mix: Mix) -> None:
    """Fewer of the owner's minutes."""
    high = most_minutes(mix)
    if high:
        mix.ties.append(level(mix, "minutes", mix.minutes.counted, maximise=False, low=0, high=high))


def level(mix: Mix, name: str, measures: Expression, *, maximise: bool, low: int, high: int) -> Level:
    """A level over whole columns, in a unit that keeps its factors small; its span is cut to what is in reach."""
    step = step_of(measures)
    unit = step * scale_of(divided(measures, step))
    low, high = max(low, -greatest_of(-1 * measures)), min(high, greatest_of(measures))
    column = mix.continuous(0, 0)
    mix.definition("level", column - divided(measures, unit) == 0)
    made = Level(
        name=name, column=column, measures=measures, maximise=maximise, low=low, high=high, step=step, unit=unit
    )
    made.at_least(low)
    made.at_most(high)
    return made
