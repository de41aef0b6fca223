"""What if: planned on a copy, and nothing is written."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from optimiser import service, supposing
from optimiser.page.live import Live
from optimiser.show import compare_words
from tests.unit.page.serving_a_job import TODAY, Browser
from tests.unit.page.test_taps import said

Planning = tuple[Live, Callable[[], Browser]]


def worked_out(live: Live, browser: Browser, path: str) -> str:
    """The page once the what-if is worked out."""
    browser.get(path)
    until = time.monotonic() + 60
    while any(one.is_open for one in live.supposed()):
        assert time.monotonic() < until
        time.sleep(0.02)
    return said(browser.get(path))


def everything_in(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_another_pot_moves_a_plan_that_nobody_keeps(planning: Planning) -> None:
    live, new = planning
    browser, before = new(), everything_in(live.folder)
    cap = live.now().job.pot.cap_minor
    page = worked_out(live, browser, f"/whatif?pot={(cap - 12000) / 100:.2f}")
    assert "How the plan would move" in page
    assert "With 70.00 GBP to spend" in page
    assert everything_in(live.folder) == before
    again = worked_out(live, browser, "/whatif")
    assert "With 70.00 GBP to spend" in again


def test_a_pot_below_what_is_gone_is_said_to_be_overdrawn(planning: Planning) -> None:
    live, new = planning
    browser = new()
    assert "overdrawn" not in worked_out(live, browser, "/whatif?pot=900")
    assert "The pot is overdrawn by" in worked_out(live, browser, "/whatif?pot=1.00")


def test_a_price_and_a_chance(planning: Planning) -> None:
    live, new = planning
    browser, before = new(), everything_in(live.folder)
    job = live.now().job
    quote = next(one for one in job.quotes if one.supplier)
    fault = next(one for one in job.faults if any(repair.chance is not None for repair in one.repairs))
    repair = next(one for one in fault.repairs if one.chance is not None)
    assert "at 999.00 GBP" in worked_out(live, browser, f"/whatif?quote={quote.id}&price=999")
    page = worked_out(live, browser, f"/whatif?fault={fault.id}&repair={repair.id}&chance=0,05")
    assert f"{fault.id}: {repair.id} with a chance of 5%" in page
    assert everything_in(live.folder) == before


def test_what_was_asked_of_another_moment_is_asked_again(planning: Planning) -> None:
    live, new = planning
    browser = new()
    worked_out(live, browser, "/whatif?pot=900")
    browser.post("/write/spent", word=["1.00", "cloths"])
    assert "A pot of 900.00 GBP" not in said(browser.get("/whatif"))
    assert "A pot of 900.00 GBP" in worked_out(live, browser, "/whatif?pot=900")


def test_what_cannot_be_supposed_is_said(planning: Planning) -> None:
    live, new = planning
    for query in (
        "pot=x", "pot=-1", "quote=nothing&price=1", "fault=cushions&repair=x&chance=0.5",
        "fault=x&repair=x&chance=2", "repair=x&chance=x",
    ):  # fmt: skip
        answer = new().client.get(f"/whatif?{query}")
        assert answer.status_code == 400, query
        assert 'class="warn"' in answer.text
    assert live.supposed() == ()


def test_the_service_supposes_on_a_copy(looking: Path) -> None:
    now = service.moment(looking, TODAY)
    quote = next(one for one in now.job.quotes if one.supplier)
    dearer = supposing.with_price(now, quote.id, quote.price_minor + 500, datetime(2026, 11, 29, tzinfo=UTC))
    assert next(one for one in dearer.job.quotes if one.id == quote.id).price_minor == quote.price_minor + 500
    assert supposing.with_price(now, quote.id, quote.price_minor, datetime.now(UTC)) is now
    assert now.with_pot(99_900).job.pot.cap_minor == 99_900
    assert next(one for one in now.job.quotes if one.id == quote.id) == quote
    assert now.with_pot(now.job.pot.committed_minor - 1).job.pot.remaining_minor < 0


def test_fields_of_a_fault_are_shown(planning: Planning) -> None:
    page = new_page = planning[1]().get("/whatif?fault=charging")
    assert "Quote" in said(page)
    assert 'name="price"' in new_page


def test_while_nobody_asks_it_works_out_what_other_pots_would_bring(planning: Planning) -> None:
    live, new = planning
    browser = new()
    assert "What more money would do" in browser.get("/plan")
    shown = browser.rested()
    number = shown.number
    plan, whatif = said(browser.get("/plan")), said(browser.get("/whatif"))
    assert "being worked out" not in plan
    for page in (plan, whatif):
        assert "Fixes, weighted by importance, by the money for parts" in page
        assert "that are left for parts now" in page
    assert browser.post("/write/noted", word="a word").status_code == 303
    browser.planned()
    kept = live.standing().shown
    assert kept is not None
    assert kept.report.stretch is shown.report.stretch
    assert kept.number == number + 1


def test_where_a_choice_would_change(planning: Planning) -> None:
    live, new = planning
    browser, before = new(), everything_in(live.folder)
    known = {fault.id: service.compare(live.now().job, fault.id) for fault in live.now().job.faults}
    for name, comparison in known.items():
        assert "Its chance, with the parts it takes" not in said(browser.get(f"/whatif?fault={name}"))
        page = worked_out(live, browser, f"/whatif?fault={name}&points=1")
        assert f"Where the choice would change: {comparison.fault.title}" in page
        taken = [row for row in comparison.rows if comparison.plan.takes(row.option)]
        expected = compare_words.switch(comparison.plan.job, taken[0]) if taken else ["no chance of one option alone"]
        for line in expected:
            assert line in page
        points = taken[0].switch if taken else None
        told = browser.get(f"/whatif?fault={name}")
        assert ("Its price, bought alone, from 0.00 to " in told) == (points is not None)
        assert ("Its chance, with the parts it takes, from 0% to 100%: now" in told) == (points is not None)
    assert everything_in(live.folder) == before
    assert browser.get("/whatif?fault=nowhere&points=1", 400)
