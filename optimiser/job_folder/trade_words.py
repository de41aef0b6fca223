"""What people's words stand for: the kind that a part's name implies, and what a check's title says to mind.

Pure: words and tables in, names out. The tables are ``data/kinds.toml``, ``part_names.toml`` and ``cautions.toml``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import pairwise, product
from typing import Any

from optimiser.text import unaccented

Words = tuple[str, ...]
Ways = Mapping[str, Sequence[Words]]
"""The ways to say something, by their first words."""

_SIDES = re.compile(r"(?<![a-z0-9])[nolr][/.]?[sh][/.]?[fr]?(?![a-z0-9])")
_BRACKETS = re.compile(r"\([^)]*\)?|\[[^]]*\]?|\{[^}]*\}?")
_BETWEEN_FIGURES = re.compile(r"(?<=\d)\s*[/x.,]\s*(?=\d)")
_COMMA = re.compile(r"[,;|\u2013\u2014]|\s-+\s")
_WORD = re.compile(r"[a-z0-9]+")
_NUMBER = re.compile(r"\d+")
_AND = re.compile(r"[&+/]|\b(?:and|plus)\b")
_PLUS = re.compile(r"\+|\bplus\b")
_WITH = re.compile(
    r"\b(?:with|without|incl?|including|mit|avec|con|met|med|com)\b|\b[cw]/[wo]?\b|(?<!\d )\bw\b"
    r"|\bon (?=(?:rim|wheel|alloy)s?\b)"
)
_WITHOUT = frozenset({"without", "w/o"})
_FOR = re.compile(r"\b(?:for|from|to|suits?|fits?|per|fur|pour|voor|para|dla|till?)\b")
_LED_BY_FOR = re.compile(rf"^\s*(?:{_FOR.pattern})")
_INITIAL = re.compile(r"(?<![a-z0-9])([a-z])[/.-]\s*([a-z]{3,})")
_TYRE_SIZE = re.compile(
    r"(?<!\d)(?:\d{3}\s*/\s*\d{2}\s*[/-]?\s*[a-z]{0,2}\s*\d{2}|[1-3]\d5\s+[3-8][05]\s+(?:z?r\s*)?1\d|\d{2,3}\s*/\s*\d{2,3}\s*-\s*\d{2}|\d{3}\s*s?r\s*\d{2}c?"
    r"|\d\.\d{2}\s*-\s*\d{1,2})(?![\d/])"
)
_PLACED = re.compile(r"\b(?:behind|beside|beneath|under|below|above)\b")
_ENDS = (_WITH, _COMMA, _FOR, re.compile(r"\bof\b"), _PLACED)
"""What ends the name of a part: what follows is thrown away, or stands in front of the name as well."""
_ANY_END = re.compile("|".join(sign.pattern for sign in _ENDS if sign is not _PLACED))
_PIECES = re.compile(rf"{_ANY_END.pattern}|{_AND.pattern}|[()\[\]{{}}:]")
_NOT = frozenset({"before", "without", "not", "never", "no"})
_FILLERS = frozenset({"the", "a", "an", "it", "is", "its", "her", "him", "them", "both", "this", "that"})
_OF = frozenset({"de", "du", "des", "di", "del", "della", "dei", "do", "da", "d"})
"""What stands in another language before a word that only tells of what a part is: "capteur de plaquettes de frein"."""
_SHORTEST_GLUED, _LONGEST_GLUED = 3, 40
_SHORTEST_ENDING = 5
"""Letters that a word has at the least, at the end of a longer one, to make another thing of it."""
_SHORTEST_MISSPELT, _SHORTEST_GLUED_MISSPELT = 6, 8
FREE = "free"
"""The kind of a part that may be bought used."""
MOST_REMEMBERED = 10_000
"""Names and words of which it is remembered what they are made of."""


def singular(word: str) -> str:
    """A word without the ending of more than one."""
    if len(word) <= 3 or word.endswith(("ss", "us", "sis")):
        return word
    if word.endswith("ies"):
        return f"{word[:-3]}y"
    if word.endswith(("sses", "xes", "ches", "shes")):
        return word[:-2]
    return word.removesuffix("s")


def words_of(text: str) -> Words:
    """The words of a text, singular and in lower case; its hyphens and other signs part words."""
    return tuple(
        singular(word) for word in _WORD.findall(unaccented(text.lower()).replace("'s", "").replace("\u2019s", ""))
    )


def spelt_out(phrase: str) -> Iterator[Words]:
    """Every way to say a phrase of the tables: "gas feed|supply? hose" has three."""
    slots = []
    for word in phrase.split():
        ways: list[Words] = [(singular(one),) for one in word.removesuffix("?").split("|")]
        slots.append([*ways, ()] if word.endswith("?") else ways)
    return (tuple(word for part in way for word in part) for way in product(*slots))


@dataclass(frozen=True)
class PartWords:
    """The tables that tell the kind of a part by its name."""

    phrases: Mapping[Words, str]
    bare: Mapping[Words, Words]
    left_out: frozenset[str]
    units: frozenset[str]
    plain: frozenset[str]
    same: Mapping[str, str]
    others: frozenset[Words]
    """What a name ends or begins with that is of another thing, whatever else stands in it."""
    harmless: frozenset[Words]
    """What is free where nothing else is said: no word beside it may be of another part."""
    fixings: frozenset[str]
    even_with: frozenset[str]
    """Kinds that a part is of that comes with one of them."""
    begin: Mapping[str, str]
    """The kinds of words in other languages by what they begin with."""
    foreign: Mapping[Words, str | None]
    """Names in other languages, of ordinary things too."""

    @classmethod
    def of(cls, tables: Mapping[str, Mapping[str, Any]], elsewhere: Mapping[str, str]) -> PartWords:
        """From ``data/kinds.toml``, and names from ``part_names.toml`` by the English one that each stands for."""
        general = tables["words"]
        kinds = {name: row for name, row in tables.items() if name != "words"}
        bare: dict[Words, Words] = {}
        for kind, row in kinds.items():
            bare |= {way: (*bare.get(way, ()), kind) for each in row["bare"] for way in spelt_out(each)}
        ours = cls(
            phrases={way: kind for kind, row in kinds.items() for each in row["phrases"] for way in spelt_out(each)},
            bare=bare,
            left_out=frozenset(general["left_out"]),
            units=frozenset(general["units"]),
            plain=frozenset(general["plain"]),
            same=general["same"],
            others=frozenset(way for each in general["others"] for way in spelt_out(each)),
            harmless=frozenset(way for each in general["harmless"] for way in spelt_out(each)),
            fixings=frozenset(general["fixings"]),
            even_with=frozenset(kind for kind, row in kinds.items() if row.get("even_with")),
            begin={stem: kind for kind, row in kinds.items() for stem in row.get("begin", ())},
            foreign={},
        )
        return replace(ours, foreign=ours._kinds_of(elsewhere))

    def implied(self, title: str, name: str) -> tuple[str | None, Words]:
        """The kind that a part's title, else its id, implies anywhere, and those that it may where a system names one.

        All after a comma, "for", "behind" or "with" is left out; "belt, seat" and "fuse of the airbag" are read the
        other way round as well.
        """
        return self._implied(_figures_alike(title), _figures_alike(name))

    @cached_property
    def _implied(self) -> Callable[[str, str], tuple[str | None, Words]]:
        """``_judged`` remembered: of a catalogue's articles many differ in their numbers alone."""
        return lru_cache(maxsize=MOST_REMEMBERED)(self._judged)

    def _judged(self, title: str, name: str) -> tuple[str | None, Words]:
        if not self._may_speak(title) and not self._may_speak(name):
            return None, ()
        said, text = next(((each, text) for each in (title, name) if any(self._left(text := _plainly(each)))), ("", ""))
        if self._is_harmless(said):
            return FREE, ()
        head, *turned = self._readings(_INITIAL.sub(self._initial, _SIDES.sub(" ", text)).replace(":", " "))
        readings = (head, *turned)
        named = [k for way in (self._phrase, self._together, self._named_elsewhere) if (k := _first(way, readings))]
        kind = self._gravest(named)
        if kind in (None, self._least):  # a word that says less than a phrase does
            inside = (kind, _first(self._inside, readings))
            kind = self._gravest(filter(None, inside)) or _first(self._begun, readings)
        kind = next((each for each in self._brought(text) if each in self.even_with), kind)
        return kind, () if kind else self._bare(head)

    def _is_harmless(self, said: str) -> bool:
        """Whether a whole name is one of ordinary things, with nothing beside it that is a part: "brake cleaner"."""
        name, *beside = _PIECES.split(unaccented(said.lower()).replace("_", " "))
        return self._left(name) in self.harmless and all(self._judged(each, "") == (None, ()) for each in beside)

    def _may_speak(self, text: str) -> bool:
        """Whether a word of the text begins as one that is known does: of a catalogue's names few do."""
        plain = unaccented(text.lower())
        begun = (word[:_SHORTEST_GLUED] for word in words_of(plain))
        within = any(stem in plain for stem in self._go_on)
        return within or not self._beginnings.isdisjoint(begun) or bool(_TYRE_SIZE.search(plain))

    @cached_property
    def _go_on(self) -> Words:
        return tuple(stem[1:] for stem in self.begin if stem[0] == "~")

    @cached_property
    def _beginnings(self) -> frozenset[str]:
        harmless = (way[0] for way in self.harmless)
        known = (*self._known, *self.same, *self._foreign_begin, *self.begin, *harmless)
        return frozenset(word[:_SHORTEST_GLUED] for word in known)

    def _initial(self, said: re.Match[str]) -> str:
        """What a letter stands for before the second word of a phrase: "t/rod" is "track rod"."""
        letter, second = said[1], singular(said[2])
        if (letter + second,) in self.phrases:  # a shape: "a-arm"
            return letter + second
        return f"{self._initials.get((letter, self.same.get(second, second)), letter)} {said[2]}"

    @cached_property
    def _initials(self) -> Mapping[tuple[str, str], str]:
        pairs = (pair for phrase in reversed([*self.phrases]) for pair in pairwise(phrase))
        return {(first[0], second): first for first, second in pairs}

    def _readings(self, text: str) -> list[str]:
        """What stands before the signs that end a name; then what stands after each that turns it round, before it."""
        tails = []
        for sign in _ENDS:
            found = sign.search(text)
            if found is None:
                continue
            text, tail = text[: found.start()], text[found.end() :]
            if not any(self._left(text)):
                return self._readings(tail)
            if sign is not _WITH:
                tails.append(_ANY_END.split(_LED_BY_FOR.sub("", tail), maxsplit=1)[0])
        return [text, *(f"{tail} {text}" for tail in tails)]

    def _brought(self, text: str) -> Iterator[str | None]:
        """The kinds of what a part comes with."""
        for sign in _WITH.finditer(text):
            if sign[0] not in _WITHOUT:
                with_it = _ANY_END.split(text[sign.end() :], maxsplit=1)[0]
                yield self._phrase(with_it) or self._named_elsewhere(with_it) or self._begun(with_it)

    def _phrase(self, text: str) -> str | None:
        """The kind of a phrase that ends the text; of things joined by "and" the last, or one beside a lone word.

        A plus parts two things, of which either may tell.
        """
        if len(things := _PLUS.split(text)) > 1:
            return next((kind for thing in things if (kind := self._phrase(thing))), None)
        joined = [left for each in _AND.split(text) if (left := self._left(each))]
        found = [self._ending(left) for left in joined]
        if found and found[-1] is None and self._takes_over(joined[-1]):
            return None
        return next((kind for kind in reversed(found) if kind), None)

    def _takes_over(self, last: Words) -> bool:
        """Whether what stands before "and" only tells of the last: "seat belt and airbag warning bulb"."""
        return len(last) > 1 and last[-1] not in self.fixings and any(self._kinds_inside(last))

    def _ending(self, left: Words) -> str | None:
        """The kind of the longest phrase that ends the name, unless a longer one of another thing does."""
        for words in (left, self._without_plain(left)):
            if words and (f"^{words[0]}", *words[1:]) in self.phrases:
                return self.phrases[f"^{words[0]}", *words[1:]]
            for start in range(len(words)):
                if words[start:] in self.others or (start == len(words) - 1 > 0 and words[:1] in self.others):
                    return None
                if words[start:] in self.phrases:
                    return self.phrases[words[start:]]
        return None

    def _inside(self, text: str) -> str | None:
        """The kind of a phrase anywhere in the text, also turned about ("pad brake"), unless it is of another thing."""
        joined = [left for each in _AND.split(text) if (left := self._left(each))]
        if not joined or self._is_another(joined[-1]):
            return None
        ours = (left for left in joined if not self._is_another(left))
        ways = (way for left in ours for way in (left, self._without_plain(left)))
        return self._gravest(kind for way in ways for kind in self._kinds_inside(way))

    def _kinds_inside(self, left: Words) -> Iterator[str]:
        for at in range(len(left)):
            yield from (kind for end in range(at, len(left)) if (kind := self._anywhere.get(left[at : end + 1])))

    @cached_property
    def _anywhere(self) -> Mapping[Words, str]:
        turned = {words[::-1]: kind for words, kind in self.phrases.items() if len(words) == 2}
        return turned | dict(self.phrases)

    def _gravest(self, kinds: Iterable[str]) -> str | None:
        """Of several kinds the one that stands first in the tables: the last is the one of all that is left."""
        return min(kinds, key=self._order.__getitem__, default=None)

    @cached_property
    def _least(self) -> str:
        return [*self._order][-1]

    @cached_property
    def _order(self) -> Mapping[str, int]:
        kinds = dict.fromkeys((*self.phrases.values(), *self.begin.values()))
        return {kind: number for number, kind in enumerate(kinds)}

    def _begun(self, text: str) -> str | None:
        """The kind of a word in another language by what it begins with, unless it is of another thing."""
        left = self._left(text)
        named = self._without_plain(left)
        if self._is_another(left) or any(named[:end] in self.foreign for end in range(1, len(named) + 1)):
            return None
        found = self._stems.search(" ".join(_WORD.findall(text)))
        return self.begin.get(found[0], self.begin.get(f"~{found[0]}")) if found else None

    @cached_property
    def _stems(self) -> re.Pattern[str]:
        """What begins a word; of those with a "~" before them also what a word goes on with."""
        longest_first = sorted(self.begin, key=lambda stem: (-len(stem), stem))
        found = "|".join(stem.replace("~", "") if stem[0] == "~" else rf"\b{stem}" for stem in longest_first)
        return re.compile(found or r"(?!)")

    def _is_another(self, left: Words) -> bool:
        """Whether a name is one of another thing: a lamp, a switch, a cover; "pinch bolt type" only describes."""
        named = self._without_plain(left)
        if any(named[: at + 1] in self.others for at in range(len(named))):
            return True
        if not named or (left[-1] == "type" and named[-1] in self.fixings):
            return False
        return named[-1].endswith(self._other_endings) or any(named[at:] in self.others for at in range(len(named)))

    @cached_property
    def _other_endings(self) -> tuple[str, ...]:
        return tuple(way[0] for way in self.others if len(way) == 1 and len(way[0]) >= _SHORTEST_ENDING)

    def _named_elsewhere(self, text: str) -> str | None:
        """The kind of a name in another language; wherever it stands, for where the noun does differs by language."""
        return next((kind for left in map(self._left, _AND.split(text)) for kind in self._names_inside(left)), None)

    def _names_inside(self, left: Words) -> Iterator[str]:
        """The kinds of the names in other languages, of each the longest."""
        done = 0
        for at, word in enumerate(left):
            named = at == 0 or left[at - 1] not in _OF or _OF.issuperset(left[:at])
            if at < done or not named or word not in self._foreign_begin:
                continue
            end = next((end for end in range(len(left), at, -1) if left[at:end] in self.foreign), 0)
            done = max(done, end)
            if end and (kind := self.foreign[left[at:end]]):
                yield kind

    def _kinds_of(self, elsewhere: Mapping[str, str]) -> Mapping[Words, str | None]:
        """The kinds of names in other languages; one in words of these tables is judged by the tables alone."""
        kinds = {ours: self._ending(self._left(ours)) or self._inside(ours) for ours in elsewhere.values()}
        by_words = {words_of(name) if name.isalpha() else self._left(name): kinds[o] for name, o in elsewhere.items()}
        return {
            words: kind
            for words, kind in by_words.items()
            if words and words[0] not in _OF and not self._is_ours(words, kind)
        }

    def _is_ours(self, words: Words, kind: str | None) -> bool:
        """Whether a name is one in words of these tables, or such that are run together: "towbar"."""
        parted = tuple(part for word in words for part in self._parted(word))
        run_together = len(parted) > len(words) and self._known.issuperset(parted) and self._ending(parted) == kind
        return self._known.issuperset(words) or run_together

    @cached_property
    def _foreign_begin(self) -> frozenset[str]:
        return frozenset(words[0] for words in self.foreign)

    def _bare(self, text: str) -> Words:
        """The kinds of a word or phrase that stands alone, of several such joined by "and" those of the last."""
        return next(reversed(self._bare_each(text)), ())

    def _bare_each(self, text: str) -> list[Words]:
        """Of things joined by "and", for each the kinds of a word or phrase that stands alone."""
        joined = (self._without_plain(self._left(each)) for each in _AND.split(text))
        return [self.bare.get(left, ()) for left in joined if left]

    def _together(self, text: str) -> str | None:
        """The one kind of several words that stand alone, each of which may be of it: "discs and pads"."""
        each = self._bare_each(text) if _AND.search(text) else []
        both = set(each[0]).intersection(*each[1:]) if len(each) > 1 else set[str]()
        return both.pop() if len(both) == 1 else None

    def _without_plain(self, left: Words) -> Words:
        return tuple(word for word in left if word not in self.plain)

    @cached_property
    def _left(self) -> Callable[[str], Words]:
        """``_words_left`` remembered: a name is asked for its words by every way to read it."""
        return lru_cache(maxsize=MOST_REMEMBERED)(self._words_left)

    def _words_left(self, text: str) -> Words:
        """The words without position, side, number and set; words run together are parted.

        Within a phrase that has such a word it stays: "fuel leak off".
        """
        kept: list[str] = []
        number = False
        for word in words_of(text):
            is_number = any(sign.isdigit() for sign in word)
            if not is_number and not (number and word in self.units):
                kept += self._known_parts(word)
            number = is_number
        held = {at for phrase in self._with_left_out if phrase[0] in kept for at in _within(phrase, kept)}
        return tuple(word for at, word in enumerate(kept) if word not in self.left_out or at in held)

    @cached_property
    def _known_parts(self) -> Callable[[str], Words]:
        """A word as it is known, spelt right and parted; remembered, for a catalogue says the same words again."""
        return lru_cache(maxsize=MOST_REMEMBERED)(lambda word: self._parted(self._respelt(self.same.get(word, word))))

    @cached_property
    def _with_left_out(self) -> Sequence[Words]:
        """The phrases with words that are left out elsewhere."""
        bare = {(phrase[0].removeprefix("^"), *phrase[1:]) for phrase in self.phrases}
        return sorted(phrase for phrase in bare if not self.left_out.isdisjoint(phrase))

    def _respelt(self, word: str) -> str:
        """A longer word that nobody knows and that is one slip away from one of the phrases, as that one."""
        known = word in self._spelt_right or self._is_another((word,))
        if len(word) < _SHORTEST_MISSPELT or known or not word.isalpha():
            return word
        from rapidfuzz.distance import OSA  # noqa: PLC0415 - wanted only for words that nobody knows

        near = (known for known in self._begun_alike.get(word[:2], ()) if OSA.distance(word, known, score_cutoff=1) < 2)
        return next(near, word)

    @cached_property
    def _spelt_right(self) -> frozenset[str]:
        return self._glued | self.plain | {word for words in self.foreign for word in words}

    @cached_property
    def _begun_alike(self) -> Mapping[str, Words]:
        """Longer words of the phrases and of other languages, by their first two letters."""
        joined = ("".join(phrase) for phrase in self.phrases if len(phrase) == 2)
        glued = {word for word in joined if len(word) >= _SHORTEST_GLUED_MISSPELT}
        words = {word for phrase in self.phrases for word in phrase} | {ws[0] for ws in self.foreign if len(ws) == 1}
        longer = sorted(word for word in words | glued if len(word) >= _SHORTEST_MISSPELT - 1)
        return {two: tuple(word for word in longer if word[:2] == two) for two in {word[:2] for word in longer}}

    def _parted(self, word: str) -> Words:
        """A word that is two or more known ones run together, such as seatbelt, as those; else itself."""
        if word in self._glued or len(word) > _LONGEST_GLUED:
            return (word,)
        for at in range(_SHORTEST_GLUED, len(word) - _SHORTEST_GLUED + 1):
            first = self.same.get(word[:at], word[:at])
            rest = self._parted(self.same.get(word[at:], word[at:])) if first in self._glued else (word,)
            if self._glued.issuperset(rest):
                return (first, *rest)
        return (word,)

    @cached_property
    def _known(self) -> frozenset[str]:
        phrased = (word for phrase in self.phrases for word in phrase)
        alone = (word for phrase in self.bare for word in phrase)
        return frozenset({*phrased, *alone, *self.left_out} - {"in", "to"})

    @cached_property
    def _glued(self) -> frozenset[str]:
        """What words that are run together may be made of."""
        return self._known | {words[0] for words in self.foreign if len(words) == 1}


