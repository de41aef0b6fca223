"""Routes as a person reads them, at 80 columns, and as JSON; checks that are made, and checks that are not worth it."""

from __future__ import annotations

import io
import json
from typing import Any

import pytest

from optimiser import service
from optimiser.model.plan import Plan
from optimiser.show import as_json, faults, layout, route_words, steps, terminal, wording
from tests.tiny_job import ROUTED, VARIANTS, WIRE, but, planned, routed

SCREENED = but(ROUTED["shared"], faults=tuple(but(f, repairs=(f.repairs[0], WIRE)) for f in ROUTED["shared"].faults))
"""Three looks behind one dash, each worth it: a wire is 1.00, and one that is sound is not paid for."""


def shown(plan: Plan, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    monkeypatch.setenv("COLUMNS", "80")
    out = io.StringIO()
    terminal.plan(layout.console(out), plan)
    return [line.rstrip() for line in out.getvalue().splitlines()]


def lines(plan: Plan, fault: str) -> list[str]:
    """The route in words, without a terminal."""
    choice = plan.choice(fault)
    assert choice.route is not None
    tree = steps.numbered(choice.route.first, steps.numbers(plan).trees[fault])
    return [" " * depth + said for depth, said, *_ in route_words.route_lines(plan.job, choice, tree)]


def test_a_question_ends_in_one_sign() -> None:
    job = ROUTED["three_results"]
    asked = but(job.faults[0].checks[0], title="Does it hum?", minutes=0, cost_minor=0)
    pump = but(job.faults[0], checks=(asked, *job.faults[0].checks[1:]))
    assert lines(service.plan(but(job, faults=(pump, *job.faults[1:]))), pump.id)[0] == "1. Does it hum?"


def test_a_route_in_words() -> None:
    """A check of three results: to a part, to an attempt with a fallback, and to leaving it."""
    assert lines(routed("three_results"), "pump") == [
        "1. Listen while somebody works the stalk (5 min; 0.22 GBP).",
        "  Hums (30%):",
        "    2. Renew the pump: new from alder (20 min; 8.80 GBP kept for it).",
        "      Cured: 98%. Not cured: leave it.",
        "  Clicks (50%):",
        "    3. Clean the plug (10 min; 0.50 GBP).",
        "      Cured: 75%. Not cured:",
        "      4. Renew the pump: new from alder (20 min; 8.80 GBP kept for it).",
        "        Cured: 25%. Not cured: leave it.",
        "  Nothing (20%): leave it.",
    ]


def test_a_route_at_80_columns(monkeypatch: pytest.MonkeyPatch) -> None:
    out = shown(routed("three_results"), monkeypatch)
    start = next(n for n, line in enumerate(out) if "Washer pump silent (major)" in line)
    assert out[start : start + 13] == [
        " 1   Washer pump silent (major)                                70%   4.21    35",
        "     1. Listen while somebody works the stalk (5 min;",
        "     0.22 GBP).",
        "       Hums (30%):",
        "         2. Renew the pump: new from alder (20 min; 8.80",
        "         GBP kept for it).",
        "           Cured: 98%. Not cured: leave it.",
        "       Clicks (50%):",
        "         3. Clean the plug (10 min; 0.50 GBP).",
        "           Cured: 75%. Not cured:",
        "           4. Renew the pump: new from alder (20 min;",
        "           8.80 GBP kept for it).",
        "             Cured: 25%. Not cured: leave it.",
    ]
    assert out[start + 13 : start + 16] == [
        "       Nothing (20%): leave it.",
        "     Check first: that leaves the chance as it is and",
        "     saves 1.82 GBP on the average, your time counted.",
    ]


def test_a_part_ordered_ahead_is_said_to_be(monkeypatch: pytest.MonkeyPatch) -> None:
    out = " ".join(" ".join(shown(routed("ahead"), monkeypatch)).split())
    assert "Renew the relay: new from alder (10 min; ordered ahead, used only if wanted; 2.00 GBP)." in out
    (fault,) = json.loads(as_json.text(as_json.plan(routed("ahead"))))["faults"]
    assert [(part["part"], part["ahead"]) for part in fault["parts"]] == [("bulb", False), ("relay", True)]
    assert fault["route"]["then"]["not-cured"]["parts"][0]["ahead"] is True


@pytest.mark.parametrize("variant", ROUTED)
def test_no_line_passes_80_columns(variant: str, monkeypatch: pytest.MonkeyPatch) -> None:
    out = shown(routed(variant), monkeypatch)
    assert max(map(len, out)) <= 80
    assert "…" not in "".join(out)


def test_causes_are_shown_before_and_after_the_first_look(monkeypatch: pytest.MonkeyPatch) -> None:
    out = shown(routed("three_results"), monkeypatch)
    start = out.index("What may be behind it, before and after the first look")
    table = [line.split() for line in out[start + 2 : start + 9]]
    assert table[0][-4:] == ["Now", "Hums", "Clicks", "Nothing"]
    assert table[2:6] == [
        ["fuse", "20%", "0%", "0%", "100%"],
        ["plug", "50%", "0%", "100%", "0%"],
        ["pump", "30%", "100%", "0%", "0%"],
        ["something-else", "0%", "0%", "0%", "0%"],
    ]


@pytest.mark.parametrize("columns", [30, 40, 60, 80, 100])
def test_causes_keep_their_names_however_narrow_the_screen(columns: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Results that do not fit beside each other stand in a further table, with the causes once more."""
    plan = routed("three_results")
    results = ("low-and-falls-again-at-once", "wet-at-the-hose", "injector-stained")
    known = [
        but(one, cause=f"{one.cause}-of-tank", after=dict(zip(results, one.after.values(), strict=True)))
        for one in plan.odds["pump"]
    ]
    plan = but(plan, odds={"pump": tuple(known)})
    monkeypatch.setenv("COLUMNS", str(columns))
    file = io.StringIO()
    for made in faults.odds(plan, [plan.choice("pump")], columns):
        layout.console(file).print(made)
    text = file.getvalue()
    assert max(map(len, text.splitlines())) <= columns
    assert "…" not in text
    words = text.split()
    assert {"fuse-of-tank", "plug-of-tank", "pump-of-tank"} < set(words)
    for word in ("Low", "falls", "again", "Injector", "stained", "hose"):
        assert word in words


NEW_WITH_ROUTES = ("Look first", "What may be behind it", "Checks not worth", "kept for later", "at most", "Not cured")


@pytest.mark.parametrize("variant", VARIANTS)
def test_one_attempt_a_fault_shows_nothing_of_routes(variant: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The house rule of the third issue: with ``fallbacks = false`` a job looks as before."""
    text = "\n".join(shown(planned(variant), monkeypatch))
    assert not [words for words in NEW_WITH_ROUTES if words in text]


def test_one_attempt_a_fault_in_full(monkeypatch: pytest.MonkeyPatch) -> None:
    """To the letter, so that nothing of routes creeps in."""
    out = [line for line in shown(planned("base"), monkeypatch) if line]
    assert out == [
        "Tiny",
        "With 20.00 GBP to spend: work on 2 of 2 faults (nothing is left), 1.48 fixes",
        "expected.",
        "Proven: no other mix does better under the rules of this job.",
        "What to do, the gravest first",
        " #   Fault, what to do, and why                            Chance    Cost   Min",
        " ──────────────────────────────────────────────────────────────────────────────",
        " 1   horn (minor)                                             88%    9.00    20",
        "     swap",
        "       1 x disc: new, alder",
        "     This is the surest: salvage from birch would save",
        "     6.00 GBP (3.00 against 9.00, each bought alone) and",
        "     give up 16.2 points of chance.",
        " 2   lamp (minor)                                             60%    2.50    10",
        "     clean",
        "     The only way offered.",
        "     Net cost in all                                                11.50",
        "Order to alder",
        " #   Part   Condition   Packs   Price   Goods   Ref",
        " ──────────────────────────────────────────────────",
        " 3   disc   new             1    9.00    9.00",
        "  Goods 9.00, postage 0.00: 9.00 GBP to pay.",
        "The money",
        " The whole pot                             20.00",
        " less the purchase and what is spent        0.00",
        " less what is held back                     0.00",
        " Remaining for this plan                   20.00",
        " less orders, goods and postage            -9.00",
        " less direct prices, hire and consumables  -2.50",
        " less deposits paid now                     0.00",
        " Unspent                                    8.50",
        " Your time: 30 min, worth 0.20 GBP at 0.40 an hour (you name no rate).",
        "Cautions",
        "- Wiring and fuses: Renew a fuse by one of the same rating only; if it blows",
        "  again, find out why. Feed a component directly only through a fuse of its own,",
        "  and hold it clear of fingers. Route and clip new cable away from edges, heat",
        "  and moving things. Cable sizes and fuse ratings are in the maker's wiring",
        "  data; go by those, not by what was found in the holder.",
    ]


# ---- checks that are not made, and trying that comes first


def not_worth(plan: Plan) -> list[str]:
    return [route_words.worth(plan.job, c, w) for c in plan.choices for w in c.checks if w.left_out]


def test_a_check_that_cannot_change_anything_says_so() -> None:
    (said,) = not_worth(routed("idle"))
    assert said.startswith("Blower dead: Feed it 12 V (10 min): whatever it shows, you would still begin with: Renew b")
    assert routed("idle").choice("blower").checks[0].fixes == 0.0


def test_a_check_that_gains_too_little_says_its_figures(monkeypatch: pytest.MonkeyPatch) -> None:
    (said,) = not_worth(routed("small"))
    assert said == (
        "Blower dead: Feed it 12 V (10 min) adds 50.0 points of chance and costs 19.94 GBP more on the average, your"
        " time counted: not worth the time."
    )
    out = " ".join(" ".join(shown(routed("small"), monkeypatch)).split())
    assert f"Checks not worth their time - {said}" in out


def test_checks_that_are_made_are_not_listed_as_idle() -> None:
    assert [not_worth(plan) for plan in (routed("check"), routed("three_results"), service.plan(SCREENED))] == [[]] * 3


def test_trying_first_says_what_checking_first_would_cost() -> None:
    """By hand: 3.8775 if the plug is cleaned first, 3.96 if somebody listens first; either cures as often.

    18.5 minutes if somebody listens first, 21.625 if not: at 0.40 an hour that leaves 0.06 of the 0.08.
    """
    plan = routed("try_first")
    choice = plan.choice("pump")
    assert choice.option is not None
    assert choice.option.repair == "plug"
    assert (choice.why.cost_minor, round(choice.why.chance, 9)) == (6, 0.0)
    assert wording.why(plan.job, choice) == (
        "Try before checking, for trying is itself the best check: to check first leaves the chance as it is and costs"
        " 0.06 GBP more on the average, your time counted."
    )


def test_checking_first_says_what_it_gains() -> None:
    plan = routed("check")
    assert wording.why(plan.job, plan.choice("blower")) == (
        "Check first: that adds 50.0 points of chance and costs 19.94 GBP more on the average, your time counted."
    )


# ---- JSON


def document(variant: str) -> dict[str, Any]:
    return json.loads(as_json.text(as_json.plan(routed(variant))))


def test_a_tree_in_json_has_the_shape_of_the_formats_page() -> None:
    """From the formats page: do, step, id, parts, cash, minutes, then; a stop has no number, id or cost."""
    (fault,) = document("three_results")["faults"]
    tree = fault["route"]
    assert {key: tree[key] for key in ("do", "step", "id", "parts", "cash", "minutes")} == {
        "do": "check", "step": 1, "id": "listen", "parts": [], "cash": "0.22", "minutes": 5,
    }  # fmt: skip
    assert list(tree["then"]) == ["hums", "clicks", "nothing"]
    assert tree["chances"] == {"hums": pytest.approx(0.3), "clicks": pytest.approx(0.5), "nothing": pytest.approx(0.2)}
    stop = tree["then"]["nothing"]
    assert {key: stop[key] for key in ("do", "step", "id", "parts", "cash", "minutes", "then")} == {
        "do": "stop", "step": None, "id": None, "parts": [], "cash": "0.00", "minutes": 0, "then": {},
    }  # fmt: skip
    plug = tree["then"]["clicks"]
    assert (plug["do"], plug["step"], plug["id"], plug["parts"]) == ("attempt", 3, "plug", [])
    assert list(plug["then"]) == ["cured", "not-cured"]
    assert plug["then"]["cured"]["do"] == "stop"
    pump = plug["then"]["not-cured"]
    assert (pump["step"], pump["id"], pump["cash"], pump["minutes"]) == (4, "swap", "8.80", 20)
    assert pump["parts"] == [
        {"part": "disc", "units": 1, "supplier": "alder", "condition": "new", "quote": "quotes.csv:2", "ref": "",
         "price": "8.80", "source": "order", "landed": "8.80", "ahead": False}
    ]  # fmt: skip
    assert (fault["repair"], fault["step"], fault["parts"]) == (None, 1, [])


def test_repair_is_the_first_attempt_where_the_route_begins_with_one() -> None:
    faults = {fault["id"]: fault for fault in document("fallback")["faults"]}
    assert (faults["horn"]["repair"], faults["horn"]["route"]["do"]) == ("swap", "attempt")
    assert [part["quote"] for part in faults["horn"]["parts"]] == ["quotes.csv:3"]
    assert faults["lamp"]["route"]["then"].keys() == {"cured", "not-cured"}


def test_do_first_in_json() -> None:
    (look,) = document("three_results")["do_first"]
    assert {key: look[key] for key in ("step", "fault", "check", "minutes")} == {
        "step": 1, "fault": "pump", "check": "listen", "minutes": 5,
    }  # fmt: skip
    assert (look["gains"], look["saves"]) == (pytest.approx(0.0), "1.82")
    assert look["worth"] == pytest.approx((179 + 4 * 40 / 60) / 2000)


def test_the_first_looks_of_several_faults_open_the_dash_once() -> None:
    looks = json.loads(as_json.text(as_json.plan(service.plan(SCREENED))))["do_first"]
    assert [(look["fault"], look["minutes"]) for look in looks] == [("fault-1", 46), ("fault-2", 2), ("fault-3", 3)]
    assert [look["step"] for look in looks] == [1, 4, 7]


def test_checks_in_json_say_what_each_is_worth() -> None:
    (check,) = document("small")["faults"][0]["checks"]
    assert check == {"check": "feed", "gains": pytest.approx(0.5), "saves": "-19.94", "minutes": 10, "taken": False,
                     "left_out": True, "same_next": False, "earns": None}  # fmt: skip
    (check,) = document("check")["faults"][0]["checks"]
    assert (check["taken"], check["left_out"]) == (True, False)


def test_odds_in_json() -> None:
    odds = document("check")["odds"]["blower"]
    assert odds[0] == {"cause": "wire", "as_written": 0.5, "now": 0.5, "after": {"spins": 1.0, "not-spins": 0.0}}
