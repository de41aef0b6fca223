"""Where to buy: postage once a shop, packs, orders topped up to a minimum."""

from __future__ import annotations

from itertools import product

import pytest

from optimiser.model.job import Job, Repair
from optimiser.model.plan import Plan
from optimiser.model.quotes import Supplier
from tests.published.instances import TEN_BOOKS
from tests.published.mapping import fault, job, planned, quote, shopping, value

TEN_SHOPS = {f"shop-{n:02}": 4 for n in range(1, 11)}


def paid(asked: Job) -> int:
    """Net cost of the plan that gets everything wanted."""
    plan = planned(asked)
    assert all(c.option is not None for c in plan.choices)
    return plan.selection.levels["net-cost"]


def shops(plan: Plan) -> set[str]:
    return {order.supplier.id for order in plan.orders}


def test_ten_books_in_ten_shops() -> None:
    """Two baskets reach the published total, so either will do."""
    plan = planned(shopping(dict.fromkeys(TEN_BOOKS, 1), TEN_BOOKS, TEN_SHOPS))
    assert value(plan) == 10_000_000
    assert plan.selection.levels["net-cost"] == plan.purse.net_minor == 149
    assert shops(plan) in ({"shop-02", "shop-10"}, {"shop-02", "shop-04", "shop-10"})


def test_ten_books_from_the_best_single_shop() -> None:
    """Computed from the same table, not published: 157 in shop 7."""
    totals = {
        shop: paid(shopping(dict.fromkeys(TEN_BOOKS, 1), {b: [row[i]] for b, row in TEN_BOOKS.items()}, {shop: 4}))
        for i, shop in enumerate(TEN_SHOPS)
    }
    assert min(totals.items(), key=lambda at: at[1]) == ("shop-07", 157)


THREE_THINGS = {"box": [10, 7, 1], "circle": [7, 9, 11], "square": [10, 8, 12]}
"""Mathematics Stack Exchange, question 130178: prices at A, B, C with delivery 5, 6, 6. Seen."""


def test_three_things_from_three_suppliers() -> None:
    plan = planned(shopping(dict.fromkeys(THREE_THINGS, 1), THREE_THINGS, {"a": 5, "b": 6, "c": 6}))
    assert plan.selection.levels["net-cost"] == 29
    assert {c.fault.id: c.parts[0].quote.supplier for c in plan.choices} == {"box": "c", "circle": "a", "square": "a"}


@pytest.mark.parametrize(("supplier", "delivery", "total"), [(0, 5, 32), (1, 6, 30), (2, 6, 30)])
def test_three_things_from_one_supplier(supplier: int, delivery: int, total: int) -> None:
    prices = {thing: [row[supplier]] for thing, row in THREE_THINGS.items()}
    assert paid(shopping(dict.fromkeys(prices, 1), prices, {"only": delivery})) == total


def test_quantities_and_things_that_a_supplier_does_not_have() -> None:
    """My Math Forum, "Algorithm for cheapest order", 2012: data seen, no answer; 18.15 by trying all ways."""
    plan = planned(
        shopping(
            {"product-a": 4, "product-b": 7, "product-c": 3},
            {"product-a": [85, 90, 95], "product-b": [120, None, 110], "product-c": [None, 60, 55]},
            {"a": 450, "b": 550, "c": 500},
        )
    )
    assert plan.selection.levels["net-cost"] == 1815
    assert shops(plan) == {"c"}


def bundled(
    wanted: tuple[int, ...], offers: dict[tuple[int, ...], int], quotes: list[tuple[int, int, int]], *, surplus: bool
) -> Job:
    """One fault; each way to take bundles is a repair at their price, which leaves the rest to be bought as parts.

    ``offers`` holds the price of each bundle, ``quotes`` rows of thing, pieces in a pack, price. Without ``surplus`` no
    way takes more of a thing in bundles than is wanted, as the sources ask.
    """
    ways = []
    for counts in product(range(max(wanted) + 1), repeat=len(offers)):
        got = [sum(n * bundle[thing] for n, bundle in zip(counts, offers)) for thing in range(len(wanted))]
        if surplus or all(have <= want for have, want in zip(got, wanted)):
            rest = {f"thing-{i}": want - have for i, (have, want) in enumerate(zip(got, wanted)) if have < want}
            price = sum(n * offers[bundle] for n, bundle in zip(counts, offers))
            name = "bundles-" + "-".join(map(str, counts))
            ways.append(Repair(id=name, chance=1.0, price_minor=price, parts=rest))
    return job(
        [fault("order", ways)],
        quotes=[
            quote(line, f"thing-{thing}", "shop", price, pack) for line, (thing, pack, price) in enumerate(quotes, 2)
        ],
    )


def test_shopping_offers_of_the_olympiad() -> None:
    """International Olympiad in Informatics 1995, "Shopping Offers": 3 flowers and 2 vases cost 14. Seen.

    Three flowers for 5 are a pack; two vases with a flower for 10 are a bundle of two parts, which no quote can be.
    """
    assert paid(bundled((3, 2), {(1, 2): 10}, [(0, 1, 2), (0, 3, 5), (1, 1, 5)], surplus=False)) == 14


def test_without_the_bundle_the_pack_is_used() -> None:
    """Own arithmetic: a pack of flowers at 5 and two vases at 5 each."""
    assert paid(bundled((3, 2), {}, [(0, 1, 2), (0, 3, 5), (1, 1, 5)], surplus=False)) == 15


SECOND_EXAMPLE = ((1, 2, 1), {(1, 1, 0): 4, (2, 2, 1): 9}, [(0, 1, 2), (1, 1, 3), (2, 1, 4)])
"""LeetCode 638, "Shopping Offers", example 2: 11. From memory."""


def test_shopping_offers_without_a_surplus() -> None:
    assert paid(bundled(*SECOND_EXAMPLE, surplus=False)) == 11


def test_shopping_offers_where_a_surplus_is_allowed() -> None:
    """The source forbids a piece too many; whoever may keep one takes the large bundle."""
    wanted, offers, singles = SECOND_EXAMPLE
    tried = []
    for small, large in product(range(4), repeat=2):
        got = [small * a + large * b for a, b in zip(*offers)]
        rest = sum(max(0, want - have) * price for want, have, (_, _, price) in zip(wanted, got, singles))
        tried.append(small * 4 + large * 9 + rest)
    assert min(tried) == 9
    assert paid(bundled(*SECOND_EXAMPLE, surplus=True)) == min(tried)


def test_packs_of_six_nine_and_twenty() -> None:
    """The "Chicken McNuggets" problem: 43 is the greatest of 22 numbers that no packs make exactly. From memory.

    A free thing at a supplier with a minimum order has to be topped up by goods at 6, 9 and 20: the order comes to the
    minimum itself just where that can be made of them. Six numbers in a row can, so all beyond them can.
    """
    missed = [minimum for minimum in range(1, 50) if _topped_up(minimum) > minimum]
    assert (len(missed), missed[-1]) == (22, 43)


def _topped_up(minimum_minor: int) -> int:
    goods = [quote(line, f"at-{price}", "shop", price) for line, price in enumerate((6, 9, 20), start=3)]
    return paid(
        job(
            [fault("fault", [Repair(id="fit", chance=1.0, parts={"free": 1})])],
            quotes=[quote(2, "free", "shop", 0), *goods],
            suppliers=[Supplier(id="shop", minimum_order_minor=minimum_minor)],
        )
    )
