"""What is wanted, in order: the stages of value, net cost, and the tie-breaks; each an objective as a level.

Values are in whole millionths of a fix, money in minor units, time in minutes.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from typing import Any

from optimiser.mix.program import (
    HALF,
    Expression,
    Level,
    Minutes,
    Mix,
    Variable,
    job_budget,
    most_minutes,
    total,
)
from optimiser.model.job import Fault, Severity
from optimiser.model.plan import NET_COST, PROFIT, Selection
from optimiser.money import half_up


def add_levels(
    mix: Mix, net: Expression, minutes: Minutes, orders: Mapping[str, Variable], last: Selection | None
) -> None:
    """All levels of the job in their order: safety stages, the final stage, net cost, then the tie-breaks."""
    safety_stages(mix)
    final_stage(mix, net, minutes.expected_tenths)
    mix.stages.append(level(mix, NET_COST, net, maximise=False, low=-most_back(mix), high=job_budget(mix.job)))
    if last is not None:
        nearest_to(mix, last)
    fewest_suppliers(mix, orders)
    fewest_minutes(mix, minutes.counted)


def most_back(mix: Mix) -> int:
    """No less than routes may be expected to give back beside what is shared: refunds on parts in shared orders."""
    return sum(max(0, *(-p.net_whole_minor for p in proposals)) for proposals in mix.by_fault.values())


def safety_stages(mix: Mix) -> None:
    """Dangerous faults alone, then with the major ones, each route counting no more than good enough."""
    if not mix.job.settings.safety_first:
        return
    counted: set[Severity] = set()
    for severity in (Severity.DANGEROUS, Severity.MAJOR):
        counted.add(severity)
        if any(f.severity == severity for f in mix.job.faults):
            _value_stage(mix, "-and-".join(s for s in (Severity.DANGEROUS, Severity.MAJOR) if s in counted), counted)


def _value_stage(mix: Mix, name: str, counted: set[Severity]) -> None:
    faults = {f.id: f for f in mix.job.faults if f.severity in counted}
    cap = mix.job.settings.good_enough
    values = {p.key: millionths(faults[p.fault], min(p.chance, cap)) for p in mix.proposals if p.fault in faults}
    mix.stages.append(_value_level(mix, name, values))


def final_stage(mix: Mix, net: Expression, expected_tenths: Expression) -> None:
    """All faults in full: expected fixes, or what the sale gains less what it costs."""
    faults = {f.id: f for f in mix.job.faults}
    if mix.job.settings.aim == "fixes":
        values = {p.key: millionths(faults[p.fault], p.chance) for p in mix.proposals}
        mix.stages.append(_value_level(mix, "all-faults", values))
        return
    gains = {p.key: half_up(faults[p.fault].sale_gain_minor * p.chance) for p in mix.proposals}
    worth = own_time_worth(mix, expected_tenths)
    gained = total(gain * mix.take[key] for key, gain in gains.items())
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
    measures = total(value * mix.take[key] for key, value in values.items() if value)
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
            terms.extend(-1 * mix.take[p.key] for p in proposals if p.first_step == before.first_step)
    measures = total(terms) + constant
    mix.ties.append(level(mix, "nearest", measures, maximise=False, low=0, high=len(mix.job.faults)))


def fewest_suppliers(mix: Mix, orders: Mapping[str, Variable]) -> None:
    """Fewer parcels to wait for."""
    if orders:
        measures = total(orders.values())
        mix.ties.append(level(mix, "suppliers", measures, maximise=False, low=0, high=len(orders)))


def fewest_minutes(mix: Mix, minutes: Expression) -> None:
    """Fewer of the owner's minutes."""
    high = most_minutes(mix)
    if high:
        mix.ties.append(level(mix, "minutes", minutes, maximise=False, low=0, high=high))


def level(mix: Mix, name: str, measures: Expression, *, maximise: bool, low: int, high: int) -> Level:
    column = mix.continuous(low - HALF, high + HALF)
    mix.definition("level", column - measures == 0)
    return Level(name=name, column=column, measures=measures, maximise=maximise, low=low, high=high)


def millionths(fault: Fault, chance: float) -> int:
    """``importance x chance`` in whole millionths of a fix, half rounded up."""
    return half_up(fault.importance * chance * 1_000_000)
