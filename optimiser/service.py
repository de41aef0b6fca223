"""START HERE. One function a verb; each reads top to bottom: read, build the options, choose the mix, explain."""

from __future__ import annotations

import difflib
import os
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, as_completed
from datetime import date
from pathlib import Path
from typing import Any

from optimiser import explain, options, read
from optimiser.errors import CallError
from optimiser.landed import Alone
from optimiser.mix import certify
from optimiser.model.job import Fault, Job
from optimiser.model.option import Offer, Option
from optimiser.model.plan import Comparison, Forced, Notice, Plan, Selection, SwitchPoints

MOST_NAMED = 10
Progress = Callable[[str], None]


def quiet(_: str) -> None:
    """No progress shown."""


def plan(job: Job, last: Selection | None = None, progress: Progress = quiet) -> Plan:
    """The best mix for the job as it stands, certified; among equals the one nearest to ``last``.

    Raises ``InputError`` for a job that cannot be planned, ``SolverError`` and ``PlanRefusedError`` for faults of the
    program.
    """
    from optimiser.mix import solve  # noqa: PLC0415 - what plans nothing needs no solver

    offer = options.build(job)
    selection = solve.best(job, offer, last, progress)
    return _drawn_up(job, offer, selection)


def compare(job: Job, fault_id: str, progress: Progress = quiet) -> Comparison:
    """Every option of one fault, each with the best plan that takes it, and the switch points of the chosen one."""
    fault = find_fault(job, fault_id)
    return _compared(plan(job, progress=progress), [fault], progress)[0]


def why(job: Job, progress: Progress = quiet) -> tuple[Plan, tuple[Comparison, ...]]:
    """The plan, with every option of every fault forced and the switch points of all choices."""
    best = plan(job, progress=progress)
    return best, tuple(_compared(best, [choice.fault for choice in best.choices], progress))


def verify(folder: Path, today: date) -> tuple[Job, list[Notice]]:
    """Read everything and plan nothing: the job, and what gives cause for care.

    Raises ``InputError`` with all that is wrong.
    """
    job = read.job(folder, today)
    return job, explain.job_notices(job)


def find_fault(job: Job, fault_id: str) -> Fault:
    """The fault with this id. Raises ``CallError`` with the nearest ones where there is none."""
    for fault in job.faults:
        if fault.id == fault_id:
            return fault
    known = [fault.id for fault in job.faults]
    near = difflib.get_close_matches(fault_id, known, n=3, cutoff=0.4) or known[:MOST_NAMED]
    mend = f"Did you mean: {', '.join(near)}?" if near else "It lists no faults yet."
    raise CallError(f"the job has no fault {fault_id!r}.", mend)


def _drawn_up(job: Job, offer: Offer, selection: Selection) -> Plan:
    systems = {fault.system for fault in job.faults if selection.option_for(fault.id) is not None}
    drawn = explain.plan(job, offer, selection, read.cautions_for(sorted(systems)))
    certify.certify(drawn)
    return drawn


def _compared(best: Plan, faults: Sequence[Fault], progress: Progress) -> list[Comparison]:
    """Force every option of these faults, several at a time: solvers run outside Python's lock."""
    offers = {fault.id: options.build(best.job, whole={fault.id}) for fault in faults}
    rows = [(fault, option) for fault in faults for option in offers[fault.id].options if option.fault == fault.id]
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        try:
            switches = {fault.id: pool.submit(_switch_points, best, fault, offers[fault.id]) for fault in faults}
            forced = [pool.submit(_forced, best, fault, offers[fault.id], option) for fault, option in rows]
            work: list[Future[Any]] = [*switches.values(), *forced]
            for done, _ in enumerate(as_completed(work), start=1):
                progress(f"{done} of {len(rows) + len(faults)} what-ifs")
        except BaseException:
            pool.shutdown(cancel_futures=True)
            raise
    answers = [row.result() for row in forced]
    return [
        Comparison(
            plan=best,
            fault=fault,
            rows=tuple(
                row.model_copy(update={"switch": switches[fault.id].result()}) if best.takes(row.option) else row
                for row in answers
                if row.option.fault == fault.id
            ),
        )
        for fault in faults
    ]


def _switch_points(best: Plan, fault: Fault, offer: Offer) -> SwitchPoints | None:
    from optimiser.mix import what_if  # noqa: PLC0415

    return what_if.WhatIf(best.job, offer, fault, best.selection).switch_points()


def _forced(best: Plan, fault: Fault, offer: Offer, option: Option) -> Forced:
    from optimiser.mix import what_if  # noqa: PLC0415

    found = what_if.WhatIf(best.job, offer, fault, best.selection).forced(option)
    drawn = None if found.selection is None else _drawn_up(best.job, offer, found.selection)
    return Forced(
        option=option,
        alone_minor=Alone(best.job, offer.quotes)(option)[1],
        plan=drawn,
        loses=_losers(best, drawn, fault),
        known=found.known,
    )


def _losers(best: Plan, other: Plan | None, fault: Fault) -> tuple[str, ...]:
    """Faults that stand a smaller chance in the other plan."""
    if other is None:
        return ()
    return tuple(
        c.fault.id for c in best.choices if c.fault.id != fault.id and other.choice(c.fault.id).chance < c.chance - 1e-9
    )
