"""What to do next for a plan: the first step of every fault, orders and bookings, and how much of it an evening holds.

What is dangerous comes first of all, leaks of fuel and gas before the rest; only a step of the owner that costs nothing
and may add to an order for it, or to that of a workshop's parts, comes before that. Then come looks and work that take
no part, the gravest first, and among equals what lies behind a cover that is off already; then parts that are here;
then orders; then workshops. Long shots come behind all that, whatever they serve. What the vehicle is driven for comes
last of all while anything dangerous is open, and so does what runs the engine or works a live circuit while fuel is
about.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence, Set
from dataclasses import dataclass
from datetime import date
from functools import partial

from optimiser.model.job import Fault, Job, Severity
from optimiser.model.plan import Choice, OrderLine, Plan
from optimiser.model.quotes import STILL_TO_BE_ASKED
from optimiser.model.route import AttemptStep, CheckStep, Route
from optimiser.model.tonight import Doing, LastDay, Task, Tonight, TooLate
from optimiser.planning import looks
from optimiser.planning.cautions import cautions
from optimiser.planning.long_shots import is_long_shot
from optimiser.planning.sending import needs, waiting
from optimiser.planning.totals import check_of, step_access

SOON_DAYS = 7
"""What has its last day within a week cannot wait (common practice, no published source)."""
ORDER_OF_KINDS = {Doing.LOOK: 0, Doing.TRY: 0, Doing.FIT: 1, Doing.ASK: 2, Doing.ORDER: 3, Doing.BOOK: 4}
SERVES_NONE = 99


@dataclass(frozen=True)
class _Wanted:
    """A task with the owner's minutes for itself alone, the covers that must be off, and its place among its like."""

    task: Task
    own_minutes: int
    access: tuple[str, ...]
    place: int

    def adds(self, sent: Collection[_Wanted], covers_minor: int) -> bool:
        """Whether it is free, its covers too, and may add to what is sent for because of something dangerous."""
        task = self.task
        free = task.doing.by_hand and not task.pay_minor + covers_minor and not task.dangerous and not task.long_shot
        return free and any(task.faults[0] in one.task.after for one in sent)

    def turn(self, opened: set[str], burning: set[str], adding: Set[str]) -> tuple[object, ...]:
        """A sort key: what comes first, once so much is open.

        ``burning`` are the faults with fuel or gas about, ``adding`` those with a step that may add to an order.
        """
        task = self.task
        adds = task.doing.by_hand and task.faults[0] in adding
        at_once = task.doing.by_hand or task.doing == Doing.ASK  # what is sent for waits for what may add to it
        begins = task.dangerous and (at_once or adding.isdisjoint(task.after))
        rank = SERVES_NONE if task.severity is None else task.severity.rank
        behind_it = bool(self.access) and opened.issuperset(self.access)
        burns = begins and not burning.isdisjoint(task.faults)
        ranks = ORDER_OF_KINDS[task.doing], rank, not behind_it, task.doing == Doing.TRY
        return (task.held, task.long_shot, not begins, not burns, not adds, *ranks, self.place)


def tonight(plan: Plan, limit: int | None = None) -> Tonight:
    """What to do next, in order; with a ``limit`` in minutes what fits into it, each task that is too long left out."""
    wanted = [*_looks(plan), *_by_hand(plan), *_orders(plan), *_bookings(plan)]
    waits = waiting(plan).lines
    later = [w for w in wanted if _is_kept_for_later(plan, w.task, waits)]
    tasks, left = _filled(plan.job, [w for w in wanted if w not in later], limit)
    left_tasks, _ = _filled(plan.job, [*left, *later], None)
    return Tonight(
        plan=plan,
        limit=limit,
        tasks=tuple(tasks),
        left=tuple(left_tasks),
        urgent=_urgent(plan, (*tasks, *left_tasks)),
        coming=_coming(plan),
        for_nothing={f.id: check.id for f in _out_of_reach(plan) if (check := looks.for_nothing(plan.job, f))},
        cautions=cautions(plan.job, [first_step_of(plan, t.faults[0]) for t in tasks if _needs_care(plan, t)]),
    )


def _needs_care(plan: Plan, task: Task) -> bool:
    """Whether it is the owner's own work, or a workshop's on something that may burn until it comes."""
    booked = task.doing == Doing.BOOK and plan.choice(task.faults[0]).fault.may_catch_fire
    return task.doing.by_hand or booked


def _out_of_reach(plan: Plan) -> list[Fault]:
    """The dangerous faults that the plan does nothing about, save those that a person leaves."""
    left = (choice.fault for choice in plan.choices if choice.route is None)
    return [fault for fault in left if fault.severity == Severity.DANGEROUS and fault.id not in plan.job.left]


