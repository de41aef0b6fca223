"""Yes or no for every item within one or two budgets. Sources stand beside the data in ``instances``."""

from __future__ import annotations

import pytest

from optimiser.model.job import Repair
from tests.published.instances import (
    BURKARDT,
    LORIE_SAVAGE,
    LORIE_SAVAGE_SECOND_YEAR,
    SINGLES,
    STOCKCO,
    WEINGARTNER,
    WEINGARTNER_SECOND_BUDGET,
    Knapsack,
)
from tests.published.mapping import MILLION, fault, job, knapsack, numbers, planned, quote, value


@pytest.mark.parametrize("case", [pytest.param(case, id=name) for name, case in (BURKARDT | SINGLES).items()])
def test_a_knapsack_is_filled_to_its_published_profit(case: Knapsack) -> None:
    plan = planned(knapsack(case.capacity, case.weights, case.profits))
    assert value(plan) == case.best
    assert plan.selection.levels["net-cost"] == sum(case.weights[i - 1] for i in numbers(plan)) <= case.capacity
    if case.chosen is not None:
        assert set(numbers(plan)) == case.chosen


def test_what_weighs_nothing_is_always_taken() -> None:
    case = SINGLES["or-tools"]
    weightless = {i for i, weight in enumerate(case.weights, start=1) if weight == 0}
    assert len(weightless) == 4
    assert weightless <= set(numbers(planned(knapsack(case.capacity, case.weights, case.profits))))


def test_stockco_chooses_its_investments() -> None:
    plan = planned(knapsack(STOCKCO.capacity, STOCKCO.weights, STOCKCO.profits))
    assert (value(plan), set(numbers(plan))) == (42, STOCKCO.chosen)


def test_stockco_with_two_investments_at_most() -> None:
    """A minute each and two minutes in all. Winston's variant; 38 by trying all 16 sets."""
    plan = planned(knapsack(STOCKCO.capacity, STOCKCO.weights, STOCKCO.profits, second=(2, [1] * 4)))
    assert (value(plan), set(numbers(plan))) == (38, {1, 2})


def test_stockco_with_two_investments_that_exclude_each_other() -> None:
    """2 and 4 both need the one piece of a free part. Winston's variant; 38 by trying all 16 sets."""
    asked = job(
        (
            fault(f"item-{i}", [Repair(id="take", chance=1.0, price_minor=w, parts={"one": 1} if i in (2, 4) else {})],
                  p / MILLION)
            for i, (w, p) in enumerate(zip(STOCKCO.weights, STOCKCO.profits), start=1)
        ),
        pot_minor=STOCKCO.capacity,
        quotes=[quote(2, "one", "stores", 0, stock=1)],
    )  # fmt: skip
    plan = planned(asked)
    assert (value(plan), set(numbers(plan))) == (38, {1, 2})


def test_two_years_of_capital_as_money_and_minutes() -> None:
    case = LORIE_SAVAGE
    plan = planned(knapsack(case.capacity, case.weights, case.profits, second=LORIE_SAVAGE_SECOND_YEAR))
    assert (value(plan), set(numbers(plan))) == (70, case.chosen)
    assert (plan.selection.levels["net-cost"], plan.minutes) == (48, 20)


def test_weingartners_two_budgets_as_money_and_minutes() -> None:
    case = WEINGARTNER
    plan = planned(knapsack(case.capacity, case.weights, case.profits, second=WEINGARTNER_SECOND_BUDGET))
    assert value(plan) == 141278
    assert plan.minutes <= 600
