"""Quotes side by side against brute force written apart: every pack count tried, every series summed."""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import product
from unittest.mock import patch

from hypothesis import given
from hypothesis import strategies as st

from optimiser.model.job import Fault, Job, Part, Pot, Repair, Settings
from optimiser.model.plan import Order, OrderLine, Outcome, Plan, Purse, Selection
from optimiser.model.quote_comparison import Merit, Quoted
from optimiser.model.quotes import Quote, Supplier
from optimiser.planning import quote_comparison
from optimiser.planning.landed_cost import Shop
from tests.effort import examples
from tests.small_jobs import TODAY, quotes

needs = st.dictionaries(st.sampled_from(["pad", "motor", "hose"]), st.integers(1, 3), max_size=2)


@st.composite
def suppliers(draw, name: str) -> Supplier:
    return Supplier(
        id=name,
        postage_minor=draw(st.sampled_from([0, 3, 5, 8])),
        free_over_minor=draw(st.sampled_from([None, 6, 10, 14, 20])),
        minimum_order_minor=draw(st.sampled_from([0, 0, 5, 9, 13])),
    )


@st.composite
def jobs(draw) -> Job:
    asked = [draw(quotes(number)) for number in range(draw(st.integers(1, 4)))]
    asked = [q.model_copy(update={"refund_share": draw(st.sampled_from([0.0, 0.5, 1.0])),
                                  "warranty_months": draw(st.sampled_from([None, 0, 12]))}) for q in asked]  # fmt: skip
    repairs = tuple(Repair(id=f"way-{i}", chance=0.9, parts=draw(needs)) for i in range(2))
    return Job(
        settings=Settings(currency="GBP", today=TODAY),
        pot=Pot(cap_minor=1000),
        parts=(Part(id="pad", renew_in=draw(st.sampled_from([1, 2]))),),
        faults=(Fault(id="fault", severity="minor", repairs=repairs),),
        quotes=tuple(asked),
        suppliers=(draw(suppliers("alder")), draw(suppliers("birch"))),
    )


# ---- brute force, which knows nothing of the code under test


def may_be_bought(quote: Quote) -> bool:
    return quote.valid_until is None or quote.valid_until >= TODAY


