"""Among equally good plans the one nearest to the last; and what is better by a little only says so."""

from __future__ import annotations

import pytest

from optimiser import service
from optimiser.changes import margin
from optimiser.model import events as h
from optimiser.model.job import Job, Repair
from optimiser.model.moves import Margin
from optimiser.model.plan import Plan, Selection
from optimiser.planning import choose
from optimiser.show import change_words
from tests.tiny_job import BASE, BLOWER, CHECKED, HORN, LAMP, NEW, ROUTED, but
from tests.unit.changes.stories import MONEY, SAID, fitted, kept, moment, moved, note, spend

ALIKE = but(BASE, quotes=(NEW, but(NEW, id="quotes.csv:3", supplier="birch")))
"""Two shops ask the same for the same: the one by name first is taken where nothing else decides."""


def taken(selection: Selection, fault: str = "horn") -> tuple[str | None, ...]:
    route = selection.route_for(fault)
    assert route is not None
    assert route.option is not None
    return tuple(line.quote.supplier for line in route.option.lines)


def packs(plan: Plan) -> dict[tuple[object, ...], int]:
    named = {quote.id: quote.content for quote in plan.job.quotes}
    return {named[quote]: count for quote, count in plan.selection.packs.items()}


def turned(job: Job) -> Job:
    """The sheet's rows the other way round, so that every quote has another line."""
    ids = [quote.id for quote in job.quotes]
    rows = reversed(job.quotes)
    return but(job, quotes=tuple(but(row, id=name) for row, name in zip(rows, ids)), faults=job.faults[::-1])


def test_the_shop_that_the_last_plan_named_is_kept() -> None:
    dearer = but(ALIKE, quotes=(but(NEW, price_minor=901), ALIKE.quotes[1]))
    assert taken(service.plan(ALIKE).selection) == ("alder",)
    assert taken(service.plan(dearer).selection) == ("birch",)
    told = moved(dearer, now=ALIKE)
    assert taken(told.plan.selection) == ("birch",), "alder is as good again, and no better"
    assert not told.moved


@pytest.mark.parametrize("variant", ["check", "fallback", "three_results", "shared", "postage", "twins"])
def test_a_note_or_another_order_of_rows_gives_the_very_same_plan(variant: str) -> None:
    job = ROUTED[variant]
    told = moved(job, note(), now=turned(job))
    first = service.plan(job)
    assert not told.moved
    assert told.plan.selection.levels == first.selection.levels
    assert packs(told.plan) == packs(first)
    again = service.plan(turned(job), service.plan(turned(job)).selection)
    assert again == service.plan(turned(job))


def test_a_sheet_turned_round_keeps_the_shop_of_the_last_plan() -> None:
    """The last plan's quote is found again by what it says, not by its line, which is the other shop's now."""
    dearer = but(ALIKE, quotes=(but(NEW, price_minor=901), ALIKE.quotes[1]))
    told = moved(dearer, note(), now=turned(ALIKE))
    assert taken(told.plan.selection) == ("birch",)


def test_what_was_bought_is_near_to_what_was_to_be_bought() -> None:
    bought = h.Purchase.of(ALIKE.quotes[1], 1, currency="GBP", postage_minor=0, **SAID)
    dearer = but(ALIKE, quotes=(but(NEW, price_minor=901), ALIKE.quotes[1]))
    now = moment(dearer, bought)
    near = kept(dearer, now).nearest(now)
    (line,) = near.route_for("horn").option.lines
    assert (line.quote.id, line.quote.supplier) == ("bought:1", None)
    assert not moved(dearer, bought).moved


def test_a_step_taken_is_behind_the_last_plan() -> None:
    now = moment(CHECKED, h.CheckMade(**MONEY, fault="blower", check="feed", result="spins"))
    near = kept(CHECKED, now).nearest(now)
    assert near.route_for("blower").option.repair == "wire"


def test_a_cured_fault_is_out_of_the_last_plan() -> None:
    now = moment(BASE, fitted("lamp", "clean", cured=True))
    assert kept(BASE, now).nearest(now).route_for("lamp") is None


# ---- better by a little

FINE = but(BASE.settings, chance_step=0)


def with_lamps(first: float, second: float, price: int = 100) -> Job:
    repairs = (Repair(id="clean", chance=first, price_minor=100), Repair(id="new", chance=second, price_minor=price))
    return but(BASE, settings=FINE, faults=(HORN, but(LAMP, repairs=repairs)))


def switching(was: Job, now: Job) -> str:
    told = moved(was, now=now)
    assert told.margin is not None
    return change_words.switching(told.plan.job, told.margin)


def test_a_little_better_is_worth_switching_only_before_an_order() -> None:
    """0.605 for 0.600, of 1.487 in all: a hundredth is 0.015."""
    assert switching(with_lamps(0.6, 0.5), with_lamps(0.6, 0.605)) == (
        "The new plan is better by only 0.005 fixes than keeping to the last one (less than 0.015 counts as a little):"
        " where anything is ordered for the last one, keep to it."
    )


def test_much_better_is_plainly_worth_it() -> None:
    told = moved(with_lamps(0.6, 0.5), now=with_lamps(0.6, 0.7))
    assert told.margin is not None
    assert (told.margin.unit, told.margin.small) == ("fixes", False)
    assert told.margin.better == pytest.approx(0.1)
    assert change_words.switching(told.plan.job, told.margin) == ""


def test_a_little_cheaper_says_so_in_money() -> None:
    """5p of what remains, 20.00: a hundredth is 0.20."""
    assert switching(with_lamps(0.6, 0.6, 105), with_lamps(0.6, 0.6, 95)) == (
        "The new plan is better by only 0.05 GBP than keeping to the last one (less than 0.20 GBP counts as a little):"
        " where anything is ordered for the last one, keep to it."
    )


def test_a_lot_cheaper_is_plainly_worth_it() -> None:
    assert switching(with_lamps(0.6, 0.6, 105), with_lamps(0.6, 0.6, 50)) == ""


def test_safety_is_always_worth_a_switch() -> None:
    def grave(job: Job, step: float) -> Job:
        settings = but(FINE, safety_step=step)
        return but(job, settings=settings, faults=(HORN, but(job.faults[1], severity="dangerous", importance=1)))

    def gained(step: float) -> Margin | None:
        return moved(grave(with_lamps(0.6, 0.5), step), now=grave(with_lamps(0.6, 0.605), step)).margin

    assert gained(0.005) is None
    within_a_step = gained(0.2)
    assert within_a_step is not None
    assert (within_a_step.unit, within_a_step.small) == ("fixes", True)


@pytest.mark.parametrize("minor", [1000, 1800])
def test_what_cannot_be_kept_to_any_more_has_no_margin(minor: int) -> None:
    told = moved(BASE, spend(minor))
    assert told.moved
    assert told.margin is None


def test_nothing_moved_has_no_margin() -> None:
    assert moved(BASE, note()).margin is None


def test_with_routes_keeping_to_the_last_plan_leaves_what_follows_open() -> None:
    """Without the check the wire is tried and the motor is out of reach; looking first mends half a fix more."""
    blind = but(CHECKED, faults=(but(BLOWER, checks=()),))
    pick = choose.chosen(CHECKED, None, lambda _: None)
    gained = margin(pick, choose.chosen(blind, None, lambda _: None).selection)
    assert gained is not None
    assert (gained.unit, gained.better) == ("fixes", pytest.approx(0.5))
    assert margin(pick, pick.selection) is None
