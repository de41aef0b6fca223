"""What the pages show, as plain data for the templates: the report's own sections, with what can be done there."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import islice

from optimiser.model.events import Entry, EventHead
from optimiser.model.job import Check, Fault, Job
from optimiser.model.moves import Moves
from optimiser.model.plan import Comparison, Plan
from optimiser.model.report import Report
from optimiser.model.tonight import Doing, Task
from optimiser.page.faults import OF
from optimiser.page.forms import Refilled
from optimiser.page.live import PlanStanding, Shown, Supposed
from optimiser.show import (
    begun,
    cause_words,
    change_words,
    compare_words,
    diary_words,
    order_letters,
    outcome_words,
    remarks,
    route_words,
    tonight,
    tonight_words,
    wording,
)
from optimiser.show.html import fault_sheets, marks, report_page, sections
from optimiser.show.html.marks import Caution, CautionsTold
from optimiser.state import Moment
from optimiser.text import counted

MOST_NAMES = 2000
"""Choices that a list offers."""
MOST_OF_A_CHOICE = 100
"""Signs of a choice."""
PLACES = (
    ("/", "What next"),
    ("/plan", "The plan"),
    ("/write", "Write down"),
    ("/fault", "New fault"),
    ("/sheets", "Sheets"),
    ("/whatif", "What if"),
    ("/diary", "Diary"),
    ("/papers", "Papers"),
)


@dataclass(frozen=True)
class Frame:
    """What stands around every page: the job, where one is, how the plan stands, and what each form carries.

    ``numbered``: the plan is kept, so what happened may be written down by the numbers of its steps.
    """

    title: str
    here: str
    token: str
    known: int
    places: tuple[tuple[str, str], ...]
    plan: int
    numbered: bool
    old: bool
    said: tuple[str, ...]
    wrong: tuple[str, ...]
    again: Refilled
    waiting: bool = False


def frame(standing: PlanStanding, here: str, token: str, again: Refilled, *, waiting: bool = False) -> Frame:
    """The frame of a page; ``waiting``: it looks again by itself while the plan is old; ``again``: a refused form."""
    shown, now = standing.shown, standing.now
    known = now or (shown.now if shown is not None else None)
    title = "" if known is None else marks.short(wording.title(known.folder), marks.MOST_OF_A_NAME)
    return Frame(
        title=title,
        here=here,
        token=token,
        known=0 if known is None else known.known,
        places=PLACES,
        plan=0 if shown is None else shown.number,
        numbered=shown is not None and not shown.trouble,
        old=standing.is_old,
        said=tuple(_how_it_stands(standing)),
        wrong=lines(standing.wrong),
        again=again,
        waiting=waiting and standing.is_old and not standing.wrong,
    )


def _how_it_stands(standing: PlanStanding) -> Iterable[str]:
    """Whether the plan that is shown is old, and what it does not know."""
    if standing.shown is not None and standing.shown.trouble:
        yield f"This plan was not kept: {standing.shown.trouble}"
    if not standing.is_old:
        return
    if standing.shown is None:
        yield "The plan is being made. What happened can be written down all the same."
        return
    since = standing.since
    knows_not = f"it does not know {cause_words.entries(since)}" if since else "the job's files have changed since"
    yield f"This plan is old: {knows_not}. The next one is being made; this one stays until it is here."


@dataclass(frozen=True)
class Button:
    """A result of a step to tap: the verb and its words, as they would be typed."""

    verb: str
    words: tuple[str, ...]
    label: str


@dataclass(frozen=True)
class StepCaution:
    """A caution in full in the step that needs it; ``is_new``: no step before needs it."""

    title: str
    lines: tuple[str, ...]
    is_new: bool


@dataclass(frozen=True)
class LiveTick:
    """A task with its buttons; ``kind`` says what else may be said of it, ``lines`` how many lines an order has.

    ``parts`` are those whose price is to be asked for, by id and title; ``written`` says what was written down of it
    that the plan does not know yet, ``letter`` is an order of which no line may wait, to be sent.
    """

    tick: sections.Tick
    cautions: tuple[StepCaution, ...]
    buttons: tuple[Button, ...]
    kind: str
    lines: int = 0
    parts: tuple[tuple[str, str], ...] = ()
    written: str = ""
    letter: str = ""


@dataclass(frozen=True)
class NextPage:
    """The page of what comes next; ``cautions`` are those that no step of it has."""

    head: sections.HeadSection
    next: sections.NextSection
    cautions: tuple[Caution, ...]
    groups: tuple[tuple[str, tuple[LiveTick, ...]], ...]
    moved: tuple[str, ...]


COMING = "Once they are here: fit them"


def next_page(shown: Shown, since: Sequence[Entry] = ()) -> NextPage:
    """What to do next, each step with a button for each way that it may come out; and how the plan moved.

    Steps of which the entries ``since`` tell have no buttons: they would be tapped twice.
    """
    known, told = shown.report, CautionsTold()
    anchors = {name: f"/plan#{place}" for name, place in fault_sheets.anchors(shown.plan).items()}
    coming = known.tonight.coming
    found = sections.next_steps(known, CautionsTold(), anchors)
    groups = tuple(
        (heading, tuple(_live(known, task, _tick(known, task, anchors), told, since) for task in tasks))
        for heading, tasks in (*tonight.headed(known.tonight.tasks), *([(COMING, coming)] if coming else []))
    )
    others = tuple(one for one in told.tell(known.tonight.cautions) if one.lines)
    moved = () if known.moves is None else moved_lines(known.moves)
    return NextPage(sections.head(shown.plan), found, others, groups, moved)


def _tick(known: Report, task: Task, anchors: dict[str, str]) -> sections.Tick:
    """A task as the report has it, with when its parts come."""
    tick = sections.tick(known, task, anchors)
    comes = task.doing == Doing.FIT and task.days
    return replace(tick, beside=(f"In {counted(task.days, 'day')}.", *tick.beside)) if comes else tick


def _live(known: Report, task: Task, tick: sections.Tick, told: CautionsTold, since: Sequence[Entry]) -> LiveTick:
    plan, kind, lines = known.plan, task.doing.value, len(task.lines or task.later)
    if task.doing == Doing.ASK:  # what is to be typed instead is a form here
        parts = tuple((name, wording.part(plan.job, name)) for name in tonight_words.part_ids(plan, task))
        return LiveTick(replace(tick, beside=()), (), (), kind, lines, parts)
    buttons = tuple(_button(plan, task, verb, words) for verb, *words in tonight_words.outcomes(plan, task))
    return LiveTick(
        tick,
        _cautions(known, task, told),
        buttons,
        kind,
        lines,
        written=_written(task, since),
        letter=_letter(plan, task),
    )


def _letter(plan: Plan, task: Task) -> str:
    if not task.lines or task.later:
        return ""
    return next(order_letters.letter(plan, order) for order in plan.orders if order.supplier.id == task.supplier)


def _written(task: Task, since: Iterable[Entry]) -> str:
    """Which entries tell of a task: of its fault, or of a purchase from its supplier."""
    told = [entry.number for entry in since if entry.stands and _tells(entry.happening, task)]
    return f"Written down already: {cause_words.entries(told)}." if told else ""


def _tells(happening: EventHead, task: Task) -> bool:
    if task.supplier:
        return getattr(happening, "supplier", None) == task.supplier
    return getattr(happening, "fault", None) in task.faults


def _cautions(known: Report, task: Task, told: CautionsTold) -> tuple[StepCaution, ...]:
    """The cautions of work by hand: nobody at the vehicle goes up the page for them."""
    needed = known.first_cautions.get(task.faults[0], {}) if task.doing.by_hand else {}
    return tuple(
        StepCaution(one.title, tuple(lines), is_new=bool(one.lines))
        for one, lines in zip(told.tell(needed), needed.values(), strict=True)
    )


def _button(plan: Plan, task: Task, verb: str, words: Sequence[str]) -> Button:
    if verb == "found":
        label = _result(plan.job, task.faults[0], task.check, words[-1])
    elif verb == "fitted":
        label = {"cured": "Cured", "not-cured": "Not cured"}[words[-1]]
    else:
        label = "Bought"
    return Button(verb, tuple(words), label)


def _result(job: Job, fault: str, check: str, name: str) -> str:
    """A result as it stands on its button."""
    return marks.short(route_words.result(job, fault, check, name, alone=True))


def moved_lines(moves: Moves) -> tuple[str, ...]:
    """How the plan moved, in a few lines; nothing where it did not."""
    return tuple(line.removeprefix(change_words.ITEM) for line in change_words.short(moves))


def plan_page(shown: Shown) -> dict[str, object]:
    """The report's sections but what is next and the diary, which have pages of their own."""
    found = report_page.but_next_and_diary(shown.report, CautionsTold(), fault_sheets.anchors(shown.plan))
    return found | {"contents": [one for one in report_page.CONTENTS if one[0] not in ("next", "diary")]}


