"""What a person's words for a fault are taken for."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from optimiser.model.job import Severity


class Heard(NamedTuple):
    """The pattern that they surely mean, by its title, and how grave that makes it; neither where nobody knows."""

    pattern: str = ""
    severity: Severity | None = None


Hear = Callable[[str], Heard]


def nothing(_: str) -> Heard:
    """Words that nobody knows."""
    return Heard()
