"""The shipped examples, each planned once a run."""

from __future__ import annotations

from datetime import date
from functools import cache
from pathlib import Path

import optimiser
from optimiser import job_folder, service
from optimiser.model.job import Job
from optimiser.model.plan import Plan

EXAMPLES = Path(optimiser.__file__).parents[1] / "examples"
TODAY = date(2026, 11, 24)


def job_of(name: str) -> Job:
    return job_folder.job(EXAMPLES / name, TODAY)


@cache
def plan_of(name: str) -> Plan:
    """Once a run: the tests of the full example all go to one worker. Its time is ample, however busy the machine."""
    job = job_of(name)
    ample = job.model_copy(update={"solve": job.solve.model_copy(update={"seconds": 600.0})})
    return service.plan(ample).model_copy(update={"job": job})