def diary_lines(now: Moment) -> tuple[sections.DiaryRow, ...]:
    """The diary, the latest entry first."""
    return sections.diary_rows(now.job, now.record, "%d %b %H:%M")[::-1]


@dataclass(frozen=True)
class Acknowledged:
    """What is on the disk: sentences, and the entries that one tap takes back."""

    said: tuple[str, ...]
    notes: tuple[str, ...]
    undo: tuple[int, ...]


def acknowledged(now: Moment, numbers: Sequence[int], notes: Sequence[str]) -> Acknowledged:
    """The entries of these numbers as they were written, with what should be known of them."""
    there = {entry.number: entry for entry in now.record}
    found = [there[number] for number in numbers if number in there]
    return Acknowledged(
        tuple(entry_line(now.job, entry) for entry in found),
        tuple(wording.plain(note) for note in notes),
        tuple(entry.number for entry in found if entry.stands),
    )


@dataclass(frozen=True)
class Added:
    """What was put into the job; ``undo`` are the names by which it is taken out again."""

    said: tuple[str, ...]
    undo: tuple[str, ...]


def added(now: Moment | None, ids: tuple[str, ...], *, can_be_undone: bool) -> Added:
    """Faults that were put in, or ways to put one right, as far as the job can be read."""
    known = {} if now is None else {fault.id: fault for fault in now.job.faults}
    said = [_put_in(known.get(name.partition(OF)[0]), name) for name in ids]
    ways = [name.partition(OF) for name in ids]
    minded = [] if now is None else [line for fault, _, way in ways for line in begun.unlicensed(now.job, fault, way)]
    return Added((*said, *minded), ids if can_be_undone else ())


