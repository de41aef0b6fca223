"""START HERE. One function a verb; each reads top to bottom: read, put routes forward, choose the mix, explain."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from optimiser import job_folder, names
from optimiser.bookkeeping import export, save, strike, suppose, take_back, write_down
from optimiser.errors import CallError, UnknownNameError
from optimiser.guide import guide
from optimiser.ledger import Store
from optimiser.model.job import Fault, Job
from optimiser.model.plan import Comparison, Notice, Plan, Selection
from optimiser.planning import notices
from optimiser.planning.draw_up import drawn_up, fault_in_full
from optimiser.planning.tonight import tonight
from optimiser.replanning import Progress, again, keep, last, moved, quiet
from optimiser.reporting import report, sale_paper, stretch
from optimiser.state import Moment
from optimiser.state.history import Plans
from optimiser.taking_out import take_out, taken_in

if TYPE_CHECKING:
    from optimiser.model.imports import Arrived, Told
    from optimiser.model.purchase_list import Basket
    from optimiser.model.quote_comparison import QuotesCompared
    from optimiser.planning.choose import Chosen

__all__ = [
    "again", "basket", "compare", "compare_quotes", "drawn_up", "export", "fault_in_full", "find_fault", "guide",
    "keep", "last", "moment", "moved", "plan", "report", "sale_paper", "save", "stretch", "strike", "suppose",
    "take_back", "take_in", "take_out", "taken_in", "tonight", "verify", "why", "write_down",
]  # fmt: skip


def moment(folder: Path, today: date) -> Moment:
    """What a call knows, read once: what the folder says, what its record holds, and the plans that it keeps.

    Raises ``CallError`` and ``InputError`` for the folder, ``RecordError`` for the record.
    """
    job, recorded = job_folder.job(folder, today), Store(folder).everything()
    return Moment(job, recorded.entries, plans=Plans(recorded.plans))


def plan(job: Job, last: Selection | None = None, progress: Progress = quiet) -> Plan:
    """The best mix for the job as it stands, certified; among equals the one nearest to ``last``.

    Raises ``InputError`` for a job that cannot be planned, ``SolverError`` and ``PlanRefusedError`` for faults of the
    program.
    """
    from optimiser.planning import choose  # noqa: PLC0415 - what plans nothing needs no solver

    return _priced(choose.chosen(job, last, progress))


def _priced(pick: Chosen) -> Plan:
    """The plan drawn up, with what safety costs in it."""
    from optimiser.planning import safety_cost  # noqa: PLC0415

    drawn = drawn_up(pick)
    return drawn.model_copy(update={"safety_cost": safety_cost.safety_cost(pick, drawn)})


def compare(job: Job, fault_id: str, last: Selection | None = None, progress: Progress = quiet) -> Comparison:
    """Every option of one fault, each with the best plan that tries it first, beside the plan nearest to ``last``."""
    from optimiser.planning import choose  # noqa: PLC0415
    from optimiser.planning import compare as comparing  # noqa: PLC0415

    fault = find_fault(job, fault_id)
    return comparing.compared(choose.chosen(job, last, progress), [fault], drawn_up, progress)[0]


def compare_quotes(
    job: Job, part: str | None = None, last: Selection | None = None, progress: Progress = quiet, *, alone: bool = False
) -> QuotesCompared:
    """The quotes of a part, or of all, held against the plan; ``alone``: by themselves, and nothing is planned."""
    from optimiser.planning import quote_comparison  # noqa: PLC0415

    return quote_comparison.compared(job, None if alone else plan(job, last, progress), part, progress)


def why(
    job: Job, last: Selection | None = None, progress: Progress = quiet, fault: str | None = None
) -> tuple[Plan, tuple[Comparison, ...]]:
    """The plan, with every option of every fault, or of one, forced and the switch points of all choices."""
    from optimiser.planning import choose  # noqa: PLC0415
    from optimiser.planning import compare as comparing  # noqa: PLC0415

    pick = choose.chosen(job, last, progress)
    best = _priced(pick)
    faults = [choice.fault for choice in best.choices if fault in (None, choice.fault.id)]
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
    """Suppliers' sheets as they came; with ``accept``, and if none is in doubt, their clean sheets enter the job.

    They are read by what the folder says; the job that comes back is the one that stands.
    """
    from optimiser import quote_import  # noqa: PLC0415

    now = moment(folder, today)
    day, how = now.folder.settings.today or today, {"accept": accept, "whole": whole, "keep": keep}
    return now.job, quote_import.take_in(
        folder, files, now.folder, told, day, progress, **how, before_writing=before_writing
    )


def verify(folder: Path, today: date) -> tuple[Job, list[Notice]]:
    """Read everything and plan nothing: the job as it stands, and what gives cause for care.

    Raises ``InputError`` with all that is wrong, ``RecordError`` for the record.
    """
    job = moment(folder, today).job
    return job, notices.of_protection(job) + notices.of_job(job) + notices.of_gaps(job)


def basket(job: Job, words: Sequence[str], conditions: Sequence[str] = (), progress: Progress = quiet) -> Basket:
    """The cheapest suppliers for a list such as ``disc=2``, in these conditions (none: any); ``CallError`` if bad."""
    from optimiser.planning import purchase_list  # noqa: PLC0415

    return purchase_list.filled(
        job, purchase_list.listed(job, words), purchase_list.conditions_of(conditions), progress
    )


def find_fault(job: Job, name: str) -> Fault:
    """The open fault that a name means. Raises ``CallError`` with those that it may mean where it means none."""
    known = {fault.id: fault for fault in (*job.faults, *job.closed)}
    meant = names.meant(name, {fault.id: fault.title for fault in known.values()})
    if meant.name is None:
        kind, mend = CallError if meant.several else UnknownNameError, names.mend(meant.offered, known)
        raise kind(*names.unclear(name, meant.several, f"the job has no fault {name!r}.", mend))
    if known[meant.name] in job.closed:
        raise CallError(f"{meant.name} is cured.", "If it is back, write that down first.")
    return known[meant.name]
