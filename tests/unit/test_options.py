"""Options: what a repair times its quotes comes to, what is barred and why, what is dropped as pointless."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from optimiser.errors import InputError
from optimiser.model.candidates import Offer
from optimiser.model.job import NEVER_SALVAGE_KINDS, Fault, Job, LicensedSystem, Owned, Part, Repair
from optimiser.model.option import Bar
from optimiser.model.quotes import Quote, Supplier
from optimiser.planning import options
from tests.tiny_job import BASE, HORN, NEW, TODAY, USED, VARIANTS, but


def found(job: Job, fault: str = "horn", **asked: Any) -> list[tuple[str, ...]]:
    return [o.key[1:] for o in options.build(job, **asked).options if o.fault == fault]


def bars(offer: Offer) -> set[tuple[str, str, Bar, str]]:
    return {(b.kind, b.id, b.bar, b.detail) for b in offer.not_offered}


def test_a_repair_is_one_option_for_every_quote_of_its_part() -> None:
    offer = options.build(BASE)
    assert [o.key for o in offer.options] == [
        ("horn", "swap", "quotes.csv:2"),
        ("horn", "swap", "quotes.csv:3"),
        ("lamp", "clean"),
    ]
    assert offer.not_offered == ()


def test_an_options_figures_are_the_repairs_and_the_quotes() -> None:
    job = but(BASE, quotes=(but(NEW, lead_days=3), USED), faults=(
        but(HORN, repairs=(but(HORN.repairs[0], price_minor=70, lead_days=2, access=("b", "a", "b")),)),))  # fmt: skip
    option = options.build(job).options[0]
    assert (option.direct_minor, option.minutes, option.days, option.access) == (70, 20, 5, ("a", "b"))
    assert option.chance == pytest.approx(0.9 * 0.98)
    assert [(line.quote.id, line.units, line.wanted) for line in option.lines] == [("quotes.csv:2", 1, 1)]


def test_chance_is_over_causes_and_sound_parts_a_line_not_a_unit() -> None:
    repair = Repair(id="both", cures={"disc": 0.9, "something-else": 0.2}, parts={"disc": 4, "pin": 1})
    job = but(
        BASE,
        faults=(Fault(id="horn", severity="minor", causes={"disc": 3.0, "wire": 1.0}, something_else=0.2,
                      repairs=(repair,)),),
        quotes=(NEW, but(NEW, id="quotes.csv:3", part="pin", good_chance=0.5)),
    )  # fmt: skip
    # (0.8 x 3/4 x 0.9 + 0.2 x 0.2) x 0.98 x 0.5, by hand
    assert options.build(job).options[0].chance == pytest.approx((0.54 + 0.04) * 0.49)


def test_a_workshop_spends_none_of_the_owners_minutes() -> None:
    shop = next(o for o in options.build(VARIANTS["workshop"]).options if o.repair == "shop")
    assert (shop.by_workshop, shop.minutes) == (True, 0)


def test_pieces_are_rounded_up_to_sets_a_repair() -> None:
    line = options.build(VARIANTS["set"]).options[0].lines[0]
    assert (line.units, line.wanted) == (2, 1)


def test_parts_on_the_shelf_cost_nothing_and_come_from_nobody() -> None:
    shelf = options.shelf(VARIANTS["owned"])
    assert [(q.id, q.price_minor, q.pack, q.stock, q.supplier) for q in shelf] == [("owned:1", 0, 1, 1, None)]
    assert ("swap", "owned:1") in found(VARIANTS["owned"])
    assert "owned:1" not in {q.id for q in options.build(VARIANTS["owned"]).quotes}


def test_one_shelf_row_must_cover_the_whole_set() -> None:
    rows = tuple(Owned(part="disc", units=1, condition="new", good_chance=0.98) for _ in range(2))
    assert all("owned" not in key[1] for key in found(but(VARIANTS["set"], owned=rows)))
    whole = but(VARIANTS["set"], owned=(but(rows[0], units=2),))
    assert ("swap", "owned:1") in found(whole)


def test_salvage_is_barred_by_kind_and_by_choice_and_can_be_allowed() -> None:
    def barred(**row: Any) -> bool:
        offer = options.build(but(BASE, parts=(Part(id="disc", **row),)))
        return ("quote", "quotes.csv:3", Bar.SALVAGE, "disc") in bars(offer)

    kinds = NEVER_SALVAGE_KINDS - {"restraint"}
    assert all(barred(kind=kind) for kind in kinds)
    assert not barred(kind="free")
    assert barred(kind="free", never_salvage=True)
    assert not barred(kind="friction", never_salvage=False)


@pytest.mark.parametrize("lifted", [None, False])
def test_restraints_are_new_or_nothing_whatever_the_job_says(lifted: bool | None) -> None:
    job = but(
        BASE,
        settings=but(BASE.settings, licensed=(LicensedSystem.AIRBAGS_AND_BELTS,)),
        parts=(Part(id="disc", kind="restraint", never_salvage=lifted),),
        quotes=(NEW, USED, but(NEW, id="quotes.csv:4", condition="refurbished")),
        owned=(Owned(part="disc", condition="salvage", good_chance=0.9),),
    )
    assert found(job) == [("swap", "quotes.csv:2")]
    kinds = {(b.kind, b.id, b.bar) for b in options.build(job).not_offered}
    assert {("quote", "quotes.csv:3", Bar.ONLY_NEW), ("quote", "quotes.csv:4", Bar.ONLY_NEW),
            ("owned", "owned:1", Bar.ONLY_NEW)} <= kinds  # fmt: skip


@pytest.mark.parametrize(("days", "offered"), [(-1, False), (0, True), (1, True)])
def test_a_quote_holds_through_its_last_day(days: int, offered: bool) -> None:
    last = TODAY + timedelta(days=days)
    job = but(BASE, quotes=(but(NEW, valid_until=last), USED))
    assert (("swap", "quotes.csv:2") in found(job)) is offered
    assert (("quote", "quotes.csv:2", Bar.LAPSED, last.isoformat()) in bars(options.build(job))) is not offered


@pytest.mark.parametrize(("days", "offered"), [(5, True), (6, False)])
def test_what_arrives_on_the_day_is_in_time(days: int, offered: bool) -> None:
    settings = but(BASE.settings, needed_by=TODAY + timedelta(days=5))
    job = but(BASE, settings=settings, quotes=(but(NEW, lead_days=days), USED))
    assert (("swap", "quotes.csv:2") in found(job)) is offered


def test_a_workshops_wait_follows_the_parts_wait() -> None:
    settings = but(BASE.settings, needed_by=TODAY + timedelta(days=5))
    shop = but(HORN.repairs[0], by="workshop", lead_days=3)
    job = but(BASE, settings=settings, faults=(but(HORN, repairs=(shop,)),),
              quotes=(but(NEW, lead_days=2), but(USED, lead_days=3)))  # fmt: skip
    assert found(job) == [("swap", "quotes.csv:2")]
    late = but(job, quotes=(but(NEW, lead_days=3), but(USED, lead_days=3)))
    assert found(late) == []
    assert ("repair", "horn/swap", Bar.LATE, "") in bars(options.build(late))
    assert ("fault", "horn", Bar.NO_REPAIR, "") in bars(options.build(late))


@pytest.mark.parametrize("system", list(LicensedSystem))
def test_own_work_on_a_licensed_system_needs_the_licence(system: LicensedSystem) -> None:
    repairs = (*HORN.repairs, Repair(id="shop", chance=0.9, price_minor=1, by="workshop"))
    job = but(BASE, faults=(but(HORN, systems=(system.value,), repairs=repairs),))
    assert found(job) == [("shop",)]
    assert ("repair", "horn/swap", Bar.LICENSED, system.value) in bars(options.build(job))
    holder = but(job, settings=but(job.settings, licensed=(system,)))
    assert len(found(holder)) == 3
    others = tuple(s for s in LicensedSystem if s != system)
    assert found(but(job, settings=but(job.settings, licensed=others))) == [("shop",)]


def test_what_nobody_sells_and_what_cures_nothing_is_said() -> None:
    faults = (
        but(HORN, id="gone", repairs=(Repair(id="a", chance=0.9, parts={"nowhere": 1}),)),
        but(HORN, id="few", repairs=(Repair(id="a", chance=0.9, parts={"disc": 9}),)),
        but(HORN, id="vain", repairs=(Repair(id="a", chance=0.0),)),
        but(HORN, id="bare", repairs=()),
    )
    offer = options.build(but(BASE, faults=faults, quotes=(but(NEW, stock=2, pack=4), USED.model_copy(
        update={"stock": 8}))))  # fmt: skip
    assert offer.options == ()
    assert bars(offer) == {
        ("repair", "gone/a", Bar.NO_QUOTE, "nowhere"),
        ("repair", "few/a", Bar.TOO_FEW, "disc"),
        ("repair", "vain/a", Bar.NO_CURE, ""),
        *(("fault", fault.id, Bar.NO_REPAIR, "") for fault in faults),
    }


def test_rows_alike_in_everything_count_once_unless_stock_binds() -> None:
    twin = but(NEW, id="quotes.csv:9")
    assert found(but(BASE, quotes=(twin, NEW))) == [("swap", "quotes.csv:2")]
    limited = but(BASE, quotes=(but(twin, stock=1), but(NEW, stock=1)))
    assert found(limited) == [("swap", "quotes.csv:2"), ("swap", "quotes.csv:9")]


DEARER = but(NEW, id="quotes.csv:9", price_minor=901)


def test_a_dearer_worse_quote_of_the_same_supplier_is_dropped_but_not_from_what_ifs() -> None:
    job = but(BASE, quotes=(NEW, DEARER))
    assert found(job) == [("swap", "quotes.csv:2")]
    assert found(job, whole={"horn"}) == [("swap", "quotes.csv:2"), ("swap", "quotes.csv:9")]


KEPT: dict[str, tuple[Quote, Quote, Supplier]] = {
    "another supplier": (NEW, but(DEARER, supplier="birch"), Supplier(id="alder")),
    "surer": (NEW, but(DEARER, good_chance=0.99), Supplier(id="alder")),
    "sooner": (but(NEW, lead_days=1), DEARER, Supplier(id="alder")),
    "as cheap": (NEW, but(DEARER, price_minor=900, ref="other"), Supplier(id="alder")),
    "the better may run out": (but(NEW, stock=1), DEARER, Supplier(id="alder")),
    "its packs may be shared": (NEW, but(DEARER, pack=4), Supplier(id="alder")),
    "it may reach free postage": (NEW, DEARER, Supplier(id="alder", postage_minor=1, free_over_minor=1)),
    "it may reach the minimum": (NEW, DEARER, Supplier(id="alder", minimum_order_minor=1)),
    "less cash": (but(NEW, deposit_minor=2), DEARER, Supplier(id="alder")),
    "less lost in deposits": (but(NEW, price_minor=900, pack=2, deposit_minor=2), but(DEARER, deposit_minor=500),
                              Supplier(id="alder")),
}  # fmt: skip


@pytest.mark.parametrize("why", KEPT)
def test_a_dearer_quote_stays_where_it_could_matter(why: str) -> None:
    better, worse, supplier = KEPT[why]
    job = but(BASE, quotes=(better, worse), suppliers=(supplier,))
    assert ("swap", "quotes.csv:9") in found(job)


def test_more_combinations_than_can_be_handled_are_refused_with_the_mend() -> None:
    parts = {f"p{n}": 1 for n in range(3)}
    quotes = tuple(but(NEW, id=f"quotes.csv:{30 * n + k}", part=f"p{n}", supplier=f"s{k}") for n in range(3)
                   for k in range(28))  # fmt: skip
    job = but(BASE, faults=(but(HORN, repairs=(Repair(id="swap", chance=1, parts=parts),)),), quotes=quotes)
    with pytest.raises(InputError) as refused:
        options.build(job)
    (problem,) = refused.value.problems
    assert (problem.where, problem.found) == ("[[fault]] horn, repair swap", "28 x 28 x 28 combinations of quotes")


def test_a_job_without_a_day_is_a_slip_of_the_caller() -> None:
    with pytest.raises(ValueError, match=r"settings\.today"):
        options.build(but(BASE, settings=but(BASE.settings, today=None), quotes=(but(NEW, valid_until=TODAY),)))
