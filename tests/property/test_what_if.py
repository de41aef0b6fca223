"""Forced options and switch points against plain enumeration, one step to either side of every point."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from optimiser.model.job import Job
from optimiser.model.plan import LAST
from optimiser.planning import choose, options
from optimiser.solver import narrowing, solve
from optimiser.solver.climbing import climb
from optimiser.solver.exact_solve import Clock, Ending
from optimiser.solver.formulation import build
from optimiser.solver.program import total
from optimiser.solver.what_if import WhatIf
from tests import brute_force, small_route_jobs
from tests.effort import examples
from tests.property.test_mix import last_stage
from tests.small_jobs import jobs
from tests.tiny_job import but

many = examples(100, usual=8)


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
    for forced in (what_if.forced(option) for option in what_if.mix.offer.options if option.fault == fault.id):
        with_it = [m for m in every if forced.option.key in m.keys]
        assert forced.known
        if forced.selection is None:
            assert not with_it
        else:
            best = min(with_it, key=lambda m: m.rank[:2])
            *values, last = forced.selection.levels.items()
            assert tuple(value for _, value in values) == best.values
            assert last == last_stage(job, best)


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
    graded = job.settings.safety_first and fault.severity == "dangerous"
    step = job.settings.chance_step if graded or job.settings.aim == "fixes" else 0
    assert points.chance == 0 or not step or points.chance == pytest.approx(round(points.chance / step) * step)
    apart = step or 2e-6 / fault.importance
    if job.settings.aim == "profit" and fault.sale_gain_minor:  # profit is told apart by whole minor units
        apart = max(apart, 2 / fault.sale_gain_minor)
    counts = float(brute_force.in_steps(Fraction(option.chance), step))
    falls = (points.chance + apart, points.chance - apart, counts - apart)
    stay = [chance >= 0 and option.key in brute_force.best(job, chances={option.key: chance}).keys for chance in falls]
    assert stay[0] or falls[0] >= counts
    assert not stay[1]
    assert not (points.any_fall_loses and stay[2])


fewer = examples(40, usual=5)


@fewer
@given(jobs(most_faults=2, most_quotes=5), st.data())
def test_with_fallbacks_no_forced_mix_is_better(job: Job, data: st.DataObject) -> None:
    job = but(job, settings=but(job.settings, fallbacks=True))
    pick = choose.chosen(job, None, lambda _: None)
    fault = data.draw(st.sampled_from(job.faults))
    what_if = WhatIf(pick.solved, pick.offer, fault, pick.selection)
    best = tuple(-v if name in LAST else v for name, v in pick.selection.levels.items())
    for option in (o for o in pick.offer.options if o.fault == fault.id):
        forced = what_if.forced(option)
        assert forced.known
        if forced.selection is not None:
            assert forced.selection.route_for(fault.id).first_step == option.key
            assert tuple(-v if name in LAST else v for name, v in forced.selection.levels.items()) <= best


@fewer
@given(small_route_jobs.jobs(faults=2), st.data())
def test_a_forced_mix_is_the_best_of_those_that_begin_so(job: Job, data: st.DataObject) -> None:
    """By the whole program with the fault's other routes closed, those too that no best mix of all would take."""
    pick = choose.chosen(job, None, lambda _: None)
    fault = data.draw(st.sampled_from(job.faults))
    offer = pick.offer.without_outdone({fault.id})
    what_if = WhatIf(pick.solved, offer, fault, pick.selection)
    for option in (o for o in offer.options if o.fault == fault.id):
        mix = build(pick.solved, offer)
        inside = [mix.take[p.key] for p in mix.by_fault.get(fault.id, []) if p.first_step == option.key]
        if not inside:
            continue
        for column in (mix.take[p.key] for p in mix.by_fault.get(fault.id, [])):
            column.upBound = int(any(column is one for one in inside))
        mix.row("taken", total(inside) >= 1)
        mix.forced = frozenset(column.name for column in inside)
        whole = climb(mix, mix.stages, Clock(60))
        with pytest.MonkeyPatch.context() as patched:
            patched.setattr(narrowing, "WORTH_SHRINKING", 1)
            forced = what_if.forced(option).selection
        if whole.ending is Ending.IMPOSSIBLE:
            assert forced is None
        else:
            assert forced is not None
            assert {name: forced.levels[name] for name in whole.levels} == whole.levels
