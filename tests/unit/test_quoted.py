"""Quotes side by side, each figure worked out by hand: alone, within the plan, until one works, who wins."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from optimiser import service
from optimiser.errors import CallError
from optimiser.model.job import Fault, Job, Owned, Part, Pot, Repair
from optimiser.model.option import Bar
from optimiser.model.quote_comparison import Merit, Quoted
from optimiser.model.quotes import Quote, Supplier
from optimiser.planning import quote_comparison
from optimiser.planning.landed_cost import Shop
from optimiser.show import tables
from tests.tiny_job import BASE, HORN, LAMP, NEW, TODAY, USED, VARIANTS, but

LENS = Quote(id="quotes.csv:9", part="lens", supplier="alder", condition="new", price_minor=700, good_chance=0.99)
GLAZE = Fault(id="glaze", severity="minor", repairs=(Repair(id="glaze", chance=0.9, parts={"lens": 1}),))


def row(job: Job, name: str = NEW.id, part: str = "disc", **ways: Any) -> Quoted:
    (answer,) = quote_comparison.compared(job, part=part, **ways).parts
    return next(each for each in answer.rows if each.quote.id == name)


def at(*quotes: Quote, **terms: Any) -> Job:
    return but(BASE, quotes=quotes or (NEW, USED), suppliers=(Supplier(id="alder", **terms), Supplier(id="birch")))


def priced(**changes: Any) -> Quote:
    return but(NEW, **changes)


# ---- alone

ALONE = {
    "the price": (BASE, 900),
    "postage": (at(postage_minor=450), 1350),
    "waived at the amount itself": (at(postage_minor=450, free_over_minor=900), 900),
    # 1.01 short, and no other pack there than the disc itself: paying the postage is cheaper than a second disc
    "a little short of the waiver": (at(postage_minor=450, free_over_minor=1001), 1350),
    "a cheap thing brings the waiver": (
        at(NEW, USED, but(LENS, price_minor=120), postage_minor=450, free_over_minor=1001), 1020,
    ),
    "its own packs top it up": (at(minimum_order_minor=1500), 1800),
    "and bring the waiver with it": (at(minimum_order_minor=1500, postage_minor=450, free_over_minor=1800), 1800),
    "a cheaper top-up": (at(NEW, USED, LENS, minimum_order_minor=1500), 1600),
    "a top-up's deposit is lost": (at(NEW, USED, but(LENS, deposit_minor=300), minimum_order_minor=1500), 1800),
    # a pack of two at 9.00 and two deposits of 2.00, one of which comes back
    "a pack with deposits": (VARIANTS["deposit"], 1100),
    "a set of two": (VARIANTS["set"], 1800),
    "a set of two in packs of two": (but(VARIANTS["set"], quotes=(priced(pack=2), USED)), 900),
}  # fmt: skip


@pytest.mark.parametrize("what", ALONE)
def test_alone(what: str) -> None:
    job, expected = ALONE[what]
    landed = row(job).alone
    assert landed is not None
    assert landed.total_minor == expected
    assert landed.order_minor == landed.goods_minor + landed.top_up_minor + landed.postage_minor


def test_a_minimum_that_nothing_reaches_leaves_no_figure_and_no_win() -> None:
    job = at(priced(stock=1), USED, minimum_order_minor=2000)
    found = row(job)
    assert (found.alone, found.until_sound, found.barred) == (None, None, None)
    assert found.wins == frozenset()
    assert not found.may_be_bought
    assert row(job, USED.id).wins == {Merit.EACH, Merit.ALONE, Merit.UNTIL_SOUND, Merit.SOONEST}


def test_a_top_up_is_not_taken_from_packs_that_the_order_holds_already() -> None:
    """Two in stock, one needed: the second tops it up; of one in stock none is left, and the dearer lens must do."""
    assert row(at(priced(stock=2), but(LENS, price_minor=5000), minimum_order_minor=1500)).alone.total_minor == 1800
    assert row(at(priced(stock=1), but(LENS, price_minor=5000), minimum_order_minor=1500)).alone.total_minor == 5900


# ---- how many


def test_the_greatest_need_of_any_one_repair_counts_in_whole_sets() -> None:
    two = but(HORN, id="two", repairs=(Repair(id="both", chance=0.9, parts={"disc": 3}),))
    job = but(BASE, faults=(HORN, two), parts=(Part(id="disc", renew_in=2),))
    (part,) = quote_comparison.compared(job).parts
    assert (part.units, part.repairs) == (4, ("horn/swap", "two/both"))
    assert row(job).alone.total_minor == 3600


def test_a_part_that_no_open_fault_needs_is_reckoned_for_one_set_and_comes_last() -> None:
    job = but(BASE, quotes=(NEW, but(LENS, part="axle")), parts=(Part(id="axle", renew_in=2),), closed=(GLAZE,))
    needed, other = quote_comparison.compared(job).parts
    assert (needed.part, needed.units, other.part, other.units, other.repairs) == ("disc", 1, "axle", 2, ())


def test_a_part_that_nobody_quotes_is_there_without_rows() -> None:
    job = but(BASE, faults=(HORN, LAMP, GLAZE), owned=(Owned(part="lens", units=3, condition="new", good_chance=0.9),))
    lens = quote_comparison.compared(job).parts[1]
    assert (lens.part, lens.rows, lens.on_shelf) == ("lens", (), 3)


# ---- within the plan


def planned(job: Job, name: str = NEW.id) -> Quoted:
    return row(job, name, plan=service.plan(job))


def with_lens(**terms: Any) -> Job:
    job = at(NEW, USED, LENS, **terms)
    return but(job, faults=(HORN, LAMP, GLAZE), pot=Pot(cap_minor=10_000))


def test_an_order_that_goes_there_anyway_carries_it_for_no_postage() -> None:
    found = planned(with_lens(postage_minor=450)).in_plan
    assert (found.before_minor, found.order_minor, found.total_minor) == (1150, 2050, 900)


def test_where_no_order_goes_it_costs_what_it_costs_alone() -> None:
    job = with_lens()
    job = but(job, suppliers=(Supplier(id="alder"), Supplier(id="birch", postage_minor=200)))
    assert planned(job, USED.id).in_plan == planned(job, USED.id).alone


def test_goods_that_bring_free_postage_are_worth_it() -> None:
    found = planned(with_lens(postage_minor=450, free_over_minor=1600)).in_plan
    assert (found.before_minor, found.order_minor, found.total_minor) == (1150, 1600, 450)


def test_what_the_plan_buys_of_the_part_itself_is_taken_off_first() -> None:
    """The plan buys the disc and nothing else: within it the disc is not a second one."""
    job = at(postage_minor=450)
    found = planned(but(job, faults=(HORN,)))
    assert found.planned
    assert (found.in_plan.before_minor, found.in_plan.total_minor) == (0, 1350)


def test_what_only_tops_up_the_plan_s_order_goes_when_the_part_does_it() -> None:
    """The lens would be topped up from 7.00 to 15.00 and more by a disc anyway: so the disc costs nothing beside it."""
    job = but(with_lens(minimum_order_minor=1500), quotes=(priced(price_minor=900), USED, LENS))
    found = planned(job).in_plan
    assert (found.before_minor, found.order_minor, found.total_minor) == (1600, 1600, 0)


def test_an_order_is_not_topped_up_with_the_last_lens_that_it_holds_already() -> None:
    """7.00 and 9.00 are 4.00 short; the only lens is in the order, so another disc must do: 25.00, not 23.00."""
    job = but(with_lens(minimum_order_minor=2000), quotes=(NEW, USED, but(LENS, stock=1)))
    found = planned(job).in_plan
    assert (found.before_minor, found.order_minor) == (2500, 2500)


def test_a_plan_without_the_part_still_holds_every_quote_against_it() -> None:
    job = but(with_lens(postage_minor=450), faults=(GLAZE, LAMP))
    assert planned(job).in_plan.total_minor == 900


def test_alone_leaves_the_plan_out() -> None:
    answer = service.compare_quotes(BASE, "disc", alone=True)
    assert answer.plan is None
    assert all(each.in_plan is None for each in answer.parts[0].rows)
    assert service.compare_quotes(BASE, "disc").plan is not None


# ---- until one works

UNTIL = {
    # 9.00 and one failure in four on the average: 9.00 + 1/3 x 9.00
    "bought again": (priced(good_chance=0.75), {}, (1200, 900, 0, False)),
    # half the price comes back: 9.00 + 1/3 x 4.50
    "half refunded": (priced(good_chance=0.75, refund_share=0.5), {}, (1050, 450, 450, False)),
    # postage is paid each time and never refunded: 12.00 + 1/3 x (12.00 - 9.00)
    "refunded but for the postage": (
        priced(good_chance=0.75, refund_share=1.0), {"postage_minor": 300}, (1300, 300, 900, False),
    ),
    # a replacement for the postage: 12.00 + 1/3 x 3.00
    "under warranty": (priced(good_chance=0.75, warranty_months=6), {"postage_minor": 300}, (1300, 300, 0, True)),
    # the only one there is: nothing to replace it with, and half the price comes back: 12.00 + 1/3 x (12.00 - 4.50)
    "the last one under warranty": (
        priced(good_chance=0.75, warranty_months=6, refund_share=0.5, stock=1),
        {"postage_minor": 300},
        (1450, 750, 450, False),
    ),
    # the postage was waived, so money back leaves nothing to pay, less than the postage of a replacement
    "money back beats the replacement": (
        priced(good_chance=0.75, warranty_months=6, refund_share=1.0),
        {"postage_minor": 300, "free_over_minor": 900},
        (900, 0, 900, False),
    ),
    "no months of warranty": (priced(good_chance=0.75, warranty_months=0), {}, (1200, 900, 0, False)),
    "always sound": (priced(good_chance=1.0), {}, (900, 900, 0, False)),
    "half a penny goes up": (priced(good_chance=0.8, price_minor=902), {}, (1128, 902, 0, False)),
    "the last one, and always sound": (priced(good_chance=1.0, stock=1), {}, (900, 900, 0, False)),
    "two in stock": (priced(good_chance=0.75, stock=2), {}, (1200, 900, 0, False)),
}  # fmt: skip


@pytest.mark.parametrize("what", UNTIL)
def test_until_one_works(what: str) -> None:
    quote, terms, expected = UNTIL[what]
    tries = row(at(quote, USED, **terms)).until_sound
    assert (tries.expected_minor, tries.again_minor, tries.refund_minor, tries.replaced) == expected


@pytest.mark.parametrize("chance", [0.0, 1e-300, 9e-7])
def test_no_figure_where_it_is_as_good_as_never_sound(chance: float) -> None:
    found = row(at(priced(good_chance=chance), USED))
    assert found.until_sound is None
    assert Merit.UNTIL_SOUND not in found.wins


@pytest.mark.parametrize(("stock", "chance", "one_try"), [(1, 0.75, True), (2, 0.75, False), (1, 1.0, False)])
def test_stock_for_one_try_is_reckoned_as_if_another_turned_up_and_marked(stock, chance, one_try) -> None:
    found = row(at(priced(good_chance=chance, stock=stock), USED)).until_sound
    without_limit = row(at(priced(good_chance=chance), USED)).until_sound
    assert (found.expected_minor, found.one_try) == (without_limit.expected_minor, one_try)


# ---- who wins

LAPSED = but(USED, id="quotes.csv:7", price_minor=1, warranty_months=99, valid_until=TODAY - timedelta(days=1))
BARS = {
    Bar.LAPSED: (BASE, LAPSED),
    Bar.LATE: (
        but(BASE, settings=but(BASE.settings, needed_by=TODAY + timedelta(days=5))),
        but(USED, id="quotes.csv:7", price_minor=1, lead_days=9, warranty_months=99),
    ),
    Bar.SALVAGE: (VARIANTS["set"], but(USED, id="quotes.csv:7", price_minor=1, warranty_months=99)),
    Bar.ONLY_NEW: (
        but(BASE, parts=(Part(id="disc", kind="restraint"),)),
        but(USED, id="quotes.csv:7", price_minor=1, condition="refurbished"),
    ),
    Bar.TOO_FEW: (VARIANTS["set"], but(NEW, id="quotes.csv:7", price_minor=1, stock=1, warranty_months=99)),
    Bar.TRIED: (
        but(BASE, tried_on={"horn": ("quotes.csv:7",)}), but(NEW, id="quotes.csv:7", price_minor=1, warranty_months=99),
    ),
}  # fmt: skip


@pytest.mark.parametrize("bar", BARS)
def test_what_cannot_be_bought_is_listed_last_with_the_reason_and_wins_nothing(bar: Bar) -> None:
    job, barred = BARS[bar]
    job = but(job, quotes=(barred, NEW))
    (part,) = quote_comparison.compared(job, service.plan(job)).parts
    best, last = part.rows
    assert last.quote.id == "quotes.csv:7"
    assert last.barred is not None
    assert last.barred.bar == bar
    assert (last.alone, last.in_plan, last.until_sound, last.wins) == (None, None, None, frozenset())
    assert best.wins == set(Merit) - {Merit.WARRANTY}
    assert part.may_be_bought == (best,)


def test_a_quote_tried_on_one_fault_is_still_there_for_another() -> None:
    job = but(BASE, faults=(HORN, but(HORN, id="second")), tried_on={"horn": (NEW.id,)})
    assert row(job).barred is None


def test_each_merit_has_its_own_winner() -> None:
    def made(line: int, **changes: Any) -> Quote:
        return but(NEW, **({"id": f"quotes.csv:{line}", "supplier": f"shop-{line}", "lead_days": 5} | changes))

    quotes = (
        made(1, price_minor=2000, pack=10, good_chance=0.5),
        made(2, price_minor=800, good_chance=0.5),
        made(3, price_minor=850, good_chance=0.99),
        made(4, price_minor=5000, lead_days=1),
        made(5, price_minor=5000, warranty_months=36),
    )
    shops = tuple(Supplier(id=f"shop-{line}", postage_minor=100) for line in range(1, 6))
    job = but(BASE, quotes=(*quotes, LENS), suppliers=(*shops, Supplier(id="alder")))
    assert {line: row(job, f"quotes.csv:{line}").wins for line in range(1, 6)} == {
        1: {Merit.EACH}, 2: {Merit.ALONE}, 3: {Merit.UNTIL_SOUND}, 4: {Merit.SOONEST}, 5: {Merit.WARRANTY},
    }  # fmt: skip


def test_prices_each_are_compared_exactly_and_ties_all_win() -> None:
    """10.00 for 3 is 3.33 each when rounded, and dearer than 3.33."""
    three, one = priced(price_minor=1000, pack=3), but(USED, price_minor=333)
    assert (three.each_minor, one.each_minor) == (333, 333)
    assert Merit.EACH not in row(at(three, one)).wins
    assert Merit.EACH in row(at(three, one), USED.id).wins
    level = (priced(), but(NEW, id="quotes.csv:4", supplier="birch"))
    assert row(at(*level)).wins == row(at(*level), "quotes.csv:4").wins >= {Merit.EACH, Merit.ALONE, Merit.SOONEST}


def test_rows_stand_by_their_landed_cost_whatever_their_order_in_the_files() -> None:
    quotes = (NEW, USED, priced(id="quotes.csv:5", price_minor=100), LAPSED)
    there = quote_comparison.compared(at(*quotes)).parts[0].rows
    back = quote_comparison.compared(at(*reversed(quotes))).parts[0].rows
    assert there == back
    assert [each.quote.id for each in there] == ["quotes.csv:5", USED.id, NEW.id, LAPSED.id]


# ---- names, tables, the matrix


def test_a_part_is_named_by_its_id_or_its_title() -> None:
    job = but(BASE, parts=(Part(id="disc", title="Front Disc"),))
    said = ("disc", "Front disc", "front-disc", "DISC", "front")
    assert [quote_comparison.named(job, name) for name in said] == [(None, "disc")] * len(said)


def test_an_unknown_name_has_the_nearest_of_faults_and_parts() -> None:
    with pytest.raises(CallError, match="Did you mean: disc"):
        quote_comparison.named(BASE, "dics")
    with pytest.raises(CallError, match="Did you mean: horn"):
        quote_comparison.named(BASE, "hron")


def test_the_matrix_has_the_lowest_price_each_of_what_may_be_bought() -> None:
    quotes = (NEW, priced(id="quotes.csv:4", price_minor=1500, pack=2), USED, but(LENS, supplier="birch"), LAPSED)
    matrix = quote_comparison.matrix(at(*quotes))
    assert matrix.suppliers == ("alder", "birch")
    assert list(tables.matrix_rows(matrix)) == [
        ("disc", "new", matrix.job.currency.decimal(750), None),
        ("disc", "salvage", None, matrix.job.currency.decimal(300)),
        ("lens", "new", None, matrix.job.currency.decimal(700)),
    ]
    assert [r.cheapest for r in matrix.rows] == [{"alder"}, {"birch"}, {"birch"}]
    assert tables.matrix(matrix).shape == (3, 4)


def test_a_frame_holds_every_quote() -> None:
    job = but(BASE, quotes=(NEW, USED, LAPSED))
    frame = tables.quoted(quote_comparison.compared(job, service.plan(job)))
    assert list(frame.columns) == [column.name for column in tables.QUOTED]
    assert frame.set_index("quote").loc[LAPSED.id, "not_offered"] == "lapsed"
    assert frame.set_index("quote").loc[USED.id, "alone"] == job.currency.decimal(300)
    assert frame.set_index("quote").loc[NEW.id, "in_plan_orders"] == "yes"


def test_a_shop_without_thresholds_is_never_asked_for_a_top_up() -> None:
    assert Shop(Supplier(id="alder", postage_minor=450), [NEW]).order(900, {}).total_minor == 1350