def _within(phrase: Words, words: Sequence[str]) -> Iterator[int]:
    """Where the words of a phrase stand in others, side by side."""
    for start in range(len(words) - len(phrase) + 1):
        if tuple(words[start : start + len(phrase)]) == phrase:
            yield from range(start, start + len(phrase))


def _figures_alike(text: str) -> str:
    """The text with every number as the same one, where none is a tyre's size: what a part is hangs on no other."""
    return text if _TYRE_SIZE.search(text.lower()) else _NUMBER.sub("0", text)


def _plainly(text: str) -> str:
    """Small letters without brackets and accents; a tyre's size as the word."""
    text = _BRACKETS.sub(" ", unaccented(text.lower()).replace("_", " "))
    return _BETWEEN_FIGURES.sub(" ", _TYRE_SIZE.sub(" tyre ", text))


def _first(way: Callable[[str], str | None], readings: Iterable[str]) -> str | None:
    return next((kind for each in readings if (kind := way(each))), None)


@dataclass(frozen=True)
class CheckWords:
    """The tables that tell by a check's title what makes it dangerous itself."""

    said: Mapping[str, Ways]
    unless: Mapping[str, Ways]
    """What excuses a part of a title."""
    passed_over: Mapping[str, Ways]
    """What means something else, and excuses nothing beside it."""

    @classmethod
    def of(cls, tables: Mapping[str, Mapping[str, Any]]) -> CheckWords:
        """From the sections of ``data/cautions.toml`` that have words."""
        said, unless, passed_over = (
            {name: _by_first_word(row.get(key, ())) for name, row in tables.items()}
            for key in ("words", "unless", "passed_over")
        )
        return cls({name: ways for name, ways in said.items() if ways}, unless, passed_over)

    def minded(self, title: str) -> tuple[str, ...]:
        """What must be minded in a check; words right after "not" or "before" do not count.

        "Engine off, ... then again with it running": what excuses a part of a title excuses nothing after "then".
        """
        parts = _parted_at_then(word for word in words_of(title) if word not in _FILLERS)
        return tuple(
            danger
            for danger, ways in self.said.items()
            if any(
                _speaks(_cleared(part, self.passed_over[danger]), ways) and not _speaks(part, self.unless[danger])
                for part in parts
            )
        )


