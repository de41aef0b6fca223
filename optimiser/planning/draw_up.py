"""A choice drawn up as a plan that may be shown: explained, with its cautions, and held against its certificate."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from optimiser import job_folder
from optimiser.certificate import plan
from optimiser.model import protection
from optimiser.model.job import Job
from optimiser.model.plan import Plan, Selection
from optimiser.planning import explain

if TYPE_CHECKING:
    from optimiser.planning.choose import Chosen


def drawn_up(pick: Chosen) -> Plan:
    """The plan for a choice, with the cautions of all that it touches. Raises ``PlanRefusedError`` where it fails."""
    cautions = _cautions(pick.job, pick.selection)
    checks_cut = {} if pick.search is None else pick.search.checks_cut
    drawn = explain.plan(pick.job, pick.offer, pick.selection, cautions, pick.verdicts, pick.cut, checks_cut)
    plan.certify(drawn)
    return drawn


def _cautions(job: Job, selection: Selection) -> dict[str, tuple[str, ...]]:
    """Those of all systems and kinds of part that the plan touches, and of checks that are dangerous themselves."""
    systems: set[str] = set()
    kinds: set[str] = set()
    minded: dict[str, list[str]] = defaultdict(list)
    for fault in job.faults:
        route = selection.route_for(fault.id)
        if route is None:
            continue
        systems.update(fault.systems)
        for part in {line.quote.part for step in route.attempts for line in step.option.lines}:
            row = job.part(part)
            kinds.update(filter(None, (row.kind, protection.implied(row, fault))))
        made = {step.check for step in route.checks}
        for check in (check for check in fault.checks if check.id in made):
            for danger in check.mind:
                minded[danger].append(check.title or f"{fault.id} {check.id}")
    return job_folder.cautions_for(systems, kinds, minded)
