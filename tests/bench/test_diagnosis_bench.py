"""Routes of one fault against plain recursion, posteriors against plain numpy and pyAgrum.

Run ``pytest tests/bench/test_diagnosis_bench.py --benchmark-only``. Ratios stand in ``extra_info``; times are never
asserted, answers are.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable

import numpy as np
import pytest

from optimiser import service
from optimiser.diagnosis.belief import likelihoods, prior
from optimiser.diagnosis.case import Case, CaseLayout
from optimiser.diagnosis.dynamic_program import Sweep
from optimiser.model.job import Check, Fault, Repair
from optimiser.model.option import Line, Option
from optimiser.model.quotes import Quote
from optimiser.planning import choose
from tests.bench import generate
from tests.frontier import frontier
from tests.one_fault import posterior
from tests.property.diagnosis import test_routes_in_full as plain

BUDGETS = (20, 40, 60, 80)


def timed(work: Callable[[], object]) -> float:
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


def case(causes: int, checks: int, options: int, seed: int = 1) -> Case:
    """One fault of a size, all invented."""
    rng = random.Random(seed)
    names = [f"c{i}" for i in range(causes - 1)]
    tables = tuple(
        Check(id=f"k{k}", minutes=rng.randint(5, 30), cost_minor=rng.choice([0, 0, 300]),
              results={"r": {c: rng.random() for c in [*names, "something-else"]}})
        for k in range(checks)
    )  # fmt: skip
    repairs = tuple(Repair(id=f"m{i}", cures={rng.choice(names): 0.95}) for i in range(options))
    fault = Fault(id="f", severity="minor", causes={c: rng.randint(1, 9) for c in names}, check=tables, repair=repairs)
    offered = [
        Option(fault="f", repair=f"m{i}", by_workshop=False, direct_minor=0, minutes=30, access=(), chance=0.5, days=0,
               lines=(Line(quote=Quote(id=f"q:{i}", part=f"p{i}", supplier="s", condition="new", good_chance=0.9,
                                       price_minor=rng.randint(500, 6000)), units=1, wanted=1),))
        for i in range(options)
    ]  # fmt: skip
    return Case(fault, prior(fault), offered, tables, plain.cash_of)


@pytest.mark.parametrize("size", [(4, 3, 5), (6, 5, 5)], ids=lambda size: "-".join(map(str, size)))
def test_the_whole_frontier(benchmark, size) -> None:
    benchmark.group = "frontier of one fault"
    given = case(*size)
    found = benchmark(frontier, given)
    assert found.exact
    benchmark.extra_info["points"] = len(found.points)


def test_against_the_plain_recursion(benchmark) -> None:
    benchmark.group = "frontier of one fault"
    given = plain._case(random.Random(11), 3, 3, None)
    found = benchmark(frontier, given)
    answers = []
    seconds = timed(lambda: answers.extend(plain.recursion(plain.Told(given), cash, 10**6) for cash in BUDGETS))
    for cash, best in zip(BUDGETS, answers):
        assert found.at(cash).chance == pytest.approx(best[0], abs=1e-10)
    benchmark.extra_info["own over plain recursion at four amounts"] = round(benchmark.stats["mean"] / seconds, 4)


def test_all_posteriors_against_plain_numpy_and_pyagrum(benchmark) -> None:
    benchmark.group = "256 posteriors of eight checks on eight causes"
    gum = pytest.importorskip("pyagrum")
    given = case(8, 8, 1)
    everything = (1 << 8) - 1

    def own() -> np.ndarray:
        joint = CaseLayout(given).mass(everything)
        return joint / joint.sum(1, keepdims=True)

    found = benchmark(own)
    names = list(given.belief)
    tables = [np.array([list(row.values()) for row in likelihoods(check, names).values()]) for check in given.checks]
    start = np.array(list(given.belief.values()))

    def bare() -> np.ndarray:
        joint = start[None]
        for table in tables:
            joint = (joint[:, None] * table[None]).reshape(-1, len(names))
        return joint / joint.sum(1, keepdims=True)

    assert found == pytest.approx(bare(), abs=1e-12)
    network = gum.fastBN(f"cause[{len(names)}]" + "".join(f";cause->k{k}[2]" for k in range(8)))
    network.cpt("cause").fillWith(start.tolist())
    for k, table in enumerate(tables):
        for i in range(len(names)):
            network.cpt(f"k{k}")[{"cause": i}] = table[:, i].tolist()
    engine = gum.LazyPropagation(network)

    def peer() -> list[float]:
        engine.setEvidence({f"k{k}": 0 for k in range(8)})
        return engine.posterior("cause").tolist()

    assert found[0] == pytest.approx(peer(), abs=1e-9)
    assert list(
        posterior(given.fault, [plain.Finding(c.id, "r") for c in given.checks]).chances.values()
    ) == pytest.approx(peer(), abs=1e-9)
    plainly = min(timed(bare) for _ in range(20))
    one = min(timed(peer) for _ in range(20))
    benchmark.extra_info["own over plain numpy, tables read anew"] = round(benchmark.stats["mean"] / plainly, 1)
    benchmark.extra_info["one posterior of ours over one of pyAgrum's"] = round(benchmark.stats["mean"] / 256 / one, 4)


def test_the_sweep_alone(benchmark) -> None:
    benchmark.group = "frontier of one fault"
    given = case(6, 5, 5)
    benchmark(lambda: Sweep(given).later)


@pytest.mark.slow
def test_two_hundred_faults_with_checks(benchmark) -> None:
    benchmark.group = "a large job with routes"
    job = generate.with_checks(generate.job(200, 1500, seed=1, seconds=60.0))
    told: list[str] = []
    pick = benchmark.pedantic(choose.chosen, args=(job, None, told.append), rounds=1)
    plan = service.drawn_up(pick)
    assert told
    assert plan.purse.unspent_minor >= 0
    benchmark.extra_info["routes"] = len(pick.offer.proposals)
    benchmark.extra_info["proven"] = plan.outcome.proven
