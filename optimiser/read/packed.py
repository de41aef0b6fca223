"""The data that travels with the tool: chances by condition and cautions by system."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

from optimiser.errors import OptimiserError

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
def cautions() -> dict[str, tuple[str, ...]]:
    """The cautions to print with a plan, by the system that it touches."""
    return {system: tuple(row["cautions"]) for system, row in _tables("cautions.toml").items()}


@cache
def caution_titles() -> dict[str, str]:
    """The systems that have cautions, in plain words."""
    return {system: str(row["title"]) for system, row in _tables("cautions.toml").items()}


@cache
def also_touched() -> dict[str, tuple[str, ...]]:
    """The systems whose cautions go with those of a system, where there are any."""
    return {system: tuple(row.get("also", ())) for system, row in _tables("cautions.toml").items()}


def cautions_for(systems: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """Cautions by the title of their system, for these systems and those that go with them; unknown ones have none."""
    known, titles, also = cautions(), caution_titles(), also_touched()
    touched = {*systems, *(other for system in systems for other in also.get(system, ()))}
    return {titles[system]: known[system] for system in sorted(touched) if system in known}


def _tables(name: str) -> dict[str, dict[str, Any]]:
    try:
        return tomllib.loads((folder() / name).read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise OptimiserError(f"The file {name} that comes with the tool cannot be read: install it again.") from error
