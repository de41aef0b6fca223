"""The job as it is served: what is known now, the last plan that was made, and a thread that makes the next one.

A plan takes seconds, a write must not: the last plan stays readable, and says that it is old, until the next is here.
"""

from __future__ import annotations

import sys
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from contextlib import suppress
from contextvars import copy_context
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path

from optimiser import service
from optimiser.errors import EXIT_FAULT, OptimiserError
from optimiser.model.moves import Moves
from optimiser.model.plan import Comparison, Plan
from optimiser.model.report import Report
from optimiser.model.stretch import FEW
from optimiser.rereading import Rereading
from optimiser.show import steps, wording
from optimiser.state import Moment

MOST_KEPT = 40
"""What-ifs and notes that are kept; of more, the latest."""
LOOK_SECONDS = 1.0
"""How often the thread looks whether somebody else wrote something."""
NEWS_SECONDS = 1.0
"""How long whoever looks whether the next plan is here is kept waiting for it."""
SWITCH_SECONDS = 0.001
"""How soon a thread that plans lets one that answers have its turn."""


@dataclass(frozen=True)
class PageClock:
    """Where the day and the time come from."""

    today: Callable[[], date]
    now: Callable[[], datetime]


@dataclass(frozen=True)
class Shown:
    """A plan that is shown, with the moment that it was made from; ``number`` counts them from 1."""

    number: int
    now: Moment
    plan: Plan
    report: Report
    trouble: str = ""
    """Why it could not be kept."""
    stretched: bool = False
    """Whether it was tried to work out what other pots would bring."""


@dataclass(frozen=True)
class Supposed:
    """A what-if: as it is called, the moment that it was asked at, that as if, and its plan once it is made.

    For one that asks of a ``fault`` where its choice would change there is its ``comparison`` instead.
    """

    name: str
    key: tuple[str, ...]
    asked_at: Moment
    now: Moment
    plan: Plan | None = None
    moves: Moves | None = None
    fault: str = ""
    comparison: Comparison | None = None
    wrong: str = ""

    @property
    def is_open(self) -> bool:
        """Whether it is still thought over."""
        return self.plan is None and self.comparison is None and not self.wrong


@dataclass(frozen=True)
class PlanStanding:
    """How far the plan that is shown agrees with what is known: ``since`` are the entries that it does not know."""

    shown: Shown | None
    now: Moment | None
    wrong: str = ""

    @property
    def is_old(self) -> bool:
        """Whether something is known that the plan did not know."""
        return self.shown is None or self.now is None or _differ(self.shown.now, self.now)

    @property
    def since(self) -> tuple[int, ...]:
        """The entries that the plan does not know, by number."""
        if self.shown is None or self.now is None:
            return ()
        return tuple(entry.number for entry in self.now.record if entry.number > self.shown.now.known)


class SupersededError(Exception):
    """What is being thought over is wanted no more."""


