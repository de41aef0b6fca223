"""Amounts of millions and more: answered to the minor unit, or refused with the limit. All jobs here are invented."""

from __future__ import annotations

import random

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from optimiser import service
from optimiser.errors import InputError
from optimiser.model.base import Record
from optimiser.model.job import Access, Fault, Job, Part, Pot, Repair, Settings
from optimiser.model.quotes import Quote, Supplier
from optimiser.solver.program import GREATEST_FACTOR
from tests.effort import examples
from tests.property.test_mix import agrees, chosen
from tests.small_jobs import TODAY, jobs
from tests.tiny_job import BASE, HORN, LAMP, NEW, USED, but

few = examples(40)


def grown(record: Record, times: int) -> Record:
    """The record with every amount so many times as great, and a little beside it, so that nothing divides them all."""
    changes: dict[str, object] = {}
    for name in type(record).model_fields:
        value = getattr(record, name)
        if name.endswith("_minor") and value:
            rng = random.Random(f"{name} {value} {record!r}")
            changes[name] = value * times + rng.randrange(times // 3) - times // 6
        elif isinstance(value, Record):
            changes[name] = grown(value, times)
        elif isinstance(value, tuple) and value and isinstance(value[0], Record):
            changes[name] = tuple(grown(one, times) for one in value)
    return but(record, **changes)


def reported_as_less() -> Job:
    """Grown by 10,000,019 HiGHS 1.16 without presolve reports a better objective than its columns reach."""
    return Job(
        settings=Settings(
            currency="GBP", good_enough=0.6, safety_step=0.0, chance_step=0.0, aim="profit", fallbacks=False,
            today=TODAY,
        ),
        pot=Pot(cap_minor=20, spent_minor=2, hour_worth_minor=0),
        access=(Access(id="dash", minutes=15), Access(id="wheel", minutes=5, price_minor=1)),
        parts=(Part(id="pad", kind="friction", renew_in=2), Part(id="motor", kind="free"), Part(id="hose")),
        faults=(
            Fault(id="fault-0", severity="minor", importance=0.5,
                  repairs=(Repair(id="way-0", chance=0.9, parts={"pad": 1}),)),
            Fault(id="fault-1", severity="minor", importance=0.5, sale_gain_minor=20,
                  repairs=(Repair(id="way-0", chance=0.9, parts={"motor": 1}),)),
        ),
        quotes=tuple(
            Quote(id=f"quotes.csv:{line}", part=part, supplier="alder", condition="new", price_minor=5,
                  good_chance=sound)
            for line, part, sound in ((2, "pad", 0.5), (3, "pad", 0.5), (4, "motor", 0.8), (5, "motor", 0.8))
        ),
        suppliers=(
            Supplier(id="alder", postage_minor=4, free_over_minor=10, trip_minutes=30),
            Supplier(id="birch", postage_minor=4, minimum_order_minor=10),
        ),
    )  # fmt: skip


@few
@example(reported_as_less(), 10_000_019)
@given(jobs(most_faults=2), st.sampled_from([100_003, 10_000_019, 1_000_000_007]))
def test_great_amounts_are_reckoned_to_the_minor_unit(job: Job, times: int) -> None:
    job = grown(job, times)
    agrees(job, chosen(job))


def quote(line: int, part: str, price_minor: int, pack: int = 1, **more: object) -> Quote:
    given = {"condition": "salvage", "good_chance": 0.78} | more
    return Quote(id=f"quotes.csv:{line}", part=part, supplier="s0", price_minor=price_minor, pack=pack, **given)


TOO_DEAR = Job(
    settings=Settings(currency="GBP", today=TODAY),
    pot=Pot(cap_minor=613964462, purchase_minor=37521139),
    faults=(
        Fault(id="f1", severity="dangerous", causes={"c0": 0.5, "c1": 3, "c2": 1.5}, repairs=(
            Repair(id="r10", cures={"c2": 0.8, "c0": 0.97, "c1": 0.97}, parts={"p0": 3, "p3": 3},
                   price_minor=12500259),)),
    ),
    quotes=(quote(2, "p0", 130043395, deposit_minor=30019092),
            quote(3, "p3", 115277325, 4, condition="new", good_chance=0.99)),
    suppliers=(Supplier(id="s0"),),
)  # fmt: skip
"""Its only repair takes 607,965,045 of the 576,443,323 minor units that remain."""
ONE_PAYS = Job(
    settings=Settings(currency="GBP", today=TODAY, aim="profit"),
    pot=Pot(cap_minor=520925796),
    faults=(
        Fault(id="f0", severity="minor", sale_gain_minor=249984063, causes={"c0": 1, "c1": 1},
              repairs=(Repair(id="r00", cures={"c1": 0.97, "c0": 0.0}),)),
        Fault(id="f1", severity="minor", causes={"c1": 3}, repairs=(
            Repair(id="r10", cures={"c1": 0.9}, parts={"p3": 2, "p2": 1}),)),
    ),
    quotes=(quote(2, "p2", 78647439, 4), quote(3, "p3", 196139217, 2)),
    suppliers=(Supplier(id="s0"),),
)  # fmt: skip
"""The first repair is free and earns 249,984,063 x 0.95/2 x 0.97 = 115,180,157; the other costs and earns nothing."""


@pytest.mark.parametrize("fallbacks", [True, False])
def test_what_millions_do_not_pay_for_is_left(fallbacks: bool) -> None:
    plan = service.plan(but(TOO_DEAR, settings=but(TOO_DEAR.settings, fallbacks=fallbacks)))
    assert plan.outcome.proven
    assert (plan.selection.routes, plan.purse.unspent_minor) == ((), 576443323)


@pytest.mark.parametrize("fallbacks", [True, False])
def test_what_earns_millions_for_nothing_is_done(fallbacks: bool) -> None:
    plan = service.plan(but(ONE_PAYS, settings=but(ONE_PAYS.settings, fallbacks=fallbacks)))
    assert plan.outcome.proven
    assert [(route.fault, plan.profit_minor) for route in plan.selection.routes] == [("f0", 115180157)]


def at_odds(price_minor: int, hour_worth_minor: int) -> Job:
    """A disc at this price, beside amounts and minutes that no common unit divides."""
    horn = but(HORN, repairs=(but(HORN.repairs[0], minutes=19),))
    quotes = (but(NEW, price_minor=price_minor), but(USED, price_minor=price_minor - 7))
    return but(BASE, pot=Pot(cap_minor=10**12, hour_worth_minor=hour_worth_minor), faults=(horn, LAMP), quotes=quotes)


def test_what_is_beyond_the_limit_is_refused_with_the_limit() -> None:
    greatest = GREATEST_FACTOR // 60
    with pytest.raises(InputError, match="hour_worth") as refused:
        service.plan(at_odds(greatest + 1000, 7919))
    (problem,) = refused.value.problems
    assert problem.expected == "amounts up to 183251937.96 in whole minor units"
    assert 'hour_worth = "0"' in problem.mend
    assert service.plan(at_odds(greatest - 10**6, 7919)).outcome.proven
    assert service.plan(at_odds(greatest + 1000, 0)).outcome.proven


def test_amounts_that_a_greater_unit_divides_are_no_greater_than_they_are_in_it() -> None:
    """Whole thousands of a currency whose minor unit buys nothing."""
    dear = but(NEW, price_minor=90_000_000_000)
    plan = service.plan(but(at_odds(10**9, 60_000), quotes=(dear,), faults=(HORN,)))
    assert plan.outcome.proven
    assert plan.purse.net_minor == 90_000_000_000
