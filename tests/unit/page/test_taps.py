"""Taps into the record: written before they are answered, once, and only where the page knew all that stands there."""

from __future__ import annotations

import json
import re
import sqlite3
import threading
from collections.abc import Callable
from html import unescape
from pathlib import Path

import pytest

from optimiser import cli, service, starting
from optimiser.errors import CallError
from optimiser.ledger import Store
from optimiser.model import events as h
from optimiser.model.job import Severity
from optimiser.page import live as page_live
from optimiser.page.live import Live
from tests.unit.page.serving_a_job import TODAY, Browser, numbers, served

Planning = tuple[Live, Callable[[], Browser]]


def said(page: str) -> str:
    """The words of a page."""
    body = re.sub(r"(?s)<(script|style|head).*?</\1>", " ", page)
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", body)).split())


def buttons(page: str) -> list[tuple[str, list[str], str]]:
    """Every button of a step: where it sends, its words, its label."""
    found = re.findall(r'<form method="post" action="(/write/\w+)">(.*?)<button[^>]*>(.*?)</button>', page, re.DOTALL)
    return [(path, re.findall(r'name="word" value="([^"]*)"', inner), label) for path, inner, label in found]


def test_a_result_is_one_tap_and_the_plan_moves(planning: Planning) -> None:
    live, new = planning
    browser = new()
    page = browser.get("/")
    path, words, label = next(one for one in buttons(page) if one[0] == "/write/found")
    assert label == "Rise"
    answer = browser.send(path, browser.fields(page) | {"word": words})
    assert answer.status_code == 303
    assert answer.headers["location"] == "/?written=1"
    assert [type(e.happening) for e in live.now().record] == [h.CheckMade]
    after = said(browser.get("/?written=1"))
    assert "Entry 1: Battery does not charge under way" in after
    assert "Undo" in after
    browser.planned()
    moved = said(browser.get("/?written=1"))
    assert "How the plan moved" in moved
    assert "entry 1" in moved
    assert "This plan is old" not in moved


def test_while_it_is_thought_over_the_last_plan_stays_and_says_that_it_is_old(
    planning: Planning, monkeypatch: pytest.MonkeyPatch
) -> None:
    live, new = planning
    browser = new()
    held = threading.Event()
    plan = live._plan_again
    monkeypatch.setattr(live, "_plan_again", lambda: held.wait(20) and plan())
    page = browser.get("/")
    path, words, _ = next(one for one in buttons(page) if one[0] == "/write/found")
    browser.send(path, browser.fields(page) | {"word": words})
    after = browser.get("/?written=1")
    assert "This plan is old: it does not know entry 1." in said(after)
    assert "Battery does not charge under way" in said(after)
    assert '<noscript><meta http-equiv="refresh"' in after
    held.set()
    browser.planned()
    assert "http-equiv" not in browser.get("/?written=1")


def test_every_button_says_what_the_command_line_would_be_told(planning: Planning) -> None:
    _, new = planning
    found = buttons(new().get("/"))
    assert {path for path, _, _ in found} == {"/write/found", "/write/fitted", "/write/bought"}
    assert {label for _, _, label in found} >= {"Rise", "Stay", "Cured", "Not cured", "Bought"}


def steps_of(live: Live, kind: str) -> list[int]:
    seen = live.now().plans.seen
    assert seen is not None
    return [number for number, step in seen.steps.items() if step.kind == kind]


