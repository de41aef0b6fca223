"""What parts are called elsewhere: names in other words and languages, made comparable by ``data/part_names.toml``."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache

from optimiser.job_folder import package_data
from optimiser.quote_import import lexicon, pieces
from optimiser.quote_import.lexicon import bare, plain

_SHORTEST_STEM = 5
_SHORTEST_SIDE, _SHORTEST_FRONT, _SHORTEST_HEAD = 4, 3, 6
"""Letters of a side at the beginning of a compound, and of its two halves."""
_ENDING = re.compile(r"(?<=\w{4})(?:e[nrs]?|s|a[rs]?|o[rs]?|i|y|ow)$")
_SIDE = "side:"


class Dictionary:
    """The parts of a job by their names in the words of the dictionary."""

    def __init__(self, titles: Mapping[str, str]) -> None:
        self._ids: dict[tuple[str, ...], set[str]] = {}
        self._uncertain: set[tuple[str, ...]] = set()
        """Words of names in the job that stand for something else as often."""
        self._sure: set[str] = set()
        """Names that may stand for something else, and do not in the language of the sheet."""
        self._units: dict[str, list[frozenset[str]]] = {}
        """By part what each of its names is made up of, its sides left out."""
        self._sides: dict[str, set[str]] = {}
        for part, title in titles.items():
            for said in map(in_our_words, {part, title} - {""}):
                self._ids.setdefault(said.words, set()).add(part)
                if not said.certain:
                    self._uncertain.add(said.words)
                goods = frozenset(unit for unit in said.units if not unit.startswith(_SIDE))
                self._units.setdefault(part, []).extend([goods] if goods else [])
                self._sides.setdefault(part, set()).update(said.units - goods)

    @cached_property
    def _in_singular(self) -> list[tuple[frozenset[str], set[str]]]:
        return [(_singular(words), parts) for words, parts in self._ids.items()]

    def heed_words(self, texts: Iterable[str]) -> None:
        """Take for sure what stands for nothing else in the language of these texts, or where such money is paid."""
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

    def among(self, name: str) -> tuple[str, ...]:
        """The parts whose words, sides left out, a name holds among others, and whose sides it does not deny.

        Of a compound its end counts too. Of several those of most words; the likelier side first.
        """
        _, bare_name = pieces.in_name(name)
        said = in_our_words(name).units | in_our_words(_without_little_words(bare_name)).units
        said = said.union(*map(_of_compound, said))
        sides = {unit for unit in said if unit.startswith(_SIDE)}
        found = {
            part: max(map(len, fitting))
            for part, names in self._units.items()
            if (fitting := [goods for goods in names if goods <= said]) and not self._sides[part] & _denied(sides)
        }
        likely = {_side(each) for side, each in lexicon.headings().likelier.items() if _side(side) in sides}
        best = [part for part, words in found.items() if words == max(found.values())]
        return tuple(sorted(best, key=lambda part: self._sides[part].isdisjoint(likely)))

    def shortened(self, name: str) -> tuple[str, ...]:
        """The parts whose words hold all those of a name, not sides alone: "front pad" for "Brake pads front".

        One word by itself must be that of one part, whatever its sides.
        """
        said = _singular(in_our_words(name).words)
        found = {part for words, parts in self._in_singular if said <= words for part in parts}
        different = {frozenset().union(*self._units[part]) for part in found}
        telling = len(said) > 1 or len(different) == 1
        return tuple(sorted(found)) if telling and not all(word.startswith(_SIDE) for word in said) else ()


def _singular(words: Iterable[str]) -> frozenset[str]:
    return frozenset(word.removesuffix("s") for word in words)


def _denied(sides: Set[str]) -> set[str]:
    """The sides that a part is not on that is on these."""
    opposite = lexicon.headings().opposite
    return {_side(other) for side, other in opposite.items() if _side(side) in sides} - sides


def _of_compound(word: str) -> set[str]:
    """What the end of a compound stands for, which says what the whole is, and a side that it begins with.

    "Varmeblæsermotor" is a "blæsermotor", "Hinterradbremsscheibe" a "Bremsscheibe" of the rear.
    """
    phrases, _ = _phrases()
    for cut in range(_SHORTEST_FRONT, len(word) - _SHORTEST_HEAD + 1):
        head, _ = phrases.get(word[cut:], ("", True))
        if head and not head.startswith(_SIDE):
            fronts = (phrases.get(word[:end], ("", True))[0] for end in range(_SHORTEST_SIDE, cut + 1))
            return {head, *(front for front in fronts if front.startswith(_SIDE) and " " not in front)}
    return set()


def _without_little_words(name: str) -> str:
    return " ".join(word for word in bare(name).split() if word not in lexicon.headings().qualifiers["neutral"])


@dataclass(frozen=True)
class _Said:
    """The words of a name in order of the alphabet, and whether none of them may stand for something else.

    ``units`` are the names and sides that they make up.
    """

    words: tuple[str, ...]
    certain: bool
    units: frozenset[str]


@lru_cache(maxsize=65_536)
def in_our_words(name: str) -> _Said:
    """A name with every phrase that the dictionary has in the words that it stands for, and one word for each side."""
    phrases, longest = _phrases()
    words = [_stem(word) for word in bare(name).split()]
    said: list[str] = []
    certain = True
    sides = lexicon.headings().sides_at_end
    if len(words) > 1 and words[-1] in sides:
        said.append(_side(sides[words.pop()]))
    units = set(said)
    while words:
        most = min(longest.get(words[0], 0), len(words))
        length = next((n for n in range(most, 0, -1) if " ".join(words[:n]) in phrases), 0)
        if length:
            ours, sure = phrases[" ".join(words[:length])]
            side, _, goods = ours.partition(" ") if ours.startswith(_SIDE) else ("", "", ours)
            said += ours.split()
            units |= {side, goods} - {""}
            certain = certain and sure
        elif words[0] not in lexicon.headings().qualifiers["neutral"] | lexicon.headings().heeded["together_with"]:
            said.append(words[0])
            units.add(words[0])
        words = words[max(1, length) :]
    return _Said(tuple(sorted(said)), certain, frozenset(units))


@cache
def _phrases() -> tuple[Mapping[str, tuple[str, bool]], Mapping[str, int]]:
    """By every name, without accents and plural, the words that it stands for, and whether for nothing else.

    Also how many words the longest name has that begins with a word.
    """
    phrases: dict[str, tuple[str, bool]] = {}
    for word, side in lexicon.headings().sides.items():
        if len(word) > 1:
            phrases[_name(word)] = (_side(side), True)
    shorter = {}
    every = {_name(ours) for parts in package_data.part_names().values() for ours in parts}
    for system, parts in package_data.part_names().items():
        for ours, names in parts.items():
            first, _, rest = _name(ours).partition(" ")
            own = f"{phrases[first][0]} {rest}" if rest in every and first in phrases else _name(ours)
            for name in (ours, *names):
                means = (own, system != package_data.MAY_BE or name == ours)
                phrases[_name(name)] = shorter[_name(_without_little_words(name))] = means
    phrases = {name: means for name, means in shorter.items() if name} | phrases
    longest: dict[str, int] = {}
    for words in map(str.split, phrases):
        longest[words[0]] = max(longest.get(words[0], 0), len(words))
    return phrases, longest


def _side(name: str) -> str:
    return f"{_SIDE}{name.replace(' ', '-')}"


def _name(phrase: str) -> str:
    return " ".join(map(_stem, bare(phrase).split()))


def _stem(word: str) -> str:
    """A word without the endings that tell one from many: "bullone" and "bulloni"."""
    return word if len(word) < _SHORTEST_STEM else _ENDING.sub("", _ENDING.sub("", word))
