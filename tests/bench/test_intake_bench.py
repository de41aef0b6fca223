"""How long suppliers' sheets take to understand, as a ratio to reading the same rows with the plain csv module.

Run ``pytest tests/bench/test_intake_bench.py --benchmark-only``, with ``-m slow`` for the whole verb. Times are shown,
never asserted; the answers are, and so is memory, which the limits promise.
"""

from __future__ import annotations

import csv
import random
import subprocess
import sys
import time
from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

import pytest

from optimiser.money import Currency
from optimiser.quote_import import Known, Told, understand
from optimiser.show.as_xlsx import Table, write_xlsx
from optimiser.show.tables import Column

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
        "from optimiser.quote_import import understand\nassert understand(Path(sys.argv[1]), KNOWN, TOLD).rows\n"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)"
    )
    command = [sys.executable, "-c", program, str(path)]
    done = benchmark.pedantic(subprocess.run, args=(command,), kwargs={"capture_output": True, "check": True}, rounds=1)
    assert int(done.stdout) < MOST_KILOBYTES
    benchmark.extra_info["peak_memory_mb"] = int(done.stdout) // 1000


def job(home: Path) -> Path:
    parts = "".join(f'[[part]]\nid = "{part}"\ntitle = "{title}"\n' for part, title in PARTS.items())
    fault = '[[fault]]\ntitle = "Invented"\nseverity = "minor"\n[[fault.repair]]\ntitle = "Glue"\nchance = 0.5\n'
    home.mkdir()
    (home / "job.toml").write_text(f'[job]\ncurrency = "GBP"\n[money]\ncap = "100"\n{parts}{fault}', encoding="utf-8")
    (home / "suppliers.csv").write_text("supplier,title\noddlode,Oddlode Rebuilds\n", encoding="utf-8")
    return home


def by_hand(path: Path) -> tuple[float, int]:
    """The peer: the same rows with the csv module, price and tax reckoned with Decimal, and nothing else looked at."""
    started, total = time.perf_counter(), Decimal(0)
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            net = Decimal(row["Price ex VAT"].replace("£", "").replace(",", ""))
            total += (net * 120 / 100).quantize(Decimal("0.01"), ROUND_HALF_UP)
    return time.perf_counter() - started, int(total * 100)


@pytest.mark.slow
@pytest.mark.parametrize("accept", [(), ("--accept",)], ids=["shown", "accepted"])
@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_the_whole_verb(benchmark, tmp_path, kind, accept):
    """From the call to the last line of the answer, the interpreter's start and the CSV of all rows included."""
    benchmark.group = "a hundred thousand rows through the verb"
    path, table = written(tmp_path / f"oddlode.{kind}", 1.0), tmp_path / "table.csv"
    seconds, total = by_hand(written(tmp_path / "plain.csv", 1.0))
    words = ["quotes", str(job(tmp_path / "job")), str(path), "--ex-tax", "20", "--csv", str(table), *accept]
    program = (
        "import resource, sys\nfrom optimiser import cli\ncode = cli.main(sys.argv[1:])\n"
        "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, file=sys.stderr)\nsys.exit(code)"
    )
    command = [sys.executable, "-c", program, *words]
    done = benchmark.pedantic(subprocess.run, args=(command,), kwargs={"capture_output": True, "check": True}, rounds=1)
    with table.open(encoding="utf-8", newline="") as file:
        prices = [row["price"] for row in csv.DictReader(file)]
    assert len(prices) == ROWS
    assert sum(int(price.replace(".", "")) for price in prices) == total, "to the penny what the peer reckons"
    assert int(done.stderr.split()[-1]) < MOST_KILOBYTES
    benchmark.extra_info["times_by_hand"] = round(benchmark.stats.stats.min / seconds)
    benchmark.extra_info["peak_memory_mb"] = int(done.stderr.split()[-1]) // 1000
