"""Options side by side in words: conditions, losses of the other faults, and where the choice would switch."""

from __future__ import annotations

from optimiser.model.job import Job
from optimiser.model.option import Option
from optimiser.model.plan import (
    ALL_FAULTS,
    COST_AND_TIME,
    LAST,
    PROFIT,
    SAFETY,
    Comparison,
    Forced,
    Plan,
    SwitchPoints,
    per_minor,
)
from optimiser.model.quotes import CONDITIONS
from optimiser.money import half_up
from optimiser.show import tables, wording

VALUES = (SAFETY, ALL_FAULTS, PROFIT)
"""The stages of what a plan mends or earns."""
COST_KEY = (
    "Alone: bought by itself, topped up to a supplier's minimum. Landed: its share of the best plan that takes it;"
    " per fix: landed for one expected fix{by}."
)
CHANCE_KEY = ("Chance: its own/that of all that this plan does about the fault.", " (divided by the second chance)")
VALUE_KEY = {
    "fixes": "Fixes: what that plan mends in all, weighted.",
    "profit": "Profit: what that plan adds to the sale, less its costs and your time; with a minus it is a loss.",
}


ASKED_WHEREVER_IT_STANDS = (
    "Its price and chance are moved wherever it may be tried; a choice may change at other points, too."
)


def key(answer: Comparison) -> str:
    in_all, by = CHANCE_KEY if any("/" in chance(row) for row in answer.rows) else ("", "")
    return " ".join(filter(None, (in_all, COST_KEY.format(by=by), VALUE_KEY[answer.plan.job.settings.aim])))


def conditions(option: Option) -> str:
    """The conditions of an option's parts, for a narrow column."""
    kinds = [c for c in CONDITIONS if any(line.quote.condition == c for line in option.lines)]
    if option.by_workshop:
        return " + ".join(["workshop", *kinds])
    return " + ".join(kinds) or "direct price"


def chance(row: Forced) -> str:
    """Its own chance, and that of all that the best plan with it does about the fault, where that is another."""
    own, in_all = wording.chance(row.option.chance), tables.chance_if_forced(row)
    return own if in_all is None or own == wording.chance(in_all) else f"{own}/{wording.chance(in_all)}"


def switch(job: Job, row: Forced) -> list[str]:
    """Up to which price and down to which chance the chosen option stays the choice; both are the option's own."""
    points = row.switch
    if points is None:
        return ["Switch points are not given: in the time allowed, or within the hours, they are not proven."]
    said = [*price_points(job, row, points), chance_point(row, points)]
    return [*said, ASKED_WHEREVER_IT_STANDS] if job.settings.fallbacks else said


def price_points(job: Job, row: Forced, points: SwitchPoints) -> list[str]:
    """Up to which price it stays the choice: bought alone, and as the price of a pack where that can be said."""
    if points.surcharge_minor is None:
        return ["Up to which price it would stay the choice was not settled in the time allowed."]
    now = row.alone_minor
    up_to = wording.amount(job, now + points.surcharge_minor)
    said = [f"It stays the choice up to a price of {up_to} alone (now {wording.amount(job, now)})."]
    if points.pack_minor is not None:
        pack = wording.amount(job, row.option.lines[0].quote.price_minor)
        said.append(f"As a quoted price that is up to {wording.amount(job, points.pack_minor)} a pack (now {pack}).")
    return said


def chance_point(row: Forced, points: SwitchPoints) -> str:
    if points.any_fall_loses:
        return f"Its chance is {row.option.chance:.4f}; any fall would lose it to another mix."
    if points.chance is None:
        return "Down to which chance it would stay the choice was not settled in the time allowed."
    if points.chance <= 0:
        return "However small its chance became, it would stay the choice."
    return f"It stays the choice down to a chance of {points.chance:.4f} (now {row.option.chance:.4f})."


def loses(plan: Plan, row: Forced) -> str:
    if not row.known:
        return "was not settled in the time allowed"
    if row.plan is None:
        return f"does not fit {wording.limits(plan.job)}"
    if not row.loses:
        return f"costs no other fault anything{_dearer(plan, row.plan)}{_against_safety(plan, row.plan)}"
    named = {c.fault.id: wording.fault(c) for c in plan.choices}
    gone = [f for f in row.loses if row.plan.choice(f).route is None]
    weaker = [f for f in row.loses if f not in gone]
    said = [f"leaves nothing for: {'; '.join(named[f] for f in gone)}"] if gone else []
    if weaker:
        said.append(f"leaves a smaller chance for: {'; '.join(named[f] for f in weaker)}")
    return ", and ".join(said) + _against_safety(plan, row.plan)


def _dearer(plan: Plan, other: Plan) -> str:
    """By how much a plan that mends as much comes dearer, the owner's time counted where it is worth something."""
    mine, its = plan.selection.levels, other.selection.levels
    last = next((stage for stage in LAST if stage in mine and stage in its), None)
    if last is None or any(its.get(stage) != level for stage, level in mine.items() if stage in VALUES):
        return ""
    minor = half_up((its[last] - mine[last]) / per_minor(last))
    time = " with your time counted" if last == COST_AND_TIME else ""
    return f", and comes {wording.amount(plan.job, minor)} dearer in all{time}" if minor > 0 else ""


def _against_safety(plan: Plan, other: Plan) -> str:
    """Why a plan that mends more in all is not the best one."""
    mine, its = plan.selection.levels, other.selection.levels
    lower = its.get(SAFETY, 0) < mine.get(SAFETY, 0)
    if other.expected_fixes <= plan.expected_fixes + 1e-9 or not lower or plan.job.settings.aim == "profit":
        return ""
    return "; more is mended in all, but less of the dangerous faults, which come first"
