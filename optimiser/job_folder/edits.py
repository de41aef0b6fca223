"""Small changes to the text of ``job.toml`` by which nothing else in it moves: remarks, order and blanks stay.

A library that writes TOML gathers tables of one name that stand apart, and their remarks lose their place. So lines are
put in or changed here, and the text is read before and after: what is not exactly the change that was meant is refused.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping
from typing import Any

from optimiser.errors import CallError

_HEADER = re.compile(r"\s*(\[\[?)\s*([^\[\]#]+?)\s*\]\]?\s*(#.*)?$")
_CAP = re.compile(r"(\s*cap\s*=\s*)(\"[^\"]*\"|'[^']*'|[^\s#]+)")


def with_cap(text: str, cap: str) -> str:
    """The text with another amount of money as the whole pot. Raises ``CallError`` where that cannot be put in."""
    lines, table = text.splitlines(keepends=True), ""
    for number, line in enumerate(lines):
        if header := _HEADER.match(line):
            table = header[2]
        elif table == "money" and _CAP.match(line):
            lines[number] = _CAP.sub(lambda found: f'{found[1]}"{cap}"', line, count=1)
            break

    def meant(read: dict[str, Any]) -> None:
        read["money"]["cap"] = cap

    return _checked(text, "".join(lines), meant, f'Write cap = "{cap}" under [money] of job.toml by hand.')


def with_repair(text: str, place: int, repair: Mapping[str, Any]) -> str:
    """The text with one more repair at the end of the fault of that place, counted from 0; raises as ``with_cap``."""
    import tomlkit  # noqa: PLC0415 - only where something is written

    lines = text.splitlines(keepends=True)
    headers = [(number, found) for number, line in enumerate(lines) if (found := _HEADER.match(line))]
    begins = [number for number, found in headers if found[1] == "[[" and found[2] == "fault"]
    begin = begins[place] if place < len(begins) else len(lines)
    inside = [(number, found) for number, found in headers if number > begin]
    end = next((number for number, found in inside if not found[2].startswith("fault.")), len(lines))
    while end > begin and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
        end -= 1
    before = (lines[number] for number, found in inside if number < end and found[2] == "fault.repair")
    indent = next((line[: len(line) - len(line.lstrip())] for line in before), "")
    newline = "\r\n" if "\r\n" in text else "\n"
    rows = ["[[fault.repair]]", *(f"{key} = {tomlkit.item(value).as_string()}" for key, value in repair.items())]
    added = newline + "".join(f"{indent}{row}{newline}" for row in rows)
    if end and not lines[end - 1].endswith("\n"):
        added = newline + added

    def meant(read: dict[str, Any]) -> None:
        read["fault"][place].setdefault("repair", []).append(dict(repair))

    after = "".join([*lines[:end], added, *lines[end:]])
    return _checked(text, after, meant, "Write a [[fault.repair]] under the fault in job.toml by hand.")


def _checked(before: str, after: str, change: Callable[[dict[str, Any]], None], by_hand: str) -> str:
    """The text after the change. Raises ``CallError`` where it says anything else than that the change was made."""
    meant = tomllib.loads(before)
    try:
        change(meant)
        read = tomllib.loads(after)
    except (LookupError, AttributeError, TypeError, tomllib.TOMLDecodeError):
        read = None
    if read != meant:
        raise CallError("job.toml is written in a way that is not changed without a person.", by_hand)
    return after
