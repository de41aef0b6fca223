"""Every example runs: job folders plan, certify, are proven and say what their READMEs claim; scripts end well."""

from __future__ import annotations

import re
import runpy
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest

from optimiser import job_folder, service
from optimiser.certificate.plan import certify
from optimiser.diagnosis import groups
from optimiser.model.evidence import FailedAttempt, ItIs, Piece
from optimiser.model.job import Job, Owned
from optimiser.model.plan import CheckWorth, Plan, Reason
from optimiser.model.route import AttemptStep, CheckStep, Node, Stop
from tests.one_fault import kept_sound
from tests.planned import EXAMPLES, TODAY, job_of, plan_of
from tests.unit.test_readme import matches

JOBS = sorted(path.parent for path in EXAMPLES.rglob("job.toml"))
SCRIPTS = sorted(EXAMPLES.rglob("*.py"))
IN_TURN = {"eight-evenings": "test_story", "three-sheets": "test_three_sheets"}
"""Examples that are told one command after the other, and where they are run."""
SESSIONS = [
    pytest.param(session, id=session.splitlines()[0])
    for folder in JOBS
    if (folder / "README.md").exists() and folder.name not in IN_TURN
    for session in re.findall(
        r"```console\n(.*?)```", (folder / "README.md").read_text(encoding="utf-8"), flags=re.DOTALL
    )
]


def with_settings(job: Job, **settings: object) -> Job:
    return job.model_copy(update={"settings": job.settings.model_copy(update=settings)})


def without_checks(job: Job) -> Job:
    return job.model_copy(update={"faults": tuple(f.model_copy(update={"checks": ()}) for f in job.faults)})


def text_of(path: Path) -> str:
    """What a person wrote in a file; nothing of records and workbooks, of which the letters are packed."""
    packed = path.name.startswith("record.sqlite") or path.suffix == ".xlsx"
    return "" if packed else path.read_bytes().decode("utf-8", errors="replace")


def worths(plan: Plan, fault: str) -> Mapping[str, CheckWorth]:
    return {worth.check: worth for worth in plan.choice(fault).checks}


def test_there_are_the_shortest_and_a_full_job() -> None:
    sizes = [len(job_folder.job(folder, TODAY).faults) for folder in JOBS]
    assert min(sizes) <= 6
    assert max(sizes) >= 12


@pytest.mark.parametrize("folder", JOBS, ids=lambda path: path.name)
def test_a_job_plans_certified_and_proven(folder: Path) -> None:
    plan = plan_of(folder.name)
    certify(plan)
    assert plan.outcome.proven
    assert plan.selection.routes
    assert service.verify(folder, TODAY) == service.verify(folder, TODAY)


@pytest.mark.parametrize("folder", JOBS, ids=lambda path: path.name)
def test_a_job_says_that_it_is_invented_and_holds_no_addresses(folder: Path) -> None:
    texts = {path: text_of(path) for path in folder.rglob("*") if path.is_file()}
    assert "invented" in texts[folder / "job.toml"]
    for path, text in texts.items():
        assert not re.search(r"https?://|www\.|@\w+\.\w", text), path


@pytest.mark.parametrize("session", SESSIONS)
def test_a_readme_shows_what_the_program_says(session: str, said: Callable[[str], str]) -> None:
    command, _, shown = session.partition("\n")
    real = said(command.removeprefix("$ optimiser "))
    assert matches(shown, real), real


def test_the_full_job_has_the_features_that_the_issue_lists() -> None:
    job = max((job_folder.job(folder, TODAY) for folder in JOBS), key=lambda job: len(job.faults))
    assert len(job.quotes) >= 70
    assert len(job.suppliers) >= 7
    assert any(fault.severity == "dangerous" for fault in job.faults)
    assert any(part.renew_in > 1 for part in job.parts)
    assert any(quote.deposit_minor for quote in job.quotes)
    assert any(quote.pack > 1 for quote in job.quotes)
    ways = [{repair.by for repair in fault.repairs} for fault in job.faults]
    assert any(way == {"self", "workshop"} for way in ways)
    day = job.settings.today
    assert day is not None
    assert any(quote.valid_until and quote.valid_until < day for quote in job.quotes)
    assert {quote.condition for quote in job.quotes} == {"new", "refurbished", "salvage"}
    assert sum(bool(fault.causes and fault.checks) for fault in job.faults) >= 6


