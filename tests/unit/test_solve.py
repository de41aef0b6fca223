"""The climb over the levels: grouping, exact arithmetic on answers, honest ends, solvers that are missing."""

from __future__ import annotations

import importlib.util
import time
from typing import Any

import pulp
import pytest

from optimiser import service
from optimiser.errors import SolverError
from optimiser.model.job import Fault, Job, Pot, Repair, Solve
from optimiser.model.plan import LAST, Outcome, Selection, per_minor
from optimiser.model.route import Route
from optimiser.planning import options
from optimiser.solver import backends, climbing, exact_solve
from optimiser.solver.formulation import build
from optimiser.solver.program import Mix
from tests.tiny_job import BASE, HORN, LAMP, NEW, VARIANTS, but, planned


def built(job: Job = BASE) -> Mix:
    return build(job, options.build(job))


def valued(mix: Mix, *taken: tuple[str, ...], **others: int) -> climbing.Values:
    """Whole columns: these options taken, their orders placed."""
    values = climbing.nothing_taken(mix) | {mix.take[key].name: 1 for key in taken}
    return values | others


NEW_DISC, USED_DISC, CLEAN = ("horn", "swap", "quotes.csv:2"), ("horn", "swap", "quotes.csv:3"), ("lamp", "clean")


def test_value_stages_are_solved_one_by_one_before_net_cost() -> None:
    mix = built(VARIANTS["safety"])
    groups = [[level.name for level in group] for group in climbing.grouped([*mix.stages, *mix.ties], mix)]
    assert groups[:2] == [["dangerous"], ["all-faults"]]
    assert groups[2][:3] == ["cost-and-time", "suppliers", "minutes"]


def test_no_group_is_wider_than_floats_can_keep_apart() -> None:
    mix = built(but(VARIANTS["safety"], pot=Pot(cap_minor=10**9)))
    levels = [*mix.stages, *mix.ties]
    groups = list(climbing.grouped(levels, mix))
    assert [level for group in groups for level in group] == levels
    for group in groups:
        width = 1
        for level in group:
            width *= level.reach
        assert len(group) == 1 or width <= climbing.WIDEST_OBJECTIVE


def test_an_expression_is_measured_in_whole_numbers() -> None:
    mix = built()
    cash = climbing.measured(mix.cash, valued(mix, NEW_DISC, CLEAN))
    assert (cash, type(cash)) == (1150, int)
    assert climbing.measured(mix.cash + 7, valued(mix)) == 7


def broken(mix: Mix, values: climbing.Values) -> str | None:
    return (exact_solve.broken_row(mix, values) or "").rstrip("0123456789_") or None


def with_orders(mix: Mix, values: climbing.Values) -> climbing.Values:
    """Every column that is no option and no pack set to 1: orders, waivers, opening up."""
    free = {c.name for c in mix.take.values()} | {c.name for c, _ in mix.pack_columns.values()}
    return {name: value if name in free else 1 for name, value in values.items()}


def test_an_answer_that_keeps_every_row_passes() -> None:
    mix = built()
    assert exact_solve.broken_row(mix, with_orders(mix, valued(mix, NEW_DISC, CLEAN))) is None
    assert exact_solve.broken_row(mix, valued(mix)) is None


def test_every_kind_of_broken_row_is_caught() -> None:
    mix = built()
    assert broken(mix, with_orders(mix, valued(mix, NEW_DISC, USED_DISC))) == "one_route"
    assert broken(mix, valued(mix, NEW_DISC)) == "order_for"
    dear = built(but(BASE, pot=Pot(cap_minor=1149)))
    assert broken(dear, with_orders(dear, valued(dear, NEW_DISC, CLEAN))) == "never_over"
    short = built(VARIANTS["hours"])
    short.job = but(short.job)  # the rows alone must say it
    tight = built(but(VARIANTS["hours"], time=but(VARIANTS["hours"].time, hours=0.4)))
    assert broken(tight, with_orders(tight, valued(tight, NEW_DISC, CLEAN))) == "within_hours"
    packs = built(VARIANTS["packs"])
    assert broken(packs, with_orders(packs, valued(packs, NEW_DISC))) == "enough_packs"
    column, _ = packs.pack_columns["quotes.csv:2"]
    assert broken(packs, valued(packs, **{column.name: 1})) == "packs_in_order"
    opened = built(VARIANTS["access"])
    orders_only = with_orders(opened, valued(opened, CLEAN)) | {
        column.name: 0 for name, row in opened.rows if name == "opened_for" for column, factor in row.items()
        if factor < 0
    }  # fmt: skip
    assert broken(opened, orders_only) == "opened_for"


