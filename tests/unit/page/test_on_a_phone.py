"""What somebody needs at the vehicle with one finger: cautions in the step, nothing that can be tapped in vain."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from optimiser import money, patterns, starting
from optimiser.page.live import Live
from tests.unit.page.serving_a_job import TODAY, Browser, served
from tests.unit.page.test_taps import said

NEW_JOB = starting.NewJob("Boat", money.Currency("GBP", 2), 90_000, 45_000)
Planning = tuple[Live, Callable[[], Browser]]


def test_cautions_stand_in_the_step_that_needs_them_before_its_buttons(planning: Planning) -> None:
    live, new = planning
    assert live.shown is not None
    page = new().get("/")
    told = live.shown.report.tonight.cautions
    assert told
    assert page.index('class="doing"') < page.index('class="caution"')
    step = next(one for one in page.split("<li>") if 'class="caution"' in one)
    assert step.index('class="caution"') < step.index("<button")
    for sentences in told.values():
        assert all(sentence in said(page) for sentence in sentences)
    first = re.findall(r'<details class="caution"( open)?>', page)
    assert first.count(" open") == len(told)


def test_the_plan_has_no_box_whose_tick_would_be_lost(planning: Planning) -> None:
    _, new = planning
    assert 'type="checkbox"' not in new().get("/plan")


def test_a_price_that_is_still_rough_can_be_asked_for_and_bought_with_the_part_filled_in(tmp_path: Path) -> None:
    fault = starting.patterns()["seat-torn"]
    starting.begin(tmp_path / "job", NEW_JOB, [patterns.said(fault.id, {fault.id: fault}).wanted(fault)], TODAY)
    live, new = served(tmp_path / "job")
    browser = new()
    browser.planned()
    page = browser.get("/")
    live.stop()
    assert "quotes.csv" not in said(page)
    for address in ("/sheets/told", "/write/bought"):
        form = re.search(rf'<form method="post" action="{address}".*?</form>', page, re.DOTALL)
        assert form is not None
        assert "seat-cover" in form[0]
