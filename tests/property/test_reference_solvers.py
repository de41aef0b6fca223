"""The same jobs through two reference solvers, in a program of bare lists that shares nothing with the mix.

SciPy carries a HiGHS of its own, of a version that has been seen to be wrong (``test_solver_traps``): where the two
differ, believe CP-SAT first.
"""

from __future__ import annotations

from datetime import timedelta

import pytest

from optimiser.model.job import Job, Repair
from optimiser.model.quotes import Quote
from tests import plain_program
from tests.effort import FULL
from tests.made_up_jobs import made_up
from tests.published.instances import (
    BURKARDT,
    LORIE_SAVAGE,
    LORIE_SAVAGE_SECOND_YEAR,
    SINGLES,
    TEN_BOOKS,
    WEINGARTNER,
    WEINGARTNER_SECOND_BUDGET,
)
from tests.published.mapping import TODAY, fault, job, knapsack, planned, quote, shopping

SOLVERS = [plain_program.cp_sat, plain_program.scipy_milp]
PUBLISHED = {
    **{name: knapsack(c.capacity, c.weights, c.profits) for name, c in (BURKARDT | SINGLES).items()},
    "lorie-savage": knapsack(*LORIE_SAVAGE[:3], second=LORIE_SAVAGE_SECOND_YEAR),
    "weingartner": knapsack(*WEINGARTNER[:3], second=WEINGARTNER_SECOND_BUDGET),
    "ten-books": shopping(dict.fromkeys(TEN_BOOKS, 1), TEN_BOOKS, {f"shop-{n}": 4 for n in range(10)}),
}


@pytest.mark.parametrize("solver", SOLVERS)
@pytest.mark.parametrize("name", PUBLISHED)
def test_published_jobs_come_to_the_same_levels(name: str, solver) -> None:
    asked = PUBLISHED[name]
    assert dict(planned(asked).selection.levels) == plain_program.levels(plain_program.write(asked), solver)


@pytest.mark.parametrize("seed", range(8 if FULL else 4))
def test_made_up_jobs_come_to_the_same_levels(seed: int) -> None:
    asked = made_up(seed)
    program = plain_program.write(asked)
    levels = dict(planned(asked).selection.levels)
    for solver in SOLVERS:
        assert levels == plain_program.levels(program, solver), solver.__name__


def two_offers(cheap: Quote, dear: Quote, faults: int, lead_days: int) -> Job:
    """A pump for every fault, all from one supplier, done in ten days at the latest."""
    fit = Repair(id="fit", chance=1.0, parts={"pump": 1}, lead_days=lead_days)
    asked = job([fault(f"fault-{n}", [fit]) for n in range(faults)], quotes=[cheap, dear])
    settings = asked.settings.model_copy(update={"needed_by": TODAY + timedelta(days=10)})
    return asked.model_copy(update={"settings": settings})


CHEAP, DEAR = quote(2, "pump", "stores", 1_000), quote(3, "pump", "stores", 1_200)
KEPT = {
    "runs-out": (two_offers(CHEAP.model_copy(update={"stock": 1}), DEAR, faults=2, lead_days=0), 2_200),
    "comes-late": (two_offers(CHEAP.model_copy(update={"lead_days": 8}), DEAR, faults=1, lead_days=3), 1_200),
    "less-sound": (two_offers(CHEAP.model_copy(update={"good_chance": 0.9}), DEAR, faults=1, lead_days=0), 1_200),
}


@pytest.mark.parametrize("solver", SOLVERS)
@pytest.mark.parametrize("name", KEPT)
def test_a_dearer_offer_is_kept_where_the_cheap_one_falls_short(name: str, solver) -> None:
    asked, net_cost = KEPT[name]
    levels = dict(planned(asked).selection.levels)
    assert levels == {"all-faults": 1_000_000 * len(asked.faults), "net-cost": net_cost}
    assert levels == plain_program.levels(plain_program.write(asked), solver)