def _is_kept_for_later(plan: Plan, task: Task, waits: frozenset[str]) -> bool:
    """Whether all that it orders may wait."""
    brought = _brought(plan, task)
    return task.doing != Doing.ASK and bool(brought) and brought <= waits


def _urgent(plan: Plan, tasks: Sequence[Task]) -> tuple[Task, ...]:
    """The tasks whose last day is near, the nearest first."""
    dated = [(task.last_day.day, task) for task in tasks if task.last_day is not None]
    near = [(day, task) for day, task in dated if (left := days_left(plan, day)) is not None and left <= SOON_DAYS]
    return tuple(task for _, task in sorted(near, key=lambda pair: pair[0]))


def _filled(job: Job, wanted: Sequence[_Wanted], limit: int | None) -> tuple[list[Task], list[_Wanted]]:
    """The tasks in their order as long as the minutes last, and those that do not fit; a cover comes off once.

    One whose minutes nobody said fits as long as there are any left.
    """
    known = {access.id: access for access in job.access}
    burning = {fault.id for fault in job.faults if fault.may_catch_fire}
    waiting_for, opened, used = list(wanted), set[str](), 0
    tasks, left = list[Task](), list[_Wanted]()
    while waiting_for:
        sent = [w for w in waiting_for if w.task.dangerous and not w.task.doing.by_hand and not w.task.long_shot]
        prices = {name: access.price_minor for name, access in known.items() if name not in opened}
        adding = {w.task.faults[0] for w in waiting_for if w.adds(sent, sum(prices.get(name, 0) for name in w.access))}
        one = min(waiting_for, key=partial(_Wanted.turn, opened=opened, burning=burning, adding=adding))
        waiting_for.remove(one)
        opens = [known[name] for name in dict.fromkeys(one.access) if name not in opened]
        minutes = one.own_minutes + sum(access.minutes for access in opens)
        least = max(minutes, int(one.task.minutes_unsaid))
        if limit is not None and least and used + least > limit:
            left.append(one)
            continue
        used += minutes
        opened.update(access.id for access in opens)
        paid = one.task.pay_minor + sum(access.price_minor for access in opens)
        covers = tuple(access.id for access in opens if not access.is_check)
        tasks.append(one.task.model_copy(update={"minutes": minutes, "opens": covers, "pay_minor": paid}))
    return tasks, left


def _looks(plan: Plan) -> Iterator[_Wanted]:
    for place, look in enumerate(plan.do_first):
        choice = plan.choice(look.fault)
        check = check_of(plan.job, look.fault, look.check)
        step = choice.route.first if choice.route is not None else None
        cash = step.cash_minor if isinstance(step, CheckStep) else 0
        task = Task(
            doing=Doing.LOOK, faults=(look.fault, *look.also), severity=choice.fault.severity, check=look.check,
            pay_minor=cash, held=plan.job.must_wait(look.fault, check),
        )  # fmt: skip
        yield _Wanted(task, check.minutes, check.access, place)


def _by_hand(plan: Plan) -> Iterator[_Wanted]:
    """Attempts of the owner that buy nothing and wait for nothing."""
    for place, choice in enumerate(plan.choices):
        option, step = choice.option, None if choice.route is None else choice.route.first
        if option is None or option.by_workshop or not option.leads or not isinstance(step, AttemptStep):
            continue
        task = Task(
            doing=Doing.FIT if option.lines else Doing.TRY, faults=(choice.fault.id,), severity=choice.fault.severity,
            option=option, pay_minor=step.cash_minor, long_shot=_begins_with_a_long_shot(choice),
        )  # fmt: skip
        yield _Wanted(task, step.minutes, step_access(plan.job, choice.fault.id, step), place)


def _coming(plan: Plan) -> tuple[Task, ...]:
    """Attempts of the owner for which all is bought and something is not here yet: the gravest, then the soonest."""
    found = [
        Task(
            doing=Doing.FIT,
            faults=(c.fault.id,),
            severity=c.fault.severity,
            option=c.option,
            minutes=c.option.minutes,
            days=c.option.days,
        )
        for c in plan.choices
        if c.option is not None and not c.option.by_workshop and c.option.lines and not c.option.suppliers
        if c.option.days and not c.option.ahead
    ]
    return tuple(sorted(found, key=lambda task: (plan.choice(task.faults[0]).fault.severity.rank, task.days)))


