"""How long suppliers' sheets take to understand, as a ratio to reading the same rows with the plain csv module.

Run ``pytest tests/bench/test_intake_bench.py --benchmark-only``. Times are shown, never asserted; the answers are, and
so is memory, which the limits promise.
"""

from __future__ import annotations

import csv
import random
import subprocess
import sys
import time
from decimal import Decimal
from pathlib import Path

import pytest

from optimiser.money import Currency
from optimiser.read.intake import Known, Told, understand
from optimiser.show.as_xlsx import Table, write_xlsx
from optimiser.tables import Column

ROWS = 100_000
MOST_KILOBYTES = 500_000
HEADINGS = ("Description", "State", "Price ex VAT", "Pack size", "Part No", "Lead time", "Valid until")
KINDS = ("motor", "disc", "valve", "hose", "relay")
PARTS = {f"part-{i}": f"{'Front' if i % 2 else 'Rear'} {KINDS[i % 5]} {i}" for i in range(200)}
KNOWN = Known(PARTS, {"oddlode": "Oddlode Rebuilds"}, Currency.of("GBP"))
TOLD = Told(supplier="oddlode", ex_tax="20")


def rows(share_known: float):
    """Invented rows; the share of them that names a part of the job, the others all different."""
    rng = random.Random(1)
    names = list(PARTS.values())
    for number in range(ROWS):
        name = rng.choice(names) if rng.random() < share_known else f"Middle bumper {rng.choice(KINDS)} {number}"
        state = rng.choice(("new", "recon", "used", "breaker's"))
        price = f"£{rng.randrange(100, 99_999) / 100:,.2f}"
        yield name, state, price, rng.choice(("", "1", "2")), f"R-{number}", rng.choice(("1-2 days", "")), "31/12/2026"


def written(path: Path, share_known: float) -> Path:
    if path.suffix == ".csv":
        with path.open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([HEADINGS, *rows(share_known)])
    else:
        lines = ((*row[:2], Decimal(row[2].replace("£", "").replace(",", "")), *row[3:]) for row in rows(share_known))
        write_xlsx(path, [Table("prices", tuple(Column(name, "", "") for name in HEADINGS), lines)])
    return path


def plain_seconds(path: Path) -> float:
    started = time.perf_counter()
    with path.open(encoding="utf-8", newline="") as file:
        assert sum(1 for _ in csv.reader(file)) == ROWS + 1
    return time.perf_counter() - started


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
@pytest.mark.parametrize("share_known", [1.0, 0.01], ids=["all for the job", "a price list of another shop's"])
def test_a_hundred_thousand_rows(benchmark, tmp_path, kind, share_known):
    benchmark.group = "a hundred thousand rows understood"
    path = written(tmp_path / f"oddlode.{kind}", share_known)
    plain = plain_seconds(written(tmp_path / "plain.csv", share_known))
    understood = benchmark.pedantic(understand, args=(path, KNOWN, TOLD), rounds=1)
    assert len(understood.rows) + len(understood.aside) == ROWS
    assert understood.doubts == ()
    benchmark.extra_info["times_plain_csv"] = round(benchmark.stats.stats.min / plain)


def test_memory_for_a_hundred_thousand_rows(benchmark, tmp_path):
    """In a process of its own: what this one has used before does not count."""
    path = written(tmp_path / "oddlode.xlsx", 1.0)
    program = (
        "import resource, sys\nfrom pathlib import Path\nfrom tests.bench.test_intake_bench import KNOWN, TOLD\n"
        "from optimiser.read.intake import understand\nassert understand(Path(sys.argv[1]), KNOWN, TOLD).rows\n"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
    )
    command = [sys.executable, "-c", program, str(path)]
    done = benchmark.pedantic(subprocess.run, args=(command,), kwargs={"capture_output": True, "check": True}, rounds=1)
    assert int(done.stdout) < MOST_KILOBYTES
    benchmark.extra_info["peak_memory_mb"] = int(done.stdout) // 1000
