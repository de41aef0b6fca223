"""Build the options of the mix: each repair times the quotes for its parts; and everything barred, with the reason."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import groupby, product
from operator import attrgetter
from types import MappingProxyType

from optimiser.diagnosis.belief import Belief
from optimiser.diagnosis.evidence import attempt_chance
from optimiser.diagnosis.groups import standings, with_twins
from optimiser.errors import InputError, Problem
from optimiser.model import protection
from optimiser.model.candidates import Offer
from optimiser.model.evidence import FailedAttempt, OnTwin, Piece
from optimiser.model.job import Fault, Job, Part, Repair
from optimiser.model.option import Bar, Line, NotOffered, Option
from optimiser.model.quotes import CONDITIONS, Condition, Quote, Supplier
from optimiser.planning import crowds, top_ups
from optimiser.planning.crowds import ShopTerms

MOST_COMPARED = 500
"""Quotes of one supplier for one part among which the pointless ones are sought; it is only an economy."""
MOST_COMBINATIONS = 20_000
"""Combinations of quotes that one repair may have before the job must be written more narrowly."""


def build(job: Job, whole: Collection[str] = ()) -> Offer:
    """The options of every fault, in an order made of their content alone, and the quotes that are of use in a plan.

    Quotes that another quote makes pointless whatever else is chosen are left out, except for the faults named in
    ``whole`` (what-ifs need every option of theirs). Raises ``InputError`` where a repair has more than
    ``MOST_COMBINATIONS`` combinations of quotes.
    """
    barred: list[NotOffered] = []
    believed = standings(job)
    quotes = list(_in_order(top_ups.of_use(job, _unbarred(job, barred))))
    on_sale = _OnOffer.of(job, quotes, barred)
    options: list[Option] = []
    for fault in sorted(job.faults, key=lambda f: f.id):
        if fault.id in job.left:
            barred.append(NotOffered(kind="fault", id=fault.id, bar=Bar.LEFT, detail=str(job.left[fault.id])))
            continue
        chances, is_whole = believed[fault.id].chances, fault.id in whole
        found = list(_fault_options(job, fault, chances, on_sale, whole=is_whole))
        if not found:
            barred.append(NotOffered(kind="fault", id=fault.id, bar=Bar.NO_REPAIR))
        options.extend(sorted(found, key=lambda o: o.content))
    if on_sale.crowds:
        taken = {line.quote.id for option in options for line in option.lines}
        quotes = list(_in_order(top_ups.of_use(job, quotes, taken)))
    return Offer(
        options=tuple(options),
        quotes=tuple(q for q in quotes if q.supplier is not None),
        not_offered=tuple(barred),
        passed_over=MappingProxyType(on_sale.passed_over),
    )


@dataclass(frozen=True)
class _OnOffer:
    """What is offered for the repairs by part, the suppliers' terms, and what is noted of it.

    ``crowds`` is for how many faults a part is quoted by a crowd; ``passed_over`` how many quotes of a part were not
    looked at for want of room.
    """

    by_part: Mapping[str, list[Quote]]
    suppliers: Mapping[str, Supplier]
    barred: list[NotOffered]
    crowds: int
    shops: Mapping[str, ShopTerms]
    passed_over: dict[str, int] = field(default_factory=dict)

    @classmethod
    def of(cls, job: Job, quotes: Iterable[Quote], barred: list[NotOffered]) -> _OnOffer:
        """All that is on offer for a job."""
        by_part = defaultdict[str, list[Quote]](list)
        for quote in quotes:
            by_part[quote.part].append(quote)
        users = protection.users(job.faults)
        crowded = sum(len(users.get(part, ())) for part, offered in by_part.items() if len(offered) > crowds.CROWD)
        suppliers = {supplier.id: supplier for supplier in job.suppliers}
        shops = crowds.shops_of(quotes, suppliers) if crowded else {}
        return cls(by_part, suppliers, barred, crowded, shops)

    def of_a_crowd(self, job: Job, fault: Fault, part: str, offered: list[Quote]) -> list[Quote]:
        """Of a crowd of quotes those that may be in a best plan; where these take too much room, the most likely."""
        owned = (quote for quote in offered if quote.supplier is None)
        unbeaten = crowds.Crowd.of(job, fault, part, owned).unbeaten(offered, self.shops)
        most = max(crowds.FEWEST, crowds.MOST_IN_ALL // self.crowds)
        if len(unbeaten) <= most:
            return unbeaten
        likely = crowds.first_of(unbeaten, self.shops, most)
        self.passed_over[part] = max(self.passed_over.get(part, 0), len(unbeaten) - len(likely))
        return likely


def shelf(job: Job) -> list[Quote]:
    """Owned parts as quotes: price 0, single pieces, stock as many as there are, from no supplier."""
    return [
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
    ]


def on_offer(job: Job, *, for_all: bool = False) -> tuple[list[Quote], list[NotOffered]]:
    """The suppliers' quotes that nothing bars, in content order, and those that are barred with the reason.

    With ``for_all`` a quote that one fault of those that use its part bars is barred: nobody says what it is for.
    """
    barred: list[NotOffered] = []
    quotes = [quote for quote in _in_order(_unbarred(job, barred, for_all=for_all)) if quote.supplier is not None]
    return quotes, [one for one in barred if one.kind == "quote"]


def _unbarred(job: Job, barred: list[NotOffered], *, for_all: bool = False) -> Iterator[Quote]:
    """Quotes and owned rows that some fault may use, as they stand; the barred ones are noted in content order."""
    bars, held = _Bars(job), list[tuple[Quote, tuple[_Reason, ...]]]()
    for quote in (*shelf(job), *job.quotes):
        reasons = bars.of(quote)
        if reasons:
            held.append((quote, reasons))
        if not reasons or not (for_all or any(not faults for _, _, faults in reasons)):
            yield quote
    for quote, reasons in sorted(held, key=lambda row: _content_and_line(row[0])):
        kind = "quote" if quote.supplier else "owned"
        barred += [NotOffered(kind=kind, id=quote.id, bar=bar, detail=told, faults=f) for bar, told, f in reasons]


def _content_and_line(quote: Quote) -> tuple[tuple[object, ...], tuple[str, int]]:
    return quote.content, quote.line


_begins = attrgetter("part", "supplier", "condition", "price_minor", "pack", "deposit_minor", "ref")


def _in_order(quotes: Iterable[Quote]) -> Iterator[Quote]:
    """What lies on the shelf and then what is sold, each in content order; of rows alike in everything the first,
    unless they may run out.
    """
    rows = list(quotes)
    yield from _told_apart(quote for quote in rows if quote.supplier is None)
    sold = sorted((quote for quote in rows if quote.supplier is not None), key=_begins)
    for _, run in groupby(sold, key=_begins):
        few = list(run)
        yield from few if len(few) == 1 else _told_apart(few)


def _told_apart(quotes: Iterable[Quote]) -> Iterator[Quote]:
    alike: set[tuple[object, ...]] = set()
    for quote in sorted(quotes, key=_content_and_line):
        if quote.stock is not None or quote.content not in alike:
            alike.add(quote.content)
            yield quote


_Reason = tuple[Bar, str, tuple[str, ...]]
"""A bar, its detail, and the faults that it holds for; none: for all."""


class _Bars:
    """Why quotes are barred, each reason once: with the faults that it holds for, where others may use it."""

    def __init__(self, job: Job) -> None:
        self._job, self._today = job, _today(job)
        self._users, self._parts = protection.users(job.faults), {part.id: part for part in reversed(job.parts)}
        self._of_days: dict[tuple[date | None, int], tuple[_Reason, ...]] = {}
        self._of_kinds: dict[tuple[str, Condition], tuple[_Reason, ...]] = {}

    def of(self, quote: Quote) -> tuple[_Reason, ...]:
        """All of a quote's."""
        days, kind = (quote.valid_until, quote.lead_days), (quote.part, quote.condition)
        if days not in self._of_days:
            self._of_days[days] = tuple(self._by_days(*days))
        if self._of_days[days]:
            return self._of_days[days]
        if quote.part not in self._parts and quote.part not in self._users:
            return ()  # nobody says anything of the part: nothing bars it
        if kind not in self._of_kinds:
            self._of_kinds[kind] = tuple(self._by_kind(*kind))
        return self._of_kinds[kind]

    def _by_days(self, valid_until: date | None, lead_days: int) -> Iterator[_Reason]:
        if valid_until is not None and valid_until < self._today:
            yield Bar.LAPSED, valid_until.isoformat(), ()
        elif _too_late(self._job, lead_days):
            yield Bar.LATE, _arrival(self._today, lead_days), ()

    def _by_kind(self, part_id: str, condition: Condition) -> Iterator[_Reason]:
        part, faults = self._parts.get(part_id) or Part(id=part_id), dict[Bar | None, list[str]]()
        for fault in self._users.get(part_id) or (None,):
            faults.setdefault(protection.barred(part, fault, condition), []).append(fault.id if fault else "")
        for bar, for_these in faults.items():
            if bar is not None:
                yield bar, part_id, tuple(for_these) if None in faults else ()


