"""Tables as CSV files (RFC 4180, UTF-8): written whole and put in place at once, or not at all."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from pathlib import Path

from optimiser.cells import neutral
from optimiser.errors import CallError
from optimiser.tables import Cell, Column, Row


def write(path: Path, columns: Sequence[Column], rows: Iterable[Row]) -> None:
    """Write a table with its heading: a file whole or not at all, a pipe, device or link straight through.

    Raises ``CallError`` where it cannot be written.
    """
    try:
        table = [[column.name for column in columns], *([_text(cell) for cell in row] for row in rows)]
        if path.is_symlink() or (path.exists() and not path.is_file()):
            with path.open("w", encoding="utf-8", newline="") as file:
                csv.writer(file).writerows(table)
        else:
            _put_in_place(path, table)
    except OSError as error:
        found = f"{path} cannot be written: {error.strerror}."
        raise CallError(found, "Name a file in a folder that you may write to.") from None


def _put_in_place(path: Path, table: Iterable[Sequence[str]]) -> None:
    unfinished = path.with_name(f".{path.name}.unfinished")
    try:
        with unfinished.open("x", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(table)
        unfinished.replace(path)
    finally:
        unfinished.unlink(missing_ok=True)


def _text(cell: Cell) -> str:
    """Numbers as they are; text so that no spreadsheet runs it."""
    return neutral(cell) if isinstance(cell, str) else "" if cell is None else str(cell)
