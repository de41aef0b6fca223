"""What checks are worth beside the rest of the plan, by hand: a check's own price is paid from the pot."""

from __future__ import annotations

import pytest

from optimiser.model.job import Check, Fault, Job, Pot, Repair, Settings
from optimiser.model.plan import CheckWorth, Verdict
from optimiser.planning import choose
from tests.small_route_jobs import TODAY

LOOK = Check(id="look", cost_minor=500, results={"left": {"left": 1.0, "right": 0.0, "something-else": 0.5}})
LEFT = Repair(id="mend-left", cures={"left": 1.0}, price_minor=600)
RIGHT = Repair(id="mend-right", cures={"right": 1.0}, price_minor=600)


def fault(*repairs: Repair, name: str = "horn", checks: tuple[Check, ...] = (LOOK,)) -> Fault:
    return Fault(
        id=name, severity="minor", causes={"left": 1, "right": 1}, something_else=0.0, checks=checks, repairs=repairs
    )


def job(cap_minor: int, *faults: Fault, **more: object) -> Job:
    told = {"currency": "GBP", "today": TODAY, "chance_step": 0.0} | more
    return Job(settings=Settings(**told), pot=Pot(cap_minor=cap_minor, hour_worth_minor=0), faults=faults)


def verdict(given: Job) -> Verdict:
    return choose.chosen(given, None, lambda _: None).verdicts["horn"]


def only(found: Verdict) -> CheckWorth:
    (check,) = found.checks
    return check


@pytest.mark.parametrize(("repairs", "cap"), [((LEFT,), 1100), ((LEFT, RIGHT), 1200)])
def test_a_check_that_gains_nothing_and_costs_two_pounds_more_is_said_so(repairs: tuple[Repair, ...], cap: int) -> None:
    """Left alone 6.00, or 5.00 and half of 6.00; both 6.00 and half of 6.00, or 5.00 and 6.00: 2.00 more each time.

    In the money that the route takes without it, 6.00, the look would leave no room for the repair.
    """
    found = verdict(job(cap, fault(*repairs)))
    check = only(found)
    assert (check.taken, check.fixes, check.saved_minor) == (False, pytest.approx(0), pytest.approx(-200))
    assert found.rival.saved_minor == pytest.approx(-200)


def test_without_the_money_for_both_the_check_costs_what_it_pushes_out() -> None:
    """Only 10.00: after the look nothing is left for a repair of 6.00, so it is no way to begin."""
    assert only(verdict(job(1000, fault(LEFT)))).fixes == pytest.approx(0)
    assert verdict(job(1000, fault(LEFT))).rival is None


def test_a_check_gains_what_the_money_could_not_mend_without_it() -> None:
    """11.00 is enough for a look and either repair, not for both repairs: 1.0 instead of 0.5, for 11.00, not 6."""
    check = only(verdict(job(1100, fault(LEFT, RIGHT))))
    assert (check.taken, check.fixes, check.saved_minor) == (True, pytest.approx(0.5), pytest.approx(-500))


def test_what_the_other_faults_take_is_not_there_for_the_check() -> None:
    """The lamp takes 6.00 of 12.00, and is mended for certain: the look would leave 1.00 for the horn."""
    lamp = Fault(id="lamp", severity="minor", importance=5, repairs=(Repair(id="mend", chance=1.0, price_minor=600),))
    check = only(verdict(job(1200, fault(LEFT, RIGHT), lamp)))
    assert not check.taken
    assert check.fixes == pytest.approx(0)


def test_a_check_that_saves_is_kept_though_it_adds_no_chance() -> None:
    """A free look saves half of 6.00."""
    free = LOOK.model_copy(update={"cost_minor": 0})
    check = only(verdict(job(1200, fault(LEFT, checks=(free,)))))
    assert (check.taken, check.fixes, check.saved_minor) == (True, pytest.approx(0), pytest.approx(300))