@dataclass
class Live:
    """A job folder that is served. May be called by several threads."""

    folder: Path
    clock: PageClock
    turn: threading.Lock = field(default_factory=threading.Lock)
    """Held by whoever writes, from looking at what is known until it is on disk."""
    added: dict[tuple[str, ...], bytes] = field(default_factory=dict)
    """What was put into ``job.toml`` since the page began, by the ids of its faults."""

    def __post_init__(self) -> None:
        self._reading = Rereading(self.folder)
        self._shown: Shown | None = None
        self._wrong = ""
        self._wake = threading.Event()
        self._stopped = False
        self._guard = threading.Lock()
        self._news = threading.Condition()
        self._not_kept: set[int] = set()
        self._notes: OrderedDict[int, tuple[str, ...]] = OrderedDict()
        self._supposed: OrderedDict[tuple[str, ...], Supposed] = OrderedDict()
        self._thread = threading.Thread(target=copy_context().run, args=(self._think,), name="planning", daemon=True)

    def start(self) -> None:
        """Begin to plan. Raises as ``service.moment`` does where the job cannot be read at all."""
        self.now()
        sys.setswitchinterval(SWITCH_SECONDS)
        self._thread.start()

    def stop(self) -> None:
        self._stopped = True
        self._wake.set()

    def now(self) -> Moment:
        """What is known now. Raises as ``service.moment`` does."""
        return self._reading.moment(self.clock.today())

    @property
    def shown(self) -> Shown | None:
        """The plan that is shown, old or not."""
        return self._shown

    def holds(self, number: int) -> bool:
        """Whether the plan shown under this number was kept, so that the numbers of its steps are theirs for good."""
        shown = self._shown
        return shown is not None and 0 < number <= shown.number and number not in self._not_kept

    def standing(self) -> PlanStanding:
        """The plan that is shown beside what is known now; where the job cannot be read, what is wrong with it."""
        shown, wrong = self._shown, self._wrong
        try:
            now = self.now()
        except OptimiserError as trouble:
            return PlanStanding(shown, None, wording.error(trouble, written=True))
        if shown is None or _differ(shown.now, now):
            self._wake.set()
            return PlanStanding(shown, now, wrong)
        return PlanStanding(shown, now)

    def await_news(self) -> PlanStanding:
        """As ``standing``; while something is thought over only once that is done, or after ``NEWS_SECONDS``."""
        standing, is_open = self.standing(), self._open()
        if not (standing.is_old or is_open):
            return standing
        with self._news:
            self._news.wait_for(lambda: self._shown is not standing.shown or self._open() != is_open, NEWS_SECONDS)
        return self.standing()

    def _open(self) -> list[Supposed]:
        return [one for one in self.supposed() if one.is_open]

    def wrote(self, numbers: tuple[int, ...], notes: list[str]) -> None:
        """What somebody should know of entries that were just written; and a new plan is wanted."""
        with self._guard:
            self._notes[numbers[0]] = tuple(notes)
            while len(self._notes) > MOST_KEPT:
                self._notes.popitem(last=False)
        self._wake.set()

    def notes_of(self, number: int) -> tuple[str, ...]:
        """What is to be known of an entry that this page wrote."""
        return self._notes.get(number, ())

    def suppose(self, wanted: Supposed) -> Supposed:
        """The what-if of this key, thought over in its turn; made anew where something else is known by now."""
        with self._guard:
            found = self._supposed.get(wanted.key)
            if found is None or _differ(found.asked_at, wanted.asked_at):
                found = self._supposed[wanted.key] = wanted
            self._supposed.move_to_end(wanted.key)
            while len(self._supposed) > MOST_KEPT:
                self._supposed.popitem(last=False)
        if found.is_open:
            self._wake.set()
        return found

    def supposed(self) -> tuple[Supposed, ...]:
        """Every what-if that was asked, the earliest first."""
        with self._guard:
            return tuple(self._supposed.values())

    def _think(self) -> None:
        while not self._stopped:
            self._wake.wait(LOOK_SECONDS)
            self._wake.clear()
            try:
                if self._plan_again() or self._suppose_next():
                    with self._news:
                        self._news.notify_all()
                else:
                    self._stretch()
            except SupersededError:
                self._wake.set()
            except Exception as trouble:  # noqa: BLE001 - the thread must outlive whatever it meets
                self._wrong = wording.error(trouble, written=True)
                if getattr(trouble, "exit_code", EXIT_FAULT) == EXIT_FAULT:
                    sys.stderr.write(self._wrong)

    def _plan_again(self) -> bool:
        """The plan once more where something is known that it does not know; whether it was made."""
        now, before = self.now(), self._shown
        if before is not None and not _differ(before.now, now):
            self._wrong = ""
            return False
        if before is not None and before.now.job == now.job:  # a word to remember moves nothing
            report = replace(before.report, entries=now.record)
            self._show(replace(before, number=before.number + 1, now=now, report=report))
            return True
        began = time.monotonic()
        last = service.last(now)
        plan = service.plan(now.job, last, self._unless_superseded(now))
        plan = steps.carried_on(plan, now.plans.numbering)
        took = time.monotonic() - began
        report = service.report(now, plan, took, progress=self._unless_superseded(now))
        number = 1 if before is None else before.number + 1
        self._show(Shown(number, now, plan, report, self._kept(now, plan)))
        self._wrong = ""
        self._wake.set()
        return True

    def _show(self, shown: Shown) -> None:
        if shown.trouble:
            self._not_kept.add(shown.number)
        self._shown = shown

    def _kept(self, now: Moment, plan: Plan) -> str:
        """Keep the plan, so that its step numbers can be written down by; else say why it is not kept."""
        try:
            service.keep(self.folder, now, plan, self.clock.now())
        except OptimiserError as trouble:
            return wording.error(trouble, written=True)
        return ""

    def _suppose_next(self) -> bool:
        """Think the latest open what-if over; whether there was one."""
        if not (asked := self._open()):
            return False
        wanted = asked[-1]
        try:
            answer = self._thought_over(wanted)
        except OptimiserError as trouble:
            answer = replace(wanted, wrong=wording.error(trouble, written=True))
        with self._guard:
            if self._supposed.get(wanted.key) is wanted:
                self._supposed[wanted.key] = answer
        self._wake.set()
        return True

    def _thought_over(self, wanted: Supposed) -> Supposed:
        heed = self._unless_superseded(wanted.asked_at)
        if wanted.fault:
            found = service.compare(wanted.now.job, wanted.fault, service.last(wanted.now), heed)
            return replace(wanted, comparison=found)
        again = service.again(wanted.now, progress=heed)
        plan = steps.as_what_if(again.plan, wanted.asked_at.plans.numbering)
        moves = again.moves and again.moves.model_copy(update={"plan": plan})
        return replace(wanted, plan=plan, moves=moves)

    def _stretch(self) -> None:
        """While nobody asks for anything: what other pots would bring, beside the plan that is shown."""
        shown = self._shown
        if shown is None or shown.stretched:
            return
        found = None
        with suppress(OptimiserError):  # the plan stands without it
            found = service.stretch(shown.now.job, (), self._unless_superseded(shown.now, idle=True), FEW, shown.plan)
        self._shown = replace(shown, report=replace(shown.report, stretch=found), stretched=True)

    def _unless_superseded(self, planned: Moment, *, idle: bool = False) -> Callable[[str], None]:
        """Told what is worked on; lets go of it where something else is known by now, or, if ``idle``, is asked."""

        def heed(_: str) -> None:
            if self._stopped:
                raise SupersededError
            if self._wake.is_set():
                self._wake.clear()
                if _differ(planned, self.now()) or (idle and self._open()):
                    raise SupersededError

        return heed


def _differ(one: Moment, other: Moment) -> bool:
    """Whether the folder or the record is another."""
    return one.record != other.record or (one.folder is not other.folder and one.folder != other.folder)
