"""The dangerous faults that are not put right, on a terminal."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from optimiser.model.job import Job
from optimiser.model.plan import Selection
from optimiser.show import danger_words


def show(out: Console, job: Job, selection: Selection | None = None, *, listed: bool = False) -> None:
    """A line each; nothing where there is none. ``listed``: the same answer names them all under DANGEROUS."""
    for line in danger_words.lines(job, selection, listed=listed):
        out.print(Text(line, style="danger"))
