"""A time limit too short for a proof still ends in a certified plan that says honestly how much better one could be."""

from __future__ import annotations

from functools import cache

import pytest

from optimiser import job_folder, service
from optimiser.model.job import Solve
from optimiser.model.plan import Plan
from tests import tiny_job
from tests.bench import generate

pytestmark = pytest.mark.long


@cache
def best(faults: int) -> Plan:
    plan = service.plan(generate.job(faults, 7 * faults, seed=4))
    assert plan.outcome.proven
    return plan


@pytest.mark.parametrize("seconds", [1e-6, 0.02, 0.05, 0.2])
@pytest.mark.parametrize("faults", [8, pytest.param(20, marks=pytest.mark.slow)])
def test_what_the_best_has_more_is_within_the_stated_gap(faults: int, seconds: float) -> None:
    known = best(faults)
    short = service.plan(known.job.model_copy(update={"solve": Solve(seconds=seconds)}))  # certified, or it would raise
    outcome = short.outcome
    reached, possible = short.selection.levels, known.selection.levels
    names = list(possible)
    closed = names if outcome.proven else names[: names.index(outcome.stage)]
    assert [reached[name] for name in closed] == [possible[name] for name in closed]
    if not outcome.proven:
        assert 0 <= abs(possible[outcome.stage] - reached[outcome.stage]) <= outcome.better_at_most
    assert not (outcome.proven and seconds < 1e-5)


def test_the_generator_gives_the_same_job_again_and_its_folder_reads_as_that_job(tmp_path) -> None:
    job = generate.job(20, 150, seed=7)
    generate.write(job, tmp_path)
    assert job == generate.job(20, 150, seed=7)
    assert tiny_job.as_read(job) == job_folder.job(tmp_path, generate.TODAY)
    assert job != generate.job(20, 150, seed=8)
