"""What time cuts: the plan is certified, says what was not searched, and its bound holds over the whole search."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from itertools import count
from math import inf
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser import service
from optimiser.cache import Cache
from optimiser.diagnosis import candidates, check_value, dynamic_program, kept_routes
from optimiser.diagnosis.limits import TimeOverError
from optimiser.model.candidates import Offer
from optimiser.model.job import Job
from optimiser.model.plan import LAST, MONEY, Notice, Outcome, Remark, Selection, per_minor
from optimiser.model.quotes import Quote
from optimiser.planning import choose, options, safety_cost
from optimiser.solver import exact_solve, narrowing, solve
from optimiser.solver.backends import Answer
from optimiser.solver.exact_solve import Clock, Ending
from optimiser.solver.program import Program, total
from tests.bench import generate
from tests.bench.played.jobs import job_of
from tests.effort import examples
from tests.property.test_many_checks import many
from tests.searching import put_forward
from tests.small_route_jobs import crowded_of, jobs
from tests.tiny_job import ROUTED, but

pytestmark = pytest.mark.long


def over_after(looks: int) -> Clock:
    """A clock that is over once it was looked at so many times after it was made."""
    seen = count()
    return Clock(1.0, lambda: 0.0 if next(seen) <= looks else inf)


def quiet(_: str) -> None:
    pass


def uncached(job: Job) -> Job:
    return but(job, solve=but(job.solve, cache=False))


def holds(job: Job, best: Selection, found: Selection) -> bool:
    """Whether nothing that is possible is better than is said; where it is proven, nothing is better at all."""
    slack = len(job.faults) if job.settings.aim == "profit" else 0  # profit is rounded route by route
    for stage, reached in best.levels.items():
        if stage in LAST:
            break
        mine, outcome = found.levels[stage], found.outcome
        if outcome.proven or mine != reached:
            return reached <= mine + (0 if outcome.proven else per_minor(stage) * outcome.better_at_most) + slack
    return True


def hurried(notices: tuple[Notice, ...]) -> set[str]:
    return {fault for said in notices if said.remark == Remark.TIME_OVER for fault in said.about}


# ---- the routes


@examples(40, usual=5)
@given(jobs(), st.sampled_from([0, 1, 3, 10, 40, 150]))
def test_a_search_that_the_clock_cuts_keeps_its_bound(job: Job, looks: int) -> None:
    whole = put_forward(job)
    if whole.outcome.proven:
        assert holds(job, whole, put_forward(job, clock=over_after(looks)))


@pytest.mark.parametrize("in_short", [0.0, 1.0])
@examples(24, usual=3)
@given(jobs())
def test_a_plan_without_time_for_its_routes_is_certified_and_not_proven(in_short: float, job: Job) -> None:
    job = uncached(job)
    whole = service.plan(job)
    with pytest.MonkeyPatch.context() as no_time:
        no_time.setattr(choose, "SHARE_OF_TIME", 0.0)
        no_time.setattr(choose, "SHARE_IN_SHORT", in_short)
        plan = service.plan(job)  # certified, or it would raise
    searched = {option.fault for option in options.build(job, {fault.id for fault in job.faults}).options}
    assert hurried(plan.notices) == searched
    assert not (searched and plan.outcome.proven and job.settings.aim == "fixes")
    if whole.outcome.proven:
        assert holds(job, whole.selection, plan.selection)
    if plan.outcome.stage == "all-faults":  # nothing mends more than everything there is
        everything = sum(fault.importance for fault in job.faults)
        assert plan.selection.levels["all-faults"] + plan.outcome.better_at_most <= 1e6 * everything + len(job.faults)


def test_the_seconds_bind_the_routes_by_the_looks_at_the_clock() -> None:
    """A tick a look: what is still searched once the time is over is the least of each fault that is left."""
    job = uncached(generate.with_checks(generate.job(8, 40, seed=3)))
    offer, ticks = options.build(job, whole={fault.id for fault in job.faults}), count()

    def ticking() -> float:
        return next(ticks) / 100

    def searched(seconds: float) -> tuple[int, choose.Search]:
        before, search = next(ticks), choose.Search(job, offer, quiet, clock=Clock(seconds, ticking))
        search.offer()
        return next(ticks) - before, search

    looks, whole = searched(inf)
    assert not any(found.hurried for found in whole.found.values())
    few, cut = searched(2.0)
    late = [fault for fault, found in cut.found.items() if found.hurried]
    assert few < 200 + 3 * len(job.faults) < looks / 4
    assert 0 < len(late) < len(job.faults)
    assert max(whole.faults[f].size for f in cut.found if f not in late) <= min(whole.faults[f].size for f in late)


def test_without_time_nothing_gets_into_the_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setattr(choose, "WORTH_KEEPING", -1.0)
    job = ROUTED["small"]
    with pytest.MonkeyPatch.context() as no_time:
        no_time.setattr(choose, "SHARE_OF_TIME", 0.0)
        assert hurried(service.plan(job).notices)
    folder = Cache.of_user("routes").folder
    assert not folder.exists() or not list(folder.iterdir())
    assert service.plan(job).outcome.proven
    assert list(folder.iterdir())


def test_very_many_faults_are_counted() -> None:
    said = choose._about(Remark.TIME_OVER, [f"fault-{n}" for n in range(30)]).about
    assert said == (*(f"fault-{n}" for n in range(8)), "22 more")


# ---- checks


def test_checks_that_there_is_no_time_to_judge_are_named() -> None:
    job, ticks = ROUTED["small"], [0.0]
    clock = Clock(1.0, lambda: ticks[0])
    search = choose.Search(job, options.build(job, whole={"blower"}), quiet, clock=clock)
    mix = solve.best(job, search.offer())
    pick, verdicts = search.judge(search.pick(mix))
    assert verdicts.keys() == {"blower"}
    assert pick.cut == ()
    ticks[0] = 2.0
    pick, verdicts = search.judge(search.pick(mix))
    assert verdicts == {}
    assert pick.cut == (Notice(remark=Remark.CHECKS_UNJUDGED, about=("blower",)),)


def test_an_idle_check_stays_where_there_is_no_time_to_plan_without_it(monkeypatch: pytest.MonkeyPatch) -> None:
    job, offered = uncached(ROUTED["small"]), choose.Search.offer

    def once(self: choose.Search, *, whole: bool = False) -> Offer:
        if whole:
            raise TimeOverError
        return offered(self)

    assert choose.chosen(job, None, quiet).selection.routes[0].checks == ()
    monkeypatch.setattr(choose.Search, "offer", once)
    plan = service.plan(job)
    assert plan.selection.routes[0].checks
    assert Notice(remark=Remark.CHECKS_UNJUDGED, about=("blower",)) in plan.notices


@examples(30, usual=4)
@given(jobs(), st.integers(0, 10**6))
def test_the_bound_of_a_question_holds_for_one_with_fewer_mixes(job: Job, seed: int) -> None:
    """Whatever routes are gone, and whether what was asked before was proven or not."""
    offer = options.build(job, whole={fault.id for fault in job.faults})
    put = choose.Search(job, offer, quiet).offer()
    fewer = replace(put, routes=tuple(p for n, p in enumerate(put.proposals) if (seed >> n % 20) & 1))
    before, best = solve.solved(job, put), solve.solved(job, fewer)
    assert before.found.outcome.proven
    of_all, of_few = before.found.levels, best.found.levels
    beside = best.of_fewer(before).found.outcome
    stage = next((stage for stage in of_all if of_all[stage] != of_few[stage]), "")
    assert (beside.proven, beside.stage, beside.unit) == (not stage, stage, "money" if stage in MONEY else "fixes")
    if stage:
        assert 0 <= per_minor(stage) * beside.better_at_most - abs(of_all[stage] - of_few[stage]) < per_minor(stage)
    last = list(of_all)[-1]
    unit = "money" if last in MONEY else "fixes"
    open_end = Outcome(proven=False, stage=last, unit=unit, better_at_most=7)
    known = replace(before, found=replace(before.found, outcome=open_end))
    beside = best.of_fewer(known).found.outcome
    assert beside.stage == (stage or last)
    if beside.stage == last:
        assert beside.better_at_most >= 7
    assert not beside.proven


def test_a_later_round_without_time_keeps_what_was_chosen(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every mix but one over little is broken off: the others stay, and the bound of the first round holds."""
    job = uncached(generate.with_checks(generate.job(8, 40, seed=8)))
    solved, rounds = solve.solved, list[int]()

    def broken_off(job: Job, offer: Offer, *words: object, **more: object) -> solve.Solved:
        found = solved(job, offer, *words, **more)
        rounds.append(len(offer.proposals))
        if len(rounds) == 1:
            stage = list(found.found.levels)[-1]
            unproven = Outcome(proven=False, stage=stage, unit="money", better_at_most=1_000)
            found = replace(found, found=replace(found.found, outcome=unproven))
        return found

    best = service.plan(job)
    monkeypatch.setattr(solve, "solved", broken_off)
    plan = service.plan(job)
    assert len(rounds) > 1
    assert all(later < rounds[0] / 2 for later in rounds[1:])
    assert not plan.outcome.proven
    assert holds(job, best.selection, plan.selection)