def test_a_step_is_written_down_by_its_number(planning: Planning) -> None:
    live, new = planning
    browser = new()
    page = browser.get("/write")
    shown = re.findall(r'name="plan" value="([^"]*)"', page)
    assert set(shown) == {"1"}
    assert len(shown) == page.count('name="step"') == 6
    (look,), orders = steps_of(live, "check"), steps_of(live, "order")
    kept = live.now().plans.seen
    assert kept is not None
    looked_at = f"{kept.steps[look].fault} {kept.steps[look].id}"
    assert f'<span class="step">{look}</span>' in browser.get("/")
    sent = [
        ("found", {"step": str(look), "plan": "1", "words": "rise"}, h.CheckMade),
        ("bought", {"word": "", "step": f" {orders[0]}, ", "plan": "1"}, h.Purchase),
        ("corrected", {"step": str(orders[1]), "plan": "1", "word": "3.33"}, h.PriceCorrected),
        ("refunded", {"step": str(orders[0]), "plan": "1", "word": "0.50"}, h.Refund),
        ("returned", {"word": "", "step": str(orders[0]), "plan": "1"}, h.SentBack),
    ]
    for verb, fields, kind in sent:
        answer = browser.post(f"/write/{verb}", **fields)
        assert answer.status_code == 303, said(answer.text)
        assert isinstance(live.now().record[-1].happening, kind)
    found = live.now().record[0].happening
    assert isinstance(found, h.CheckMade)
    assert f"{found.fault} {found.check}" == looked_at


def test_what_is_fitted_by_its_number_is_that_of_the_command_line(planning: Planning) -> None:
    live, new = planning
    number = next(n for n in steps_of(live, "attempt") if not live.now().plans.seen.steps[n].pieces)  # type: ignore[union-attr]
    answer = new().post("/write/fitted", step=str(number), plan="1", word="cured")
    assert answer.status_code == 303, said(answer.text)
    by_page = live.now().record[-1].happening
    assert cli.main(["strike", str(live.folder), "--json"]) == 0
    assert cli.main(["fitted", str(live.folder), str(number), "cured", "--json"]) == 0
    assert live.now().record[-1].happening.model_copy(update={"at": by_page.at}) == by_page


def test_a_number_means_the_step_of_the_plan_that_was_shown(planning: Planning) -> None:
    """Nothing is written by the number of a plan that was not kept, of two steps, or of none."""
    live, new = planning
    browser, number = new(), steps_of(live, "attempt")[0]
    refused = [
        ({"step": str(number)}, "may come to mean others"),
        ({"step": str(number), "plan": "2"}, "may come to mean others"),
        ({"step": "rise", "plan": "1"}, "is no number of a step"),
        ({"step": "-1", "plan": "1"}, "is no number of a step"),
        ({"step": "\u0664", "plan": "1"}, "is no number of a step"),
        ({"step": "999", "plan": "1"}, "There is no step 999"),
        ({"step": str(number), "plan": "1", "words": "charging regulator"}, "A number and a name are given"),
    ]
    for fields, found in refused:
        answer = browser.post("/write/fitted", **fields, word="cured")
        assert answer.status_code == 422, fields
        assert found in said(answer.text)
    assert numbers(live) == []


def test_a_plan_that_is_not_kept_offers_no_numbers(planning: Planning, monkeypatch: pytest.MonkeyPatch) -> None:
    live, new = planning
    browser = new()

    def full(*_: object) -> None:
        raise CallError("The disk is full.", "Make room.")

    with monkeypatch.context() as broken:
        broken.setattr(service, "keep", full)
        browser.post("/write/spent", word=["1.00", "cloths"])
        browser.planned()
    page = browser.get("/write")
    assert "This plan was not kept" in said(page)
    assert 'name="step"' not in page
    number = str(steps_of(live, "attempt")[0])
    assert browser.post("/write/fitted", step=number, plan="2", word="cured").status_code == 422
    browser.post("/write/spent", word=["2.00", "cloths"])
    browser.planned()
    assert 'name="step"' in browser.get("/write")
    answer = browser.post("/write/fitted", step=number, plan="2", word="cured")
    assert "may come to mean others" in said(answer.text)
    assert numbers(live) == [1, 2]


def test_a_number_that_two_plans_of_one_moment_gave_is_refused_with_both(planning: Planning) -> None:
    live, new = planning
    known, number = live.now(), steps_of(live, "attempt")[0]
    assert known.plans.last is not None
    other = json.loads(known.plans.last.text)
    key = next(key for key, given in other["numbering"].items() if given == number)
    other["numbering"][key.replace("attempt", "attempt another")] = other["numbering"].pop(key)
    Store(live.folder).add_plan(known.plans.last.at, json.dumps(other), known.known, {})
    answer = new().post("/write/fitted", step=str(number), plan="1", word="cured")
    assert answer.status_code == 422
    assert f"Step {number} was" in said(answer.text)
    assert "made in the same moment" in said(answer.text)
    assert numbers(live) == []


