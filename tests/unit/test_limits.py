"""Every limit of ``model.limits`` is stated, asked about and certified: the list is the one place."""

import pytest

from optimiser.model.job import Job, Time
from optimiser.model.limits import LIMITS, Limit, limits_of
from optimiser.planning import options
from optimiser.planning.explain import PASSES
from optimiser.solver import formulation
from optimiser.solver.formulation import WITHIN
from optimiser.solver.program import Mix
from tests.tiny_job import BASE, VARIANTS, but

BY_REASON = pytest.mark.parametrize("limit", LIMITS, ids=lambda limit: limit.reason.value)


@BY_REASON
def test_every_limit_has_its_rows_and_its_question(limit: Limit) -> None:
    assert limit.reason in WITHIN
    assert limit.reason in PASSES


@BY_REASON
def test_a_mix_states_the_rows_of_every_limit(limit: Limit, monkeypatch: pytest.MonkeyPatch) -> None:
    stated = list[Mix]()
    monkeypatch.setattr(formulation, WITHIN[limit.reason].__name__, stated.append)
    monkeypatch.setattr(formulation, "add_levels", lambda *_: None)
    monkeypatch.setattr(formulation, "room_to_rise", lambda _: None)
    monkeypatch.setattr(formulation, "_no_amount_too_great", lambda _: None)
    mix = formulation.build(BASE, options.build(BASE))
    assert stated == [mix]


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
