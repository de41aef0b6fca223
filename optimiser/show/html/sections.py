"""The sections of the report that are about the whole job, as plain data: next, pot, orders, moves, diary."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from optimiser.calls import call
from optimiser.model.events import Entry
from optimiser.model.job import Job
from optimiser.model.plan import Order, OrderLine, Plan
from optimiser.model.quotes import STILL_TO_BE_ASKED
from optimiser.model.report import Report
from optimiser.model.stretch import Stretch
from optimiser.model.tonight import Task, Tonight
from optimiser.show import (
    change_words,
    dangers,
    diary,
    diary_words,
    outcome_words,
    remarks,
    rough_words,
    route_words,
    steps,
    stretch_words,
    tonight,
    tonight_words,
    wording,
)
from optimiser.show.html import marks, pictures
from optimiser.show.html.marks import Caution, CautionsTold

MOST_ENTRIES = 2_000
"""Entries of the diary that are told; of more, the latest."""


@dataclass(frozen=True)
class HeadSection:
    title: str
    day: str
    headline: tuple[str, ...]
    dangers: tuple[str, ...]
    grave: tuple[str, ...]
    mind: tuple[str, ...]


def head(plan: Plan) -> HeadSection:
    job, day = plan.job, plan.job.settings.today
    gain = (wording.gain(plan),) if plan.profit_minor is not None else ()
    rough = rough_words.in_short(plan)
    return HeadSection(
        title=marks.short(wording.title(job), marks.MOST_OF_A_NAME),
        day="" if day is None else f"{day.day} {day:%B %Y}",
        headline=(wording.headline(plan), *gain, wording.outcome(plan)),
        dangers=tuple(line.removeprefix(dangers.MARK) for line in dangers.lines(job, plan.selection)),
        grave=tuple(line.removeprefix(dangers.MARK) for line in remarks.grave(plan)),
        mind=(*remarks.in_short(plan), *([rough.removeprefix(dangers.MARK)] if rough else ())),
    )


@dataclass(frozen=True)
class Tick:
    number: str
    title: str
    said: str
    dangerous: bool
    time: str
    beside: tuple[str, ...]
    typed: str
    cautions: tuple[Caution, ...]
    sheet: str = ""
    """The anchor of the fault's own sheet, empty for an order."""


@dataclass(frozen=True)
class NextSection:
    """What to do next, in groups by heading, with the cautions of that work in full."""

    first: str
    summary: str
    urgent: tuple[str, ...]
    groups: tuple[tuple[str, tuple[Tick, ...]], ...]
    below: tuple[str, ...]
    cautions: tuple[Caution, ...]


def next_steps(known: Report, told: CautionsTold, anchors: dict[str, str]) -> NextSection:
    """The tasks as ``tonight`` has them."""
    found, plan = known.tonight, known.plan
    groups = tuple(
        (heading, tuple(tick(known, task, anchors) for task in tasks)) for heading, tasks in tonight.headed(found.tasks)
    )
    coming = tonight_words.on_the_way(plan) if found.tasks else []
    return NextSection(
        first=tonight_words.next_step(plan, typed=False),
        summary=_filled(found) if found.tasks else "",
        urgent=tuple(tonight_words.cannot_wait(plan, task) for task in found.urgent),
        groups=groups,
        below=(*tonight_words.another_evening(found), *coming, *tonight_words.needed_by(plan)),
        cautions=told.tell(found.cautions),
    )


def _filled(known: Tonight) -> str:
    """How much work it is."""
    unsaid = tonight_words.unsaid(known.tasks)
    work = f"{wording.hours(known.minutes)} of work" if known.minutes or unsaid else "No work at the vehicle"
    limit = "" if known.limit is None else f" in an evening of {wording.hours(known.limit)}"
    return f"{work}{limit}{unsaid}."


def tick(known: Report, task: Task, anchors: dict[str, str]) -> Tick:
    plan = known.plan
    number, title, said = tonight_words.told(plan, task, marked=False)
    cautions = known.first_cautions.get(task.faults[0], {}) if task.doing.by_hand else {}
    return Tick(
        number=number,
        title=marks.short(title, marks.MOST_OF_A_NAME),
        said=f"{said[:1].upper()}{said[1:]}",
        dangerous=task.dangerous,
        time=wording.hours(task.minutes) if task.minutes else "",
        beside=tuple(tonight_words.beside(plan, task)),
        typed=tonight_words.said_typed(tonight_words.typed(plan, task)),
        cautions=marks.pointed(cautions),
        sheet="" if task.supplier else anchors[task.faults[0]],
    )


@dataclass(frozen=True)
class PotSection:
    picture: pictures.PotPicture
    fixes: pictures.FixesPicture | None
    beside: tuple[str, ...]
    deposits: tuple[str, ...]


def pot(plan: Plan, anchors: dict[str, str]) -> PotSection:
    due = plan.purse.deposits_due_minor
    back = [f"{wording.amount(plan.job, due)} of the deposits comes back with the old units."] if due else []
    told = (outcome_words.time(plan, worth=True), outcome_words.at_the_sale(plan), outcome_words.safety(plan))
    return PotSection(
        picture=pictures.pot(plan),
        fixes=pictures.fixes(plan, anchors),
        beside=(*(said for said in told if said), *back),
        deposits=tuple(f"{wording.deposit_due(plan.job, one)}." for one in plan.deposits_back),
    )


