"""START HERE. One function a verb; each reads top to bottom: read, build the options, choose the mix, explain."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

from optimiser import explain, options, read
from optimiser.errors import CallError
from optimiser.landed import extra_cost
from optimiser.mix import certify, solve, what_if
from optimiser.model.job import Fault, Job
from optimiser.model.option import Offer
from optimiser.model.plan import Comparison, Forced, Notice, Plan, Selection

Progress = Callable[[str], None]


def quiet(_: str) -> None:
    """No progress shown."""


def plan(job: Job, last: Selection | None = None, progress: Progress = quiet) -> Plan:
    """The best mix for the job as it stands, certified; among equals the one nearest to ``last``.

    Raises ``InputError`` for a job that cannot be planned, ``SolverError`` and ``PlanRefusedError`` for faults of the
    program.
    """
    offer = options.build(job)
    selection = solve.best(job, offer, last, progress)
    return _drawn_up(job, offer, selection)


def compare(job: Job, fault_id: str, progress: Progress = quiet) -> Comparison:
    """Every option of one fault, each with the best plan that takes it, and the switch points of the chosen one."""
    fault = find_fault(job, fault_id)
    return _compared(plan(job, progress=progress), fault, progress)


def why(job: Job, progress: Progress = quiet) -> tuple[Plan, tuple[Comparison, ...]]:
    """The plan, with every option of every fault forced and the switch points of all choices."""
    best = plan(job, progress=progress)
    return best, tuple(_compared(best, choice.fault, progress) for choice in best.choices)


def verify(folder: Path, today: date) -> list[Notice]:
    """Read everything and plan nothing: what gives cause for care. Raises ``InputError`` with all that is wrong."""
    return explain.job_notices(read.job(folder, today))


def find_fault(job: Job, fault_id: str) -> Fault:
    """The fault with this id. Raises ``CallError`` with the nearest ones where there is none."""
    for fault in job.faults:
        if fault.id == fault_id:
            return fault
    near = difflib.get_close_matches(fault_id, [f.id for f in job.faults], n=3, cutoff=0.4)
    known = ", ".join(near or [f.id for f in job.faults])
    raise CallError(f"the job has no fault {fault_id!r}.", f"Did you mean: {known}?")


def _drawn_up(job: Job, offer: Offer, selection: Selection) -> Plan:
    systems = {fault.system for fault in job.faults if selection.option_for(fault.id) is not None}
    drawn = explain.plan(job, offer, selection, read.cautions_for(sorted(systems)))
    certify.certify(drawn)
    return drawn


def _compared(best: Plan, fault: Fault, progress: Progress) -> Comparison:
    asked = what_if.WhatIf(best.job, fault, best.selection)
    return Comparison(plan=best, fault=fault, rows=tuple(_forced_rows(best, asked, progress)))


def _forced_rows(best: Plan, asked: what_if.WhatIf, progress: Progress) -> Iterator[Forced]:
    progress(f"{asked.fault.id}: switch points")
    switch = asked.switch_points()
    taken = best.selection.option_for(asked.fault.id)
    for number, forced in enumerate(asked.forced(), start=1):
        progress(f"{asked.fault.id}: option {number} of {len(asked.options)}")
        drawn = None if forced.selection is None else _drawn_up(best.job, asked.offer, forced.selection)
        yield Forced(
            option=forced.option,
            alone_minor=extra_cost(best.job, forced.option)[1],
            plan=drawn,
            loses=_losers(best, drawn, asked.fault),
            switch=switch if taken is not None and forced.option.key == taken.key else None,
            known=forced.known,
        )


def _losers(best: Plan, other: Plan | None, fault: Fault) -> tuple[str, ...]:
    """Faults that stand a smaller chance in the other plan."""
    if other is None:
        return ()
    return tuple(
        c.fault.id for c in best.choices if c.fault.id != fault.id and other.choice(c.fault.id).chance < c.chance - 1e-9
    )
