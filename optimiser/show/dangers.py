"""The dangerous faults that are not put right, on a terminal."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from optimiser.model.job import Job
from optimiser.model.plan import Selection
from optimiser.show import danger_words


def show(out: Console, job: Job, selection: Selection | None = None) -> None:
    """A line each; nothing where there is none."""
    for line in danger_words.lines(job, selection):
        out.print(Text(line, style="danger"))
