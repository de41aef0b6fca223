"""A plan's orders written down line by line: whatever is in between, the plan does not become worse.

Random jobs with packs, waivers, minimums, trips and deposits. Postage is written down with the first line of an order.
"""

from __future__ import annotations

from hypothesis import assume, given
from hypothesis import strategies as st

from optimiser import service
from optimiser.model import events as h
from optimiser.model.job import Job
from optimiser.model.plan import MONEY, Plan
from optimiser.state import stood
from tests.effort import examples
from tests.small_jobs import jobs as jobs_tried_once
from tests.small_route_jobs import jobs
from tests.unit.state.scene import AT


def in_fixes(job: Job) -> Job:
    return job.model_copy(update={"settings": job.settings.model_copy(update={"aim": "fixes", "check_must_gain": 0.0})})


def lines(plan: Plan) -> list[h.Purchase]:
    return [
        h.Purchase.of(
            line.quote, line.packs, currency="GBP", at=AT, source="bought",
            postage_minor=0 if place else order.postage_minor,
        )
        for order in plan.orders
        for place, line in enumerate(order.lines)
    ]  # fmt: skip


def levels(plan: Plan) -> list[int]:
    """The fixes stage by stage, those counted in steps or not."""
    return [value for name, value in plan.selection.levels.items() if name not in MONEY]


def must_not_become_worse(job: Job, shuffled: list[h.Purchase], before: Plan) -> None:
    for so_many in range(1, len(shuffled) + 1):
        now = stood(job, h.entries(enumerate(shuffled[:so_many], start=1))).job
        assert levels(service.plan(now)) >= levels(before), so_many


@examples(60, usual=8)
@given(st.data(), st.one_of(jobs_tried_once(), jobs_tried_once(most_quotes=8)).map(in_fixes))
def test_with_one_attempt_a_fault(data, job) -> None:
    before = service.plan(job)
    must_not_become_worse(job, data.draw(st.permutations(lines(before))), before)


@examples(40, usual=5)
@given(jobs().map(in_fixes))
def test_with_checks_and_fallbacks(job) -> None:
    """But where a last day is near: a piece bought ahead comes while others are tried, one under way is waited for.

    And where a quote that is bought ahead has a last day: once the order's postage is paid it spares none by riding
    along, and nobody knows on which day a later order is placed (job 9105).
    """
    before = service.plan(job)
    ahead = {name for route in before.selection.routes for name in route.ahead}
    assume(not ahead or job.settings.needed_by is None)
    assume(not any(quote.id in ahead and quote.valid_until for quote in job.quotes))
    must_not_become_worse(job, lines(before), before)
