"""Baskets against trying everything: the cost is the least, and what must not matter does not matter."""

from __future__ import annotations

from datetime import timedelta

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from optimiser.certificate import purchase_list as certify_basket
from optimiser.errors import WordsError
from optimiser.model.job import Job, Part, Pot, Settings
from optimiser.model.purchase_list import Basket
from optimiser.model.quotes import Quote, Supplier
from optimiser.planning import purchase_list as shopping
from tests import brute_force_baskets
from tests.effort import examples
from tests.small_jobs import TODAY

PARTS = ("pad", "motor", "hose")
SHOPS = ("alder", "birch", "cedar")
CONDITIONS = ("new", "refurbished", "salvage")


@st.composite
def quotes(draw, number: int) -> Quote:
    """Parts in turn, so that a list finds something; seldom barred."""
    return Quote(
        id=f"quotes.csv:{number + 2}",
        part=PARTS[draw(st.sampled_from([number, number, number, 2])) % 3],
        supplier=draw(st.sampled_from(SHOPS)),
        condition=draw(st.sampled_from([*CONDITIONS, "new", "new"])),
        price_minor=draw(st.sampled_from([6, 4, 5, 7, 9, 12, 3, 0])),
        pack=draw(st.sampled_from([1, 1, 2, 3])),
        stock=draw(st.sampled_from([None, None, 1, 2])),
        good_chance=0.9,
        deposit_minor=draw(st.sampled_from([0, 0, 0, 2, 3])),
        lead_days=draw(st.sampled_from([0] * 7 + [3])),
        valid_until=draw(st.sampled_from([None] * 6 + [TODAY, TODAY - timedelta(days=1)])),
    )


@st.composite
def suppliers(draw, shop: str) -> Supplier:
    return Supplier(
        id=shop,
        postage_minor=draw(st.sampled_from([2, 4, 6, 0])),
        free_over_minor=draw(st.sampled_from([None, 8, 13])),
        minimum_order_minor=draw(st.sampled_from([0, 0, 7, 11])),
    )


@st.composite
def jobs(draw) -> Job:
    listed = draw(st.integers(2, 3))
    return Job(
        settings=Settings(
            currency="GBP", today=TODAY, needed_by=draw(st.sampled_from([None, None, TODAY + timedelta(2)]))
        ),
        pot=Pot(cap_minor=20),
        parts=(
            Part(id="pad", kind="friction", renew_in=2),
            Part(id="motor", kind=draw(st.sampled_from(["free", "free", "free", "restraint"]))),
        ),
        quotes=tuple(draw(quotes(i)) for i in range(draw(st.sampled_from([6, 5, 4])))),
        suppliers=tuple(draw(suppliers(shop)) for shop in SHOPS[:listed]),
    )


lists = st.dictionaries(st.sampled_from(PARTS), st.sampled_from([1, 2, 3]), min_size=1, max_size=3)
only = st.sampled_from([(), (), (), ("new", "refurbished"), ("salvage", "new")])


def filled(job: Job, wanted: dict[str, int], conditions=()) -> Basket | None:
    try:
        return shopping.filled(job, shopping.Listed(wanted), conditions)
    except WordsError:
        return None


def price(basket: Basket) -> tuple[int, int, int]:
    return basket.best.net_minor, basket.best.cash_minor, len(basket.best.orders)


@examples(150, usual=14)
@given(jobs(), lists, only)
def test_no_basket_is_cheaper(job: Job, wanted: dict[str, int], conditions) -> None:
    """Net cost, then cash, then the number of suppliers; and a list that cannot be had is refused."""
    tried = brute_force_baskets.cheapest(job, wanted, conditions)
    basket = filled(job, wanted, conditions)
    assert (None if basket is None else price(basket)) == tried
    assert basket is None or basket.outcome.proven


@examples(60, usual=8)
@given(jobs(), lists)
def test_one_shop_is_the_best_of_all_that_have_everything(job: Job, wanted: dict[str, int]) -> None:
    basket = filled(job, wanted)
    assume(basket is not None)
    alone = [job.model_copy(update={"quotes": tuple(q for q in job.quotes if q.supplier == shop)}) for shop in SHOPS]
    tried = [found for one in alone if (found := brute_force_baskets.cheapest(one, wanted)) is not None]
    single = None if basket.single is None else (basket.single.net_minor, basket.single.cash_minor)
    assert single == min((found[:2] for found in tried), default=None)


@examples(60, usual=8)
@given(jobs(), lists)
def test_part_by_part_takes_each_part_where_it_costs_least(job: Job, wanted: dict[str, int]) -> None:
    """Without postage and minimums nothing is cheaper, and with them nothing is cheaper than the basket."""
    basket = filled(job, wanted)
    assume(basket is not None)
    bare = {q.id: 0 for q in job.quotes}
    takes = {line.quote.id: line for order in basket.one_by_one.orders for line in order.lines}
    needed = {name: line.quote.packs_for(line.fitted) for name, line in takes.items()}
    offered = [q for q in job.quotes if brute_force_baskets.may_be_bought(job, q)]
    for part, units in wanted.items():
        own = [q for q in offered if q.part == part and _within_reach(job, offered, q)]
        mine = {q.id: needed.get(q.id, 0) for q in own}
        best = brute_force_baskets.cheapest(job.model_copy(update={"suppliers": (), "quotes": tuple(own)}), {part: units})  # noqa: E501 # fmt: skip
        assert brute_force_baskets.price({part: units}, {}, bare | mine, own)[0] == best[0]
    assert basket.one_by_one.net_minor >= basket.best.net_minor


