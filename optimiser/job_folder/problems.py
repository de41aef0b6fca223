"""Collecting what is wrong with the input: every problem counted, a readable number of them kept."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

from optimiser import names
from optimiser.errors import InputError, Problem
from optimiser.text import first_of

MOST_SHOWN = 50
"""Problems that one error carries; the rest are counted."""
Mend: TypeAlias = str | Callable[[], str]
"""How to put a problem right, or what works it out."""


def shown(value: object, longest: int = 60) -> str:
    """A value as found, safe to print: on one line, no control characters, cut after so many signs."""
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list | tuple):
        return "an empty list" if not value else f"a list of {len(value)}"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int) and value.bit_length() > 200:
        return "a number of more than 60 digits"
    text = str(value)
    cut = "".join(c if c.isprintable() else ascii(c)[1:-1] for c in text[:longest])
    if len(text) > longest or len(cut) > longest:
        cut = cut[:longest] + "..."
    return f'"{cut}"' if isinstance(value, str) else cut


def nearest(word: object, known: Iterable[str], cutoff: float = 0.6) -> str:
    """The known word that was probably meant, or an empty string; letters in the wrong order come first."""
    return names.nearest(word, known, cutoff) if isinstance(word, str) else ""


def did_you_mean(word: object, known: Iterable[str], otherwise: str) -> Mend:
    """The mend for a word that is not known; it is sought only when somebody will read it."""

    def mend() -> str:
        close = nearest(word, known)
        return f"did you mean {shown(close)}? Else {otherwise}" if close else otherwise

    return mend


MOST_LISTED = 20


def listed(words: Iterable[str]) -> str:
    """A list to read, cut where it grows long."""
    return first_of([shown(word)[1:-1] for word in words], MOST_LISTED) or "none"


@dataclass
class Complaints:
    """All problems of one job folder. Only so many are kept of each file, so a bad sheet takes no memory."""

    count: int = 0
    _kept: dict[str, list[Problem]] = field(default_factory=lambda: defaultdict(list))

    def add(self, place: Place, key: str, *, found: str, expected: str, mend: Mend) -> None:
        """Count a problem, and keep it while its file has fewer than an error carries."""
        self.count += 1
        kept = self._kept[place.file]
        if len(kept) < MOST_SHOWN:
            told = mend if isinstance(mend, str) else mend()
            kept.append(Problem(place.file, place.where, key, found, expected, told))

    def are_about(self, key: str) -> bool:
        """Whether one of those kept is about this."""
        return any(problem.key == key for kept in self._kept.values() for problem in kept)

    def error(self) -> InputError:
        """Everything found, as one error; where there is too much, every file keeps its fair share."""
        files = list(self._kept.values())
        in_turn = sorted((turn, number) for number, kept in enumerate(files) for turn in range(len(kept)))
        chosen = sorted((number, turn) for turn, number in in_turn[:MOST_SHOWN])
        problems = [files[number][turn] for number, turn in chosen]
        return InputError(problems, left_out=self.count - len(problems))


@dataclass(frozen=True)
class Place:
    """Where in the input something stands, and who is told if it is wrong."""

    complaints: Complaints
    file: str
    where: str = ""

    def at(self, where: str) -> Place:
        """Another place in the same file."""
        return Place(self.complaints, self.file, where)

    def complain(self, key: str, *, found: str, expected: str, mend: Mend) -> None:
        """Note a problem that stands here."""
        self.complaints.add(self, key, found=found, expected=expected, mend=mend)
