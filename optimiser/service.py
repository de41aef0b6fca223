"""START HERE. One function a verb; each reads top to bottom: read, put routes forward, choose the mix, explain."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from optimiser import explain, notices, read
from optimiser.errors import CallError
from optimiser.mix import certify
from optimiser.model.happening import Happening, PlanMade
from optimiser.model.job import Fault, Job
from optimiser.model.moves import Moves
from optimiser.model.plan import Comparison, Notice, Plan, Selection
from optimiser.record import Store
from optimiser.standing import Standing, stood

if TYPE_CHECKING:
    from optimiser.choosing import Chosen
    from optimiser.moves import Asked

MOST_NAMED = 10
SECONDS_AFTER_A_WRITE = 5.0
"""For looking for causes when something was just written down."""
Progress = Callable[[str], None]


def quiet(_: str) -> None:
    """No progress shown."""


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


def moved(
    folder: Path, today: date, number: int | None = None, seconds: float = 60.0, progress: Progress = quiet
) -> Moves:
    """The plan now against a kept one, by default the last that did not know all that is known now, with the causes.

    No longer than ``seconds`` go into looking for causes. Raises ``CallError`` where no such plan is kept.
    """
    from optimiser import moves  # noqa: PLC0415

    everything = Store(folder).everything()
    now = moves.Moment(read.job(folder, today), everything.entries)
    return moves.against(moves.wanted(everything.plans, number, now), now, drawn_up, seconds, progress)


def again(
    folder: Path,
    today: date,
    suppose: Sequence[Happening] = (),
    seconds: float = SECONDS_AFTER_A_WRITE,
    progress: Progress = quiet,
) -> Asked:
    """The plan now, or as if more had happened, and what moved since the last kept one (None: none can be read)."""
    from optimiser import moves  # noqa: PLC0415

    everything = Store(folder).everything()
    now = moves.Moment(read.job(folder, today), moves.supposed(everything.entries, suppose))
    return moves.ask(moves.last_seen(everything.plans, now), now, drawn_up, seconds, progress)


def keep(folder: Path, today: date, plan: Plan, at: datetime) -> PlanMade:
    """Keep a plan that was shown, with what the folder said, for later plans to be compared with."""
    from optimiser import keeping  # noqa: PLC0415
    from optimiser.show import as_json  # noqa: PLC0415

    return Store(folder).add_plan(at, keeping.kept(plan, as_json.plan(plan), read.job(folder, today)))


def verify(folder: Path, today: date) -> tuple[Job, list[Notice]]:
    """Read everything and plan nothing: the job as it stands, and what gives cause for care.

    Raises ``InputError`` with all that is wrong, ``RecordError`` for the record.
    """
    job = standing(folder, today).job
    return job, notices.of_job(job)


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


def drawn_up(pick: Chosen) -> Plan:
    """The plan for a choice, with the cautions of all that it touches. Raises ``PlanRefusedError`` where it fails."""
    systems = {fault.system for fault in pick.job.faults if pick.selection.route_for(fault.id) is not None}
    drawn = explain.plan(
        pick.job, pick.offer, pick.selection, read.cautions_for(sorted(systems)), pick.verdicts, pick.cut
    )
    certify.certify(drawn)
    return drawn
