"""The witness on options: each field of an option again from its repair and its quotes, and whatever bars it.

On trust it takes what the words of a part imply and which kinds a system names, as they were read into the job.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from optimiser.model.job import NEVER_SALVAGE_KINDS, ONLY_NEW_KIND, Fault, Job, LicensedSystem, Part, Repair
from optimiser.model.option import Line, Option
from optimiser.model.quotes import Quote

Quotes = Mapping[str, Quote]
"""Every quote of the job by its id, the shelf's pieces as quotes of price 0 among them."""


def quotes_of(job: Job) -> Quotes:
    """Every quote of the job, and every row of its shelf."""
    shelf = {
        name: Quote(
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
    }
    return {**job.sheets.by_id, **shelf}


def option_wrong(job: Job, fault: Fault, option: Option, quotes: Quotes) -> Iterator[str]:
    """What does not hold in an option as it stands in the job; its chance is looked at elsewhere."""
    repair = next((r for r in fault.repairs if r.id == option.repair), None)
    if repair is None or option.fault != fault.id:
        yield f"no repair {option.repair}"
        return
    if {line.quote.part for line in option.lines} != set(repair.parts):
        yield "parts are not those of the repair"
    for part, wanted in repair.parts.items():
        if not _covers(job, part, wanted, [line for line in option.lines if line.quote.part == part]):
            yield f"{part}: the pieces are not those that the repair wants, in whole sets"
    for line in option.lines:
        yield from quote_barred(job, line.quote, quotes, [fault])
    yield from _work_barred(job, fault, repair, option)
    own = repair.by == "self"
    expected = (not own, repair.price_minor, repair.minutes if own else 0, set(repair.access))
    if (option.by_workshop, option.direct_minor, option.minutes, set(option.access)) != expected:
        yield "price, minutes or access are not the repair's"


def _covers(job: Job, part: str, wanted: int, lines: list[Line]) -> bool:
    """Whether the lines are one for the whole, or a shelf row's pieces as far as they go and one more for the rest."""
    size = next((p.renew_in for p in job.parts if p.id == part), 1)
    whole = wanted + (-wanted) % size
    if (sum(line.units for line in lines), sum(line.wanted for line in lines)) != (whole, wanted):
        return False
    if len(lines) == 2 and lines[0].quote.id != lines[1].quote.id:
        return any(line.units == line.wanted == _whole_sets(line.quote, size) < whole for line in lines)
    return len(lines) == 1


def _whole_sets(quote: Quote, size: int) -> int:
    """The pieces of a shelf row that make whole sets; none for a supplier's quote."""
    there = 0 if quote.supplier is not None else quote.stock or 0
    return there - there % size


def quote_barred(job: Job, quote: Quote, quotes: Quotes, faults: Iterable[Fault] | None = None) -> Iterator[str]:
    """Why a quote is not to be bought: every one of these faults (None: of all) that uses the part bars it."""
    settings = job.settings
    if quotes.get(quote.id) != quote:
        yield f"no quote {quote.id}"
    if late(job, quote.lead_days):
        yield f"{quote.id} comes too late"
    if quote.valid_until is not None and settings.today is not None and quote.valid_until < settings.today:
        yield f"{quote.id} has lapsed"
    bars = used_barred(job, quote, faults)
    if bars and all(bars.values()):
        yield f"{quote.id} is {next(iter(bars.values()))}"


def used_barred(job: Job, quote: Quote, faults: Iterable[Fault] | None = None) -> dict[str, str]:
    """What is wrong with the quote's condition, by fault, of these or of all, that uses its part ("": nothing).

    A part that none of all uses stands under "" and is judged by itself.
    """
    if quote.condition == "new":
        return {}
    part = next((p for p in job.parts if p.id == quote.part), Part(id=quote.part))
    asked = job.faults if faults is None else faults
    users = [fault for fault in asked if any(quote.part in repair.parts for repair in fault.repairs)]
    alone = {"": _used_barred(part, None, quote)} if faults is None else {}
    return {fault.id: _used_barred(part, fault, quote) for fault in users} or alone


def _used_barred(part: Part, fault: Fault | None, quote: Quote) -> str:
    """The rules on parts that are not fitted used, from the records alone."""
    named = [kind for kind in part.implied_where_named if fault is not None and kind in fault.kinds]
    implied = part.implied or (named[0] if named else None)
    kind = part.kind or implied
    if ONLY_NEW_KIND in (kind, implied):
        return "" if quote.condition == "new" else "not new"
    risky = fault is not None and (fault.kinds or (fault.severity == "dangerous" and not fault.systems))
    kept = kind in NEVER_SALVAGE_KINDS or (kind is None and risky)
    if part.never_salvage is not None:
        kept = part.never_salvage
    return "salvage" if kept and quote.condition == "salvage" else ""


def late(job: Job, days: int) -> bool:
    """Whether so many days from now is after the day by which all must be done."""
    settings = job.settings
    return bool(settings.needed_by and settings.today and days > (settings.needed_by - settings.today).days)


def licensed_work(job: Job, fault: Fault) -> bool:
    """Whether the owner is not to work on the fault, nor to look into it."""
    return any(system.value in fault.systems for system in set(LicensedSystem) - set(job.settings.licensed))


def _fits_restraints(job: Job, fault: Fault, repair: Repair) -> bool:
    """Whether the repair fits what is only fitted new, which is licensed work on whatever system."""
    for part in (p for p in job.parts if p.id in repair.parts):
        named = [kind for kind in part.implied_where_named if kind in fault.kinds][:1]
        if ONLY_NEW_KIND in (part.kind, part.implied, *(() if part.implied else named)):
            return True
    return False


def _work_barred(job: Job, fault: Fault, repair: Repair, option: Option) -> Iterator[str]:
    restraints = _fits_restraints(job, fault, repair) and LicensedSystem.AIRBAGS_AND_BELTS not in job.settings.licensed
    if repair.by == "self" and (restraints or licensed_work(job, fault)):
        yield "licensed work"
    if not set(option.ahead) <= {line.quote.id for line in option.lines if line.quote.supplier is not None}:
        yield "bought ahead is what it does not order"
    wait = max([line.quote.lead_days for line in option.lines], default=0) + repair.lead_days
    if option.days != wait:
        yield f"{option.days} days are not {wait}"
    if late(job, wait):
        yield "done too late"
