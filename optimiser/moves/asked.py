"""The question as it is asked: which kept plan to compare with, the plan made now, and what moved between them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from time import monotonic

from optimiser import choosing, keeping
from optimiser.choosing import Chosen
from optimiser.errors import CallError
from optimiser.model.happening import Entry, Happening, PlanMade
from optimiser.model.job import Job
from optimiser.model.moves import Moves
from optimiser.model.plan import Plan, Selection
from optimiser.moves.margin import margin
from optimiser.moves.moment import Moment
from optimiser.moves.since import Clock, Progress, Then, moves

MOST_LISTED = 10


def supposed(entries: Sequence[Entry], happenings: Iterable[Happening]) -> tuple[Entry, ...]:
    """The record as if these had happened too."""
    first = len(entries) + 1
    return (*entries, *(Entry(number, each) for number, each in enumerate(happenings, start=first)))


def last_seen(plans: Sequence[PlanMade], now: Moment) -> Then | None:
    """The last kept plan that can be made out."""
    return next(_readable(plans, now), None)


def last_other(plans: Sequence[PlanMade], now: Moment) -> Then | None:
    """The last kept plan that knew less than is known now; where each knows as much, the last one."""
    first = None
    for then in _readable(plans, now):
        if then.differs(now):
            return then
        first = first or then
    return first


def wanted(plans: Sequence[PlanMade], number: int | None, now: Moment) -> Then:
    """The kept plan of this number; without one the last that knew less. Raises ``CallError`` where there is none."""
    then = last_other(plans, now) if number is None else numbered(plans, number, now)
    if then is None:
        mend = "Make one: optimiser plan." if plans else "None is kept yet: optimiser plan makes one."
        raise CallError("There is no earlier plan that can be compared with.", mend)
    return then


def numbered(plans: Sequence[PlanMade], number: int, now: Moment) -> Then:
    """The kept plan of this number. Raises ``CallError`` with those there are, or where it cannot be made out."""
    made = next((plan for plan in plans if plan.number == number), None)
    if made is None:
        raise CallError(f"The record keeps no plan {number}.", listed(plans))
    then = Then.of(made, keeping.read(made.text), now)
    if then is None:
        raise CallError(f"Plan {number} was kept in a way that cannot be made out.", "Compare with another one.")
    return then


def listed(plans: Sequence[PlanMade]) -> str:
    """The plans that are kept, the latest ones by name."""
    if not plans:
        return "None is kept yet: optimiser plan makes one."
    said = [f"{p.number} ({p.at:%Y-%m-%d %H:%M} UTC, after entry {p.after})" for p in plans[-MOST_LISTED:]]
    return f"It keeps {'' if len(plans) <= MOST_LISTED else f'{len(plans)}, the last of them '}{', '.join(said)}."


@dataclass(frozen=True)
class Asked:
    """The plan made now, near to the one before it, and what moved; None where there is none to compare with."""

    plan: Plan
    moves: Moves | None


def ask(then: Then | None, now: Moment, draw: Callable[[Chosen], Plan], seconds: float, progress: Progress) -> Asked:
    """Plan now, and compare with ``then`` if there is one."""
    if then is None:
        return Asked(draw(choosing.chosen(now.standing.job, None, progress)), None)
    found = against(then, now, draw, seconds, progress)
    return Asked(found.plan, found)


def against(then: Then, now: Moment, draw: Callable[[Chosen], Plan], seconds: float, progress: Progress) -> Moves:
    """Plan now, and compare with ``then``; no longer than ``seconds`` go into looking for causes."""
    began = monotonic()
    last = then.nearest(now)
    pick = choosing.chosen(now.standing.job, last, progress)
    clock = Clock(seconds, longest=monotonic() - began)

    def replan(job: Job, near: Selection | None) -> Selection:
        return choosing.chosen(job, near, lambda _: None).selection

    better = margin(pick, last)
    return moves(then, now, draw(pick), replan, margin=better, clock=clock, progress=progress)


def _readable(plans: Sequence[PlanMade], now: Moment) -> Iterator[Then]:
    found = (Then.of(made, keeping.read(made.text), now) for made in reversed(plans))
    return (then for then in found if then is not None)
