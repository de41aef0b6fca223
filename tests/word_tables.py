"""The tables of words in the guide, made from the data; ``python -m tests.word_tables`` puts them into its pages."""

from __future__ import annotations

import re
import tomllib
from collections import defaultdict
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from optimiser.job_folder.expected import BY_KEY, INSIDE
from optimiser.model.job import LicensedSystem

DATA = Path(__file__).parents[1] / "data"
GUIDE = DATA / "guide"


def data(name: str) -> dict[str, dict[str, Any]]:
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


def table(headings: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    lines = [list(headings), *map(list, rows)]
    lines.insert(1, ["---"] * len(lines[0]))
    return "".join(f"|{'|'.join(f' {cell} ' if cell else ' ' for cell in cells)}|\n" for cells in lines)


def words(several: Iterable[str]) -> str:
    return ", ".join(several)


def systems() -> str:
    licensed = {system.value for system in LicensedSystem}
    return table(
        ("`system`", "everyday names", "its kinds of part", "licensed"),
        (
            (f"`{name}`", words(row["names"]), words(row["kinds"]), "licensed" if name in licensed else "")
            for name, row in data("systems").items()
        ),
    )


def kinds() -> str:
    rows = {name: row for name, row in data("kinds").items() if name != "words"}
    return table(("`kind`", "everyday names"), ((f"`{name}`", words(row["names"])) for name, row in rows.items()))


def conditions() -> str:
    return table(
        ("`condition`", "what it means", "sound"),
        ((f"`{name}`", row["meaning"], f"{row['good_chance']:.2f}") for name, row in data("conditions").items()),
    )


def choices() -> str:
    """Keys with fixed words; a list says what may stand in it."""
    wanted = {key: INSIDE.get(key, want).choices for key, want in BY_KEY.items()}
    return table(
        ("key", "one of"),
        ((f"`{key}`", words(f"`{each}`" for each in found)) for key, found in wanted.items() if found),
    )


def keys() -> str:
    """Keys by what belongs under them, those with fixed words apart."""
    by_want = defaultdict(list)
    for key, want in BY_KEY.items():
        if not INSIDE.get(key, want).choices:
            by_want[want].append(f"`{key}`")
    return table(
        ("what belongs there", "write", "keys"),
        (
            (want.expected, want.mend.removeprefix("write ").removeprefix("it such as "), words(found))
            for want, found in by_want.items()
        ),
    )


def headings() -> str:
    found = data("headings")
    columns = {**found["columns"], "ignore": [word for some in found["left_out"].values() for word in some]}
    return table(("column", "headings"), ((f"`{name}`", words(each)) for name, each in columns.items()))


def condition_words() -> str:
    rows = data("condition_words")
    return table(
        ("condition", "words", "only where no other word is found"),
        ((name, words(row["words"]), words(row.get("weak", ()))) for name, row in rows.items()),
    )


def price_words() -> str:
    return table(("in a price", "words"), ((name, words(found)) for name, found in data("headings")["prices"].items()))


def part_names() -> str:
    """Names that may be something else stand apart."""
    found = data("part_names")
    asked = found.pop("may_be")
    parts = {ours: (names, asked.get(ours, ())) for table in found.values() for ours, names in table.items()}
    return table(
        ("part", "other names", "asked about"),
        ((ours, words(names), words(may)) for ours, (names, may) in parts.items()),
    )


def sides() -> str:
    groups = data("headings")["sides"]["groups"]
    return table(("side", "words"), ((first, words(others)) for first, *others in groups if others))


TABLES = {
    "words": (systems, kinds, conditions, choices, keys),
    "headings": (headings, condition_words, price_words, part_names, sides),
}
"""By page the tables that stand in it."""


def filled(page: str, tables: Iterable[str]) -> str:
    """The page with each table in the place of the one that has the same headings."""
    for made in tables:
        head = re.escape(made.splitlines()[0])
        page, found = re.subn(rf"(?m)^{head}\n(\|.*\n)*", lambda _, made=made: made, page)
        assert found == 1, f"{found} tables begin with {made.splitlines()[0]}"
    return page


if __name__ == "__main__":
    for topic, makers in TABLES.items():
        file = GUIDE / f"{topic}.md"
        file.write_text(filled(file.read_text(encoding="utf-8"), [make() for make in makers]), encoding="utf-8")
