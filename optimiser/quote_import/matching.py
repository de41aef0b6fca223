"""Which known name a written one means: the same, or close enough and closer than any other; else the nearest three."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from optimiser.model.imports import How
from optimiser.quote_import import lexicon
from optimiser.quote_import.lexicon import plain

CLOSE = 88.0
"""Likeness in percent from which a name counts as another one spelled differently: indel distance over both lengths,
words sorted. Our own figure, no published source."""
APART = 5.0
"""By how much the best must be better than the next one."""
_MOST_SIGNS = 120
_SHORTEST = 4
_MOST_NAMES = 20_000


@dataclass(frozen=True)
class Match:
    """The id that a name stands for."""

    id: str
    how: How
    likeness: float = 100.0


class Names:
    """Ids with their titles and other spellings.

    ``told`` are spellings settled by a person: they win over everything but the id itself.
    """

    def __init__(
        self, titles: Mapping[str, str], told: Mapping[str, str], endings: frozenset[str] = frozenset()
    ) -> None:
        self._endings = endings
        self._ids: set[str] = set()
        self._told = {self.comparable(name): each for name, each in told.items()}
        self._met: set[str] = set()
        self._exact: dict[str, str] = {}
        self._twice: set[str] = set()
        self._sorted: dict[str, str] = {}
        self._sorted_twice: set[str] = set()
        self._marks: dict[str, frozenset[str]] = {}
        for each, title in titles.items():
            self.add(each, title)

    def add(self, known: str, title: str) -> None:
        """One more id, found from now on."""
        self._ids.add(known)
        for name in {self.comparable(known), self.comparable(title)} - {""}:
            if self._exact.setdefault(name, known) != known:
                self._twice.add(name)
            other = self._sorted.setdefault(_sorted(_sided(name)), name)
            if self._exact[other] != known:
                self._sorted_twice.add(_sorted(_sided(name)))
            self._marks[name] = _marks(_sided(name))

    def told_for(self, written: str) -> str | None:
        """The id that a person said this spelling stands for."""
        return self._as_told(self.comparable(written)) if self._told else None

    def _as_told(self, name: str) -> str | None:
        each = self._told.get(name)
        if each is not None:
            self._met.add(name)
        return each

    def met(self, told: Mapping[str, str]) -> dict[str, str]:
        """Those of the spellings told that were looked up."""
        return {name: each for name, each in told.items() if self.comparable(name) in self._met}

    def same(self, written: str) -> str:
        """The one id that is written, or whose title is; empty where none or two are."""
        name = self.comparable(written)
        return written if written in self._ids else "" if name in self._twice else self._exact.get(name, "")

    def find(self, written: str) -> Match | None:
        """The id that is meant, None where none is near enough or two are."""
        if written in self._ids:
            return Match(written, How.EXACT)
        name = self.comparable(written)
        if told := self._as_told(name):
            return Match(told, How.ALIAS)
        if name in self._twice:
            return None
        if name in self._exact:
            return Match(self._exact[name], How.EXACT)
        return self._close(name)

    def shortened(self, written: str) -> Match | None:
        """The one id with a name that holds all these words, or whose name's words are all among these."""
        words = frozenset(self.comparable(written).split())
        if len("".join(words)) < _SHORTEST or len(self._exact) > _MOST_NAMES:
            return None
        found = {
            each: len(" ".join(words & own)) / max(len(" ".join(words)), len(name)) * 100
            for name, each in self._exact.items()
            if (own := frozenset(name.split())) and len(name) >= _SHORTEST and (own <= words or words <= own)
        }
        return next((Match(each, How.CLOSE, score) for each, score in found.items()), None) if len(found) == 1 else None

    def named_in(self, text: str) -> str | None:
        """The one id whose name stands in a line of text."""
        said = f" {plain(text)} "
        found = {each for name, each in self._exact.items() if len(name) > _SHORTEST and f" {name} " in said}
        return found.pop() if len(found) == 1 else None

    def nearest(self, written: str, count: int = 3) -> tuple[str, ...]:
        """The ids whose names are nearest, best first, each once."""
        from rapidfuzz import fuzz, process  # noqa: PLC0415

        name = self.comparable(written)[:_MOST_SIGNS]
        found = process.extract(name, self._exact.keys(), scorer=fuzz.WRatio, limit=3 * count)
        return tuple(dict.fromkeys(self._exact[each] for each, _, _ in found))[:count]

    def _close(self, name: str) -> Match | None:
        """The nearest name, if no mark (a side, a number) tells the two apart and no other id is nearly as near."""
        if not _SHORTEST <= len(name) <= _MOST_SIGNS or not 0 < len(self._sorted) <= _MOST_NAMES:
            return None
        from rapidfuzz import fuzz, process  # noqa: PLC0415 - wanted only where a name is not known

        sided = _sided(name)
        found = process.extract(_sorted(sided), self._sorted.keys(), scorer=fuzz.ratio, limit=10, score_cutoff=CLOSE - APART)  # noqa: E501 # fmt: skip
        if not found:
            return None
        marks = _marks(sided)
        fitting = [(score, each) for each, score, _ in found if self._marks[self._sorted[each]] == marks]
        if not fitting or fitting[0][0] < CLOSE or fitting[0][1] in self._sorted_twice:
            return None
        best, each = fitting[0][0], self._exact[self._sorted[fitting[0][1]]]
        rival = max((score for score, other in fitting if self._exact[self._sorted[other]] != each), default=0.0)
        return Match(each, How.CLOSE, best) if best - rival >= APART else None

    def comparable(self, name: str) -> str:
        """The words that count, endings of firms' names taken off."""
        words = plain(name).split()
        while len(words) > 1 and words[-1] in self._endings:
            words.pop()
        while len(words) > 1 and words[0] in self._endings:
            words.pop(0)
        return " ".join(words)


def _sorted(name: str) -> str:
    return " ".join(sorted(name.split()))


def _sided(name: str) -> str:
    """One word for each side, so that "n/s" is the near side; a letter alone may be more than one side and stays."""
    sides, words, said = lexicon.headings().sides, name.split(), list[str]()
    while words:
        pair, one = " ".join(words[:2]), words[0]
        if len(words) > 1 and pair in sides:
            said.append(sides[pair])
            words = words[2:]
        else:
            said.append(sides[one] if len(one) > 1 and one in sides else one)
            words = words[1:]
    return " ".join(said)


@lru_cache(maxsize=65_536)
def _marks(name: str) -> frozenset[str]:
    """What tells two names apart whatever else is alike: words with a figure in them, sides, and a kit."""
    words = name.split()
    figures = {word for word in words if any(sign.isdigit() for sign in word)}
    single = {word for word in words if (len(word) == 1 and word.isalpha()) or word == "kit"}
    pairs = [" ".join(pair) for pair in pairwise(words)]
    sides = lexicon.headings().sides
    return frozenset(figures | single | {f"side {sides[word]}" for word in (*words, *pairs) if word in sides})
