"""Marks of footnotes, taken off the cells that bear them and off the notes: "Brake disc (1)", "(1) priced each"."""

from __future__ import annotations

import re
from collections.abc import Sequence

from optimiser.quote_import.grid import SheetLine, Value

_SUPERSCRIPTS = "\N{SUPERSCRIPT ONE}\N{SUPERSCRIPT TWO}\N{SUPERSCRIPT THREE}"
_RAISED = str.maketrans(_SUPERSCRIPTS, "123")
_MARK = rf"(?:[(\[](\w)[)\]]|(?<!\w)(\w)\)|([{_SUPERSCRIPTS}]))"
_NOTE = re.compile(rf"{_MARK}\s*[:.=-]?\s*(?=\S)")
_BEARER = re.compile(rf"(?<=\S)\s*{_MARK}$")


def without_marks(lines: Sequence[SheetLine]) -> list[SheetLine]:
    """The lines without the marks of those footnotes that stand in a line of their own."""
    notes = {line.number: mark for line in lines if (mark := _of_note(line))}
    if not notes:
        return list(lines)
    marks = frozenset(notes.values())
    return [
        SheetLine(line.number, tuple(_cell(cell, marks, is_note=line.number in notes) for cell in line.cells))
        for line in lines
    ]


def _of_note(line: SheetLine) -> str:
    """The mark with which a line of nothing but a text begins."""
    filled = [cell for cell in line.cells if cell is not None]
    found = _NOTE.match(filled[0]) if len(filled) == 1 and isinstance(filled[0], str) else None
    return _sign(found) if found else ""


def _cell(cell: Value, marks: frozenset[str], *, is_note: bool) -> Value:
    if not isinstance(cell, str):
        return cell
    found = _NOTE.match(cell) if is_note else _BEARER.search(cell)
    if found is None or _sign(found) not in marks:
        return cell
    return cell[found.end() :] if is_note else cell[: found.start()]


def _sign(found: re.Match[str]) -> str:
    return str(next(filter(None, found.groups()))).translate(_RAISED).casefold()
