"""What the plan of every pattern begins with, alone and with money enough: a table that was read line by line."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from optimiser import job_folder, patterns, service, starting
from optimiser.model.plan import Plan
from optimiser.model.route import AttemptStep, CheckStep
from optimiser.money import Currency
from tests.unit.patterns.test_every_pattern import CATALOGUE, TODAY

TABLE = Path(__file__).with_name("plans.csv")
POT = 1200_00
WORTH = '[money]\nhour_worth = "8.00"'
EVERY = 17
"""Of so many patterns one is planned in the ordinary run."""


def planned(name: str) -> Plan:
    currency = Currency.of("GBP")
    head = starting.head(starting.NewJob("Invented", currency, POT)).replace("[money]", WORTH)
    text = head + patterns.fault_text(patterns.Wanted(CATALOGUE[name]), currency, {})
    return service.plan(job_folder.job(Path("/nowhere"), TODAY, written=text))


def row(name: str) -> dict[str, str]:
    """What is done first, whether it is a look or an attempt, and the chance in hundredths."""
    (choice,) = planned(name).choices
    first = None if choice.route is None else choice.route.first
    if isinstance(first, CheckStep):
        begins = ("look", first.check)
    elif isinstance(first, AttemptStep):
        begins = ("workshop" if first.option.by_workshop else "own work", first.option.repair)
    else:
        begins = ("left", "")
    chance = f"{100 * choice.chance:.0f}"
    return dict(zip(("pattern", "begins with", "step", "chance"), (name, *begins, chance), strict=True))


def table() -> dict[str, dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        return {line["pattern"]: line for line in csv.DictReader(file)}


def test_the_table_has_every_pattern() -> None:
    assert set(table()) == set(CATALOGUE)


def test_most_begin_with_a_look_and_none_is_left() -> None:
    begins = [line["begins with"] for line in table().values()]
    assert "left" not in begins
    assert begins.count("look") > len(begins) / 2


@pytest.mark.parametrize("name", sorted(CATALOGUE)[::EVERY])
def test_the_plan_begins_as_the_table_says(name: str) -> None:
    assert row(name) == table()[name]


@pytest.mark.slow
@pytest.mark.parametrize("name", sorted(CATALOGUE))
def test_every_plan_begins_as_the_table_says(name: str) -> None:
    assert row(name) == table()[name]
