"""Patterns by the words of a person: everyday words, misspelt ones, in any order."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cache, lru_cache
from math import log
from typing import NamedTuple

from optimiser.job_folder import package_data
from optimiser.patterns.catalogue import Pattern

MOST_FOUND = 3
ALIKE = 82.0
"""How alike two words must be spelt, of 100, to count as one."""
ASKED, TITLED, TOLD = 1.0, 1.0, 0.45
"""What a word counts for where people ask by it, in the title, and in the titles of checks, repairs and parts."""
SURE, AHEAD = 0.62, 1.3
"""How much of what was said a pattern must know, and by what factor it must lead, to be taken without asking."""
WHOLE = 0.5
"""What a whole phrase that reads alike adds."""
ANOTHER_KIND, NO_KIND = 0.7, 0.88
"""What is left of a pattern's score where the words are about another kind of thing, and where they name none and it is
not about a road vehicle."""
WORD = re.compile(r"[a-z0-9]+")
RULED_OUT = re.compile(r"\bnot (?:the|my|its) [\w-]+(?=\s*(?:[.,;:!?)]|$)|\s+(?:and|but|nor|or)\b)", re.IGNORECASE)
"""What is said not to be it: "not the battery"; "not the best brakes" is none."""


class Found(NamedTuple):
    """A pattern and the share of what was said that it knows; ``sure``: it may be taken without asking."""

    pattern: Pattern
    score: float
    sure: bool


def search(said: str, patterns: Mapping[str, Pattern], most: int = MOST_FOUND) -> list[Found]:
    """The patterns nearest to what was said, the nearest first; an id or a title, said as it is, is sure."""
    exact = [p for p in patterns.values() if said.strip().lower() in (p.id, p.title.lower())]
    if exact:
        return [Found(exact[0], 1.0, True)]
    scored = sorted(
        _shelf(tuple(patterns.values())).scored(said), key=lambda one: (-one.whole, -one.score, one.pattern.id)
    )
    plain = not scored or _means_one(said, scored[0].pattern)
    return [Found(one.pattern, one.score, plain and _is_sure(scored, at)) for at, one in enumerate(scored[:most])]


class _Scored(NamedTuple):
    """A pattern with the share of what was said that it knows; ``whole``: people ask by just these words."""

    pattern: Pattern
    score: float
    whole: bool


def _means_one(said: str, first: Pattern) -> bool:
    """Whether none of the words that may mean several faults are among what was said, or people ask by just that."""
    words = set(_told(said))
    if any(words == set(_told(phrase)) for phrase in _asked(first)):
        return True
    return not any(words >= several for several in mean_several())


def _is_sure(scored: Sequence[_Scored], number: int) -> bool:
    """Whether it may be taken without asking: it knows most of what was said, and far more than the next one."""
    if number > 0:
        return False
    first, *others = scored
    if first.whole and not any(one.whole for one in others):
        return True
    return first.score >= max([SURE, *(AHEAD * one.score for one in others[:1])])


def without_ruled_out(said: str) -> str:
    """The words without what they say that it is not; all of them where nothing else is left."""
    left = RULED_OUT.sub(" ", said)
    return left if any(_told(left)) else said


def stemmed(said: str) -> list[str]:
    """The words that tell something, each by what it stands for."""
    return [lay().get(word, word) for word in _told(said)]


def _told(said: str) -> list[str]:
    """The words that tell something, without their endings, as they were said."""
    words = WORD.findall(said.lower().replace("'", "").replace("\u2019", ""))
    return [word for word in map(_stem, words) if word not in left_out()]


def _stem(word: str) -> str:
    """A word without its commonest endings."""
    for ending in ("ing", "ies", "ed", "es", "s"):
        if word.endswith(ending) and len(word) - len(ending) >= 4 and not word.endswith("ss"):
            return word[: -len(ending)] + ("y" if ending == "ies" else "")
    return word


class _Shelf:
    """The words of all patterns, with what each is worth, and the phrases that people ask for them by."""

    def __init__(self, patterns: Iterable[Pattern]) -> None:
        self.words = [(pattern, _weights(pattern), _phrases(pattern)) for pattern in patterns]
        held = Counter(word for _, weights, _ in self.words for word in weights)
        many = max(1, len(self.words))
        self.worth = {word: log(1 + many / count) for word, count in held.items()}
        self.unknown = log(1 + many)

    def _knows(self, word: str) -> bool:
        stem = _stem(word)
        return lay().get(stem, stem) in self.worth

    def _joined(self, said: str) -> str:
        """The words; "in side" and other two that make a known one, of which one alone tells nothing, as that one."""
        words: list[str] = []
        for word in WORD.findall(said.lower().replace("'", "").replace("\u2019", "")):
            before = words[-1:]
            if before and self._knows(before[0] + word) and not (self._knows(before[0]) and self._knows(word)):
                words[-1] += word
            else:
                words.append(word)
        return " ".join(words)

    def scored(self, said: str) -> Iterator[_Scored]:
        """Each pattern with the worth of the words of it that were said, as a share of all that was said."""
        from rapidfuzz import fuzz, process  # noqa: PLC0415

        asked = list(dict.fromkeys(stemmed(self._joined(without_ruled_out(said)))))
        alike = {
            word: {near: score / 100 for near, score, _ in process.extract(
                word, self.worth.keys(), scorer=fuzz.ratio, score_cutoff=ALIKE, limit=20)}
            for word in asked
        }  # fmt: skip
        worth = {word: max((self.worth[n] for n in near), default=self.unknown) for word, near in alike.items()}
        whole = sum(worth.values()) or 1.0
        plain = " ".join(asked)
        meant = {kind for kind, words in kinds().items() if words & set(asked)}
        for pattern, weights, phrases in self.words:
            known = sum(
                worth[word] * max((like * weights.get(near, 0.0) for near, like in alike[word].items()), default=0.0)
                for word in asked
            )
            reads = max((fuzz.token_sort_ratio(plain, phrase) for phrase in phrases), default=0.0) / 100
            score = (known / whole + WHOLE * reads**2) / (1 + WHOLE) if known else 0.0
            if meant:
                score *= 1.0 if pattern.serves in meant else ANOTHER_KIND
            elif pattern.serves != "road":
                score *= NO_KIND
            if score:
                yield _Scored(pattern, score, plain in phrases)


@lru_cache(maxsize=1)
def _shelf(patterns: tuple[Pattern, ...]) -> _Shelf:
    """Made once for all that is searched among the same patterns."""
    return _Shelf(patterns)


def _phrases(pattern: Pattern) -> list[str]:
    return [" ".join(stemmed(phrase)) for phrase in _asked(pattern)]


def _asked(pattern: Pattern) -> tuple[str, ...]:
    return (*pattern.asked_as, pattern.title)


def _weights(pattern: Pattern) -> dict[str, float]:
    """Every word of a pattern with what it counts for."""
    found: dict[str, float] = {}
    titled = " ".join((pattern.title, pattern.id, *pattern.places))
    texts = ((TOLD, pattern.words), (TITLED, titled), (ASKED, " ".join(pattern.asked_as)))
    for weight, text in texts:
        found |= {word: max(weight, found.get(word, 0.0)) for word in stemmed(text)}
    return found


@cache
def lay() -> dict[str, str]:
    """Everyday words, stemmed, by the plain word that they stand for."""
    groups = package_data.lay_words()["same"]
    return {_stem(word): _stem(plain) for plain, words in groups.items() for word in words}


@cache
def kinds() -> dict[str, frozenset[str]]:
    """By kind of thing the words, stemmed, that tell of it."""
    return {kind: frozenset(map(_stem, words)) for kind, words in package_data.lay_words()["serves"].items()}


@cache
def mean_several() -> frozenset[frozenset[str]]:
    """Words, stemmed, that may mean several faults where they stand together."""
    return frozenset(frozenset(_told(phrase)) for phrase in package_data.lay_words()["words"]["mean_several"])


@cache
def left_out() -> frozenset[str]:
    """Words that tell nothing of a fault."""
    return frozenset(_stem(word) for word in package_data.lay_words()["words"]["left_out"])
