"""Quotes that no repair needs, left out where they can be of no use: against all of them, and plain enumeration."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from unittest.mock import patch

from hypothesis import given
from hypothesis import strategies as st

from optimiser.model.job import Fault, Job, Pot, Repair, Settings, Solve
from optimiser.model.plan import Selection
from optimiser.model.quotes import Quote, Supplier
from optimiser.planning import choose, options, top_ups
from optimiser.solver import solve, top_up_sums
from tests import brute_force, small_route_jobs
from tests.effort import examples
from tests.small_jobs import SUPPLIERS, TODAY, jobs

prices = st.sampled_from([3, 4, 5, 6, 7])


@st.composite
def sold_beside(draw, number: int, suppliers: Sequence[str] = SUPPLIERS, dear: int = 11) -> Quote:
    """A quote of something that the job does not need, at a price that may be a sum of others."""
    return Quote(
        id=f"catalogue.csv:{number + 2}",
        part=draw(st.sampled_from(["apron", "rug", "zip"])),
        supplier=draw(st.sampled_from(suppliers)),
        condition="new",
        price_minor=draw(st.sampled_from([3, 2, 7, 4, 5, dear, dear])),
        pack=draw(st.sampled_from([1, 1, 2])),
        stock=draw(st.sampled_from([None, None, 1, 2])),
        good_chance=1.0,
        deposit_minor=draw(st.sampled_from([0, 0, 0, 1])),
        valid_until=draw(st.sampled_from([None, None, TODAY, TODAY + timedelta(days=3)])),
    )


@st.composite
def with_catalogues(draw, plain: st.SearchStrategy[Job], most: int) -> Job:
    job = draw(plain)
    return job.model_copy(
        update={"quotes": (*job.quotes, *(draw(sold_beside(n)) for n in range(draw(st.integers(1, most)))))}
    )


@st.composite
def short_orders(draw, fallbacks: bool = False) -> Job:
    """A piece or two from a shop whose terms ask for a little more; money is no matter."""
    least, dear = draw(st.sampled_from([0, 7, 7, 9])), draw(st.sampled_from([3, 8, 10, 11]))
    asked = [
        Quote(id=f"quotes.csv:{n + 2}", part="pad", supplier="alder", condition="new", price_minor=draw(prices),
              good_chance=0.9, ref=str(n), pack=draw(st.sampled_from([1, 1, 2])))
        for n in range(2 if fallbacks else 1)
    ]  # fmt: skip
    return Job(
        settings=Settings(currency="GBP", today=TODAY, fallbacks=fallbacks,
                          needed_by=draw(st.sampled_from([None, TODAY + timedelta(days=2)]))),
        pot=Pot(cap_minor=200),
        solve=Solve(cache=False),
        faults=(Fault(id="grind", severity="minor", repairs=(Repair(id="fit", chance=0.9, parts={"pad": 1}),)),),
        quotes=(*asked, *(draw(sold_beside(n, ["alder"], dear)) for n in range(draw(st.integers(1, 6))))),
        suppliers=(
            Supplier(id="alder", postage_minor=draw(st.sampled_from([3, 4, 6])), minimum_order_minor=least,
                     free_over_minor=draw(st.sampled_from([None, 9, 13, 16])),),
        ),
    )  # fmt: skip


def said(mix: Selection) -> tuple[object, ...]:
    return dict(mix.levels), sorted(option.key for option in mix.options), dict(mix.packs)


@examples(300, usual=30)
@given(st.one_of(short_orders(), short_orders(), with_catalogues(jobs(most_faults=2, most_quotes=4), 6)))
def test_a_mix_from_whole_catalogues_is_the_same_with_what_is_of_no_use_left_out(job: Job) -> None:
    with patch.object(top_ups, "of_use", lambda _, quotes: list(quotes)):
        whole = options.build(job)
    short = options.build(job)
    assert {quote.id for quote in short.quotes} <= {quote.id for quote in whole.quotes}
    assert said(solve.best(job, short)) == said(solve.best(job, whole))


@examples(200, usual=20)
@given(st.one_of(short_orders(), short_orders(), with_catalogues(jobs(most_faults=2, most_quotes=4), 3)))
def test_a_mix_from_catalogues_is_the_best_of_all(job: Job) -> None:
    expected, found = brute_force.best(job), solve.best(job, options.build(job))
    assert tuple(found.levels.values())[:-1] == expected.values
    assert {option.key for option in found.options} == expected.keys
    assert tuple(sorted(found.packs.items())) == expected.packs


@st.composite
def short_of_odd_amounts(draw) -> Job:
    """Two faults, a shop that waives its postage, and packs for topping up at prices with gaps between them."""
    amount = st.integers(5, 24)
    asked = [
        Quote(id=f"quotes.csv:{n + 2}", part=part, supplier="alder", condition="new", price_minor=draw(amount),
              good_chance=0.9, ref=str(n))
        for n, part in enumerate(["pad", "pad", "lamp"])
    ]  # fmt: skip
    packs = [
        Quote(id=f"catalogue.csv:{n + 2}", part="rug", supplier="alder", condition="new", price_minor=draw(amount),
              good_chance=1.0, ref=str(n), stock=draw(st.sampled_from([None, 1, 1, 2])),
              deposit_minor=draw(st.sampled_from([0, 0, 0, 1])))
        for n in range(draw(st.integers(2, 5)))
    ]  # fmt: skip
    terms = Supplier(id="alder", postage_minor=draw(st.sampled_from([10, 25])),
                     free_over_minor=draw(st.integers(20, 60)), minimum_order_minor=0)  # fmt: skip
    faults = [
        Fault(id=part, severity="minor", repairs=(Repair(id="fit", chance=0.9, parts={part: 1}),))
        for part in ("pad", "lamp")
    ]
    return Job(settings=Settings(currency="GBP", today=TODAY, fallbacks=False), solve=Solve(cache=False),
               pot=Pot(cap_minor=draw(st.sampled_from([45, 60, 200]))), faults=tuple(faults),
               quotes=(*asked, *packs), suppliers=(terms,))  # fmt: skip


@examples(400, usual=30)
@given(st.one_of(short_of_odd_amounts(), short_orders()), st.sampled_from([1, 2, 12]))
def test_top_ups_told_by_their_sums_come_to_the_same_mix(job: Job, runs: int) -> None:
    """In so few runs that amounts are wanted which no packs come to, as in so many that each has one of its own."""
    offer = options.build(job)
    with patch.object(top_up_sums, "WORTH_SUMMING", 10**6):
        packs = said(solve.best(job, offer))
    with patch.object(top_up_sums, "WORTH_SUMMING", 1), patch.object(top_up_sums, "MOST_RUNS", runs):
        assert said(solve.best(job, offer)) == packs


@examples(100, usual=8)
@given(st.one_of(short_orders(fallbacks=True), with_catalogues(small_route_jobs.jobs(), 5)))
def test_routes_over_sums_of_top_ups_come_to_the_same(job: Job) -> None:
    def best(worth: int) -> object:
        with patch.object(top_up_sums, "WORTH_SUMMING", worth), patch.object(top_up_sums, "MOST_RUNS", 2):
            pick = choose.chosen(job, None, lambda _: None)
        safe = pick.job.settings.safety_first and solve.most_valued(job, pick.offer, 0, 9)
        return said(pick.selection), safe and tuple(safe.levels.values())[:1]

    assert best(1) == best(10**6)


@examples(60, usual=6)
@given(st.one_of(short_orders(fallbacks=True), with_catalogues(small_route_jobs.jobs(), 5)))
def test_routes_beside_whole_catalogues_come_to_the_same(job: Job) -> None:
    def best() -> dict[str, int]:
        return dict(choose.chosen(job, None, lambda _: None).selection.levels)

    with patch.object(top_ups, "of_use", lambda _, quotes: list(quotes)):
        whole = best()
    assert best() == whole


def test_an_amount_that_no_packs_come_to_is_never_counted_on() -> None:
    """At 21 a piece is 26 short of free postage, which there is no pack for; at 25 with one at 23 all comes to 48."""
    sold = [("pad", 21), ("pad", 25), ("rug", 23), ("rug", 28)]
    job = Job(
        settings=Settings(currency="GBP", today=TODAY, fallbacks=False), solve=Solve(cache=False),
        pot=Pot(cap_minor=200),
        faults=(Fault(id="grind", severity="minor", repairs=(Repair(id="fit", chance=0.9, parts={"pad": 1}),)),),
        quotes=tuple(Quote(id=f"quotes.csv:{n}", part=part, supplier="alder", condition="new", price_minor=price,
                           good_chance=0.9, stock=1) for n, (part, price) in enumerate(sold)),
        suppliers=(Supplier(id="alder", postage_minor=30, free_over_minor=47),),
    )  # fmt: skip
    with patch.object(top_up_sums, "WORTH_SUMMING", 1), patch.object(top_up_sums, "MOST_RUNS", 1):
        assert solve.best(job, options.build(job)).packs == {"quotes.csv:1": 1, "quotes.csv:2": 1}