def _parted_at_then(words: Iterable[str]) -> list[Words]:
    """What is done first, and each of what is done "then"."""
    parts: list[Words] = [()]
    for word in words:
        parts = [*parts, ()] if word == "then" else [*parts[:-1], (*parts[-1], word)]
    return [part for part in parts if part]


def _by_first_word(phrases: Iterable[str]) -> Ways:
    ways: dict[str, list[Words]] = {}
    for way in (way for phrase in phrases for way in spelt_out(phrase)):
        ways.setdefault(way[0], []).append(way)
    return ways


def _speaks(words: Words, ways: Ways) -> bool:
    """Whether one of the ways stands in the words, and not right after "not"."""
    return any(_NOT.isdisjoint(words[max(0, at - 1) : at]) for at, _ in _places(words, ways))


def _places(words: Words, ways: Ways) -> Iterator[tuple[int, int]]:
    """Where ways begin and end in the words; "^" holds one to their beginning."""
    for at, word in enumerate(words):
        begun = (*ways.get(word, ()), *(ways.get(f"^{word}", ()) if at == 0 else ()))
        yield from ((at, at + len(way)) for way in begun if words[at + 1 : at + len(way)] == way[1:])


def _cleared(words: Words, ways: Ways) -> Words:
    """The words with a gap where each of the ways stands."""
    gone = {number for place in _places(words, ways) for number in range(*place)}
    return tuple("" if number in gone else word for number, word in enumerate(words))
