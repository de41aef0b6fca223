"""Where there are too many second attempts to be searched, the rest of them is not looked for, and nothing changes."""

from __future__ import annotations

import random
from collections.abc import Iterable
from unittest.mock import patch

from hypothesis import given
from hypothesis import strategies as st

from optimiser.diagnosis import candidates
from optimiser.diagnosis.dynamic_program import Action, Sweep
from optimiser.model.job import Job
from optimiser.model.plan import Selection
from optimiser.planning import choose
from tests.effort import examples
from tests.small_route_jobs import job_of

looked_for = Sweep._open_moves


def all_looked_for(sweep: Sweep, done: int, **_: bool) -> Iterable[Action]:
    return looked_for(sweep, done, only_leading=False)


def chosen(job: Job, most: int) -> Selection:
    with patch.object(candidates, "MOST_MOVES", most):
        return choose.chosen(job, None, lambda _: None).selection


@examples(200, usual=15)
@given(seed=st.integers(0, 10**9))
def test_what_is_not_looked_for_changes_nothing(seed: int) -> None:
    job, most = job_of(seed), random.Random(seed).choice([1, 3, 8, 20])
    quickly = chosen(job, most)
    with patch.object(Sweep, "_open_moves", all_looked_for):
        assert chosen(job, most) == quickly


def test_some_jobs_have_too_many() -> None:
    left_out: list[bool] = []

    def noting(sweep: Sweep, done: int, *, only_leading: bool) -> Iterable[Action]:
        left_out.append(only_leading)
        return looked_for(sweep, done, only_leading=only_leading)

    with patch.object(Sweep, "_open_moves", noting):
        for seed in range(20):
            chosen(job_of(seed), 3)
    assert any(left_out)
