"""The price of safety first: the best plan without it, where that mends more, and the dangerous faults losing by it."""

from __future__ import annotations

from optimiser.model.job import Severity
from optimiser.model.plan import ALL_FAULTS, PROFIT, Plan, SafetyCost, Selection
from optimiser.planning import choose, explain
from optimiser.planning.choose import Chosen
from optimiser.solver import solve

WORTH_SAYING = 0.1
"""Fixes, weighted (model page, section 4)."""
LEAST_CHANCE = 1e-6
MOST_SECONDS = 10.0
"""For a figure beside the plan; what is found by then is a plan that could be had, so no more is said than is true."""


def safety_cost(pick: Chosen, plan: Plan) -> SafetyCost | None:
    """The price of safety first in a plan drawn up for a choice; None where it is little, or nothing is known."""
    other = unsafe_best(pick) if _may_differ(pick) else None
    if other is None:
        return None
    drawn = explain.plan(pick.job, pick.offer, other, {}, cut=None)
    fixes = drawn.expected_fixes - plan.expected_fixes
    losers = [
        choice
        for choice in plan.choices
        if choice.fault.severity == Severity.DANGEROUS
        and drawn.choice(choice.fault.id).chance < choice.chance - LEAST_CHANCE
    ]
    if fixes <= WORTH_SAYING or not losers:
        return None
    freed = sum(choice.most_minor - drawn.choice(choice.fault.id).most_minor for choice in losers)
    return SafetyCost(
        kept_minor=max(0, freed),
        fixes=fixes,
        count=drawn.expected_count - plan.expected_count,
        without={choice.fault.id: drawn.choice(choice.fault.id).chance for choice in losers},
    )


def unsafe_best(pick: Chosen) -> Selection | None:
    """The best mix of the same routes with safety first off.

    None where it mends too little more to be worth saying, or would take more hours or pieces than there are.
    """
    settings = pick.solved.settings.model_copy(update={"safety_first": False})
    job = pick.solved.model_copy(update={"settings": settings})
    levels = pick.selection.levels
    known = levels[PROFIT] if PROFIT in levels else levels[ALL_FAULTS] + round(WORTH_SAYING * 1_000_000)
    found = solve.most_valued(job, pick.offer, known, min(MOST_SECONDS, pick.clock.left))
    can_be_done = found and not choose.too_long(pick.with_selection(found)) and not choose.overdrawn(pick.offer, found)
    return found if can_be_done else None


def _may_differ(pick: Chosen) -> bool:
    """Whether safety may cost enough to say: money goes to dangerous faults, and faults are short of their best."""
    if not pick.job.settings.safety_first or pick.clock.over():
        return False
    dangerous = {fault.id for fault in pick.job.faults if fault.severity == Severity.DANGEROUS}
    grave = [route for route in pick.selection.routes if route.fault in dangerous]
    paid = [route for route in grave if route.cash_minor or any(line.quote.supplier for line in route.certain)]
    best = dict.fromkeys((fault.id for fault in pick.job.faults), 0.0)
    for proposal in pick.offer.proposals:
        best[proposal.fault] = max(best[proposal.fault], proposal.chance)
    taken = {route.fault: route.chance for route in pick.selection.routes}
    short = sum(fault.importance * (best[fault.id] - taken.get(fault.id, 0.0)) for fault in pick.job.faults)
    return bool(paid) and short > WORTH_SAYING
