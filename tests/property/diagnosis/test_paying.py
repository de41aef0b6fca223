"""The ways to pay for an attempt: top-ups against every basket, and what stands beside the shared orders, by hand."""

from __future__ import annotations

import random
from collections import Counter
from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from optimiser.diagnosis.payments import Payments
from optimiser.model.option import Line, Option
from optimiser.model.quotes import Quote, Supplier
from tests.effort import examples


def quote(n: int, price: int, **more: object) -> Quote:
    return Quote(id=f"q:{n}", part=f"p{n}", supplier="s", condition="new", price_minor=price, good_chance=0.9, **more)


def option(*lines: tuple[Quote, int], direct: int = 0) -> Option:
    rows = tuple(Line(quote=q, units=units, wanted=units) for q, units in lines)
    return Option(
        fault="f", repair="renew", by_workshop=False, lines=rows, direct_minor=direct, minutes=0, access=(),
        chance=0.5, days=0,
    )  # fmt: skip


def payments(*quotes: Quote, scarce: tuple[str, ...] = (), **terms: object) -> Payments:
    return Payments({"s": Supplier(id="s", **terms)}, quotes, scarce)


def baskets(quotes: list[Quote], taken: Counter[str], short: int) -> list[tuple[int, Counter[str]]]:
    """Outlay and packs of everything that brings this much more goods."""
    most = [-(-short // q.price_minor) if q.stock is None else q.stock - taken[q.id] for q in quotes]
    counts = (dict(zip(quotes_ids(quotes), n, strict=True)) for n in product(*(range(k + 1) for k in most)))
    by_id = {q.id: q for q in quotes}
    return [
        (sum(k * (by_id[q].price_minor + by_id[q].deposit_minor * by_id[q].pack) for q, k in n.items()), +Counter(n))
        for n in counts
        if sum(k * by_id[q].price_minor for q, k in n.items()) >= short
    ]


def quotes_ids(quotes: list[Quote]) -> list[str]:
    return [q.id for q in quotes]


@examples(200)
@given(st.integers(0, 10**9))
def test_a_later_order_is_topped_up_in_every_way_that_no_other_beats(seed: int) -> None:
    """The cheapest way is always there; no other basket takes less and no more of what others may want."""
    rng = random.Random(seed)
    quotes = [
        quote(n, rng.randint(2, 9), stock=rng.choice([None, 1, 2]), deposit_minor=rng.choice([0, 0, 1]))
        for n in range(rng.randint(1, 4))
    ]
    wanted, minimum = quotes[0], rng.randint(0, 20)
    scarce = tuple(q.id for q in quotes if q.stock is not None and rng.random() < 0.7)
    some = option((wanted, 1), direct=3)
    ways = payments(*quotes, scarce=scarce, postage_minor=4, minimum_order_minor=minimum).later(some)
    short = max(0, minimum - wanted.price_minor)
    alone = wanted.price_minor + wanted.deposit_minor + 4 + 3
    right = baskets(quotes, Counter({wanted.id: 1}), short)
    assert min((paid for paid, _ in right), default=None) == min((w.cash_minor - alone for w in ways), default=None)
    for way in ways:
        assert any(packs == Counter(dict(way.topping)) and paid == way.cash_minor - alone for paid, packs in right)
    for paid, packs in right:
        uses = Counter({q: n for q, n in packs.items() if q in scarce})
        assert any(
            way.cash_minor - alone <= paid and Counter({q: n for q, n in way.topping if q in scarce}) <= uses
            for way in ways
        )


def test_beside_the_shared_orders_only_what_they_do_not_bring_is_paid() -> None:
    one, two = quote(1, 250, pack=2, deposit_minor=10, refund_share=0.5), quote(2, 100, refund_share=1.0)
    both = option((one, 3), (two, 1), direct=40)
    pay = payments(quote(3, 50), postage_minor=395, trip_minutes=30, minimum_order_minor=700)
    (sure,) = pay.first(both, {"q:1": 2}, {"s"})
    # one piece more than the shared two: a pack of its own, with a deposit that is lost; postage and trip are shared
    everything = 250 + 2 * 10 + 100 + 40
    assert (sure.cash_minor, sure.back_minor, sure.refund_minor) == (everything, 10, 188 + 100)
    assert (sure.trip_minutes, sure.topping, sure.orders, sure.relied) == (0, (), frozenset(), frozenset())
    own, relied = pay.first(both, {"q:1": 2}, ())
    assert (own.cash_minor, own.topping, own.relied) == (everything + 350, (("q:3", 7),), frozenset())
    assert (relied.cash_minor, relied.topping, relied.relied) == (everything, (), {"s"})
    assert own.orders == relied.orders == {"s"}
    (nothing_more,) = pay.first(both, {"q:1": 3, "q:2": 1}, {"s"})
    assert (nothing_more.cash_minor, nothing_more.refund_minor) == (40, 188 + 100)


def test_a_first_order_whose_minimum_is_out_of_reach_is_left_to_others() -> None:
    (only,) = payments(minimum_order_minor=700).first(option((quote(1, 100), 1)), {}, ())
    assert only.relied == {"s"}
    assert payments(minimum_order_minor=700).later(option((quote(1, 100), 1))) == ()


def test_a_dearer_top_up_leaves_a_scarce_piece_alone() -> None:
    """5 to the minimum of 8: the only piece of 3, or another of 5 where that may be wanted elsewhere."""
    dear, cheap = quote(1, 5), quote(2, 3, stock=1)
    ways = payments(dear, cheap, scarce=("q:2",), minimum_order_minor=8).later(option((dear, 1)))
    assert {(way.cash_minor, way.topping) for way in ways} == {(8, (("q:2", 1),)), (10, (("q:1", 1),))}
    (way,) = payments(dear, cheap, minimum_order_minor=8).later(option((dear, 1)))
    assert way.topping == (("q:2", 1),)


def test_free_postage_is_bought_where_that_is_cheaper() -> None:
    pay = payments(quote(3, 50), postage_minor=395, free_over_minor=500)
    (way,) = pay.later(option((quote(2, 450), 1)))
    assert (way.cash_minor, way.topping) == (500, (("q:3", 1),))
