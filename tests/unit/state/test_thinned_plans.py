"""Old plans in a shorter form: what is still asked of them stays, and none is taken for a whole one."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from optimiser.bookkeeping import export, save, take_back
from optimiser.changes import Then
from optimiser.ledger import Store
from optimiser.model.events import PlanMade
from optimiser.show import steps
from optimiser.state import history
from optimiser.state.history import MOST_LOOKED_UP, MOST_WHOLE, SHORTER, without_mix, without_steps
from tests.tiny_job import BASE, ROUTED, planned, routed
from tests.unit.changes.stories import AT, moment

TEXT = history.kept(planned("base"), steps.kept(planned("base")), BASE)


def read(text: str) -> history.KeptPlan:
    back = history.read(text)
    assert back is not None
    return back


@pytest.mark.parametrize("variant", ROUTED)
def test_the_steps_stay_with_the_quotes_they_ask_for(variant: str) -> None:
    plan = steps.carried_on(routed(variant), {"check gone/away": 1})
    text = history.kept(plan, steps.kept(plan), plan.job)
    whole, thin = read(text), read(without_mix(text))
    assert (thin.thinned, whole.thinned) == (True, False)
    assert (thin.steps, thin.numbering) == (whole.steps, whole.numbering)
    assert (thin.currency, thin.sums) == (whole.currency, whole.sums)
    assert (thin.selection, thin.job, thin.shares) == (None, None, {})
    assert len(without_mix(text)) < len(text) / 2


def test_a_step_of_a_thinned_plan_asks_for_the_quote_as_it_was() -> None:
    asked = [piece.asked for step in read(without_mix(TEXT)).steps.values() for piece in step.pieces]
    assert asked
    assert {quote.id: quote for quote in asked if quote} == {q.id: q for q in BASE.quotes if q in asked}


def test_of_an_older_one_the_numbers_and_figures_stay() -> None:
    whole, bare = read(TEXT), read(without_steps(TEXT))
    assert (bare.thinned, bare.steps, bare.selection) == (True, {}, None)
    assert (bare.numbering, bare.currency, bare.sums) == (whole.numbering, whole.currency, whole.sums)


@pytest.mark.parametrize("shorter", [without_mix, without_steps])
def test_a_thinned_plan_is_no_plan_to_compare_with(shorter: Callable[[str], str]) -> None:
    text = shorter(TEXT)
    made = PlanMade(number=1, at=AT, after=0, text=text)
    assert Then.of(made, read(text), moment(BASE)) is None
    assert shorter(text) == text
    assert without_steps(text) == without_steps(TEXT)


@pytest.mark.parametrize(
    "text",
    ['"words"', "{}", '{"steps": []}', '{"steps":[],"x":"\\ud800"}', '{"steps":["\\ud800"],"pad":"' + 99 * "x" + '"}',
     '{"steps":[NaN],"pad":"' + 99 * "x" + '"}', '{"kept": 9, "more": ' + 99 * "[" + 99 * "]" + "}"],
)  # fmt: skip
def test_what_cannot_be_made_out_or_written_shorter_stays_as_it_is(text: str) -> None:
    assert without_mix(text) == text


def test_a_plan_of_the_first_format_is_thinned_too() -> None:
    line = {"step": 2, "part": "lamp", "packs": 1, "condition": "new", "quote": "q:1", "price": "3.00"}
    shown = {
        "job": {"currency": "GBP", "padding": "x" * 500},
        "money": {"remaining": "20.00", "unspent": "1.50"},
        "expected_count": 1.5,
        "faults": [{"id": "horn", "step": 1, "repair": "swap", "parts": []}],
        "orders": [{"supplier": "alder", "lines": [line]}],
    }
    text = json.dumps({"format": 1, "shown": shown, "numbering": {"attempt horn/swap": 1}})
    whole, thin = read(text), read(without_mix(text))
    assert len(thin.steps) == 2
    assert (thin.steps, thin.numbering, thin.sums) == (whole.steps, whole.numbering, whole.sums)


def many(folder: Path, count: int) -> Store:
    store = Store(folder)
    for _ in range(count):
        store.add_plan(AT, TEXT, None, SHORTER)
    return store


def test_the_newest_are_whole_and_the_rest_is_small(tmp_path: Path) -> None:
    count = MOST_LOOKED_UP + 7
    plans = many(tmp_path, count).plans()
    assert [plan.number for plan in plans] == list(range(1, count + 1))
    assert {(plan.at, plan.after) for plan in plans} == {(AT, 0)}
    assert [plan.text for plan in plans[-MOST_WHOLE:]] == [TEXT] * MOST_WHOLE
    assert {plan.text for plan in plans[-MOST_LOOKED_UP:-MOST_WHOLE]} == {without_mix(TEXT)}
    assert {plan.text for plan in plans[:-MOST_LOOKED_UP]} == {without_steps(TEXT)}
    assert history.Plans(plans).numbering == read(TEXT).numbering


def test_thinned_plans_go_out_and_in_again_as_they_are(tmp_path: Path) -> None:
    here, there = tmp_path / "here", tmp_path / "there"
    there.mkdir()
    here.mkdir()
    plans = many(here, MOST_LOOKED_UP + 3).plans()
    export(here, tmp_path / "first.jsonl")
    take_back(there, tmp_path / "first.jsonl")
    export(there, tmp_path / "second.jsonl")
    assert (tmp_path / "first.jsonl").read_bytes() == (tmp_path / "second.jsonl").read_bytes()
    assert Store(there).plans() == plans


def test_a_damaged_record_gives_thinned_plans_back_as_they_are(tmp_path: Path) -> None:
    store = many(tmp_path, MOST_WHOLE + 5)
    plans = store.plans()
    data = bytearray(store.path.read_bytes())
    place = data.rindex(TEXT[:40].encode())  # the text of one whole plan
    data[place] ^= 1
    store.path.write_bytes(data)
    saved = save(tmp_path, tmp_path / "saved.jsonl", AT)
    assert saved is not None
    assert saved.plans == len(plans) - 1
    there = tmp_path / "there"
    there.mkdir()
    texts = [plan.text for plan in take_back(there, tmp_path / "saved.jsonl").plans]
    assert sorted(texts) == sorted(plan.text for plan in plans[:-1])
    store = Store(there)
    store.add_plan(AT, TEXT, None, SHORTER)
    assert len(store.plans()) == len(plans)
