"""The patterns that travel with the tool, and a person's own beside them."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Any, Literal, get_args

from optimiser import files
from optimiser.job_folder import opening, package_data
from optimiser.job_folder.problems import Complaints, Place, shown

FOLDER = "patterns"
MOST_BYTES = 1_000_000
For = Literal[
    "any", "vehicle", "road", "car", "trailer", "camper", "lorry", "horsebox", "motorbike", "cycle", "boat", "machine",
]  # fmt: skip
"""What it is a fault of: whatever there is; any vehicle, lorries too; any lighter than a lorry; one that is driven,
towed or lived in; a lorry; what carries horses; a motorbike, a cycle, a boat or a machine."""
ON_THE_ROAD = frozenset({"road", "car", "trailer"})
_ROAD = ON_THE_ROAD | {"camper"}
_VEHICLE = _ROAD | {"lorry", "horsebox"}
FITS = {"road": _ROAD, "vehicle": _VEHICLE, "any": _VEHICLE | {"motorbike", "cycle", "boat", "machine"}}
"""The kinds of thing that what is told of several fits."""


@dataclass(frozen=True)
class Pattern:
    """An ordinary fault: ``text`` is its file, in the words of ``job.toml`` with a table ``[pattern]`` on top.

    ``asked_as`` are the words by which people ask for it. ``places`` are where it may be, if that is more than one;
    what ``common`` names serves them all. ``pair`` says why two of them may have it for one reason.
    """

    id: str
    title: str
    text: str
    serves: For
    asked_as: tuple[str, ...] = ()
    places: tuple[str, ...] = ()
    common: frozenset[str] = frozenset()
    pair: str = ""

    @cached_property
    def tables(self) -> Mapping[str, Any]:
        """The whole file as it was parsed."""
        return tomllib.loads(self.text)

    @property
    def severity(self) -> str:
        """How grave the fault is, as the pattern has it."""
        return str(self.tables["fault"][0]["severity"])

    @cached_property
    def systems(self) -> frozenset[str]:
        """The systems of the fault by their plain names."""
        written = self.tables["fault"][0].get("system", ())
        words = (written,) if isinstance(written, str) else written
        return frozenset(name for word in words for name in package_data.systems_named(word))

    @property
    def causes(self) -> Mapping[str, float]:
        """The odds of its causes, as the pattern has them."""
        return dict(self.tables["fault"][0].get("causes", {}))

    def odds_if(self, likely: str | None) -> dict[str, str]:
        """The odds in words of somebody who takes one cause for the likely one; nothing where they name none."""
        if likely not in self.causes:
            return {}
        return {cause: "likely" if cause == likely else "rare" for cause in self.causes}

    @property
    def words(self) -> str:
        """The titles of its checks and repairs, which tell of it too."""
        fault = self.tables["fault"][0]
        rows = (*fault.get("check", ()), *fault.get("repair", ()), *self.tables.get("part", ()))
        return " ".join(str(row.get("title", "")) for row in rows)


def own_folder() -> Path:
    """Where a person's own patterns lie: their data folder, as the system has it."""
    from platformdirs import user_data_path  # noqa: PLC0415

    return user_data_path("optimiser", appauthor=False) / FOLDER


def catalogue(own: Path | None = None) -> dict[str, Pattern]:
    """All patterns by id; those in ``own`` stand before those of the same id that travel with the tool.

    Raises ``InputError`` with all that is wrong with a person's own.
    """
    return _travelling() | (_patterns(own) if own is not None and own.is_dir() else {})


@cache
def _travelling() -> dict[str, Pattern]:
    """Those that travel with the tool: more than a hundred files, read once."""
    return _patterns(package_data.folder() / FOLDER)


def _patterns(folder: Path) -> dict[str, Pattern]:
    """The patterns of a folder by id. Raises ``InputError`` with all that is wrong with them."""
    complaints = Complaints()
    found = dict(_each(folder, complaints))
    if complaints.count:
        raise complaints.error()
    return found


def _each(folder: Path, complaints: Complaints) -> Iterator[tuple[str, Pattern]]:
    for file in sorted(folder.glob("*.toml")):
        pattern = _pattern(file, Place(complaints, f"{FOLDER}/{files.name_of(file)}"))
        if pattern is not None:
            yield pattern.id, pattern


def _pattern(file: Path, place: Place) -> Pattern | None:
    """The file as a pattern; None once it was complained of."""
    try:
        text = opening.text(opening.content(file, place, MOST_BYTES), place)
    except opening.UnfitError:
        return None
    try:
        head = _head(tomllib.loads(text))
    except (tomllib.TOMLDecodeError, ValueError) as error:
        place.complain("", found=str(error), expected="a pattern in TOML", mend="see: optimiser guide patterns")
        return None
    return Pattern(id=file.stem, text=text, **head)


def _head(tables: Mapping[str, Any]) -> dict[str, Any]:
    """The fields of ``[pattern]``. Raises ``ValueError`` that says what is wrong."""
    head, faults = tables.get("pattern"), tables.get("fault")
    if not isinstance(head, dict) or not isinstance(head.get("title"), str):
        raise ValueError("no table [pattern] with a title")
    if not isinstance(faults, list) or len(faults) != 1 or not isinstance(faults[0].get("id"), str):
        raise ValueError("not just one [[fault]] with an id")
    if "severity" not in faults[0]:
        raise ValueError("a [[fault]] without a severity")
    serves = head.get("for", "road")
    if serves not in get_args(For):
        raise ValueError(f"for = {shown(serves)}; it is one of {', '.join(get_args(For))}")
    listed = {key: _words(head, key) for key in ("asked_as", "places", "common")}
    return {
        "title": head["title"], "serves": serves, "pair": str(head.get("pair", "")),
        "asked_as": listed["asked_as"], "places": listed["places"], "common": frozenset(listed["common"]),
    }  # fmt: skip


def _words(head: Mapping[str, Any], key: str) -> tuple[str, ...]:
    words = head.get(key, [])
    if not isinstance(words, list) or not all(isinstance(word, str) for word in words):
        raise ValueError(f"{key} is no list of words")
    return tuple(words)
