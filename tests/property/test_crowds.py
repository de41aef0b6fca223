"""Quotes that enough others beat, left out of a crowd: every level of a plan is what it is with all of them."""

from __future__ import annotations

import itertools
import math
import random
from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from unittest.mock import patch

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser import service
from optimiser.model.job import Check, Fault, Job, Owned, Part, Pot, Repair, Settings, Solve, Time
from optimiser.model.plan import Remark, Selection
from optimiser.model.quotes import Quote, Supplier
from optimiser.planning import choose, crowds, options
from tests.effort import examples
from tests.small_jobs import TODAY

pytestmark = pytest.mark.long

SHOPS = ("alder", "birch", "cedar")
VALUES = ("dangerous", "all-faults", "profit", "net-cost", "cost-and-time")


@dataclass(frozen=True)
class Dice:
    """Of a job most things are alike: the fewer are ``oddities``, the more quotes are beaten."""

    rng: random.Random
    oddities: float

    def odd(self, usual: Any, *others: Any) -> Any:
        return self.rng.choice(others) if self.rng.random() < self.oddities else usual


def job_of(seed: int, *, fallbacks: bool) -> Job:
    """A fault or two that want the same parts, and a dozen offers, many of them alike but for the price."""
    rng = random.Random(seed)
    pick, dice = rng.choice, Dice(rng, rng.choice([0.03, 0.1, 0.2]))
    return Job(
        settings=Settings(currency="GBP", today=TODAY, fallbacks=fallbacks, most_attempts=pick([1, 1, 2, 2]),
                          needed_by=pick([None] * 5 + [TODAY + timedelta(days=3)]),
                          most_suppliers=pick([None] * 5 + [1]), aim=pick(["fixes", "fixes", "profit"]),
                          chance_step=pick([0, 0.01, 0.2])),
        pot=Pot(cap_minor=pick([15, 25, 40, 80]), hour_worth_minor=pick([0, 7])),
        time=Time(hours=pick([None, None, 1.0])),
        solve=Solve(cache=False),
        parts=(Part(id="pad", renew_in=pick([1, 1, 2]), rough_price={"new": (1, 20)}),
               Part(id="motor", rough_price={"new": (1, 20)})),
        owned=dice.odd((), (Owned(part="pad", condition="new", good_chance=0.8),)),
        faults=tuple(_fault(rng, n) for n in range(pick([1, 1, 2]))),
        quotes=tuple(_quote(dice, n) for n in range(pick([9, 12, 15]))),
        suppliers=tuple(
            _terms(dice, shop, dice.odd(None, _terms(dice, shop))) for shop in SHOPS
        ),
    )  # fmt: skip


def _terms(dice: Dice, shop: str, own: Supplier | None = None) -> Supplier:
    return Supplier(
        id=shop,
        postage_minor=dice.rng.choice([0, 1, 2, 4]),
        free_over_minor=dice.rng.choice([None, None, 9, 14]),
        minimum_order_minor=dice.odd(0, 7),
        trip_minutes=dice.odd(0, 30),
        own=own,
    )


def _fault(rng: random.Random, number: int) -> Fault:
    pick = rng.choice
    repairs = [Repair(id="fit", chance=pick([0.9, 0.6]), parts={"pad": pick([1, 1, 2])}, minutes=20)]
    if rng.random() < 0.3:
        repairs.append(Repair(id="both", cures={"worn": 0.95}, parts={"pad": 1, "motor": 1}, minutes=30))
    if rng.random() < 0.2:
        repairs.append(Repair(id="clean", cures={"loose": 0.5}, minutes=10))
    results = {"slack": {"worn": 0.8, "loose": 0.1}}
    return Fault(id=f"fault-{number}", severity=pick(["minor", "dangerous"]), causes={"worn": 2, "loose": 1},
                 sale_gain_minor=pick([0, 30]), repairs=tuple(repairs),
                 checks=(Check(id="look", minutes=5, results=results),) if rng.random() < 0.25 else ())  # fmt: skip


def _quote(dice: Dice, number: int) -> Quote:
    pick = dice.rng.choice
    return Quote(
        id=f"quotes.csv:{number + 2}",
        part=dice.odd("pad", "motor"),
        supplier=pick(SHOPS),
        condition="new",
        price_minor=dice.rng.randint(2, 20),
        good_chance=dice.odd(0.9, 0.6),
        pack=dice.odd(1, 2),
        stock=dice.odd(None, 1, 4),
        deposit_minor=dice.odd(0, 2),
        refund_share=dice.odd(0.0, 0.5),
        lead_days=dice.odd(0, 2),
        valid_until=dice.odd(None, TODAY + timedelta(days=1)),
        rough=dice.odd(False, True),
        warranty_months=pick([None, 3, 12]),
    )


def levels(job: Job, crowd: float) -> dict[str, int]:
    with patch.object(crowds, "CROWD", crowd):
        return values(choose.chosen(job, None, lambda _: None).selection)


def values(mix: Selection) -> dict[str, int]:
    return {name: value for name, value in mix.levels.items() if name in VALUES}