def _within_reach(job: Job, offered: list[Quote], quote: Quote) -> bool:
    least = job.supplier(quote.supplier).minimum_order_minor
    own = [q for q in offered if q.supplier == quote.supplier and q.price_minor]
    return any(q.stock is None for q in own) or sum((q.stock or 0) * q.price_minor for q in own) >= least


@examples(60, usual=8)
@given(jobs(), lists, st.data())
def test_another_quote_never_makes_it_dearer(job: Job, wanted: dict[str, int], data) -> None:
    before = filled(job, wanted)
    more = job.model_copy(update={"quotes": (*job.quotes, data.draw(quotes(9)))})
    after = filled(more, wanted)
    assume(before is not None)
    assert after is not None
    assert after.best.net_minor <= before.best.net_minor


@examples(60, usual=8)
@given(jobs(), lists)
def test_never_fewer_than_wanted_and_never_more_than_there_are(job: Job, wanted: dict[str, int]) -> None:
    basket = filled(job, wanted)
    assume(basket is not None)
    for way in (basket.best, basket.one_by_one, *([basket.single] if basket.single else [])):
        lines = [line for order in way.orders for line in order.lines]
        for part, units in wanted.items():
            assert sum(line.pieces for line in lines if line.quote.part == part) >= units
        assert all(line.quote.stock is None or line.packs <= line.quote.stock for line in lines)
        free = [line for line in lines if not line.quote.price_minor]
        assert all(line.packs == line.quote.packs_for(line.fitted) for line in free)


@examples(60, usual=8)
@given(jobs(), lists, st.randoms(use_true_random=False))
def test_the_order_of_rows_changes_nothing(job: Job, wanted: dict[str, int], rng) -> None:
    """Rows alike in everything are told apart by their line alone, so they are counted by content."""
    rows, shops, words = list(job.quotes), list(job.suppliers), list(wanted)
    for shuffled in (rows, shops, words):
        rng.shuffle(shuffled)
    moved = [q.model_copy(update={"id": f"quotes.csv:{n}"}) for n, q in enumerate(rows, start=2)]
    other = filled(job.model_copy(update={"quotes": tuple(moved), "suppliers": tuple(shops)}), {w: wanted[w] for w in words})  # noqa: E501 # fmt: skip
    basket = filled(job, wanted)
    assert (other is None) == (basket is None)
    assert basket is None or _content(basket) == _content(other)


def _content(basket: Basket) -> list[object]:
    ways = (basket.best, basket.one_by_one, *([basket.single] if basket.single else []))
    return [
        sorted((line.quote.content, line.packs, line.fitted) for order in way.orders for line in order.lines)
        for way in ways
    ]


@examples(40)
@given(jobs(), lists, st.data())
def test_the_witness_takes_no_figure_on_trust(job: Job, wanted: dict[str, int], data) -> None:
    """Whatever is altered in a basket that it accepts, it refuses."""
    basket = filled(job, wanted)
    assume(basket is not None)
    assert list(certify_basket.basket_wrong(basket)) == []
    number = data.draw(st.integers(0, len(basket.best.orders) - 1))
    order = basket.best.orders[number]
    line = data.draw(st.sampled_from(order.lines))
    quote = line.quote
    assume(quote.price_minor or quote.deposit_minor)  # a pack more of what costs nothing is a basket like any other
    changes = {
        "a pack more": {"packs": line.packs + 1},
        "a pack less": {"packs": line.packs - 1},
        "a piece more": {"fitted": line.fitted + 1},
        "another price": {"quote": quote.model_copy(update={"price_minor": quote.price_minor + 1})},
        "another deposit": {"quote": quote.model_copy(update={"deposit_minor": quote.deposit_minor + 1})},
        "another part": {"quote": quote.model_copy(update={"part": "-"})},
    }
    altered = line.model_copy(update=changes[data.draw(st.sampled_from(sorted(changes)))])
    lines = tuple(altered if one is line else one for one in order.lines)
    orders = [*basket.best.orders]
    orders[number] = order.model_copy(update={"lines": lines})
    best = basket.best.model_copy(update={"orders": tuple(orders)})
    assert list(certify_basket.basket_wrong(basket.model_copy(update={"best": best})))


@pytest.mark.parametrize("field", ["net_minor", "cash_minor"])
@examples(20)
@given(jobs(), lists, st.sampled_from([-1, 1]))
def test_the_witness_adds_up_again(field: str, job: Job, wanted: dict[str, int], by: int) -> None:
    basket = filled(job, wanted)
    assume(basket is not None)
    best = basket.best.model_copy(update={field: getattr(basket.best, field) + by})
    assert list(certify_basket.basket_wrong(basket.model_copy(update={"best": best})))
