"""What is seldom come to is not told step by step, in no text; the guarantee, the numbers and JSON keep it all."""

from __future__ import annotations

from optimiser.model.plan import Plan
from optimiser.model.route import AttemptStep, Branch, CheckStep, Route, Stop
from optimiser.show import as_json, route_words, steps
from tests.tiny_job import routed
from tests.unit.test_routes_shown import lines

OTHERWISE = "write down what you saw and plan again."


def with_chances(plan: Plan, *chances: float) -> Plan:
    """The washer pump's route with other chances of its three results."""
    (choice,) = plan.choices
    assert choice.route is not None
    assert isinstance(choice.route.first, CheckStep)
    then = tuple(
        branch.model_copy(update={"chance": chance})
        for branch, chance in zip(choice.route.first.then, chances, strict=True)
    )
    route = choice.route.model_copy(update={"first": choice.route.first.model_copy(update={"then": then})})
    return plan.model_copy(update={"choices": (choice.model_copy(update={"route": route}),)})


def test_a_result_that_is_seldom_seen_is_folded() -> None:
    plan = with_chances(routed("three_results"), 0.68, 0.02, 0.30)
    assert lines(plan, "pump") == [
        "1. Listen while somebody works the stalk (5 min; 0.22 GBP).",
        "  Hums (68%):",
        "    2. Renew the pump: new from alder (20 min; 8.80 GBP kept for it).",
        "      Cured: 98%. Not cured: leave it.",
        "  Nothing (30%): leave it.",
        f"  Otherwise (2%): {OTHERWISE}",
    ]


def test_at_three_in_a_hundred_it_is_told() -> None:
    assert "  Clicks (3%):" in lines(with_chances(routed("three_results"), 0.67, 0.03, 0.30), "pump")


def test_what_is_left_anyway_is_told_however_seldom() -> None:
    assert "  Nothing (1%): leave it." in lines(with_chances(routed("three_results"), 0.49, 0.50, 0.01), "pump")


def test_the_chance_is_that_from_the_root_on() -> None:
    """Clicks at 10 %, and then one in four is not cured: the second attempt of that branch is come to in 2.5 %."""
    assert f"      Cured: 75%. Not cured: {OTHERWISE}" in lines(
        with_chances(routed("three_results"), 0.60, 0.10, 0.30), "pump"
    )


def test_a_check_of_which_everything_is_seldom() -> None:
    """It stands deep in a tree, so each of its results is come to in less than three of a hundred."""
    plan = routed("three_results")
    (choice,) = plan.choices
    assert choice.route is not None
    at = steps.numbered(choice.route.first, steps.numbers(plan).trees["pump"])
    said = [line for _, line in route_words.route_lines(plan.job, choice, at, chance=0.01)]
    assert said[1:] == ["Nothing (20%): leave it.", f"Otherwise (80%): {OTHERWISE}"]


def test_json_and_the_numbers_keep_the_whole_tree() -> None:
    plan = with_chances(routed("three_results"), 0.68, 0.02, 0.30)
    (fault,) = as_json.plan(plan)["faults"]
    assert fault["route"]["then"]["clicks"]["then"]["not-cured"]["do"] == "attempt"
    tree = steps.numbers(plan).trees["pump"]
    route = plan.choice("pump").route
    assert route is not None
    assert set(steps.told(steps.numbered(route.first, tree))) == {1, 2} < set(tree)


def test_the_root_itself_is_always_told() -> None:
    plan = routed("three_results")
    route = plan.choice("pump").route
    assert route is not None
    first = route.first
    assert isinstance(first, CheckStep)
    attempt = next(branch.then for branch in first.then if isinstance(branch.then, AttemptStep))
    bare = Route.of("pump", attempt.model_copy(update={"then": (Branch(result="cured", chance=1.0, then=Stop()),)}))
    assert list(steps.told(steps.numbered(bare.first, (7,)))) == [7]
