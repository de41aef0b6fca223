"""Parts that are planned with at rough prices, in words: whose quotes to get first."""

from __future__ import annotations

from optimiser.model.plan import Plan, QuoteToGet
from optimiser.show import wording

MOST_NAMED = 3


def lines(plan: Plan) -> list[str]:
    """Every such part, the ones with most money in doubt first."""
    return [_named(plan, one) for one in plan.quotes_to_get]


def in_short(plan: Plan) -> str | None:
    """The first of them in a sentence; None where every price is quoted."""
    found = plan.quotes_to_get
    if not found:
        return None
    named = "; ".join(_named(plan, one) for one in found[:MOST_NAMED])
    more = f"; and {len(found) - MOST_NAMED} more" if len(found) > MOST_NAMED else ""
    return f"! Rough prices, which nobody has quoted. Quotes to get first: {named}{more}."


def _named(plan: Plan, one: QuoteToGet) -> str:
    text = plan.job.currency.text
    price = (
        f"{text(one.low_minor)} to {text(one.high_minor)}" if one.high_minor > one.low_minor else text(one.low_minor)
    )
    return f"{wording.part(plan.job, one.part)}, {' or '.join(one.conditions)}, {price}"
