"""Which parts to ask shops about, those whose price would most change the plan first."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from optimiser.model import protection
from optimiser.model.job import Fault, Job
from optimiser.model.option import Bar
from optimiser.model.plan import Plan
from optimiser.model.quotes import CONDITIONS, STILL_TO_BE_ASKED
from optimiser.model.report import Ask, PartWanted


def wanted(plan: Plan) -> tuple[PartWanted, ...]:
    """Parts that nobody quotes and a repair waits for, and those of which a used one did not cure, by the weight of
    the faults; rough prices by the money in doubt; then parts that one shop alone has quoted, by what is paid for them.
    """
    ranked = sorted(_not_quoted(plan), key=lambda one: (-one.weight, one.part))
    rough = [_rough(plan, one.part, one.doubt_minor) for one in plan.quotes_to_get]
    single = sorted(_one_shop(plan), key=lambda one: (-one.in_doubt_minor, one.part))
    first: dict[str, PartWanted] = {}
    for one in (*ranked, *rough, *single):
        first.setdefault(one.part, one)
    return tuple(first.values())


def _not_quoted(plan: Plan) -> Iterator[PartWanted]:
    """Parts for want of which a repair is not offered."""
    job, faults, pieces = plan.job, defaultdict[str, list[Fault]](list), dict[str, int]()
    repairs = {f"{fault.id}/{repair.id}": (fault, repair) for fault in job.faults for repair in fault.repairs}
    unquoted: set[str] = set()
    for barred in plan.not_offered:
        if barred.kind != "repair" or barred.id not in repairs:
            continue
        fault, repair = repairs[barred.id]
        lacks = barred.bar in (Bar.NO_QUOTE, Bar.TOO_FEW)
        if lacks or (barred.bar == Bar.TRIED and _tried_used(job, fault, barred.detail)):
            unquoted.update([barred.detail] if lacks else ())
            units = _whole_sets(job, barred.detail, repair.parts.get(barred.detail, 1))
            pieces[barred.detail] = max(units, pieces.get(barred.detail, 0))
            faults[barred.detail].append(fault)
    for part, some in faults.items():
        served = {fault.id: fault.importance for fault in some}
        yield PartWanted(
            part=part, pieces=pieces[part], conditions=_fit(job, part), faults=tuple(served),
            why=Ask.NOBODY if part in unquoted else Ask.TRIED, weight=sum(served.values()),
        )  # fmt: skip


def _tried_used(job: Job, fault: Fault, part: str) -> bool:
    """Whether a used piece of the part was tried there: a new one that did not cure was hardly bad itself."""
    rows = {quote.id: quote for quote in job.sheets.of([part])} | job.shelf
    tried = [rows[name] for name in job.tried_on.get(fault.id, ()) if name in rows]
    return any(row.part == part and row.condition != "new" for row in tried)


def _rough(plan: Plan, part: str, doubt_minor: int) -> PartWanted:
    taken = (
        max((x.units for step in route.attempts for x in step.option.lines if x.quote.part == part), default=0)
        for route in plan.selection.routes
    )
    return PartWanted(
        part=part, pieces=max(1, sum(taken)), conditions=_fit(plan.job, part), why=Ask.ROUGH,
        faults=_users(plan.job, part), in_doubt_minor=doubt_minor,
    )  # fmt: skip


def _one_shop(plan: Plan) -> Iterator[PartWanted]:
    """Parts in the orders that no other shop has quoted."""
    shops = defaultdict[str, set[str]](set)
    for quote in plan.job.quotes:
        if quote.supplier not in (None, STILL_TO_BE_ASKED):
            shops[quote.part].add(str(quote.supplier))
    pieces, paid = defaultdict[str, int](int), defaultdict[str, int](int)
    for order in plan.orders:
        for line in order.lines if order.supplier.id != STILL_TO_BE_ASKED else ():
            pieces[line.quote.part] += line.pieces
            paid[line.quote.part] += line.goods_minor
    for part, minor in paid.items():
        if len(shops[part]) <= 1:
            yield PartWanted(
                part=part, pieces=pieces[part], conditions=_fit(plan.job, part), why=Ask.ONE_SHOP,
                faults=_users(plan.job, part), in_doubt_minor=minor,
            )  # fmt: skip


def _users(job: Job, part: str) -> tuple[str, ...]:
    return tuple(fault.id for fault in protection.users(job.faults).get(part, ()))


def _fit(job: Job, part: str) -> tuple[str, ...]:
    """The conditions in which every fault that uses the part may have it."""
    row, users = job.part(part), (*protection.users(job.faults).get(part, ()),) or (None,)
    return tuple(c for c in CONDITIONS if all(protection.barred(row, fault, c) is None for fault in users))


def _whole_sets(job: Job, part: str, units: int) -> int:
    """The pieces in whole sets."""
    return job.part(part).whole_sets(units)
