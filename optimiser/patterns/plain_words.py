"""What a person's words stand for, by the tables of ``data/lay_words.toml`` and the names of systems and parts."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from itertools import pairwise

from optimiser.job_folder import package_data
from optimiser.text import unaccented

FUELS = frozenset({"petrol", "diesel", "lpg"})
"""What an engine runs on: a fault of one is none of an engine that runs on the other."""
LPG = "lpg"
"""It is never left out of what people ask by, for what runs on it runs on petrol as well; who has it says so."""
GAS = re.compile(r"\bgas\b", re.IGNORECASE)
"""It tells no fuel: it may be petrol, LPG or a cooker's bottle. Where something runs on LPG, it is that."""
WORD = re.compile(r"[a-z0-9]+")
LETTER = re.compile(r"\b([a-z])-(?=[a-z]{2})")
"""A letter that belongs to the word behind its hyphen: "e-bike", "u-bolt"."""
LEAST_BEGUN = 5
"""Letters that a word of another language has at the least to stand for what it begins."""


def stemmed(said: str) -> list[str]:
    """The words that tell something, each by what it stands for."""
    return [lay().get(word, word) for word in telling_words(said)]


def telling_words(said: str) -> list[str]:
    """The words that tell something, without their endings, as they were said."""
    return [word for word in map(stem, all_words(said)) if word not in left_out()]


def all_words(said: str) -> list[str]:
    plain = unaccented(said.lower()).replace("'", "").replace("\u2019", "")
    return WORD.findall(LETTER.sub(r"\1", plain))


def stem(word: str) -> str:
    """A word without its commonest endings, that of many first: "bearings" is "bearing"."""
    for endings in (("ies", "es", "s"), ("ing", "ed")):
        ending = next((e for e in endings if word.endswith(e) and len(word) - len(e) >= 4), "")
        if ending and not word.endswith("ss"):
            word = word[: -len(ending)] + ("y" if ending == "ies" else "")
    return word


@cache
def lay() -> dict[str, str]:
    """Everyday words, stemmed, by the plain word that they stand for."""
    groups = package_data.lay_words()["same"]
    return {stem(word): stem(plain) for plain, words in groups.items() for word in words}


@cache
def elsewhere() -> dict[str, str]:
    """Words of other languages, the longest first, with the plain words that they stand for; phrases among them."""
    groups = package_data.lay_words()["elsewhere"]
    named = {" ".join(WORD.findall(unaccented(word))): plain for plain, words in groups.items() for word in words}
    return dict(sorted(named.items(), key=lambda one: -len(one[0])))


def phrases_elsewhere(said: str) -> tuple[list[str], list[str]]:
    """The plain words for phrases of another language, and the words that are left of what was said."""
    text, found = " ".join(WORD.findall(unaccented(said.lower()))), list[str]()
    for phrase, plain in elsewhere().items():
        if " " in phrase and f" {phrase}" in f" {text}":
            found.append(plain)
            text = f" {text}".replace(f" {phrase}", " ").strip()
    return found, text.split()


def stands_for(word: str) -> list[str]:
    """The plain words for a word of another language, and for the rest of a long one: "bremspedal"."""
    if word in elsewhere():
        return [elsewhere()[word]]
    begun = next((known for known in elsewhere() if len(known) >= LEAST_BEGUN and word.startswith(known)), None)
    if begun is None:
        return []
    rest = word[len(begun) :]
    return [elsewhere()[begun], *(stands_for(rest) or [rest])] if rest else [elsewhere()[begun]]


@cache
def things() -> frozenset[str]:
    """The plain words, stemmed, for systems and parts."""
    return frozenset(word for name in _names() for word in stemmed(name))


def _names() -> Iterator[str]:
    """What systems and parts are called."""
    for system, row in package_data.systems().items():
        yield from (system, *row["names"])
    for table in package_data.part_names().values():
        yield from table


@cache
def nouns() -> frozenset[str]:
    """The things by themselves: the plain words, stemmed, that names of systems and parts end with."""
    return frozenset(words[-1] for name in _names() if (words := stemmed(name))) - faults()


@cache
def kinds() -> dict[str, frozenset[str]]:
    """By kind of thing the words, stemmed, that tell of it, also those that may tell of another."""
    shared = {kind: [word for word, among in _of_several_kinds().items() if kind in among] for kind in _telling()}
    as_known = {kind: [lay().get(word, word) for word in words] for kind, words in shared.items()}
    return {kind: words.union(shared[kind], as_known[kind]) for kind, words in _telling().items()}


@cache
def _telling() -> dict[str, frozenset[str]]:
    """By kind of thing the words, stemmed, that tell of it and of no other."""
    return {kind: frozenset(map(stem, words)) for kind, words in package_data.lay_words()["serves"].items()}


@cache
def _of_several_kinds() -> dict[str, list[str]]:
    """Words, stemmed, that tell of one kind or another, with those kinds, the likeliest first."""
    return {stem(word): among for word, among in package_data.lay_words()["serves_one_of"].items()}


def kinds_named(said: str, about: str = "") -> frozenset[str]:
    """The kinds of thing that words are about, else what else is known, as far as they tell; "ride on" is "rideon".

    A word of several kinds tells the one that something else tells, too, else the first of them: a fork is a bicycle's
    where the job is one.
    """
    alone = all_words(said)
    words = {*map(stem, (*alone, *map("".join, pairwise(alone))))}
    open_ones = words & _of_several_kinds().keys()
    plain = {*open_ones, *(lay().get(word, word) for word in words - open_ones)}
    told = {kind for kind, telling in _telling().items() if plain & telling}
    elsewhere = kinds_named(about) if about else frozenset[str]()
    decided = told or elsewhere
    among = map(_of_several_kinds().__getitem__, open_ones)
    told.update(kind for kinds_of_word in among for kind in decided.intersection(kinds_of_word) or kinds_of_word[:1])
    return frozenset(told) or elsewhere


def fuels_named(said: str) -> frozenset[str]:
    """The fuels that words name."""
    return FUELS.intersection(lay().get(word, word) for word in telling_words(GAS.sub(" ", said)))


@cache
def faults() -> frozenset[str]:
    """The plain words, stemmed, that say what is wrong with a thing."""
    return frozenset(map(stem, package_data.lay_words()["words"]["faults"]))


@cache
def no_things() -> frozenset[str]:
    """Words, stemmed, that names end with and that by themselves name no part of a machine."""
    return frozenset(map(stem, package_data.lay_words()["words"]["no_things"]))


@cache
def mean_several() -> frozenset[frozenset[str]]:
    """Words, stemmed, that may mean several faults where they stand together."""
    return frozenset(frozenset(telling_words(phrase)) for phrase in package_data.lay_words()["words"]["mean_several"])


@cache
def left_out() -> frozenset[str]:
    """Words that tell nothing of a fault."""
    return frozenset(stem(word) for word in package_data.lay_words()["words"]["left_out"])
