"""How long each step of a plan takes, and how the whole compares with other solvers on the same job in the same run.

Run ``pytest tests/bench --benchmark-only`` (``-m slow`` for the large sizes). Times are shown, never asserted: figures
worth keeping are the ratios in each benchmark's ``extra_info``, machines differ too much for the rest. Asserted are
answers: every plan is certified, and a peer that proves its own agrees.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from datetime import date
from functools import cache
from pathlib import Path

import pytest

from optimiser import job_folder, service
from optimiser.certificate import plan as certify
from optimiser.model.plan import Selection
from optimiser.planning import explain, options
from optimiser.solver import formulation, solve
from tests.bench import generate, peers

EXAMPLES = Path(__file__).parents[2] / "examples"
TODAY = date(2026, 11, 24)
SECONDS = 60.0
SEED = 1
slow = pytest.mark.slow
SIZES = [
    pytest.param((8, 40), id="8-40"),
    pytest.param((20, 150), id="20-150"),
    pytest.param((200, 1500), id="200-1500", marks=slow),
    pytest.param((2000, 15000), id="2000-15000", marks=slow),
]
PLANS: dict[tuple[int, int], tuple[float, Selection]] = {}
"""The program's own plan by size, its seconds and its answer: what the peers after it are measured against."""


@pytest.fixture(params=SIZES)
def size(request) -> tuple[int, int]:
    return request.param


@pytest.fixture
def job(size):
    return generate.job(*size, seed=SEED, seconds=SECONDS)


def rounds(size) -> int:
    return 5 if size[0] < 100 else 1


@cache
def chosen(size) -> Selection:
    """An answer to explain and certify, good or not: where a solve takes long, the time is cut short."""
    job = generate.job(*size, seed=SEED, seconds=SECONDS / 3)
    return solve.best(job, options.build(job))


@pytest.mark.parametrize("step", ["read", "options", "model", "solve", "explain", "certify"])
def test_step(benchmark, size, job, step, tmp_path) -> None:
    """One step of a plan; the steps before it are made ready outside the clock."""
    benchmark.group = f"steps of a plan, {size[0]} faults and {size[1]} quotes"
    generate.write(job, tmp_path)
    offer = options.build(job)
    ready = {
        "read": lambda: (job_folder.job, tmp_path, TODAY),
        "options": lambda: (options.build, job),
        "model": lambda: (formulation.build, job, offer),
        "solve": lambda: (solve.best, job, offer),
        "explain": lambda: (explain.plan, job, offer, chosen(size), {}),
        "certify": lambda: (certify.certify, explain.plan(job, offer, chosen(size), {})),
    }
    call, *arguments = ready[step]()
    result = benchmark.pedantic(call, args=arguments, rounds=rounds(size))
    benchmark.extra_info["peak_memory_mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1000
    if step == "read":
        assert result == job
    if step == "solve":
        benchmark.extra_info |= gap(result)


def gap(selection) -> dict[str, object]:
    """How far from the best the answer may be, as a share of the stage that was not closed."""
    outcome = selection.outcome
    share = 0.0 if outcome.proven else outcome.better_at_most / max(1, abs(selection.levels[outcome.stage]))
    return {"proven": outcome.proven, "stage": outcome.stage, "gap": round(share, 7)}


@pytest.mark.parametrize("peer", ["own", "pulp-cbc", "cp-sat"])
def test_peers(benchmark, size, job, peer) -> None:
    """Options to answer. Of the program's own the whole plan with tie-breaks, why and certificate; peers: the mix."""
    benchmark.group = f"peers, {size[0]} faults and {size[1]} quotes"
    if peer == "own":
        service.plan(generate.job(4, 20))  # imports warm
        plan = benchmark.pedantic(service.plan, args=(job,), rounds=rounds(size))
        benchmark.extra_info |= gap(plan.selection)
        PLANS[size] = benchmark.stats.stats.median, plan.selection
        return
    call = {"pulp-cbc": peers.with_cbc, "cp-sat": peers.with_cpsat}[peer]
    found = benchmark.pedantic(lambda: call(job, options.build(job), SECONDS), rounds=1 if size[0] > 10 else 3)
    spent = found.building + found.solving
    benchmark.extra_info |= {"proven": found.proven, "building_share": round(found.building / spent, 3)}
    if size not in PLANS:
        return
    own, selection = PLANS[size]
    benchmark.extra_info["own_time_over_peer"] = round(own / spent, 3)
    if found.proven and selection.outcome.proven:
        agrees = found.levels == dict(selection.levels)
        benchmark.extra_info["agrees"] = agrees
        assert agrees or peer == "pulp-cbc"  # CBC was seen to call mixes optimal that are short


def test_one_compare(benchmark) -> None:
    """Every option of one fault of the full example forced, and the switch points of the chosen one."""
    benchmark.group = "what-ifs of one fault, examples/marigold"
    job = job_folder.job(EXAMPLES / "marigold", TODAY)
    plan = service.plan(job)
    comparison = benchmark.pedantic(service.compare, args=(job, "starter"), rounds=3)
    benchmark.extra_info["options"] = len(comparison.rows)
    assert {row.option.fault for row in comparison.rows} == {"starter"}
    assert comparison.plan == plan


@pytest.mark.parametrize("command", ["plan", "bare-python"])
def test_cold_start(benchmark, command) -> None:
    """From the shell to the answer of the shortest job, beside an interpreter that does nothing."""
    benchmark.group = "cold start, examples/shortest"
    words = {"plan": ["-m", "optimiser", "plan", str(EXAMPLES / "shortest")], "bare-python": ["-c", "pass"]}[command]
    run = benchmark.pedantic(
        subprocess.run,
        args=([sys.executable, *words],),
        kwargs={"capture_output": True, "env": os.environ | {"NO_COLOR": "1"}},
        rounds=5,
        warmup_rounds=1,
    )
    assert run.returncode == 0
    assert bool(run.stdout) == (command == "plan")
