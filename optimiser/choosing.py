"""Put routes forward, choose the mix, and leave out the checks that are not worth their time, until the plan stands."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from copy import copy
from dataclasses import dataclass, replace

from optimiser import options
from optimiser.diagnosis import twins
from optimiser.diagnosis.judged import Idle, Placed, judged
from optimiser.diagnosis.proposals import FaultSearch, Found
from optimiser.diagnosis.routes import Worth
from optimiser.diagnosis.shares import Scene
from optimiser.mix import solve
from optimiser.model.job import Job, Time
from optimiser.model.offer import Offer
from optimiser.model.option import Option
from optimiser.model.plan import MONEY, PROFIT, CheckWorth, Outcome, Selection, Verdict, per_minor
from optimiser.reckoned import Reckoned, check_of

Progress = Callable[[str], None]
WORTH_A_FIRST_SIGHT = 1000
"""Routes put forward from which on the whole search takes some seconds."""


@dataclass(frozen=True)
class Chosen:
    """A selection with what it was chosen from, what each check adds to it, and how its routes were searched.

    ``solved`` is the job as the solver had it: without its hours where they turned out not to matter. ``cut`` holds the
    faults with so many options that only some were searched as fallbacks, and how many. ``search`` is None where each
    option is tried once and left at that.
    """

    job: Job
    solved: Job
    offer: Offer
    selection: Selection
    verdicts: Mapping[str, Verdict]
    cut: Mapping[str, int]
    search: Search | None = None

    @property
    def hours_limited(self) -> bool:
        """Whether the job limits the hours."""
        return self.job.time.minutes is not None

    @property
    def hours_free(self) -> bool:
        """Whether the routes were searched without regard to hours that the job limits."""
        return self.hours_limited and self.solved.time.minutes is None

    def with_selection(self, selection: Selection) -> Chosen:
        """The same choice of another mix, about whose checks nothing is said."""
        return replace(self, selection=selection, verdicts={})


@dataclass(frozen=True)
class FirstSight:
    """Where to show a mix that is found soon, while everything is still searched, and what it is to think over.

    Faults that are not ``changed`` begin as in the last plan if it did anything about them. Not shown where it would
    pass the hours, or where the whole search takes no longer.
    """

    show: Callable[[Chosen], None]
    changed: Collection[str]


def chosen(job: Job, last: Selection | None, progress: Progress, first_sight: FirstSight | None = None) -> Chosen:
    """The best mix of routes, none of them over the hours, no check in it that is not worth its time."""
    if not job.settings.fallbacks:
        offer = options.build(job)
        return Chosen(job, job, offer, solve.best(job, offer, last, progress), {}, {})
    offer = options.build(job, whole={fault.id for fault in job.faults})
    unlimited = job.model_copy(update={"time": Time()})
    search = Search(unlimited, offer, progress)
    if first_sight is not None and last is not None:
        _show_soon(job, search, last, first_sight)
    pick = replace(_settled(search, last, progress), job=job)
    if too_long(pick):
        progress("the hours matter")
        pick = _settled(Search(job, offer, progress), last, progress)
    return pick


def _show_soon(job: Job, search: Search, last: Selection, first_sight: FirstSight) -> None:
    """Choose among routes that begin as before, and show the mix."""
    put = search.offer()
    if len(put.proposals) < WORTH_A_FIRST_SIGHT:
        return
    first = {route.fault: route.first_step for route in last.routes if route.fault not in first_sight.changed}
    near = replace(put, routes=tuple(p for p in put.proposals if first.get(p.fault, p.first_step) == p.first_step))
    pick = Chosen(job, search.job, near, solve.best(search.job, near, last), {}, search.cut)
    if not too_long(pick):
        first_sight.show(pick)


def too_long(pick: Chosen) -> bool:
    """Whether the longest paths together take more than the owner's hours."""
    limit = pick.job.time.minutes
    return limit is not None and _reckoned(pick).minutes > limit


