"""What is left out before a program is stated is in no best mix: each such route forced, by the whole program."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.model.candidates import Offer
from optimiser.model.job import Job
from optimiser.planning import choose, options
from optimiser.solver import narrowing, solve
from optimiser.solver.climbing import climb, nothing_taken
from optimiser.solver.exact_solve import Clock, Ending
from optimiser.solver.formulation import build
from optimiser.solver.shrinking import Mixes, RouteTable
from tests import small_jobs, small_route_jobs
from tests.effort import examples


def put_forward(job: Job) -> Offer:
    """All that the mix may choose from."""
    offer = options.build(job, whole={fault.id for fault in job.faults})
    return choose.Search(job, offer, lambda _: None).offer() if job.settings.fallbacks else offer


def value(job: Job, offer: Offer, taken: tuple[str, ...] | None = None) -> tuple[int, ...] | None:
    """What the stages reach by the whole program, the more the better, a route forced; None where no mix holds it."""
    mix = build(job, offer)
    if taken is not None:
        mix.take[taken].lowBound = 1
        mix.forced = frozenset([mix.take[taken].name])
    found = climb(mix, mix.stages, Clock(60), None if taken is not None else nothing_taken(mix))
    if found.ending is Ending.IMPOSSIBLE:
        return None
    return tuple(found.levels[stage.name] * (1 if stage.maximise else -1) for stage in mix.stages)


any_job = st.one_of(small_route_jobs.jobs(), small_jobs.jobs())


@examples(60, usual=6)
@given(any_job)
def test_no_route_that_is_left_out_is_in_a_best_mix(job: Job) -> None:
    offer = put_forward(job)
    if not offer.proposals:
        return
    best = value(job, offer)
    table = RouteTable.of(job, offer)
    keep, held = table.all_open(), dict[str, int]()
    for stage, reached in zip(table.stages, best or (), strict=True):
        bounds = Mixes(table, keep, held).bounds(stage.name, rounds=6)
        assert bounds.greatest >= reached
        keep &= bounds.reach(stage.sign * reached)
        held[stage.name] = stage.sign * reached
    for row in np.flatnonzero(~keep).tolist()[:12]:
        forced = value(job, offer, table.proposals[row].key)
        assert forced is None or forced < best


@examples(60, usual=6)
@given(any_job, st.floats(0, 2), st.integers(0, 10**6))
def test_bounds_hold_at_any_prices(job: Job, dear: float, seed: int) -> None:
    offer = put_forward(job)
    if not offer.proposals:
        return
    best = value(job, offer)
    table = RouteTable.of(job, offer)
    held = dict[str, int]()
    for stage, reached in zip(table.stages, best or (), strict=True):
        usual = Mixes(table, table.all_open(), held).bounds(stage.name, rounds=1).prices
        prices = usual * dear * np.random.default_rng(seed).random(len(usual))
        assert Mixes(table, table.all_open(), held).bounds(stage.name, prices, rounds=0).greatest >= reached
        held[stage.name] = stage.sign * reached


@examples(60, usual=6)
@given(any_job)
def test_a_mix_over_what_is_left_is_the_best(job: Job) -> None:
    the_best_is_left(job)


@pytest.mark.parametrize("seed", [8677944, 500677])
def test_jobs_whose_best_mix_was_once_left_out(seed: int) -> None:
    """Goods that bring a waiver were held worth more than they cost, so that topping up seemed to bring too little."""
    the_best_is_left(small_route_jobs.job_of(seed))


@pytest.mark.parametrize("seed", [26, 122, 207])
def test_jobs_that_tell_a_bound_too_low(seed: int) -> None:
    """26: a route may be taken wherever more is paid than it needs. 122, 207: of a shared pack it pays its part."""
    the_best_is_left(small_route_jobs.job_of(seed))


def the_best_is_left(job: Job) -> None:
    offer = put_forward(job)
    with pytest.MonkeyPatch.context() as patched:
        whole = solve.best(job, offer)
        patched.setattr(narrowing, "WORTH_SHRINKING", 1)
        patched.setattr(narrowing, "OF_EACH", 1)
        patched.setattr(narrowing, "MORE", 1)
        assert solve.best(job, offer) == whole