def _put_in(fault: Fault | None, name: str) -> str:
    """A fault, or a way to put one right, with what is still to be done about its price."""
    title = marks.short(wording.plain(name if fault is None else fault.title))
    way = name.partition(OF)[2]
    if not way:
        return f"{title}: planned with rough prices until shops have quoted."
    named = next((one.title for one in (fault.repairs if fault else ()) if one.id == way), way)
    return f"{marks.short(wording.plain(named))}, for {title}."


def changed_pot(now: Moment | None, before: str) -> str:
    """What the pot is by now, where it was ``before`` another; nothing else."""
    return "" if now is None or not before else wording.amount(now.job, now.folder.pot.cap_minor)


def entry_line(job: Job, entry: Entry) -> str:
    struck = "" if entry.struck_by is None else f" (struck out by entry {entry.struck_by})"
    return f"Entry {entry.number}: {diary_words.said(job, entry.happening)}{struck}."


Choice = tuple[str, str]
"""What is sent, and what is read."""
Group = tuple[str, tuple[Choice, ...]]
"""A fault's title with its choices."""


@dataclass(frozen=True)
class Named:
    """What the job has names for, to choose from instead of typing: never more than a person would look through.

    ``open`` are the faults that may be given up, ``back`` those that may be as they were after a cure.
    ``results`` are those of checks, ``shown`` the words for them alone, ``seen`` the causes that may be there or not,
    ``odds`` causes whose odds may be otherwise, ``repairs`` those that may have been fitted; each group is headed by
    its fault.
    """

    open: tuple[Choice, ...]
    back: tuple[Choice, ...]
    faults: tuple[Choice, ...]
    parts: tuple[Choice, ...]
    suppliers: tuple[Choice, ...]
    results: tuple[Group, ...]
    shown: tuple[Choice, ...]
    seen: tuple[Group, ...]
    odds: tuple[Group, ...]
    repairs: tuple[Group, ...]


def names(job: Job) -> Named:
    every = (*job.faults, *job.closed)
    sellers = {supplier.id: supplier.title for supplier in job.suppliers}
    sellers |= {quote.supplier: "" for quote in job.quotes if quote.supplier and quote.supplier not in sellers}
    return Named(
        open=_offered((fault.id, fault.title) for fault in job.faults),
        back=_offered((fault.id, fault.title) for fault in every),
        faults=_offered((fault.id, fault.title) for fault in every),
        parts=tuple(sorted(_offered(job.titles_of_parts.items()), key=lambda pair: pair[1].casefold())),
        suppliers=_offered((name, title) for name, title in sellers.items() if not name.startswith("(")),
        results=_grouped(job.faults, partial(_results, job)),
        shown=tuple((name, "") for name in islice(_shown(job), MOST_NAMES)),
        seen=_grouped(every, _seen),
        odds=_grouped(every, _odds),
        repairs=_grouped(
            every, lambda fault: ((shlex.join((fault.id, one.id)), one.title or one.id) for one in fault.repairs)
        ),
    )


