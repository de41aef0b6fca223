"""A corpus of suppliers' sheets with the truth of each, and how a reading of one is scored."""

from __future__ import annotations

import csv
import io
import re
import shlex
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from optimiser.errors import InputError, Problem
from optimiser.model.imports import Known, TakenRow, Told, Understood
from optimiser.money import Currency
from optimiser.quote_import import understand

PARTS = {
    "front-disc": "Front brake disc",
    "starter-motor": "Starter motor",
    "alternator": "Alternator",
    "wiper-blade": "Wiper blade",
    "spark-plug": "Spark plug",
    "wheel-bolt": "Wheel bolt",
    "heater-motor": "Heater motor",
    "door-mirror-left": "Door mirror nearside",
    "door-mirror-right": "Door mirror offside",
}
SUPPLIERS = {"oddlode": "Oddlode Rebuilds", "mossback": "Mossback Yard"}
_HERE = Path(__file__).parent


@dataclass(frozen=True)
class Sheet:
    """One sheet: its file's name, its cells, and what is true of it."""

    name: str
    file: str
    text: str
    truth: tuple[str, ...] = ()
    asks: str = ""
    currency: str = "GBP"
    parts: dict[str, str] = field(default_factory=dict)
    comments: dict[str, str] = field(default_factory=dict)
    hidden: tuple[int, ...] = ()
    struck: tuple[int, ...] = ()
    terms: str = ""

    @property
    def known(self) -> Known:
        """The job that the sheet is read for."""
        return Known(PARTS, SUPPLIERS, Currency.of(self.currency))

    def written(self, folder: Path) -> Path:
        """The file."""
        path = folder / self.file
        body = self.text.strip("\n") + "\n"
        path.write_bytes(_workbook(self) if path.suffix == ".xlsx" else body.encode())
        return path


def sheets(half: str) -> list[Sheet]:
    """The sheets of "open" or of "set_aside"."""
    rows = tomllib.loads((_HERE / f"{half}.toml").read_text(encoding="utf-8"))["sheet"]
    return [Sheet(**{k: tuple(v) if isinstance(v, list) else v for k, v in row.items()}) for row in rows]


def _workbook(sheet: Sheet) -> bytes:
    import xlsxwriter  # noqa: PLC0415

    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        page: Any = book.add_worksheet("Prices")
        line_through = book.add_format({"font_strikeout": True})
        for row, cells in enumerate(csv.reader(sheet.text.strip("\n").splitlines())):
            style = line_through if row + 1 in sheet.struck else None
            for column, cell in enumerate(cells):
                page.write(row, column, float(cell) if cell.isdecimal() else cell, style)
            if row + 1 in sheet.hidden:
                page.set_row(row, None, None, {"hidden": True})
        for cell, text in sheet.comments.items():
            page.write_comment(cell, text)
        if sheet.terms:
            book.add_worksheet("Terms").write(0, 0, sheet.terms)
    return out.getvalue()


def read(sheet: Sheet, folder: Path, told: Told | None = None) -> tuple[Understood | None, tuple[Problem, ...]]:
    """What the reader makes of a sheet, and everything that it asks."""
    try:
        understood = understand(sheet.written(folder), sheet.known, told or Told(parts=sheet.parts))
    except InputError as error:
        return None, error.problems
    return understood, understood.doubts


_OPTION = re.compile(r"""--(map|word|pack|part|supplier|condition|ex-tax|decimal) ((?:'[^']*'|"[^"]*"|[^\s;,'"])+)""")


def typed(problems: tuple[Problem, ...]) -> list[tuple[str, str]]:
    """The first option of every printed mend, as a shell hands it on."""
    found = (_OPTION.search(problem.mend) for problem in problems)
    return list(dict.fromkeys((each[1], shlex.split(each[2])[0]) for each in found if each is not None))


def told_of(options: Mapping[str, Sequence[str]]) -> Told:
    """What options, by their names, tell of a sheet."""
    one = {name: (options.get(name) or ("",))[-1] for name in ("ex-tax", "decimal", "condition")}
    from optimiser.cli.sheets import _told  # noqa: PLC0415

    return _told(
        options.get("map", ()),
        one["ex-tax"],
        options.get("supplier", ()),
        one["condition"] or None,
        one["decimal"],
        options.get("part", ()),
        options.get("word", ()),
        options.get("pack", ()),
    )


def settled(sheet: Sheet, folder: Path) -> tuple[int, tuple[Problem, ...]]:
    """How many rounds of mends, typed as printed, it takes until nothing is asked; and what is asked after three."""
    said = [("part", f"{name}={part}") for name, part in sheet.parts.items()]
    problems: tuple[Problem, ...] = ()
    for turn in range(4):
        options: dict[str, list[str]] = {}
        for option, value in said:
            options.setdefault(option, []).append(value)
        understood, problems = read(sheet, folder, told_of(options))
        if not problems and understood is not None and understood.rows:
            return turn, ()
        said = list(dict.fromkeys([*said, *typed(problems)]))
    return 4, problems


def score(sheet: Sheet, understood: Understood | None, problems: tuple[Problem, ...]) -> str:
    """Right: as the truth has it. Asks: nothing may be taken in yet. Wrong: anything else."""
    if problems or understood is None or not understood.rows:
        return "asks"
    return (
        "right" if not sheet.asks and sorted(map(line, understood.rows)) == sorted(map(_full, sheet.truth)) else "wrong"
    )


def line(row: TakenRow) -> str:
    """A row as the truth is written."""
    until = "-" if row.valid_until is None else row.valid_until.isoformat()
    rest = ("-" if each is None else str(each) for each in (row.stock, row.lead_days))
    return " ".join(
        (
            row.part,
            row.supplier,
            row.condition,
            str(row.price_minor),
            str(row.pack),
            str(row.deposit_minor),
            *rest,
            until,
        )
    )


def _full(truth: str) -> str:
    defaults = ["1", "0", "-", "-", "-"]
    said = truth.split()
    return " ".join(said + defaults[len(said) - 4 :])
