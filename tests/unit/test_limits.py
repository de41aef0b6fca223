"""Every limit of ``model.limits`` is stated, asked about and certified: the list is the one place."""

import pytest

from optimiser.model.job import Job, Time
from optimiser.model.limits import LIMITS, Limit, limits_of
from optimiser.planning.explain import PASSES
from optimiser.solver.formulation import WITHIN
from tests.tiny_job import BASE, VARIANTS, but

BY_REASON = pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.reason.value)


@BY_REASON
def test_every_limit_has_its_rows_and_its_question(limit: Limit) -> None:
    assert limit.reason in WITHIN
    assert limit.reason in PASSES


def test_nothing_is_stated_or_asked_about_that_is_not_listed() -> None:
    listed = [limit.reason for limit in LIMITS]
    assert list(WITHIN) == list(PASSES) == listed


@pytest.mark.parametrize(
    ("job", "names"),
    [
        (BASE, ["the stock", "the pot"]),
        (but(BASE, time=Time(hours=1)), ["the stock", "the pot", "the hours"]),
        (VARIANTS["most_suppliers"], ["the stock", "the pot", "the number of suppliers"]),
    ],
)
def test_a_job_has_the_limits_that_it_sets(job: Job, names: list[str]) -> None:
    assert [limit.name for limit in limits_of(job)] == names
