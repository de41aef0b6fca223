"""XLSX and XLSM (ECMA-376, part 1, section 18: SpreadsheetML): stored values only; formulas and macros never run.

Written here on expat rather than taken from a library; why, with what was measured, stands in DEVELOPERS.md under
"Quotes on their way in". The tests hold this reader against the two libraries that are well kept.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from typing import NamedTuple

from optimiser.sheet_files import currencies
from optimiser.sheet_files.archives import Archive, Attributes, beside
from optimiser.sheet_files.grid import (
    MOST_COLUMNS,
    MOST_SIGNS,
    Counter,
    Grid,
    Marked,
    Merge,
    Opened,
    RefusedError,
    UnfitCell,
    Value,
    filled_down,
    hide,
    number,
    text,
    too_much,
)

_LAST_ROW, _LAST_COLUMN = 1_048_576, 16_384
_MOST_STRINGS, _MOST_STRING_SIGNS = 1_000_000, 100_000_000
_MOST_STYLES, _MOST_MERGES, _MOST_SHEETS = 70_000, 100_000, 200
_DATE_FORMATS = frozenset([*range(14, 23), *range(27, 37), *range(45, 48), *range(50, 59)])
"""Built-in number formats that show a date or a time (section 18.8.30)."""
_MOST_NOTES = 10_000
_ESCAPED = re.compile(r"_x([0-9A-Fa-f]{4})_")
_QUOTED = re.compile(r'"[^"]*"|\[[^\]]*\]|\\.|_.|\*.')
_WORDS = re.compile(r'"([^"]*[^\W\d_][^"]*)"')
_CURRENCY = re.compile(r'\[\$([^\-\]]+)(?:-[^\]]*)?\]|\[[^\]]*\]|"([^"]*)"|([£€¥₹$])')
_FIRST_DAY, _FIRST_DAY_1904 = date(1899, 12, 30), date(1904, 1, 1)


@dataclass
class _Book:
    """What the sheets share."""

    archive: Archive
    path: str
    sheets: list[tuple[str, str]] = field(default_factory=list)
    hidden: list[str] = field(default_factory=list)
    parts: dict[str, tuple[str, str]] = field(default_factory=dict)
    strings: list[str | UnfitCell | None] = field(default_factory=list)
    styles: list[_Style] = field(default_factory=list)
    first_day: date = _FIRST_DAY

    def of_kind(self, kind: str) -> str | None:
        """The path of the one part of this kind."""
        return next((path for is_kind, path in self.parts.values() if is_kind == kind), None)


def opened(archive: Archive) -> Opened:
    """Every sheet that is not hidden. Raises ``RefusedError`` where it cannot be read."""
    book = _Book(archive, _workbook_path(archive))
    book.parts = _relations(archive, book.path)
    _read_book(book)
    _read_styles(book)
    _read_strings(book)
    counter = Counter()
    grids = [_sheet(book, name, path, counter) for name, path in book.sheets]
    remarks = ["an XLSX workbook", *(f"the sheet {name} is hidden and was left out" for name in book.hidden)]
    if archive.any_with("xl/vbaProject"):
        remarks.append("the file holds macros: none was run")
    if archive.any_with("xl/externalLinks"):
        remarks.append("the file leads to other files: none was opened; what it stored of them was taken")
    return Opened(grids, remarks)


def _workbook_path(archive: Archive) -> str:
    if not archive.holds("_rels/.rels"):
        return "xl/workbook.xml"
    main = [path for kind, path in _relations(archive, "").values() if kind == "officeDocument"]
    return main[0] if main else "xl/workbook.xml"


def _relations(archive: Archive, base: str) -> dict[str, tuple[str, str]]:
    """Kind and path of what a part refers to, by the name that it uses."""
    folder, _, name = base.rpartition("/")
    path = f"{folder}/_rels/{name}.rels" if folder else f"_rels/{name}.rels"
    found: dict[str, tuple[str, str]] = {}

    def start(element: str, attributes: Attributes) -> None:
        if element == "Relationship" and attributes.get("TargetMode") != "External" and len(found) < 10_000:
            kind = attributes.get("Type", "").rpartition("/")[2]
            found[attributes.get("Id", "")] = (kind, beside(base, attributes.get("Target", "")))

    if archive.holds(path):
        archive.stream(path, start)
    return found


def _read_book(book: _Book) -> None:
    def start(element: str, attributes: Attributes) -> None:
        if element == "workbookPr" and attributes.get("date1904") in ("1", "true"):
            book.first_day = _FIRST_DAY_1904
        if element != "sheet":
            return
        if len(book.sheets) + len(book.hidden) >= _MOST_SHEETS:
            raise too_much(f"more than {_MOST_SHEETS} sheets", f"at most {_MOST_SHEETS} sheets")
        relation = next((value for key, value in attributes.items() if key.endswith(":id")), "")
        kind, path = book.parts.get(relation, ("", ""))
        name = str(text(attributes.get("name", "")[:100]) or "")
        if attributes.get("state", "visible") != "visible":
            book.hidden.append(name)
        elif kind == "worksheet":
            book.sheets.append((name, path))

    book.archive.stream(book.path, start)


def _read_styles(book: _Book) -> None:
    """For each style, whether it shows a date, and the currency that it shows."""
    formats: dict[str, str] = {}
    inside = fonts = False
    struck: list[bool] = []

    def start(element: str, attributes: Attributes) -> None:
        nonlocal inside, fonts
        fonts = fonts or element == "fonts"
        if fonts and element == "font" and len(struck) < _MOST_STYLES:
            struck.append(False)
        elif fonts and element == "strike" and struck:
            struck[-1] = attributes.get("val", "1") not in ("0", "false")
        elif element == "numFmt" and len(formats) < _MOST_STYLES:
            formats[attributes.get("numFmtId", "")] = attributes.get("formatCode", "")[:1000]
        elif element == "cellXfs":
            inside = True
        elif element == "xf" and inside and len(book.styles) < _MOST_STYLES:
            font = attributes.get("fontId", "")
            is_struck = font.isdecimal() and len(font) < 7 and int(font) < len(struck) and struck[int(font)]
            book.styles.append(_style(attributes.get("numFmtId", "0"), formats)._replace(struck=is_struck))

    def end(element: str) -> None:
        nonlocal inside, fonts
        fonts = fonts and element != "fonts"
        inside = inside and element != "cellXfs"

    path = book.of_kind("styles")
    if path is not None and book.archive.holds(path):
        book.archive.stream(path, start, end)


class _Style(NamedTuple):
    """How a number is shown: as a date, with a currency, with words before and behind it."""

    is_date: bool
    currency: str = ""
    before: str = ""
    behind: str = ""
    struck: bool = False
    percent: bool = False
    unfit: str = ""
    """Why a number is not what the cell shows; empty where it is."""


def _style(format_id: str, formats: dict[str, str]) -> _Style:
    code = formats.get(format_id)
    if code is None:
        return _Style(format_id.isdecimal() and len(format_id) < 6 and int(format_id) in _DATE_FORMATS)
    first = code.split(";")[0]
    marks = ((found[1] or found[2] or found[3] or "").strip() for found in _CURRENCY.finditer(first))
    shown = next((mark for mark in marks if currencies.is_mark(mark) or currencies.SIGN.search(mark)), "")
    if any(sign in "dmyhs" for sign in _QUOTED.sub("", first).lower()) and first.lower() != "general":
        return _Style(True, shown)
    bare = _QUOTED.sub("", first)
    digits = re.search(r"[0#?]", _QUOTED.sub(lambda found: " " * len(found[0]), first))
    before, behind = "", ""
    for found in _WORDS.finditer(first):
        if not currencies.is_mark(found[1].strip()) and digits is not None:
            before, behind = (
                (before + found[1], behind) if found.start() < digits.start() else (before, behind + found[1])
            )
    return _Style(False, shown, before, behind, percent="%" in bare, unfit=_unlike(bare, first))


def _unlike(bare: str, code: str) -> str:
    """Why a format, with its quoted texts taken out, shows something else than the number that it is for."""
    if code.strip().lower() in ("", "general", "@") and not code.startswith(";"):
        return "" if code.strip() else "a number that is not shown"
    if not re.search(r"[0#?]", bare) and "general" not in bare.lower():
        return "a number that is not shown"
    return "a number that is shown in thousands" if re.search(r"[0#?],+(?:\.[0#?]*)?(?![0#?,])", bare) else ""


def _read_strings(book: _Book) -> None:
    """The texts that cells refer to."""
    signs = 0

    def keep(whole: str | UnfitCell | None, _: str) -> None:
        nonlocal signs
        signs += len(whole) if isinstance(whole, str) else 0
        book.strings.append(whole)
        if len(book.strings) > _MOST_STRINGS or signs > _MOST_STRING_SIGNS:
            raise too_much("more text than a sheet of quotes holds", f"at most {_MOST_STRINGS} texts")

    path = book.of_kind("sharedStrings")
    if path is not None and book.archive.holds(path):
        reader = _TextReader("si", keep)
        book.archive.stream(path, reader.start, reader.end, reader.signs)


class _TextReader:
    """The texts of elements of one kind, each kept once it ends; what is spoken beside them (phonetic runs) is none."""

    def __init__(self, kind: str, keep: Callable[[str | UnfitCell | None, str], None]) -> None:
        self._kind, self._keep = kind, keep
        self._pieces: list[str] = []
        self._inside = self._spoken = False
        self._signs, self._ref = 0, ""

    def start(self, element: str, attributes: Attributes) -> None:
        """An element begins."""
        self._inside = element == "t" and not self._spoken
        if element == "rPh":
            self._spoken = True
        elif element == self._kind:
            self._pieces.clear()
            self._signs, self._ref = 0, attributes.get("ref", "")

    def end(self, element: str) -> None:
        """An element ends."""
        self._inside = False
        if element == "rPh":
            self._spoken = False
        elif element == self._kind:
            self._keep(_text("".join(self._pieces)), self._ref)

    def signs(self, read: str) -> None:
        """Text inside an element."""
        if self._inside and self._signs <= MOST_SIGNS:
            self._pieces.append(read)
            self._signs += len(read)


def _text(written: str) -> str | UnfitCell | None:
    if "_x" in written:
        written = _ESCAPED.sub(lambda found: chr(int(found[1], 16)), written[: MOST_SIGNS + 1])
    return text(written)


class _SheetReader:
    """The handlers for one sheet's XML."""

    def __init__(self, book: _Book, grid: Grid, counter: Counter) -> None:
        self._book, self._grid, self._counter = book, grid, counter
        self._row, self._column = 0, -1
        self._cells: list[Value] = []
        self._kind = self._style = ""
        self._taking = self._formula = self._spoken = False
        self._pieces: list[str] = []
        self._signs = 0
        self._columns: dict[str, int] = {}

    def start(self, element: str, attributes: Attributes) -> None:
        """An element begins."""
        if element == "c":
            self._cell(attributes)
        elif element in ("v", "t"):
            self._taking = not self._spoken
        elif element == "row":
            self._new_row(attributes.get("r", ""))
            if attributes.get("hidden") in ("1", "true"):
                self._grid.flags[self._row] = "hidden"
        elif element == "f":
            self._formula = True
        elif element == "col" and attributes.get("hidden") in ("1", "true"):
            first, last = (attributes.get(end, "") for end in ("min", "max"))
            if first.isdecimal() and last.isdecimal() and len(first) < 7 and len(last) < 7:
                hide(self._grid, int(first) - 1, int(last) - 1)
        elif element == "rPh":
            self._spoken = True
        elif element == "mergeCell":
            self._merge(attributes.get("ref", ""))

    def end(self, element: str) -> None:
        """An element ends."""
        if element == "c":
            value = self._value()
            self._put(value)
            if value is not None and self._is_struck():
                self._grid.flags[self._row] = "struck through"
        elif element == "row":
            line = self._counter.line(self._row, self._cells)
            if line is not None:
                self._grid.lines.append(line)
        elif element in ("v", "t"):
            self._taking = False
        elif element == "rPh":
            self._spoken = False

    def signs(self, read: str) -> None:
        """Text inside an element; no more of it is kept than a cell may hold."""
        if self._taking and self._signs <= MOST_SIGNS:
            self._pieces.append(read)
            self._signs += len(read)

    def _new_row(self, written: str) -> None:
        self._row = int(written) if written.isdecimal() and len(written) <= 7 else self._row + 1
        if not 1 <= self._row <= _LAST_ROW:
            raise too_much(f"row {written}", f"rows up to {_LAST_ROW}")
        self._cells, self._column = [], -1

    def _cell(self, attributes: Attributes) -> None:
        letters = attributes.get("r", "").rstrip("0123456789")
        self._column = self._place(letters) if letters else self._column + 1
        if self._column >= _LAST_COLUMN:
            raise too_much(f"{self._column + 1} columns in row {self._row}", f"at most {MOST_COLUMNS} columns")
        self._kind, self._style = attributes.get("t", "n"), attributes.get("s", "")
        self._pieces, self._signs = [], 0
        self._formula = False

    def _place(self, letters: str) -> int:
        known = self._columns.get(letters)
        if known is None:
            known = self._columns[letters] = _column(letters)
        return known

    def _put(self, value: Value) -> None:
        if value is None and not self._formula:
            return
        missing = self._column - len(self._cells)
        if missing >= 0:
            self._cells.extend([None] * (missing + 1))
        self._cells[self._column] = value

    def _value(self) -> Value:
        written = "".join(self._pieces)
        if self._formula:
            if not written and self._kind != "str":
                return UnfitCell("a formula without a stored result")
            self._grid.formulas += 1
        read = {"s": self._shared, "str": _text, "inlineStr": _text, "d": _text, "b": _yes_no, "e": _error}
        if self._kind in read:
            return read[self._kind](written)
        return self._number(number(written.strip())) if written.strip() else None

    def _is_struck(self) -> bool:
        place = int(self._style) if self._style.isdecimal() and len(self._style) < 7 else -1
        return 0 <= place < len(self._book.styles) and self._book.styles[place].struck

    def _shared(self, written: str) -> Value:
        place = int(written) if written.isdecimal() and len(written) < 8 else -1
        return self._book.strings[place] if 0 <= place < len(self._book.strings) else None

    def _number(self, value: Decimal | UnfitCell) -> Value:
        place = int(self._style) if self._style.isdecimal() and len(self._style) < 7 else -1
        if isinstance(value, UnfitCell) or not 0 <= place < len(self._book.styles):
            return value
        style = self._book.styles[place]
        if style.is_date or style.unfit:
            return self._date(value) if style.is_date else UnfitCell(style.unfit)
        if style.percent:
            return f"{(value * 100).normalize():f}%"
        if style.before or style.behind:  # read as it is shown: 4000 as "4000p", 10 as "10 /pr"
            return f"{style.currency}{style.before}{value.normalize():f}{style.behind}"
        return Marked(value, style.currency) if style.currency else value

    def _date(self, value: Decimal) -> Value:
        try:
            return self._book.first_day + timedelta(days=int(value))
        except OverflowError:
            return UnfitCell("a date beyond all bounds")

    def _merge(self, ref: str) -> None:
        if len(self._grid.merges) >= _MOST_MERGES:
            raise too_much(f"more than {_MOST_MERGES} merged cells", f"at most {_MOST_MERGES}")
        found = re.fullmatch(r"([A-Za-z]{1,3})(\d{1,7}):([A-Za-z]{1,3})(\d{1,7})", ref)
        if found:
            left, right = self._place(found[1].upper()), self._place(found[3].upper())
            self._grid.merges.append(Merge(int(found[2]), int(found[4]), left, right))


