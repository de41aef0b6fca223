"""The plan as a function of the pot against plain enumeration, minor unit by minor unit."""

from __future__ import annotations

import pytest
from hypothesis import assume, given, reject

from optimiser.model.job import Job
from optimiser.model.plan import LAST
from optimiser.model.stretch import Rung, Stretch
from optimiser.planning.stretch import stretched
from optimiser.solver.least_money import with_left
from tests import brute_force, brute_force_routes
from tests.effort import examples
from tests.small_jobs import jobs
from tests.small_route_jobs import job_of
from tests.small_route_jobs import jobs as route_jobs

RICH = 10**4
MOST_MIXES = 20_000
"""Of a job with routes, each of which is asked for at every point: more take minutes and gigabytes."""
ENOUGH = 400
"""More than any mix of these jobs costs."""


def whole(job: Job) -> Stretch:
    return stretched(job, (), lambda _: None, None)


def values(rung: Rung) -> tuple[int, ...]:
    return tuple(value for name, value in rung.plan.selection.levels.items() if name not in LAST)


@examples(120, usual=12)
@given(jobs())
def test_every_minor_unit_brings_what_enumeration_says(job: Job) -> None:
    known = whole(job)
    mixes = sorted(brute_force.mixes(with_left(job, RICH)), key=lambda mix: mix.cash)
    best, place = max(mix.values for mix in mixes if mix.cash == 0), 0
    assert known.complete
    for left in range(ENOUGH):
        while place < len(mixes) and mixes[place].cash <= left:
            best, place = max(best, mixes[place].values), place + 1
        rung = known.at(left)
        assert values(rung) == best, left
        assert rung.plan.purse.cash_minor == rung.least_minor <= left
    assert place == len(mixes) or known.rungs[-1].until_minor is None


@pytest.mark.long
@examples(60, usual=5)
@given(route_jobs())
def test_with_routes_every_point_is_where_the_best_of_all_trees_changes(job: Job) -> None:
    try:
        assume(brute_force_routes.search(with_left(job, RICH), MOST_MIXES).size <= MOST_MIXES)
    except brute_force_routes.TooManyTreesError:
        reject()
    changes_there(job)


@pytest.mark.parametrize("seed", [4061])
def test_points_that_were_once_refused(seed: int) -> None:
    """4061: two options share two pieces, of which one wants one and the other two."""
    changes_there(job_of(seed))


def changes_there(job: Job) -> None:
    known = whole(job)
    slack = len(job.faults) if job.settings.aim == "profit" and job.hour_worth_minor else 0
    for low, rung in zip((None, *known.rungs), known.rungs, strict=False):
        assert rung.plan.outcome.proven
        found = values(rung)
        best = brute_force_routes.best(with_left(job, rung.least_minor)).values
        assert found[:-1] == best[:-1]
        assert abs(found[-1] - best[-1]) <= slack
        if low is not None and not slack and known.proven_at(rung.least_minor - 1):
            assert brute_force_routes.best(with_left(job, rung.least_minor - 1)).values == values(low)
    assert known.complete or job.time.hours is not None


@examples(60, usual=12)
@given(jobs())
def test_the_least_money_that_is_safe_is_where_safety_comes_to_its_most(job: Job) -> None:
    known = whole(job)
    careful = job.model_copy(update={"settings": job.settings.model_copy(update={"safety_first": True})})
    mixes = list(brute_force.mixes(with_left(careful, RICH)))
    if all(fault.severity != "dangerous" for fault in job.faults):
        assert known.safe_minor is None
    else:
        most = max(mix.values[0] for mix in mixes)
        assert known.safe_minor == min(mix.cash for mix in mixes if mix.values[0] == most)


@examples(40, usual=4)
@given(jobs())
def test_an_overview_says_nothing_that_the_whole_does_not(job: Job) -> None:
    few, every = stretched(job, (3, 7), lambda _: None), whole(job)
    for left in (*(rung.least_minor for rung in few.rungs), few.now_minor, few.now_minor + 3, few.now_minor + 7):
        assert values(few.at(left)) == values(every.at(left))
        assert few.proven_at(left)
