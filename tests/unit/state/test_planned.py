"""The job as it stands, planned: nothing is bought twice, what is cured is not planned, the money balances."""

from __future__ import annotations

from optimiser import service
from optimiser.model.plan import Plan

from .scene import DISC, JOB, OWN, after, bought, fitted, found, piece

BRAKE_ALONE = JOB.model_copy(update={"faults": JOB.faults[2:]})
BLOWERS = JOB.model_copy(update={"faults": JOB.faults[:2], "owned": ()})


def quotes_used(plan: Plan, fault: str) -> list[str]:
    route = plan.choice(fault).route
    assert route is not None
    assert route.option is not None
    return [line.quote.id for line in route.option.lines]


def balances(plan: Plan) -> bool:
    purse = plan.purse
    spent, promised = purse.committed_minor, purse.cash_minor
    return purse.cap_minor == spent + promised + purse.hold_back_minor + purse.unspent_minor


def test_what_is_on_order_is_not_bought_twice() -> None:
    before = service.plan(after([], BRAKE_ALONE).job)
    assert [line.packs for order in before.orders for line in order.lines] == [2]
    plan = service.plan(after([bought(DISC, 2)], BRAKE_ALONE).job)
    assert plan.orders == ()
    assert quotes_used(plan, "brake") == ["bought:1"]
    assert plan.choice("brake").route.cash_minor == 0
    assert balances(before)
    assert balances(plan)
    assert plan.purse.committed_minor == before.purse.committed_minor + 3400


def test_bought_one_by_one_it_is_not_bought_twice_either() -> None:
    plan = service.plan(after([bought(DISC), bought(DISC)], BRAKE_ALONE).job)
    assert (plan.orders, quotes_used(plan, "brake")) == ((), ["bought:1"])


def test_one_that_failed_is_not_planned_there_again_but_for_the_twin() -> None:
    """With nothing left to spend the twin still has the piece that was kept."""
    pot = JOB.pot.model_copy(update={"cap_minor": 10500 + 7400 + 1000})
    events = [bought(), fitted("blower", "motor", piece("bought:1"))]
    plan = service.plan(after(events, BLOWERS.model_copy(update={"pot": pot})).job)
    assert [choice.fault.id for choice in plan.choices if choice.route is not None] == ["rear"]
    assert quotes_used(plan, "rear") == ["kept:2-1"]
    assert balances(plan)
    rich = service.plan(after(events, BLOWERS).job)
    assert not {"bought:1", "kept:2-1", "quotes.csv:2"} & {q for tried in _options(rich, "blower") for q in tried}


def _options(plan: Plan, fault: str) -> list[list[str]]:
    route = plan.choice(fault).route
    return [] if route is None else [[line.quote.id for line in step.option.lines] for step in route.attempts]


def test_a_check_made_is_not_planned_again() -> None:
    pot = JOB.pot.model_copy(update={"cap_minor": 10500 + 1000 + 9000})
    one = JOB.model_copy(update={"faults": JOB.faults[:1], "owned": (), "pot": pot})
    assert [look.check for look in service.plan(after([], one).job).do_first] == ["feed"]
    plan = service.plan(after([found(cost_minor=500)], one).job)
    assert plan.do_first == ()
    assert quotes_used(plan, "blower") == [], "it spins: the wire it is, or something else"
    assert balances(plan)


def test_all_cured_nothing_is_planned_and_the_rest_of_the_pot_is_left() -> None:
    cures = [fitted(fault, repair, cured=True, price_minor=100)
             for fault, repair in (("blower", "wire"), ("rear", "wire"), ("brake", "discs"))]  # fmt: skip
    standing = after(cures)
    plan = service.plan(standing.job)
    assert (plan.choices, plan.orders, plan.purse.unspent_minor) == ((), (), 60000 - 10500 - 1000 - 300)
    assert {name: row.units for name, row in standing.job.shelf.items()} == OWN
    assert balances(plan)