# ---- one fault with very many ways


def test_too_many_labels_leave_the_least_telling_checks_out(monkeypatch: pytest.MonkeyPatch) -> None:
    job = uncached(many(5))
    whole = service.plan(job)
    monkeypatch.setattr(dynamic_program, "MOST_MADE", 10_000)
    plan = service.plan(job)
    assert [said.about for said in plan.notices if said.remark == Remark.CHECKS_CUT] == [("horn", "2")]
    assert not plan.outcome.proven
    assert holds(job, whole.selection, plan.selection)


@examples(20, usual=3)
@given(jobs())
def test_where_buying_ahead_would_be_too_much_nothing_is_bought_ahead(job: Job) -> None:
    def found() -> list[object]:
        search = choose.Search(uncached(job), options.build(job, whole={fault.id for fault in job.faults}), quiet)
        return [p.read() for one in search.faults.values() for p in one.put_forward(one.searched()).proposals]

    with pytest.MonkeyPatch.context() as none:
        none.setattr(candidates.FaultSearch, "bought_ahead", lambda _: [])
        without = found()
    with pytest.MonkeyPatch.context() as too_much:
        too_much.setattr(dynamic_program, "MOST_MADE_WHOLE", -1)
        assert found() == without


def test_a_plan_for_which_buying_ahead_was_too_much_is_not_proven(monkeypatch: pytest.MonkeyPatch) -> None:
    job = uncached(crowded_of(7247766))
    whole = service.plan(job)
    monkeypatch.setattr(dynamic_program, "MOST_MADE_WHOLE", -1)
    plan = service.plan(job)
    assert {said.about for said in plan.notices if said.remark == Remark.AHEAD_CUT} == {("fault-0",)}
    assert (whole.outcome.proven, plan.outcome.proven) == (True, False)
    assert holds(job, whole.selection, plan.selection)


