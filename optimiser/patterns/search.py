"""Patterns by the words of a person: everyday words, misspelt ones, in any order."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from math import log
from typing import NamedTuple

from optimiser.job_folder import package_data
from optimiser.model.job import GRAVE_SYSTEMS, Severity
from optimiser.names import slug
from optimiser.patterns.catalogue import FITS, ON_THE_ROAD, Pattern
from optimiser.patterns.plain_words import (
    FUELS,
    GAS,
    LPG,
    all_words,
    elsewhere,
    faults,
    fuels_named,
    kinds,
    kinds_named,
    lay,
    left_out,
    mean_several,
    no_things,
    nouns,
    phrases_elsewhere,
    stands_for,
    stem,
    stemmed,
    telling_words,
    things,
)  # fmt: skip

MOST_FOUND = 3
ALIKE = 82.0
"""How alike two words must be spelt, of 100, to count as one."""
ASKED, TITLED, TOLD = 1.0, 1.0, 0.45
"""What a word counts for where people ask by it, in the title, and in the titles of checks, repairs and parts."""
SURE, AHEAD = 0.62, 1.3
"""How much of what was said a pattern must know, and by what factor it must lead, to be taken without asking."""
AS_WELL = 0.9
"""What share of the first one's score another has at the least that fits about as well."""
OTHER_THINGS = 0.25
"""What share of the words must not be things that the pattern does not know: "battery box rusty" is no back box."""
WHOLE = 0.5
"""What a whole phrase that reads alike adds."""
ANOTHER_KIND, NO_KIND = 0.7, 0.88
"""What is left of a pattern's score where the words are about another kind of thing, and where they name none and it is
not about one that is driven on the road."""
WITHOUT_A_WORD = ON_THE_ROAD | {"vehicle", "any"}
"""The kinds that are meant where nothing tells one."""
SAID_BY_NAME = frozenset({"cycle", "lorry", "horsebox"})
"""Whoever has one says so: where nothing tells it, it is not meant, and makes nothing else doubtful."""
BY_ITSELF = frozenset({"cycle"})
"""Kinds that share nothing with a motor vehicle: of a bicycle nothing of a car's is offered."""
BETWEEN = re.compile(r"\s*(?:[,;]|\.\s)\s*(?:(?:oh|and|also|plus)\s+)*|\s+(?:(?:oh|and|also|plus)\s+)+", re.IGNORECASE)
"""What stands between two faults in one breath."""
RULED_OUT = re.compile(r"\bnot (?:the|my|its) [\w-]+(?=\s*(?:[.,;:!?)]|$)|\s+(?:and|but|nor|or)\b)", re.IGNORECASE)
"""What is said not to be it: "not the battery"; "not the best brakes" is none."""
OFF_AND_ON = re.compile(
    r"\b(?:even )?(?:after|tried) (?:turn|switch)ing (?:\w+ ){0,3}?off and (?:back )?on\b(?: again)?", re.IGNORECASE
)
"""What everybody has tried: it tells nothing of a fault."""
_SOUND = (
    r"[\w-]+(?:['\u2019]s| is| are| was| were| works?| still works?| feels?)"
    r" (?:all |perfectly )?(?:fine|ok|okay|good|right|alright|grand|great|new|perfect|sound)"
)
FINE = re.compile(rf"\b{_SOUND}(?:\s*(?:,|and|, and)\s+{_SOUND})*,? (?:but|yet)\b", re.IGNORECASE)
"""What is said to be sound beside something else: "brakes are fine but"; "engine's grand, clutch is new, but"."""


class Found(NamedTuple):
    """A pattern and the share of what was said that it knows; ``sure``: it may be taken without asking."""

    pattern: Pattern
    score: float
    sure: bool


