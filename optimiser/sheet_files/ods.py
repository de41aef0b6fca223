"""OpenDocument spreadsheets (ISO/IEC 26300-1, chapter 9): stored values only, streamed within bounds."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from optimiser.sheet_files.archives import Archive, Attributes
from optimiser.sheet_files.grid import (
    MOST_COLUMNS,
    MOST_LINES,
    MOST_SIGNS,
    Counter,
    Grid,
    Marked,
    Merge,
    Opened,
    RefusedError,
    SheetLine,
    UnfitCell,
    Value,
    filled_down,
    hide,
    number,
    text,
    too_much,
)

_MOST_NOTES = 10_000
_CONTENT, _STYLES = "content.xml", "styles.xml"
_MOST_STYLES = 70_000
_LAST_ROW, _LAST_COLUMN = 1_048_576, 16_384
_ERRORS = ("#", "Err:")
_BESIDE_THE_TEXT = frozenset({"annotation", "shapes", "frame", "custom-shape", "tracked-changes", "forms"})
"""What stands in a cell or a sheet and is no cell: notes, drawings, earlier versions."""


def opened(archive: Archive) -> Opened:
    """Every sheet that is not hidden. Raises ``RefusedError`` where it cannot be read."""
    if b"encryption-data" in archive.start_of("META-INF/manifest.xml"):
        raise RefusedError("a file with a password", "a file without one", "take the password off and save it again")
    styles = _StyleReader()
    if archive.holds(_STYLES):
        archive.stream(_STYLES, styles.start)
    archive.stream(_CONTENT, styles.start)
    reader = _ContentReader(styles.struck())
    archive.stream(_CONTENT, reader.start, reader.end, reader.signs)
    for grid in reader.grids:
        filled_down(grid)
    remarks = ["an ODS workbook", *(f"the sheet {name} is hidden and was left out" for name in reader.hidden)]
    if archive.any_with("Basic/") or archive.any_with("Scripts/"):
        remarks.append("the file holds macros: none was run")
    return Opened(reader.grids, remarks)


class _StyleReader:
    """Which styles, their own or by the one that they come from, strike a text through."""

    def __init__(self) -> None:
        self._name = ""
        self._parents: dict[str, str] = {}
        self._lines: dict[str, bool] = {}

    def start(self, element: str, attributes: Attributes) -> None:
        """An element begins."""
        if element == "style" and len(self._parents) < _MOST_STYLES:
            self._name = attributes.get("style:name", "")
            self._parents[self._name] = attributes.get("style:parent-style-name", "")
        elif element == "text-properties" and self._name in self._parents:
            line = attributes.get("style:text-line-through-style", attributes.get("style:text-line-through-type"))
            if line is not None:
                self._lines[self._name] = line != "none"

    def struck(self) -> frozenset[str]:
        """The names of those that do."""
        return frozenset(name for name in self._parents if self._is_struck(name))

    def _is_struck(self, name: str) -> bool:
        for _ in range(10):  # a style may come from itself
            if name in self._lines or name not in self._parents:
                break
            name = self._parents[name]
        return self._lines.get(name, False)


class _ContentReader:
    """The handlers for ``content.xml``."""

    def __init__(self, struck: frozenset[str]) -> None:
        self._struck = struck
        self._column = 0
        self._column_styles: list[str] = []
        self._row_style = ""
        self._is_struck = False
        self.grids: list[Grid] = []
        self.hidden: list[str] = []
        self._hidden_styles: set[str] = set()
        self._style = ""
        self._grid: Grid | None = None
        self._counter = Counter()
        self._beside = self._tables = 0
        self._row, self._row_times = 0, 1
        self._cells: list[Value] = []
        self._cell: Attributes = {}
        self._pieces: list[str] = []
        self._signs = 0
        self._in_text = self._is_hidden = False
        self._pinned: list[str] | None = None

    def start(self, element: str, attributes: Attributes) -> None:
        """An element begins."""
        if element in _BESIDE_THE_TEXT:
            self._beside += 1
            self._pinned = [] if element == "annotation" else self._pinned
        if not self._beside:
            self._start(element, attributes)

    def _start(self, element: str, attributes: Attributes) -> None:
        if element in ("table-cell", "covered-table-cell"):
            self._cell, self._pieces, self._signs = attributes, [], 0
            self._is_struck = self._style_of_cell() in self._struck
        elif element == "span":
            self._is_struck = self._is_struck or attributes.get("text:style-name", "") in self._struck
        elif element == "table-column":
            self._columns(attributes)
        elif element == "p":
            self._take(" " if self._pieces else "")
            self._in_text = True
        elif element in ("s", "tab", "line-break"):
            self._take(" ")
        elif element == "table-row":
            self._cells, self._row_times = [], _times(attributes, "table:number-rows-repeated")
            self._is_hidden = attributes.get("table:visibility", "visible") != "visible"
            self._row_style = attributes.get("table:default-cell-style-name", "")
        elif element == "table":
            self._table(attributes)
        elif element == "style":
            self._style = attributes.get("style:name", "")
        elif element == "table-properties" and attributes.get("table:display") == "false":
            self._hidden_styles.add(self._style)

    def end(self, element: str) -> None:
        """An element ends."""
        if element in _BESIDE_THE_TEXT:
            self._beside -= 1
            if element == "annotation":
                self._pin()
        elif self._beside:
            return
        elif element in ("table-cell", "covered-table-cell"):
            self._end_of_cell()
        elif element == "p":
            self._in_text = False
        elif element == "table-row":
            self._end_of_row()
        elif element == "table":
            self._tables -= 1
            self._grid = None if not self._tables else self._grid

    def signs(self, read: str) -> None:
        """Text inside an element."""
        if self._in_text and not self._beside:
            self._take(read)
        elif self._pinned is not None and sum(map(len, self._pinned)) <= MOST_SIGNS:
            self._pinned.append(read)

    def _pin(self) -> None:
        """Keep what a note pinned to a cell says."""
        whole = text("".join(self._pinned or ()))
        if self._grid is not None and isinstance(whole, str) and len(self._grid.notes) < _MOST_NOTES:
            self._grid.notes.append((self._row + 1, whole))
        self._pinned = None

    def _take(self, read: str) -> None:
        if self._signs <= MOST_SIGNS:
            self._pieces.append(read)
            self._signs += len(read)

    def _table(self, attributes: Attributes) -> None:
        self._tables += 1
        if self._tables > 1:
            return
        name = str(text(attributes.get("table:name", "")[:100]) or "")
        self._grid, self._row = Grid(name), 0
        self._column, self._column_styles = 0, []
        if attributes.get("table:style-name", "") in self._hidden_styles:
            self.hidden.append(name)
        else:
            self.grids.append(self._grid)
        if len(self.grids) + len(self.hidden) > 200:
            raise too_much("more than 200 sheets", "at most 200 sheets")

    def _columns(self, attributes: Attributes) -> None:
        """So many columns alike: whether they are shown, and the style of cells that name none."""
        if self._grid is None or self._tables > 1:
            return
        times = min(_times(attributes, "table:number-columns-repeated"), _LAST_COLUMN)
        if attributes.get("table:visibility", "visible") != "visible":
            hide(self._grid, self._column, self._column + times - 1)
        self._column += times
        room = MOST_COLUMNS - len(self._column_styles)
        self._column_styles += [attributes.get("table:default-cell-style-name", "")] * min(times, room)

    def _style_of_cell(self) -> str:
        """The style of a cell: its own, else that of its row, else that of its column."""
        place = len(self._cells)
        of_column = self._column_styles[place] if place < len(self._column_styles) else ""
        return self._cell.get("table:style-name", "") or self._row_style or of_column

    def _end_of_cell(self) -> None:
        times = _times(self._cell, "table:number-columns-repeated")
        value = self._value()
        room = _LAST_COLUMN - len(self._cells)
        if value is None:
            # empty cells at the end of a line are repeated to the edge of the sheet
            self._cells.extend([None] * min(times, room))
            return
        if self._is_struck and self._grid is not None:
            self._grid.flags[self._row + 1] = "struck through"
        if times > min(MOST_COLUMNS, room):
            found = f"{len(self._cells) + times} columns in row {self._row + 1}"
            raise too_much(found, f"at most {MOST_COLUMNS} columns")
        down = _times(self._cell, "table:number-rows-spanned")
        across = _times(self._cell, "table:number-columns-spanned")
        if self._grid is not None and (down > 1 or across > 1):
            top, left = self._row + 1, len(self._cells)
            self._grid.merges.append(Merge(top, top + down - 1, left, left + across - 1))
        self._cells.extend([value] * times)

    def _end_of_row(self) -> None:
        if self._grid is None or self._tables > 1:
            return
        first = self._row + 1
        self._row += self._row_times
        line = self._counter.line(first, self._cells)
        if line is None:
            return
        if self._row_times > MOST_LINES or self._row > _LAST_ROW:
            raise too_much(f"{self._row_times} lines alike from row {first}", f"at most {MOST_LINES} lines in a file")
        if self._is_hidden:
            self._grid.flags |= dict.fromkeys(range(first, self._row + 1), "hidden")
        if self._grid.flags.get(first):
            self._grid.flags |= dict.fromkeys(range(first, self._row + 1), self._grid.flags[first])
        self._grid.lines.append(line)
        for again in range(first + 1, first + self._row_times):
            repeated = self._counter.line(again, list(line.cells))
            self._grid.lines.append(repeated or SheetLine(again, line.cells))

    def _value(self) -> Value:
        written = "".join(self._pieces)
        kind = self._cell.get("office:value-type", "")
        if "table:formula" in self._cell:
            if not kind and not written:
                return UnfitCell("a formula without a stored result")
            if self._cell.get("calcext:value-type") == "error" or (kind == "string" and written.startswith(_ERRORS)):
                return UnfitCell(f"the error {written[:20]}")
            if self._grid is not None:
                self._grid.formulas += 1
        if kind in ("float", "percentage", "currency"):
            return self._number(self._cell.get("office:currency", "")[:20])
        if kind == "date":
            return _date(self._cell.get("office:date-value", ""))
        if kind == "boolean":
            return "yes" if self._cell.get("office:boolean-value") == "true" else "no"
        return text(self._cell.get("office:string-value", "") or written)

    def _number(self, code: str) -> Value:
        value = number(self._cell.get("office:value", "")[:400])
        if isinstance(value, Decimal) and self._cell.get("office:value-type") == "percentage":
            return f"{(value * 100).normalize():f}%"
        return value if isinstance(value, UnfitCell) or not code else Marked(value, code)


def _times(attributes: Attributes, key: str) -> int:
    """How often a cell or a row stands, at least once; a figure that makes no sense is once."""
    written = attributes.get(key, "1")
    return max(1, int(written)) if written.isdecimal() and len(written) <= 8 else 1


def _date(written: str) -> date | UnfitCell:
    try:
        return date.fromisoformat(written[:10])
    except ValueError:
        return UnfitCell("a date that is none")
