"""A fault that is left as it is takes nothing from the others: the plan is that of the job without it."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from optimiser import service
from optimiser.model.job import Job
from tests.effort import examples
from tests.small_route_jobs import jobs


@examples(60, usual=6)
@given(jobs(), st.data())
def test_the_others_are_planned_as_if_it_were_not_there(job: Job, data: st.DataObject) -> None:
    gone = data.draw(st.sampled_from(job.faults)).id
    left = service.plan(job.model_copy(update={"left": {gone: 1}}))
    alone = service.plan(job.model_copy(update={"faults": tuple(f for f in job.faults if f.id != gone)}))
    assert left.selection.route_for(gone) is None
    assert {name: value for name, value in left.selection.levels.items() if value} == {
        name: value for name, value in alone.selection.levels.items() if value
    }
    assert [c.route for c in left.choices if c.fault.id != gone] == [c.route for c in alone.choices]
    assert left.purse == alone.purse
