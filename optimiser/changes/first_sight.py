"""What can be said soon of a long search: the plan with only those faults thought over that anything changed for."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.model.job import Fault, Job


def changed(then: Job, now: Job) -> frozenset[str]:
    """The faults of which anything is not as it was, those that need a part otherwise offered, and their twins."""
    parts = {
        row.part for was, is_now in ((then.quotes, now.quotes), (then.owned, now.owned)) for row in {*was} ^ {*is_now}
    }
    touched = [fault for fault in _all(now) if _differs(fault, then, now) or parts & set(_needs(fault))]
    twins = {fault.twin for fault in touched} - {None}
    return frozenset(fault.id for fault in _all(now) if fault in touched or fault.twin in twins)


def _all(job: Job) -> tuple[Fault, ...]:
    return (*job.faults, *job.closed)


def _differs(fault: Fault, then: Job, now: Job) -> bool:
    was, is_now = ((job.seen.get(fault.id), job.tried_on.get(fault.id), fault.id in job.left) for job in (then, now))
    return fault not in _all(then) or was != is_now


def _needs(fault: Fault) -> Iterator[str]:
    return (part for repair in fault.repairs for part in repair.parts)
