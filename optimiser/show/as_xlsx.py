"""Tables as one XLSX workbook, a sheet each: text stays text and is never a formula, numbers stay numbers."""

from __future__ import annotations

import errno
import os
import re
from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from traceback import clear_frames
from typing import Any, NamedTuple

from optimiser import files
from optimiser import text as cells
from optimiser.errors import CallError
from optimiser.show.tables import Cell, Column, Row

_MOST_ROWS, _MOST_SIGNS, _LONGEST_NAME = 1_048_576, 32_767, 31
_NOT_IN_A_NAME = re.compile(r"[\[\]:*?/\\\x00-\x1f]")
_SURE_DIGITS = 15


class Table(NamedTuple):
    """A sheet: its name, its columns, its rows."""

    name: str
    columns: Sequence[Column]
    rows: Iterable[Row]


def write_xlsx(path: Path, tables: Sequence[Table]) -> None:
    """Write the tables, headings first: the file whole or not at all.

    Raises ``CallError`` where it cannot be written or a table has more rows than a sheet.
    """
    try:
        if path.is_dir():
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
        book = BytesIO()  # what packs it would finish, and complain, on a disk that is full
        _filled(book, tables)
        with files.put_in_place(path) as (file,):
            file.write(book.getbuffer())
    except OSError as error:
        found = f"{path} cannot be written: {error.strerror}."
        raise CallError(found, "Name a file in a folder that you may write to.") from None


def _filled(file: BytesIO, tables: Sequence[Table]) -> None:
    """Fill the workbook. Raises ``OSError`` where the temporary files find no room.

    What was being packed then is closed at once: later, without its file, it would complain of that.
    """
    from xlsxwriter.exceptions import FileCreateError  # type: ignore[import-untyped]  # noqa: PLC0415

    try:
        _fill(file, tables)
    except FileCreateError as error:
        reason = error.args[0]
        clear_frames(reason.__traceback__)
        raise OSError(reason.errno, reason.strerror) from None


def _fill(file: Any, tables: Sequence[Table]) -> None:
    import xlsxwriter  # type: ignore[import-untyped]  # noqa: PLC0415 - wanted for this alone

    with xlsxwriter.Workbook(file, {"constant_memory": True}) as book:
        kept_as_text = book.add_format({"quote_prefix": True})
        bold, day = book.add_format({"bold": True}), book.add_format({"num_format": "yyyy-mm-dd"})
        names: set[str] = set()
        for table in tables:
            sheet = book.add_worksheet(_name(table.name, names))
            sheet.freeze_panes(1, 0)
            for place, column in enumerate(table.columns):
                sheet.write_string(0, place, column.name, bold)
            for number, row in enumerate(table.rows, start=1):
                if number >= _MOST_ROWS:
                    found = f"The table {table.name} has more rows than a sheet holds."
                    raise CallError(found, "Write it as CSV.")
                for place, cell in enumerate(row):
                    _write(sheet, number, place, cell, kept_as_text, day)


def _write(sheet: Any, row: int, column: int, cell: Cell | date, kept_as_text: Any, day: Any) -> None:
    if cell is None or cell == "":
        return
    if isinstance(cell, date):
        sheet.write_datetime(row, column, cell, day)
    elif isinstance(cell, int | float | Decimal) and not isinstance(cell, bool) and _fits(cell):
        sheet.write_number(row, column, cell)
    else:
        text = str(cell)[:_MOST_SIGNS]
        # a string cell is no formula; the quote prefix keeps it text when somebody edits it
        sheet.write_string(row, column, text, kept_as_text if cells.neutral(text) != text else None)


def _fits(number: float | Decimal) -> bool:
    """Whether a spreadsheet's own numbers hold it to the last digit."""
    exact = Decimal(number) if isinstance(number, int | Decimal) else Decimal(repr(number))
    return exact.is_finite() and len(exact.as_tuple().digits) <= _SURE_DIGITS + 2 * isinstance(number, float)


def _name(wanted: str, taken: set[str]) -> str:
    """A sheet's name that is allowed and stands once."""
    bare = _NOT_IN_A_NAME.sub(" ", wanted).strip("' ")[:_LONGEST_NAME] or "table"
    name, number = bare, 1
    while name.casefold() in taken:
        number += 1
        name = f"{bare[: _LONGEST_NAME - len(str(number)) - 1]} {number}"
    taken.add(name.casefold())
    return name