def test_a_level_that_was_given_up_is_caught() -> None:
    mix = built()
    mix.stages[0].at_least(1_482_000)
    values = with_orders(mix, valued(mix, USED_DISC, CLEAN))
    assert exact_solve.broken_row(mix, values) == "all-faults"


def test_release_gives_every_bound_back() -> None:
    mix = built(VARIANTS["safety"])
    before = [(c.lowBound, c.upBound) for c in [*mix.take.values(), *(s.column for s in [*mix.stages, *mix.ties])]]
    climbing.climb(mix, [*mix.stages, *mix.ties], climbing.Clock(30), climbing.nothing_taken(mix))
    for column in mix.take.values():
        column.lowBound = column.upBound = 1
    climbing.release(mix)
    after = [(c.lowBound, c.upBound) for c in [*mix.take.values(), *(s.column for s in [*mix.stages, *mix.ties])]]
    assert after == before


def test_the_same_program_asked_again_gives_the_same_answer() -> None:
    mix = built(VARIANTS["safety"])
    levels = [*mix.stages, *mix.ties]
    first = climbing.climb(mix, levels, climbing.Clock(30), climbing.nothing_taken(mix))
    climbing.release(mix)
    again = climbing.climb(mix, levels, climbing.Clock(30), climbing.nothing_taken(mix))
    assert (first.levels, first.values) == (again.levels, again.values)


def test_of_what_is_free_no_more_packs_are_taken_than_are_wanted() -> None:
    """Where the time ends before the tie-breaks, nothing else keeps a pack too many out of the order."""
    free = but(VARIANTS["packs"], quotes=(but(VARIANTS["packs"].quotes[0], price_minor=0, pack=2),))
    mix = built(free)
    column, most = mix.pack_columns["quotes.csv:2"]
    second = ("second-horn", *NEW_DISC[1:])
    values = valued(mix, NEW_DISC, second, **{column.name: most + 1})
    found = climbing.Climb(climbing.Ending.OPEN, values, {}, Outcome(proven=False))
    assert dict(climbing.selection(mix, found).packs) == {"quotes.csv:2": 1}


def test_what_cannot_be_is_said_to_be_impossible() -> None:
    mix = built()
    mix.take[NEW_DISC].lowBound = mix.take[USED_DISC].lowBound = 1
    assert climbing.climb(mix, mix.stages, climbing.Clock(30)).ending is climbing.Ending.IMPOSSIBLE


@pytest.mark.parametrize("variant", ["base", "safety", "packs", "profit", "free_over", "empty"])
def test_no_time_at_all_gives_an_honest_bound(variant: str) -> None:
    """Whatever the clock allowed, what is promised is no less than what the proven plan reaches."""
    job = VARIANTS[variant]
    hurried = service.plan(but(job, solve=Solve(seconds=1e-9)))
    proven = planned(variant)
    outcome = hurried.outcome
    if hurried.outcome.proven:
        assert hurried.selection.levels == proven.selection.levels
        return
    assert outcome.better_at_most > 0
    reached = hurried.selection.levels[outcome.stage]
    best = proven.selection.levels[outcome.stage]
    assert reached <= best <= reached + outcome.better_at_most


def test_no_time_at_all_is_not_proven_where_there_is_something_to_decide() -> None:
    assert not service.plan(but(BASE, solve=Solve(seconds=1e-9))).outcome.proven
    assert service.plan(VARIANTS["empty"]).outcome.proven


