"""How long a hundred thousand quotes take to compare, as a ratio to what pandas needs to group them and take minima.

Run ``pytest tests/bench/test_compare_bench.py --benchmark-only``. Times are shown, never asserted; the answers are, and
so is memory. The peer is given the quotes as a frame and finds the least price each, and the least of price and plain
postage, of every part: no whole packs in sets, no waivers, no minimums, no top-ups, no tries.
"""

from __future__ import annotations

import subprocess
import sys
import time

import pandas as pd
import pytest

from optimiser.model.job import Job
from optimiser.model.quote_comparison import Merit
from optimiser.planning import quote_comparison
from tests.bench import baskets

PARTS, SHOPS = 2_000, 65
MOST_KILOBYTES = 500_000


@pytest.fixture(scope="module")
def job() -> Job:
    made = baskets.job(PARTS, SHOPS, 1)
    assert len(made.quotes) > 100_000
    return made


def frame(job: Job) -> pd.DataFrame:
    postage = {supplier.id: supplier.postage_minor for supplier in job.suppliers}
    columns = ("quote", "part", "each", "landed")
    rows = ((q.id, q.part, q.price_minor / q.pack, q.price_minor + postage[q.supplier]) for q in job.quotes)
    return pd.DataFrame.from_records(list(rows), columns=columns)


def least(quotes: pd.DataFrame) -> pd.DataFrame:
    parts = quotes.groupby("part")
    return quotes[
        (quotes["each"] == parts["each"].transform("min")) | (quotes["landed"] == parts["landed"].transform("min"))
    ]


def test_a_hundred_thousand_quotes_side_by_side(benchmark, job):
    benchmark.group = "a hundred thousand quotes side by side"
    plain = frame(job)
    began = time.perf_counter()
    cheapest = least(plain)
    peer = time.perf_counter() - began
    answer = benchmark.pedantic(quote_comparison.compared, args=(job,), rounds=1)
    rows = [row for part in answer.parts for row in part.rows]
    assert len(rows) == len(job.quotes)
    assert all(row.barred is None for row in rows)
    each = {row.quote.part: row.quote.each for row in rows if Merit.EACH in row.wins}
    for part, price in cheapest.groupby("part")["each"].min().items():
        assert abs(float(each[part]) - price) < 1e-6
    benchmark.extra_info["times_plain_pandas"] = round(benchmark.stats.stats.min / peer)


def test_the_matrix_of_a_hundred_thousand_quotes(benchmark, job):
    benchmark.group = "a hundred thousand quotes side by side"
    matrix = benchmark.pedantic(quote_comparison.matrix, args=(job,), rounds=1)
    assert sum(len(row.cells) for row in matrix.rows) <= len(job.quotes)
    assert len(matrix.suppliers) == SHOPS


def test_memory_stays_bounded(benchmark):
    """In a process of its own, the job made there too."""
    script = (
        "import resource; from optimiser import quoted; from tests.bench import baskets;"
        f"answer = quoted.compared(baskets.job({PARTS}, {SHOPS}, 1));"
        "assert sum(len(part.rows) for part in answer.parts) > 100_000;"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
    )
    ran = benchmark.pedantic(
        subprocess.run, args=([sys.executable, "-c", script],), kwargs={"capture_output": True, "check": True}, rounds=1
    )
    scale = 1024 if sys.platform == "darwin" else 1
    assert int(ran.stdout) // scale < MOST_KILOBYTES
    benchmark.extra_info["kilobytes"] = int(ran.stdout) // scale
