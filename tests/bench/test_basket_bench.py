"""How long the cheapest basket takes, beside CP-SAT on the same baskets in the same run.

Run ``pytest tests/bench/test_basket_bench.py --benchmark-only`` (``-m slow`` for 50 parts in 30 shops with all terms).
Times are shown, never asserted; answers are: both that prove theirs must agree.
"""

from __future__ import annotations

import pytest

from optimiser.planning import purchase_list as shopping
from optimiser.solver import purchase_list as mix
from optimiser.solver.exact_solve import Clock
from tests.bench import baskets

SECONDS = 60.0
CASES = [
    pytest.param((parts, shops, 1, terms), id=f"{parts}-parts-{shops}-shops-{'all-terms' if terms else 'postage'}-1")
    for parts, shops in ((12, 6), (20, 10))
    for terms in (False, True)
] + [
    pytest.param(
        (50, 30, seed, terms),
        id=f"50-parts-30-shops-{'all-terms' if terms else 'postage'}-{seed}",
        marks=[pytest.mark.slow] if terms else [],
    )
    for terms in (False, True)
    for seed in (1, 2, 3)
]
OWN: dict[object, tuple[float, int, bool]] = {}


@pytest.fixture(params=CASES)
def case(request):
    parts, shops, seed, terms = request.param
    job = baskets.job(parts, shops, seed, terms=terms, seconds=SECONDS)
    return request.param, job, baskets.wanted(parts, seed)


def test_the_whole_answer(benchmark, case) -> None:
    """From the job to the certified basket, both plainer ways and the tie-breaks included."""
    name, job, wanted = case
    benchmark.group = f"basket, {name[0]} parts in {name[1]} shops, {'all terms' if name[3] else 'postage alone'}"
    answer = benchmark.pedantic(shopping.filled, args=(job, shopping.Listed(wanted)), rounds=1)
    OWN[name] = (benchmark.stats["mean"], answer.best.net_minor, answer.outcome.proven)
    benchmark.extra_info["proven"] = answer.outcome.proven
    benchmark.extra_info["net"] = answer.best.net_minor


def test_the_basket_alone(benchmark, case) -> None:
    """What CP-SAT is asked too: the least net cost, no tie-breaks."""
    name, job, wanted = case
    benchmark.group = f"basket, {name[0]} parts in {name[1]} shops, {'all terms' if name[3] else 'postage alone'}"
    found = benchmark.pedantic(
        mix.cheapest, args=(job, wanted, job.quotes, Clock(SECONDS)), kwargs={"ties": False}, rounds=1
    )
    OWN[name] = (benchmark.stats["mean"], found.net_minor, found.outcome.proven)
    benchmark.extra_info["proven"] = found.outcome.proven


def test_cpsat(benchmark, case) -> None:
    name, job, wanted = case
    benchmark.group = f"basket, {name[0]} parts in {name[1]} shops, {'all terms' if name[3] else 'postage alone'}"
    least, proven, seconds = benchmark.pedantic(baskets.with_cpsat, args=(job, wanted, SECONDS), rounds=1)
    benchmark.extra_info["proven"] = proven
    if name in OWN:
        own, net, own_proven = OWN[name]
        benchmark.extra_info["own over CP-SAT"] = f"{own / seconds:.2f}{'' if proven else ' at most'}"
        if proven and own_proven:
            assert net == least
        elif own_proven:
            assert net <= least