def _arrival(today: date, days: int) -> str:
    """The day, or where the calendar ends before it how far off it is."""
    try:
        return (today + timedelta(days=days)).isoformat()
    except OverflowError:
        return f"day {days} from now"


def _today(job: Job) -> date:
    if job.settings.today is None:
        raise ValueError("a job is planned on a day: set settings.today")
    return job.settings.today


def _too_late(job: Job, days: int) -> bool:
    needed_by = job.settings.needed_by
    return needed_by is not None and days > (needed_by - _today(job)).days


def _fault_options(
    job: Job,
    fault: Fault,
    causes: Belief,
    on_sale: _OnOffer,
    *,
    whole: bool,
) -> Iterator[Option]:
    seen, barred = job.seen.get(fault.id, ()), on_sale.barred
    tried = {entry.repair for entry in seen if isinstance(entry, FailedAttempt) and not entry.pieces}
    lacking = ", ".join(protection.licences_lacking(job, fault))
    barred += [
        NotOffered(kind="check", id=f"{fault.id}/{check.id}", bar=Bar.LICENSED, detail=lacking)
        for check in fault.checks
        if job.settings.fallbacks and lacking
    ]
    for repair in fault.repairs:
        name = f"{fault.id}/{repair.id}"
        given_sound = math.fsum(share * repair.cure(cause) for cause, share in causes.items())
        lacking = ", ".join(protection.licences_lacking(job, fault, repair))
        if lacking and repair.by == "self":
            barred.append(NotOffered(kind="repair", id=name, bar=Bar.LICENSED, detail=lacking))
        elif given_sound <= 0:
            barred.append(NotOffered(kind="repair", id=name, bar=Bar.NO_CURE))
        elif not repair.parts and repair.id in tried:
            barred.append(NotOffered(kind="repair", id=name, bar=Bar.TRIED))
        else:
            lines = _lines(job, fault, repair, on_sale, whole=whole)
            yield from _repair_options(job, fault, repair, causes, lines, barred)


