"""Calls of the program as they are typed: every one that is printed is typed sooner or later, where the person is."""

from __future__ import annotations

from contextvars import ContextVar
from pathlib import Path

from optimiser.text import in_shell

_JOB: ContextVar[str] = ContextVar("job", default="")


def as_typed(job: Path) -> str:
    """The job as it was named; nothing for the folder that one is in."""
    return "" if job == Path() else str(job)


def are_about(job: Path) -> None:
    """Calls that are made from here on in this context are of this job."""
    _JOB.set(as_typed(job))


def call(verb: str, *words: str, job: str | None = None) -> str:
    """A call of a job as it was named, by default of that of this context; the words stand as they are to be typed."""
    named = _JOB.get() if job is None else job
    return " ".join(filter(None, ("optimiser", verb, in_shell(named) if named else "", *words)))


HOW_GRAVE = "HOW-GRAVE"
"""Stands where a person is to say how grave a fault is: as it stands it is refused."""


def add_by_no_pattern(words: str, severity: str | None, *options: str, job: str | None = None) -> str:
    """The call that puts a fault into the job by no pattern; without its severity that is left to be chosen."""
    said = call(
        "add", in_shell(words), *options, "--plain", "--severity", severity or HOW_GRAVE, "--chance", "0.9",
        "--price", "45", job=job,
    )  # fmt: skip
    chosen = "dangerous (somebody may be hurt if it fails), major or minor"
    return said if severity else f"{said} (in place of {HOW_GRAVE} say {chosen})"
