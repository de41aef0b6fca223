"""Systems and kinds as people write them, into the names that the rules know; an unknown one is a problem."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from functools import cache

from optimiser.job_folder import package_data
from optimiser.job_folder.problems import Place, nearest, shown
from optimiser.job_folder.trade_words import words_of
from optimiser.model.job import Check, Fault, Part

_ENDINGS = ("system", "part")
Table = Callable[[], Mapping[str, Mapping[str, Iterable[str]]]]
"""A table of ``package_data`` whose rows hold their everyday ``names``."""
_JOINING = frozenset({"and", "und", "et", "en", "y", "e", "i", "och", "og", "the"})
_AND = re.compile(r"[\s-]+(?:and|und|et|en|y|e|i|och|og)[\s-]+(?:the[\s-]+)?|\s*[&+,/]\s*")
_BESIDE = frozenset({"pipe", "hose", "tube", "line", "mount", "bracket", "clip", "seal", "gasket"})
"""Pieces that many systems have: beside the name of one they are of it."""
_NO_ROW: Mapping[str, Iterable[str]] = {"kinds": ()}


def fault(written: Fault, place: Place) -> Fault:
    """The fault with its systems by their plain names, and the kinds that they name."""
    systems = tuple(dict.fromkeys(_known("system", word, package_data.systems, place) for word in written.systems))
    kinds = tuple(
        dict.fromkeys(kind for name in systems for kind in package_data.systems().get(name, _NO_ROW)["kinds"])
    )
    return written.model_copy(update={"systems": systems, "kinds": kinds})


def part(written: Part, place: Place) -> Part:
    """The part with its kind by its plain name, and what its words imply."""
    word = written.kind or ""
    kind = (plain_kind(word) or _known("kind", word, package_data.kinds, place)) if word.strip() else None
    return _with_words(written.model_copy(update={"kind": kind}))


def plain_kind(word: str) -> str | None:
    """The kind of a word, else that of the part that it is the name of."""
    return plain_name(word, package_data.kinds) or package_data.part_words().implied(word, "")[0]


def _with_words(written: Part) -> Part:
    implied, where_named = package_data.part_words().implied(written.title, written.id)
    return written.model_copy(update={"implied": implied, "implied_where_named": where_named})


def check(written: Check) -> Check:
    """The check with all that must be minded in it, as written and as its title says."""
    minded = {*written.mind, *package_data.check_words().minded(written.title or written.id)}
    return written.model_copy(update={"mind": tuple(sorted(minded))})


def telling(parts: Iterable[Part], names: Iterable[str]) -> tuple[Part, ...]:
    """The rows, and one for every part without a row whose name implies a kind."""
    rows = tuple(parts)
    there = {row.id for row in rows}
    implied = package_data.part_words().implied
    return (*rows, *(_with_words(Part(id=name)) for name in sorted({*names} - there) if any(implied("", name))))


def plain_name(word: str, table: Table) -> str | None:
    """The plain name that a word stands for; None for one that nobody knows. Hyphens and plurals make no difference."""
    by_key = _by_key(table)
    known = by_key.get(_key(word)) or _said_twice(word, by_key)
    if known or table is not package_data.systems:
        return known
    return by_key.get(_key(_what(word))) or _things_joined(word, by_key)


def _what(word: str) -> str:
    """A name without words that say which, or what is wrong with it: "dead-battery" is "battery"."""
    return " ".join(each for each in words_of(word) if each not in _saying_which())


@cache
def _saying_which() -> frozenset[str]:
    """Words that name no system: sides, sets, and what may be wrong."""
    said, groups = package_data.lay_words()["words"], package_data.lay_words()["same"]
    wrong = (word for plain in said["faults"] for word in (plain, *groups.get(plain, ())))
    return package_data.part_words().left_out.union(words_of(" ".join(wrong)))


def _said_twice(word: str, by_key: Mapping[str, str]) -> str | None:
    """What each word of a name stands for, where all stand for the same: "frenos-abs"; else None."""
    meant = {by_key.get(_key(each)) for each in words_of(word) if each not in _JOINING}
    return meant.pop() if len(meant) == 1 else None


def _things_joined(word: str, by_key: Mapping[str, str]) -> str | None:
    """What the things of a name stand for, where all stand for the same: "radiator and hoses"; else None."""
    things = [thing for thing in _AND.split(word.lower()) if not _BESIDE.issuperset(words_of(thing))]
    meant = {by_key.get(_key(thing)) for thing in things}
    return meant.pop() if len(meant) == 1 else None


@cache
def _by_key(table: Table) -> Mapping[str, str]:
    rows = table()
    by_key = {_key(each): name for name, row in rows.items() for each in row["names"]}
    return by_key | {_key(name): name for name in rows}


def _key(word: str) -> str:
    words = words_of(word)
    return "".join(words[:-1] if len(words) > 1 and words[-1] in _ENDINGS else words)


def _known(key: str, word: str, table: Table, place: Place) -> str:
    """The plain name, or the word as it is once it was complained of."""
    name = plain_name(word, table)
    if name is not None:
        return name

    rows = table()

    def mend() -> str:
        meant = nearest(word, [*rows, *(each for row in rows.values() for each in row["names"])], cutoff=0.5)
        otherwise = f"write one of these words, or take {key} out"
        return f"did you mean {shown(meant)}? Else {otherwise}" if meant else otherwise

    place.complain(key, found=shown(word), expected=f"one of {', '.join(rows)}", mend=mend)
    return word
