"""An order that may wait costs not a minor unit more when it is sent later, and by then nothing can be gone."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from optimiser import service
from optimiser.model.job import Job, Severity
from optimiser.model.plan import Plan
from optimiser.model.quotes import Supplier
from optimiser.planning.sending import freed_minor, needs, waiting
from optimiser.planning.totals import order_to
from tests import small_jobs, small_route_jobs
from tests.effort import examples


def cost(plan: Plan, quotes: frozenset[str]) -> int:
    """What orders of these lines of the plan come to, sent by themselves; a minimum must be met."""
    total = 0
    for order in plan.orders:
        lines = [line for line in order.lines if line.quote.id in quotes]
        if lines:
            sent = order_to(plan.job, order.supplier.id, lines)
            assert sent.goods_minor >= sent.supplier.minimum_order_minor
            total += sent.total_minor + sent.supplier.trip_minutes * 1_000_000
    return total


def loosened(job: Job, *, free: bool) -> Job:
    """Most of the random jobs' suppliers have terms: some lose them, so that orders may wait."""
    if not free:
        return job
    alike = {"suppliers": tuple(Supplier(id=name) for name in ("alder", "birch"))}
    return job.model_copy(update=alike)


@examples(150, usual=16)
@given(st.one_of(small_jobs.jobs(), small_route_jobs.jobs()), st.booleans())
def test_waiting_costs_nothing(job: Job, free: bool) -> None:
    plan = service.plan(loosened(job, free=free))
    found = waiting(plan)
    every = frozenset(line.quote.id for order in plan.orders for line in order.lines)
    assert found.lines < every or not every
    assert bool(found.lines) == bool(found.until)
    assert cost(plan, every - found.lines) + cost(plan, found.lines) == cost(plan, every)
    for choice in plan.choices:
        wanted = needs(choice) & every
        assert wanted <= found.lines or not wanted & found.lines
        assert choice.fault.id not in found.until or not wanted & found.lines
    for order in plan.orders:
        for line in order.lines:
            if line.quote.id in found.lines:
                assert line.quote.stock is None
                assert line.quote.valid_until is None
    until = [plan.choice(fault) for fault in found.until]
    for choice in plan.choices:
        if needs(choice) & found.lines:
            assert choice.fault.severity != Severity.DANGEROUS
            assert min(one.fault.severity.rank for one in until) <= choice.fault.severity.rank
    for choice in until:
        assert choice.option is not None
        assert freed_minor(choice) > 0 or (choice.option.chance < 0.97 and len(choice.fault.repairs) > 1)
