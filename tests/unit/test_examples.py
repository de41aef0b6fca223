"""Every example runs: job folders plan, certify and are proven; scripts end well."""

from __future__ import annotations

import re
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

import optimiser
from optimiser import read, service
from optimiser.mix.certify import certify

EXAMPLES = Path(optimiser.__file__).parents[1] / "examples"
JOBS = sorted(path.parent for path in EXAMPLES.rglob("job.toml"))
SCRIPTS = sorted(EXAMPLES.rglob("*.py"))
TODAY = date(2026, 11, 24)


def test_there_are_the_shortest_and_a_full_job() -> None:
    sizes = [len(read.job(folder, TODAY).faults) for folder in JOBS]
    assert min(sizes) <= 6
    assert max(sizes) >= 12


@pytest.mark.parametrize("folder", JOBS, ids=lambda path: path.name)
def test_a_job_plans_certified_and_proven(folder: Path) -> None:
    job = read.job(folder, TODAY)
    plan = service.plan(job)
    certify(plan)
    assert plan.outcome.proven
    assert plan.selection.options
    assert service.verify(folder, TODAY) == service.verify(folder, TODAY)


@pytest.mark.parametrize("folder", JOBS, ids=lambda path: path.name)
def test_a_job_says_that_it_is_invented_and_holds_no_addresses(folder: Path) -> None:
    texts = {path: path.read_text(encoding="utf-8") for path in folder.rglob("*") if path.is_file()}
    assert "invented" in texts[folder / "job.toml"]
    for path, text in texts.items():
        assert not re.search(r"https?://|www\.|@\w+\.\w", text), path


def test_the_full_job_has_the_features_that_the_issue_lists() -> None:
    job = max((read.job(folder, TODAY) for folder in JOBS), key=lambda job: len(job.faults))
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


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.stem)
def test_a_script_ends_well_and_says_something(script: Path, tmp_path: Path) -> None:
    before = {path: path.stat().st_mtime_ns for path in EXAMPLES.rglob("*") if "__pycache__" not in path.parts}
    ran = subprocess.run(
        [sys.executable, "-B", str(script)],
        check=False,
        cwd=tmp_path,
        capture_output=True,
        encoding="utf-8",
        timeout=120,
    )
    assert (ran.returncode, ran.stderr) == (0, "")
    assert ran.stdout.strip()
    after = {path: path.stat().st_mtime_ns for path in EXAMPLES.rglob("*") if "__pycache__" not in path.parts}
    assert after == before, "a script must leave the examples as they are"
