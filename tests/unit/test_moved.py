"""The verb moved from outside: which plan it compares with, its words, JSON and CSV, and what it does not do."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from optimiser import service
from optimiser.errors import RecordUnwritableError
from optimiser.ledger import Store
from optimiser.model.events import Note, Spend
from optimiser.model.job import Repair
from optimiser.show import changes
from optimiser.state.history import MOST_WHOLE, SHORTER, without_mix
from tests import tiny_job
from tests.tiny_job import BASE, HORN, NEW, TODAY, but

AT = datetime(2026, 11, 24, 19, 30, tzinfo=UTC)
HIRE = Spend(at=AT, source="spent", currency="GBP", amount_minor=1000, text="hire")
RAIN = Note(at=AT, source="noted", text="rain")
Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tiny_job.write(BASE, tmp_path / "tiny")


def planned(folder: Path) -> None:
    """Keep the plan of now, seen at a fixed time."""
    now = service.moment(folder, TODAY)
    service.keep(folder, now, service.plan(now.job), AT)


def lines(text: str) -> list[str]:
    return [line.rstrip() for line in text.splitlines()]


def test_the_whole_answer(run: Run, folder: Path) -> None:
    planned(folder)
    Store(folder).append([RAIN, HIRE])
    code, out, err = run("moved", folder)
    assert (code, err) == (0, "")
    assert lines(out) == [
        "Tiny: the plan now against plan 1 of 24 November 2026, 19:30 UTC",
        "- horn (minor): now \"swap\", salvage from birch; it was: \"swap\", new from alder.",
        "  Chance 72% (was 88%), frees 6.00 GBP of the pot. Because of entry 2 (10.00 GBP",
        "  spent: hire).",
        "Fixes: 1.48 expected then; 1.32 expected now.",
        "To spend: 20.00 GBP then, 10.00 spent since; 10.00 now, of which 4.50 stays",
        "over.",
        "As before: lamp.",
        "Moved nothing by itself: entry 1.",
        "Next: 2. lamp: clean (10 min).",
    ]  # fmt: skip


def test_what_is_paid_and_what_is_held_still_come_to_what_it_takes_more(run: Run, tmp_path: Path) -> None:
    """Nine were held for the part, four for the work; ten were paid, and the four are held still: one more in all."""
    fit = Repair(id="swap", chance=0.9, parts={"disc": 1}, price_minor=400)
    folder = tiny_job.write(but(BASE, faults=(but(HORN, repairs=(fit,)),), quotes=(NEW,)), tmp_path / "tiny")
    planned(folder)
    code, out, _ = run("bought", folder, "disc", "from", "cole", "--price", "10.00", "--condition", "new")
    assert code == 0
    assert "10.00 GBP paid since, in all takes 1.00 GBP more of the pot." in " ".join(out.split())


def test_no_plan_yet(run: Run, folder: Path) -> None:
    code, out, err = run("moved", folder)
    assert (code, out) == (2, "")
    assert "no earlier plan that can be compared with" in err
    assert f"optimiser plan {folder} makes one" in err
    assert not Store(folder).path.exists()


def test_a_plan_that_is_not_there(run: Run, folder: Path) -> None:
    planned(folder)
    code, out, err = run("moved", folder, 7)
    assert (code, out) == (2, "")
    assert "The record keeps no plan 7." in err
    assert "It keeps 1 (2026-11-24 19:30 UTC, after entry 0)." in err


def test_a_plan_that_is_too_old_says_which_are_not(run: Run, folder: Path) -> None:
    planned(folder)
    store = Store(folder)
    text = store.plans()[0].text
    for _ in range(MOST_WHOLE + 1):
        store.add_plan(AT, text, None, SHORTER)
    store.append([HIRE])
    for number in (1, 2):
        code, out, err = run("moved", folder, number)
        assert (code, out) == (2, "")
        assert f"Plan {number} is too old to be compared with: the last {MOST_WHOLE} plans are kept whole." in err
        assert "Compare with plan 3 or a later one." in err
    assert "against plan 3 of 24 November 2026, 19:30 UTC" in run("moved", folder, 3)[1]
    assert "Plan 3 is too old" in run("moved", folder, 3)[2], "moved keeps the plan that it shows"


def test_where_all_plans_are_too_old_one_is_to_be_made(run: Run, folder: Path) -> None:
    planned(folder)
    store = Store(folder)
    (made,) = store.plans()
    store.path.unlink()
    store.add_plan(AT, without_mix(made.text))
    for words in ((), (1,)):
        code, out, err = run("moved", folder, *words)
        assert (code, out) == (2, "")
        assert f"Make one: optimiser plan {folder}." in err


@pytest.mark.parametrize("words", [("one",), ("1", "2"), ("-3",), ("1.5",), ("٣",)])
def test_words_that_are_no_number(run: Run, folder: Path, words: tuple[str, ...]) -> None:
    planned(folder)
    code, out, _ = run("moved", folder, "--", *words)
    assert (code, out) == (2, "")


def test_the_last_plan_that_knew_less_or_the_one_of_a_number(run: Run, folder: Path) -> None:
    planned(folder)
    Store(folder).append([HIRE])
    planned(folder)
    Store(folder).append([RAIN])
    assert "against plan 1 " in run("moved", folder)[1], "a note is nothing that plan 2 did not know"
    code, out, _ = run("moved", folder, 2)
    assert code == 0
    assert "Nothing has moved since plan 2." in out
    assert "To spend: 10.00 GBP then; 10.00 now, of which 4.50 stays over." in " ".join(out.split())


def test_a_pot_that_is_overdrawn_by_now_is_said_to_be(run: Run, folder: Path) -> None:
    planned(folder)
    assert run("spent", folder, "30", "fuel")[0] == 0
    out = " ".join(run("moved", folder, 1)[1].split())
    assert "To spend: 20.00 GBP then, 30.00 spent since; nothing, overdrawn by 10.00, now." in out
    assert "stays over" not in out


def test_the_verb_plan_keeps_what_it_shows_and_only_once(run: Run, folder: Path) -> None:
    for _ in range(2):
        assert run("plan", folder)[0] == 0
    assert run("plan", folder, "--json")[0] == 0
    assert [plan.after for plan in Store(folder).plans()] == [0]
    Store(folder).append([HIRE])
    assert run("plan", folder)[0] == 0
    assert [plan.after for plan in Store(folder).plans()] == [0, 1]
    assert 'now "swap", salvage from birch' in run("moved", folder, 1)[1]


def test_looking_on_keeps_nothing_new(run: Run, folder: Path) -> None:
    planned(folder)
    Store(folder).append([HIRE])
    assert run("moved", folder)[0] == 0
    kept = len(Store(folder).plans())
    for _ in range(2):
        assert "against plan 1 " in run("moved", folder)[1]
    assert len(Store(folder).plans()) == kept
    for verb in (("orders",), ("verify",), ("compare", "horn")):
        assert run(verb[0], folder, *verb[1:])[0] == 0
    assert len(Store(folder).plans()) == kept


def test_a_plan_that_cannot_be_kept_is_shown_all_the_same(
    run: Run, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> None:
        raise RecordUnwritableError("record.sqlite", "The disk is full.", "Make room.")

    monkeypatch.setattr(Store, "add_plan", full)
    code, out, err = run("plan", folder)
    assert code == 0
    assert "Proven" in out
    first = "This plan was not kept, so no later one can be compared with it:"
    assert err.splitlines() == [first, "record.sqlite: The disk is full.", "Make room."]


def test_json_holds_everything(run: Run, folder: Path) -> None:
    planned(folder)
    Store(folder).append([RAIN, HIRE])
    code, out, err = run("moved", folder, "--json")
    assert (code, err) == (0, "")
    answer = json.loads(out)
    assert set(answer) == {
        "format", "job", "dangerous", "untested", "unproven", "against", "moves", "causes", "fixes", "remaining",
        "unspent", "spent_since", "switching",
    }  # fmt: skip
    assert answer["against"] == {"plan": 1, "at": "2026-11-24T19:30:00+00:00", "folder_known": True}
    horn, lamp = answer["moves"]
    assert horn == {
        "fault": "horn", "severity": "minor", "turn": "new-choice",
        "before": _side("quotes.csv:2", 0.882, "9.00"), "now": _side("quotes.csv:3", 0.72, "3.00"),
        "foreseen": None, "paid": "0.00", "bought": [], "freed": "6.00", "found": "alone", "causes": [1],
    }  # fmt: skip
    assert (lamp["turn"], lamp["found"], lamp["causes"]) == ("kept", None, [])
    assert answer["causes"] == [
        {"what": "happened", "entry": 1, "said": "entry 1 (note: rain)", "quotes": [], "place": [], "moved": [],
         "enough_for": [], "checked": True},
        {"what": "happened", "entry": 2, "said": "entry 2 (10.00 GBP spent: hire)", "quotes": [], "place": [],
         "moved": ["horn"], "enough_for": [], "checked": True},
    ]  # fmt: skip
    assert answer["fixes"] == {"before": pytest.approx(1.482), "now": pytest.approx(1.32)}
    assert (answer["remaining"], answer["unspent"]) == (
        {"before": "20.00", "now": "10.00"}, {"before": "8.50", "now": "4.50"}
    )  # fmt: skip
    assert (answer["spent_since"], answer["switching"]) == ("10.00", None)


def _side(quote: str, chance: float, money: str) -> dict[str, Any]:
    weighted = pytest.approx(chance)
    return {"check": None, "repair": "swap", "quotes": [quote], "chance": weighted, "fixes": weighted,
            "landed": money, "most": money}  # fmt: skip


def test_csv_has_a_row_a_fault(run: Run, folder: Path, tmp_path: Path) -> None:
    planned(folder)
    Store(folder).append([HIRE])
    file = tmp_path / "moved.csv"
    assert run("moved", folder, "--csv", file)[0] == 0
    rows = list(csv.DictReader(file.read_text(encoding="utf-8").splitlines()))
    assert list(rows[0]) == [column.name for column in changes.MOVES]
    assert [row["fault"] for row in rows] == ["horn", "lamp"]
    assert (rows[0]["turn"], rows[0]["first_before"], rows[0]["freed"]) == ("new-choice", "swap", "6.00")
    assert (rows[0]["found"], rows[0]["causes"]) == ("alone", "entry 1 (10.00 GBP spent: hire)")
    assert (rows[1]["turn"], rows[1]["found"], rows[1]["causes"]) == ("kept", "", "")
    code, _, err = run("moved", folder, "--csv", folder / "quotes.csv")
    assert code == 2
    assert "a file of the job itself" in err


def test_no_time_for_causes_is_said(run: Run, folder: Path) -> None:
    planned(folder)
    Store(folder).append([HIRE, HIRE])
    code, out, _ = run("moved", folder, "--seconds", 0)
    assert code == 0
    said = " ".join(out.split())
    assert "What brought it about was not found in the time allowed." in said
    assert "To allow more: optimiser moved" in said


@pytest.mark.parametrize("width", [30, 50, 80])
def test_every_line_fits(run: Run, folder: Path, monkeypatch: pytest.MonkeyPatch, width: int) -> None:
    planned(folder)
    Store(folder).append([RAIN, HIRE])
    monkeypatch.setenv("COLUMNS", str(width))
    code, out, _ = run("moved", folder)
    assert code == 0
    assert max(map(len, lines(out))) <= width
