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
from xml.sax.saxutils import escape

from optimiser.errors import InputError, Problem
from optimiser.model.imports import Known, TakenRow, Told, Understood
from optimiser.money import Currency
from optimiser.quote_import import telling, understand
from tests.golden.quote_import import making

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
    hidden_columns: tuple[int, ...] = ()
    shown_as: str = ""
    """The number format of the cells with figures."""
    terms: str = ""
    tab: str = "Prices"
    tabs: dict[str, str] = field(default_factory=dict)
    """Further tabs of a workbook by their names."""
    merged: dict[str, str] = field(default_factory=dict)
    """Cells of a workbook that are one, "C2:D2", with what stands in them."""
    by_hand: bool = False
    """Nothing that is typed settles it: the sheet must be put right in a spreadsheet."""
    job: dict[str, str] = field(default_factory=dict)
    """The parts of the job with their titles, where they are not ``PARTS``."""

    @property
    def known(self) -> Known:
        """The job that the sheet is read for."""
        return Known(self.job or PARTS, SUPPLIERS, Currency.of(self.currency))

    def written(self, folder: Path) -> Path:
        """The file."""
        path = folder / self.file
        body = self.text.strip("\n") + "\n"
        made = {".xlsx": _workbook, ".ods": _open_document}.get(path.suffix)
        path.write_bytes(made(self) if made else body.encode())
        return path


def sheets(half: str) -> list[Sheet]:
    """The sheets of "open" or of "set_aside", or of the second half of either ("open_2")."""
    rows = tomllib.loads((_HERE / f"{half}.toml").read_text(encoding="utf-8"))["sheet"]
    return [Sheet(**{k: tuple(v) if isinstance(v, list) else v for k, v in row.items()}) for row in rows]


def _workbook(sheet: Sheet) -> bytes:
    import xlsxwriter  # noqa: PLC0415

    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        page: Any = book.add_worksheet(sheet.tab)
        line_through = book.add_format({"font_strikeout": True})
        money = book.add_format({"num_format": sheet.shown_as}) if sheet.shown_as else None
        for row, cells in enumerate(csv.reader(sheet.text.strip("\n").splitlines())):
            style = line_through if row + 1 in sheet.struck else None
            for column, cell in enumerate(cells):
                page.write(row, column, float(cell) if _is_figure(cell) else cell, style or money)
            if row + 1 in sheet.hidden:
                page.set_row(row, None, None, {"hidden": True})
        for column in sheet.hidden_columns:
            page.set_column(column, column, None, None, {"hidden": True})
        for cell, text in sheet.comments.items():
            page.write_comment(cell, text)
        for area, text in sheet.merged.items():
            page.merge_range(area, text)
        for name, body in sheet.tabs.items():
            other: Any = book.add_worksheet(name)
            for row, cells in enumerate(csv.reader(body.strip("\n").splitlines())):
                other.write_row(row, 0, [float(cell) if _is_figure(cell) else cell for cell in cells])
        if sheet.terms:
            book.add_worksheet("Terms").write(0, 0, sheet.terms)
    return out.getvalue()


_STRUCK = (
    '<office:automatic-styles><style:style style:name="gone" style:family="table-cell">'
    '<style:text-properties style:text-line-through-style="solid"/></style:style></office:automatic-styles>'
)


def _open_document(sheet: Sheet) -> bytes:
    lines = list(csv.reader(sheet.text.strip("\n").splitlines()))
    columns = "".join(
        f'<table:table-column table:visibility="{"collapse" if place in sheet.hidden_columns else "visible"}"/>'
        for place in range(max(map(len, lines)))
    )
    rows = ""
    for number, cells in enumerate(lines, start=1):
        shown = ' table:visibility="collapse"' if number in sheet.hidden else ""
        style = ' table:style-name="gone"' if number in sheet.struck else ""
        rows += f"<table:table-row{shown}>{''.join(_ods_cell(cell, style) for cell in cells)}</table:table-row>"
    return making.ods_of(f'<table:table table:name="Prices">{columns}{rows}</table:table>', _STRUCK)


def _ods_cell(cell: str, style: str) -> str:
    if not cell:
        return "<table:table-cell/>"
    kind = f'office:value-type="float" office:value="{cell}"' if _is_figure(cell) else 'office:value-type="string"'
    return f"<table:table-cell{style} {kind}><text:p>{escape(cell)}</text:p></table:table-cell>"


def _is_figure(cell: str) -> bool:
    return re.fullmatch(r"\d+(\.\d+)?", cell) is not None


Read = tuple[Understood | None, tuple[Problem, ...]]
"""What the reader makes of a sheet, and everything that it asks."""


def read(sheet: Sheet, folder: Path, told: Told | None = None) -> Read:
    """What the reader makes of a sheet, and everything that it asks."""
    try:
        understood = understand(sheet.written(folder), sheet.known, told or Told(parts=sheet.parts))
    except InputError as error:
        return None, error.problems
    return understood, understood.doubts


def typed(problems: tuple[Problem, ...]) -> list[tuple[str, str]]:
    """The first way of every printed mend, as a shell hands it on."""
    first = (shlex.split(ways[0]) for problem in problems if (ways := telling.ways(problem)))
    return list(dict.fromkeys((o.removeprefix("--"), v) for words in first for o, v in zip(words[::2], words[1::2])))


def unsettled(sheet: Sheet, problems: tuple[Problem, ...], folder: Path) -> list[str]:
    """Every way of every printed mend that, typed by itself as printed, is refused or leaves its doubt as it was."""
    parts = [f"{name}={part}" for name, part in sheet.parts.items()]
    left = []
    for problem in problems:
        for way in telling.ways(problem):
            words = shlex.split(way)
            options: dict[str, list[str]] = {"part": [*parts]}
            for option, value in zip(words[::2], words[1::2], strict=True):
                options.setdefault(option.removeprefix("--"), []).append(value)
            again = read(sheet, folder, told_of(options))[1]
            if any((one.where, one.key, one.found) == (problem.where, problem.key, problem.found) for one in again):
                left.append(way)
    return left


def told_of(options: Mapping[str, Sequence[str]]) -> Told:
    """What options, by their names, tell of a sheet."""
    one = {name: (options.get(name) or ("",))[-1] for name in ("ex-tax", "decimal", "condition")}
    return telling.told(
        options.get("map", ()),
        one["ex-tax"],
        options.get("supplier", ()),
        one["condition"] or None,
        one["decimal"],
        options.get("part", ()),
        options.get("word", ()),
        options.get("pack", ()),
    )


def settled(sheet: Sheet, folder: Path, first: Read | None = None) -> tuple[int, Read]:
    """How many rounds of mends, typed as printed, it takes until nothing is asked; and what is read and asked then.

    A sheet of which a word then leaves out every row is settled too. ``first`` is what was read of it before any.
    """
    said = [("part", f"{name}={part}") for name, part in sheet.parts.items()]
    understood, problems = first or read(sheet, folder)
    for turn in range(4):
        options: dict[str, list[str]] = {}
        for option, value in said:
            options.setdefault(option, []).append(value)
        if turn:
            understood, problems = read(sheet, folder, told_of(options))
        left_out = any(value.endswith("=not on offer") for _, value in said)
        if not problems and understood is not None and (understood.rows or left_out):
            return turn, (understood, ())
        said = list(dict.fromkeys([*said, *typed(problems)]))
    return 4, (understood, problems)


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
