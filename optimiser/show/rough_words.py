"""Parts and work that are planned with at rough prices, in words: whose quotes to get first."""

from __future__ import annotations

from optimiser.model.plan import Plan, QuoteToGet
from optimiser.model.route import AttemptStep
from optimiser.model.route import steps as route_steps
from optimiser.show import wording
from optimiser.text import first_of

MOST_NAMED = 3


def lines(plan: Plan) -> list[str]:
    """Every such part, the ones with most money in doubt first."""
    return [_named(plan, one) for one in plan.quotes_to_get]


def in_short(plan: Plan) -> str | None:
    """The first of them in a sentence; None where every price is quoted."""
    parts, labour = _first(lines(plan)), _first(work(plan))
    if not parts and not labour:
        return None
    first = f" Quotes to get first: {parts}." if parts else ""
    ask = f" Work to ask the price of: {labour}." if labour else ""
    return f"! Rough prices, which nobody has quoted.{first}{ask}"


def _first(named: list[str]) -> str:
    return first_of(named, MOST_NAMED, "; ")


def work(plan: Plan) -> list[str]:
    """Work whose price is a guess, each once, the dearest first."""
    repairs = {(fault.id, repair.id): repair for fault in plan.job.faults for repair in fault.repairs}
    tried = (
        (step.option.fault, step.option.repair)
        for route in plan.selection.routes
        for step in route_steps(route.first)
        if isinstance(step, AttemptStep)
    )
    rough = [key for key in dict.fromkeys(tried) if key in repairs and repairs[key].rough]
    rough.sort(key=lambda key: -repairs[key].price_minor)
    text = plan.job.currency.text
    return [f"{wording.plain(repairs[key].title or key[1])}, about {text(repairs[key].price_minor)}" for key in rough]


def _named(plan: Plan, one: QuoteToGet) -> str:
    text = plan.job.currency.text
    price = (
        f"{text(one.low_minor)} to {text(one.high_minor)}" if one.high_minor > one.low_minor else text(one.low_minor)
    )
    return f"{wording.part(plan.job, one.part)}, {' or '.join(one.conditions)}, {price}"
