"""START HERE. One function a verb; each reads top to bottom: read, put routes forward, choose the mix, explain."""

from __future__ import annotations

import difflib
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from optimiser import explain, notices, read
from optimiser.errors import CallError
from optimiser.mix import certify
from optimiser.model.job import Fault, Job
from optimiser.model.plan import Comparison, Notice, Plan, Selection

if TYPE_CHECKING:
    from optimiser.choosing import Chosen

MOST_NAMED = 10
Progress = Callable[[str], None]


def quiet(_: str) -> None:
    """No progress shown."""


def plan(job: Job, last: Selection | None = None, progress: Progress = quiet) -> Plan:
    """The best mix for the job as it stands, certified; among equals the one nearest to ``last``.

    Raises ``InputError`` for a job that cannot be planned, ``SolverError`` and ``PlanRefusedError`` for faults of the
    program.
    """
    from optimiser import choosing  # noqa: PLC0415 - what plans nothing needs no solver

    return drawn_up(choosing.chosen(job, last, progress))


def compare(job: Job, fault_id: str, progress: Progress = quiet) -> Comparison:
    """Every option of one fault, each with the best plan that tries it first, and the first one's switch points."""
    from optimiser import choosing, comparing  # noqa: PLC0415

    fault = find_fault(job, fault_id)
    return comparing.compared(choosing.chosen(job, None, progress), [fault], drawn_up, progress)[0]


def why(job: Job, progress: Progress = quiet) -> tuple[Plan, tuple[Comparison, ...]]:
    """The plan, with every option of every fault forced and the switch points of all choices."""
    from optimiser import choosing, comparing  # noqa: PLC0415

    pick = choosing.chosen(job, None, progress)
    best = drawn_up(pick)
    faults = [choice.fault for choice in best.choices]
    return best, tuple(comparing.compared(pick, faults, drawn_up, progress))


def verify(folder: Path, today: date) -> tuple[Job, list[Notice]]:
    """Read everything and plan nothing: the job, and what gives cause for care.

    Raises ``InputError`` with all that is wrong.
    """
    job = read.job(folder, today)
    return job, notices.of_job(job)


def find_fault(job: Job, fault_id: str) -> Fault:
    """The fault with this id. Raises ``CallError`` with the nearest ones where there is none."""
    for fault in job.faults:
        if fault.id == fault_id:
            return fault
    known = [fault.id for fault in job.faults]
    near = difflib.get_close_matches(fault_id, known, n=3, cutoff=0.4) or known[:MOST_NAMED]
    mend = f"Did you mean: {', '.join(near)}?" if near else "It lists no faults yet."
    raise CallError(f"the job has no fault {fault_id!r}.", mend)


def drawn_up(pick: Chosen) -> Plan:
    """The plan for a choice, with the cautions of all that it touches. Raises ``PlanRefusedError`` where it fails."""
    systems = {fault.system for fault in pick.job.faults if pick.selection.route_for(fault.id) is not None}
    drawn = explain.plan(
        pick.job, pick.offer, pick.selection, read.cautions_for(sorted(systems)), pick.verdicts, pick.cut
    )
    certify.certify(drawn)
    return drawn
