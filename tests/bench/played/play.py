"""One job played to the end by one policy in one world, and what came of it."""

from __future__ import annotations

from dataclasses import dataclass

from optimiser.model.job import Job, Severity
from tests.bench.played.policies import Policy
from tests.bench.played.vehicle import Answers, Step, Vehicle

MOST_STEPS = 200
Known = dict[object, Step | None]
"""Next steps of one policy on one job by what has happened: many worlds begin alike."""


@dataclass(frozen=True)
class Tally:
    """What came of a job: faults cured (weighted by importance, and counted), money, minutes, steps.

    ``left_minor`` is the least that the pot ever held; below zero is an overrun. ``unused`` pieces were
    bought and never fitted.
    """

    weighted: float
    cured: int
    dangerous: int
    major: int
    spent_minor: int
    minutes: int
    left_minor: int
    steps: int
    mended: tuple[str, ...]
    unused: int = 0


def play(job: Job, answers: Answers, policy: Policy, known: Known | None = None) -> Tally:
    """Follow the policy until it has nothing left to do."""
    vehicle = Vehicle(job, answers)
    known = {} if known is None else known
    for taken in range(MOST_STEPS):
        so_far = tuple(entry.happening for entry in vehicle.entries)
        key = tuple(str(happening) for happening in so_far)
        if key not in known:
            known[key] = policy(vehicle.job)
        step = known[key]
        if step is None:
            return _tally(job, vehicle, taken)
        vehicle.do(step)
    raise AssertionError(f"{job.settings.title}: not done after {MOST_STEPS} steps")


def _tally(job: Job, vehicle: Vehicle, steps: int) -> Tally:
    open_now = {fault.id for fault in vehicle.job.faults}
    cured = [fault for fault in job.faults if fault.id not in open_now]
    return Tally(
        weighted=sum(fault.importance for fault in cured),
        cured=len(cured),
        dangerous=sum(fault.severity is Severity.DANGEROUS for fault in cured),
        major=sum(fault.severity is Severity.MAJOR for fault in cured),
        spent_minor=vehicle.spent_minor,
        minutes=vehicle.minutes,
        left_minor=vehicle.least_minor,
        steps=steps,
        unused=sum(vehicle.left.values()),
        mended=tuple(fault.id for fault in cured),
    )
