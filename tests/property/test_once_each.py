"""Options that are tried once each, stated without a search, come to what the search of them came to."""

from __future__ import annotations

from unittest.mock import patch

from hypothesis import given
from hypothesis import strategies as st

from optimiser import service
from optimiser.diagnosis.candidates import FaultSearch
from optimiser.model.job import Job
from optimiser.model.plan import Plan
from optimiser.planning import choose
from optimiser.solver.exact_solve import Clock
from tests.effort import examples
from tests.small_route_jobs import job_of


class NoTimeForRoutes(Clock):
    """Over for the searches, and with time enough for the mix."""

    def part(self, _: float, least: float = 0.0) -> Clock:
        return Clock(60.0 if least else 0.0)


def planned(job: Job) -> Plan:
    with patch.object(choose, "Clock", NoTimeForRoutes):
        return service.plan(job)


@examples(150, usual=12)
@given(seed=st.integers(0, 10**9))
def test_options_tried_once_each_come_to_what_a_search_comes_to(seed: int) -> None:
    job = job_of(seed, refunds=False)
    quotes = tuple(quote.model_copy(update={"deposit_minor": 0, "refund_share": 0.0}) for quote in job.quotes)
    job = job.model_copy(update={"quotes": quotes})
    with patch.object(FaultSearch, "each_by_itself", property(lambda _: False)):
        searched = planned(job)
    plainly = planned(job)
    assert dict(plainly.selection.levels) == dict(searched.selection.levels)
    assert plainly.outcome == searched.outcome