# ---- the full job: what checks and fallbacks are good for


def dearest(node: Node) -> int:
    """The dearest path of a tree, no refunds counted."""
    if isinstance(node, Stop):
        return 0
    return node.cash_minor + max(dearest(branch.then) for branch in node.then)


def most_paid(plan: Plan) -> int:
    """What the unluckiest outcome of all faults together pays: every route's dearest path, what is shared once."""
    job, routes = plan.job, plan.selection.routes
    prices = {access.id: access.price_minor for access in job.access}
    checks = {(fault.id, check.id): check.access for fault in job.faults for check in fault.checks}
    opened: set[str] = set()
    for route in routes:
        opened.update(*(step.option.access for step in route.attempts))
        opened.update(*(checks[route.fault, step.check] for step in route.checks))
    ordered = {order.supplier.id for order in plan.orders}
    may_order = {supplier for route in routes for supplier in route.suppliers} - ordered
    return (
        sum(order.total_minor for order in plan.orders)
        + sum(job.supplier(supplier).postage_minor for supplier in may_order)
        + sum(prices[access] for access in opened)
        + sum(dearest(route.first) for route in routes)
    )


@pytest.mark.parametrize("folder", JOBS, ids=lambda path: path.name)
def test_no_outcome_of_an_example_is_over_the_pot(folder: Path) -> None:
    plan = plan_of(folder.name)
    assert most_paid(plan) == plan.purse.cash_minor <= plan.job.pot.remaining_minor


@pytest.mark.usefixtures("planned_once")
def test_the_full_job_mends_more_with_checks_and_fallbacks_than_with_one_attempt_a_fault() -> None:
    plan = plan_of("marigold")
    single = service.plan(with_settings(plan.job, fallbacks=False))
    assert single.outcome.proven
    figures = f"{single.expected_count:.2f} fixes ({single.expected_fixes:.2f} weighted)"
    assert figures in " ".join((EXAMPLES / "marigold" / "README.md").read_text("utf-8").split())
    assert plan.expected_fixes > single.expected_fixes + 1
    assert plan.expected_count > single.expected_count + 1
    mine, its = plan.selection.levels, single.selection.levels
    assert all(mine[stage] >= its[stage] for stage in ("dangerous", "all-faults"))
    assert single.purse.unspent_minor >= 0
    assert plan.purse.unspent_minor >= 0


def test_the_full_job_s_readme_gives_the_plan_s_figures() -> None:
    plan, said = plan_of("marigold"), " ".join((EXAMPLES / "marigold" / "README.md").read_text("utf-8").split())
    text, purse = plan.job.currency.text, plan.purse
    worked_on = sum(choice.route is not None for choice in plan.choices)
    for figure in (
        f"{worked_on} of the {len(plan.choices)} faults are worked on",
        f"{plan.expected_count:.2f} fixes expected ({plan.expected_fixes:.2f} weighted by importance)",
        f"{text(purse.orders_minor)} goes out in orders and {text(purse.direct_minor)} for workshops",
        f"{text(purse.fallbacks_minor)} is kept",
        f"pays out {text(purse.cash_minor)} of the 800",
        f"{text(purse.net_minor)} is what the plan costs on the average",
        f"{round(plan.expected_minutes / 60)} hours as expected, {round(plan.minutes / 60)} at the most",
    ):
        assert figure in said
    looked = {"wipers", "blower", "tail-lift", "reading-room-heater", "step-rear", "step-front"}
    assert {look.fault for look in plan.do_first} == looked
    assert worths(plan, "rear-cylinder-nearside")["feel-bore"].left_out
    assert [choice.fault.id for choice in plan.choices if choice.route is None] == ["air-conditioning"]


def test_every_check_that_the_full_job_begins_with_is_worth_its_time() -> None:
    plan = plan_of("marigold")
    assert len(plan.do_first) >= 3
    must_gain = plan.job.settings.check_must_gain
    for look in plan.do_first:
        assert look.fixes >= must_gain or look.saved_minor >= must_gain * plan.job.pot.remaining_minor
        assert worths(plan, look.fault)[look.check].taken


# ---- look-first: every figure by hand, as its README has it