def cured(plan: Plan) -> tuple[str, ...]:
    return tuple(marks.titled(fault) for fault in plan.job.closed)


@dataclass(frozen=True)
class OrderRow:
    number: str
    part: str
    condition: str
    packs: str
    price: str
    goods: str
    ref: str


@dataclass(frozen=True)
class OrderSheet:
    supplier: str
    rows: tuple[OrderRow, ...]
    sums: str
    waits: str


@dataclass(frozen=True)
class Orders:
    """Every order, and what was bought and is not fitted."""

    sheets: tuple[OrderSheet, ...]
    on_order: tuple[str, ...]
    leftovers: tuple[str, ...]
    note: str


def orders(plan: Plan) -> Orders:
    job, numbered = plan.job, steps.numbers(plan)
    total = sum(order.total_minor for order in plan.orders)
    note = f"{wording.amount(job, total)} in all, postage in it." if plan.orders else "Nothing to order."
    return Orders(
        sheets=tuple(_sheet(plan, order, numbered) for order in plan.orders),
        on_order=tuple(f"{wording.on_order(job, some)}." for some in job.on_order),
        leftovers=tuple(f"{over.units} x {wording.part(job, over.part)}" for over in plan.leftovers),
        note=note,
    )


@dataclass(frozen=True)
class More:
    """What other pots would bring: a picture, its numbers, and what to take from them."""

    note: str
    picture: pictures.StretchPicture | None
    remarks: tuple[str, ...]


def more(known: Stretch | None) -> More | None:
    """None where it was not asked."""
    if known is None:
        return None
    remarks = tuple(line.removeprefix(dangers.MARK) for line in stretch_words.remarks(known))
    return More(stretch_words.headline(known), pictures.stretch(known), remarks)


def _sheet(plan: Plan, order: Order, numbered: steps.Numbers) -> OrderSheet:
    job, asked = plan.job, order.supplier.id == STILL_TO_BE_ASKED
    name = marks.short(wording.supplier(job, order.supplier.id), marks.MOST_OF_A_NAME)
    return OrderSheet(
        supplier="Still to be asked: rough prices" if asked else name,
        rows=tuple(_row(plan, line, numbered) for line in order.lines),
        sums=wording.order_sums(plan.job, order),
        waits=route_words.before_sending(plan, order, numbered),
    )


def _row(plan: Plan, line: OrderLine, numbered: steps.Numbers) -> OrderRow:
    text, quote = plan.job.currency.text, line.quote
    return OrderRow(
        number=str(numbered.lines[quote.id]),
        part=wording.part(plan.job, quote.part),
        condition=quote.condition,
        packs=wording.packs(line),
        price=text(quote.price_minor),
        goods=text(line.goods_minor),
        ref=wording.plain(quote.ref),
    )


@dataclass(frozen=True)
class Moved:
    """How the plan moved since the last one that knew less."""

    since: str
    moves: tuple[str, ...]
    sums: tuple[str, ...]


def moved(known: Report) -> Moved:
    moves = known.moves
    if moves is None:
        return Moved("No earlier plan is kept to compare with.", (), ())
    telling = change_words.Telling(moves)
    found = tuple(telling.move(one) for one in moves.moved)
    since = f"Against plan {moves.number} of {moves.at:%d %B %Y, %H:%M} UTC."
    rest = (*change_words.sums(moves).splitlines(), change_words.unmoved(moves), *change_words.tail(moves))
    nothing = () if found else (change_words.nothing_moved(moves),)
    return Moved(since, found, tuple(said for said in (*nothing, *rest) if said))


@dataclass(frozen=True)
class DiaryRow:
    """An entry of the record; ``stands``: it counts, and may be struck out."""

    number: int
    day: str
    said: str
    money: str
    left: str
    struck: str
    stands: bool


@dataclass(frozen=True)
class Diary:
    rows: tuple[DiaryRow, ...]
    sums: str = ""
    earlier: str = ""
    """What is said of entries before the first that is told."""


def diary_rows(job: Job, entries: Sequence[Entry], day: str) -> tuple[DiaryRow, ...]:
    """The latest entries with the money, each with its ``day`` in that format, by the clock where the person is."""
    text, told = job.currency.text, list(diary.written(job, entries))[-MOST_ENTRIES:]
    return tuple(
        DiaryRow(
            number=entry.number,
            day=entry.happening.at.astimezone().strftime(day),
            said=diary_words.said(job, entry.happening),
            money=text(-minor) if minor else "",
            left=text(left) if minor else "",
            struck="" if entry.struck_by is None else f"struck out by {entry.struck_by}",
            stands=entry.stands,
        )
        for entry, minor, left in told
    )


def happened(known: Report) -> Diary:
    job, more = known.plan.job, len(known.entries) - MOST_ENTRIES
    rows = diary_rows(job, known.entries, "%d %b %Y")
    earlier = f"{more} earlier entries are not told here: {call('diary')} lists them." if more > 0 else ""
    return Diary(rows, diary.summed(job) if rows else "", earlier)
