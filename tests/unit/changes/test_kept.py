"""Plans as they are kept: read back whole, leniently where damaged or foreign; and which one is compared with."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from optimiser import entries, service
from optimiser.changes import Then, against, ask, last_seen, wanted
from optimiser.changes.difference import sums
from optimiser.changes.replan import listed
from optimiser.errors import CallError
from optimiser.ledger import Store, export
from optimiser.model.events import PlanMade
from optimiser.model.moves import Sums
from optimiser.show import as_json, change_words, steps, tonight_words
from optimiser.state import Moment, history
from tests.tiny_job import BASE, ROUTED, VARIANTS, planned, routed
from tests.unit.changes.stories import AT, PLENTY, kept, moment, moved, note, of, spend
from tests.unit.entries import shed

TEXT = history.kept(planned("base"), steps.kept(planned("base")), BASE)
FOREIGN = [
    "[]", "7", "null", '"plan"', "{}", '{"shown": 3}', '{"format": 1}', '{"shown": {}}',
    '{"shown": {}, "selection": 5}', '{"shown": {}, "selection": {"routes": [{"fault": 1}]}}',
    '{"kept": 99, "shown": {"faults": 7, "orders": {"a": 1}}}', '{"kept": 2, "steps": 3}', '{"steps": []}',
    '{"steps": [7, {}, {"number": true, "kind": "check"}, {"number": 0, "kind": "check"}, {"number": 1, "kind": "x"}]}',
    '{"steps": [], "selection": 5, "job": 3, "shares": 1, "numbering": [], "sums": "x", "currency": []}',
]  # fmt: skip


def made(text: str, number: int = 1, after: int = 0) -> PlanMade:
    return PlanMade(number=number, at=AT, after=after, text=text)


def with_plans(now: Moment, plans: Sequence[PlanMade]) -> Moment:
    return replace(now, plans=history.Plans(plans))


def without(*keys: str, **changed: Any) -> str:
    document = {key: value for key, value in json.loads(TEXT).items() if key not in keys}
    return json.dumps(document | changed)


@pytest.mark.parametrize("variant", VARIANTS)
def test_a_plan_reads_back_as_it_was_kept(variant: str) -> None:
    plan = planned(variant)
    back = history.read(history.kept(plan, steps.kept(plan), plan.job))
    assert back is not None
    assert (back.selection, back.job) == (plan.selection, plan.job)
    assert tuple(back.plain_steps.values()) == tuple(sorted(steps.kept(plan), key=lambda step: step.number))
    assert back.sums == sums(plan)
    shares = {c.fault.id: (c.landed_minor, c.most_minor) for c in plan.choices if c.route is not None}
    assert {name: (share.landed_minor, share.most_minor) for name, share in back.shares.items()} == shares


@pytest.mark.parametrize("variant", ROUTED)
def test_every_step_is_found_by_its_number(variant: str) -> None:
    plan = routed(variant)
    back = history.read(history.kept(plan, steps.kept(plan)))
    assert back is not None
    assert back.job is None
    checks = {(s.fault, s.id) for s in back.steps.values() if s.kind == "check"}
    assert checks == {(route.fault, step.check) for route in plan.selection.routes for step in route.checks}
    for step in back.steps.values():
        assert step.kind == "check" or (step.fault == "") == (step.kind == "order")
        assert all(piece.asked is None or piece.asked.part == piece.part for piece in step.pieces)
    lines = [piece for step in back.steps.values() if step.kind == "order" for piece in step.pieces]
    assert {(piece.quote, piece.packs) for piece in lines} == set(plan.selection.packs.items())
    assert list(back.steps) == list(range(1, len(back.steps) + 1))


@pytest.mark.parametrize("text", FOREIGN)
def test_what_cannot_be_made_out_is_no_plan_to_compare_with(text: str) -> None:
    now = moment(BASE, note())
    back = history.read(text)
    assert back is None or (back.selection is None and back.steps == {})
    now = with_plans(now, [made(text)])
    assert last_seen(now) is None
    with pytest.raises(CallError, match="no earlier plan that can be compared"):
        wanted(None, now)
    with pytest.raises(CallError, match="cannot be made out"):
        wanted(1, now)


def test_text_that_is_no_json_is_no_plan() -> None:
    assert history.read("{") is None
    assert history.read("[" * 100_000) is None


def test_a_later_format_with_more_in_it_still_compares() -> None:
    now = moment(BASE, spend(1000))
    then = Then.of(made(without(kept=9, more={"a": 1})), history.read(without(kept=9, more={"a": 1})), now)
    assert then is not None
    told = against(then, now, service.drawn_up, PLENTY, lambda _: None)
    assert of(told, "horn").moved


def test_a_plan_without_its_folder_is_compared_by_the_record_alone() -> None:
    text = without("job", "shares")
    now = moment(BASE, spend(1000))
    then = Then.of(made(text), history.read(text), now)
    assert then is not None
    told = against(then, now, service.drawn_up, PLENTY, lambda _: None)
    assert not told.folder_known
    assert (of(told, "horn").before.landed_minor, of(told, "horn").freed_minor) == (None, None)
    said = " ".join(change_words.long(told))
    assert "Plan 1 does not say what the folder held then: only the record was searched for causes." in said


def test_sums_that_cannot_be_made_out_are_not_told() -> None:
    for changed in ({"currency": "EUR"}, {"sums": None}, {"sums": {"fixes": "many"}}, {"currency": 7}):
        text = without(**changed)
        now = moment(BASE, spend(1000))
        then = Then.of(made(text), history.read(text), now)
        assert then is not None
        told = against(then, now, service.drawn_up, PLENTY, lambda _: None)
        assert told.before is None
        assert next(line for line in change_words.long(told) if line.startswith("Fixes: 1.32 expected."))


def test_a_folder_too_large_is_left_out_and_a_plan_too_large_keeps_what_was_shown(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    plan = planned("base")
    monkeypatch.setattr(history, "MOST_JOB_SIGNS", 10)
    back = history.read(history.kept(plan, steps.kept(plan), BASE))
    assert back is not None
    assert (back.job, back.selection) == (None, plan.selection)
    monkeypatch.setattr(history, "MOST_PLAN_SIGNS", 10)
    back = history.read(history.kept(plan, steps.kept(plan), BASE))
    assert back is not None
    assert back.selection is None
    assert tuple(back.steps.values()) == tuple(sorted(steps.kept(plan), key=lambda step: step.number))


def sentences(found: object) -> list[str]:
    if isinstance(found, dict):
        return [said for value in found.values() for said in sentences(value)]
    if isinstance(found, list):
        return [said for value in found for said in sentences(value)]
    return [found] if isinstance(found, str) and " " in found else []


def test_what_is_kept_is_no_sentence_of_ours() -> None:
    """The words of the job itself apart: a sentence put in better words must not make a plan another one."""
    plan = planned("base")
    document = json.loads(history.kept(plan, steps.kept(plan)))
    shown = json.dumps(as_json.plan(plan))
    assert "shown" not in document
    assert [said for said in sentences(document) if said in shown and "chance" in said] == []
    assert not {"why", "cautions", "reason"} & set(document)
    assert sentences({key: value for key, value in document.items() if key != "selection"}) == []


KEPT_AS_SHOWN = Path(__file__).with_name("kept_as_shown.jsonl")
"""An export of a folder from before plans were kept as data: the invented job of ``entries/shed.py``, planned, what
was found written down, planned again."""


def test_a_plan_kept_as_people_are_shown_it_is_still_read(tmp_path: Path) -> None:
    folder = shed.write(tmp_path / "burdock")
    Store(folder).fill(export.read(KEPT_AS_SHOWN))
    now = service.moment(folder, shed.TODAY)
    first, second = (now.plans.kept(plan) for plan in now.plans.made)
    assert first is not None
    assert second is not None
    assert {n: (s.kind, s.fault, s.id) for n, s in first.steps.items()} == {
        1: ("attempt", "clutch", "shoes"),
        2: ("check", "feeder", "feed"),
        3: ("attempt", "feeder", "relay"),
        4: ("attempt", "feeder", "motor"),
        5: ("attempt", "feeder", "motor"),
        6: ("attempt", "horn", "horn"),
        7: ("order", "", ""),
    }
    (piece,) = first.steps[7].pieces
    assert (piece.part, piece.supplier, piece.units, piece.packs, piece.price_minor) == ("shoe", "cole", 2, 1, 900)
    assert first.steps[4].pieces[0].asked is not None
    assert first.steps[4].pieces[0].asked.deposit_minor == 1000
    assert first.sums == Sums(remaining_minor=35_000, unspent_minor=3_800, fixes=first.sums.fixes)
    assert (set(second.steps), second.numbering) == ({1, 3, 6, 7, 8}, now.plans.numbering)
    told = service.moved(now, 1)
    assert of(told, "feeder").turn == "as-foreseen"
    assert told.before is not None
    (bought,) = entries.bought(shed.desk(folder, "bought"), ["8"])
    assert (bought.part, bought.price_minor) == ("relay", 1200)


# ---- which plan


def test_the_last_plan_that_knew_less_is_compared_with_unless_a_number_is_named() -> None:
    now = moment(BASE, note(), spend(1000), note())
    plans = [kept(BASE, now, after, number).made for number, after in enumerate((0, 1, 2, 3), start=1)]
    now = with_plans(now, plans)
    assert last_seen(now).made.number == 4
    assert wanted(None, now).made.number == 2, "notes tell a plan nothing"
    assert wanted(3, now).made.number == 3
    assert wanted(None, with_plans(now, plans[2:])).made.number == 4, "all know as much"
    with pytest.raises(CallError, match=r"keeps no plan 9\. It keeps 1 \(2026-11-24 19:00 UTC, after entry 0\), 2 "):
        wanted(9, now)
    with pytest.raises(CallError, match="None is kept yet: optimiser plan makes one"):
        wanted(None, with_plans(now, []))


def test_a_plan_that_cannot_be_made_out_is_passed_over() -> None:
    now = moment(BASE, spend(1000))
    plans = [kept(BASE, now).made, made("{}", number=2, after=1)]
    now = with_plans(now, plans)
    assert last_seen(now).made.number == 1
    assert wanted(None, now).made.number == 1


def test_a_long_list_of_plans_names_the_last_ones() -> None:
    plans = [made("{}", number) for number in range(1, 31)]
    assert listed(plans).startswith("It keeps 30, the last of them 21 (")
    assert listed([]) == "None is kept yet: optimiser plan makes one."


def test_without_an_earlier_plan_there_is_a_plan_and_no_moves() -> None:
    now = moment(BASE, note())
    asked = ask(None, now, service.drawn_up, 0, lambda _: None)
    assert asked.moves is None
    assert asked.plan.selection == planned("base").selection
    assert [change_words.left(asked.plan), tonight_words.next_step(asked.plan)] == [
        "20.00 GBP to spend; the plan takes 11.50 at most, 8.50 stays over.",
        "Next: 2. lamp: clean (10 min).",
    ]


def test_a_strike_of_what_the_plan_did_not_know_moves_nothing() -> None:
    told = moved(BASE, note(), note())
    assert next(iter(change_words.short(told))) == "The plan stays as it was."


def test_an_overdrawn_pot_is_said_to_be_overdrawn() -> None:
    """Nothing stays over of money that is not there."""
    now = moment(BASE, spend(2555))
    plan = ask(None, now, service.drawn_up, 0, lambda _: None).plan
    over = change_words.left(plan)
    assert over == f"Nothing to spend: the pot is overdrawn by {-plan.purse.remaining_minor / 100:.2f} GBP."