def search(said: str, patterns: Mapping[str, Pattern], about: str = "", most: int = MOST_FOUND) -> list[Found]:
    """The patterns nearest to what was said, the nearest first; an id or a title, said as it is, is sure.

    ``about`` is what else is known, such as the title of the job: it tells the kind of vehicle where the words do not.
    Where none is sure and the words name a system of which a fault is grave, a dangerous one of it is among them, one
    more if need be.
    """
    kinds_meant, fuels_meant = kinds_named(said, about), fuels_named(said) or fuels_named(about)
    named = [p for p in patterns.values() if slug(said) in (p.id, slug(p.title))]
    of_fuel = [p for p in named if not _of_another_fuel(p, fuels_meant)]
    exact = [p for p in of_fuel if said == p.id or _is_meant_by_title(p.serves, kinds_meant)]
    if exact:
        return [Found(exact[0], 1.0, True)]
    said = GAS.sub(LPG, said) if LPG in fuels_meant else said
    shelf = _shelf(tuple(patterns.values()))
    scored = sorted(
        (one for one in shelf.scored(said, kinds_meant, fuels_meant) if _makes_sense(one.pattern.serves, kinds_meant)),
        key=lambda one: (-one.whole, -one.score, one.pattern.id),
    )
    fits = _is_sure(scored) and _is_of_kind(scored, kinds_meant) and _is_of_fuel(scored, fuels_meant)
    clear = fits and not shelf.elsewhere(said) and not _denies_one_side(said, scored[0].pattern)
    sure = clear and _means_one(said, scored[0].pattern, patterns, shelf)
    offered = scored[:most] if sure else _graver_first(scored[:most])
    found = [Found(one.pattern, one.score, sure and at == 0) for at, one in enumerate(offered)]
    return found if sure else [*found, *_grave(" ".join((said, *shelf.elsewhere(said))), scored, most)]


class _Scored(NamedTuple):
    """A pattern with the share of what was said that it knows.

    ``whole``: 2 where people ask by just these words, 1 where by others that stand for the same, else 0.
    ``anywhere`` is its score on a vehicle of any kind.
    """

    pattern: Pattern
    score: float
    whole: int
    anywhere: float


def several(said: str, patterns: Mapping[str, Pattern]) -> list[str]:
    """The parts of what was said, where two of them mean faults of their own."""
    parts = _parts(said)
    meant = {_meant_by_itself(part, patterns, said) for part in parts} - {None} if len(parts) > 1 else set()
    return parts if len(meant) > 1 else []


def _parts(said: str) -> list[str]:
    return [part for part in BETWEEN.split(without_ruled_out(said)) if part]


def _meant_by_itself(part: str, patterns: Mapping[str, Pattern], whole: str) -> str | None:
    """The pattern that a few words surely mean, or else the grave system that they name; None for a symptom.

    The whole tells the kind of vehicle where they do not.
    """
    sure = (found.pattern.id for found in search(part, patterns, whole) if found.sure) if " " in part else iter(())
    return next(sure, None) or next(iter(grave_systems(part)), None)


def grave_systems(said: str, about: str = "") -> list[str]:
    """The systems that the words name of which a fault is grave, and those that they raise an alarm about."""
    return [system for system in systems_told(said, about) if system in GRAVE_SYSTEMS.union(_alarming(said))]


def systems_told(said: str, about: str = "") -> list[str]:
    """The systems that words for a fault name, those of the kind of thing that they, or what else is known, tell."""
    meant, table = kinds_named(said, about), package_data.lay_words()["systems_of_kind"]
    of_kind = {system: ours for kind in sorted(meant) for system, ours in table.get(kind, {}).items()}
    named = (each for system in package_data.systems_named(said) for each in of_kind.get(system, [system]))
    return list(dict.fromkeys([*named, *_alarming(said)]))


def _alarming(said: str) -> list[str]:
    words, alarms = {*telling_words(said), *stemmed(said)}, package_data.lay_words()["alarms"]
    return [
        system for system, phrases in alarms.items() if any(words.issuperset(telling_words(each)) for each in phrases)
    ]


def _grave(said: str, scored: Sequence[_Scored], most: int) -> list[Found]:
    """The nearest dangerous pattern of the grave systems that the words name, where it is not among the first."""
    systems = set(grave_systems(said))
    places = (at for at, one in enumerate(scored) if _is_dangerous(one.pattern) and systems & one.pattern.systems)
    return [Found(scored[at].pattern, scored[at].score, False) for at in [*places][:1] if at >= most]


