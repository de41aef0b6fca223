"""What one attempt costs by itself."""

import tracemalloc
from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from optimiser.model.option import Line, Option
from optimiser.model.quotes import Quote, Supplier
from optimiser.orders import AttemptCost, OwnLanded, Pack, least_top_up
from tests.effort import examples


def quote(n, price, supplier="s", **more):
    return Quote(
        id=f"q:{n}", part=f"p{n}", supplier=supplier, condition="new", price_minor=price, good_chance=0.9, **more
    )


def option(*lines, direct=0):
    rows = tuple(Line(quote=q, units=units, wanted=units) for q, units in lines)
    return Option(
        fault="f", repair="-".join(q.id for q, _ in lines) or "bare", by_workshop=False, lines=rows,
        direct_minor=direct, minutes=0, access=(), chance=0.5, days=0,
    )  # fmt: skip


def landed(quotes=(), **terms):
    return OwnLanded({"s": Supplier(id="s", **terms)}, quotes)


def test_whole_packs_direct_price_and_postage():
    cost = landed(postage_minor=395)(option((quote(1, 250, pack=2), 3), direct=40), ())
    assert cost == AttemptCost(2 * 250 + 395 + 40, 2 * 250 + 395 + 40, 0, 0)


def test_deposits_are_paid_on_every_piece_and_come_back_on_those_fitted():
    cost = landed()(option((quote(1, 100, pack=4, deposit_minor=30), 3)), ())
    assert (cost.cash_minor, cost.net_minor) == (100 + 4 * 30, 100 + 30)


def test_a_refund_is_the_share_of_its_goods_half_a_unit_up():
    cost = landed()(option((quote(1, 101, refund_share=0.5), 1), (quote(2, 200, refund_share=0.8), 1)), ())
    assert cost.refund_minor == 51 + 160


def test_every_attempt_pays_postage_and_trip_of_its_own():
    costs = landed(postage_minor=395, trip_minutes=30)
    first, second = option((quote(1, 100), 1)), option((quote(2, 200), 1))
    assert costs(second) == AttemptCost(595, 595, 0, 30)
    assert costs(second, (first,)) == costs(second)


def test_free_postage_is_bought_where_that_is_cheaper():
    own = quote(2, 200)
    costs = landed(postage_minor=395, free_over_minor=500, quotes=[own])
    assert costs(option((quote(1, 500), 1))).cash_minor == 500
    assert costs(option((own, 1))).cash_minor == 595
    assert landed(postage_minor=395, free_over_minor=400, quotes=[own])(option((own, 1))).cash_minor == 400


def test_goods_are_topped_up_where_that_is_cheaper_than_postage():
    costs = landed(postage_minor=395, free_over_minor=500, quotes=[quote(3, 50)])
    assert costs(option((quote(2, 450), 1)), ()).cash_minor == 500


def test_a_minimum_order_is_reached_in_whole_packs():
    costs = landed(minimum_order_minor=1000, quotes=[quote(3, 150), quote(4, 90)])
    # 600 + 4 x 90 falls 40 short; 600 + 150 + 3 x 90 = 1020; 600 + 2 x 150 + 90 falls short
    assert costs(option((quote(2, 600, stock=1), 1)), ()).cash_minor == 1020


def test_an_attempt_whose_minimum_order_is_out_of_reach_is_closed():
    few, many = quote(2, 600, stock=1), quote(2, 600)
    assert landed(minimum_order_minor=1000, quotes=[few])(option((few, 1))) is None
    assert landed(minimum_order_minor=1000)(option((many, 1))) is None
    assert landed(minimum_order_minor=1000, quotes=[many])(option((many, 1))).cash_minor == 1200


def test_own_parts_and_unlisted_suppliers_carry_no_postage():
    shelf = quote(1, 0, supplier=None)
    assert landed(postage_minor=395)(option((shelf, 1)), ()) == AttemptCost(0, 0, 0, 0)
    assert landed(postage_minor=395)(option((quote(1, 70, supplier="other"), 1)), ()).cash_minor == 70


def test_topping_up_counts_deposits_and_stops_at_the_stock():
    cheap, dear = Pack(100, 100, None), Pack(150, 0, None)
    assert least_top_up(150, (cheap, dear)) == 150
    assert least_top_up(160, (cheap._replace(left=1), dear._replace(left=1))) == 350
    assert least_top_up(160, (dear._replace(left=1),)) is None
    assert least_top_up(0, ()) == 0
    assert least_top_up(1, (Pack(0, 0, None),)) is None


packs = st.builds(Pack, st.integers(6, 30), st.integers(0, 9), st.one_of(st.none(), st.integers(0, 3)))


@examples(50)
@given(st.integers(1, 60), st.lists(packs, max_size=3))
def test_topping_up_against_every_basket(short, offered):
    counts = [range((-(-short // p.price_minor) if p.left is None else p.left) + 1) for p in offered]
    baskets = [list(zip(offered, n, strict=True)) for n in product(*counts)]
    outlays = [
        sum(n * (p.price_minor + p.deposits_minor) for p, n in basket)
        for basket in baskets
        if sum(n * p.price_minor for p, n in basket) >= short
    ]
    assert least_top_up(short, tuple(offered)) == min(outlays, default=None)


def test_a_minimum_of_hundreds_of_millions_fills_no_memory() -> None:
    """What divides all prices is one step; past two million steps it counts as out of reach."""
    assert least_top_up(10**11, (Pack(2500, 0, None),)) is None
    assert least_top_up(10**9, (Pack(250_000, 40, None), Pack(750_000, 40, 3))) == 4000 * 250_000 + (4000 - 2 * 3) * 40
    tracemalloc.start()
    assert least_top_up(10**9, (Pack(2500, 0, None), Pack(2501, 0, None))) is None
    assert least_top_up(10**9, (Pack(2500, 0, 10), Pack(2501, 0, 20))) is None
    assert tracemalloc.get_traced_memory()[1] < 10**6
    tracemalloc.stop()
