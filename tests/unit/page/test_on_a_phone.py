"""What somebody needs at the vehicle with one finger: cautions in the step, nothing that can be tapped in vain."""

from __future__ import annotations

import re
from collections.abc import Callable

from optimiser.page.live import Live
from tests.unit.page.serving_a_job import Browser
from tests.unit.page.test_taps import said

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
