"""What an option costs on top of what stands: each amount worked out by hand."""

from __future__ import annotations

from typing import Any

import pytest

from optimiser import service
from optimiser.model.job import Job
from optimiser.model.quotes import Supplier
from optimiser.planning import options
from optimiser.planning.landed_cost import NOTHING_STANDS, OnHand, Shop, extra_cost
from tests.tiny_job import BASE, NEW, VARIANTS, but, planned


def cost(job: Job, standing: OnHand = NOTHING_STANDS) -> tuple[int, int]:
    """Cash and net cost of the new disc."""
    option = next(o for o in options.build(job, whole={"horn"}).options if o.key[-1] == "quotes.csv:2")
    return extra_cost(job, option, standing)


def at(**terms: Any) -> Job:
    return but(BASE, suppliers=(Supplier(id="alder", **terms),))


ALONE = {
    "the price": (BASE, (900, 900)),
    "postage": (at(postage_minor=450), (1350, 1350)),
    "postage waived at the amount itself": (at(postage_minor=450, free_over_minor=900), (900, 900)),
    "postage a penny short of the waiver": (at(postage_minor=450, free_over_minor=901), (1350, 1350)),
    "topped up to the minimum": (at(minimum_order_minor=1500), (1500, 1500)),
    "topped up and so free": (at(minimum_order_minor=1500, postage_minor=450, free_over_minor=1500), (1500, 1500)),
    # a pack of two at 9.00 and two deposits of 2.00, one of which comes back
    "a pack with deposits": (VARIANTS["deposit"], (1300, 1100)),
    "a set of two": (VARIANTS["set"], (1800, 1800)),
    "opening up": (VARIANTS["access"], (1200, 1200)),
}


@pytest.mark.parametrize("what", ALONE)
def test_an_option_alone(what: str) -> None:
    job, expected = ALONE[what]
    assert cost(job) == expected


ON_TOP = {
    "postage is paid already": (at(postage_minor=450), OnHand(goods_minor={"alder": 100}), 900),
    "it brings the waiver": (at(postage_minor=450, free_over_minor=1000), OnHand(goods_minor={"alder": 100}), 450),
    "the minimum is part paid": (at(minimum_order_minor=1500), OnHand(goods_minor={"alder": 1400}), 800),
    "another supplier's order is no help": (at(postage_minor=450), OnHand(goods_minor={"birch": 100}), 1350),
    "a piece is over": (VARIANTS["packs"], OnHand(spare={"quotes.csv:2": 1}, goods_minor={"alder": 900}), 0),
    "two are wanted and one is over": (VARIANTS["set"], OnHand(spare={"quotes.csv:2": 1}), 900),
    "the dash is off": (VARIANTS["access"], OnHand(opened=frozenset({"dash"})), 900),
}


@pytest.mark.parametrize("what", ON_TOP)
def test_an_option_on_top_of_what_stands(what: str) -> None:
    job, standing, expected = ON_TOP[what]
    assert cost(job, standing)[0] == expected


def test_what_stands_after_a_plans_orders() -> None:
    plan = planned("packs")
    standing = OnHand.after(plan.orders, {"dash"})
    assert standing == OnHand({"alder": 900}, {"quotes.csv:2": 2}, frozenset({"dash"}))


@pytest.mark.parametrize("variant", [v for v in VARIANTS if VARIANTS[v].faults])
def test_an_only_fault_costs_what_its_option_costs_alone(variant: str) -> None:
    """The plan of one fault by itself and the option alone come to the same.

    Below a minimum the option counts as topped up to it exactly; the plan has to buy whole packs.
    """
    job = but(VARIANTS[variant], faults=VARIANTS[variant].faults[:1])
    plan = service.plan(job)
    for option in plan.selection.options:
        cash, net = extra_cost(job, option)
        whole_packs_more = 300 if variant == "minimum_order" else 0
        assert (cash + whole_packs_more, net + whole_packs_more) == (plan.purse.cash_minor, plan.purse.net_minor)


def test_parts_on_the_shelf_cost_nothing() -> None:
    job = VARIANTS["owned"]
    option = next(o for o in options.build(job).options if o.key[-1] == "owned:1")
    assert extra_cost(job, option) == (0, 0)


def test_a_deposit_on_two_fitted_pieces_comes_back_twice() -> None:
    job = but(VARIANTS["set"], quotes=(but(NEW, deposit_minor=200, pack=2),))
    assert cost(job) == (1300, 900)


def test_of_packs_of_which_one_is_enough_the_least_outlay_tops_up() -> None:
    """The cheaper pack carries a deposit of 5.00 that is lost: 10.00 and 5.00 against 11.00."""
    with_deposit = NEW.model_copy(update={"id": "quotes.csv:8", "price_minor": 1000, "deposit_minor": 500})
    without = NEW.model_copy(update={"id": "quotes.csv:9", "price_minor": 1100})
    shop = Shop(Supplier(id="alder", minimum_order_minor=1000), [with_deposit, without])
    order = shop.order(500, {})
    assert order is not None
    assert (order.top_up_minor, order.total_minor) == (1100, 1600)