def order_cost(job: Job, supplier: Supplier, held: dict[str, int]) -> int | None:
    """The least that an order holding these packs can come to, every count of others tried; their deposits are lost."""
    offered = [q for q in job.quotes if q.supplier == supplier.id and may_be_bought(q)]
    prices = {q.id: q.price_minor for q in offered}
    goods = sum(prices[name] * packs for name, packs in held.items())
    target = max(supplier.minimum_order_minor, supplier.free_over_minor or 0)
    counts = []
    for quote in offered:
        most = 0 if not quote.price_minor else -(-target // quote.price_minor)
        counts.append(range(most + 1 if quote.stock is None else min(most, quote.stock - held.get(quote.id, 0)) + 1))
    best = None
    for extra in product(*counts):
        more = sum(n * q.price_minor for n, q in zip(extra, offered))
        lost = sum(n * q.pack * q.deposit_minor for n, q in zip(extra, offered))
        if goods + more < supplier.minimum_order_minor:
            continue
        free = supplier.free_over_minor is not None and goods + more >= supplier.free_over_minor
        cost = goods + more + lost + (0 if free else supplier.postage_minor)
        best = cost if best is None else min(best, cost)
    return best


def need(job: Job, part: str) -> int:
    sets = {p.id: p.renew_in for p in job.parts}.get(part, 1)
    uses = [r.parts[part] for f in job.faults for r in f.repairs if part in r.parts]
    units = max(uses, default=sets)
    while units % sets:
        units += 1
    return units


def packs_for(quote: Quote, units: int) -> int:
    packs = 0
    while packs * quote.pack < units:
        packs += 1
    return packs


def lost(quote: Quote, units: int) -> int:
    return (packs_for(quote, units) * quote.pack - units) * quote.deposit_minor


def series(alone: int, again: int, good: Fraction) -> tuple[Fraction, Fraction]:
    """Between what the expected cost lies: the money of every run of failures times its chance, and the rest."""
    total, chance, tries = Fraction(0), Fraction(1), 100
    for failed in range(tries):
        total += chance * good * (alone + failed * again)
        chance *= 1 - good
    # of the rest each run has failed 100 times, and 1/good - 1 more on the average: at most this much
    return total, total + chance * (alone + again * (tries + 1 / good))


def rows_of(job: Job, plan: Plan | None = None) -> list[tuple[int, Quoted]]:
    return [(part.units, row) for part in quote_comparison.compared(job, plan).parts for row in part.rows]


@examples(300, usual=50)
@given(jobs())
def test_alone_is_the_least_of_every_way_to_buy_it(job: Job) -> None:
    terms = {supplier.id: supplier for supplier in job.suppliers}
    for units, row in rows_of(job):
        quote = row.quote
        assert units == need(job, quote.part)
        enough = quote.stock is None or quote.stock * quote.pack >= units
        assert (row.barred is None) == (may_be_bought(quote) and enough)
        if row.barred is not None:
            continue
        least = order_cost(job, terms[quote.supplier], {quote.id: packs_for(quote, units)})
        assert (row.alone is None) == (least is None)
        if row.alone is not None:
            assert row.alone.total_minor == least + lost(quote, units)


def planned(job: Job, draw: st.DataObject) -> tuple[Plan, dict[str, dict[str, int]]]:
    """A plan that orders any packs, some pieces fitted; and by supplier the packs that the fitted pieces need."""
    lines: dict[str, list[OrderLine]] = {}
    for quote in job.quotes:
        packs = draw.draw(st.integers(0, min(2, 2 if quote.stock is None else quote.stock)))
        if packs and may_be_bought(quote):
            fitted = draw.draw(st.integers(0, packs * quote.pack))
            lines.setdefault(quote.supplier, []).append(OrderLine(quote=quote, packs=packs, fitted=fitted))
    orders = tuple(Order.model_construct(supplier=job.supplier(s), lines=tuple(held)) for s, held in lines.items())
    packs = {line.quote.id: line.packs for held in lines.values() for line in held}
    selection = Selection(routes=(), packs=packs, levels={}, outcome=Outcome(proven=True))
    purse = Purse.model_construct()
    plan = Plan.model_construct(job=job, choices=(), orders=orders, purse=purse, selection=selection)
    needed = {
        s: {line.quote.id: packs_for(line.quote, line.fitted) for line in held if line.fitted}
        for s, held in lines.items()
    }
    return plan, needed


@examples(300)
@given(jobs(), st.data())
def test_within_the_plan_is_the_order_with_it_less_the_order_without_it(job: Job, data: st.DataObject) -> None:
    plan, needed = planned(job, data)
    part_of = {quote.id: quote.part for quote in job.quotes}
    for units, row in rows_of(job, plan):
        quote = row.quote
        assert row.planned == (quote.id in plan.selection.packs)
        if row.barred is not None:
            assert row.in_plan is None
            continue
        terms = job.supplier(quote.supplier)
        rest = {name: packs for name, packs in needed.get(quote.supplier, {}).items() if part_of[name] != quote.part}
        without = order_cost(job, terms, rest) if rest else 0
        with_it = order_cost(job, terms, rest | {quote.id: packs_for(quote, units)})
        assert (row.in_plan is None) == (with_it is None)
        if row.in_plan is not None:
            assert row.in_plan.total_minor == with_it - without + lost(quote, units)


@examples(150)
@given(jobs())
def test_until_one_works_is_the_sum_over_every_run_of_failures(job: Job) -> None:
    for units, row in rows_of(job):
        quote, tries = row.quote, row.until_sound
        if tries is None or row.alone is None:
            continue
        good, goods = Fraction(repr(quote.good_chance)), quote.price_minor * packs_for(quote, units)
        back = int(Fraction(repr(quote.refund_share)) * goods + Fraction(1, 2))
        again = row.alone.total_minor - back
        another = quote.stock is None or quote.stock >= 2 * packs_for(quote, units)
        if quote.warranty_months and another:
            again = min(again, job.supplier(quote.supplier).postage_minor)
        least, most = series(row.alone.total_minor, again, good)
        assert least - Fraction(1, 2) <= tries.expected_minor <= most + Fraction(1, 2)
        assert most - least < Fraction(1, 10**6)


def test_until_one_works_is_what_a_long_run_of_tries_comes_to() -> None:
    """Played: a coin for each piece, money paid until one is sound; 200,000 runs, within four standard errors."""
    rng, runs = random.Random(4), 200_000
    quote = Quote(
        id="q:1", part="pad", supplier="alder", condition="salvage", price_minor=800, good_chance=0.6, refund_share=0.25
    )
    job = Job(
        settings=Settings(currency="GBP", today=TODAY), pot=Pot(cap_minor=1), quotes=(quote,),
        suppliers=(Supplier(id="alder", postage_minor=350),),
    )  # fmt: skip
    paid = []
    for _ in range(runs):
        money = 1150
        while rng.random() >= 0.6:
            money += 1150 - 200
        paid.append(money)
    mean = sum(paid) / runs
    error = (sum((p - mean) ** 2 for p in paid) / runs) ** 0.5 / runs**0.5
    ((_, row),) = rows_of(job)
    assert abs(row.until_sound.expected_minor - mean) < 4 * error + 0.5


@examples(200)
@given(jobs())
def test_who_wins_has_nobody_before_it_and_whoever_is_level_wins_too(job: Job) -> None:
    measures = {
        Merit.EACH: lambda row: Fraction(row.quote.price_minor, row.quote.pack),
        Merit.ALONE: lambda row: row.alone and row.alone.total_minor,
        Merit.IN_PLAN: lambda _: None,
        Merit.UNTIL_SOUND: lambda row: row.until_sound and row.until_sound.expected_minor,
        Merit.SOONEST: lambda row: row.quote.lead_days,
        Merit.WARRANTY: lambda row: -row.quote.warranty_months if row.quote.warranty_months else None,
    }
    for part in quote_comparison.compared(job).parts:
        for merit, measure in measures.items():
            for row in part.rows:
                mine = measure(row)
                others = [measure(o) for o in part.rows if o.may_be_bought and measure(o) is not None]
                best = row.may_be_bought and mine is not None and all(mine <= other for other in others)
                assert (merit in row.wins) == best


@examples(200)
@given(
    st.lists(
        st.tuples(st.integers(0, 30), st.sampled_from([0, 0, 1, 4]), st.sampled_from([None, 1, 1, 2, 3])),
        min_size=1,
        max_size=5,
    ),
    st.integers(0, 60),
    st.integers(0, 12),
    st.integers(0, 90),
    st.data(),
)
def test_a_shop_tops_up_as_every_count_tried_says(packs, minimum, postage, free_over, data) -> None:
    """Asked often, in any order and with different packs taken, what a shop keeps from one answer serves the next."""
    asked = tuple(
        Quote(id=f"q:{i}", part="pad", supplier="alder", condition="new", price_minor=price, deposit_minor=deposit,
              stock=stock, good_chance=1.0)
        for i, (price, deposit, stock) in enumerate(packs)
    )  # fmt: skip
    terms = Supplier(id="alder", postage_minor=postage, minimum_order_minor=minimum, free_over_minor=free_over or None)
    shop = Shop(terms, asked)
    for _ in range(3):
        chosen = data.draw(st.sets(st.sampled_from(asked), min_size=1, max_size=2)) if len(asked) > 1 else {asked[0]}
        held = {
            q.id: data.draw(st.integers(1, 2 if q.stock is None else q.stock))
            for q in sorted(chosen, key=lambda q: q.id)
        }
        goods = sum(q.price_minor * held[q.id] for q in asked if q.id in held)
        expected = counted(asked, terms, held)
        with patch("optimiser.planning.landed_cost.MOST_AHEAD", data.draw(st.sampled_from([2**16, 2**16, 10]))):
            found = shop.order(goods, held)
        assert (None if found is None else found.total_minor) == expected


def counted(asked: tuple[Quote, ...], terms: Supplier, held: dict[str, int]) -> int | None:
    """``order_cost`` for amounts too large to try every count: the least by a walk over goods reached so far."""
    goods = sum(q.price_minor * held.get(q.id, 0) for q in asked)
    target = max(terms.minimum_order_minor, terms.free_over_minor or 0)
    reached = {goods: 0}
    for quote in asked:
        left = (quote.stock - held.get(quote.id, 0)) if quote.stock is not None else target if quote.price_minor else 0
        for _ in range(left if quote.price_minor else 0):
            grown = dict(reached)
            for so_far, cost in reached.items():
                if so_far < target:
                    more, outlay = so_far + quote.price_minor, cost + quote.price_minor + quote.deposit_minor
                    grown[more] = min(grown.get(more, outlay), outlay)
            if grown == reached:
                break
            reached = grown
    costs = [
        goods
        + cost
        + (0 if terms.free_over_minor is not None and so_far >= terms.free_over_minor else terms.postage_minor)
        for so_far, cost in reached.items()
        if so_far >= terms.minimum_order_minor
    ]
    return min(costs, default=None)
