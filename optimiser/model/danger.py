"""What is dangerous and not put right yet. Every answer says it, whatever is planned, so it is reckoned here alone."""

from __future__ import annotations

from enum import StrEnum

from optimiser.chances import whole_percent
from optimiser.model.base import Record
from optimiser.model.evidence import FailedAttempt
from optimiser.model.job import Fault, Job, Severity
from optimiser.model.plan import Selection
from optimiser.model.route import LONG_SHOT

SURE = 0.95
"""A dangerous fault that is less likely to be cured is always named as not sure (model page, section 4)."""


class DangerState(StrEnum):
    """How a dangerous fault stands, the worst first.

    ``AS_IT_IS``: the person leaves it. ``LEFT``: the plan does nothing about it. ``GIVEN_UP``: nor does it where an
    attempt failed. ``HARDLY``: it has a long shot alone. ``NOT_SURE``: below ``SURE``. ``OPEN``: the plan mends it, or
    nothing was planned; it is there until it is mended.
    """

    AS_IT_IS = "as-it-is"
    LEFT = "left"
    GIVEN_UP = "given-up"
    HARDLY = "hardly"
    NOT_SURE = "not-sure"
    OPEN = "open"


class Danger(Record):
    """A dangerous fault that is not cured; ``chance`` is that of a cure by the plan, None where nothing was planned."""

    fault: Fault
    state: DangerState
    chance: float | None


def dangers(job: Job, selection: Selection | None = None) -> tuple[Danger, ...]:
    """The dangerous faults of a job as it stands, by what a plan does about them if there is one, the worst first."""
    found = [_danger(job, fault, selection) for fault in job.faults if fault.severity == Severity.DANGEROUS]
    return tuple(sorted(found, key=lambda one: list(DangerState).index(one.state)))


def _danger(job: Job, fault: Fault, selection: Selection | None) -> Danger:
    if fault.id in job.left:
        return Danger(fault=fault, state=DangerState.AS_IT_IS, chance=None if selection is None else 0.0)
    if selection is None:
        return Danger(fault=fault, state=DangerState.OPEN, chance=None)
    route = selection.route_for(fault.id)
    if route is not None:
        return Danger(fault=fault, state=_by_chance(route.chance), chance=route.chance)
    failed = any(isinstance(entry, FailedAttempt) for entry in job.seen.get(fault.id, ()))
    tried = failed or bool(job.tried_on.get(fault.id))
    return Danger(fault=fault, state=DangerState.GIVEN_UP if tried else DangerState.LEFT, chance=0.0)


def _by_chance(chance: float) -> DangerState:
    """How one stands that a plan works on."""
    if whole_percent(chance) < LONG_SHOT:
        return DangerState.HARDLY
    return DangerState.NOT_SURE if chance < SURE else DangerState.OPEN
