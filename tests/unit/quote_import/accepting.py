"""A job that sheets are taken into: its days, and what is read in it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path

from optimiser import job_folder
from optimiser.quote_import import Told

DAY = date(2026, 11, 24)
LATER = date(2026, 12, 1)
JOB = """
[job]
currency = "GBP"
[money]
cap = "100.00"
[[part]]
id = "front-disc"
title = "Front brake disc"
[[part]]
id = "rear-shoe"
title = "Rear brake shoe"
"""
ODDLODE = Told(supplier="oddlode")


def files_in(folder: Path) -> Sequence[str]:
    """Every file that accepting may have written, by its path below quotes."""
    home = folder / "quotes"
    return sorted(path.relative_to(home).as_posix() for path in home.rglob("*") if path.is_file())


def standing(folder: Path, day: date) -> Sequence[tuple[str, int, str]]:
    """What the job reads, as far as it has not lapsed: part, price, file."""
    job = job_folder.job(folder, day)
    return sorted(
        (quote.part, quote.price_minor, quote.line[0])
        for quote in job.quotes
        if quote.valid_until is None or quote.valid_until >= day
    )
