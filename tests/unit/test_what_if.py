"""What-ifs on jobs small enough to reckon by hand."""

from __future__ import annotations

from datetime import date

from optimiser import service
from optimiser.model.job import Fault, Job, Pot, Repair, Settings
from optimiser.model.plan import SwitchPoints
from optimiser.show import compare_words

TODAY = date(2026, 11, 24)


def job(*faults: Fault, cap: int = 5000, fallbacks: bool = False, **settings: object) -> Job:
    return Job(
        settings=Settings(currency="GBP", today=TODAY, fallbacks=fallbacks, **settings),
        pot=Pot(cap_minor=cap),
        faults=faults,
    )


def fault(fault_id: str, *repairs: Repair, severity: str = "minor", **more: object) -> Fault:
    return Fault(id=fault_id, severity=severity, repairs=repairs, **more)


def chosen_points(of: Job, fault_id: str) -> SwitchPoints:
    (points,) = (row.switch for row in service.compare(of, fault_id).rows if row.switch is not None)
    return points


NEW = Repair(id="new", chance=0.9, price_minor=3000)
REBUILT = Repair(id="rebuilt", chance=0.7, price_minor=1000)


def test_new_or_refurbished_by_hand() -> None:
    """50.00 in the pot: the new one stays until it costs more than that, or is no surer than the rebuilt one."""
    points = chosen_points(job(fault("starter", NEW, REBUILT)), "starter")
    assert points.surcharge_minor == 2000
    assert abs(points.chance - 0.7) < 1e-9


def test_without_a_gain_by_the_sale_no_fall_of_the_chance_can_lose_a_dangerous_repair() -> None:
    """For aim profit a fault that adds nothing to the sale is only counted by the safety stages."""
    only = fault("brakes", NEW, severity="dangerous", sale_gain_minor=0)
    points = chosen_points(job(only, aim="profit", good_enough=0.5), "brakes")
    assert not points.any_fall_loses


def test_safety_is_only_blamed_where_it_decides() -> None:
    """The cheaper repair of the dangerous fault leaves more mended in all, and less of what is dangerous."""
    two = job(fault("starter", NEW, REBUILT, severity="dangerous"), fault("horn", REBUILT), cap=3000)
    answer = service.compare(two, "starter")
    (said,) = (compare_words.loses(answer.plan, row) for row in answer.rows if row.option.repair == "rebuilt")
    assert "less of the dangerous faults" in said
    off = service.compare(job(*two.faults, cap=3000, safety_first=False), "starter")
    assert not any("come first" in compare_words.loses(off.plan, row) for row in off.rows)


def test_a_rival_that_takes_hours_leaves_room_for_as_much_as_they_are_worth() -> None:
    """At 10.00 an hour the ten hours of the free way are worth 100.00: the quick one at 1.00 may cost 99.00 more."""
    ways = (Repair(id="quick", chance=0.9, price_minor=100), Repair(id="slow", chance=0.9, minutes=600))
    slow_or_quick = job(fault("horn", *ways), cap=20000)
    pot = slow_or_quick.pot.model_copy(update={"hour_worth_minor": 1000})
    points = chosen_points(slow_or_quick.model_copy(update={"pot": pot}), "horn")
    assert points.surcharge_minor == 9900
    assert (points.chance, points.any_fall_loses) == (0.9, True)


def test_a_surcharge_is_a_whole_penny_where_time_makes_a_part_of_one() -> None:
    """At 7 pence an hour the rival's 20 minutes are worth 2 1/3 pence."""
    ways = (Repair(id="quick", chance=0.9, price_minor=100), Repair(id="slow", chance=0.9, price_minor=100, minutes=20))
    slow_or_quick = job(fault("horn", *ways))
    pot = slow_or_quick.pot.model_copy(update={"hour_worth_minor": 7})
    assert chosen_points(slow_or_quick.model_copy(update={"pot": pot}), "horn").surcharge_minor == 2
