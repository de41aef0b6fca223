"""The data that travels with the tool: chances by condition, systems and kinds of part, cautions, the guide."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping
from decimal import Decimal
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from optimiser.errors import OptimiserError
from optimiser.job_folder.trade_words import CheckWords, PartWords
from optimiser.names import slug

MAY_BE = "may_be"
"""The table of ``part_names`` with names that stand for something else as often."""
_PLACED = re.compile(r"\b(?:at|by|near|beside|behind|next to|in front of|close to) (?:the|a|my|its) ", re.IGNORECASE)
_PACKAGE = Path(__file__).resolve().parents[1]


def folder(package: Path = _PACKAGE) -> Path:
    """The folder ``data``: inside an installed package, beside the package in a checkout."""
    inside = package / "data"
    return inside if inside.is_dir() else package.parent / "data"


@cache
def conditions() -> dict[str, float]:
    """Chance that a part is sound, by condition; invented defaults, as their file says."""
    return {condition: float(row["good_chance"]) for condition, row in _tables("conditions.toml").items()}


@cache
def systems() -> dict[str, dict[str, Any]]:
    """The systems that a fault may name: their everyday ``names``, and the ``kinds`` of part that they name."""
    return _tables("systems.toml")


def systems_named(words: str) -> tuple[str, ...]:
    """The systems that words for a fault name, by whole words of theirs, the longest names first.

    What follows "at", "near" and their like only tells where, if something else is named: "soft floor at the door".
    """
    what = _PLACED.split(words, maxsplit=1)[0]
    return _named(what) or _named(words)


def _named(words: str) -> tuple[str, ...]:
    said, found = f"-{_singular(words)}-", list[str]()
    for name, system in _names_of_systems().items():
        if f"-{name}-" in said:
            found.append(system)
            said = said.replace(f"-{name}-", "-")
    return tuple(dict.fromkeys(found))


@cache
def _names_of_systems() -> dict[str, str]:
    """The systems by all their names, the longest first."""
    names = {_singular(each): system for system, row in systems().items() for each in (system, *row["names"])}
    return {name: names[name] for name in sorted(names, key=lambda name: (-len(name), name))}


def _singular(words: str) -> str:
    """The words joined by hyphens, each without the s of more than one."""
    return re.sub(r"(?<=[a-z]{2}[a-rt-z])s(?=-|$)", "", slug(words))


@cache
def kinds() -> dict[str, dict[str, Any]]:
    """The kinds that a part may have: their everyday ``names``, and the ``cautions`` that go with them."""
    return {kind: row for kind, row in _tables("kinds.toml").items() if kind != "words"}


@cache
def part_words() -> PartWords:
    """What the words of a part imply."""
    known = {
        name: ours
        for system, parts in part_names().items()
        if system != MAY_BE
        for ours, names in parts.items()
        for name in names
    }
    return PartWords.of(_tables("kinds.toml"), known)


@cache
def check_words() -> CheckWords:
    """What the words of a check say to mind."""
    return CheckWords.of(cautions())


@cache
def cautions() -> dict[str, dict[str, Any]]:
    """The sections of cautions: what each is called, its ``cautions``, and what goes with them."""
    return _tables("cautions.toml")


@cache
def lay_words() -> dict[str, dict[str, Any]]:
    """Everyday words for faults: in ``same`` by the plain word that they stand for, in ``words`` those left out."""
    return _tables("lay_words.toml")


@cache
def part_names() -> dict[str, dict[str, list[str]]]:
    """By system, other names of parts by the English one; under ``MAY_BE`` those that may be something else."""
    return _tables("part_names.toml")


@cache
def rough_scale() -> dict[str, Decimal]:
    """What a neutral unit of rough prices comes to, by currency code."""
    return {code: Decimal(str(factor)) for code, factor in _tables("rough_scale.toml")["scale"].items()}


@cache
def guide() -> dict[str, str]:
    """The pages of the guide by topic."""
    pages = {file.stem: file.read_text(encoding="utf-8") for file in sorted((folder() / "guide").glob("*.md"))}
    if not pages:
        raise OptimiserError("The guide that comes with the tool is missing: install it again.")
    return pages


def cautions_for(
    systems: Iterable[str], parts: Iterable[str] = (), minded: Mapping[str, Iterable[str]] = MappingProxyType({})
) -> dict[str, tuple[str, ...]]:
    """Cautions by title: for these systems, these kinds of part and all that goes with them.

    ``minded`` are dangers of checks with the checks that have them, which stand behind the title.
    """
    by_kind = (section for kind in parts if kind in kinds() for section in kinds()[kind]["cautions"])
    found, known = with_their_like({*systems, *by_kind, *minded}), cautions()
    checks = {name: f" ({', '.join(dict.fromkeys(named))})" for name, named in minded.items()}
    return {f"{known[name]['title']}{checks.get(name, '')}": tuple(known[name]["cautions"]) for name in sorted(found)}


def _tables(name: str) -> dict[str, dict[str, Any]]:
    try:
        return tomllib.loads((folder() / name).read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise OptimiserError(f"The file {name} that comes with the tool cannot be read: install it again.") from error


def with_their_like(sections: Iterable[str]) -> set[str]:
    """Sections of cautions with all that go with them."""
    known = cautions()
    found: set[str] = set()
    pending = set(sections) & known.keys()
    while pending:
        found |= pending
        met = {name for name, row in known.items() if "together" in row and found.issuperset(row["together"])}
        barred = {name for name, row in known.items() if not found.isdisjoint(row.get("not_beside", ()))}
        pending = {*met, *(also for name in found for also in known[name].get("also", ()))} - found - barred
    return found


def is_minded_with(kind: str, systems: Iterable[str]) -> bool:
    """Whether the systems have cautions of the kind already, and so tell which of the kind's are meant."""
    found = with_their_like(systems)
    minded = found | {cautions()[name].get("stands_for", name) for name in found}
    return not minded.isdisjoint(kinds().get(kind, {}).get("cautions", ()))


def is_raised(title: str) -> bool:
    """Whether the words say that the vehicle is lifted."""
    return "raised" in check_words().minded(title)