def test_a_look_saves_a_dear_part() -> None:
    plan = plan_of("look-first")
    (look,) = plan.do_first
    assert (look.fault, look.check, look.minutes) == ("charging", "bypass", 15 + 10)
    rise = 0.40 * 0.95 + 0.50 * 0.05 + 0.10 * 0.45
    with_it, without = (0.40 * 0.95 + 0.50 * 0.95) * 0.95, 0.50 * 0.95
    assert look.fixes == pytest.approx(with_it - without, abs=1e-12)
    money = 11800 - (rise * 2600 + (1 - rise) * 11800)
    minutes = 75 - (10 + rise * 20 + (1 - rise) * 75)
    assert look.saved_minor == pytest.approx(money + minutes / 60 * 460, abs=1e-6)
    choice = plan.choice("charging")
    assert choice.chance == pytest.approx(with_it, abs=1e-12)
    assert (choice.why.reason, choice.why.cost_minor) == (Reason.CHECK_FIRST, 4253)
    assert choice.why.chance == pytest.approx(with_it - without)
    assert choice.route is not None
    assert isinstance(choice.route.first, CheckStep)
    then = {branch.result: branch.then for branch in choice.route.first.then}
    first = {result: node.option.repair for result, node in then.items() if isinstance(node, AttemptStep)}
    assert first == {"rise": "regulator", "stay": "alternator"}
    odds = {one.cause: one.after for one in plan.odds["charging"]}
    assert odds["regulator"]["rise"] == pytest.approx(0.380 / 0.450)
    assert odds["alternator"]["stay"] == pytest.approx(0.475 / 0.550)


def test_without_the_look_the_pot_does_not_do_for_everything() -> None:
    plan, blind = plan_of("look-first"), service.plan(without_checks(job_of("look-first")))
    assert all(choice.route for choice in plan.choices)
    assert [choice.fault.id for choice in blind.choices if choice.route is None] == ["cushions"]
    assert blind.choice("charging").chance == pytest.approx(0.90 * 0.95)
    assert blind.purse.unspent_minor == 19000 - 3980 - (2600 + 11800 + 600), "a second parcel"
    assert plan.expected_fixes > blind.expected_fixes


# ---- look-for-nothing


def test_a_check_that_changes_nothing_is_left_out_and_the_plan_says_so() -> None:
    plan = plan_of("look-for-nothing")
    assert not plan.do_first
    assert all(route.checks == () for route in plan.selection.routes)
    choke = worths(plan, "idle")["choke"]
    assert choke.left_out
    assert choke.fixes == pytest.approx(0, abs=1e-12)
    assert choke.saved_minor == pytest.approx(-15 / 60 * 210, abs=1e-7), "its own quarter of an hour"
    for result in ("evens-out", "stays-rough"):
        likely = {"air-leak": 0.6, "else": 0.4} if result == "evens-out" else {"air-leak": 0.4, "else": 0.6}
        leak, others = 0.18 * likely["air-leak"], (0.45 + 0.27) * likely["else"]
        assert (leak + others) * 0.90 > 3 * leak * 0.98, "the carburettor is the surer by far"
    assert plan.choice("idle").chance == pytest.approx(0.90 * 0.90)


def test_a_check_that_saves_pence_for_an_evening_is_left_out_with_its_figures() -> None:
    plan = plan_of("look-for-nothing")
    metered = worths(plan, "indicators")["meter-switch"]
    assert (metered.left_out, metered.minutes) == (True, 40)
    without = 450 + (1 - 0.72 * 0.98) * 1400
    is_open = 0.18 * 0.95 + 0.82 * 0.05
    opened = is_open * 1400 + (is_open - 0.18 * 0.95 * 0.98) * 450
    shut = (1 - is_open) * 450 + (1 - is_open - 0.72 * 0.95 * 0.98) * 1400
    assert metered.fixes == pytest.approx(0, abs=1e-12)
    minutes_without = 5 + (1 - 0.72 * 0.98) * 50
    minutes_opened = is_open * 50 + (is_open - 0.18 * 0.95 * 0.98) * 5
    minutes_shut = (1 - is_open) * 5 + (1 - is_open - 0.72 * 0.95 * 0.98) * 50
    pence = without - (opened + shut)
    time = (40 + minutes_opened + minutes_shut - minutes_without) / 60 * 210
    assert metered.saved_minor == pytest.approx(pence - time, abs=1e-6)
    assert 0 < pence < plan.job.settings.check_must_gain * plan.job.pot.remaining_minor
    assert plan.choice("indicators").landed_minor == round(without)


