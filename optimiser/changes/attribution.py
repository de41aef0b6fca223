"""The plan now against an earlier one, and what brought each move about: found by planning again without each cause."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import reduce
from time import monotonic

from optimiser.changes.causes import Difference, differences
from optimiser.changes.difference import AWAY, CLOSED, Earlier, State, side_by_side, sums
from optimiser.changes.kept_plan_now import STOP, Sources, nearest
from optimiser.errors import InputError
from optimiser.model.events import PlanMade, PriceCorrected, Purchase
from optimiser.model.job import Job, needed_parts
from optimiser.model.moves import Cause, Explained, Margin, Move, Moves
from optimiser.model.plan import Plan, Selection
from optimiser.state import Moment
from optimiser.state.history import KeptPlan

Progress = Callable[[str], None]
Replan = Callable[[Job, Selection | None], Selection]
"""The best mix for a job, near to an earlier one among equals."""


@dataclass(frozen=True)
class Then:
    """An earlier plan that can be compared with: when it was made, what it was, and the job at that moment."""

    made: PlanMade
    kept: KeptPlan
    selection: Selection
    moment: Moment
    seen: list[tuple[Moment, Earlier]] = field(default_factory=list, compare=False, repr=False)

    @classmethod
    def of(cls, made: PlanMade, kept: KeptPlan | None, now: Moment) -> Then | None:
        """None where the kept plan cannot be made out. What the folder said is taken for unchanged where not kept."""
        if kept is None or kept.selection is None:
            return None
        return cls(made, kept, kept.selection, now.at(made.after, kept.job))

    def earlier(self, now: Moment) -> Earlier:
        """The plan, seen from now; told once of a moment, for there may be very many quotes."""
        for moment, known in self.seen:
            if moment is now:
                return known
        since = tuple(entry for entry in now.record if entry.number > self.made.after)
        then = self.moment.standing.job
        parts = needed_parts((*then.faults, *then.closed, *now.standing.job.faults, *now.standing.job.closed))
        sources = Sources(now.record, then.sheets, now.standing.job.sheets, parts)
        earlier = Earlier(self.kept, self.selection, then, since, sources)
        self.seen.append((now, earlier))
        return earlier

    def differs(self, now: Moment) -> bool:
        """Whether anything is known that this plan did not know."""
        return not self.moment.has_plan_of(now)

    def nearest(self, now: Moment) -> Selection:
        """What a plan made now is to stay near to among equals."""
        earlier = self.earlier(now)
        return nearest(self.selection, now.job, earlier.since, earlier.sources)


@dataclass
class Deadline:
    """Whether there is time to plan once more: it may take as long as the longest so far."""

    seconds: float
    longest: float
    now: Callable[[], float] = monotonic
    began: float = field(init=False)

    def __post_init__(self) -> None:
        self.began = self.now()

    @property
    def up(self) -> bool:
        """Whether planning once more would pass the time allowed."""
        return self.now() - self.began + self.longest > self.seconds


def moves(
    then: Then,
    now: Moment,
    plan: Plan,
    replan: Replan,
    *,
    margin: Margin | None = None,
    clock: Deadline | None = None,
    progress: Progress = lambda _: None,
) -> Moves:
    """What became of each fault since ``then``, with the causes.

    Each cause is taken away by itself and the plan made again with ``replan`` (leave one out): a fault that then stands
    as before was moved by it. Faults that need none of them are tried with each as the only one (add one in): a finding
    is enough, and so is the part bought since. Jobs that come out alike are planned once, and not at all where they are
    the job now or the job then. With a ``clock`` the likeliest causes come first, and those that there was no time for
    stay open.
    """
    earlier = then.earlier(now)
    found = side_by_side(earlier, plan)
    wanted = [move for move in found if move.moved]
    trial = _Trial(then, now, plan.selection, replan, clock)
    causes = differences(then.moment, now)
    undone = _undone(trial, causes, wanted, earlier, progress)
    either = [move for move in wanted if not any(move.fault.id in faults for faults in undone.values())]
    done = _done_alone(trial, causes, either, earlier, progress) if len(undone) == len(causes) else {}
    told = tuple(
        difference.cause.model_copy(
            update={"moved": undone.get(n, ()), "checked": n in undone, "enough_for": done.get(n, ())}
        )
        for n, difference in enumerate(causes)
    )
    return Moves(
        number=then.made.number,
        at=then.made.at,
        plan=plan,
        moves=tuple(_explained(move, told) if move.moved else move for move in found),
        causes=told,
        before=earlier.sums(),
        now=sums(plan),
        spent_minor=now.job.pot.committed_minor - then.moment.job.pot.committed_minor,
        margin=margin,
        folder_known=then.kept.job is not None,
    )


def _undone(
    trial: _Trial, causes: Sequence[Difference], wanted: Sequence[Move], earlier: Earlier, progress: Progress
) -> dict[int, tuple[str, ...]]:
    """By cause, as far as there was time: the faults that would stand as before without it."""
    if not wanted:
        return dict.fromkeys(range(len(causes)), ())
    told: dict[int, tuple[str, ...]] = {}
    touched = _Touched(wanted)
    was = {move.fault.id: earlier.state(move.fault.id) for move in wanted}
    now = _states(was, trial.now, trial.chosen, earlier)
    for count, n in enumerate(sorted(range(len(causes)), key=lambda n: touched.rank(causes[n].cause)), start=1):
        progress(f"causes, {count} of {len(causes)}")
        without = causes[n].without(trial.now)
        selection = trial.selection(without)
        if selection is not None:
            would = _states(was, without, selection, earlier)
            told[n] = tuple(fault for fault in was if _undone_by(was[fault], now[fault], would[fault]))
    return told


def _done_alone(
    trial: _Trial, causes: Sequence[Difference], wanted: Sequence[Move], earlier: Earlier, progress: Progress
) -> dict[int, tuple[str, ...]]:
    """By cause, as far as there was time: the faults that would stand as now with it as the only one."""
    faults = [move.fault.id for move in wanted]
    told: dict[int, tuple[str, ...]] = {}
    was = {fault: earlier.state(fault) for fault in faults}
    now = _states(faults, trial.now, trial.chosen, earlier)
    for n in range(len(causes)) if faults else ():
        progress(f"causes by themselves, {n + 1} of {len(causes)}")
        others = (other.without for m, other in enumerate(causes) if m != n)
        alone = reduce(lambda moment, without: without(moment), others, trial.now)
        selection = trial.selection(alone)
        if selection is not None:
            would = _states(faults, alone, selection, earlier)
            told[n] = tuple(f for f in faults if would[f] == now[f] and (would[f].near(now[f]) or now[f] != was[f]))
    return told


def _states(faults: Iterable[str], moment: Moment, selection: Selection, earlier: Earlier) -> dict[str, State]:
    return {fault: State.of(fault, moment.standing.job, selection, earlier.sources) for fault in faults}


def _undone_by(before: State, now: State, would: State) -> bool:
    """Whether a fault that went from ``before`` to ``now`` does not make this move where it ``would`` be otherwise.

    What closes a fault or gives it up is undone by anything else; any other move only by standing as before, at the
    chance from before where nothing but that moved.
    """
    if now == before:
        return would == before and would.near(before)
    gone = (CLOSED, AWAY)
    if now.first in gone or (now.first == STOP and before.first not in gone):
        return would.first != now.first
    return would.tree == before.tree if now.first == before.first else would.first == before.first


def _explained(move: Move, causes: Sequence[Cause]) -> Move:
    """The move with what brought it about, as far as it was tried."""
    own = tuple(n for n, cause in enumerate(causes) if move.fault.id in cause.moved)
    found = Explained.ALONE if len(own) == 1 else Explained.EACH
    if not own:
        own, found = tuple(n for n, cause in enumerate(causes) if move.fault.id in cause.enough_for), Explained.ENOUGH
    if not own:
        all_tried = all(cause.checked for cause in causes)
        found = Explained.OPEN if not all_tried else Explained.TOGETHER if len(causes) > 1 else Explained.NOTHING
    return move.model_copy(update={"found": found, "causes": own})


class _Trial:
    """Plans made again; what is known already is not planned anew."""

    def __init__(self, then: Then, now: Moment, selection: Selection, replan: Replan, clock: Deadline | None) -> None:
        self.then, self.now, self.chosen, self.replan, self.clock = then, now, selection, replan, clock
        self.known: list[tuple[Moment, Selection]] = [(now, selection), (then.moment, then.selection)]

    def selection(self, moment: Moment) -> Selection | None:
        """The mix at that moment; None where there is no time for it, or where it cannot be planned by itself."""
        for known, selection in self.known:
            if known.has_plan_of(moment):
                return selection
        if self.clock is not None and self.clock.up:
            return None
        began = monotonic() if self.clock is None else self.clock.now()
        try:
            selection = self.replan(moment.planned, self.then.nearest(moment))
        except (InputError, KeyError, ValueError):  # what else was written leans on it
            return None
        if self.clock is not None:
            self.clock.longest = max(self.clock.longest, self.clock.now() - began)
        self.known.append((moment, selection))
        return selection


class _Touched:
    """What the moved faults have to do with: the likeliest causes are those that touch them."""

    def __init__(self, moved: Iterable[Move]) -> None:
        self.faults = {move.fault.id for move in moved}
        self.parts = needed_parts(move.fault for move in moved)

    def rank(self, cause: Cause) -> int:
        """The lower, the likelier."""
        happening = cause.happening
        parts = {pair.quote.part for pair in cause.quotes}
        if isinstance(happening, Purchase | PriceCorrected):
            parts.add(happening.part)
        names = {getattr(happening, "fault", None), *cause.place[:2]}
        if names & self.faults:
            return 0
        if parts & self.parts:
            return 1
        return 2 if happening is not None or cause.place[:1] == ("money",) else 3
