"""What parts are called elsewhere: names in other words and languages, made comparable by ``data/part_names.toml``."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache

from optimiser.job_folder import package_data
from optimiser.quote_import import lexicon, pieces
from optimiser.quote_import.lexicon import bare, plain

_SHORTEST_PLURAL = 4
_SIDE = "side:"


class Dictionary:
    """The parts of a job by their names in the words of the dictionary."""

    def __init__(self, titles: Mapping[str, str]) -> None:
        self._ids: dict[tuple[str, ...], set[str]] = {}
        self._uncertain: set[tuple[str, ...]] = set()
        """Words of names in the job that stand for something else as often."""
        self._sure: set[str] = set()
        """Names that may stand for something else, and do not in the language of the sheet."""
        self._sided: dict[tuple[str, ...], set[str]] = {}
        for part, title in titles.items():
            for said in map(in_our_words, {part, title} - {""}):
                self._ids.setdefault(said.words, set()).add(part)
                if not said.certain:
                    self._uncertain.add(said.words)
                if (unsided := tuple(word for word in said.words if not word.startswith(_SIDE))) != said.words:
                    self._sided.setdefault(unsided, set()).add(part)

    def heed_headings(self, texts: Iterable[str]) -> None:
        """Take for sure what stands for nothing else in the language of these headings."""
        known = lexicon.headings()
        words = {word for text in texts for word in plain(text).split()} - known.tax["with"]
        self._sure = {name for name, ends in known.sure_beside.items() if any(word.endswith(ends) for word in words)}

    def find(self, name: str) -> str | None:
        """The one part that a name stands for; None where the dictionary has no word of it, or two parts fit."""
        said = in_our_words(name)
        certain = said.certain or not self._sure.isdisjoint(plain(name).split())
        return self.may_be(name) if certain and said.words not in self._uncertain else None

    def may_be(self, name: str) -> str | None:
        """The one part that a name stands for, even if its words or the part's own have other meanings as well."""
        found = self._ids.get(in_our_words(name).words, set())
        return next(iter(found)) if len(found) == 1 else None

    def within(self, name: str) -> str | None:
        """The one part all of whose words a name holds, among others."""
        said = set(in_our_words(name).words)
        among = (parts for words, parts in self._ids.items() if len(words) > 1 and said.issuperset(words))
        found = set[str]().union(*among)
        return next(iter(found)) if len(found) == 1 else None

    def of_other_side(self, name: str) -> tuple[str, ...]:
        """The parts that a name without a side stands for but for their side."""
        for each in (name, pieces.in_name(name)[1]):
            words = in_our_words(each).words
            if words not in self._ids and words in self._sided:
                return tuple(sorted(self._sided[words]))
        return ()


@dataclass(frozen=True)
class _Said:
    """The words of a name in order of the alphabet, and whether none of them may stand for something else."""

    words: tuple[str, ...]
    certain: bool


@lru_cache(maxsize=65_536)
def in_our_words(name: str) -> _Said:
    """A name with every phrase that the dictionary has in the words that it stands for, and one word for each side."""
    phrases, longest = _phrases()
    words = [_singular(word) for word in bare(name).split()]
    said: list[str] = []
    certain = True
    sides = lexicon.headings().sides_at_end
    if len(words) > 1 and words[-1] in sides:
        said.append(_side(sides[words.pop()]))
    while words:
        most = min(longest.get(words[0], 0), len(words))
        length = next((n for n in range(most, 0, -1) if " ".join(words[:n]) in phrases), 0)
        if length:
            ours, sure = phrases[" ".join(words[:length])]
            said += ours.split()
            certain = certain and sure
        elif words[0] not in lexicon.headings().qualifiers["neutral"]:
            said.append(words[0])
        words = words[max(1, length) :]
    return _Said(tuple(sorted(said)), certain)


@cache
def _phrases() -> tuple[Mapping[str, tuple[str, bool]], Mapping[str, int]]:
    """By every name, without accents and plural, the words that it stands for, and whether for nothing else.

    Also how many words the longest name has that begins with a word.
    """
    phrases = {}
    for word, side in lexicon.headings().sides.items():
        if len(word) > 1:
            phrases[_name(word)] = (_side(side), True)
    for system, parts in package_data.part_names().items():
        for ours, names in parts.items():
            for name in (ours, *names):
                phrases[_name(name)] = (_name(ours), system != package_data.MAY_BE or name == ours)
    longest: dict[str, int] = {}
    for words in map(str.split, phrases):
        longest[words[0]] = max(longest.get(words[0], 0), len(words))
    return phrases, longest


def _side(name: str) -> str:
    return f"{_SIDE}{name.replace(' ', '-')}"


def _name(phrase: str) -> str:
    return " ".join(map(_singular, bare(phrase).split()))


def _singular(word: str) -> str:
    return word.removesuffix("s") if len(word) > _SHORTEST_PLURAL else word
