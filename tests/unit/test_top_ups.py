"""What may top up an order, one rule at a time; that nothing is lost by it is a property (tests/property)."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from optimiser.model.quotes import Quote, Supplier
from optimiser.planning import top_ups
from tests.tiny_job import BASE, NEW, TODAY, but

TERMS = Supplier(id="alder", postage_minor=60, minimum_order_minor=70, free_over_minor=1300)


def beside(number: int, price: int, **more: Any) -> Quote:
    return but(NEW, id=f"catalogue.csv:{number}", part=f"rug {number}", price_minor=price, **more)


def kept(*quotes: Quote, terms: Supplier | None = TERMS, needed: tuple[Quote, ...] = (NEW,)) -> list[int]:
    job = but(BASE, quotes=(*needed, *quotes), suppliers=() if terms is None else (terms,))
    return [quote.price_minor for quote in top_ups.of_use(job, job.quotes) if quote.part != NEW.part]


def test_what_takes_more_than_it_can_spare_is_of_no_use() -> None:
    """The pack at 71 reaches the minimum by itself; with the postage that is 131."""
    assert kept(beside(1, 71), beside(2, 131), beside(3, 132)) == [71, 131]
    assert kept(beside(1, 69), beside(2, 895)) == [69, 895]
    assert kept(beside(1, 60), beside(2, 61), terms=but(TERMS, minimum_order_minor=0)) == [60]
    assert kept(beside(1, 50, deposit_minor=11), terms=but(TERMS, minimum_order_minor=0)) == []


@pytest.mark.parametrize("terms", [None, but(TERMS, id="birch"), Supplier(id="alder", postage_minor=60)])
def test_nothing_tops_up_where_no_terms_ask_or_nothing_is_bought(terms: Supplier | None) -> None:
    assert kept(beside(1, 50), terms=terms) == []


def test_the_terms_of_an_order_of_its_own_count_where_one_is_joined() -> None:
    joining = but(TERMS, postage_minor=0, minimum_order_minor=0, own=but(TERMS, minimum_order_minor=0))
    assert kept(beside(1, 60), beside(2, 61), terms=joining) == [60]


def test_a_sum_of_what_comes_before_by_content_is_left_out() -> None:
    assert kept(beside(1, 20), beside(2, 30), beside(3, 50), beside(4, 70), beside(5, 55)) == [20, 30, 55]
    assert kept(beside(1, 50), beside(2, 30), beside(3, 20)) == [50, 30, 20]
    assert kept(beside(1, 20, stock=9), beside(2, 40)) == [20, 40]
    assert kept(beside(1, 20, deposit_minor=1), beside(2, 40)) == [20, 40]


def test_what_lapses_stands_for_nothing_that_lasts() -> None:
    """A later order is topped up only with what has no last day, or lasts until all has to be done."""
    assert kept(beside(1, 20, valid_until=TODAY), beside(2, 40), beside(3, 60, valid_until=TODAY)) == [20, 40]
    assert kept(beside(1, 71, valid_until=TODAY + timedelta(days=9)), beside(2, 500)) == [71, 500]
