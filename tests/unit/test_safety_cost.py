"""What safety first costs: by hand, and against every mix written out."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser import service
from optimiser.model.job import Fault, Job, Pot, Repair, Settings, Time
from optimiser.model.plan import ALL_FAULTS, SafetyCost
from optimiser.planning import choose, safety_cost
from optimiser.show import as_json, outcome_words
from optimiser.solver import solve
from optimiser.solver.narrowing import WORTH_SHRINKING
from tests.bench import generate
from tests.effort import FULL, examples
from tests.tiny_job import TODAY, but


def fault(name: str, severity: str, *ways: tuple[float, int], importance: float = 1.0) -> Fault:
    repairs = tuple(Repair(id=f"way-{n}", chance=chance, price_minor=price) for n, (chance, price) in enumerate(ways))
    return Fault(id=name, severity=severity, importance=importance, repairs=repairs)


def job(*faults: Fault, cap: int = 3000, **more: object) -> Job:
    return Job(settings=Settings(currency="GBP", today=TODAY, fallbacks=False, **more), pot=Pot(cap_minor=cap),
               faults=faults)  # fmt: skip


BRAKES = fault("brakes", "dangerous", (0.9, 3000))
SMALL = tuple(fault(name, "minor", (0.9, 1000)) for name in ("lamp", "horn", "seat"))


def cost(of: Job) -> SafetyCost | None:
    return service.plan(of).safety_cost


def test_one_dangerous_fault_takes_what_three_small_ones_would() -> None:
    found = cost(job(BRAKES, *SMALL))
    assert found is not None
    assert (found.kept_minor, dict(found.without)) == (3000, {"brakes": 0.0})
    assert (found.fixes, found.count) == (pytest.approx(1.8), pytest.approx(1.8))
    plan = service.plan(job(BRAKES, *SMALL))
    assert outcome_words.safety(plan) == (
        "Safety first keeps 30.00 GBP for brakes (90%, without it 0%). Without it the plan would mend 1.80 more."
    )
    assert as_json.plan(plan)["safety_costs"] == {
        "kept": "30.00", "fixes_more_without": pytest.approx(1.8), "count_more_without": pytest.approx(1.8),
        "chance_without": {"brakes": 0.0},
    }  # fmt: skip


def test_a_cheaper_way_with_the_dangerous_fault_frees_the_difference() -> None:
    brakes = fault("brakes", "dangerous", (0.8, 3000), (0.5, 1000))
    found = cost(job(brakes, *SMALL))
    assert found is not None
    assert (found.kept_minor, dict(found.without)) == (3000, {"brakes": 0.0})
    heavy = cost(job(but(brakes, importance=4.0), *SMALL))
    assert heavy is not None
    assert (heavy.kept_minor, dict(heavy.without)) == (2000, {"brakes": 0.5})
    assert (heavy.fixes, heavy.count) == (pytest.approx(1.8 - 4 * 0.3), pytest.approx(1.5))
    assert "mend 1.50 more (0.60 weighted by importance)" in (outcome_words.safety(service.plan(job(but(brakes, importance=4.0), *SMALL))) or "")  # noqa: E501 # fmt: skip


SILENT: dict[str, Job] = {
    "safety off": job(BRAKES, *SMALL, safety_first=False),
    "nothing dangerous": job(but(BRAKES, severity="major"), *SMALL),
    "a tenth of a fix": job(fault("brakes", "dangerous", (0.85, 3000)), fault("lamp", "minor", (0.95, 3000))),
    "all at their best": job(BRAKES, *SMALL, cap=6000),
    "nothing spent on it": job(fault("brakes", "dangerous", (0.9, 0)), *SMALL),
}


@pytest.mark.parametrize("what", SILENT)
def test_nothing_is_said(what: str) -> None:
    plan = service.plan(SILENT[what])
    assert plan.safety_cost is None
    assert outcome_words.safety(plan) is None
    assert as_json.plan(plan)["safety_costs"] is None


@pytest.mark.parametrize("what", ["safety off", "nothing dangerous", "all at their best", "nothing spent on it"])
def test_nothing_is_solved_where_nothing_can_differ(what: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def asked(_: choose.Chosen) -> None:
        raise AssertionError("solved once more")

    monkeypatch.setattr(safety_cost, "unsafe_best", asked)
    assert cost(SILENT[what]) is None


def test_a_mix_that_passes_the_hours_is_no_rival() -> None:
    slow = tuple(but(one, repairs=(but(one.repairs[0], minutes=60),)) for one in SMALL)
    timed = but(job(BRAKES, *slow), time=Time(hours=0.5), settings=but(job().settings, fallbacks=True))
    assert cost(timed) is None


ways = st.lists(
    st.tuples(st.sampled_from([0.2, 0.4, 0.55, 0.7, 0.9, 0.97]), st.integers(0, 30)), min_size=1, max_size=3
)
rows = st.lists(st.tuples(st.sampled_from(["dangerous", "major", "minor"]), st.sampled_from([1.0, 2.0]), ways),
                min_size=1, max_size=4)  # fmt: skip


@examples(40, usual=5)
@given(rows, st.integers(0, 60))
def test_against_every_mix_there_is(drawn: list[tuple[str, float, list[tuple[float, int]]]], cap: int) -> None:
    faults = [fault(f"f{n}", grave, *some, importance=weight) for n, (grave, weight, some) in enumerate(drawn)]
    plan = service.plan(job(*faults, cap=cap))
    mixes = [
        sum(one.importance * repair.chance for one, repair in zip(faults, mix, strict=True) if repair)
        for mix in product(*((None, *one.repairs) for one in faults))
        if sum(repair.price_minor for repair in mix if repair) <= cap
    ]
    more = max(mixes) - plan.expected_fixes
    if abs(more - 0.1) < 0.02:
        return
    found = plan.safety_cost
    assert (found is not None) is (more > 0.1)
    if found is not None:
        assert found.fixes == pytest.approx(more)
        assert all(chance < plan.choice(name).chance for name, chance in found.without.items())
        assert {plan.choice(name).fault.severity for name in found.without} == {"dangerous"}


@pytest.mark.long
@pytest.mark.parametrize("seed", range(4 if FULL else 3))
def test_of_many_routes_the_most_valued_is_what_the_first_stage_of_a_plan_without_safety_reaches(seed: int) -> None:
    """With more routes than are stated at once, whatever the mix must pass."""
    pick = choose.chosen(generate.with_checks(generate.job(7, 30, seed), seed), None, lambda _: None)
    settings = pick.solved.settings.model_copy(update={"safety_first": False})
    unsafe = pick.solved.model_copy(update={"settings": settings})
    assert len(pick.offer.proposals) > WORTH_SHRINKING
    level = solve.best(unsafe, pick.offer).levels[ALL_FAULTS]
    for more_than in (0, level - 1):
        found = solve.most_valued(unsafe, pick.offer, more_than, 30.0)
        assert found is not None
        assert found.levels[ALL_FAULTS] == level