def test_a_search_too_large_to_buy_ahead_breaks_off_before_it_makes_its_labels(monkeypatch: pytest.MonkeyPatch) -> None:
    made = list[int]()
    work = dynamic_program.Sweep.work

    def counted(sweep: dynamic_program.Sweep, labels: int) -> None:
        work(sweep, labels)
        if sweep.whole:
            made.append(sweep.made)

    monkeypatch.setattr(dynamic_program.Sweep, "work", counted)
    job = uncached(job_of(3, seconds=600.0))
    service.plan(job)
    whole = max(made)
    made.clear()
    monkeypatch.setattr(dynamic_program, "MOST_MADE_WHOLE", whole // 4)
    service.plan(job)
    assert 0 < max(made) <= whole // 4


def test_a_search_that_was_too_much_is_not_begun_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.setattr(choose, "WORTH_KEEPING", -1.0)
    monkeypatch.setattr(dynamic_program, "MOST_MADE", 10_000)
    first = service.plan(many(5))
    monkeypatch.setattr(candidates.FaultSearch, "searched", None)
    assert service.plan(many(5)).selection == first.selection


@examples(30, usual=4)
@given(jobs(), st.sampled_from([1, 3, 20]))
def test_labels_made_a_few_at_a_time_are_the_same(job: Job, most: int) -> None:
    def found() -> list[object]:
        search = choose.Search(job, options.build(job, whole={fault.id for fault in job.faults}), quiet)
        return [one.searched().rows for one in search.faults.values()]

    at_once = found()
    with pytest.MonkeyPatch.context() as few:
        few.setattr(dynamic_program, "MOST_AT_ONCE", most)
        assert found() == at_once


def test_what_is_compared_at_once_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    """Memory goes with it: of seven checks two gigabytes were taken for all labels of as many actions together."""
    sizes, add = list[int](), dynamic_program.Tables._kept

    def kept(self: dynamic_program.Tables, labels: dynamic_program.Labels, *rest: object) -> object:
        sizes.append(len(labels))
        return add(self, labels, *rest)

    monkeypatch.setattr(dynamic_program.Tables, "_kept", kept)
    monkeypatch.setattr(dynamic_program, "MOST_AT_ONCE", 5_000)
    service.plan(uncached(many(5)))
    assert max(sizes) < 5 * 5_000 < sum(sizes)


# ---- what is asked beside the plan, and the solver's own time


def test_what_safety_costs_is_not_asked_once_the_time_is_over() -> None:
    pick = choose.chosen(ROUTED["small"], None, quiet)
    assert not safety_cost._may_differ(replace(pick, clock=Clock(0.0)))


def test_of_two_answers_the_better_is_kept_with_a_bound_over_all(monkeypatch: pytest.MonkeyPatch) -> None:
    """The search over all routes is broken off with less than the promising ones gave."""
    job = generate.job(12, 90, seed=4)
    offer = options.build(job)
    best = solve.solved(job, offer)
    monkeypatch.setattr(exact_solve, "WORTH_RELAXING", 0)
    monkeypatch.setattr(exact_solve, "WORTH_SORTING", 0)
    monkeypatch.setattr(exact_solve, "CORE", 1)
    solved, asked = exact_solve.solve, list[Answer]()

    def worse(mix, objective, seconds, step=None, known=inf):
        ending, answer = solved(mix, objective, seconds, step, known)
        asked.append(answer)
        if len(asked) == 2:
            return Ending.OPEN, replace(answer, values=asked[0].values, objective=asked[0].objective + 500)
        return ending, answer

    monkeypatch.setattr(exact_solve, "solve", worse)
    mix = best.left.program()
    stage = mix.stages[1]
    ending, answer = exact_solve.sorted_solve(mix, total([-1 * stage.measures]), 30, {}, inf)
    assert len(asked) == 2
    assert ending is Ending.OPEN
    assert answer.objective == asked[0].objective
    assert answer.bound <= asked[1].objective


def test_the_promising_routes_are_held_to_a_good_mix_only_where_they_have_its_routes(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Else what is known of would be no reason to look for nothing worse among these."""
    best = solve.solved(job := generate.job(12, 90, seed=4), options.build(job))
    monkeypatch.setattr(exact_solve, "WORTH_SORTING", 0)
    monkeypatch.setattr(exact_solve, "CORE", 1)
    solved, held = exact_solve.solve, list[float]()

    def seen(mix, objective, seconds, step=None, known=inf):
        held.append(known)
        return solved(mix, objective, seconds, step, known)

    monkeypatch.setattr(exact_solve, "solve", seen)
    mix = best.left.program()
    known, routes = -best.left.floors[mix.stages[1].name], {column.name for column in mix.take.values()}
    assert mix.good
    assert mix.good < routes
    found = set[int]()
    for good in (mix.good, frozenset[str]()):
        mix.good = good
        _, answer = exact_solve.sorted_solve(mix, total([-1 * mix.stages[1].measures]), 30, {}, known)
        found.add(round(-answer.objective))
        assert held[0] == (known if good else inf)
        held.clear()
    assert len(found) == 1


# ---- judging


def test_judging_reckons_again_only_the_orders_that_a_route_touches(monkeypatch: pytest.MonkeyPatch) -> None:
    job = generate.with_checks(generate.job(12, 48, seed=2))
    pick = choose.chosen(job, None, quiet)
    reckoned, order, one_more, routes = [0], check_value._Sums._order, check_value._Sums.with_shared, [0]

    def ordered(self: check_value._Sums, supplier: str) -> int | None:
        reckoned[0] += 1
        return order(self, supplier)

    def with_shared(self: check_value._Sums, route: object) -> check_value._Sums:
        routes[0] += 1
        return one_more(self, route)

    monkeypatch.setattr(check_value._Sums, "_order", ordered)
    monkeypatch.setattr(check_value._Sums, "with_shared", with_shared)
    assert pick.search is not None
    _, verdicts = pick.search.judge(pick)
    assert len(verdicts) > 5
    assert reckoned[0] < min(len(verdicts) * len(job.suppliers) + 3 * routes[0], routes[0] * len(job.suppliers) / 2)


def test_what_all_faults_hang_on_is_told_once_for_the_cache(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    job = generate.with_checks(generate.job(20, 100, seed=1))
    search = choose.Search(job, options.build(job, whole={fault.id for fault in job.faults}), quiet)
    told, dumped = Counter[str](), Quote.model_dump_json

    def counted(self: Quote, **more: object) -> str:
        told[self.id] += 1
        return dumped(self, **more)

    monkeypatch.setattr(Quote, "model_dump_json", counted)
    names = {b"".join(kept_routes.content(one)) for one in search.faults.values()}
    assert len(names) == len(job.faults)
    assert 0 < max(told.values()) == 1


def test_what_is_stated_of_very_many_routes_keeps_to_the_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """A clock that goes by rows and columns stated: little time, some of the routes; much, all of them, proven."""
    job = generate.job(40, 300, 1)
    offer, stated = options.build(job), [0]

    def counted(stating: Callable[..., Any]) -> Callable[..., Any]:
        def one_more(*told: Any, **more: Any) -> Any:
            stated[0] += 1
            return stating(*told, **more)

        return one_more

    for name in ("row", "continuous", "definition"):
        monkeypatch.setattr(Program, name, counted(getattr(Program, name)))
    monkeypatch.setattr(narrowing, "VERY_MANY", 80)
    monkeypatch.setattr(narrowing, "FIRST_FEW", 30)

    def within(seconds: float) -> tuple[int, Selection]:
        stated[0] = 0
        found = solve.best(job, offer, clock=Clock(seconds, lambda: float(stated[0])))
        return stated[0], found

    least, fewest = within(1)
    whole, best = within(1e9)
    assert best.outcome.proven
    assert fewest.routes
    for seconds in (2 * least, 4 * least, 7 * least):
        used, found = within(seconds)
        assert used <= seconds < whole
        assert not found.outcome.proven
        assert holds(job, best, found)
        assert tuple(found.levels.values())[:-1] >= tuple(fewest.levels.values())[:-1]
    assert found.levels != fewest.levels, "with more time more of it is stated"
    assert holds(job, best, fewest)
