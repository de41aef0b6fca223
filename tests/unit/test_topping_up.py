"""Which quotes may be left out as pointless for topping up an order, each by a list whose cost would give it away."""

from __future__ import annotations

import pytest

from optimiser.model.job import Job, Pot, Settings
from optimiser.model.quotes import Quote, Supplier
from optimiser.planning import purchase_list
from optimiser.solver.purchase_list import worth_topping_up_with
from tests.small_jobs import TODAY


def extra(line: int, price_minor: int, *, stock: int | None = None, deposit_minor: int = 0) -> Quote:
    return Quote(
        id=f"quotes.csv:{line}", part=f"extra-{line}", supplier="alder", condition="new", price_minor=price_minor,
        stock=stock, deposit_minor=deposit_minor, good_chance=1.0,
    )  # fmt: skip


CASES = [
    pytest.param([extra(3, 5), extra(4, 10)], 20, [3], id="two-of-one-do-for-the-other"),
    pytest.param([extra(3, 5, stock=1), extra(4, 10)], 20, [3, 4], id="one-runs-out"),
    pytest.param([extra(3, 5, deposit_minor=3), extra(4, 10)], 20, [3, 4], id="one-loses-a-deposit"),
    pytest.param([extra(3, 4), extra(4, 10)], 20, [3, 4], id="no-whole-multiple"),
    pytest.param([extra(3, 4), extra(4, 6), extra(5, 10)], 20, [3, 4], id="a-sum-of-two"),
    pytest.param([extra(3, 10, stock=1), extra(4, 10)], 20, [4], id="the-same-price-and-no-end-of-it"),
    pytest.param([extra(3, 10, deposit_minor=1), extra(4, 10)], 20, [4], id="the-same-price-without-a-deposit"),
]


@pytest.mark.parametrize(("postage", "total", "minimum"), [(4, 24, 0), (10, 30, 0), (11, 30, 0), (4, 34, 21)])
def test_topping_up_to_free_postage_only_where_it_pays(postage: int, total: int, minimum: int) -> None:
    """A part at 20, postage waived from 30, extras at 10; with a minimum of 21, one extra is bought
    and the waiver, there from 31, is one more away: postage is paid."""
    pad = extra(2, 20).model_copy(update={"part": "pad", "stock": 1})
    terms = Supplier(
        id="alder", postage_minor=postage, free_over_minor=30 if not minimum else 31, minimum_order_minor=minimum
    )
    job = Job(
        settings=Settings(currency="GBP", today=TODAY),
        pot=Pot(cap_minor=1_000),
        quotes=(pad, extra(3, 10)),
        suppliers=(terms,),
    )
    assert purchase_list.filled(job, purchase_list.Listed({"pad": 1})).best.net_minor == total


@pytest.mark.parametrize(("extras", "total", "kept"), CASES)
def test_what_is_left_out_would_not_have_helped(extras: list[Quote], total: int, kept: list[int]) -> None:
    """A part at 10 from a supplier that sells nothing below 20: one more of 10 reaches it, or what comes to 10."""
    assert sorted(quote.line[1] for quote in worth_topping_up_with(extras)) == kept
    wanted = extra(2, 10).model_copy(update={"part": "pad", "stock": 1})
    job = Job(
        settings=Settings(currency="GBP", today=TODAY),
        pot=Pot(cap_minor=1_000),
        quotes=(wanted, *extras),
        suppliers=(Supplier(id="alder", minimum_order_minor=20),),
    )
    assert purchase_list.filled(job, purchase_list.Listed({"pad": 1})).best.net_minor == total
