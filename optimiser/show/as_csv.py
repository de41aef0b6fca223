"""Tables as CSV files (RFC 4180, UTF-8): written whole and put in place at once, or not at all."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from io import BytesIO, TextIOWrapper
from pathlib import Path

from optimiser import files
from optimiser.errors import CallError
from optimiser.show.tables import Cell, Column, Row
from optimiser.text import neutral


def document(columns: Sequence[Column], rows: Iterable[Row]) -> bytes:
    """A table with its heading as the bytes of a CSV file."""
    held = BytesIO()
    file = TextIOWrapper(held, encoding="utf-8", newline="")
    csv.writer(file).writerows(_table(columns, rows))
    file.flush()
    return held.getvalue()


def write(path: Path, columns: Sequence[Column], rows: Iterable[Row]) -> None:
    """Write a table with its heading: a file whole or not at all, a pipe, device or link straight through.

    Raises ``CallError`` where it cannot be written.
    """
    try:
        table = _table(columns, rows)
        if path.is_symlink() or (path.exists() and not path.is_file()):
            with path.open("w", encoding="utf-8", newline="") as file:
                csv.writer(file).writerows(table)
        else:
            with files.put_in_place(path) as (place,):
                file = TextIOWrapper(place, encoding="utf-8", newline="")
                csv.writer(file).writerows(table)
                file.detach()
    except OSError as error:
        found = f"{path} cannot be written: {error.strerror}."
        raise CallError(found, "Name a file in a folder that you may write to.") from None


def _table(columns: Sequence[Column], rows: Iterable[Row]) -> list[list[str]]:
    return [[neutral(column.name) for column in columns], *([_text(cell) for cell in row] for row in rows)]


def _text(cell: Cell) -> str:
    """Numbers as they are; text so that no spreadsheet runs it."""
    return neutral(cell) if isinstance(cell, str) else "" if cell is None else str(cell)
