"""Two lamps that one fuse, one check and one borrowed bulb tell of, from the first plan to the last word; invented."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from optimiser import job_folder, service
from optimiser.certificate.plan import certify
from optimiser.entries import Desk, fitted
from optimiser.errors import PlanRefusedError
from optimiser.ledger import Store
from optimiser.model.job import Job
from optimiser.model.plan import Plan
from tests.unit.conftest import Run
from tests.unit.entries.shed import AT
from tests.unit.test_certify import JUDGED, unnoticed

TODAY = AT.date()
REPAIRS = """
  [[fault.repair]]
  id = "fuse"
  title = "Renew the fuse"
  cures = { fuse = 0.98 }
  price = "0.50"
  [[fault.repair]]
  id = "bulb"
  title = "Renew the bulb"
  cures = { bulb = 0.99 }
  price = "14.00"
  [[fault.repair]]
  id = "loom"
  title = "Have the loom mended"
  cures = { loom = 0.9 }
  price = "15.00"
  by = "workshop"
"""
FEED = """
  [[fault.check]]
  id = "feed"
  title = "Measure the feed"
  minutes = 10
  cost = "1.00"
  results = { volts = { fuse = 0.0, bulb = 1.0, loom = 0.4 } }
"""
SAME = """
  [[fault.check]]
  id = "feed"
  same_as = "left.feed"
  [[fault.check]]
  id = "swap"
  title = "Try the left bulb on the right"
  minutes = 5
  borrows = { fault = "left", cause = "bulb" }
  results = { lights = { fuse = 0.0, bulb = 1.0, loom = 0.0 } }