def _graver_first(found: Sequence[_Scored]) -> list[_Scored]:
    """Those offered, a dangerous fault of the first one's system before it where it fits about as well."""
    return sorted(found, key=lambda one: not (_is_dangerous(one.pattern) and _fits_as_well(one, found[0])))


def _fits_as_well(one: _Scored, first: _Scored) -> bool:
    near = one.score >= AS_WELL * first.score and one.whole >= first.whole
    return near and one.score == one.anywhere and bool(one.pattern.systems & first.pattern.systems)


def _is_dangerous(pattern: Pattern) -> bool:
    return pattern.severity == Severity.DANGEROUS


def _means_one(said: str, first: Pattern, patterns: Mapping[str, Pattern], shelf: _Shelf) -> bool:
    """Whether the words speak of one fault alone, and of few other things; or people ask by just them."""
    words, kind = set(telling_words(said)), kinds().get(first.serves, frozenset())
    asked = [set(telling_words(phrase)) for phrase in _asked(first)]
    may_be_others = any(words >= others for others in mean_several()) or bool(_alarming(said))
    if words in asked or (not may_be_others and any(words - kind == phrase - kind for phrase in asked)):
        return True
    if may_be_others or several(said, patterns):
        return False
    if len(parts := _parts(said)) > 1 and any(_is_of_another(part, first, patterns, said) for part in parts):
        return False
    told, known = stemmed(without_ruled_out(said)), _weights(first)
    if any(word in faults() and known.get(word, 0.0) < ASKED for word in told):
        return False
    about = _is_about(shelf.asked_by(without_ruled_out(said)), first)
    return about and sum(word in things() and word not in known for word in told) < OTHER_THINGS * len(told)


def _is_about(told: Collection[str], first: Pattern) -> bool:
    """Whether people ask for it by what was named alone: rust on a tailgate is no hole in the floor of the boot."""
    named, wrong = nouns().intersection(told), faults().intersection(told)
    ways = [set(stemmed(phrase)) for phrase in _asked(first)]
    alike = [way for way in ways if not wrong or not faults() & way or wrong & way]
    alone = (way for way in alike if way == set(stemmed(first.title)) or nouns() & way - no_things() <= named)
    return named <= no_things() or any(named & way for way in alone)


def _is_of_another(part: str, first: Pattern, patterns: Mapping[str, Pattern], whole: str) -> bool:
    """Whether a part of what was said names another grave system, or says of another thing what is wrong with it."""
    if not first.systems.issuperset(grave_systems(part)):
        return True
    words = set(stemmed(part))
    tells = bool(words & things() and words & faults())
    return tells and first.id not in {found.pattern.id for found in search(part, patterns, whole)}


def _is_of_kind(scored: Sequence[_Scored], meant: Collection[str]) -> bool:
    """Whether the first is about the kind of thing that is meant.

    Where nothing tells, it is a road vehicle, unless a fault of another kind of thing is told by as much.
    """
    first = scored[0]
    if meant or first.pattern.serves not in WITHOUT_A_WORD:
        return _is_meant(first.pattern.serves, meant)
    others = (one for one in scored if one.pattern.serves not in WITHOUT_A_WORD | SAID_BY_NAME)
    return first.whole > 0 or not any(one.anywhere >= first.anywhere for one in others)


def _is_of_fuel(scored: Sequence[_Scored], meant: frozenset[str]) -> bool:
    """Whether the first is of the fuel that is meant; where none is, whether none of another is told nearly as well."""
    first, *others = scored
    near = (one.pattern for one in others if AHEAD * one.score >= first.score)
    if meant:
        return not _of_another_fuel(first.pattern, meant)
    fuels = fuels_named(first.pattern.title)
    return not any(_of_another_fuel(other, fuels) for other in near if LPG not in fuels_named(other.title))


def _denies_one_side(said: str, pattern: Pattern) -> bool:
    """Whether both sides are spoken of, and the pattern is that of one: both at once have other causes."""
    return "on one side" in pattern.title and not {"both", "neither"}.isdisjoint(all_words(said))