def _odds(fault: Fault) -> Iterable[Choice]:
    """Every cause with what is said of it: its share by the odds of the job, before any finding."""
    whole = sum(fault.causes.values()) / (1 - fault.something_else)
    for cause, odds in fault.causes.items():
        yield shlex.join((fault.id, cause)), f"{cause} (now {wording.chance(odds / whole)})"


def _shown(job: Job) -> Iterable[str]:
    """Every word for a result of a check, once."""
    return dict.fromkeys(name for fault in job.faults for check in fault.checks for name in _words(check))


def _words(check: Check) -> Iterable[str]:
    written = list(check.results)
    return (*written, *([f"not-{written[0]}"] if len(written) == 1 else []))


def _results(job: Job, fault: Fault) -> Iterable[Choice]:
    """Each check with each of its results, which stands first as a long check is cut short."""
    for check in fault.checks:
        for name in _words(check):
            said = f"{_result(job, fault.id, check.id, name)}: {wording.check(job, fault.id, check.id)}"
            yield shlex.join((fault.id, check.id, name)), said


def _seen(fault: Fault) -> Iterable[Choice]:
    for cause in fault.causes:
        yield shlex.join((fault.id, "is", cause)), f"it is {cause}"
        yield shlex.join((fault.id, "is-not", cause)), f"it is not {cause}"


def _grouped(faults: Iterable[Fault], choices: Callable[[Fault], Iterable[Choice]]) -> tuple[Group, ...]:
    groups, room = [], MOST_NAMES
    for fault in faults:
        found = tuple((name, marks.short(wording.plain(said), MOST_OF_A_CHOICE)) for name, said in choices(fault))[
            :room
        ]
        room -= len(found)
        if found:
            groups.append((marks.titled(fault), found))
    return tuple(groups)


def _offered(pairs: Iterable[Choice]) -> tuple[Choice, ...]:
    return tuple((name, marks.short(wording.plain(title or name))) for name, title in islice(pairs, MOST_NAMES))


@dataclass(frozen=True)
class SupposedRow:
    """A what-if with its plan: the sentences of it, or that it is still thought over."""

    name: str
    open: bool
    wrong: tuple[str, ...]
    said: tuple[str, ...]
    moves: tuple[str, ...]


def supposed_rows(known: Iterable[Supposed], now: Moment) -> tuple[SupposedRow, ...]:
    """What was asked, as far as it was asked of what is known now, the latest first."""
    return tuple(_supposed(one) for one in reversed(tuple(known)) if one.asked_at.record == now.record)


def _supposed(one: Supposed) -> SupposedRow:
    plan = one.plan
    said: tuple[str, ...] = ()
    if plan is not None:
        said = (
            *remarks.grave(plan), wording.headline(plan), wording.outcome(plan), outcome_words.time(plan, worth=True),
        )  # fmt: skip
    moves = () if one.moves is None else moved_lines(one.moves)
    if one.comparison is not None:
        said = tuple(_switches(one.comparison))
    return SupposedRow(one.name, one.is_open, lines(one.wrong), tuple(line for line in said if line), moves)


def _switches(known: Comparison) -> Iterable[str]:
    """Up to where the choice stays, and what each other option would lose."""
    plan, job = known.plan, known.plan.job
    taken = next((row for row in known.rows if plan.takes(row.option)), None)
    if taken is None:
        yield "The plan leaves it, or begins with a look: no price and no chance of one option alone decides."
    else:
        yield f"Tried first: {wording.repair(job, taken.option)}, {wording.sources(job, taken.option)}."
        yield from compare_words.switch(job, taken)
    for row in known.rows:
        if row is not taken:
            what = f"{wording.repair(job, row.option)}, {wording.sources(job, row.option)}"
            yield f"{what}: {compare_words.loses(plan, row)}."


FIELDS = {"--price": "The price", "--cost": "What it cost", "--postage": "The postage", "--deposit": "The deposit"}
"""What is a field of the page, by the option that says it on the command line."""


def of_fields(line: str) -> str:
    """What is wrong with an option as what is wrong with its field."""
    option, _, rest = line.partition(" ")
    return f"{FIELDS[option]}: {rest}" if option in FIELDS else line


def lines(text: str) -> tuple[str, ...]:
    """A text of several lines as lines, blank ones left out."""
    return tuple(line.strip() for line in text.splitlines() if line.strip())
