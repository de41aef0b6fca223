"""START HERE. One function a verb; each reads top to bottom: read, put routes forward, choose the mix, explain."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from optimiser import notices, read
from optimiser.drawn import drawn_up
from optimiser.errors import CallError
from optimiser.model.job import Fault, Job
from optimiser.model.plan import Comparison, Notice, Plan, Selection
from optimiser.record import Store
from optimiser.replanning import Progress, again, keep, last, moved, quiet
from optimiser.standing import Standing, stood

if TYPE_CHECKING:
    from optimiser.choosing import Chosen
    from optimiser.model.basket import Basket
    from optimiser.model.intake import Arrived, Told
    from optimiser.model.quoted import QuotesCompared

__all__ = [
    "again", "basket", "compare", "compare_quotes", "drawn_up", "find_fault", "keep", "last", "moved", "plan",
    "standing", "take_in", "verify", "why",
]  # fmt: skip
MOST_NAMED = 10


def standing(folder: Path, today: date) -> Standing:
    """The job as it stands: what the folder says, with everything that its record holds worked in.

    Raises ``CallError`` and ``InputError`` for the folder, ``RecordError`` for the record.
    """
    return stood(read.job(folder, today), Store(folder).entries())


def plan(job: Job, last: Selection | None = None, progress: Progress = quiet) -> Plan:
    """The best mix for the job as it stands, certified; among equals the one nearest to ``last``.

    Raises ``InputError`` for a job that cannot be planned, ``SolverError`` and ``PlanRefusedError`` for faults of the
    program.
    """
    from optimiser import choosing  # noqa: PLC0415 - what plans nothing needs no solver

    return _priced(choosing.chosen(job, last, progress))


def _priced(pick: Chosen) -> Plan:
    """The plan drawn up, with what safety costs in it."""
    from optimiser import safety_cost  # noqa: PLC0415

    drawn = drawn_up(pick)
    return drawn.model_copy(update={"safety_cost": safety_cost.safety_cost(pick, drawn)})


def compare(job: Job, fault_id: str, progress: Progress = quiet) -> Comparison:
    """Every option of one fault, each with the best plan that tries it first, and the first one's switch points."""
    from optimiser import choosing, comparing  # noqa: PLC0415

    fault = find_fault(job, fault_id)
    return comparing.compared(choosing.chosen(job, None, progress), [fault], drawn_up, progress)[0]


def compare_quotes(
    job: Job, part: str | None = None, last: Selection | None = None, progress: Progress = quiet, *, alone: bool = False
) -> QuotesCompared:
    """The quotes of a part, or of all, held against the plan; ``alone``: by themselves, and nothing is planned."""
    from optimiser import quoted  # noqa: PLC0415

    return quoted.compared(job, None if alone else plan(job, last, progress), part, progress)


def why(job: Job, last: Selection | None = None, progress: Progress = quiet) -> tuple[Plan, tuple[Comparison, ...]]:
    """The plan, with every option of every fault forced and the switch points of all choices."""
    from optimiser import choosing, comparing  # noqa: PLC0415

    pick = choosing.chosen(job, last, progress)
    best = _priced(pick)
    faults = [choice.fault for choice in best.choices]
    return best, tuple(comparing.compared(pick, faults, drawn_up, progress))


def take_in(
    folder: Path,
    files: Sequence[Path],
    told: Told,
    today: date,
    progress: Progress = quiet,
    *,
    accept: bool = False,
    whole: bool = False,
    keep: bool = True,
    before_writing: Callable[[], object] = tuple,
) -> tuple[Job, tuple[Arrived, ...]]:
    """Suppliers' sheets as they came; with ``accept``, and if none is in doubt, their clean sheets enter the job."""
    from optimiser.read import intake  # noqa: PLC0415

    job = read.job(folder, today)
    day = job.settings.today or today
    how = {"accept": accept, "whole": whole, "keep": keep}
    return job, intake.take_in(folder, files, job, told, day, progress, **how, before_writing=before_writing)


def verify(folder: Path, today: date) -> tuple[Job, list[Notice]]:
    """Read everything and plan nothing: the job as it stands, and what gives cause for care.

    Raises ``InputError`` with all that is wrong, ``RecordError`` for the record.
    """
    job = standing(folder, today).job
    return job, notices.of_protection(job) + notices.of_job(job)


def basket(job: Job, words: Sequence[str], conditions: Sequence[str] = (), progress: Progress = quiet) -> Basket:
    """The cheapest suppliers for a list such as ``disc=2``, in these conditions (none: any); ``CallError`` if bad."""
    from optimiser import shopping  # noqa: PLC0415

    return shopping.filled(job, shopping.listed(job, words), shopping.conditions_of(conditions), progress)


def find_fault(job: Job, fault_id: str) -> Fault:
    """The fault with this id. Raises ``CallError`` with the nearest ones where there is none."""
    for fault in job.faults:
        if fault.id == fault_id:
            return fault
    if any(fault.id == fault_id for fault in job.closed):
        raise CallError(f"{fault_id} is cured.", "If it is back, write that down first.")
    known = [fault.id for fault in job.faults]
    near = difflib.get_close_matches(fault_id, known, n=3, cutoff=0.4) or known[:MOST_NAMED]
    mend = f"Did you mean: {', '.join(near)}?" if near else "It lists no faults yet."
    raise CallError(f"the job has no fault {fault_id!r}.", mend)
