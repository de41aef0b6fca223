"""Step numbers: from 1, without gaps, in the order shown, no number twice."""

from __future__ import annotations

import pytest

from optimiser.show import steps
from tests.tiny_job import VARIANTS, planned


@pytest.mark.parametrize("variant", VARIANTS)
def test_numbers_run_without_gaps_faults_before_order_lines(variant: str) -> None:
    plan = planned(variant)
    found = steps.numbers(plan)
    assert list(found.faults) == [c.fault.id for c in plan.choices if c.option is not None]
    assert list(found.lines) == [line.quote.id for order in plan.orders for line in order.lines]
    assert [*found.faults.values(), *found.lines.values()] == list(range(1, 1 + len(found.faults) + len(found.lines)))


def test_faults_that_are_left_have_no_number() -> None:
    assert steps.numbers(planned("set")).faults == {"horn": 1}
