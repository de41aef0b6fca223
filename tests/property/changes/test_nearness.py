"""Planning again after what tells a plan nothing gives the very same plan: a note, rows in another order, new lines."""

from __future__ import annotations

import random
from datetime import UTC, datetime

from hypothesis import example, given
from hypothesis import strategies as st

from optimiser import service
from optimiser.changes import Then, against
from optimiser.model.events import Entry, Note, PlanMade
from optimiser.model.job import Job
from optimiser.model.plan import Plan
from optimiser.show import steps
from optimiser.state import Moment, history
from tests.effort import examples
from tests.property.changes.test_attribution import state
from tests.small_route_jobs import job_of, jobs

AT = datetime(2026, 11, 24, 18, 0, tzinfo=UTC)
NOTE = Entry(1, Note(at=AT, source="test", text="rain"))


def shuffled(job: Job, seed: int) -> Job:
    """The same rows in another order, so that each quote has another line."""
    rng = random.Random(seed)
    ids = [quote.id for quote in job.quotes]
    quotes = [q.model_copy(update={"id": name}) for name, q in zip(ids, rng.sample(job.quotes, len(ids)), strict=True)]
    faults = tuple(rng.sample(job.faults, len(job.faults)))
    return job.model_copy(update={"quotes": tuple(quotes), "faults": faults, "suppliers": job.suppliers[::-1]})


def packs(plan: Plan) -> dict[tuple[object, ...], int]:
    """What is bought, by content."""
    quotes = {quote.id: quote for quote in plan.job.quotes}
    return {quotes[name].content: count for name, count in plan.selection.packs.items()}


@given(jobs(), st.integers(0, 10**9))
@examples(40, usual=4)
@example(job_of(2138), 1)  # free pads, as certain lines of two faults or as one's own packs: only rows told them apart
def test_what_tells_a_plan_nothing_moves_nothing(job: Job, seed: int) -> None:
    first = service.plan(job)
    now = Moment(shuffled(job, seed), (NOTE,))
    text = history.kept(first, steps.kept(first), job)
    then = Then.of(PlanMade(number=1, at=AT, after=0, text=text), history.read(text), now)
    assert then is not None
    found = against(then, now, service.drawn_up, 60, lambda _: None)
    assert found.moved == ()
    assert packs(found.plan) == packs(first)
    assert found.plan.selection.levels == first.selection.levels
    for fault in job.faults:
        before, after = (state(fault.id, plan, (), deep=True, row=lambda _: "") for plan in (first, found.plan))
        assert before == after