def test_a_time_limit_on_a_hard_job_ends_in_time_with_an_honest_bound() -> None:
    """Forty faults whose prices and values all but tie: more than a tenth of a second's work."""
    faults = tuple(
        Fault(id=f"f{n:02}", severity="minor", importance=1 + (n * 7919 % 997) / 1e5,
              repairs=tuple(Repair(id=f"r{k}", chance=0.5 + k / 10 + (n * 31 + k * 17) % 89 / 1e4,
                                   price_minor=10000 + 3000 * k + (n * 271 + k * 113) % 997) for k in range(4)))
        for n in range(40)
    )  # fmt: skip
    job = but(BASE, faults=faults, quotes=(), pot=Pot(cap_minor=273_331), solve=Solve(seconds=0.1))
    started = time.monotonic()
    hurried = service.plan(job)
    assert time.monotonic() - started < 10
    longer = service.plan(but(job, solve=Solve(seconds=1.0)))
    outcome = hurried.outcome  # how far it came depends on the machine; whatever it says must be true
    reached, later = (plan.selection.levels[outcome.stage or "all-faults"] for plan in (hurried, longer))
    if outcome.stage in LAST:
        assert hurried.selection.levels["all-faults"] == longer.selection.levels["all-faults"]
        assert later >= reached - outcome.better_at_most * per_minor(outcome.stage)
    else:
        assert later <= reached + outcome.better_at_most


def test_a_solver_that_lies_twice_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    careful_runs = []

    def lying(mix: Mix, _: float, **how: bool) -> backends.Answer:
        careful_runs.append(how["careful"])
        return backends.Answer(valued(mix, NEW_DISC, USED_DISC), 0.0, 0.0, finished=True)

    monkeypatch.setattr(backends, "run", lying)
    with pytest.raises(SolverError, match="breaks the row"):
        service.plan(BASE)
    assert careful_runs == [False, True]


def test_a_solver_that_reports_an_objective_it_did_not_reach_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    def boasting(mix: Mix, _: float, **__: float) -> backends.Answer:
        return backends.Answer(
            with_orders(mix, valued(mix, USED_DISC, CLEAN)), -1_482_000.0, -1_482_000.0, finished=True
        )

    monkeypatch.setattr(backends, "run", boasting)
    with pytest.raises(SolverError, match="objective"):
        service.plan(BASE)


def test_a_solver_that_is_stopped_short_leaves_the_bound_it_knew(monkeypatch: pytest.MonkeyPatch) -> None:
    run = backends.run

    def stopped(mix: Mix, seconds: float, *, careful: bool, at_most: float) -> backends.Answer:
        whole = run(mix, seconds, careful=careful, at_most=at_most)
        return backends.Answer(whole.values, whole.objective, whole.objective - 2.5, finished=False)

    monkeypatch.setattr(backends, "run", stopped)
    outcome = service.plan(but(BASE, pot=Pot(cap_minor=800))).outcome
    assert (outcome.proven, outcome.stage, outcome.unit) == (False, "all-faults", "fixes")
    assert outcome.better_at_most == 120_000  # 0.88, 0.72 and 0.60 are whole steps of 0.04


def test_values_far_from_whole_are_refused() -> None:
    mix = built()
    for column in mix.integers:
        column.varValue = 0.0
    mix.integers[0].varValue = 0.9999999
    assert backends._whole_values(mix)[mix.integers[0].name] == 1
    mix.integers[0].varValue = 0.9
    with pytest.raises(SolverError, match=r"left c\d+ at 0.9"):
        backends._whole_values(mix)


def test_a_missing_cbc_is_named_with_the_mend(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("PULP_CBC_CMD", "COIN_CMD"):
        monkeypatch.delattr(pulp, name, raising=False)
    with pytest.raises(SolverError, match=r"CBC is not on this machine.*optimiser\[cbc\]"):
        service.plan(but(BASE, solve=Solve(solver="cbc")))


def cbc_is_here() -> bool:
    try:
        backends._cbc(1, careful=False)
    except SolverError:
        return False
    return True


@pytest.mark.skipif(not cbc_is_here(), reason="PuLP 4 brings no CBC and none is installed")
@pytest.mark.parametrize("variant", ["base", "packs", "free_over", "minimum_order", "profit"])
def test_cbc_gives_the_same_plan(variant: str) -> None:
    job = but(VARIANTS[variant], solve=Solve(solver="cbc"))
    mine, theirs = service.plan(job).selection, planned(variant).selection
    assert (mine.options, dict(mine.packs), dict(mine.levels)) == (theirs.options, dict(theirs.packs), dict(theirs.levels))  # noqa: E501 # fmt: skip


def test_a_missing_highs_is_a_solver_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "highspy", None)
    assert importlib.util.find_spec("pulp") is not None
    with pytest.raises((SolverError, ImportError)):
        service.plan(BASE)