def needs_licence(job: Job, fault: Fault) -> bool:
    """Whether the owner is not to work on the fault, repairs and checks alike."""
    return bool(protection.licences_lacking(job, fault))


Cover = tuple[Line, ...]
"""The lines that supply one part of a repair: one, or pieces from the shelf and a quote for the rest."""


def _lines(job: Job, fault: Fault, repair: Repair, on_sale: _OnOffer, *, whole: bool) -> list[list[Cover]]:
    """For each part of the repair, the ways to cover the whole set of it."""
    choices: list[list[Cover]] = []
    used = _used_up(job, fault)
    for part_id, wanted in sorted(repair.parts.items()):
        part = job.part(part_id)
        able = {condition for condition in CONDITIONS if protection.barred(part, fault, condition) is None}
        some = on_sale.by_part.get(part_id, ())
        offered = [quote for quote in some if quote.condition in able and quote.id not in used]
        if len(offered) > crowds.CROWD and (job.settings.fallbacks or not whole):
            offered = on_sale.of_a_crowd(job, fault, part_id, offered)
        covers = _covers(offered, wanted, part.renew_in, None if whole else on_sale.suppliers)
        if not covers:
            tried = any(quote.id in used for quote in some)
            bar = Bar.TOO_FEW if offered else Bar.TRIED if tried else Bar.NO_QUOTE
            on_sale.barred.append(NotOffered(kind="repair", id=f"{fault.id}/{repair.id}", bar=bar, detail=part_id))
        choices.append(covers)
    return choices


