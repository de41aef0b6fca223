"""What is planned, started or parsed once is so in one worker, whatever their number."""

from __future__ import annotations

from itertools import groupby

import pytest

from tests.shares import in_shares

TESTS = [*(f"plain-{n}" for n in range(9)), "browser-1", "plain-9", "plan-1", "browser-2", "plan-2", "plain-10"]


def group_of(test: str) -> str:
    return "" if test.startswith("plain") else test.partition("-")[0]


@pytest.mark.parametrize("workers", [1, 2, 3, 20])
def test_a_group_stands_together_and_no_test_is_lost(workers: int) -> None:
    ordered = in_shares(TESTS, group_of, workers)
    assert sorted(ordered) == sorted(TESTS)
    assert [test for test in ordered if not group_of(test)] == [test for test in TESTS if not group_of(test)]
    groups = [group for group, _ in groupby(ordered, group_of) if group]
    assert sorted(groups) == ["browser", "plan"]


def test_each_worker_begins_with_a_group() -> None:
    ordered = in_shares(TESTS, group_of, 2)
    half = len(TESTS) // 2
    assert (ordered[:2], ordered[half : half + 2]) == (["browser-1", "browser-2"], ["plan-1", "plan-2"])
