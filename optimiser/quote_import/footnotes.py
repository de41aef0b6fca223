"""Marks of footnotes, taken off the cells that bear them and off the notes: "Brake disc (1)", "(1) priced each"."""

from __future__ import annotations

import re
from collections.abc import Sequence, Set

from optimiser.quote_import import prices
from optimiser.quote_import.grid import SheetLine, Value

_SUPERSCRIPTS = "\N{SUPERSCRIPT ONE}\N{SUPERSCRIPT TWO}\N{SUPERSCRIPT THREE}"
_RAISED = str.maketrans(_SUPERSCRIPTS, "123")
_SIGNS = "*\N{DAGGER}\N{DOUBLE DAGGER}\N{SECTION SIGN}"
_MARK = rf"(?:[(\[](\w)[)\]]|(?<!\w)(\w)\)|([{_SUPERSCRIPTS}])|([{_SIGNS}]{{1,3}}))"
_NOTE = re.compile(rf"{_MARK}\s*[:.=-]?\s*(?=\S)")
_BEARER = re.compile(rf"(?<=\S)\s*{_MARK}$")


def without_marks(lines: Sequence[SheetLine]) -> list[SheetLine]:
    """The lines without the marks of those footnotes that stand in a line of their own."""
    borne = {_sign(found) for line in lines for cell in line.cells if (found := _borne(cell))}
    notes = {
        line.number: mark for line in lines if (mark := _of_note(line)) and (mark[0] not in _SIGNS or mark in borne)
    }
    if not notes:
        return list(lines)
    marks = frozenset(notes.values())
    return [
        SheetLine(line.number, tuple(_cell(cell, marks, is_note=line.number in notes) for cell in line.cells))
        for line in lines
    ]


def of_prices(lines: Sequence[SheetLine]) -> list[tuple[int, str]]:
    """The notes whose marks stand behind amounts, with the numbers of the lines of these amounts."""
    notes = {mark: str(_cell(_text_alone(line), {mark}, is_note=True)) for line in lines if (mark := _of_note(line))}
    return [
        (line.number, notes[mark])
        for line in lines
        for cell in line.cells
        if (found := _borne(cell)) and (mark := _sign(found)) in notes and _is_amount(found.string[: found.start()])
    ]


def _of_note(line: SheetLine) -> str:
    """The mark with which a line of nothing but a text begins."""
    found = _NOTE.match(_text_alone(line))
    return _sign(found) if found else ""


def _text_alone(line: SheetLine) -> str:
    filled = [cell for cell in line.cells if cell is not None]
    return filled[0] if len(filled) == 1 and isinstance(filled[0], str) else ""


def _borne(cell: Value) -> re.Match[str] | None:
    return _BEARER.search(cell) if isinstance(cell, str) else None


def _is_amount(text: str) -> bool:
    return prices.is_amount(text)


def _cell(cell: Value, marks: Set[str], *, is_note: bool) -> Value:
    if not isinstance(cell, str):
        return cell
    found = _NOTE.match(cell) if is_note else _borne(cell)
    if found is None or _sign(found) not in marks:
        return cell
    return cell[found.end() :] if is_note else cell[: found.start()]


def _sign(found: re.Match[str]) -> str:
    return str(next(filter(None, found.groups()))).translate(_RAISED).casefold()
