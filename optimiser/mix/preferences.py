"""What is wanted, in order: the stages of value, net cost, and the tie-breaks; each an objective as a level.

Values are in whole millionths of a fix, money in minor units, time in minutes.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from typing import Any

from optimiser.mix.program import (
    HALF,
    Expression,
    Level,
    Mix,
    Variable,
    job_budget,
    most_minutes,
    total,
)
from optimiser.model.job import Fault, Severity
from optimiser.model.plan import NET_COST, PROFIT, Selection


def add_levels(
    mix: Mix, net: Expression, minutes: Expression, orders: Mapping[str, Variable], last: Selection | None
) -> None:
    """All levels of the job in their order: safety stages, the final stage, net cost, then the tie-breaks."""
    safety_stages(mix)
    final_stage(mix, net, minutes)
    mix.stages.append(level(mix, NET_COST, net, maximise=False, low=0, high=job_budget(mix.job)))
    if last is not None:
        nearest_to(mix, last)
    fewest_suppliers(mix, orders)
    fewest_minutes(mix, minutes)


def safety_stages(mix: Mix) -> None:
    """Dangerous faults alone, then with the major ones, each option counting no more than good enough."""
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
    values = {o.key: millionths(faults[o.fault], min(o.chance, cap)) for o in mix.offer.options if o.fault in faults}
    mix.stages.append(_value_level(mix, name, values))


def final_stage(mix: Mix, net: Expression, minutes: Expression) -> None:
    """All faults in full: expected fixes, or what the sale gains less what it costs."""
    faults = {f.id: f for f in mix.job.faults}
    if mix.job.settings.aim == "fixes":
        values = {o.key: millionths(faults[o.fault], o.chance) for o in mix.offer.options}
        mix.stages.append(_value_level(mix, "all-faults", values))
        return
    gains = {o.key: half_up(faults[o.fault].sale_gain_minor * o.chance) for o in mix.offer.options}
    worth = own_time_worth(mix, minutes)
    gained = total(gain * mix.take[key] for key, gain in gains.items())
    profit = total([gained, -1 * net, -1 * worth])
    greatest = sum(max(gains[o.key] for o in options) for options in mix.by_fault.values())
    lowest = -job_budget(mix.job) - half_up(most_minutes(mix) * mix.job.pot.hour_worth_minor / 60)
    mix.stages.append(level(mix, PROFIT, profit, maximise=True, low=lowest, high=greatest))


def own_time_worth(mix: Mix, minutes: Expression) -> Expression:
    """What the owner's minutes are worth, half a minor unit rounded up, once a plan: 60 w >= worth x minutes - 29."""
    worth_minor = mix.job.pot.hour_worth_minor
    if worth_minor == 0:
        return total([])
    worth = mix.integer(0, most_minutes(mix) * worth_minor // 60 + 1)
    mix.row("time_worth", 60 * worth - worth_minor * minutes >= -29)
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
    """The fewest faults whose choice differs from the last plan's."""
    terms: list[Any] = []
    constant = 0
    for fault in mix.job.faults:
        before = last.option_for(fault.id)
        if before is None:
            terms.extend(mix.take[o.key] for o in mix.by_fault.get(fault.id, []))
        else:
            constant += 1
            terms.extend(-1 * mix.take[o.key] for o in mix.by_fault.get(fault.id, []) if o.key == before.key)
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


def half_up(amount: float) -> int:
    """To the nearest whole number, half up; what floats add at the eighth place and below is noise, not a half."""
    return math.floor(round(amount, 6) + 0.5)