def test_a_number_that_is_the_name_of_a_fault_too_is_not_guessed_at(looking: Path) -> None:
    job = looking / "job.toml"
    job.write_text(job.read_text(encoding="utf-8") + '\n[[fault]]\nid = "1"\nseverity = "minor"\n', encoding="utf-8")
    live, new = served(looking)
    browser = new()
    browser.planned()
    answer = browser.post("/write/fitted", step="1", plan="1", word="cured")
    live.stop()
    assert answer.status_code == 422
    assert "something by the name of 1 too" in said(answer.text)


def test_what_failed_is_asked_about_before_it_is_written(planning: Planning) -> None:
    live, new = planning
    browser = new()
    bought = next(one for one in buttons(browser.get("/")) if one[0] == "/write/bought")
    assert browser.post("/write/bought", word=bought[1]).status_code == 303
    known = len(numbers(live))
    browser.planned()
    path, words, _ = next(
        one for one in buttons(browser.get("/")) if one[0] == "/write/fitted" and one[1][-1] == "not-cured"
        and any(line in browser.get("/") for line in ["Dangerous first"])
    )  # fmt: skip
    asked = browser.post(path, word=words)
    assert asked.status_code == 200
    assert "What became of the parts?" in asked.text
    assert len(numbers(live)) == known
    answer = browser.post(path, word=words, answer="sent back")
    assert answer.status_code == 303
    last = live.now().record[-1].happening
    assert isinstance(last, h.Fitting)
    assert {piece.then for piece in last.pieces} == {"sent-back"}


def test_a_page_that_is_outdated_writes_nothing_and_says_what_changed(quiet: tuple[Live, Browser]) -> None:
    live, browser = quiet
    old = browser.fields(browser.get("/write"))
    assert cli.main(["noted", str(live.folder), "from the command line"]) == 0
    answer = browser.send("/write/spent", old | {"word": ["5.00", "cloths"]})
    assert answer.status_code == 409
    assert "Entry 1: note: from the command line." in said(answer.text)
    assert "Not written yet" in said(answer.text)
    assert numbers(live) == [1]
    again = dict(re.findall(r'name="(token|known)" value="([^"]*)"', answer.text))
    assert re.findall(r'name="word" value="([^"]*)"', answer.text) == ["5.00", "cloths"]
    assert browser.send("/write/spent", again | {"word": ["5.00", "cloths"]}).status_code == 303
    assert numbers(live) == [1, 2]


def test_a_fault_is_given_up_by_name_and_taken_up_again_by_undo(quiet: tuple[Live, Browser]) -> None:
    live, browser = quiet
    fault = live.now().job.faults[-1].id
    answer = browser.post("/write/left", word=fault, text="no time for it")
    assert dict(live.now().job.left) == {fault: 1}
    page = said(browser.get(answer.headers["location"]))
    assert "left as it is: no time for it" in page
    browser.post("/strike", entry="1")
    assert dict(live.now().job.left) == {}


def test_two_taps_on_one_button_write_once(quiet: tuple[Live, Browser]) -> None:
    live, browser = quiet
    fields = browser.fields(browser.get("/write")) | {"word": ["5.00", "cloths"]}
    assert browser.send("/write/spent", fields).status_code == 303
    assert browser.send("/write/spent", fields).status_code == 409
    assert numbers(live) == [1]


def test_the_same_within_minutes_is_asked_about(quiet: tuple[Live, Browser]) -> None:
    live, browser = quiet
    browser.post("/write/spent", word=["5.00", "cloths"])
    asked = browser.post("/write/spent", word=["5.00", "cloths"])
    assert "says the same, written down minutes ago" in said(asked.text)
    assert numbers(live) == [1]
    left = browser.post("/write/spent", word=["5.00", "cloths"], answer="leave it, it is the same")
    assert left.status_code == 422
    assert browser.post("/write/spent", word=["5.00", "cloths"], answer="write it down once more").status_code == 303
    assert numbers(live) == [1, 2]


