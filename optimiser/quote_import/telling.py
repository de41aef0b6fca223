"""What a person tells of a sheet in doubt, as options: the ways that a mend offers, and what options say together."""

from __future__ import annotations

import re
import shlex
from collections.abc import Sequence
from dataclasses import replace
from typing import cast, get_args

from optimiser.errors import Problem, WordsError
from optimiser.model.imports import Known, Told
from optimiser.model.quotes import Condition
from optimiser.quote_import.matching import Names
from optimiser.text import typed

SEVERAL = {"map": "Their heading=price", "part": "Their name=part-id", "supplier": "Their name=supplier-id",
           "word": "Neuteil=new", "pack": "Their name=4"}  # fmt: skip
"""Options that may be said more than once, each with an example."""
ONE = ("condition", "decimal", "ex-tax")
_OPTION = re.compile(r"""--(?:map|word|pack|part|supplier|condition|ex-tax|decimal) (?:'[^']*'|"[^"]*"|[^\s;,'"])+""")
_WAY = re.compile(rf"(?:{_OPTION.pattern}|(?!; | or --).)+", re.DOTALL)
"""One of the ways that a mend offers; what stands between quotation marks ends none."""

_OTHERS = re.compile(r"(--[a-z-]+) ([a-z]+) \(or ([a-z, ]+)\)")


def ways(problem: Problem) -> list[str]:
    """The ways that a mend offers, each as the options to type."""
    mend = _OTHERS.sub(_spread, problem.mend)
    found = (" ".join(_OPTION.findall(piece[0])) for piece in _WAY.finditer(mend))
    return list(dict.fromkeys(filter(None, found)))


def meant(way: str) -> Told:
    """What one of the ``ways`` says."""
    return told_by(shlex.split(way))


def _spread(several: re.Match[str]) -> str:
    """An option with its other words in brackets, as one option after the other."""
    name, first, others = several.groups()
    return "; ".join(f"{name} {word.strip()}" for word in (first, *others.split(",")))


def told_by(options: Sequence[str]) -> Told:
    """What options say that were typed as they stand, each before its value. Raises ``WordsError``."""
    said: dict[str, list[str]] = {name: [] for name in (*SEVERAL, *ONE)}
    wrong: list[tuple[str, str]] = []
    words = iter(options)
    for word in words:
        name, value = word.removeprefix("--"), next(words, None)
        if not word.startswith("--") or name not in said or value is None:
            wrong.append((f"{word!r} is no option with a value.", f"The options: --{', --'.join(said)}."))
        elif name in ONE and said[name] and said[name] != [value]:
            wrong.append((f"--{name} says {said[name][0]} and {value}.", "Say one of them."))
        else:
            said[name].append(value)
    conditions = said["condition"]
    if conditions and conditions[0] not in get_args(Condition):
        wrong.append((f"{conditions[0]!r} is no condition.", f"Say one of: {', '.join(get_args(Condition))}."))
    if wrong:
        raise WordsError(wrong)
    one = {name: "".join(said[name][:1]) for name in ONE}
    return told(
        said["map"], one["ex-tax"], said["supplier"], one["condition"], one["decimal"], said["part"], said["word"],
        said["pack"],
    )  # fmt: skip


def told(
    maps: Sequence[str],
    ex_tax: str,
    suppliers: Sequence[str],
    condition: str | None,
    decimal: str,
    parts: Sequence[str],
    heard: Sequence[str],
    packs: Sequence[str],
) -> Told:
    """What the values of the options say together. Raises ``WordsError`` with everything wrong with them."""
    wrong: list[tuple[str, str]] = []
    whose = [name for name in suppliers if "=" not in name]
    if len(set(whose)) > 1:
        wrong.append(
            (f"--supplier says {' and '.join(whose)}.", "One sheet has one supplier; take them in one by one.")
        )
    found = Told(
        columns=_pairs("map", maps, wrong),
        supplier=whose[0] if whose else "",
        condition=cast("Condition | None", condition or None),  # whoever calls lets nothing else through
        decimal=decimal,
        ex_tax=ex_tax,
        parts=_pairs("part", parts, wrong),
        suppliers=_pairs("supplier", [name for name in suppliers if "=" in name], wrong),
        words=_pairs("word", heard, wrong),
        packs=_pairs("pack", packs, wrong),
    )
    for name, count in found.packs.items():
        if not (count.isdecimal() and 0 < len(count) < 7 and int(count)):
            wrong.append((f'--pack "{name}={count}" does not say how many.', f"Say: {typed('pack', name, '4')}"))
    if wrong:
        raise WordsError(wrong)
    return found


def in_ids(told: Told, known: Known) -> Told:
    """What was told, with the ids of the parts and suppliers that it names by their titles."""
    parts, suppliers = Names(known.parts, {}), Names(known.suppliers, {})
    return replace(
        told,
        parts={name: parts.same(each) or each for name, each in told.parts.items()},
        suppliers={name: suppliers.same(each) or each for name, each in told.suppliers.items()},
    )


def _pairs(option: str, words: Sequence[str], wrong: list[tuple[str, str]]) -> dict[str, str]:
    """What stands before the last equals sign, and what after it; a name said twice with two meanings is wrong."""
    pairs: dict[str, str] = {}
    for word in words:
        name, _, meaning = (part.strip() for part in word.rpartition("="))
        if not name or not meaning:
            wrong.append(
                (f'--{option} "{word}" does not say what stands for what.', f'Say: --{option} "{SEVERAL[option]}"')
            )
        elif pairs.setdefault(name, meaning) != meaning:
            wrong.append((f'--{option} says two things of "{name}".', "Say one of them."))
    return pairs
