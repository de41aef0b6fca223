"""The question as it is asked: which kept plan to compare with, the plan made now, and what moved between them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from time import monotonic

from optimiser.calls import call
from optimiser.changes.attribution import Deadline, Progress, Then, moves
from optimiser.changes.worth_switching import margin
from optimiser.errors import CallError
from optimiser.model.events import PlanMade
from optimiser.model.job import Job
from optimiser.model.moves import Moves
from optimiser.model.plan import Plan, Selection
from optimiser.planning import choose
from optimiser.planning.choose import Chosen
from optimiser.state import Moment
from optimiser.state.history import MOST_WHOLE

Draw = Callable[[Chosen], Plan]
"""Draws a choice up as a certified plan."""
MOST_LISTED = 10


def last_seen(now: Moment) -> Then | None:
    """The last kept plan that can be made out."""
    return next(_readable(now), None)


def last_other(now: Moment) -> Then | None:
    """The last kept plan that knew less than is known now; where each knows as much, the last one."""
    first = None
    for then in _readable(now):
        if then.differs(now):
            return then
        first = first or then
    return first


def wanted(number: int | None, now: Moment) -> Then:
    """The kept plan of this number; without one the last that knew less. Raises ``CallError`` where there is none."""
    then = last_other(now) if number is None else numbered(number, now)
    if then is None:
        mend = f"Make one: {call('plan')}." if now.plans.made else f"None is kept yet: {call('plan')} makes one."
        raise CallError("There is no earlier plan that can be compared with.", mend)
    return then


def numbered(number: int, now: Moment) -> Then:
    """The kept plan of this number. Raises ``CallError`` with those there are, or where it cannot be made out."""
    made = next((plan for plan in now.plans.made if plan.number == number), None)
    if made is None:
        raise CallError(f"The record keeps no plan {number}.", listed(now.plans.made))
    kept = now.plans.kept(made)
    if kept is not None and kept.thinned:
        raise CallError(
            f"Plan {number} is too old to be compared with: the last {MOST_WHOLE} plans are kept whole.", _oldest(now)
        )
    then = Then.of(made, kept, now)
    if then is None:
        raise CallError(f"Plan {number} was kept in a way that cannot be made out.", "Compare with another one.")
    return then


def _oldest(now: Moment) -> str:
    numbers = [then.made.number for then in _readable(now)]
    return f"Compare with plan {numbers[-1]} or a later one." if numbers else f"Make one: {call('plan')}."


def listed(plans: Sequence[PlanMade]) -> str:
    """The plans that are kept, the latest ones by name."""
    if not plans:
        return f"None is kept yet: {call('plan')} makes one."
    said = [f"{p.number} ({p.at:%Y-%m-%d %H:%M} UTC, after entry {p.after})" for p in plans[-MOST_LISTED:]]
    return f"It keeps {'' if len(plans) <= MOST_LISTED else f'{len(plans)}, the last of them '}{', '.join(said)}."


@dataclass(frozen=True)
class Replanned:
    """The plan made now, near to the one before it, and what moved; None where there is none to compare with."""

    plan: Plan
    moves: Moves | None


def ask(
    then: Then | None,
    now: Moment,
    draw: Draw,
    seconds: float,
    progress: Progress,
) -> Replanned:
    """Plan now, and compare with ``then`` if there is one."""
    if then is None:
        return Replanned(draw(choose.chosen(now.job, None, progress)), None)
    found = against(then, now, draw, seconds, progress)
    return Replanned(found.plan, found)


def against(
    then: Then,
    now: Moment,
    draw: Draw,
    seconds: float,
    progress: Progress,
) -> Moves:
    """Plan now, and compare with ``then``; no longer than ``seconds`` go into looking for causes."""
    began = monotonic()
    last = then.nearest(now)
    pick = choose.chosen(now.job, last, progress)
    clock = Deadline(seconds, longest=monotonic() - began)
    better = margin(pick, last)
    return moves(then, now, draw(pick), _replanned, margin=better, clock=clock, progress=progress)


def since(plan: Plan, now: Moment, clock: Deadline, progress: Progress) -> Moves | None:
    """A plan that is made already beside the last that knew less; None where no kept one can be made out.

    Causes are looked for by the ``clock``.
    """
    then = last_other(now)
    if then is None:
        return None
    return moves(then, now, plan, _replanned, clock=clock, progress=progress)


def _replanned(job: Job, near: Selection | None) -> Selection:
    return choose.chosen(job, near, lambda _: None).selection


def _readable(now: Moment) -> Iterator[Then]:
    found = (Then.of(made, now.plans.kept(made), now) for made in reversed(now.plans.made))
    return (then for then in found if then is not None)
