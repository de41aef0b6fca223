"""Calls of the program as they are typed: every one that is printed is typed sooner or later, where the person is."""

from __future__ import annotations

from collections.abc import Mapping
from contextvars import ContextVar
from itertools import takewhile
from pathlib import Path
from types import MappingProxyType

from optimiser.text import in_shell

_JOB: ContextVar[str] = ContextVar("job", default="")
"""The job as it was named: set where the words of a call are taken apart, so that no answer has to carry it."""


def are_about(job: Path) -> None:
    """Calls that are made from here on in this context name this job; none the folder that one is in."""
    _JOB.set("" if job == Path() else in_shell(str(job)))


_PLACES: ContextVar[Mapping[str, str]] = ContextVar("places", default=MappingProxyType({}))


def are_made_at(places: Mapping[str, str]) -> None:
    """In this context nothing is typed: in the place of these verbs stands where that is done which they do."""
    _PLACES.set(places)


def call(verb: str, *words: str) -> str:
    """A call of the job of this context; the words stand as they are to be typed.

    Where nothing is typed the place, and what it is about: options are fields there.
    """
    place = _PLACES.get().get(verb)
    if place is not None:
        about = " ".join(takewhile(lambda word: not word.startswith("--"), words))
        return f"{place} ({about})" if about else place
    return " ".join(filter(None, ("optimiser", verb, _JOB.get(), *words)))


HOW_GRAVE = "HOW-GRAVE"
"""Stands where a person is to say how grave a fault is: as it stands it is refused."""


def add_by_no_pattern(words: str, severity: str | None, *options: str) -> str:
    """The call that puts a fault into the job by no pattern; without its severity that is left to be chosen.

    What is dangerous is a workshop's unless somebody says otherwise.
    """
    who = ("--workshop",) if severity == "dangerous" else ()
    said = call(
        "add", in_shell(words), *options, "--plain", "--severity", severity or HOW_GRAVE, "--chance", "0.9",
        "--price", "45", *who,
    )  # fmt: skip
    chosen = "dangerous (somebody may be hurt if it fails), major or minor"
    return said if severity else f"{said} (in place of {HOW_GRAVE} say {chosen})"
