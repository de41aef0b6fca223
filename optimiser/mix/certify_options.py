"""The witness on options: each field of an option again from its repair and its quotes, and whatever bars it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from optimiser.model.job import ONLY_NEW_KIND, Fault, Job, LicensedSystem, Repair
from optimiser.model.option import Option
from optimiser.model.quotes import Quote

Quotes = Mapping[str, Quote]
"""Every quote of the job by its id, the shelf's pieces as quotes of price 0 among them."""


def quotes_of(job: Job) -> Quotes:
    """Every quote of the job, and every row of its shelf."""
    shelf = (
        Quote(
            id=name,
            part=owned.part,
            supplier=None,
            condition=owned.condition,
            price_minor=0,
            stock=owned.units,
            good_chance=owned.good_chance,
            lead_days=owned.lead_days,
            came_from=owned.came_from,
        )
        for name, owned in job.shelf.items()
    )
    return {quote.id: quote for quote in (*job.quotes, *shelf)}


def option_wrong(job: Job, fault: Fault, option: Option, quotes: Quotes) -> Iterator[str]:
    """What does not hold in an option as it stands in the job; its chance is looked at elsewhere."""
    repair = next((r for r in fault.repairs if r.id == option.repair), None)
    if repair is None or option.fault != fault.id:
        yield f"no repair {option.repair}"
        return
    if {line.quote.part: line.units for line in option.lines} != {
        part: _in_sets(job, part, wanted) for part, wanted in repair.parts.items()
    } or len(option.lines) != len(repair.parts):
        yield "parts are not those of the repair in whole sets"
    if any(line.wanted != repair.parts.get(line.quote.part) for line in option.lines):
        yield "pieces wanted are not the repair's"
    for line in option.lines:
        yield from quote_barred(job, line.quote, quotes)
    yield from _work_barred(job, fault, repair, option)
    own = repair.by == "self"
    expected = (not own, repair.price_minor, repair.minutes if own else 0, set(repair.access))
    if (option.by_workshop, option.direct_minor, option.minutes, set(option.access)) != expected:
        yield "price, minutes or access are not the repair's"


def _in_sets(job: Job, part: str, wanted: int) -> int:
    size = next((p.renew_in for p in job.parts if p.id == part), 1)
    return wanted + (-wanted) % size


def quote_barred(job: Job, quote: Quote, quotes: Quotes) -> Iterator[str]:
    """Why a quote is not to be bought at all."""
    settings = job.settings
    part = next((p for p in job.parts if p.id == quote.part), None)
    if quotes.get(quote.id) != quote:
        yield f"no quote {quote.id}"
    if late(job, quote.lead_days):
        yield f"{quote.id} comes too late"
    if quote.valid_until is not None and settings.today is not None and quote.valid_until < settings.today:
        yield f"{quote.id} has lapsed"
    if part is not None and part.kind == ONLY_NEW_KIND and quote.condition != "new":
        yield f"{quote.id} is not new"
    if part is not None and part.salvage_barred and quote.condition == "salvage":
        yield f"{quote.id} is salvage"


def late(job: Job, days: int) -> bool:
    """Whether so many days from now is after the day by which all must be done."""
    settings = job.settings
    return bool(settings.needed_by and settings.today and days > (settings.needed_by - settings.today).days)


def licensed_work(job: Job, fault: Fault) -> bool:
    """Whether the owner is not to work on the fault, nor to look into it."""
    return fault.system in {s.value for s in LicensedSystem} - {s.value for s in job.settings.licensed}


def _work_barred(job: Job, fault: Fault, repair: Repair, option: Option) -> Iterator[str]:
    if repair.by == "self" and licensed_work(job, fault):
        yield "licensed work"
    wait = max([line.quote.lead_days for line in option.lines], default=0) + repair.lead_days
    if option.days != wait:
        yield f"{option.days} days are not {wait}"
    if late(job, wait):
        yield "done too late"
