"""The mix against plain enumeration on random small jobs with all features on."""

from __future__ import annotations

import random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from optimiser.certificate import plan
from optimiser.model.job import Job, Solve
from optimiser.model.plan import LAST, Selection
from optimiser.model.route import Route
from optimiser.planning import explain, options
from optimiser.solver import solve
from tests import brute_force
from tests.effort import examples
from tests.small_jobs import jobs

many = examples(150, usual=16)
few = examples(40)


def chosen(job: Job, last: Selection | None = None) -> Selection:
    offer = options.build(job)
    selection = solve.best(job, offer, last)
    plan.certify(explain.plan(job, offer, selection, {}))
    return selection


def last_stage(job: Job, expected: brute_force.Mix) -> tuple[str, int]:
    """Net cost by itself where an hour is worth nothing, or is in the profit already."""
    if job.settings.aim == "profit" or not job.hour_worth_minor:
        return "net-cost", expected.net
    return "cost-and-time", expected.last_stage


def agrees(job: Job, selection: Selection, **moved: object) -> None:
    expected = brute_force.best(job, **moved)
    *values, last = selection.levels.items()
    assert tuple(value for _, value in values) == expected.values
    assert last == last_stage(job, expected)
    assert {o.key for o in selection.options} == expected.keys
    assert tuple(sorted(selection.packs.items())) == expected.packs
    assert selection.outcome.proven


@many
@given(jobs())
def test_the_mix_is_the_best_of_all(job: Job) -> None:
    agrees(job, chosen(job))


@pytest.mark.slow
@settings(max_examples=5000, deadline=None, suppress_health_check=list(HealthCheck))
@given(jobs(most_quotes=7))
def test_the_mix_is_the_best_of_all_on_many_jobs(job: Job) -> None:
    agrees(job, chosen(job))


@many
@given(jobs(most_quotes=8))
def test_leaving_out_dominated_quotes_changes_nothing(job: Job) -> None:
    short, whole = options.build(job), options.build(job, whole={fault.id for fault in job.faults})
    assert {o.key for o in short.options} <= {o.key for o in whole.options}
    one, other = solve.best(job, short), solve.best(job, whole)
    assert (one.levels, [o.key for o in one.options], dict(one.packs)) == (
        other.levels,
        [o.key for o in other.options],
        dict(other.packs),
    )


@few
@given(jobs(), st.data())
def test_among_equals_the_mix_stays_nearest_to_the_last_plan(job: Job, data: st.DataObject) -> None:
    offer = options.build(job)
    last = {}
    for fault in job.faults:
        own = [o for o in offer.options if o.fault == fault.id]
        if own and data.draw(st.booleans()):
            last[fault.id] = data.draw(st.sampled_from(own))
    before = chosen(job).model_copy(update={"routes": tuple(Route.once(o) for o in last.values())})
    agrees(job, chosen(job, before), last={fault: option.key for fault, option in last.items()})


@few
@given(jobs(), st.randoms(use_true_random=False))
def test_the_order_of_rows_changes_nothing(job: Job, rng: random.Random) -> None:
    shuffled = {}
    for name in ("quotes", "suppliers", "faults", "parts", "access"):
        rows = list(getattr(job, name))
        rng.shuffle(rows)
        shuffled[name] = tuple(rows)
    one, other = chosen(job), chosen(job.model_copy(update=shuffled))
    assert one.levels == other.levels
    assert [o.key for o in one.options] == [o.key for o in other.options]
    assert dict(one.packs) == dict(other.packs)


@examples(25)
@given(jobs(most_faults=2))
def test_cbc_finds_the_same_mix(job: Job) -> None:
    agrees(job, chosen(job.model_copy(update={"solve": Solve(solver="cbc")})))


@few
@given(jobs(), st.data())
def test_one_quote_more_never_lowers_the_stages(job: Job, data: st.DataObject) -> None:
    if not job.quotes:
        return
    dropped = data.draw(st.integers(0, len(job.quotes) - 1))
    fewer = job.model_copy(update={"quotes": tuple(q for i, q in enumerate(job.quotes) if i != dropped)})
    less, more = chosen(fewer), chosen(job)
    stages = [name for name in more.levels if name not in LAST]
    assert [more.levels[s] for s in stages] >= [less.levels[s] for s in stages]


@few
@given(jobs(), st.integers(1, 9))
def test_a_dearer_direct_price_never_raises_the_stages(job: Job, rise: int) -> None:
    first = job.faults[0]
    dearer = tuple(r.model_copy(update={"price_minor": r.price_minor + rise}) for r in first.repairs)
    faults = (first.model_copy(update={"repairs": dearer}), *job.faults[1:])
    cheap, dear = chosen(job), chosen(job.model_copy(update={"faults": faults}))
    stages = [name for name in cheap.levels if name not in LAST]
    assert [cheap.levels[s] for s in stages] >= [dear.levels[s] for s in stages]
