"""The parts to ask shops about: as a list to mail or to read out, and as a sheet that a shop fills in."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence

from optimiser.model.job import Job
from optimiser.model.plan import Plan
from optimiser.model.report import Ask, PartWanted
from optimiser.show import wording
from optimiser.show.tables import Column, Row

WIDTH = 76
WANTED = (
    Column("part", "id", "the part, by its id in the job"),
    Column("title", "text", "the part in words"),
    Column("pieces", "pieces", "pieces wanted"),
    Column("conditions", "words", "conditions that may be fitted, joined by /"),
    Column("why", "word", "nobody, tried, rough or one-shop"),
    Column("in_doubt", "money", "the money that hangs on the answer; empty where nobody quotes it"),
    Column("condition", "word", "left for the shop"),
    Column("price", "money", "left for the shop"),
    Column("pack", "pieces", "left for the shop"),
    Column("lead_days", "days", "left for the shop"),
    Column("warranty_months", "months", "left for the shop"),
    Column("ref", "text", "left for the shop"),
)
REASONS = {
    Ask.NOBODY: "nobody quotes it, and a repair waits for it",
    Ask.TRIED: "the used one that was tried did not cure, and may have been bad itself",
    Ask.ROUGH: "planned at a rough price",
    Ask.ONE_SHOP: "one shop alone has quoted it",
}

IN_DOUBT = (Ask.ROUGH, Ask.ONE_SHOP)


def listed(plan: Plan, wanted: Sequence[PartWanted]) -> str:
    """The list as plain text; why each part is on it is said at the end, for the one who asks."""
    job = plan.job
    if not wanted:
        none = "every part that it orders is quoted by more than one shop" if plan.orders else "it orders none"
        return f"{wording.title(job)}: the plan has no part to ask about: {none}.\n"
    asked = [line for number, one in enumerate(wanted, start=1) for line in _line(job, number, one)]
    why = [line for number, one in enumerate(wanted, start=1) for line in _why(job, number, one)]
    said = [
        "Parts wanted. What do you ask for them, with postage, and when would they be here?",
        "",
        *asked,
        "---- not for the shop: why these, the answer that would change most first ----",
        "",
        *why,
    ]
    return "\n".join(said) + "\n"


def _line(job: Job, number: int, one: PartWanted) -> Iterator[str]:
    conditions = " or ".join(one.conditions) or "new"
    yield from textwrap.wrap(f"{number}. {one.pieces} x {wording.part(job, one.part)}, {conditions}", WIDTH, subsequent_indent="   ")  # noqa: E501 # fmt: skip
    yield "   condition ____________  price ____________  days ______"
    yield "   warranty  ____________  your number ______________________"
    yield ""


def _why(job: Job, number: int, one: PartWanted) -> Iterator[str]:
    titles = {fault.id: fault.title or fault.id for fault in job.faults}
    served = "; ".join(wording.plain(titles[name]) for name in one.faults if name in titles)
    doubt = f" ({_weight(job, one)})" if one.why in IN_DOUBT else ""
    said = f"{number}. {wording.part(job, one.part)}: {REASONS[one.why]}{doubt}{f', for {served}' if served else ''}."
    yield from textwrap.wrap(said, WIDTH, subsequent_indent="   ")


def _weight(job: Job, one: PartWanted) -> str:
    much = wording.amount(job, one.in_doubt_minor)
    return f"{much} in doubt" if one.why == Ask.ROUGH else f"{much} to be paid for it"


def rows(job: Job, wanted: Sequence[PartWanted]) -> Iterator[Row]:
    """One row a part, with blanks for the shop; columns ``WANTED``."""
    for one in wanted:
        doubt = job.currency.decimal(one.in_doubt_minor) if one.why in IN_DOUBT else None
        conditions = "/".join(one.conditions)
        yield one.part, wording.part(job, one.part), one.pieces, conditions, one.why.value, doubt, *([None] * 6)
