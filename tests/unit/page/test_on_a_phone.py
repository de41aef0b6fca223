"""What somebody needs at the vehicle with one finger: cautions in the step, nothing that can be tapped in vain."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from html import unescape
from pathlib import Path

import pytest

from optimiser import money, patterns, starting
from optimiser.page.live import Live
from tests.unit.page.conftest import EXAMPLES
from tests.unit.page.serving_a_job import TODAY, Browser, numbers, served
from tests.unit.page.test_taps import buttons, said

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


def choices(page: str, form: str, name: str) -> list[str]:
    """What a list to choose from offers in the first form of a part of the page that has it."""
    part = page[page.index(f'id="{form}"') :]
    found = re.search(rf'<select name="{name}"[^>]*>(.*?)</select>', part, re.DOTALL)
    assert found is not None
    return [unescape(value) for value in re.findall(r'value="([^"]+)"', found[1])]


@pytest.mark.parametrize(
    ("form", "name", "also"),
    [
        ("found", "words", {}),
        ("seen", "words", {}),
        ("fitted", "words", {"word": "cured"}),
        ("left", "word", {}),
        ("spent", "fault", {"word": ["4", "grease"]}),
        ("noted", "fault", {"word": "green lead is earth"}),
        ("odds", "words", {"word": "3"}),
    ],
)
def test_whatever_is_written_down_is_chosen_from_a_list(
    planning: Planning, form: str, name: str, also: dict[str, str | list[str]]
) -> None:
    live, new = planning
    browser = new()
    verb = {"seen": "found", "back": "found", "odds": "corrected"}.get(form, form)
    offered = choices(browser.get("/write"), form, name)
    assert offered
    for choice in offered:
        sent = [(key, text) for key, texts in also.items() for text in ([texts] if isinstance(texts, str) else texts)]
        fields = browser.fields(browser.get("/write")) | {name: choice}
        for key, _ in sent:
            fields[key] = [*([choice] if key == name else []), *(text for other, text in sent if other == key)]  # type: ignore[assignment]
        answer = browser.send(f"/write/{verb}", fields)
        assert answer.status_code == 303 or "Nothing is written yet" in answer.text, (choice, said(answer.text))
        if answer.status_code == 303 and numbers(live):
            browser.post("/strike", entry=str(numbers(live)[-1]))


def test_parts_and_shops_are_chosen_from_a_list(planning: Planning) -> None:
    live, new = planning
    page = new().get("/write")
    for form in ("bought", "refunded", "returned", "price"):
        assert set(choices(page, form, "word")) >= live.now().job.titles_of_parts.keys()
    assert set(choices(page, "price", "from")) >= {one.id for one in live.now().job.suppliers}


def test_the_other_result_of_a_look_says_what_was_not_seen(tmp_path: Path) -> None:
    live, new = served(Path(shutil.copytree(EXAMPLES / "marigold", tmp_path / "job")))
    browser = new()
    browser.planned()
    labels = [label for _, _, label in buttons(browser.get("/"))]
    live.stop()
    assert "Not: sinks" in labels
    assert "If not" not in labels
