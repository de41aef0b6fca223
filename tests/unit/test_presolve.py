"""What HiGHS is told to leave out of its presolve changes how long it takes, never the plan."""

from __future__ import annotations

import pytest
from hypothesis import given

from optimiser.model.job import Job
from optimiser.model.plan import Selection
from optimiser.planning import choose
from optimiser.solver import backends
from optimiser.solver.formulation import build
from tests.effort import examples
from tests.small_route_jobs import job_of, jobs


def chosen(job: Job, many: int) -> Selection:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(backends, "MANY_ROUTES", many)
        return choose.chosen(job, None, lambda _: None).selection


@given(jobs(faults=3))
@examples(40, usual=5)
def test_a_plan_is_the_same_with_the_presolve_for_many_routes(job: Job) -> None:
    assert chosen(job, 0) == chosen(job, 10**9)


def test_the_rules_go_by_the_routes_that_are_open() -> None:
    job = job_of(7, faults=3)
    mix = build(job, choose.chosen(job, None, lambda _: None).offer)
    few, many = (13,), (13, 15, 16)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(backends, "MANY_ROUTES", len(mix.take))
        assert backends._idle_rules(mix) == many
        next(iter(mix.take.values())).upBound = 0
        assert backends._idle_rules(mix) == few