def _yes_no(written: str) -> Value:
    return "yes" if written.strip() == "1" else "no"


def _error(written: str) -> Value:
    return UnfitCell(f"the error {written[:20]}")


def _column(letters: str) -> int:
    """The place of a column from its letters, A being 0."""
    place = 0
    for letter in letters[:8].upper():
        if not "A" <= letter <= "Z":
            raise RefusedError(f"a cell called {letters[:20]}", "cells such as C7", "save the file again")
        place = place * 26 + ord(letter) - 64
    if not 1 <= place <= _LAST_COLUMN:
        raise too_much(f"column {letters[:20]}", "columns up to XFD")
    return place - 1


def _sheet(book: _Book, name: str, path: str, counter: Counter) -> Grid:
    grid = Grid(name)
    reader = _SheetReader(book, grid, counter)
    book.archive.stream(path, reader.start, reader.end, reader.signs)
    filled_down(grid)

    def pin(whole: str | UnfitCell | None, ref: str) -> None:
        digits = ref.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
        row = int(digits) if digits.isdecimal() and len(digits) <= 7 else 0
        if len(grid.notes) < _MOST_NOTES and isinstance(whole, str):
            grid.notes.append((row, whole))

    for kind, pinned in _relations(book.archive, path).values():
        if kind == "comments" and book.archive.holds(pinned):
            notes = _TextReader("comment", pin)
            book.archive.stream(pinned, notes.start, notes.end, notes.signs)
    return grid