"""


def lamp(name: str, checks: str) -> str:
    keys = 'severity = "major"\ntwin = "lamps"\nshared_causes = ["fuse"]\ncauses = { fuse = 3, bulb = 5, loom = 2 }\n'
    return f'[[fault]]\nid = "{name}"\ntitle = "{name.capitalize()} lamp dead"\n{keys}{checks}{REPAIRS}'


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    head = f'[job]\ntitle = "Lamps"\ncurrency = "GBP"\ntoday = {TODAY}\n[money]\ncap = "60.00"\n'
    (tmp_path / "job.toml").write_text(head + lamp("left", FEED) + lamp("right", SAME), encoding="utf-8")
    return tmp_path


def plan_of(run: Run, folder: Path) -> dict[str, Any]:
    code, out, _ = run("plan", folder, "--json")
    assert code == 0
    return json.loads(out)


def chance(shown: dict[str, Any], fault: str) -> float:
    return next(one["chance"] for one in shown["faults"] if one["id"] == fault)


def test_the_fuse_for_both_sides_found_cured_asked_for_and_answered(run: Run, folder: Path) -> None:
    first = plan_of(run, folder)
    (look,) = first["do_first"]
    assert (look["check"], look["serves"], look["minutes"]) == ("feed", ["left", "right"], 10)
    assert first["access"] == ["check:left.feed"]
    assert first["money"]["direct"] == "2.00"  # 1.00 once for both, and 0.50 each at the least after it
    code, out, _ = run("found", folder, "right", "feed", "not-volts")
    assert code == 0
    assert "Measure the feed: not-volts, 1.00 GBP." in out
    second = plan_of(run, folder)
    assert second["money"]["remaining"] == "59.00"
    fuse = 0.285 / (0.285 + 0.19 * 0.6 + 0.05 * 0.5)
    assert second["odds"]["left"][0]["now"] == pytest.approx(fuse)
    assert second["odds"]["left"][0]["now"] == pytest.approx(second["odds"]["right"][0]["now"], abs=1e-9)
    assert not any(look["check"] == "feed" for look in second["do_first"])
    code, out, said = run("fitted", folder, "left", "fuse", "cured")
    assert code == 0
    assert f"optimiser found {folder} right works" in " ".join(said.split())
    assert "right may have had the same cause" in " ".join(said.split())
    third = plan_of(run, folder)
    assert third["odds"]["right"][0]["now"] == 0.0
    assert any(f"optimiser found {folder} right works" in caution for caution in third["cautions"])
    code, out, _ = run("found", folder, "right", "works")
    assert code == 0
    assert "Right lamp dead: works too after a twin was cured." in out
    assert plan_of(run, folder)["closed"] == ["left", "right"]
    out = run("diary", folder)[1]
    assert "works too" in " ".join(out.split())


def test_it_is_still_dead(run: Run, folder: Path) -> None:
    assert run("fitted", folder, "left", "fuse", "cured")[0] == 0
    before = plan_of(run, folder)
    assert run("found", folder, "right", "still")[0] == 0
    after = plan_of(run, folder)
    assert after["closed"] == ["left"]
    assert chance(after, "right") == chance(before, "right") > 0.5
    assert not any(f"optimiser found {folder} right works" in caution for caution in after["cautions"])


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("lamp", "gone"), "There is no fault called 'lamp'"),
        (("left", "still"), "No twin of left was cured"),
        (("lamp", "works"), "There is no fault called 'lamp'"),
    ],
)
def test_a_word_that_nothing_led_to_is_refused(run: Run, folder: Path, words: tuple[str, ...], told: str) -> None:
    code, _, said = run("found", folder, *words)
    assert code == 2
    assert told in said
    assert not list(Store(folder).entries())


def test_one_that_works_with_no_twin_cured_came_right_by_itself_and_tells_nothing_of_its_twin(
    run: Run, folder: Path
) -> None:
    before = plan_of(run, folder)
    assert run("found", folder, "left", "works")[0] == 0
    after = plan_of(run, folder)
    assert after["closed"] == ["left"]
    assert [cause["now"] for cause in after["odds"]["right"]] == [cause["now"] for cause in before["odds"]["right"]]


def test_one_that_works_once_its_twin_was_mended_of_its_own_cause_is_not_said_to_have_come_right_by_itself(
    run: Run, folder: Path
) -> None:
    assert run("fitted", folder, "left", "bulb", "cured")[0] == 0
    code, out, minded = run("found", folder, "right", "works")
    assert code == 0
    said = "Right lamp dead: came right with no repair of its own, and its twin is mended (Left lamp dead)."
    assert said in " ".join(out.split())
    assert "Taken to have come right once its twin was mended (Left lamp dead)." in " ".join((out + minded).split())


@pytest.mark.parametrize(("answer", "works"), [("works too", True), ("still as it was", False)])
def test_it_is_asked_where_somebody_is_there(folder: Path, answer: str, works: bool) -> None:
    asked = []

    def ask(question: str, answers: Any) -> str:
        asked.append(question)
        assert answer in answers
        return answer

    fit, word = fitted(Desk(service.moment(folder, TODAY), AT, "fitted", ask), ["left", "fuse", "cured"])
    assert (fit.fault, word.fault, word.works) == ("left", "right", works)
    assert asked == ["Right lamp dead may have had the same cause and be cured too. How is it now?"]


def test_a_cure_of_the_faults_own_asks_for_nothing(folder: Path) -> None:
    (made,) = fitted(
        Desk(service.moment(folder, TODAY), AT, "fitted", lambda *_: pytest.fail("asked")), ["left", "bulb", "cured"]
    )
    assert made.repair == "bulb"


def test_the_plan_says_what_its_sums_are(run: Run, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "160")
    cautions = plan_of(run, folder)["cautions"]
    assert any("more fixes may come of this plan than its sum of chances" in caution for caution in cautions)
    shown = " ".join(run("plan", folder, "--full")[1].split())
    assert "(tells of Right lamp dead too)" in shown
    assert "one check for Left lamp dead and Right lamp dead" in shown


@pytest.fixture
def planned(run: Run, folder: Path) -> Plan:
    """With something seen on both lamps, and a borrowed bulb in a route."""
    assert run("found", folder, "left", "is-not", "loom")[0] == 0
    return service.plan(service.moment(folder, TODAY).job)


def test_every_figure_falsified_by_itself_is_noticed(planned: Plan) -> None:
    assert unnoticed(planned) <= JUDGED


def lie(plan: Plan, **changes: Any) -> Plan:
    """The plan for another job: every fault as given."""
    faults = tuple(f.model_copy(update={k: v(f) for k, v in changes.items()}) for f in plan.job.faults)
    by_id = {f.id: f for f in faults}
    choices = tuple(c.model_copy(update={"fault": by_id[c.fault.id]}) for c in plan.choices)
    return plan.model_copy(update={"job": plan.job.model_copy(update={"faults": faults}), "choices": choices})


def test_another_belief_is_refused(planned: Plan) -> None:
    certify(planned)
    certify(lie(planned))
    for changes in (
        {"shared_causes": lambda _: ()},
        {"twin": lambda _: None},
        {"checks": lambda f: tuple(c.model_copy(update={"same_as": None}) for c in f.checks)},
    ):
        with pytest.raises(PlanRefusedError):
            certify(lie(planned, **changes))


def test_read_twice_is_the_same_job(folder: Path) -> None:
    job = job_folder.job(folder, TODAY)
    assert Job.model_validate_json(job.model_dump_json()) == job


def fault(name: str, causes: tuple[str, str], prices: tuple[int, int], check: str) -> str:
    repairs = "".join(
        f'[[fault.repair]]\nid = "{cause}"\ncures = {{ {cause} = 0.95 }}\nprice = "{price}.00"\n'
        for cause, price in zip(causes, prices, strict=True)
    )
    odds = f"causes = {{ {causes[0]} = 1, {causes[1]} = 1 }}\n"
    return f'[[fault]]\nid = "{name}"\nseverity = "minor"\n{odds}[[fault.check]]\nid = "k"\n{check}\n{repairs}'


def test_a_check_for_two_faults_that_are_no_twins_is_paid_for_once(run: Run, tmp_path: Path) -> None:
    """Its 3.00 and its 20 minutes, with 21.00 and 23.00 at the worst after it; once made, each knows its own cause."""
    own = 'cost = "3.00"\nminutes = 20\nresults = { p = { x = 1.0, y = 0.0 } }'
    other = 'same_as = "a.k"\npairs = { up = "p" }\nresults = { up = { u = 0.0, v = 1.0 } }'
    head = f'[job]\ncurrency = "GBP"\ntoday = {TODAY}\n[money]\ncap = "100.00"\n'
    text = head + fault("a", ("x", "y"), (20, 21), own) + fault("b", ("u", "v"), (22, 23), other)
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    plan = service.plan(job_folder.job(tmp_path, TODAY))
    (look,) = plan.do_first
    assert (look.fault, look.also, look.minutes, plan.minutes) == ("a", ("b",), 20, 20)
    assert plan.purse.cash_minor == 300 + 2100 + 2300
    assert run("found", tmp_path, "b", "k", "up")[0] == 0
    after = service.plan(service.moment(tmp_path, TODAY).job)
    assert after.purse.remaining_minor == 9700
    assert after.access == ()
    assert {c.fault.id: c.route.option.repair for c in after.choices if c.route and c.route.option} == {
        "a": "x",
        "b": "v",
    }