def _is_sure(scored: Sequence[_Scored]) -> bool:
    """Whether the first may be taken without asking: it knows most of what was said, and far more than the next."""
    if not scored:
        return False
    first, *others = scored
    if first.whole > max((one.whole for one in others), default=0):
        return True
    return first.anywhere >= SURE and all(first.score >= AHEAD * one.score for one in others[:1])


def without_ruled_out(said: str) -> str:
    """The words without what they say that it is not; all of them where nothing else is left.

    What is fine is left out where another thing is named: "brakes are fine but they grind" is about the brakes.
    """
    tried = OFF_AND_ON.sub(" ", said)
    others = FINE.sub(" ", tried)
    left = RULED_OUT.sub(" ", others if things().intersection(stemmed(others)) else tried)
    return left if any(telling_words(left)) else said


class _Shelf:
    """The words of all patterns, with what each is worth, and the phrases that people ask for them by."""

    def __init__(self, patterns: Iterable[Pattern]) -> None:
        self.words = [(pattern, _weights(pattern), _Asked.of(pattern)) for pattern in patterns]
        self.of_kind = {p.id: _Asked.of(p, _kind_words(p)) for p, *_ in self.words}
        held = Counter(word for _, weights, *_ in self.words for word in weights)
        many = max(1, len(self.words))
        self.worth = {word: log(1 + many / count) for word, count in held.items()}
        self.unknown = log(1 + many)

    def _knows(self, word: str) -> bool:
        bare = stem(word)
        return lay().get(bare, bare) in self.worth

    def _joined(self, said: str) -> str:
        """The words; "in side" and other two that make a known one, of which one alone tells nothing, as that one."""
        words: list[str] = []
        for word in all_words(said):
            before = words[-1:]
            if before and self._knows(before[0] + word) and not (self._knows(before[0]) and self._knows(word)):
                words[-1] += word
            else:
                words.append(word)
        return " ".join(words)

    def asked_by(self, said: str) -> list[str]:
        """The words that tell something; of what is said in another language those alone that are known."""
        found, left = phrases_elsewhere(said)
        elsewhere = stemmed(" ".join(self.elsewhere(said)))
        words = stemmed(self._joined(" ".join(left) if found else said))
        return list(dict.fromkeys([*elsewhere, *filter(self.worth.get, words)] if elsewhere else words))

    def elsewhere(self, said: str) -> list[str]:
        """The plain words that those of another language stand for; one that is a word here too only beside others."""
        found, words = phrases_elsewhere(said)
        strange = [word for word in words if not self._knows(word) and word not in left_out() and stands_for(word)]
        ours = [word for word in words if self._knows(word) and word in elsewhere()] if found or strange else []
        return [*found, *(plain for word in (*strange, *ours) for plain in stands_for(word))]

    def scored(self, said: str, meant: Collection[str], fuels: frozenset[str]) -> Iterator[_Scored]:
        """Each pattern with the worth of the words of it that were said, as a share of all that was said.

        ``meant`` are the kinds of thing, ``fuels`` what its engine runs on, as far as they are told. Where a pattern is
        of such a kind, words that tell another of them count for nothing: "horse trailer brakes bind".
        """
        from rapidfuzz import fuzz, process  # noqa: PLC0415

        asked = self.asked_by(without_ruled_out(said))
        alike = {
            word: {near: score / 100 for near, score, _ in process.extract(
                word, self.worth.keys(), scorer=fuzz.ratio, score_cutoff=ALIKE, limit=20)}
            for word in asked
        }  # fmt: skip
        worth = {word: max((self.worth[n] for n in near), default=self.unknown) for word, near in alike.items()}
        telling = frozenset[str]().union(*(kinds()[kind] for kind in SAID_BY_NAME.intersection(meant)))
        unsaid = fuels.difference(asked)
        told = " ".join(telling_words(without_ruled_out(said)))
        for pattern, weights, asked_by in self.words:
            of_no_use = telling - weights.keys() if _is_meant(pattern.serves, meant) else ()
            ours = [word for word in asked if word not in of_no_use]
            known = sum(
                worth[word] * max((like * weights.get(near, 0.0) for near, like in alike[word].items()), default=0.0)
                for word in ours
            )
            whole = sum(worth[word] for word in ours) or 1.0
            known_kind = pattern.serves in meant or not unsaid.isdisjoint(fuels_named(pattern.title))
            ways = self.of_kind[pattern.id] if known_kind else asked_by
            bare = ways.cut(" ".join(ours))
            reads = max((fuzz.token_sort_ratio(bare, phrase) for phrase in ways.plain), default=0.0) / 100
            if known:
                anywhere = (known / whole + WHOLE * reads**2) / (1 + WHOLE)
                counts = ANOTHER_KIND if _of_another_fuel(pattern, fuels) else _kind_counts(pattern.serves, meant)
                exactly = (ways.cut(" ".join(asked)) in ways.plain) + (ways.cut(told) in ways.as_said)
                yield _Scored(pattern, anywhere * counts, (counts > ANOTHER_KIND) * exactly, anywhere)


