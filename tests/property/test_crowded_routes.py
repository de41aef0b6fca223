"""Jobs too large to be written out: the plan is certified, and what is added or made dearer moves it the right way."""

from __future__ import annotations

import random
from typing import Any

import pytest
from hypothesis import given

from optimiser import service
from optimiser.model.job import Check, Job
from optimiser.model.plan import LAST
from tests import brute_force_routes
from tests.effort import MOST_TREES, examples
from tests.searching import put_forward
from tests.small_route_jobs import crowded_jobs, crowded_of

pytestmark = pytest.mark.long

MOST_MIXES = 20_000


def exact(job: Job) -> Job:
    """The job with chances as they are: a gain of less than a step would round away one by one."""
    return job.model_copy(update={"settings": job.settings.model_copy(update={"chance_step": 0.0})})


def stages(job: Job) -> tuple[int, ...]:
    found = put_forward(job)
    assert found.outcome.proven
    return tuple(value for name, value in found.levels.items() if name not in LAST)


def never_better(worse: Job, job: Job) -> None:
    """For aim profit money is rounded route by route, so a unit a fault may come of that."""
    less, more = stages(worse), stages(job)
    if job.settings.aim == "profit" and less[:-1] == more[:-1]:
        assert less[-1] <= more[-1] + len(job.faults)
    else:
        assert less <= more


def is_certified(job: Job) -> None:
    service.plan(job)


def is_certified_whatever_is_tried_first(job: Job) -> None:
    for fault in job.faults:
        found = service.compare(job, fault.id)
        best = found.plan.selection.levels
        for row in found.rows:
            if row.known and row.plan is not None and found.plan.outcome.proven:
                levels = row.plan.selection.levels
                assert [levels[s] for s in levels if s not in LAST] <= [best[s] for s in best if s not in LAST]


def gains_by_a_quote(job: Job) -> None:
    """By one that never lapses: where one of a fault may, what is bought ahead counts from when it is there."""
    spare = next((quote for quote in reversed(job.quotes) if quote.valid_until is None), None)
    if spare is not None:
        never_better(job.model_copy(update={"quotes": tuple(q for q in job.quotes if q != spare)}), job)


def gains_by_a_free_check(job: Job) -> None:
    fault = job.faults[0]
    odds = {cause: round(0.1 + 0.8 * n / max(1, len(fault.causes)), 2) for n, cause in enumerate(fault.causes)}
    look = Check(id="further", results={"dead": {**odds, "something-else": 0.5}})
    more = fault.model_copy(update={"checks": (*fault.checks, look)})
    never_better(job, job.model_copy(update={"faults": (more, *job.faults[1:])}))


def loses_by_a_dearer_repair(job: Job) -> None:
    fault = job.faults[0]
    first = fault.repairs[0].model_copy(update={"price_minor": fault.repairs[0].price_minor + 4})
    dearer = fault.model_copy(update={"repairs": (first, *fault.repairs[1:])})
    never_better(job.model_copy(update={"faults": (dearer, *job.faults[1:])}), job)


def is_the_same_in_any_order(job: Job) -> None:
    rng = random.Random(7)
    quotes, suppliers, faults = (list(rows) for rows in (job.quotes, job.suppliers, job.faults))
    for rows in (quotes, suppliers, faults):
        rng.shuffle(rows)
    moved = {"quotes": tuple(quotes), "suppliers": tuple(suppliers), "faults": tuple(faults)}
    assert dict(put_forward(job.model_copy(update=moved)).levels) == dict(put_forward(job).levels)


def is_the_best_of_all_trees(job: Job) -> None:
    if len(job.quotes) > 4 or max(len(fault.checks) for fault in job.faults) > 2:
        return
    try:
        search = brute_force_routes.search(job, MOST_TREES)
    except brute_force_routes.TooManyTreesError:
        return
    if search.size > MOST_MIXES:
        return
    best, found = search.best(), stages(job)
    if job.settings.aim == "profit":
        assert found[:-1] == best.values[:-1]
        assert abs(found[-1] - best.values[-1]) <= len(job.faults)
    else:
        assert found == best.values


RULES = [
    is_certified,
    gains_by_a_quote,
    gains_by_a_free_check,
    loses_by_a_dearer_repair,
    is_the_same_in_any_order,
    is_the_best_of_all_trees,
]


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
def test_a_crowded_job(rule: Any) -> None:
    examples(12)(given(crowded_jobs())(lambda job: rule(exact(job))))()


def test_what_is_tried_instead_takes_no_more_pieces_than_there_are() -> None:
    is_certified_whatever_is_tried_first(crowded_of(862046893))


def test_with_a_further_check_what_is_bought_ahead_is_still_looked_for() -> None:
    gains_by_a_free_check(exact(crowded_of(7247766)))


@pytest.mark.slow
@pytest.mark.parametrize("rule", [*RULES, is_certified_whatever_is_tried_first], ids=lambda rule: rule.__name__)
def test_many_crowded_jobs(rule: Any) -> None:
    examples(500)(given(crowded_jobs())(lambda job: rule(exact(job))))()
