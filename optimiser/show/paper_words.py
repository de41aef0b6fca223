"""Which papers were written, on a terminal and as JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rich.console import Console
from rich.text import Text

from optimiser.model.job import Job
from optimiser.model.plan import Selection
from optimiser.show import danger_words, dangers, wording

FORMAT = 1


def show(
    out: Console, job: Job, selection: Selection | None, written: Mapping[str, int], *, no_letter: bool = False
) -> None:
    """A line a file; what is dangerous stands at the head here too. ``no_letter``: some were asked for."""
    dangers.show(out, job, selection)
    for path, size in written.items():
        out.print(Text(f"Written: {wording.plain(path)} ({_sized(size)})"))
    if no_letter:
        out.print(Text("Nothing is to be ordered, so no letter was written."))


def _sized(size: int) -> str:
    return f"{-(-size // 1000)} kB" if size >= 1000 else f"{size} bytes"


def document(
    job: Job, selection: Selection | None, written: Mapping[str, int], *, no_letter: bool = False
) -> dict[str, Any]:
    """The files by path with their sizes in bytes, and whether letters were asked for where there is no order."""
    return {
        "format": FORMAT,
        "job": {"title": job.settings.title, "currency": job.settings.currency},
        **danger_words.document(job, selection),
        "written": [{"file": path, "bytes": size} for path, size in written.items()],
        "nothing_to_order": no_letter,
    }
