"""Textbook problems written as jobs, so that they go through the program's own face.

An item is a fault, taking it is its repair, its weight a price (or minutes, or pieces of a part with a limited stock),
its profit the value of a certain cure in millionths of a fix.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from pathlib import Path

import pytest

from optimiser import service
from optimiser.model.job import Fault, Job, Pot, Repair, Settings, Solve, Time
from optimiser.model.plan import Plan
from optimiser.model.quotes import Quote, Supplier

TODAY = date(2026, 11, 24)
DATA = Path(__file__).parent / "data"
REFERENCE = Path(__file__).parents[2].parent / "shared" / "reference" / "mmkp"
"""Where the instances that are too long to carry along lie, if they do; the numbers are those of their source."""
AMPLE_MINOR = 10**6
MILLION = 1_000_000


def reference(name: str) -> list[list[float]]:
    """The numbers of an instance, line by line; skips the test where a long one is not beside the checkout."""
    file = next((at for at in (DATA / f"{name}.txt", REFERENCE / f"{name}.txt") if at.is_file()), None)
    if file is None:
        pytest.skip(
            f"{name}.txt is too long to carry along and not beside this checkout: see tests/published/data/README.md"
        )
    return [[float(word) for word in line.split()] for line in file.read_text().splitlines() if line.strip()]


def job(
    faults: Iterable[Fault],
    *,
    pot_minor: int = AMPLE_MINOR,
    minutes: int | None = None,
    quotes: Iterable[Quote] = (),
    suppliers: Iterable[Supplier] = (),
    seconds: float = 60,
) -> Job:
    """A job of minor faults, so that there is one stage of value, ``all-faults``, before net cost; one attempt each.

    Chances count as they are, and time is worth nothing.
    """
    return Job(
        settings=Settings(currency="GBP", today=TODAY, fallbacks=False, chance_step=0.0),
        pot=Pot(cap_minor=pot_minor, hour_worth_minor=0),
        time=Time(hours=None if minutes is None else minutes / 60),
        solve=Solve(seconds=seconds),
        faults=tuple(faults),
        quotes=tuple(quotes),
        suppliers=tuple(suppliers),
    )


def fault(name: str, repairs: Iterable[Repair], importance: float = 1.0) -> Fault:
    return Fault(id=name, severity="minor", importance=importance, repairs=tuple(repairs))


def knapsack(
    capacity: int, weights: Sequence[int], profits: Sequence[int], second: tuple[int, Sequence[int]] | None = None
) -> Job:
    """Weights as prices; those of a ``second`` budget (limit, weights) as minutes. A profit is as many millionths."""
    limit, minutes = second or (None, [0] * len(weights))
    return job(
        (
            fault(f"item-{i:02}", [Repair(id="take", chance=1.0, price_minor=weight, minutes=spent)], profit / MILLION)
            for i, (weight, spent, profit) in enumerate(zip(weights, minutes, profits), start=1)
        ),
        pot_minor=capacity,
        minutes=limit,
    )


def stock_limited(
    groups: Iterable[Iterable[tuple[float, Mapping[int, int]]]], capacities: Sequence[int], seconds: float = 60
) -> Job:
    """At most one choice a group, each a value below 10,000 and pieces of free parts that are in stock up to capacity.

    A value of 1 is 100 millionths of a fix.
    """
    return job(
        (
            fault(f"group-{g:02}", [_choice(c, *row) for c, row in enumerate(choices, start=1)])
            for g, choices in enumerate(groups, start=1)
        ),
        quotes=(quote(r + 2, f"resource-{r}", "stores", 0, stock=capacity) for r, capacity in enumerate(capacities)),
        suppliers=[Supplier(id="stores")],
        seconds=seconds,
    )


def _choice(number: int, value: float, uses: Mapping[int, int]) -> Repair:
    parts = {f"resource-{r}": units for r, units in uses.items() if units}
    return Repair(id=f"choice-{number:02}", chance=value / 10_000, parts=parts)


def quote(line: int, part: str, supplier: str, price_minor: int, pack: int = 1, stock: int | None = None) -> Quote:
    """A new and surely sound part."""
    return Quote(id=f"quotes.csv:{line}", part=part, supplier=supplier, condition="new", price_minor=price_minor,
                 pack=pack, stock=stock, good_chance=1.0)  # fmt: skip


def shopping(wanted: Mapping[str, int], prices: Mapping[str, Sequence[int | None]], delivery: Mapping[str, int]) -> Job:
    """Every thing wanted is a fault of its own; ``prices`` in the order of the suppliers in ``delivery``."""
    offered = [
        (thing, supplier, price)
        for thing, row in prices.items()
        for supplier, price in zip(delivery, row, strict=True)
        if price is not None
    ]
    return job(
        (fault(thing, [Repair(id="buy", chance=1.0, parts={thing: n})]) for thing, n in wanted.items()),
        quotes=(quote(line, *row) for line, row in enumerate(offered, start=2)),
        suppliers=(Supplier(id=supplier, postage_minor=charge) for supplier, charge in delivery.items()),
    )


def planned(asked: Job) -> Plan:
    """The plan, which must be proven: a published optimum is no use otherwise."""
    plan = service.plan(asked)
    assert plan.outcome.proven
    return plan


def value(plan: Plan) -> int:
    """What the stage of all faults reached, in millionths of a fix."""
    return plan.selection.levels["all-faults"]


def numbers(plan: Plan) -> dict[int, int]:
    """For each fault that is mended, its number and the number of the repair (0 for one without), from their ids."""
    chosen = ((c.fault.id, c.option.repair) for c in plan.choices if c.option is not None)
    return {_number(name): _number(repair) for name, repair in chosen}


def _number(name: str) -> int:
    digits = name.rpartition("-")[2]
    return int(digits) if digits.isdigit() else 0
