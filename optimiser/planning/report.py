"""The content of a report, drawn from a plan and the record: nothing is planned again for it."""

from __future__ import annotations

from collections.abc import Sequence

from optimiser.job_folder import package_data
from optimiser.model.events import Entry
from optimiser.model.job import Job
from optimiser.model.moves import Moves
from optimiser.model.plan import Plan
from optimiser.model.report import Cautions, Report
from optimiser.model.stretch import Stretch
from optimiser.planning.asking import wanted
from optimiser.planning.beside import beside
from optimiser.planning.cautions import cautions
from optimiser.planning.tonight import first_step_of, tonight


def report(
    plan: Plan,
    entries: Sequence[Entry],
    moves: Moves | None,
    minutes: int | None,
    stretch: Stretch | None = None,
) -> Report:
    """The report of a plan; ``minutes`` are those of the evening (None: no end)."""
    taken = [choice.fault.id for choice in plan.choices if choice.route is not None]
    return Report(
        plan=plan,
        tonight=tonight(plan, minutes),
        beside=beside(plan),
        cautions={name: _whole(plan, name) for name in taken},
        first_cautions={name: cautions(plan.job, [first_step_of(plan, name)]) for name in taken},
        wanted=wanted(plan),
        conditions=package_data.conditions(),
        entries=tuple(entries),
        moves=moves,
        stretch=stretch,
        written=_written(plan.job),
    )


def _whole(plan: Plan, fault: str) -> Cautions:
    route = plan.selection.route_for(fault)
    return {} if route is None else cautions(plan.job, [route])


def _written(job: Job) -> dict[str, frozenset[str]]:
    """The keys that somebody wrote, by table."""
    tables = {"job": job.settings, "money": job.pot, "time": job.time, "solve": job.solve}
    return {name: frozenset(table.model_fields_set) for name, table in tables.items()}
