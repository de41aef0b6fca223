"""The witness on baskets: one altered figure or rule at a time, each refused for its own reason."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest

from optimiser.certificate import purchase_list as certify_basket
from optimiser.errors import PlanRefusedError
from optimiser.model.job import Fault, Job, Part, Pot, Repair, Settings, Solve
from optimiser.model.plan import Order
from optimiser.model.purchase_list import Basket, Buying
from optimiser.model.quotes import Quote, Supplier
from optimiser.planning import purchase_list as shopping
from optimiser.show import purchase_list_words
from tests.bench import baskets
from tests.small_jobs import TODAY


def quote(line: int, part: str, supplier: str, price_minor: int, **rest: object) -> Quote:
    fixed = {"condition": "new", "good_chance": 0.9} | rest
    return Quote(id=f"quotes.csv:{line}", part=part, supplier=supplier, price_minor=price_minor, **fixed)


JOB = Job(
    settings=Settings(currency="GBP", today=TODAY, needed_by=TODAY + timedelta(days=9)),
    pot=Pot(cap_minor=10_000),
    parts=(Part(id="pad", kind="friction"),),
    quotes=(
        quote(2, "pad", "alder", 30, stock=2),
        quote(3, "pad", "alder", 31, deposit_minor=4),
        quote(4, "pad", "birch", 26, pack=2, condition="refurbished", deposit_minor=4, stock=1),
        quote(5, "hose", "birch", 7, stock=4),
        quote(6, "hose", "alder", 12),
    ),
    suppliers=(
        Supplier(id="alder", postage_minor=9, free_over_minor=80),
        Supplier(id="birch", postage_minor=5, minimum_order_minor=20),
    ),
)
WANTED = {"pad": 4, "hose": 2}


@pytest.fixture(scope="module")
def basket() -> Basket:
    """Two pads from each shop, the hoses with the refurbished ones."""
    return shopping.filled(JOB, shopping.Listed(WANTED))


def reasons(basket: Basket) -> str:
    return "; ".join(certify_basket.basket_wrong(basket))


def with_order(basket: Basket, number: int, change: Callable[[Order], Order], **sums: int) -> Basket:
    orders = [change(order) if n == number else order for n, order in enumerate(basket.best.orders)]
    return basket.model_copy(update={"best": basket.best.model_copy(update={"orders": tuple(orders), **sums})})


def with_line(basket: Basket, number: int, line: int, **change: object) -> Basket:
    def altered(order: Order) -> Order:
        lines = [one.model_copy(update=change) if n == line else one for n, one in enumerate(order.lines)]
        return order.model_copy(update={"lines": tuple(lines)})

    return with_order(basket, number, altered)


def changed(job: Job, line: int, **change: object) -> Job:
    quotes = [q.model_copy(update=change) if q.id == f"quotes.csv:{line}" else q for q in job.quotes]
    return job.model_copy(update={"quotes": tuple(quotes)})


def test_the_basket_as_it_is(basket: Basket) -> None:
    """Own arithmetic: 30 + 30 + 9, and 26 + 2 x 7 + 5 with 8 of deposits there and back; one shop sells it for 146."""
    assert reasons(basket) == ""
    bought = {line.quote.id: line.packs for order in basket.best.orders for line in order.lines}
    assert bought == {"quotes.csv:2": 2, "quotes.csv:4": 1, "quotes.csv:5": 2}
    assert (basket.best.net_minor, basket.best.cash_minor) == (114, 122)
    assert basket.single is not None
    assert (basket.single.net_minor, basket.single.orders[0].supplier.id) == (146, "alder")


def test_a_quote_that_is_barred_meanwhile(basket: Basket) -> None:
    """The same basket in a job where the quote may not be bought."""
    line = basket.best.orders[0].lines[0].quote
    for change, said in (
        ({"valid_until": TODAY - timedelta(days=1)}, "lapsed"),
        ({"lead_days": 10}, "too late"),
        ({"condition": "salvage"}, "is salvage"),
    ):
        other = changed(JOB, 2, **change)
        barred = with_line(basket.model_copy(update={"job": other}), 0, 0, quote=line.model_copy(update=change))
        assert said in reasons(barred)


def test_a_quote_that_the_job_does_not_hold(basket: Basket) -> None:
    quote = basket.best.orders[0].lines[0].quote.model_copy(update={"price_minor": 29})
    assert "no quote quotes.csv:2" in reasons(with_line(basket, 0, 0, quote=quote))


def test_a_condition_that_was_not_asked_for(basket: Basket) -> None:
    assert "refurbished, which was not asked for" in reasons(basket.model_copy(update={"conditions": ("new",)}))


def test_more_packs_than_there_are(basket: Basket) -> None:
    assert "3 packs of quotes.csv:2 are not to be had" in reasons(with_line(basket, 0, 0, packs=3))


def test_more_pieces_than_the_packs_hold(basket: Basket) -> None:
    assert "3 pieces of quotes.csv:2 are not in its packs" in reasons(with_line(basket, 0, 0, fitted=3))


def test_a_list_that_is_not_filled(basket: Basket) -> None:
    assert "the pieces" in reasons(basket.model_copy(update={"wanted": WANTED | {"hose": 3}}))


def test_a_minimum_that_is_missed(basket: Basket) -> None:
    higher = [s.model_copy(update={"minimum_order_minor": 41}) if s.id == "birch" else s for s in JOB.suppliers]
    job = JOB.model_copy(update={"suppliers": tuple(higher)})
    moved = with_order(
        basket.model_copy(update={"job": job}), 1, lambda order: order.model_copy(update={"supplier": higher[1]})
    )
    assert "birch: below its minimum order" in reasons(moved)


def test_a_minimum_that_is_met_to_the_penny(basket: Basket) -> None:
    """Forty for the pads and the hoses of the one shop."""
    exact = [s.model_copy(update={"minimum_order_minor": 40}) if s.id == "birch" else s for s in JOB.suppliers]
    job = JOB.model_copy(update={"suppliers": tuple(exact)})
    order = basket.best.orders[1].model_copy(update={"supplier": exact[1]})
    moved = with_order(basket.model_copy(update={"job": job}), 1, lambda _: order)
    assert order.goods_minor == 40
    assert "minimum" not in reasons(moved)


def test_a_line_of_another_shop(basket: Basket) -> None:
    hoses = basket.best.orders[1].lines[0]
    moved = with_order(basket, 0, lambda order: order.model_copy(update={"lines": (*order.lines, hoses)}))
    assert "quotes.csv:5 is not from alder" in reasons(moved)


def test_a_shop_that_stands_twice(basket: Basket) -> None:
    """Each quote stands once: one order of two lines is told as two orders of one."""
    pads, hoses = (basket.best.orders[1].model_copy(update={"lines": (line,)}) for line in basket.best.orders[1].lines)
    orders = (basket.best.orders[0], pads, hoses)
    split = basket.model_copy(update={"best": basket.best.model_copy(update={"orders": orders})})
    assert "a quote or a supplier stands twice" in reasons(split)


def test_a_piece_that_a_fault_which_uses_it_may_not_have(basket: Basket) -> None:
    """By itself anybody may buy a used hose; for brakes nobody."""
    fault = Fault(id="brakes", severity="dangerous", systems=("brakes",), kinds=("brake-hydraulic",),
                  repairs=(Repair(id="fit", chance=0.9, parts={"hose": 2}),))  # fmt: skip
    job = changed(JOB, 5, condition="salvage").model_copy(update={"faults": (fault,)})
    hose = basket.best.orders[1].lines[0].quote.model_copy(update={"condition": "salvage"})
    assert "for a fault that uses it" in reasons(with_line(basket.model_copy(update={"job": job}), 1, 0, quote=hose))
    alone = job.model_copy(update={"faults": ()})
    assert "for a fault that uses it" not in reasons(
        with_line(basket.model_copy(update={"job": alone}), 1, 0, quote=hose)
    )


def test_terms_that_are_not_the_job_s(basket: Basket) -> None:
    free = basket.best.orders[0].supplier.model_copy(update={"postage_minor": 0})
    assert "its terms are not the job's" in reasons(
        with_order(basket, 0, lambda order: order.model_copy(update={"supplier": free, "postage_minor": 0}))
    )


@pytest.mark.parametrize("field", ["goods_minor", "postage_minor", "deposits_minor"])
def test_an_order_that_does_not_add_up(basket: Basket, field: str) -> None:
    other = with_order(basket, 1, lambda order: order.model_copy(update={field: getattr(order, field) + 1}))
    assert "birch: goods, postage or deposits do not add up" in reasons(other)


def test_postage_that_is_waived_at_the_very_amount() -> None:
    """All from the one shop comes to two pads at 30, two at 31 and two hoses: 146, and no postage from 146 on."""
    waiving = JOB.suppliers[0].model_copy(update={"free_over_minor": 146})
    job = JOB.model_copy(update={"suppliers": (waiving, JOB.suppliers[1])})
    alone = shopping.filled(job, shopping.Listed(WANTED)).single
    assert alone is not None
    assert (alone.goods_minor, alone.postage_minor) == (146, 0)


def test_sums_that_are_not_those_of_the_orders(basket: Basket) -> None:
    for change in ({"net_minor": 113}, {"cash_minor": 121}):
        best = basket.best.model_copy(update=change)
        assert "are not 122 and 114" in reasons(basket.model_copy(update={"best": best}))


def test_a_higher_deposit_that_could_come_back() -> None:
    """Three pads out of a pack of two with a deposit and two without: the ones with it are fitted first."""
    quotes = (
        quote(2, "pad", "alder", 30, stock=1, pack=2),
        quote(3, "pad", "alder", 31, pack=2, deposit_minor=4, stock=1),
    )
    job = JOB.model_copy(update={"quotes": quotes, "suppliers": ()})
    basket = shopping.filled(job, shopping.Listed({"pad": 3}))
    assert [line.fitted for line in basket.best.orders[0].lines] == [1, 2]
    worse = with_line(with_line(basket, 0, 0, fitted=2), 0, 1, fitted=1)
    best = worse.best.model_copy(update={"net_minor": worse.best.net_minor + 4})
    assert reasons(worse.model_copy(update={"best": best, "single": None})) == (
        "pad: a higher deposit could come back; part by part comes cheaper"
    )


def test_a_deposit_comes_back_on_what_the_list_takes_alone() -> None:
    """Own arithmetic: a pack of two from each shop for three pads, 30 + 31, and one deposit out of four is lost."""
    shops = {2: "alder", 3: "birch"}
    quotes = [quote(n, "pad", shop, 28 + n, pack=2, deposit_minor=4, stock=1) for n, shop in shops.items()]
    job = JOB.model_copy(update={"quotes": tuple(quotes), "suppliers": ()})
    basket = shopping.filled(job, shopping.Listed({"pad": 3}))
    assert (basket.best.net_minor, basket.best.cash_minor) == (65, 77)


def test_a_supplier_that_gets_two_orders(basket: Basket) -> None:
    best = basket.best.model_copy(update={"orders": (*basket.best.orders, basket.best.orders[1])})
    assert "a quote or a supplier stands twice" in reasons(basket.model_copy(update={"best": best}))


def test_one_shop_that_is_two(basket: Basket) -> None:
    assert "one shop alone is not one order" in reasons(basket.model_copy(update={"single": basket.best}))


def test_a_rival_that_is_cheaper(basket: Basket) -> None:
    def dearer(way: Buying | None) -> Basket:
        return basket.model_copy(update={"best": way, "one_by_one": basket.best})

    assert reasons(dearer(basket.single)) == "part by part comes cheaper"
    unproven = basket.outcome.model_copy(update={"proven": False})
    assert reasons(dearer(basket.single).model_copy(update={"outcome": unproven})) == ""


def test_what_does_not_hold_is_never_shown(basket: Basket) -> None:
    with pytest.raises(PlanRefusedError, match="are not to be had"):
        certify_basket.certify_basket(with_line(basket, 0, 0, packs=3))


def test_out_of_time_the_cheaper_plain_way_is_given_with_what_it_may_be_above_the_best() -> None:
    """The bound is the relaxation's: between nothing and the least cost, which the same list with time enough gives."""
    job = baskets.job(12, 6, 1)
    wanted = shopping.Listed(baskets.wanted(12, 1))
    hurried = shopping.filled(job.model_copy(update={"solve": Solve(seconds=1e-9)}), wanted)
    ways = [way for way in (hurried.single, hurried.one_by_one) if way is not None]
    assert hurried.best in ways
    assert hurried.best.net_minor == min(way.net_minor for way in ways)
    least = shopping.filled(job, wanted).best.net_minor
    assert not hurried.outcome.proven
    assert least < hurried.best.net_minor
    assert 0 < hurried.best.net_minor - hurried.outcome.better_at_most <= least
    assert "another way may cost up to" in purchase_list_words.outcome(hurried)