def within_hours(pick: Chosen) -> Chosen:
    """The same choice, with routes that are searched within the hours."""
    whole = options.build(pick.job, whole={fault.id for fault in pick.job.faults})
    gone = {f: {check.check for check in verdict.checks if check.left_out} for f, verdict in pick.verdicts.items()}
    search = Search(pick.job, whole, lambda _: None).without(gone)
    return replace(pick, solved=pick.job, offer=search.offer(), search=search)


def _settled(search: Search, last: Selection | None, progress: Progress) -> Chosen:
    """Choose, judge the checks at the money that their routes may take, and choose again without the idle ones.

    A check is judged with all else as it is; where the whole mix turns out to lose more by it than the limits allow,
    it is put back and stays.
    """
    job = search.job
    pick = _best(job, search, last, progress)
    gone: dict[str, tuple[CheckWorth, ...]] = {}
    stays: frozenset[tuple[str, str]] = frozenset()
    while True:
        verdicts, idle = search.judge(pick, stays)
        if not idle:
            faults = {*verdicts, *gone}
            return replace(pick, verdicts={f: _with(verdicts.get(f, Verdict()), gone.get(f, ())) for f in faults})
        fewer = search.without({fault: {check.check for check in checks} for fault, checks in idle.items()})
        other = _best(job, fewer, last, progress)
        if _loses(job, pick.selection, other.selection, sum(map(len, idle.values()))):
            stays |= {(fault, check.check) for fault, checks in idle.items() for check in checks}
        else:
            search, pick = fewer, other
            gone |= {fault: (*gone.get(fault, ()), *checks) for fault, checks in idle.items()}


def _best(job: Job, search: Search, last: Selection | None, progress: Progress) -> Chosen:
    put = search.offer()
    return Chosen(job, job, put, search.known_to(solve.best(job, put, last, progress)), {}, search.cut, search)


def _loses(job: Job, before: Selection, after: Selection, checks: int) -> bool:
    """Whether the mix without so many checks is worse by more than they may be worth."""
    gain = job.settings.check_must_gain * checks
    for name, old in before.levels.items():
        new = after.levels[name]
        if name in MONEY:
            worse = old - new if name == PROFIT else new - old
            return worse > gain * max(0, job.pot.remaining_minor) * per_minor(name)
        if new != old:
            return old - new > gain * 1_000_000
    return False


def _with(verdict: Verdict, gone: Iterable[CheckWorth]) -> Verdict:
    """The verdict with the checks that were left out before it."""
    return verdict.model_copy(update={"checks": (*verdict.checks, *gone)})


def _reckoned(pick: Chosen) -> Reckoned:
    return Reckoned(pick.job, pick.selection, {quote.id: quote for quote in pick.offer.quotes})