def test_solvers_print_nothing(capfd: pytest.CaptureFixture[str]) -> None:
    service.plan(VARIANTS["packs"])
    assert capfd.readouterr() == ("", "")


def test_the_nearest_of_equal_plans_is_kept() -> None:
    twin = but(NEW, id="quotes.csv:9", supplier="birch")
    job = but(BASE, quotes=(NEW, twin))
    first = service.plan(job).selection
    assert first.route_for("horn").option.lines[0].quote.supplier == "alder"
    other = next(o for o in options.build(job).options if o.key[-1] == "quotes.csv:9")
    last: Any = Selection(routes=(Route.once(other),), packs={}, levels={}, outcome=first.outcome)
    assert service.plan(job, last).choice("horn").option == other
    assert service.compare(job, "horn", last).plan.choice("horn").option == other


def test_ties_fall_to_fewer_suppliers_then_fewer_minutes() -> None:
    pin = Fault(id="pin", severity="minor", repairs=(Repair(id="r", chance=0.5, parts={"pin": 1}),))
    quotes = tuple(
        but(NEW, id=f"quotes.csv:{n}", part=part, supplier=supplier, price_minor=100)
        for n, (part, supplier) in enumerate([("disc", "alder"), ("disc", "zeta"), ("pin", "zeta")], start=2)
    )
    plan = service.plan(but(BASE, faults=(HORN, pin), quotes=quotes))
    assert [order.supplier.id for order in plan.orders] == ["zeta"]
    slow = Repair(id="a-slow", chance=0.6, price_minor=250, minutes=11)
    plan = service.plan(but(BASE, faults=(but(LAMP, repairs=(slow, *LAMP.repairs)),)))
    assert plan.choice("lamp").option.repair == "clean"


@pytest.mark.parametrize("cap", [1149, 1150, 1151])
def test_a_penny_short_is_short_where_all_prices_are_whole_fifties(cap: int) -> None:
    """The new disc at 9.00 and the lamp at 2.50; a penny less pays for the used one at 3.00."""
    plan = service.plan(but(BASE, pot=Pot(cap_minor=cap)))
    assert (plan.purse.cash_minor, plan.outcome.proven) == (1150 if cap >= 1150 else 550, True)


@pytest.mark.parametrize("known", [0, 1, 12, 10**6])
def test_what_is_known_of_an_answer_never_changes_the_answer(known: int) -> None:
    """Even where it is wrong: no mix costs less than nothing, and one that mends both costs 1250."""
    mix = built(but(BASE, pot=Pot(cap_minor=2000)))
    for stage in mix.stages[:-1]:
        stage.at_least(stage.high)
    ending, plain = exact_solve.solve(mix, mix.cash, 10)
    assert ending is exact_solve.Ending.CLOSED
    assert plain is not None
    for wrong_or_right in (known, plain.objective, plain.objective + known):
        ending, answer = exact_solve.solve(mix, mix.cash, 10, known=wrong_or_right)
        assert ending is exact_solve.Ending.CLOSED
        assert answer is not None
        assert (answer.objective, answer.values) == (plain.objective, plain.values)


def test_a_mix_that_is_known_only_spares_the_solver_work(monkeypatch: pytest.MonkeyPatch) -> None:
    """HiGHS is told how good a mix is that is known, from the second stage on, and never to look for a worse one."""
    told = list[float]()
    asked = backends._asked_of_highs

    def listening(mix: Mix, seconds: float, at_most: float, *, presolve: bool) -> backends.Answer:
        told.append(at_most)
        answer = asked(mix, seconds, at_most, presolve=presolve)
        assert not answer.values or answer.objective <= at_most + 1e-6
        return answer

    monkeypatch.setattr(backends, "_asked_of_highs", listening)
    service.plan(VARIANTS["safety"])
    assert told
    assert all(limit < float("inf") for limit in told)
