"""What a person's words for a fault are taken for."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from optimiser.model.job import Severity


class Heard(NamedTuple):
    """The pattern that they surely mean, by its title, and how grave that makes it; neither where nobody knows.

    ``near`` are then the ids of the likeliest, with their titles.
    """

    pattern: str = ""
    severity: Severity | None = None
    near: tuple[tuple[str, str], ...] = ()


Hear = Callable[[str, str], Heard]
"""By the words for a fault and those that its job is called by."""


def nothing(_words: str, _about: str) -> Heard:
    """Words that nobody knows."""
    return Heard()
