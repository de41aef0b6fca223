"""At most one choice a group, the nearest textbook relatives of one repair a fault. Sources stand in ``instances``."""

from __future__ import annotations

import math

import pytest

from optimiser.model.job import Repair
from tests.published.instances import ASSIGNMENT, MEDICAL_TEAMS, REDUNDANCY, SCIENTISTS, SEVERAL_SACKS
from tests.published.mapping import fault, job, numbers, planned, reference, stock_limited, value


def test_medical_teams_are_sent_where_they_gain_most() -> None:
    teams, gains, best, sent = MEDICAL_TEAMS
    countries = (
        fault(f"country-{c}", [Repair(id=f"teams-{n}", chance=g / 1000, price_minor=n) for n, g in enumerate(row, 1)])
        for c, row in enumerate(gains, start=1)
    )
    plan = planned(job(countries, pot_minor=teams))
    assert value(plan) == best * 1000
    assert numbers(plan) == dict(enumerate(sent, start=1))


def test_spare_units_give_the_greatest_expected_number_of_working_parts() -> None:
    budget, parts, _, units = REDUNDANCY
    plan = planned(job((_part(p, [(r, cost) for r, cost in row]) for p, row in enumerate(parts, 1)), pot_minor=budget))
    assert value(plan) == 2_400_000
    assert numbers(plan) == dict(enumerate(units, start=1))


def test_spare_units_give_the_greatest_reliability() -> None:
    """The greatest product is the greatest sum of logarithms, with a constant that no part is worth leaving out for."""
    budget, parts, best, units = REDUNDANCY
    plan = planned(
        job((_part(p, [(1 + math.log(r) / 10, cost) for r, cost in row]) for p, row in enumerate(parts, 1)),
            pot_minor=budget)
    )  # fmt: skip
    assert numbers(plan) == dict(enumerate(units, start=1))
    assert math.exp((value(plan) / 1e6 - 3) * 10) == pytest.approx(best, abs=1e-4)


def _part(number: int, rows: list[tuple[float, int]]):
    return fault(
        f"part-{number}",
        [Repair(id=f"units-{n}", chance=chance, price_minor=cost) for n, (chance, cost) in enumerate(rows, start=1)],
    )


def test_scientists_are_sent_where_all_teams_are_least_likely_to_fail() -> None:
    """The least product of failures is the greatest sum of their negative logarithms."""
    scientists, failures, best, sent = SCIENTISTS
    teams = (
        fault(f"team-{t}", [Repair(id=f"scientists-{n}", chance=-math.log(p) / 10, price_minor=n) for n, p in
                            enumerate(row)])
        for t, row in enumerate(failures, start=1)
    )  # fmt: skip
    plan = planned(job(teams, pot_minor=scientists))
    assert numbers(plan) == dict(enumerate(sent, start=1))
    assert math.exp(-value(plan) / 1e5) == pytest.approx(best, abs=1e-5)


@pytest.mark.parametrize(("capacities", "weights", "profits", "best"), SEVERAL_SACKS)
def test_items_are_shared_out_over_several_sacks(capacities, weights, profits, best) -> None:
    items = ([(p, {sack: w}) for sack in range(len(capacities))] for w, p in zip(weights, profits))
    assert value(planned(stock_limited(items, capacities))) == best * 100


def test_jobs_are_assigned_to_machines() -> None:
    capacities, weights, profits, best = ASSIGNMENT
    jobs = ([(p, {m: w}) for m, (w, p) in enumerate(zip(*rows))] for rows in zip(weights, profits))
    assert value(planned(stock_limited(jobs, capacities))) == best * 100


@pytest.mark.parametrize(("name", "best"), [("mknap1-1", 3800), ("mknap1-2", 8706.1), ("mknap1-3", 4015)])
def test_petersens_projects_within_ten_limits(name: str, best: float) -> None:
    """C. C. Petersen, Management Science 13(9), 736-750, 1967, from the OR-Library of J. E. Beasley, 1990. Seen."""
    _, profits, *rows, capacities = reference(name)
    items = ([(p, {r: int(row[i]) for r, row in enumerate(rows)})] for i, p in enumerate(profits))
    assert value(planned(stock_limited(items, [int(c) for c in capacities]))) == round(best * 100)


MULTIPLE_CHOICE = [
    ("I01", 173),
    ("I02", 364),
    pytest.param("I03", 1602, marks=pytest.mark.slow),
    pytest.param("I04", 3597, marks=pytest.mark.slow),
    ("I05", 3905.7),
    ("I06", 4799.3),
]


@pytest.mark.parametrize(("name", "best"), MULTIPLE_CHOICE)
def test_one_of_every_group_within_several_limits(name: str, best: float) -> None:
    """S. Khan, K. F. Li, E. G. Manning, M. M. Akbar, Studia Informatica Universalis 2(1), 157-178, 2002. Seen.

    The source takes exactly one of every group, a job may leave one; in these that gains nothing. I04 takes all its
    fifteen minutes: what is left of them after the proof goes into the tie-breaks.
    """
    (groups, _, _), capacities, *rows = reference(name)
    choices = (
        [(row[2], {r: int(n) for r, n in enumerate(row[3:])}) for row in rows if row[0] == group]
        for group in range(1, int(groups) + 1)
    )
    plan = planned(stock_limited(choices, [int(c) for c in capacities], seconds=900))
    assert value(plan) == round(best * 100)
    assert len(numbers(plan)) == groups
