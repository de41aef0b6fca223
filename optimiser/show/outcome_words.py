"""The outcome of a plan beside its fixes, in words: the price of safety, and the money left at the sale."""

from __future__ import annotations

from typing import Any

from optimiser.model.job import Job
from optimiser.model.plan import Plan
from optimiser.model.sale import sale
from optimiser.show import wording
from optimiser.text import counted


def safety(plan: Plan) -> str | None:
    """The price of safety first, where it is worth saying."""
    cost = plan.safety_cost
    if cost is None:
        return None
    chances = [
        f"{wording.fault(plan.choice(fault))} ({wording.chance(plan.choice(fault).chance)},"
        f" without it {wording.chance(chance)})"
        for fault, chance in cost.without.items()
    ]
    kept = f"{wording.amount(plan.job, cost.kept_minor)} for " if cost.kept_minor else "what it takes for "
    weighted = "" if abs(cost.fixes - cost.count) < 0.005 else f" ({cost.fixes:.2f} weighted by importance)"
    more = f"{cost.count:.2f} more{weighted}" if cost.count > 0 else f"{cost.fixes:.2f} more weighted by importance"
    return f"Safety first keeps {kept}{'; '.join(chances)}. Without it the plan would mend {more}."


def time(plan: Plan, *, worth: bool = False) -> str:
    """The owner's time, as expected and at the most; ``worth`` says what it is worth too.

    Of the hours that the job names: they are those from here on, as the record tells no time that was worked.
    """
    job, likely, rate = plan.job, round(plan.expected_minutes), plan.job.hour_worth_minor
    most = f", {wording.hours(plan.minutes)} at most" if plan.minutes != likely else ""
    limit = job.time.minutes
    of = f" of {wording.hours(limit)} still to give" if limit is not None else ""
    minor = (rate * likely + 30) // 60
    unsaid = "" if job.pot.hour_worth_minor is not None else " (you name no rate)"
    at = f", worth {wording.amount(job, minor)} at {job.currency.text(rate)} an hour{unsaid}" if worth and minor else ""
    return f"Your time: {wording.hours(likely)}{most}{of}{at}.{_beyond(plan)}"


def _beyond(plan: Plan) -> str:
    """How many repairs are not in the time, as nobody said how long they take."""
    many = len(plan.minutes_unsaid)
    return f" Not in it: {counted(many, 'repair')} whose minutes are not said." if many else ""


def at_the_sale_in_short(plan: Plan) -> str | None:
    """What should be over at the sale, and at the worst; None where no sale is known."""
    known, job = sale(plan), plan.job
    if known is None:
        return None
    expected, worst = _over(job, known.left_minor), _over(job, known.least_left_minor)
    return f"At the sale: {expected} as expected, {worst} at the worst."


def _over(job: Job, minor: int) -> str:
    return f"{wording.amount(job, abs(minor))} {'lost' if minor < 0 else 'over'}"


def at_the_sale(plan: Plan) -> str | None:
    """What the vehicle should sell for, what has gone into it, and what is left; None where no sale is known."""
    known, job = sale(plan), plan.job
    if known is None:
        return None
    text = job.currency.text
    return (
        f"At the sale: {wording.amount(job, known.expected_minor)} expected ({text(known.as_it_stands_minor)} as it"
        f" stood, {text(known.mended_minor)} by what is mended); {text(known.gone_minor)} has gone in by then, so"
        f" {_left(job, known.left_minor)}. At the worst, all of it paid and nothing more cured:"
        f" {text(known.least_minor)} less {text(known.most_gone_minor)}, so {_left(job, known.least_left_minor)}."
        " Your time is not counted."
    )


def _left(job: Job, minor: int) -> str:
    if minor == 0:
        return "nothing is left over"
    return f"{wording.amount(job, abs(minor))} {'is left over' if minor > 0 else 'is lost'}"


def document(plan: Plan) -> dict[str, Any]:
    """Both as keys of a JSON answer, null where there is nothing to say."""
    money, known, cost = plan.job.currency.text, sale(plan), plan.safety_cost
    sold = None if known is None else {
        "as_it_stands": money(known.as_it_stands_minor),
        "mended": money(known.mended_minor),
        "expected": money(known.expected_minor),
        "gone_in": money(known.gone_minor),
        "left": money(known.left_minor),
        "worst_expected": money(known.least_minor),
        "worst_gone_in": money(known.most_gone_minor),
        "worst_left": money(known.least_left_minor),
    }  # fmt: skip
    safe = None if cost is None else {
        "kept": money(cost.kept_minor),
        "fixes_more_without": cost.fixes,
        "count_more_without": cost.count,
        "chance_without": dict(cost.without),
    }  # fmt: skip
    return {"sale": sold, "safety_costs": safe}