def test_an_answer_that_was_not_offered_counts_as_none(quiet: tuple[Live, Browser]) -> None:
    live, browser = quiet
    browser.post("/write/spent", word=["5.00", "cloths"])
    answer = browser.post("/write/spent", word=["5.00", "cloths"], answer="made up")
    assert answer.status_code == 303
    assert "Mind:" in browser.get(answer.headers["location"])
    assert numbers(live) == [1, 2]


def test_undo_strikes_what_was_just_written(quiet: tuple[Live, Browser]) -> None:
    live, browser = quiet
    browser.post("/write/spent", word=["5.00", "cloths"])
    answer = browser.post("/strike", page="/?written=1", entry="1")
    assert answer.headers["location"] == "/?written=2"
    assert live.now().record[0].struck_by == 2
    assert "entry 1 struck out" in said(browser.get("/?written=2"))
    assert "Undo" not in browser.get("/?written=2")
    gone = browser.post("/strike", entry="1")
    assert gone.status_code == 422
    assert "struck out already" in gone.text


def test_what_is_not_the_latest_is_struck_out_only_once_that_is_meant(quiet: tuple[Live, Browser]) -> None:
    """A page of yesterday that a phone opens again has its Undo still."""
    live, browser = quiet
    browser.post("/write/noted", word="one")
    browser.post("/write/noted", word="two")
    asked = browser.post("/strike", entry="1")
    assert "It is not the latest: an entry came after it" in asked.text
    assert browser.post("/strike", entry="1", answer="").status_code == 200
    assert browser.post("/strike", entry="1", answer="leave it").status_code == 303
    assert all(entry.stands for entry in live.now().record)
    assert browser.post("/strike", entry="1", answer="strike it out").status_code == 303
    assert [entry.stands for entry in live.now().record][:2] == [False, True]


def test_an_outdated_page_strikes_nothing(quiet: tuple[Live, Browser]) -> None:
    live, browser = quiet
    browser.post("/write/noted", word="one")
    old = browser.fields(browser.get("/diary"))
    browser.post("/write/noted", word="two")
    assert browser.send("/strike", old | {"entry": "1"}).status_code == 409
    assert all(entry.stands for entry in live.now().record)