def _kind_counts(kind: str, meant: Collection[str]) -> float:
    """What is left of a score for the kind of thing that a pattern is about."""
    if meant:
        return 1.0 if _is_meant(kind, meant) else ANOTHER_KIND
    if kind in SAID_BY_NAME:
        return ANOTHER_KIND
    return 1.0 if kind in ("any", "vehicle", "road", "car") else NO_KIND


def _is_meant(kind: str, meant: Collection[str]) -> bool:
    """Whether what a pattern is about is meant: what is told of any road vehicle is meant of each of them."""
    return kind in meant or not FITS.get(kind, frozenset()).isdisjoint(meant)


def _is_meant_by_title(kind: str, meant: frozenset[str]) -> bool:
    """Whether a title is taken as it is: a horsebox may have a fault of its own by the title of any vehicle's."""
    return _kind_counts(kind, meant) > ANOTHER_KIND if SAID_BY_NAME.isdisjoint(meant) else kind in meant


def _makes_sense(kind: str, meant: Collection[str]) -> bool:
    """Whether a pattern about this kind of thing may be offered at all."""
    return not meant or not BY_ITSELF.issuperset(meant) or _is_meant(kind, meant)


def _of_another_fuel(pattern: Pattern, fuels: frozenset[str]) -> bool:
    named = fuels_named(pattern.title)
    return bool(fuels and named) and fuels.isdisjoint(named)


@lru_cache(maxsize=1)
def _shelf(patterns: tuple[Pattern, ...]) -> _Shelf:
    """Made once for all that is searched among the same patterns."""
    return _Shelf(patterns)


def _kind_words(pattern: Pattern) -> frozenset[str]:
    """The words that tell what a pattern is about, and what its engine runs on."""
    return kinds().get(pattern.serves, frozenset()) | fuels_named(pattern.title) - {LPG}


class _Asked(NamedTuple):
    """What people ask for a pattern by, in plain words and as said, without words that only tell its ``kind``.

    Where it is known to be a motorbike, "motorbike horn dead" and "horn dead" are the same.
    """

    kind: frozenset[str]
    plain: frozenset[str]
    as_said: frozenset[str]

    @classmethod
    def of(cls, pattern: Pattern, kind: frozenset[str] = frozenset()) -> _Asked:
        """Those of a pattern."""
        bare = cls(kind, frozenset(), frozenset())
        plain = (bare.cut(" ".join(stemmed(phrase))) for phrase in _asked(pattern))
        as_said = (bare.cut(" ".join(telling_words(phrase))) for phrase in _asked(pattern))
        return cls(kind, frozenset(plain), frozenset(as_said))

    def cut(self, phrase: str) -> str:
        """A phrase without the words of the kind, if two or more are left."""
        left = phrase.split()
        for telling in (self.kind - FUELS, self.kind & FUELS):
            fewer = [word for word in left if word not in telling]
            left = fewer if len(fewer) > 1 else left
        return " ".join(left)


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
