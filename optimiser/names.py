"""The only finder of names: what a word means among ids and titles, and which ones lie near where it means none.

A word means an id as it is written; else the one id or title that it writes in another case or with other signs between
its letters; else the one that has it as a fragment, from the beginning of a word on; else the one that has it so
without the s of a plural. It never means what is only near.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from enum import IntEnum
from functools import lru_cache
from itertools import islice
from typing import NamedTuple

from optimiser.text import first_of

LEAST_FRAGMENT = 3
"""Letters that a fragment has at the least."""
NEAR = 0.6
"""How alike a word must be to a name to be offered in its place: the share of letters in common, in their order."""
MOST_OFFERED, MOST_NAMED, MOST_SEARCHED = 3, 10, 2000
MOST_SIGNS = 200
"""Longer words are near to nothing."""
LONGEST_ID = 200


class Nearness(IntEnum):
    """How a word means a name, the surest first."""

    EXACT = 0
    ALIKE = 1
    FRAGMENT = 2
    NOT = 3


class Meant(NamedTuple):
    """The id that a word means, None where it means none; then those that it may have meant, the likeliest first.

    ``several``: all that it means alike, where it is no more than one of them that it could mean.
    """

    name: str | None
    how: Nearness
    offered: tuple[str, ...] = ()
    several: tuple[str, ...] = ()


@lru_cache(maxsize=2**16)
def slug(title: str) -> str:
    """The id that a title stands for: lower case, every run of other signs one hyphen."""
    kept = "".join(c if c.isalnum() else " " for c in title.lower())
    return "-".join(kept.split())


def id_for(title: str) -> str:
    """The id of what is called so, no longer than an id may be."""
    return slug(title)[:LONGEST_ID].rstrip("-")


def meant(word: str, known: Mapping[str, str], *, whole: bool = False) -> Meant:
    """What a word means among ids with their titles; ``whole``: no fragment, as where words are opposites."""
    if word in known:
        return Meant(word, Nearness.EXACT)
    wanted = slug(word)
    same = [name for name, title in known.items() if wanted and wanted in (slug(name), slug(title))]
    begun: list[str] = []
    if not same and not whole and len(wanted) >= LEAST_FRAGMENT and not word.isdecimal():
        begun = _begun(wanted, known) or _begun_by_one(wanted, known)
        if len(begun) == 1:
            return Meant(begun[0], Nearness.FRAGMENT)
    if len(same) == 1:
        return Meant(same[0], Nearness.ALIKE)
    offered = same[:MOST_NAMED] or begun[:MOST_NAMED] or near(word, known) or _within(wanted, known)
    return Meant(None, Nearness.NOT, tuple(offered), tuple(same or begun))


def unclear(word: str, several: Sequence[str], nothing: str, mend: str) -> tuple[str, str]:
    """What is wrong with a word that does not mean one thing, and the mend: it means several, or ``nothing``."""
    if len(several) < 2:
        return nothing, mend
    return f"{word!r} may mean: {first_of(several, MOST_NAMED)}.", "Say which of them."


def near(word: str, known: Mapping[str, str], least: float = NEAR) -> list[str]:
    """The ids that a word may have meant: those that it begins a word of, its letters mixed up, spelt alike."""
    looked = dict(list(known.items())[:MOST_SEARCHED])
    wanted = slug(word)
    if not wanted or len(word) > MOST_SIGNS:
        return []
    mixed = [name for name in looked if sorted(slug(name)) == sorted(wanted)]
    return list(dict.fromkeys((*_begun(wanted, looked)[:MOST_NAMED], *mixed, *_spelt_alike(wanted, looked, least))))


def nearest(word: str, known: Iterable[str], least: float = NEAR) -> str:
    """The one known word that was probably meant, or an empty string."""
    by_lower = {each.lower(): each for each in known}
    lower = word.lower()
    if not lower or len(word) > MOST_SIGNS:
        return ""
    mixed = [each for each in by_lower if sorted(each) == sorted(lower)]
    found = mixed or _ranked(lower, by_lower, least, 1)
    return by_lower[found[0]] if found else ""


def that_lie_near(words: Iterable[str], known: Collection[str], least: float = NEAR) -> list[str]:
    """Those of many words for which ``nearest`` finds one; the many are ranked at once, which takes no time."""
    from rapidfuzz import fuzz, process  # noqa: PLC0415 - as below

    by_lower = {word: word.lower() for word in words if len(word) <= MOST_SIGNS}
    mixed = {"".join(sorted(each.lower())) for each in known}
    found = {word for word, lower in by_lower.items() if lower and "".join(sorted(lower)) in mixed}
    for each in {name.lower() for name in known}:
        near = process.extract(each, by_lower, scorer=fuzz.ratio, score_cutoff=100 * least, limit=None)
        found.update(word for _, _, word in near)
    return sorted(found)


def mend(offered: Sequence[str], known: Iterable[str]) -> str:
    """The mend for a word that means nothing: those that it may have meant, else those there are."""
    if offered:
        return f"Did you mean: {', '.join(offered)}?"
    names = list(known)
    if not names:
        return "There are none."
    return f"There are: {first_of(names, MOST_NAMED)}."


def _begun(wanted: str, known: Mapping[str, str]) -> list[str]:
    """The ids with a word, in the id or the title, that the fragment begins."""
    inside = f"-{wanted}"
    return [n for n, title in known.items() if inside in f"-{slug(n)}" or inside in f"-{slug(title)}"]


def _begun_by_one(wanted: str, known: Mapping[str, str]) -> list[str]:
    """The ids with a word that the fragment begins once the s of its plural is off: "tyres" is said of a tyre."""
    one = wanted.removesuffix("s")
    return _begun(one, known) if LEAST_FRAGMENT <= len(one) < len(wanted) else []


def _within(wanted: str, known: Mapping[str, str]) -> list[str]:
    """The ids that have the fragment anywhere, in the id or the title."""
    if len(wanted) < LEAST_FRAGMENT:
        return []
    found = (name for name, title in known.items() if wanted in slug(name) or wanted in slug(title))
    return list(islice(found, MOST_OFFERED))


def _spelt_alike(wanted: str, known: Mapping[str, str], least: float) -> list[str]:
    """By id, then by title, the most alike first."""
    ids = {slug(name): name for name in known}
    titles = {slug(title): name for name, title in known.items() if title}
    return [names[said] for names in (ids, titles) for said in _ranked(wanted, names, least, MOST_OFFERED)]


def _ranked(word: str, among: Iterable[str], least: float, most: int) -> list[str]:
    from rapidfuzz import fuzz, process  # noqa: PLC0415 - wanted only for words that nobody knows

    found = process.extract(word, list(among), scorer=fuzz.ratio, score_cutoff=100 * least, limit=most)
    return [said for said, *_ in found]
