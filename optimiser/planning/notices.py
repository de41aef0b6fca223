"""The remarks that a plan must make beside its figures, the gravest first."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from functools import lru_cache
from operator import attrgetter

from optimiser import money, names
from optimiser.diagnosis import groups as twins
from optimiser.model import protection
from optimiser.model.evidence import Cured, Evidence, FailedAttempt, Finding, ItIs, Still, Works
from optimiser.model.job import Job, Severity, needed_parts
from optimiser.model.option import Bar
from optimiser.model.plan import Choice, Notice, Remark
from optimiser.model.quotes import Quote
from optimiser.planning.totals import Reckoned

VERY_NEAR = 0.8
"""How alike a name must be to one that is known for it to be said that this may be meant."""


def of_plan(
    job: Job,
    choices: Sequence[Choice],
    reckoned: Reckoned,
    cut: Iterable[Notice],
) -> list[Notice]:
    """All remarks on a plan, the gravest first; ``cut`` are those on parts of the search that were left out."""
    settings = job.settings
    found: list[Notice] = []
    remaining = job.pot.remaining_minor
    if remaining < 0:
        too_much, held_back = job.currency.text(-remaining), job.currency.text(job.pot.hold_back_minor)
        if -remaining <= job.pot.hold_back_minor:
            found.append(Notice(remark=Remark.HELD_BACK_SPENT, about=(too_much, held_back)))
        else:
            found.append(Notice(remark=Remark.OVERSPENT, about=(too_much,)))
    dangerous = [c for c in choices if c.fault.severity == Severity.DANGEROUS]
    retried = [c for c in dangerous if c.route is not None and c.route.most_attempts > 1]
    found += [Notice(remark=Remark.DANGEROUS_TRIED, about=(c.fault.id,)) for c in retried]
    if not settings.safety_first:
        found.append(Notice(remark=Remark.SAFETY_OFF))
    found += of_protection(job)
    found += [Notice(remark=Remark.LICENCE_CLAIMED, about=(system.value,)) for system in settings.licensed]
    found += [
        Notice(remark=Remark.SET_ROUNDED, about=(c.fault.id, p.part, str(p.wanted), str(p.units)))
        for c in choices
        for p in c.parts
        if p.units > p.wanted
    ]
    found += cut
    found += _causes_shared(choices)
    if any(c.route is not None and c.route.only_option is None for c in choices):
        found.append(Notice(remark=Remark.SINGLE_CAUSE))
    suppliers = {s for route in reckoned.selection.routes for step in route.attempts for s in step.option.suppliers}
    suppliers.update(order.supplier.id for order in reckoned.orders)
    joining = [supplier for supplier in job.suppliers if supplier.joins and supplier.id in suppliers]
    found += [Notice(remark=Remark.JOINS_AN_ORDER, about=(s.id, *map(str, s.joins))) for s in joining]
    return found + of_job(job, suppliers)


def of_protection(job: Job) -> list[Notice]:
    """Parts for which the job lifts a rule, each with what it is or the fault that makes it one; those left unsaid."""
    users, rows = protection.users(job.faults), {part.id: part for part in job.parts}
    said: list[Notice] = []
    for name in sorted({*rows, *users}):
        part = job.part(name)
        lifting = [fault for fault in users.get(name) or (None,) if protection.lifted(part, fault)]
        if lifting:
            kind = protection.implied(part, lifting[0]) or (part.kind if part.kind != "free" else None)
            if kind:
                said.append(Notice(remark=Remark.PROTECTION_LIFTED, about=(name, kind)))
            else:
                about = (name, *(fault.id for fault in lifting if fault))
                said.append(Notice(remark=Remark.PROTECTION_FREED, about=about))
    used = {quote.part for quote in job.quotes if quote.condition == "salvage"}
    used |= {owned.part for owned in job.owned if owned.condition == "salvage"}
    unsaid = [
        name
        for name in sorted(used & users.keys())
        if any(protection.barred(job.part(name), fault, "salvage") == Bar.KIND_NOT_SAID for fault in users[name])
    ]
    return said + ([Notice(remark=Remark.KIND_NOT_SAID, about=tuple(unsaid))] if unsaid else [])


def of_job(job: Job, suppliers: set[str] | None = None) -> list[Notice]:
    """Remarks on the job as written, whatever is chosen; about these suppliers only, if given."""
    found: list[Notice] = []
    settings = job.settings
    listed = {supplier.id for supplier in job.suppliers}
    if suppliers is None:
        suppliers = {quote.supplier for quote in job.quotes if quote.supplier is not None}
    unlisted = sorted(suppliers - listed)
    found += [_with_nearest(Remark.SUPPLIER_NOT_LISTED, supplier, listed) for supplier in unlisted]
    named = needed_parts(job.faults)
    of_cured = needed_parts(job.closed)
    found += _strays(frozenset(job.sheets.by_part) - named - of_cured, frozenset(named))
    if settings.needed_by and settings.today and settings.needed_by < settings.today:
        found.append(Notice(remark=Remark.NEEDED_BY_PAST, about=(str(settings.needed_by), str(settings.today))))
    found += [Notice(remark=Remark.ALIKE_QUOTES, about=tuple(q.id for q in quotes)) for quotes in _alike(job.quotes)]
    found += _same_axle(job)
    found += _incomplete_sets(job)
    if job.settings.currency == money.NO_CURRENCY:
        found.append(Notice(remark=Remark.NO_CURRENCY))
    found += [
        Notice(remark=Remark.CURED_TOO, about=(fault, ", ".join(sorted(causes)), fault))
        for fault, causes in twins.unanswered(job).items()
    ]
    believed_of = {fault.id for fault in job.faults} | _with_open_twins(job)
    found += [
        Notice(remark=Remark.ENTRIES_CLASH, about=(fault, *(_entry(entry) for entry in standing.clash)))
        for fault, standing in twins.standings(job).items()
        if standing.clash and fault in believed_of
    ]
    return [*found, *map(Notice.of_misfit, job.unfit)]


def of_gaps(job: Job) -> list[Notice]:
    """Entries that the job lacks and a plan would be better for; told to somebody who asks about the job itself."""
    found: list[Notice] = []
    needed = needed_parts(job.faults)
    had = job.sheets.by_part.keys() | {owned.part for owned in job.owned}
    rough = sorted(part for part in needed if any(quote.rough for quote in job.sheets.of([part])))
    if rough:
        found.append(Notice(remark=Remark.ROUGH_PRICES, about=tuple(rough)))
    guessed = [(fault.id, repair.id) for fault in job.faults for repair in fault.repairs if repair.rough]
    if guessed:
        found.append(Notice(remark=Remark.ROUGH_WORK, about=tuple(f"{fault}: {repair}" for fault, repair in guessed)))
    if needed - had:
        found.append(Notice(remark=Remark.NOT_QUOTED, about=tuple(sorted(needed - had))))
    if job.settings.aim == "profit" and not any(fault.sale_gain_minor for fault in job.faults):
        found.append(Notice(remark=Remark.PROFIT_WITHOUT_GAIN))
    groups: dict[str, list[str]] = defaultdict(list)
    for fault in (*job.faults, *job.closed):
        if fault.twin is not None:
            groups[fault.twin].append(fault.id)
    alone = [(members[0], group) for group, members in groups.items() if len(members) == 1]
    return found + [Notice(remark=Remark.TWIN_ALONE, about=about) for about in alone]


def _causes_shared(choices: Sequence[Choice]) -> list[Notice]:
    """Planned faults of which one repair may cure several."""
    groups: dict[str, list[str]] = defaultdict(list)
    for choice in choices:
        if choice.fault.twin is not None and choice.fault.shared_causes and choice.route is not None:
            groups[choice.fault.twin].append(choice.fault.id)
    return [Notice(remark=Remark.CAUSES_SHARED, about=tuple(faults)) for faults in groups.values() if len(faults) > 1]


def _with_open_twins(job: Job) -> set[str]:
    """Cured faults with an open twin, whose odds still depend on their findings."""
    groups = {fault.twin for fault in job.faults if fault.twin is not None}
    return {fault.id for fault in job.closed if fault.twin in groups}


@lru_cache(maxsize=8)
def _strays(quoted: frozenset[str], named: frozenset[str]) -> tuple[Notice, ...]:
    """Quoted parts that no repair names and that are spelt much like one that some repair does."""
    near = names.that_lie_near(quoted, named, VERY_NEAR)
    return tuple(_with_nearest(Remark.PART_NOT_NAMED, part, named) for part in near)


def _alike(quotes: Sequence[Quote]) -> Iterator[list[Quote]]:
    """Quotes that say the same, in the order of the first of each; few are so much alike that all need be compared."""
    times = Counter(map(_in_short, quotes))
    alike: dict[object, list[Quote]] = defaultdict(list)
    for quote in quotes if len(times) < len(quotes) else ():
        if times[_in_short(quote)] > 1:
            alike[quote.content].append(quote)
    return (several for several in alike.values() if len(several) > 1)


_in_short = attrgetter("part", "supplier", "price_minor", "ref")


def _with_nearest(remark: Remark, name: str, known: Collection[str]) -> Notice:
    near = "" if name in known else names.nearest(name, sorted(known), VERY_NEAR)
    return Notice(remark=remark, about=(name, near) if near else (name,))


def _same_axle(job: Job) -> list[Notice]:
    """Two faults that each renew a set of the same part may mean the two ends of one axle."""
    users_of: dict[str, list[str]] = defaultdict(list)
    for fault in job.faults:
        for part_id in {part: None for repair in fault.repairs for part in repair.parts}:
            users_of[part_id].append(fault.id)
    return [
        Notice(remark=Remark.SAME_AXLE, about=(part.id, *users_of[part.id]))
        for part in job.parts
        if part.renew_in > 1 and len(users_of[part.id]) > 1
    ]


def _incomplete_sets(job: Job) -> list[Notice]:
    """Pieces that lie there and are too few for the set that they would be renewed in; how many are missing."""
    sets = {part.id: part.renew_in for part in job.parts if part.id in needed_parts(job.faults)}
    rows = [(owned, sets.get(owned.part, 1)) for owned in job.owned if owned.kept_from is None]
    return [
        Notice(remark=Remark.SET_INCOMPLETE, about=(owned.part, str(owned.units), str(size), str(size - owned.units)))
        for owned, size in rows
        if owned.units < size
    ]


def _entry(entry: tuple[str, Evidence]) -> str:
    """A finding in a few words, and the number by which it can be struck out."""
    fault, what = entry
    number = "" if what.number is None else f" (entry {what.number})"
    return f"{fault}: {_in_words(what)}{number}"


def _in_words(what: Evidence) -> str:
    if isinstance(what, Finding):
        return f"{what.check} showed {what.result}"
    if isinstance(what, FailedAttempt):
        return f"{what.repair} did not cure"
    if isinstance(what, Cured):
        return f"{what.repair} cured"
    if isinstance(what, Works | Still):
        return f"{'works' if isinstance(what, Works) else 'still as it was'} after a twin was cured"
    return f"it {'is' if isinstance(what, ItIs) else 'is not'} {what.cause}"
