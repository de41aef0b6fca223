"""Forced options and switch points against plain enumeration, one step to either side of every point."""

from __future__ import annotations

from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from optimiser import options
from optimiser.mix import solve
from optimiser.mix.what_if import WhatIf
from optimiser.model.job import Job
from tests import brute_force
from tests.small_jobs import jobs

many = settings(max_examples=100, deadline=None, suppress_health_check=list(HealthCheck))


def asked(job: Job, data: st.DataObject):
    """A what-if on one of the faults that the best mix mends."""
    selection = solve.best(job, options.build(job))
    assume(selection.options)
    option = data.draw(st.sampled_from(selection.options))
    fault = next(f for f in job.faults if f.id == option.fault)
    offer = options.build(job, whole={fault.id})
    return WhatIf(job, offer, fault, selection), option, fault


@many
@given(jobs(), st.data())
def test_every_forced_option_has_the_best_mix_that_takes_it(job: Job, data: st.DataObject) -> None:
    what_if, _, fault = asked(job, data)
    every = list(brute_force.mixes(job))
    for forced in (what_if.forced(option) for option in what_if.mix.by_fault[fault.id]):
        with_it = [m for m in every if forced.option.key in m.keys]
        assert forced.known
        if forced.selection is None:
            assert not with_it
        else:
            best = min(with_it, key=lambda m: m.rank[:2])
            values = [v for name, v in forced.selection.levels.items() if name != "net-cost"]
            assert (tuple(values), forced.selection.levels["net-cost"]) == (best.values, best.net)


@many
@given(jobs(), st.data())
def test_the_price_point_is_where_the_choice_changes(job: Job, data: st.DataObject) -> None:
    what_if, option, _ = asked(job, data)
    points = what_if.switch_points()
    assert points is not None
    for surcharge in (points.surcharge_minor - 1, points.surcharge_minor + 1):
        if surcharge >= 0:
            best = brute_force.best(job, surcharge={option.key: surcharge})
            assert (option.key in best.keys) == (surcharge < points.surcharge_minor)


@many
@given(jobs(), st.data())
def test_the_chance_point_is_where_the_choice_changes(job: Job, data: st.DataObject) -> None:
    what_if, option, fault = asked(job, data)
    points = what_if.switch_points()
    assert points is not None
    step = 2e-6 / fault.importance
    if job.settings.aim == "profit" and fault.sale_gain_minor:
        step = max(step, 2 / fault.sale_gain_minor)
    above, below = points.chance + step, points.chance - step
    if points.chance + step < option.chance:
        assert option.key in brute_force.best(job, chances={option.key: above}).keys
    if below >= 0:
        assert option.key not in brute_force.best(job, chances={option.key: below}).keys
    if points.any_fall_loses and option.chance > step:
        assert option.key not in brute_force.best(job, chances={option.key: option.chance - step}).keys