class Search:
    """The searches of all faults of a job, kept so that only what changes is searched again."""

    def __init__(self, job: Job, offer: Offer, progress: Progress) -> None:
        self.job, self.whole, self.progress = job, offer, progress
        believed = twins.standings(job)
        scene = Scene.of(job, offer.options, offer.quotes, timed=job.time.minutes is not None)
        self.faults = {
            fault.id: FaultSearch(
                scene,
                fault,
                believed[fault.id].chances,
                job.seen.get(fault.id, ()),
                [option for option in offer.options if option.fault == fault.id],
                () if options.needs_licence(job, fault) else fault.checks,
            )
            for fault in sorted(job.faults, key=lambda f: f.id)
        }
        self.found: dict[str, Found] = {}
        self.contested = scene.contested

    def offer(self) -> Offer:
        """What the mix may choose from."""
        for number, (fault, search) in enumerate(self.faults.items(), start=1):
            if fault not in self.found:
                self.progress(f"routes, fault {number} of {len(self.faults)}")
                self.found[fault] = search.found()
        routes = tuple(p for fault in self.faults for p in self.found[fault].proposals)
        return replace(self.whole, routes=routes, told_apart=self.contested)

    def asked(self, fault: str, options: Iterable[Option]) -> Offer | None:
        """What the mix could choose from if these were the fault's options; the other faults are not searched again.

        None where it would not be all that there is.
        """
        own = self.faults[fault]
        found = FaultSearch(own.scene, own.fault, own.belief, own.seen, list(options), own.checks).found()
        if found.fallbacks is not None or found.short > 0 or found.short_minor > 0:
            return None
        routes = tuple(p for name in self.faults for p in (found if name == fault else self.found[name]).proposals)
        return replace(self.whole, routes=routes, told_apart=self.contested)

    @property
    def cut(self) -> dict[str, int]:
        """The faults with so many options that only some were searched as fallbacks, and how many."""
        return {fault: found.fallbacks for fault, found in self.found.items() if found.fallbacks is not None}

    def without(self, checks: Mapping[str, Collection[str]]) -> Search:
        """The searches without these checks by fault; those of the other faults are kept."""
        fewer = copy(self)
        fewer.faults = {f: search.without(checks[f]) if f in checks else search for f, search in self.faults.items()}
        fewer.found = {fault: found for fault, found in self.found.items() if fault not in checks}
        return fewer

    def known_to(self, selection: Selection) -> Selection:
        """The selection with its outcome as well known as the routes were searched."""
        short = {found.fault: found for found in self.found.values() if found.short > 0 or found.short_minor > 0}
        if not short:
            return selection
        importance = {fault.id: fault.importance for fault in self.job.faults}
        known = selection.outcome
        money = known.unit == "money" or (known.proven and self.job.settings.aim == "profit")
        step = self.job.settings.chance_step  # both chances count to the nearest step
        more = sum(
            f.short_minor if money else 1_000_000 * importance[f.fault] * (f.short + step) for f in short.values()
        )
        stage = known.stage or ("profit" if money else "all-faults")
        outcome = Outcome(
            proven=False,
            stage=stage,
            unit="money" if money else "fixes",
            better_at_most=known.better_at_most + round(more),
        )
        return selection.model_copy(update={"outcome": outcome})

    def judge(
        self, pick: Chosen, stays: Collection[tuple[str, str]]
    ) -> tuple[dict[str, Verdict], dict[str, list[CheckWorth]]]:
        """What the checks of every fault add, and those that its route makes and are not worth their time.

        ``stays`` are checks, by fault, that are not to be left out whatever they add.
        """
        reckoned = _reckoned(pick)
        sure = frozenset(order.supplier.id for order in reckoned.orders)
        placed = Placed(sure.union(reckoned.unsure_suppliers), sure, frozenset(reckoned.opened))
        must_gain = self.job.settings.check_must_gain
        must_save = must_gain * max(0, self.job.pot.remaining_minor)
        verdicts: dict[str, Verdict] = {}
        idle: dict[str, list[CheckWorth]] = {}
        for route in pick.selection.routes:
            search = self.faults[route.fault]
            if not search.checks:
                continue
            verdict = judged(search, route, placed, must_gain, must_save)
            taken = {step.check for step in route.checks}
            worth = [self._worth(route.fault, gone.worth, idle=gone) for gone in verdict.gone]
            out = [check for check in worth if (route.fault, check.check) not in stays]
            if any(found.check in taken for found in out):
                idle[route.fault] = out
            kept = [self._worth(route.fault, found, taken=found.check in taken) for found in verdict.kept]
            kept += [
                check.model_copy(update={"left_out": False, "same_next": False, "taken": check.check in taken})
                for check in worth
                if check not in out
            ]
            verdicts[route.fault] = Verdict(
                checks=(*kept, *out),
                rival_fixes=None if verdict.rival is None else verdict.rival.fixes,
                rival_saved_minor=0.0 if verdict.rival is None else verdict.rival.saved_minor,
            )
        return verdicts, idle

    def _worth(self, fault: str, found: Worth, *, taken: bool = False, idle: Idle | None = None) -> CheckWorth:
        return CheckWorth(
            check=found.check,
            fixes=found.fixes,
            saved_minor=found.saved_minor,
            minutes=check_of(self.job, fault, found.check).minutes,
            taken=taken,
            left_out=idle is not None,
            same_next=idle is not None and idle.same_next,
        )
