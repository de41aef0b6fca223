"""Long shots: which attempts are said to be one, and that nothing likelier waits for them."""

from __future__ import annotations

import pytest

from optimiser import service
from optimiser.model.job import Check, Fault, Job, Pot, Repair
from optimiser.model.plan import Plan
from optimiser.planning.long_shots import long_shots
from optimiser.show import faults, route_words, steps, tonight, tonight_words
from tests.tiny_job import BASE, BLOWER, CHECKED, LAMP, MOTOR, WIRE, but

FUSE = Repair(id="fuse", title="Renew the fuse", cures={"fuse": 1.0}, price_minor=60, minutes=5)
FEED = Check(id="feed", title="Feed it 12 V", minutes=10, results={"spins": {"wire": 0.97, "motor": 0.02, "fuse": 0.0}})
LOOKED = but(BLOWER, causes={"wire": 45.0, "motor": 45.0, "fuse": 4.0}, checks=(FEED,), repairs=(WIRE, MOTOR, FUSE))
TRIED = but(BLOWER, causes={"wire": 90.0, "motor": 9.0, "fuse": 0.5}, checks=(), repairs=(WIRE, MOTOR, FUSE))


def plan_of(fault: Fault, pot_minor: int) -> Plan:
    return service.plan(but(CHECKED, faults=(fault,), pot=Pot(cap_minor=pot_minor)))


def told(plan: Plan) -> list[str]:
    tree = steps.numbers(plan).trees["blower"]
    return [line.said for line in route_words.followed(plan.job, plan.choice("blower"), tree)]


def test_after_a_finding_that_points_to_what_the_plan_has_nothing_for() -> None:
    """There is money for the wire or the fuse: if it does not spin, it is the motor with 44.1 / 49.45."""
    plan = plan_of(LOOKED, 130)
    (shot,) = long_shots(plan.job, plan.choice("blower"))
    assert (shot.place, shot.cause) == (2, "motor")
    assert (shot.chance, shot.cures) == (pytest.approx(44.1 / 49.45), pytest.approx(4 / 49.45))
    said = told(plan)
    assert said[said.index("3. Renew the fuse (5 min; 0.60 GBP).") - 1] == (
        "A long shot (8%): the likely cause by now is motor (89%), for which this plan has nothing."
        " Stop here, write down what you saw and plan again: go on with this only if the new plan still has it."
    )
    rich = plan_of(LOOKED, 5000)
    assert not [shot for shot in long_shots(rich.job, rich.choice("blower")) if shot.cause]


def test_after_an_attempt_that_did_not_cure() -> None:
    plan = plan_of(TRIED, 200)
    (shot,) = long_shots(plan.job, plan.choice("blower"))
    assert (shot.place, shot.cause, shot.chance) == (1, "motor", pytest.approx(9 / 9.5))


def test_where_nothing_else_is_begun_with() -> None:
    """Nothing was seen since, so there is nothing to stop for: it is said all the same."""
    plan = plan_of(but(TRIED, repairs=(FUSE, MOTOR)), 200)
    assert told(plan)[0] == "A long shot (1%): the likely cause is wire (90%), for which this plan has nothing."
    shown = faults.what_to_do(plan.job, plan.choice("blower"), steps.numbers(plan))
    assert "A long shot (1%)" in str(shown)


@pytest.mark.parametrize("causes", [BLOWER.causes, {}])
def test_what_cures_seldom_whatever_the_cause_is_one_that_points_nowhere_else(causes: dict[str, float]) -> None:
    """In the plan and in what is next alike."""
    weak = but(WIRE, cures=None, chance=0.05)
    plan = plan_of(but(BLOWER, causes=causes, repairs=(weak,), checks=()), 200)
    assert list(long_shots(plan.job, plan.choice("blower"))) == [(0, pytest.approx(0.05), "", 0.0)]
    assert "A long shot: 5%." in str(faults.what_to_do(plan.job, plan.choice("blower"), steps.numbers(plan)))
    (task,) = service.tonight(plan).tasks
    assert task.long_shot
    assert "A long shot: 5%." in list(tonight_words.beside(plan, task))


def grave(chance: float, **repair: object) -> Job:
    """A dangerous fault with one way, beside a lamp that is wiped."""
    way = but(Repair(id="bend", title="Bend the plate", chance=chance, minutes=10), **repair)
    return but(BASE, faults=(but(LAMP, id="hub", title="Hub", severity="dangerous", repairs=(way,)), LAMP))


def test_next_does_not_lead_with_a_long_shot() -> None:
    likely, seldom = (tonight_words.next_step(service.plan(grave(chance))) for chance in (0.1, 0.04))
    assert likely.startswith("Next: 1. Hub (DANGEROUS): Bend the plate (10 min).")
    assert seldom == (
        "Next: 2. lamp: clean (10 min). Then what is dangerous: 1. Hub: Bend the plate (10 min; a long shot: 4%)."
    )
    known = service.tonight(service.plan(grave(0.04)))
    assert [task.long_shot for task in known.tasks] == [False, True]
    assert [task["long_shot"] for task in tonight.document(known)["tasks"]] == [False, True]
    assert "A long shot: 4%." in list(tonight_words.beside(known.plan, known.tasks[1]))
    assert tonight_words.in_short(known.plan, known.tasks[1]).endswith("(10 min; a long shot: 4%)")


def test_work_of_a_shop_and_an_order_may_be_long_shots_too() -> None:
    booked = service.tonight(service.plan(grave(0.04, by="workshop", price_minor=100)))
    assert [(task.faults, task.long_shot) for task in booked.tasks] == [(("lamp",), False), (("hub",), True)]
    fitted = but(grave(0.04, parts={"disc": 1}), quotes=BASE.quotes, suppliers=BASE.suppliers)
    ordered = service.tonight(service.plan(fitted))
    assert [(task.faults, task.long_shot) for task in ordered.tasks] == [(("lamp",), False), (("hub",), True)]
    assert tonight_words.in_short(ordered.plan, ordered.tasks[1]).startswith("order from alder (9.00 GBP; a long shot)")
