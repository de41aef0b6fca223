"""Small things that all sections share: how grave a fault is as a sign with its word, anchors, short names, shares."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from optimiser.model.job import Fault, Repair, Severity
from optimiser.show import wording
from optimiser.show.wording import SEVERITY_MARK

SHORT_NAME = 60
"""Signs of a name in a place where it only points to where it stands in full."""
MOST_OF_A_NAME = 400
"""Signs of a name anywhere: nobody reads more of it, and repeated it would fill the file."""


@dataclass(frozen=True)
class Grave:
    """How grave a fault is: the word, and the sign that is drawn beside it."""

    word: str
    sign: str


SIGNS = {
    Severity.DANGEROUS: Grave(SEVERITY_MARK["dangerous"], "triangle"),
    Severity.MAJOR: Grave(SEVERITY_MARK["major"], "diamond"),
    Severity.MINOR: Grave(SEVERITY_MARK["minor"], "circle"),
}


@dataclass(frozen=True)
class Caution:
    """A caution by title; ``lines`` are all its sentences where it is told in full, none where it stands elsewhere."""

    anchor: str
    title: str
    lines: tuple[str, ...] = ()


class CautionsTold:
    """Which cautions were told in full already: each is once, where the work first needs it."""

    def __init__(self) -> None:
        self._known: set[str] = set()

    def tell(self, cautions: Mapping[str, Sequence[str]]) -> tuple[Caution, ...]:
        """The cautions, with their sentences where they come up for the first time."""
        found = []
        for one in pointed(cautions):
            new = one.anchor not in self._known
            self._known.add(one.anchor)
            lines = cautions[next(t for t in cautions if anchor("caution", bare(t)) == one.anchor)] if new else ()
            found.append(Caution(one.anchor, one.title, tuple(lines)))
        return tuple(found)


def pointed(cautions: Iterable[str]) -> tuple[Caution, ...]:
    """Cautions as pointers to where they are told."""
    return tuple(Caution(anchor("caution", bare(title)), bare(title)) for title in cautions)


def bare(title: str) -> str:
    """The title of a caution without the checks that it is for: it stands beside them."""
    return title.partition(" (")[0]


def anchor(kind: str, name: str) -> str:
    """A place in the page that may be pointed to; ASCII letters and digits alone."""
    return f"{kind}-{re.sub(r'[^a-z0-9]+', '-', name.lower()).strip('-')}"


def short(text: str, most: int = SHORT_NAME) -> str:
    """Text that fits a label, with a sign behind it where some of it is left out."""
    return text if len(text) <= most else f"{text[: most - 1].rstrip()}…"


def titled(what: Fault | Repair) -> str:
    """The title as a label."""
    return short(wording.named(what))


def percent(value: float, whole: float) -> str:
    """A place or a length in a picture, in percent of its width; between nothing and all of it."""
    return f"{min(100.0, max(0.0, 100 * value / whole if whole else 0.0)):.2f}%"


def letters() -> Iterator[str]:
    """A to Z, then A2 to Z2, ...: names of rows that a picture can show."""
    turn = 1
    while True:
        yield from (f"{chr(65 + place)}{turn if turn > 1 else ''}" for place in range(26))
        turn += 1