def test_the_check_that_saves_pence_is_made_where_pence_count() -> None:
    job = with_settings(job_of("look-for-nothing"), check_must_gain=0.0)
    strict = service.plan(job.model_copy(update={"pot": job.pot.model_copy(update={"hour_worth_minor": 0})}))
    assert [(look.fault, look.check) for look in strict.do_first] == [("indicators", "meter-switch")]
    assert worths(strict, "idle")["choke"].left_out, "what adds nothing goes whatever the limits"


# ---- try-it


def test_trying_the_likeliest_part_comes_before_checking() -> None:
    plan = plan_of("try-it")
    choice = plan.choice("tab-port")
    assert not plan.do_first
    assert choice.route is not None
    assert choice.option is not None
    assert choice.option.repair == "motor"
    assert [step.check for step in choice.route.checks] == ["test-lead"]
    fails = 1 - 0.63 * 0.95
    dead = 0.18 * 0.95 + (0.63 * 0.05 + 0.09 + 0.10) * 0.05
    assert choice.chance == pytest.approx(0.63 * 0.95 + 0.18 * 0.95 * 0.95 + 0.09 * 0.95 * 0.90, abs=1e-12)
    cost = 5000 - fails * 4500 + fails * 900 + dead * 3800 + (fails - dead) * 2400
    assert choice.landed_minor == round(cost)
    assert choice.most_minor == 5000 + 900 + 3800
    assert (choice.why.reason, choice.why.cost_minor) == (Reason.TRY_FIRST, round((1 - fails) * (900 + 25 / 60 * 310)))
    assert choice.why.chance == pytest.approx(0, abs=1e-9)


def test_a_motor_that_did_not_help_may_put_the_other_side_right() -> None:
    job = job_of("try-it")
    assert plan_of("try-it").choice("tab-starboard").route is None
    motor = Piece("the motor that was tried", 0.95)
    failed = FailedAttempt("motor", (motor,))
    tried = job.model_copy(update={"seen": {"tab-port": (failed,)}})
    believed = groups.standings(tried)
    (nearside,) = (fault for fault in job.faults if fault.id == "tab-port")
    sound = kept_sound(nearside, believed["tab-port"].chances, [failed], "motor", motor)
    assert sound == pytest.approx(0.95 * (1 - 0.63) / (1 - 0.95 * 0.63))
    moved = 0.5 * 0.63 + 0.5 * 0.63 * 0.05 / (1 - 0.63 * 0.95)
    assert believed["tab-starboard"].chances["tab-motor"] == pytest.approx(moved)
    shelf = Owned(part="tab-motor", condition="refurbished", good_chance=sound, kept_from="tab-port")
    left = job.pot.model_copy(update={"spent_minor": 5000})
    after = service.plan(tried.model_copy(update={"owned": (shelf,), "pot": left}))
    offside = after.choice("tab-starboard")
    assert offside.chance == pytest.approx(sound * moved)
    assert f"{offside.chance:.3f}" == "0.310"
    assert offside.landed_minor == 0
    again = after.choice("tab-port").route
    assert again is None or all(line.quote.supplier for step in again.attempts for line in step.option.lines)


def test_a_motor_that_helped_makes_it_likelier_on_the_other_side() -> None:
    job = job_of("try-it")
    seen = job.model_copy(update={"seen": {"tab-port": (ItIs("tab-motor"),)}})
    assert groups.standings(seen)["tab-starboard"].chances["tab-motor"] == pytest.approx(0.5 * 0.63 + 0.5)


# ---- scripts


@pytest.mark.usefixtures("planned_once")
@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.stem)
def test_a_script_ends_well_and_says_something(
    script: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    before = {path: path.stat().st_mtime_ns for path in EXAMPLES.rglob("*") if "__pycache__" not in path.parts}
    runpy.run_path(str(script), run_name="__main__")
    said = capsys.readouterr()
    assert said.out.strip()
    assert said.err == ""
    after = {path: path.stat().st_mtime_ns for path in EXAMPLES.rglob("*") if "__pycache__" not in path.parts}
    assert after == before, "a script must leave the examples as they are"