@pytest.mark.parametrize("fallbacks", [False, True])
@examples(600, usual=10)
@given(seed=st.integers(0, 10**9))
def test_a_crowd_without_what_enough_others_beat_comes_to_the_same(seed: int, fallbacks: bool) -> None:
    job = job_of(seed, fallbacks=fallbacks)
    assert levels(job, 0) == levels(job, math.inf)


@pytest.mark.parametrize("fallbacks", [False, True])
@examples(120, usual=6)
@given(seed=st.integers(0, 10**9))
def test_of_a_crowd_that_takes_too_much_room_the_likely_ones_are_taken_and_the_rest_bounded(
    seed: int, fallbacks: bool
) -> None:
    job = job_of(seed, fallbacks=fallbacks)
    with patch.object(crowds, "CROWD", 2), patch.object(crowds, "MOST_IN_ALL", 4):
        few = choose.chosen(job, None, lambda _: None)
    best, found, known = levels(job, math.inf), values(few.selection), few.selection.outcome
    assert list(found.values())[:-1] <= list(best.values())[:-1]
    assert bool(few.offer.passed_over) == any(said.remark == Remark.QUOTES_CUT for said in few.cut)
    if few.offer.passed_over:
        assert not known.proven
        stage = known.stage or ""
        assert all(found[name] == best[name] for name in itertools.takewhile(lambda n: n != stage, found))
        assert best[stage] <= found[stage] + known.better_at_most


def test_a_job_of_many_crowds_looks_at_so_many_quotes_in_all(monkeypatch: pytest.MonkeyPatch) -> None:
    """Five faults, thirty offers each from shops that waive postage: room for ten of each, the cheapest among them."""
    monkeypatch.setattr(crowds, "CROWD", 5)
    monkeypatch.setattr(crowds, "MOST_IN_ALL", 50)
    parts = [f"part-{n}" for n in range(5)]
    job = Job(
        settings=Settings(currency="GBP", today=TODAY, fallbacks=False), pot=Pot(cap_minor=10_000),
        solve=Solve(cache=False),
        faults=tuple(Fault(id=part, severity="minor", repairs=(Repair(id="fit", chance=0.9, parts={part: 1}),))
                     for part in parts),
        quotes=tuple(Quote(id=f"quotes.csv:{30 * p + n + 2}", part=part, supplier=SHOPS[n % 3], condition="new",
                           price_minor=500 + n, good_chance=0.9)
                     for p, part in enumerate(parts) for n in range(30)),
        suppliers=tuple(Supplier(id=shop, postage_minor=400, free_over_minor=900) for shop in SHOPS),
    )  # fmt: skip
    offer = options.build(job)
    assert len(offer.options) == 50
    assert offer.passed_over == dict.fromkeys(parts, 20)
    assert {line.quote.price_minor for option in offer.options for line in option.lines} == set(range(500, 510))
    assert {quote.part for quote in offer.quotes} >= set(parts)
    assert len(options.build(job.model_copy(update={"faults": job.faults[:1]})).options) == 30
    said = service.plan(job).notices
    assert [notice.about for notice in said if notice.remark == Remark.QUOTES_CUT] == [("100", *parts)]


def what_ifs(job: Job, crowd: float) -> dict[tuple[str, ...], object]:
    """By option what the best plan comes to that tries it first, and where the choice would change."""
    with patch.object(crowds, "CROWD", crowd):
        rows = service.compare(job, job.faults[0].id).rows
    return {row.option.key: (row.plan and values(row.plan.selection), row.switch) for row in rows}


@pytest.mark.parametrize("fallbacks", [False, True])
@examples(100, usual=2)
@given(seed=st.integers(0, 10**9))
def test_what_ifs_of_what_is_left_in_a_crowd_are_the_same(seed: int, fallbacks: bool) -> None:
    job = job_of(seed, fallbacks=fallbacks)
    few, all_of_them = what_ifs(job, 0), what_ifs(job, math.inf)
    assert few == {key: told for key, told in all_of_them.items() if key in few}
    assert fallbacks or len(few) == len(all_of_them)


def test_up_to_a_crowd_every_option_is_there_to_compare() -> None:
    job = job_of(0, fallbacks=True)
    repair = Repair(id="fit", chance=0.9, parts={"pad": 1})
    fault = Fault(id="worn", severity="minor", repairs=(repair,))
    offers = [Quote(id=f"quotes.csv:{n + 2}", part="pad", supplier="alder", condition="new", price_minor=1 + n,
                    good_chance=0.9) for n in range(crowds.CROWD + 1)]  # fmt: skip

    def offered(number: int) -> int:
        few = job.model_copy(
            update={"faults": (fault,), "owned": (), "suppliers": (), "quotes": tuple(offers[:number])}
        )
        return len(options.build(few, whole={"worn"}).options)

    assert offered(crowds.CROWD) == crowds.CROWD
    assert 1 < offered(crowds.CROWD + 1) < 10


def test_the_jobs_that_are_tried_do_have_quotes_that_others_beat() -> None:
    fewer = 0
    for seed in range(60):
        job = job_of(seed, fallbacks=True)
        whole = {fault.id for fault in job.faults}
        counted = []
        for crowd in (0, math.inf):
            with patch.object(crowds, "CROWD", crowd):
                counted.append(len(options.build(job, whole=whole).options))
        fewer += counted[0] < counted[1]
    assert fewer > 20
