"""What differs between two moments of a job: each cause with the way to take it away from the later one."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import partial
from typing import Any, NamedTuple

from optimiser.model.base import Record
from optimiser.model.job import Fault, Job, needed_parts
from optimiser.model.moves import Cause, QuotePair, What
from optimiser.model.quotes import STILL_TO_BE_ASKED, Quote
from optimiser.state.moment import Moment, put_back

MOST_SINGLE_QUOTES = 12
"""Where more quotes differ, those of one supplier are one cause."""
Without = Callable[[Moment], Moment]
TABLES = {"settings": "job", "pot": "money", "time": "time", "solve": "solve"}
ODDS = ("causes", "something_else", "shared_causes")
"""What twins must have alike."""
ROWS = {"access": "access", "parts": "part", "suppliers": "supplier"}


class Difference(NamedTuple):
    """A cause, and how the later moment would be without it."""

    cause: Cause
    without: Without


def differences(then: Moment, now: Moment) -> list[Difference]:
    """Everything that differs: happenings first, then the sheets, then what else the folder says, then the day."""
    put_in, before = _put_in(then.folder, now.folder)
    return [
        *_happened(then, now),
        *_sheets(then.folder, before),
        *put_in,
        *_written(then.folder, before),
        *_day(then.folder, before),
    ]


def _put_in(then: Job, now: Job) -> tuple[list[Difference], Job]:
    """Each fault that is new, as one cause with all that came for it alone: parts, rough prices, covers; and the job
    without those.
    """
    old, before, found = {fault.id for fault in then.faults}, now, list[Difference]()
    for fault in now.faults:
        if fault.id not in old:
            without = _without_fault(fault)
            before = without(before)
            cause = _said(("fault", fault.id), None, None)
            found.append(Difference(cause, lambda moment, w=without: replace(moment, folder=w(moment.folder))))  # type: ignore[misc]
    return found, before


def _without_fault(fault: Fault) -> Callable[[Job], Job]:
    """The job without a fault, and without what no other fault and nothing bought has to do with."""

    def without(job: Job) -> Job:
        others = [other for other in job.faults if other.id != fault.id]
        parts = needed_parts([fault]) - needed_parts(others) - {owned.part for owned in job.owned}
        quotes = [q for q in job.quotes if not (q.part in parts and q.rough)]
        quoted, covers = {q.part for q in quotes}, _covers([fault]) - _covers(others)
        asked = any(q.supplier == STILL_TO_BE_ASKED for q in quotes)
        return job.model_copy(
            update={
                "faults": tuple(others),
                "quotes": tuple(quotes),
                "parts": tuple(row for row in job.parts if row.id not in parts or row.id in quoted),
                "access": tuple(row for row in job.access if row.id not in covers),
                "suppliers": tuple(row for row in job.suppliers if asked or row.id != STILL_TO_BE_ASKED),
            }
        )

    return without


def _covers(faults: Iterable[Fault]) -> set[str]:
    found: set[str] = set()
    for fault in faults:
        found.update(*(check.access for check in fault.checks), *(repair.access for repair in fault.repairs))
    return found


def _happened(then: Moment, now: Moment) -> Iterator[Difference]:
    known = {entry.number: entry for entry in then.record}
    for entry in now.record:
        number, before = entry.number, known.get(entry.number)
        if before is None and entry.stands:
            said = now.supposed is not None and number >= now.supposed
            cause = Cause(what=What.HAPPENED, number=number, happening=entry.happening, supposed=said)
            yield Difference(cause, lambda moment, n=number: moment.without(n))  # type: ignore[misc]
        elif before is not None and before.stands and not entry.stands:
            cause = Cause(what=What.STRUCK, number=number, happening=entry.happening)
            yield Difference(cause, lambda moment, n=number: moment.unstruck(n))  # type: ignore[misc]


def _sheets(then: Job, now: Job) -> Iterator[Difference]:
    pairs = list(_changed_quotes(then.quotes, now.quotes))
    for group in _grouped(pairs):
        yield Difference(Cause(what=What.QUOTES, quotes=tuple(group)), partial(_with_quotes, pairs=group))
    ran_out = _ran_out(then, now)
    lapsed = [QuotePair(was=quote, now=quote) for quote in now.quotes if quote.id in ran_out]
    for group in _grouped(lapsed):
        yield Difference(Cause(what=What.LAPSED, quotes=tuple(group)), partial(_still_valid, pairs=group))


def _grouped(pairs: list[QuotePair]) -> list[list[QuotePair]]:
    if len(pairs) <= MOST_SINGLE_QUOTES:
        return [[pair] for pair in pairs]
    groups: dict[str | None, list[QuotePair]] = defaultdict(list)
    for pair in pairs:
        groups[pair.quote.supplier].append(pair)
    return list(groups.values())


def _changed_quotes(then: Sequence[Quote], now: Sequence[Quote]) -> Iterator[QuotePair]:
    """Rows that are not the same by content, paired where they say the same of part, supplier and condition."""
    if then == now:
        return
    _, old, new = _matched(then, now, lambda quote: quote.content)
    pairs, old, new = _matched(old, new, lambda quote: (*_offer_of(quote), quote.ref, quote.pack))
    more, old, new = _matched(old, new, _offer_of)
    yield from (QuotePair(was=was, now=quote) for was, quote in (*pairs, *more))
    yield from (QuotePair(now=quote) for quote in new)
    yield from (QuotePair(was=quote) for quote in old)


def _offer_of(quote: Quote) -> tuple[object, ...]:
    return (quote.part, quote.supplier, quote.condition)


def _matched(
    old: Sequence[Quote], new: Sequence[Quote], alike: Callable[[Quote], object]
) -> tuple[list[tuple[Quote, Quote]], list[Quote], list[Quote]]:
    """Pairs that are alike, each row in one at most; and what is left of either."""
    waiting: dict[object, list[Quote]] = defaultdict(list)
    for quote in reversed(old):
        waiting[alike(quote)].append(quote)
    pairs, left = [], []
    for quote in new:
        if waiting[alike(quote)]:
            pairs.append((waiting[alike(quote)].pop(), quote))
        else:
            left.append(quote)
    return pairs, [quote for quotes in waiting.values() for quote in reversed(quotes)], left


def _with_quotes(moment: Moment, pairs: Sequence[QuotePair]) -> Moment:
    """With these quotes as they were; one that is gone comes back under a name that nobody else has."""
    was_of = {pair.now.id: pair.was for pair in pairs if pair.now is not None}
    quotes = []
    for quote in moment.folder.quotes:
        was = was_of.get(quote.id, quote)
        if was is not None:
            quotes.append(was.model_copy(update={"id": quote.id}))
    taken = {quote.id for quote in moment.folder.quotes}
    for gone in (pair.was for pair in pairs if pair.now is None and pair.was is not None):
        name = gone.id
        while name in taken:
            name = f"{name}'"
        taken.add(name)
        quotes.append(gone.model_copy(update={"id": name}))
    return moment.with_folder(quotes=tuple(quotes))


def _ran_out(then: Job, now: Job) -> set[str]:
    """The ids of today's quotes that were valid at the earlier moment and are no more."""
    before, today = then.settings.today, now.settings.today
    if before is None or today is None:
        return set()
    return {q.id for q in now.quotes if q.valid_until is not None and before <= q.valid_until < today}