def _orders(plan: Plan) -> Iterator[_Wanted]:
    waits = waiting(plan)
    for place, order in enumerate(plan.orders):
        asked = order.supplier.id == STILL_TO_BE_ASKED
        later = [line for line in order.lines if line.quote.id in waits.lines and not asked]
        now = [line for line in order.lines if line not in later]
        quotes = frozenset(line.quote.id for line in now or later)
        served = [choice for choice in plan.choices if needs(choice) & quotes]
        after = adding(plan, order.supplier.id)
        task = Task(
            doing=Doing.ASK if asked else Doing.ORDER,
            faults=tuple(choice.fault.id for choice in served),
            severity=served[0].fault.severity if served else None,
            supplier=order.supplier.id,
            lines=tuple(line.quote.id for line in now),
            later=tuple(line.quote.id for line in later),
            pay_minor=order.total_minor - sum(line.goods_minor + line.deposits_minor for line in later),
            after=after if now else waits.until,
            days=max((line.quote.lead_days for line in now or later), default=0),
            last_day=_last_day_of_order(plan, now or later, served),
            long_shot=bool(served) and all(map(_begins_with_a_long_shot, served)),
        )
        yield _Wanted(task, order.supplier.trip_minutes, (), place)


def adding(plan: Plan, supplier: str) -> tuple[str, ...]:
    """The faults whose own first steps may add to what is ordered from a supplier."""
    return tuple(choice.fault.id for choice in plan.choices if _may_add(plan.job, choice, supplier))


def _may_add(job: Job, choice: Choice, supplier: str) -> bool:
    """Whether a fault begins with a step that comes before any order, and may then want something of this supplier.

    A check that may not be made before something else is put right holds up no order: it may be that of its parts.
    """
    route = choice.route
    if route is None or not (isinstance(route.first, CheckStep) or (route.option is not None and route.option.leads)):
        return False
    fault = choice.fault.id
    if isinstance(route.first, CheckStep) and job.must_wait(fault, check_of(job, fault, route.first.check)):
        return False
    sure = needs(choice)
    steps = (step for step in route.first_attempts if step is not None)
    return any(
        line.quote.supplier == supplier and line.quote.id not in sure for step in steps for line in step.option.ordered
    )


def _bookings(plan: Plan) -> Iterator[_Wanted]:
    orders = {task.supplier: task for task in (wanted.task for wanted in _orders(plan))}
    for place, choice in enumerate(plan.choices):
        option = choice.option
        if option is None or not option.by_workshop:
            continue
        by = plan.job.settings.needed_by
        after = dict.fromkeys(fault for supplier in option.suppliers for fault in orders[supplier].after)
        last = None if by is None else LastDay(day=_days_before(by, option.days), why=TooLate.NEEDED_BY)
        task = Task(
            doing=Doing.BOOK, faults=(choice.fault.id,), severity=choice.fault.severity, option=option,
            pay_minor=option.direct_minor, after=tuple(after), days=option.days, last_day=last,
            long_shot=_begins_with_a_long_shot(choice),
        )  # fmt: skip
        yield _Wanted(task, 0, (), place)


def _begins_with_a_long_shot(choice: Choice) -> bool:
    """Whether what is tried first for a fault is a long shot."""
    return choice.option is not None and is_long_shot(choice.option.chance)


def _brought(plan: Plan, task: Task) -> frozenset[str]:
    """The lines of the plan's orders that a task sends for, or that the work booked by it needs; a question is free."""
    if task.doing == Doing.ORDER:
        return frozenset((*task.lines, *task.later))
    return needs(plan.choice(task.faults[0])) if task.doing == Doing.BOOK else frozenset()


def _last_day_of_order(plan: Plan, lines: Sequence[OrderLine], served: Sequence[Choice]) -> LastDay | None:
    """The first of its quotes' last days and of the days from which its parts can still be fitted by ``needed_by``."""
    days = [LastDay(day=day, why=TooLate.QUOTE) for line in lines if (day := line.quote.valid_until) is not None]
    by = plan.job.settings.needed_by
    if by is not None:
        days += [LastDay(day=_days_before(by, wait), why=TooLate.NEEDED_BY) for wait in _waits(lines, served)]
    return min(days, key=lambda last: last.day, default=None)


def _days_before(day: date, days: int) -> date:
    """So many days before a day; the calendar's first where it does not reach so far back."""
    return date.fromordinal(max(1, day.toordinal() - days))


def _waits(lines: Sequence[OrderLine], served: Sequence[Choice]) -> Iterator[int]:
    """The days that pass from an order until each of the first attempts with its lines can be made."""
    quotes = {line.quote.id for line in lines}
    for choice in served:
        for step in () if choice.route is None else choice.route.first_attempts:
            if step is not None and quotes & {line.quote.id for line in step.option.lines}:
                yield step.option.days


def first_step_of(plan: Plan, fault: str) -> Route:
    """A fault's route without what follows its first step."""
    route = plan.selection.route_for(fault)
    if route is None or not isinstance(route.first, CheckStep | AttemptStep):
        raise KeyError(fault)
    return route.model_copy(update={"first": route.first.model_copy(update={"then": ()})})


def days_left(plan: Plan, day: date) -> int | None:
    """The days from today until a day; None where the job knows no today."""
    today = plan.job.settings.today
    return None if today is None else (day - today).days
