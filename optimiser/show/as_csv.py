"""Tables as CSV files (RFC 4180, UTF-8): written whole and put in place at once, or not at all."""

from __future__ import annotations

import csv
import os
import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path

from optimiser.errors import CallError
from optimiser.tables import Cell, Column, Row


def write(path: Path, columns: Sequence[Column], rows: Iterable[Row]) -> None:
    """Write a table with its heading. Raises ``CallError`` where the file cannot be written; nothing is left then."""
    temporary: str | None = None
    try:
        handle, temporary = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file)
            writer.writerow([column.name for column in columns])
            writer.writerows([_text(cell) for cell in row] for row in rows)
        Path(temporary).chmod(0o644)
        Path(temporary).replace(path)
    except OSError as error:
        if temporary is not None:
            Path(temporary).unlink(missing_ok=True)
        raise CallError(
            f"{path} cannot be written: {error.strerror}.", "Name a file in a folder that you may write to."
        ) from None


def _text(cell: Cell) -> str:
    return "" if cell is None else str(cell)