def _still_valid(moment: Moment, pairs: Sequence[QuotePair]) -> Moment:
    ids = {pair.quote.id for pair in pairs}
    return moment.with_folder(quotes=_valid_until(moment.folder.quotes, ids, moment.folder.settings.today))


def _valid_until(quotes: Sequence[Quote], ids: set[str], day: date | None) -> tuple[Quote, ...]:
    return tuple(q.model_copy(update={"valid_until": day}) if q.id in ids else q for q in quotes)


def _day(then: Job, now: Job) -> Iterator[Difference]:
    """The days that passed, apart from the quotes that ran out in them."""
    before, today = then.settings.today, now.settings.today
    if before == today:
        return
    ran_out = _ran_out(then, now)

    def without(moment: Moment) -> Moment:
        folder = moment.folder
        quotes = folder.quotes
        if before is not None:
            quotes = _valid_until(quotes, ran_out, before - timedelta(days=1))
        return moment.with_folder(settings=folder.settings.model_copy(update={"today": before}), quotes=quotes)

    yield Difference(Cause(what=What.DAY, was=str(before or ""), now=str(today or "")), without)


def _written(then: Job, now: Job) -> Iterator[Difference]:
    for name, table in TABLES.items():
        for key in _fields(getattr(then, name), getattr(now, name)):
            if (name, key) != ("settings", "today"):
                yield _table_key(then, now, name, table, key)
    for name, table in ROWS.items():
        yield from _rows(getattr(then, name), getattr(now, name), name, table)
    yield from _faults(then.faults, now.faults)
    if then.owned != now.owned:
        cause = Cause(what=What.WRITTEN, place=("owned",))
        yield Difference(cause, lambda moment: moment.with_folder(owned=then.owned))


