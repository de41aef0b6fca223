"""Step numbers: from 1, without gaps, in the order shown, no number twice; trees before the lines to order."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from optimiser import service
from optimiser.model.route import Route
from optimiser.show import steps
from tests.tiny_job import BASE, NEW, ROUTED, VARIANTS, but, planned, routed


@pytest.mark.parametrize("variant", VARIANTS)
def test_numbers_run_without_gaps_faults_before_order_lines(variant: str) -> None:
    plan = planned(variant)
    found = steps.numbers(plan)
    assert list(found.faults) == [c.fault.id for c in plan.choices if c.option is not None]
    assert list(found.lines) == [line.quote.id for order in plan.orders for line in order.lines]
    assert [*found.faults.values(), *found.lines.values()] == list(range(1, 1 + len(found.faults) + len(found.lines)))


def test_faults_that_are_left_have_no_number() -> None:
    assert steps.numbers(planned("set")).faults == {"horn": 1}


@pytest.mark.parametrize("variant", ROUTED)
def test_every_step_of_every_tree_has_a_number_and_the_lines_come_after(variant: str) -> None:
    plan = routed(variant)
    found = steps.numbers(plan)
    in_trees = [number for tree in found.trees.values() for number in tree]
    assert [*in_trees, *found.lines.values()] == list(range(1, 1 + len(in_trees) + len(found.lines)))
    assert list(found.lines) == [line.quote.id for order in plan.orders for line in order.lines]
    routes = {choice.fault.id: choice.route for choice in plan.choices if choice.route is not None}
    assert list(found.trees) == list(routes)
    assert {fault: tree[0] for fault, tree in found.trees.items()} == found.faults
    assert {fault: len(tree) for fault, tree in found.trees.items()} == {
        fault: len(route.checks) + len(route.attempts) for fault, route in routes.items()
    }


def in_order(at: steps.Numbered) -> Iterator[steps.Numbered]:
    yield at
    for _, _, after in at.then:
        yield from in_order(after)


@pytest.mark.parametrize("variant", ROUTED)
def test_a_tree_is_numbered_each_step_before_what_follows_it(variant: str) -> None:
    plan = routed(variant)
    found = steps.numbers(plan)
    for choice in plan.choices:
        if choice.route is not None:
            tree = found.trees[choice.fault.id]
            walked = list(in_order(steps.numbered(choice.route.first, tree)))
            assert tuple(at.number for at in walked if at.number is not None) == tree
            assert [at.node.do == "stop" for at in walked] == [at.number is None for at in walked]
            for at in walked:
                assert [(r, c) for r, c, _ in at.then] == [(b.result, b.chance) for b in getattr(at.node, "then", ())]


def test_a_step_that_comes_twice_in_a_tree_has_two_numbers() -> None:
    """The pump is renewed after either result: two steps, to be told apart when one of them is recorded."""
    plan = routed("three_results")
    route: Route | None = plan.choice("pump").route
    assert route is not None
    assert [step.option.repair for step in route.attempts] == ["swap", "plug", "swap"]
    assert steps.numbers(plan).trees == {"pump": (1, 2, 3, 4)}


def test_lines_follow_the_trees_of_all_faults() -> None:
    """A horn of two attempts and a lamp, then the one disc that is sure to be bought."""
    found = steps.numbers(routed("fallback"))
    assert (found.trees, found.lines) == ({"horn": (1, 2), "lamp": (3,)}, {but(NEW, id="quotes.csv:3").id: 4})


def test_a_step_that_stays_keeps_its_number_and_a_new_one_gets_one_that_nothing_had() -> None:
    plan = routed("fallback")
    first = steps.carried_on(plan, {})
    assert steps.numbers(first) == steps.numbers(plan), "carrying on from nothing is counting from 1"
    keys = list(first.numbering)
    before = {"order gone.csv:2": 40, keys[1]: 7}
    found = steps.numbers(steps.carried_on(plan, before))
    assert found.by_key[keys[1]] == 7
    assert sorted(found.by_key.values()) == [7, *range(41, 41 + len(keys) - 1)]


def test_a_what_if_has_the_numbers_given_before_and_no_others() -> None:
    plan = routed("fallback")
    keys = list(steps.carried_on(plan, {}).numbering)
    found = steps.numbers(steps.as_what_if(plan, {keys[1]: 7}))
    assert (found.by_key, found.faults, found.lines) == ({keys[1]: 7}, {}, {})
    assert found.trees == {"horn": (None, 7), "lamp": (None,)}
    assert steps.numbers(steps.as_what_if(plan, {})).by_key == {}


def test_numbers_given_before_are_carried_on_even_where_the_step_is_gone() -> None:
    plan = routed("fallback")
    carried = steps.carried_on(plan, {"order gone.csv:2": 40})
    assert carried.numbering["order gone.csv:2"] == 40
    assert steps.carried_on(carried, carried.numbering) == carried


def test_a_step_keeps_its_number_when_its_row_moves_in_the_sheet() -> None:
    """What a number stands for is told by what the quote says, so a printed plan stays good."""
    job = BASE
    before = service.plan(job)
    numbering = steps.numbers(before).by_key
    turned = {quote.id: f"quotes.csv:{90 - n}" for n, quote in enumerate(job.quotes)}
    moved = but(job, quotes=tuple(but(quote, id=turned[quote.id]) for quote in reversed(job.quotes)))
    after = steps.carried_on(service.plan(moved), numbering)
    first, then = steps.numbers(before), steps.numbers(after)
    assert then.faults == first.faults
    assert then.lines == {turned[name]: number for name, number in first.lines.items()}


def test_a_line_of_another_number_of_packs_is_another_step() -> None:
    plan = service.plan(BASE)
    (order,) = plan.orders
    line = order.lines[0]
    more = but(plan, orders=(but(order, lines=(but(line, packs=line.packs + 1), *order.lines[1:])),))
    assert steps.numbers(plan).by_key.keys() != steps.numbers(more).by_key.keys()
    carried = steps.numbers(steps.carried_on(more, steps.numbers(plan).by_key))
    assert carried.lines[line.quote.id] > max(steps.numbers(plan).by_key.values())