def _covers(offered: Sequence[Quote], wanted: int, set_of: int, terms: Mapping[str, Supplier] | None) -> list[Cover]:
    """One quote or shelf row alone, else what of one shelf row makes whole sets and one quote or row for the rest."""
    units = -(-wanted // set_of) * set_of

    def having(needed: int) -> list[Quote]:
        enough = [q for q in offered if q.stock is None or q.stock * q.pack >= needed]
        return enough if terms is None else undominated(enough, needed, terms)

    covers: dict[object, Cover] = {q.id: (Line(quote=q, units=units, wanted=wanted),) for q in having(units)}
    for row in offered:
        owned = (row.stock or 0) // set_of * set_of if row.supplier is None else 0
        if 0 < owned < units:
            own = Line(quote=row, units=owned, wanted=owned)
            for quote in having(units - owned):
                both = frozenset({(row.id, owned), (quote.id, units - owned)})
                if quote.id != row.id:
                    covers.setdefault(both, (own, Line(quote=quote, units=units - owned, wanted=wanted - owned)))
    return list(covers.values())


def _used_up(job: Job, fault: Fault) -> set[str]:
    """Quotes and pieces on the shelf that did not help on this fault before."""
    seen = [entry.attempt if isinstance(entry, OnTwin) else entry for entry in with_twins(job, fault)]
    attempts = [entry for entry in seen if isinstance(entry, FailedAttempt)]
    kept = {name for name, owned in job.shelf.items() if owned.kept_from == fault.id}
    return kept.union(job.tried_on.get(fault.id, ())) | {piece.name for attempt in attempts for piece in attempt.pieces}


def _repair_options(
    job: Job, fault: Fault, repair: Repair, causes: Belief, lines: list[list[Cover]], barred: list[NotOffered]
) -> Iterator[Option]:
    if math.prod(len(choice) for choice in lines) > MOST_COMBINATIONS:
        raise InputError([_too_many(fault, repair, lines)])
    bar: Bar | None = Bar.NO_CURE
    for covers in product(*lines):
        chosen = tuple(line for cover in covers for line in cover)
        days = max((line.quote.lead_days for line in chosen), default=0) + repair.lead_days
        pieces = [Piece(line.quote.id, line.quote.good_chance) for line in chosen]
        chance = attempt_chance(fault, causes, with_twins(job, fault), repair.id, pieces)
        if _too_late(job, days) or chance <= 0:
            bar = Bar.LATE if chance > 0 else bar
            continue
        bar = None
        yield Option(
            fault=fault.id,
            repair=repair.id,
            by_workshop=repair.by == "workshop",
            lines=chosen,
            direct_minor=repair.price_minor,
            minutes=repair.minutes if repair.by == "self" else 0,
            access=tuple(sorted(set(repair.access))),
            chance=chance,
            days=days,
        )
    if bar is not None and all(lines):
        barred.append(NotOffered(kind="repair", id=f"{fault.id}/{repair.id}", bar=bar))


def undominated(quotes: Iterable[Quote], units: int, suppliers: Mapping[str, Supplier]) -> list[Quote]:
    """Leave out every quote that another makes pointless whatever else is chosen.

    Sound only where nothing but this line changes: same supplier, no waiver or minimum that a dearer line could help
    to reach, no stock of the better one to run out of, no pack of the worse one that another fault could share. The
    better one is strictly cheaper in net cost, so no tie-break ever prefers the worse.
    """
    kept, rivals = list(quotes), defaultdict[str | None, list[Quote]](list)
    for quote in kept:
        rivals[quote.supplier].append(quote)
    few = {name: own for name, own in rivals.items() if len(own) <= MOST_COMPARED}
    return [q for q in kept if not any(_dominates(own, q, units, suppliers) for own in few.get(q.supplier, ()))]


def _dominates(better: Quote, worse: Quote, units: int, suppliers: Mapping[str, Supplier]) -> bool:
    if better.supplier != worse.supplier or better.supplier is None or better.stock is not None or worse.pack > 1:
        return False
    supplier = suppliers.get(better.supplier)
    if supplier is not None and supplier.has_threshold:
        return False
    packs = better.packs_for(units)
    goods = packs * better.price_minor
    deposits = packs * better.pack * better.deposit_minor
    lost = deposits - units * better.deposit_minor
    return (
        better.good_chance >= worse.good_chance
        and better.lead_days <= worse.lead_days
        and goods + deposits <= units * (worse.price_minor + worse.deposit_minor)
        and goods + lost < units * worse.price_minor
    )


def _too_many(fault: Fault, repair: Repair, lines: list[list[Cover]]) -> Problem:
    counts = " x ".join(str(len(choice)) for choice in lines)
    return Problem(
        file="job.toml",
        where=f"[[fault]] {fault.id}, repair {repair.id}",
        key="parts",
        found=f"{counts} combinations of quotes",
        expected=f"at most {MOST_COMBINATIONS} for one repair",
        mend="take the quotes that you would never use out of the sheets, or split the repair in two",
    )