def _fields(then: Record, now: Record) -> list[str]:
    return [name for name in type(now).model_fields if getattr(then, name) != getattr(now, name)]


def _table_key(then: Job, now: Job, name: str, table: str, key: str) -> Difference:
    was = getattr(getattr(then, name), key)

    def without(moment: Moment) -> Moment:
        return moment.with_folder(**{name: getattr(moment.folder, name).model_copy(update={key: was})})

    return Difference(_said((table, key), was, getattr(getattr(now, name), key)), without)


def _rows(then: Sequence[Any], now: Sequence[Any], name: str, table: str) -> Iterator[Difference]:
    """Rows with an id: each that is new, gone or otherwise is one cause."""
    old, new = {row.id: row for row in then}, {row.id: row for row in now}
    for row_id in dict.fromkeys((*new, *old)):
        was, row = old.get(row_id), new.get(row_id)
        if was == row:
            continue
        keys = _fields(was, row) if was is not None and row is not None else []
        cause = _said((table, row_id, *keys), None, None)
        if len(keys) == 1:
            cause = _said((table, row_id, keys[0]), getattr(was, keys[0]), getattr(row, keys[0]))
        cause = cause.model_copy(update={} if keys else {"was": "" if was is None else "there"})

        def without(moment: Moment, row_id: str = row_id, was: Any = was) -> Moment:
            return moment.with_folder(**{name: put_back(getattr(moment.folder, name), row_id, was)})

        yield Difference(cause, without)


def _faults(then: Sequence[Fault], now: Sequence[Fault]) -> Iterator[Difference]:
    """A fault that is new or gone; of one that is otherwise each key by itself, twins' odds together."""
    old, new = {fault.id: fault for fault in then}, {fault.id: fault for fault in now}
    both = [fault_id for fault_id in new if fault_id in old]
    yield from _rows([f for f in then if f.id not in both], [f for f in now if f.id not in both], "faults", "fault")
    done: set[tuple[str, str]] = set()
    for fault_id in both:
        for key in _fields(old[fault_id], new[fault_id]):
            if (fault_id, key) not in done:
                alike = [f for f in both if f == fault_id or (key in ODDS and _twins(new[f], new[fault_id]))]
                done |= {(f, key) for f in alike}
                cause = _said(("fault", fault_id, key), getattr(old[fault_id], key), getattr(new[fault_id], key))
                yield Difference(cause, partial(_with_key, key=key, was={f: getattr(old[f], key) for f in alike}))


def _twins(one: Fault, other: Fault) -> bool:
    return one.twin is not None and one.twin == other.twin


def _with_key(moment: Moment, key: str, was: Mapping[str, Any]) -> Moment:
    """With this key of these faults as it was."""
    faults = moment.folder.faults
    changed = (f.model_copy(update={key: was[f.id]}) if f.id in was else f for f in faults)
    return moment.with_folder(faults=tuple(changed))


def _said(place: tuple[str, ...], was: Any, now: Any) -> Cause:
    """What was written otherwise, with both values where they are plain ones."""
    return Cause(what=What.WRITTEN, place=place, was=_plain(was), now=_plain(now))


def _plain(value: Any) -> str:
    return str(value) if isinstance(value, str | int | float | date) else ""
