"""The plan drawn up: orders, shares, money table, short whys and remarks; amounts worked out by hand."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given

from optimiser import service
from optimiser.model.job import Access, Fault, Job, LicensedSystem, Owned, Part, Pot, Repair, Time
from optimiser.model.plan import Notice, Plan, Reason, Remark
from optimiser.model.quotes import Supplier
from optimiser.planning import notices
from optimiser.show import wording
from tests.effort import examples
from tests.small_jobs import jobs as small_jobs
from tests.tiny_job import BASE, HORN, LAMP, NEW, SECOND_HORN, TODAY, USED, VARIANTS, but, planned


def reason(plan: Plan, fault: str) -> Reason:
    return plan.choice(fault).why.reason


def remarks(plan: Plan) -> list[tuple[Remark, tuple[str, ...]]]:
    return [(notice.remark, notice.about) for notice in plan.notices]


def sums_up(plan: Plan) -> None:
    purse = plan.purse
    parts = (purse.orders_minor, purse.direct_minor, purse.deposits_minor, purse.fallbacks_minor, purse.unspent_minor)
    assert sum(parts) == purse.remaining_minor
    assert sum(choice.landed_minor for choice in plan.choices) == purse.net_minor
    for choice in plan.choices:
        direct = choice.option.direct_minor if choice.option else 0
        assert choice.landed_minor == direct + choice.access_minor + sum(p.landed_minor for p in choice.parts)


@pytest.mark.parametrize("variant", VARIANTS)
def test_the_money_adds_up(variant: str) -> None:
    sums_up(planned(variant))


def test_postage_is_shared_by_the_cost_of_goods_to_the_penny() -> None:
    other = but(NEW, id="quotes.csv:4", part="pin", price_minor=300)
    job = but(BASE, faults=(HORN, but(HORN, id="pin", repairs=(Repair(id="swap", chance=0.9, parts={"pin": 1}),))),
              quotes=(NEW, other), suppliers=(Supplier(id="alder", postage_minor=401),))  # fmt: skip
    plan = service.plan(job)
    # 4.01 over goods of 9.00 and 3.00: 3.0075 and 1.0025, the odd penny to the larger remainder
    assert plan.choice("horn").landed_minor == 900 + 301
    assert plan.choice("pin").landed_minor == 300 + 100
    sums_up(plan)


def test_a_shared_pack_is_shared_by_pieces_with_the_leftover() -> None:
    job = but(VARIANTS["packs"], faults=(HORN, but(SECOND_HORN, repairs=(Repair(id="two", chance=0.9,
              parts={"disc": 2}),))))  # fmt: skip
    plan = service.plan(job)
    assert (plan.choice("horn").landed_minor, plan.choice("second-horn").landed_minor) == (300, 600)
    assert [(left.part, left.units) for left in plan.leftovers] == [("disc", 1)]


def test_a_deposit_is_cash_now_and_cost_on_the_surplus_piece_only() -> None:
    plan = planned("deposit")
    assert (plan.purse.orders_minor, plan.purse.deposits_minor, plan.purse.deposits_due_minor) == (900, 400, 200)
    assert plan.choice("horn").landed_minor == 900 + 200


def test_opening_up_is_paid_once_and_shared_equally() -> None:
    plan = planned("access")
    assert (plan.purse.direct_minor, plan.minutes) == (250 + 300, 20 + 10 + 45)
    assert [c.access_minor for c in plan.choices] == [150, 150]
    assert [a.id for a in plan.access] == ["dash"]


def test_a_workshops_opening_up_costs_its_price_but_no_minutes() -> None:
    shop = Repair(id="shop", chance=0.9, price_minor=100, minutes=60, by="workshop", access=("dash",))
    job = but(BASE, access=(Access(id="dash", minutes=45, price_minor=300),), faults=(but(HORN, repairs=(shop,)),))
    plan = service.plan(job)
    assert (plan.minutes, plan.purse.direct_minor) == (0, 400)


def test_a_trip_counts_once_an_order() -> None:
    assert planned("trip").minutes == 20 + 10 + 30


def test_what_would_waive_the_postage() -> None:
    assert planned("free_over").orders[0].to_waive_minor == 100
    assert planned("postage").orders[0].to_waive_minor is None
    waived = but(BASE, suppliers=(Supplier(id="alder", postage_minor=450, free_over_minor=900),))
    assert (service.plan(waived).orders[0].postage_minor, service.plan(waived).orders[0].to_waive_minor) == (0, None)


def test_the_gravest_faults_come_first_then_the_most_important() -> None:
    faults = [
        Fault(id="a", severity="minor"),
        Fault(id="b", severity="dangerous", importance=0.5),
        Fault(id="c", severity="major"),
        Fault(id="d", severity="dangerous", importance=2),
        Fault(id="e", severity="minor", importance=3),
    ]
    plan = service.plan(but(BASE, faults=tuple(faults)))
    assert [c.fault.id for c in plan.choices] == ["d", "b", "c", "e", "a"]


def test_fixes_are_counted_with_and_without_importance() -> None:
    plan = service.plan(but(BASE, faults=(but(HORN, importance=2), LAMP)))
    assert plan.expected_fixes == pytest.approx(2 * 0.882 + 0.6)
    assert plan.expected_count == pytest.approx(0.882 + 0.6)


def one(*, cap: int = 2000, **changes: Any) -> Job:
    return but(BASE, faults=(HORN,), pot=Pot(cap_minor=cap), **changes)


CHEAP_NEW = but(NEW, price_minor=250)
PIN = but(NEW, id="quotes.csv:4", part="pin", supplier="birch", price_minor=300)
PINNED = Repair(id="r", chance=0.5, parts={"pin": 1})
WHYS: dict[str, tuple[Job, str, Reason]] = {
    "one way": (one(quotes=(NEW,)), "horn", Reason.ONLY_WAY),
    "surest": (BASE, "horn", Reason.SUREST),
    "surest and cheapest": (one(quotes=(CHEAP_NEW, USED)), "horn", Reason.SUREST_AND_CHEAPEST),
    "dearer for little": (VARIANTS["profit"], "horn", Reason.DEARER_FOR_LITTLE),
    "too little money for the surer": (one(cap=800), "horn", Reason.DEARER_FOR_LITTLE),
    "good enough": (
        but(BASE, settings=but(BASE.settings, good_enough=0.7), pot=Pot(cap_minor=1100),
            faults=(but(HORN, severity="dangerous", systems=("wiring",)), LAMP)),
        "horn", Reason.GOOD_ENOUGH,
    ),
    "a major fault has no safety of its own": (
        but(BASE, settings=but(BASE.settings, good_enough=0.7), pot=Pot(cap_minor=1100),
            faults=(but(HORN, severity="major"), LAMP)),
        "horn", Reason.DEARER_FOR_LITTLE,
    ),
    "a step of safety that the pot does not reach": (
        but(BASE, settings=but(BASE.settings, good_enough=0.8), pot=Pot(cap_minor=800),
            faults=(but(HORN, severity="dangerous", systems=("wiring",)),)),
        "horn", Reason.OUT_OF_REACH,
    ),
    "shares an order": (
        but(BASE, quotes=(NEW, but(USED, condition="new", good_chance=0.98, price_minor=800),
                          but(NEW, id="quotes.csv:4", part="pin", price_minor=100)),
            faults=(HORN, Fault(id="pin", severity="minor", repairs=(Repair(id="r", chance=0.5, parts={"pin": 1}),))),
            suppliers=(Supplier(id="alder", postage_minor=400), Supplier(id="birch", postage_minor=300))),
        "horn", Reason.SHARES_AN_ORDER,
    ),
    "left by the person": (but(BASE, left={"lamp": 3}), "lamp", Reason.LEFT_AS_IT_IS),
    "nothing offered": (one(quotes=()), "horn", Reason.NOTHING_OFFERED),
    "too dear": (one(cap=299), "horn", Reason.TOO_DEAR),
    "no money": (but(BASE, pot=Pot(cap_minor=310)), "lamp", Reason.NO_MONEY),
    "no hours": (but(BASE, time=Time(hours=0.4)), "lamp", Reason.NO_HOURS),
    "no more suppliers": (
        but(BASE, settings=but(BASE.settings, most_suppliers=1), quotes=(NEW, PIN),
            faults=(HORN, but(HORN, id="pin", importance=0.1, repairs=(PINNED,)))),
        "pin", Reason.NO_MORE_SUPPLIERS,
    ),
    "each way kept out by another limit": (
        but(BASE, time=Time(hours=0.4), quotes=(but(NEW, stock=1), but(PIN, part="pin")),
            faults=(HORN, but(HORN, id="pin", importance=0.1, repairs=(HORN.repairs[0], but(PINNED, minutes=20))))),
        "pin", Reason.NO_HOURS,
    ),
    "a surer way that the hours do not allow": (
        but(BASE, time=Time(hours=0.2), faults=(but(HORN, repairs=(
            Repair(id="quick", chance=0.5, minutes=10), Repair(id="long", chance=0.9, minutes=30, price_minor=100))),)),
        "horn", Reason.OUT_OF_REACH,
    ),
    "not worth it": (
        but(VARIANTS["profit"], faults=(but(HORN, sale_gain_minor=5), LAMP)), "horn", Reason.NOT_WORTH_IT,
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", WHYS)
def test_the_short_why(what: str) -> None:
    job, fault, expected = WHYS[what]
    assert reason(service.plan(job), fault) == expected


def test_a_surer_way_out_of_reach_names_the_limit() -> None:
    job, _, _ = WHYS["a surer way that the hours do not allow"]
    plan = service.plan(job)
    assert plan.choice("horn").why.limit == Reason.NO_HOURS
    assert "but the free hours do not allow it." in wording.why(job, plan.choice("horn"))


@examples(60)
@given(job=small_jobs())
def test_a_limit_that_is_named_for_what_is_left_binds(job: Job) -> None:
    """Money would do for it, and the bound on suppliers is passed; where no limit is named none is passed."""
    plan = service.plan(but(job, settings=but(job.settings, fallbacks=False)))
    placed = {order.supplier.id for order in plan.orders}
    for choice in plan.choices:
        why, other = choice.why, choice.why.other
        if choice.route is not None or other is None:
            continue
        if why.reason in (Reason.NO_HOURS, Reason.NO_MORE_SUPPLIERS):
            assert why.cost_minor <= plan.purse.unspent_minor
        if why.reason == Reason.NO_MORE_SUPPLIERS:
            most = job.settings.most_suppliers
            assert most is not None
            assert len(placed | set(other.suppliers)) > most
        if why.reason in (Reason.OTHERS_FIRST, Reason.NOT_WORTH_IT):
            assert why.cost_minor <= plan.purse.unspent_minor
            most = job.settings.most_suppliers
            assert most is None or set(other.suppliers) <= placed or len(placed | set(other.suppliers)) <= most


def test_what_could_be_surer_says_in_which_steps_safety_counts() -> None:
    job, _, _ = WHYS["good enough"]
    plan = service.plan(job)
    assert wording.why(job, plan.choice("horn")) == (
        "It could be surer: new from alder adds 16.2 points of chance for 6.00 GBP more (9.00 against 3.00, each bought"
        " alone); safety counts in steps of 20% up to 70%."
    )
    exact = but(job, settings=but(job.settings, safety_step=0))
    assert "safety counts up to 70%" in wording.why(exact, plan.choice("horn"))


def test_the_figures_of_a_why() -> None:
    why = planned("base").choice("horn").why
    assert why.other is not None
    assert (why.other.key, why.cost_minor) == (("horn", "swap", "quotes.csv:3"), -600)
    assert why.chance == pytest.approx(0.72 - 0.882)


def test_what_is_left_says_what_it_would_cost_on_top_of_the_plan() -> None:
    """The order to alder goes out anyway, so its postage is not asked twice."""
    pin = but(NEW, id="quotes.csv:4", part="pin", price_minor=300)
    job = but(BASE, pot=Pot(cap_minor=1400), quotes=(NEW, pin), suppliers=(Supplier(id="alder", postage_minor=450),),
              faults=(HORN, but(HORN, id="pin", repairs=(Repair(id="r", chance=0.5, parts={"pin": 1}),))))  # fmt: skip
    why = service.plan(job).choice("pin").why
    assert (why.reason, why.cost_minor) == (Reason.NO_MONEY, 300)


def test_too_dear_names_an_amount_that_is_more_than_the_pot() -> None:
    pin = but(NEW, id="quotes.csv:4", part="pin", price_minor=1600)
    job = but(BASE, pot=Pot(cap_minor=2000), quotes=(NEW, pin), suppliers=(Supplier(id="alder", postage_minor=450),),
              faults=(HORN, but(HORN, id="pin", repairs=(Repair(id="r", chance=0.5, parts={"pin": 1}),))))  # fmt: skip
    why = service.plan(job).choice("pin").why
    assert why.reason != Reason.TOO_DEAR or why.cost_minor > 2000


def test_a_fault_left_for_want_of_pieces_does_not_blame_money() -> None:
    one_disc = Owned(part="disc", units=1, condition="new", good_chance=0.98)
    plan = service.plan(but(BASE, quotes=(), owned=(one_disc,), faults=(HORN, SECOND_HORN)))
    left = next(c for c in plan.choices if c.option is None)
    assert "money or hours" not in wording.why(plan.job, left)


def test_an_overdrawn_pot_is_said_by_how_much_and_what_is_free_is_still_done() -> None:
    free = but(LAMP, repairs=(Repair(id="wipe", chance=0.2),))
    plan = service.plan(but(VARIANTS["overdrawn"], faults=(HORN, free)))
    assert plan.notices[0] == Notice(remark=Remark.OVERSPENT, about=("5.55",))
    assert (plan.purse.remaining_minor, plan.purse.unspent_minor) == (-555, -555)
    assert plan.choice("lamp").option is not None


def test_a_dangerous_fault_mended_well_needs_no_remark() -> None:
    sure = but(HORN, severity="dangerous", repairs=(Repair(id="r", chance=0.95),))
    assert remarks(service.plan(but(BASE, faults=(sure,)))) == []


SAID: dict[str, tuple[Job, Remark, tuple[str, ...]]] = {
    "safety off": (but(BASE, settings=but(BASE.settings, safety_first=False)), Remark.SAFETY_OFF, ()),
    "protection lifted": (
        but(BASE, parts=(Part(id="disc", kind="tyre", never_salvage=False),)),
        Remark.PROTECTION_LIFTED, ("disc", "tyre"),
    ),
    "licence claimed": (but(BASE, settings=but(BASE.settings, licensed=(LicensedSystem.GAS,))),
                        Remark.LICENCE_CLAIMED, ("gas",)),
    "set rounded": (VARIANTS["set"], Remark.SET_ROUNDED, ("horn", "disc", "1", "2")),
    "piece of a set": (
        but(VARIANTS["set"], owned=(Owned(part="disc", condition="new", good_chance=1),)),
        Remark.SET_INCOMPLETE, ("disc", "1", "2", "1"),
    ),
    "supplier not listed": (but(BASE, suppliers=()), Remark.SUPPLIER_NOT_LISTED, ("alder",)),
    "same axle": (but(VARIANTS["set"], faults=(HORN, SECOND_HORN)), Remark.SAME_AXLE, ("disc", "horn", "second-horn")),
    "no currency": (but(BASE, settings=but(BASE.settings, currency="XXX")), Remark.NO_CURRENCY, ()),
}  # fmt: skip


@pytest.mark.parametrize("what", SAID)
def test_what_must_be_said_beside_the_figures(what: str) -> None:
    job, remark, about = SAID[what]
    assert (remark, about) in remarks(service.plan(job))
    assert remark not in [said for said, _ in remarks(planned("base"))]


def test_only_suppliers_that_an_order_goes_to_are_said_to_be_unlisted() -> None:
    job = but(BASE, suppliers=())
    unlisted = [about for remark, about in remarks(service.plan(job)) if remark == Remark.SUPPLIER_NOT_LISTED]
    assert unlisted == [("alder",)]
    everywhere = [n.about for n in notices.of_job(job) if n.remark == Remark.SUPPLIER_NOT_LISTED]
    assert everywhere == [("alder",), ("birch",)]


def test_lapsed_and_late_quotes_are_listed_as_not_offered() -> None:
    assert [(b.id, b.detail) for b in planned("lapsed").not_offered] == [
        ("quotes.csv:2", (TODAY - timedelta(days=1)).isoformat())
    ]
    assert [(b.id, b.detail) for b in planned("late").not_offered] == [
        ("quotes.csv:2", (TODAY + timedelta(days=9)).isoformat())
    ]


def test_near_misses_in_sheets_are_said_with_what_was_probably_meant() -> None:
    stray = but(NEW, id="quotes.csv:9", part="discs", supplier="Alder")
    job = but(BASE, quotes=(NEW, stray), suppliers=(Supplier(id="alder"),), settings=but(BASE.settings, needed_by=date(2026, 1, 1)))  # noqa: E501 # fmt: skip
    said = {(notice.remark, *notice.about[:2]) for notice in notices.of_job(job)}
    assert (Remark.SUPPLIER_NOT_LISTED, "Alder", "alder") in said
    assert (Remark.NEEDED_BY_PAST, "2026-01-01", str(job.settings.today)) in said
    assert any(remark == Remark.PART_NOT_NAMED and name == "discs" for remark, name, _ in said)


def test_what_is_held_back_and_spent_is_no_overdrawn_pot() -> None:
    plan = service.plan(but(BASE, pot=Pot(cap_minor=2000, spent_minor=1700, hold_back_minor=400)))
    told = next(n for n in plan.notices if n.remark == Remark.HELD_BACK_SPENT)
    assert wording.notice(plan.job, told).startswith("1.00 GBP of the 4.00 GBP held back is spent already")
    beyond = service.plan(but(BASE, pot=Pot(cap_minor=2000, spent_minor=2001, hold_back_minor=400)))
    assert Remark.OVERSPENT in {n.remark for n in beyond.notices}
