"""The papers that are made of a plan and the record: the report, and what is told at the sale."""

from __future__ import annotations

from collections.abc import Sequence

from optimiser.model.job import Job
from optimiser.model.plan import Plan
from optimiser.model.report import Report
from optimiser.model.sale_paper import SalePaper
from optimiser.model.stretch import MANY, Stretch
from optimiser.replanning import Progress, quiet
from optimiser.state import Moment, sale_record

SECONDS_FOR_CAUSES = 1.0
"""A report is drawn, not searched: longer belongs to the verb that is asked what moved."""


def stretch(
    job: Job,
    wanted: Sequence[int] = (),
    progress: Progress = quiet,
    looks: int | None = MANY,
    plan: Plan | None = None,
) -> Stretch:
    """What every pot would bring, each point certified, in about so many looks; at the present one ``plan``, if given.

    ``wanted`` are further amounts in minor units to look at (none: some round ones); ``looks`` None: every point, as
    far as the job's seconds go. Raises as ``service.plan`` does.
    """
    from optimiser.planning import stretch as stretching  # noqa: PLC0415 - what plans nothing needs no solver

    found = stretching.stretched(job, wanted or stretching.usual(job.currency), progress, looks)
    return found if plan is None else found.beside(plan)


def report(
    now: Moment,
    plan: Plan,
    took_seconds: float,
    minutes: int | None = None,
    progress: Progress = quiet,
    stretch: Stretch | None = None,
) -> Report:
    """All that a report tells of a plan of this moment, which took so long to make.

    ``minutes`` are those of the evening (None: no end); ``stretch`` is what other pots would bring, where that was
    asked.
    """
    from optimiser import changes  # noqa: PLC0415 - only where something was planned
    from optimiser.planning import report as planned  # noqa: PLC0415

    clock = changes.Deadline(SECONDS_FOR_CAUSES, longest=took_seconds)
    moves = changes.since(plan, now, clock, progress) if now.plans.made else None
    return planned.report(plan, now.record, moves, minutes, stretch)


def sale_paper(now: Moment) -> SalePaper:
    """What was found and done, and what was left undone, from the record alone; nothing is planned."""
    return sale_record.paper(now.job, now.record)