@pytest.mark.parametrize(
    ("verb", "fields", "mend"),
    [
        ("found", {"word": ["parking"]}, "What was found on"),
        ("found", {"word": ["nothing", "rise"]}, "There is no fault"),
        ("spent", {"word": ["five", "cloths"]}, "is no amount"),
        ("spent", {"word": ["-5", "cloths"]}, "below zero"),
        ("bought", {"word": ["cable"], "price": "22 beads"}, "The price: '22 beads' is no amount."),
        ("bought", {"word": ["cable"], "packs": "0"}, "is no number of packs"),
        ("bought", {"word": ["cable"], "condition": "shiny"}, "is no condition"),
        ("fitted", {"word": ["99", "cured"]}, "no step numbers yet"),
        ("fitted", {"word": ["parking", "cured"], "then": "eaten"}, "is no then"),
        ("refunded", {"word": ["9999"]}, "can come back"),
        ("noted", {}, "remembered"),
        ("noted", {"word": "x" * 3000}, "cannot be written down"),
        ("begin", {"word": "x"}, "Nothing is written down by"),
        ("__init__", {}, "Nothing is written down by"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_written(
    quiet: tuple[Live, Browser], verb: str, fields: dict[str, object], mend: str
) -> None:
    live, browser = quiet
    answer = browser.post(f"/write/{verb}", **fields)
    assert answer.status_code in (200, 422), answer.text
    assert mend in unescape(answer.text) or "I don't know" in answer.text
    assert numbers(live) == []


def test_every_verb_writes(looking: Path) -> None:
    live, new = served(looking, start=False)
    browser, fault = new(), next(one for one in live.now().job.faults if one.id == "cushions")
    part = next(iter(live.now().job.titles_of_parts))
    sent = [
        ("found", {"word": ["new", "horn", "hoarse"], "severity": "minor"}),
        ("bought", {"word": part, "from": "a shed", "price": "3.50", "condition": "new", "postage": "0"}),
        ("returned", {"word": part}),
        ("refunded", {"word": [part, "3.50"], "text": "came back"}),
        ("spent", {"word": ["2", "grease"]}),
        ("noted", {"word": "hello", "fault": fault.id}),
        ("fitted", {"word": [fault.id, fault.repairs[0].id, "not-cured"], "cost": "1"}),
    ]
    for place, (verb, fields) in enumerate(sent, start=1):
        answer = browser.post(f"/write/{verb}", **fields)
        assert answer.status_code == 303, answer.text
        assert numbers(live)[-1] == place
    assert [entry.happening.source for entry in live.now().record] == [verb for verb, _ in sent]


def test_a_record_in_use_is_said(quiet: tuple[Live, Browser], monkeypatch: pytest.MonkeyPatch) -> None:
    live, browser = quiet
    browser.post("/write/noted", word="one")
    fields = browser.fields(browser.get("/write"))
    monkeypatch.setattr(Store, "wait_seconds", 0.1, raising=False)
    monkeypatch.setattr(Store.__init__, "__defaults__", (0.1,))
    with sqlite3.connect(live.folder / "record.sqlite", isolation_level=None) as other:
        other.execute("BEGIN IMMEDIATE")
        answer = browser.send("/write/noted", fields | {"word": "two"})
        other.execute("ROLLBACK")
    assert answer.status_code == 503
    assert "record.sqlite" in answer.text
    assert "try again" in answer.text.lower()
    assert numbers(live) == [1]
    assert browser.send("/write/noted", fields | {"word": "two"}).status_code == 303


def test_a_job_that_breaks_meanwhile_is_said_and_the_plan_stays(planning: Planning) -> None:
    live, new = planning
    browser = new()
    job = live.folder / "job.toml"
    text = job.read_text(encoding="utf-8")
    job.write_text(text + "\n[[fault]]\nseverity = 3\n", encoding="utf-8")
    page = said(browser.get("/"))
    assert "No new plan can be made" in page
    assert "Battery does not charge under way" in page
    job.write_text(text, encoding="utf-8")
    browser.planned()
    assert "No new plan can be made" not in said(browser.get("/"))


def test_what_the_command_line_writes_is_seen(planning: Planning) -> None:
    live, new = planning
    browser = new()
    assert cli.main(["found", str(live.folder), "charging", "bypass", "rise", "--json"]) in (0, 2)
    assert cli.main(["spent", str(live.folder), "1.00", "cloths", "--json"]) == 0
    browser.planned()
    assert "cloths" in browser.get("/diary")
    assert browser.client.get("/state").json() == {"plan": live.standing().shown.number, "known": len(numbers(live)), "old": False, "open": 0}  # type: ignore[union-attr] # noqa: E501 # fmt: skip


def test_who_waits_for_a_plan_is_answered_once_it_is_here(planning: Planning, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(page_live, "NEWS_SECONDS", 300.0)
    _, new = planning
    browser = new()
    assert browser.client.get("/state?wait=1").json()["old"] is False  # nothing is thought over: nobody waits
    browser.post("/write/spent", word=["1.00", "cloths"])
    answers: list[dict[str, object]] = []
    asking = threading.Thread(target=lambda: answers.append(new().client.get("/state?wait=1").json()), daemon=True)
    asking.start()
    asking.join(60)
    assert [answer["old"] for answer in answers] == [False]


def test_a_word_to_remember_makes_no_new_plan(planning: Planning, monkeypatch: pytest.MonkeyPatch) -> None:
    live, new = planning
    browser = new()
    monkeypatch.setattr(service, "plan", lambda *_: pytest.fail("planned"))
    browser.post("/write/noted", word="hello")
    browser.planned()
    assert live.standing().wrong == ""


def test_a_new_fault_from_a_pattern_and_one_from_none(quiet: tuple[Live, Browser]) -> None:
    live, browser = quiet
    page = browser.get("/fault?words=front brakes grind")
    assert "dangerous as a rule: if you put it in as less, nothing here warns you not to use the vehicle" in page
    assert "nothing bans its use" not in browser.get("/fault?words=horn dead")
    pattern = re.findall(r'name="pattern" value="([^"]*)"', page)
    assert pattern
    before = (live.folder / "job.toml").read_bytes()
    answer = browser.post("/fault", pattern=pattern[0], severity="major")
    assert answer.status_code == 303, answer.text
    assert answer.headers["location"].startswith("/?added=")
    assert (live.folder / "job.toml").read_bytes().startswith(before)
    answer = browser.post("/fault", title="Seat torn", severity="minor", price="12.50", chance="0,8")
    assert answer.headers["location"] == "/?added=seat-torn"
    added = next(fault for fault in live.now().job.faults if fault.id == "seat-torn")
    assert added.repairs[0].price_minor == 1250
    assert added.repairs[0].chance == 0.8
    twice = browser.post("/fault", title="Seat torn", severity="minor", price="12.50")
    assert twice.status_code == 422
    assert "already" in twice.text


def test_a_new_fault_is_taken_out_again_as_it_was_put_in(quiet: tuple[Live, Browser]) -> None:
    live, browser = quiet
    before = (live.folder / "job.toml").read_bytes()
    browser.post("/fault", title="Seat torn", severity="minor", price="12.50")
    browser.post("/fault", title="Horn dead", severity="minor", price="5")
    page = browser.get("/?added=seat-torn")
    assert "Seat torn" in said(page)
    assert "job.toml" not in said(page)
    assert browser.post("/fault/undo", page="/?added=seat-torn", added="seat-torn").headers["location"] == "/"
    assert [fault.title for fault in live.now().job.faults][-1] == "Horn dead"
    assert "/fault/undo" not in browser.get("/?added=seat-torn")
    browser.post("/fault/undo", added="horn-dead")
    assert (live.folder / "job.toml").read_bytes() == before
    assert browser.post("/fault/undo", added="horn-dead").status_code == 422


def test_a_fault_of_which_something_is_written_down_stays(quiet: tuple[Live, Browser]) -> None:
    _, browser = quiet
    browser.post("/fault", title="Seat torn", severity="minor", price="12.50")
    browser.post("/write/left", word="seat-torn")
    refused = browser.post("/fault/undo", added="seat-torn")
    assert refused.status_code == 422
    assert "entry 1" in said(refused.text)
    browser.post("/strike", entry="1")
    assert browser.post("/fault/undo", added="seat-torn").status_code == 303


def test_a_fault_that_is_there_already_is_put_in_once_more_under_a_name_of_its_own(
    quiet: tuple[Live, Browser],
) -> None:
    live, browser = quiet
    for name in ("", "seat-behind"):
        assert browser.post("/fault", pattern="seat-torn", severity="minor", name=name).status_code == 303
    assert 'name="name"' in browser.get("/fault?words=seat torn")
    assert [fault.id for fault in live.now().job.faults][-2:] == ["seat-torn", "seat-behind"]


@pytest.mark.parametrize(
    "fields",
    [
        {"pattern": "no-such"},
        {"title": "x y"},
        {"title": "x y", "severity": "awful", "price": "1"},
        {"title": "x y", "severity": "minor", "price": "much"},
        {"title": "x y", "severity": "minor", "price": "1", "chance": "2"},
        {"title": "x y", "severity": "minor", "price": "1", "chance": "nan"},
    ],
)
def test_a_fault_that_is_none_is_not_put_in(quiet: tuple[Live, Browser], fields: dict[str, str]) -> None:
    live, browser = quiet
    before = (live.folder / "job.toml").read_bytes()
    assert browser.post("/fault", **fields).status_code == 422
    assert (live.folder / "job.toml").read_bytes() == before


def test_faults_that_two_add_at_once_are_both_there(quiet: tuple[Live, Browser]) -> None:
    live, _ = quiet
    folder: Path = live.folder
    names = [f"fault {n}" for n in range(8)]
    threads = [
        threading.Thread(target=starting.add, args=(folder, starting.Plain(name, Severity.MINOR, 0.5, 100), TODAY))
        for name in names
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert {fault.title for fault in live.now().job.faults} >= set(names)
