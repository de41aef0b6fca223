"""Lines put into plain words before they are read: without the marks of footnotes, in the words that a person gave a
meaning to, and with what a row leaves out because it stands in the row above.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence, Set
from typing import TypeAlias

from optimiser.job_folder.quote_sheets import IGNORE
from optimiser.quote_import import heeding, lexicon, numbers, prices, row_values, taxes
from optimiser.quote_import.columns import ENOUGH, ColumnLayout, key, score
from optimiser.quote_import.lexicon import plain
from optimiser.sheet_files.grid import Cells, Grid, SheetLine, Value, cell_at, text_alone

AS_ABOVE = "as above"
"""What a cell, or a row without a name, is told to mean where it is about the part of the row above."""
NO_SUPPLIER = "rows without a supplier"
"""How a person speaks of them."""
_MARKS = ('"', "''", ",,", "\N{DITTO MARK}", "\N{RIGHT DOUBLE QUOTATION MARK}", '-"-')
_REPEATED = ("part", "condition", "supplier", "tax_rate", "tax_said", "lead_days", "valid_until")
"""Columns of words, and of what holds of many rows alike; a price that is not written out is asked about."""


def names_none(row: int) -> str:
    """How a person speaks of a row without a name."""
    return f"row {row} names no part"


def write_out(sheet: ColumnLayout, words: Mapping[str, str]) -> list[int]:
    """Put the words above where a row has "ditto" or a mark for it, or a person said so, and the part where a row
    stands apart by nothing but its condition or its side. The numbers of the lines that were given a part.
    """
    told = {plain(text) for text, meaning in words.items() if meaning == AS_ABOVE}
    part, whose = sheet.one("part"), sheet.one("supplier")
    repeated = [index for column in _REPEATED for index in sheet.at.get(column, ())[:1]]
    before, changed = SheetLine(0, ()), list[int]()
    for place, line in enumerate(sheet.rows, start=sheet.last + 1):
        above = [index for index in repeated if _is_ditto(cell_at(line.cells, index))]
        goes_on = plain(names_none(line.number)) in told or _goes_on(sheet, line, before)
        if part is not None and goes_on and _is_without_name(sheet, line):
            above.append(part)
        named = part is not None and cell_at(line.cells, part) is not None
        if whose is not None and named and plain(NO_SUPPLIER) in told and cell_at(line.cells, whose) is None:
            above.append(whose)
        said = {index: cell for index in above if (cell := cell_at(before.cells, index)) is not None}
        before = line
        if said:
            width = max(len(line.cells), max(said) + 1)
            cells = [said.get(index, cell_at(line.cells, index)) for index in range(width)]
            before = sheet.grid.lines[place] = SheetLine(line.number, tuple(cells))
            changed += [line.number] if part in said else []
    return changed


def _is_ditto(cell: Value) -> bool:
    known = lexicon.headings().heeded["above"]
    return isinstance(cell, str) and (plain(cell) in known or cell.strip() in _MARKS)


def _is_without_name(sheet: ColumnLayout, line: SheetLine) -> bool:
    """Whether a line has a price, and neither a name nor a number of a part."""
    places = (index for column in ("part", "ref") for index in sheet.at.get(column, ()))
    priced = any(prices.is_amount(cell_at(line.cells, index)) for index in sheet.prices)
    return priced and all(cell_at(line.cells, index) is None for index in places)


def _goes_on(sheet: ColumnLayout, line: SheetLine, before: SheetLine) -> bool:
    """Whether a line right below another has a condition or a side of its own, by which it is another quote."""
    state, side = (_text(sheet, column, line) for column in ("condition", "side"))
    tells = row_values.condition(state)[0] is not None or plain(side) in lexicon.headings().sides
    return tells and line.number == before.number + 1


def _text(sheet: ColumnLayout, column: str, line: SheetLine) -> str:
    index = sheet.one(column)
    return "" if index is None else row_values.text_at(line.cells, index)


Met: TypeAlias = dict[str, set[int]]
"""Words of theirs, plain, with the numbers of the lines in which they stand."""


def said_in_words(lines: Sequence[SheetLine], words: Mapping[str, str]) -> tuple[list[SheetLine], Met]:
    """The lines with every cell that a person gave a meaning to in the words that it stands for, and the words met.

    A line whose first words mean nothing is left out.
    """
    meant = {key(text): meaning for text, meaning in words.items()}
    met: Met = {}
    said = []
    for line in lines:
        cells = list(line.cells)
        first = True
        gone = False
        of_headings = score(line.cells) >= ENOUGH
        for index, cell in enumerate(cells):
            if isinstance(cell, str):
                meaning = meant.get(plain(cell))
                if meaning is not None and not (of_headings and meaning == IGNORE):
                    met.setdefault(plain(cell), set()).add(line.number)
                    cells[index] = None if meaning == IGNORE else meaning
                    gone = gone or (first and meaning == IGNORE)
            first = first and cell is None
        if not gone and any(cell is not None for cell in cells):
            said.append(SheetLine(line.number, tuple(cells)))
    return said, met


_WRAPPED = 60
"""The fewest letters of a line of a letter that may go on in the next one."""
_ENDS_THERE = re.compile(r"[.!?:;]$")


def unwrapped(lines: Sequence[SheetLine]) -> list[SheetLine]:
    """The lines with each sentence in one that a letter has wrapped: a long line without a sign at its end, the next
    one beginning in small letters, and neither of them with an amount.
    """
    said, last = list[SheetLine](), SheetLine(0, ())
    for line in lines:
        text, before = text_alone(line), text_alone(last)
        goes_on = len(before) >= _WRAPPED and line.number == last.number + 1 and text[:1].islower()
        if goes_on and not _ENDS_THERE.search(before) and not prices.in_text(text) and not prices.in_text(before):
            said[-1] = SheetLine(said[-1].number, (f"{text_alone(said[-1])} {text}",))
        else:
            said.append(line)
        last = line
    return said


def made_plain(lines: Sequence[SheetLine]) -> list[SheetLine]:
    """The lines as they are read: unwrapped, keys in the cells that they are for, and without marks of footnotes."""
    return without_marks(by_key(unwrapped(lines)))


_KEY = re.compile(r"(\w{1,3})\s*(?:=|:|\s[-\N{EN DASH}])\s*(\S.*)")
_BETWEEN_KEYS = re.compile(r"\s*[;,/|.]\s+(?=\w{1,3}\s*(?:=|:|\s[-\N{EN DASH}])\s*\S)")
_FEWEST_KEYS, _MOST_PIECES = 2, 3


def by_key(lines: Sequence[SheetLine]) -> list[SheetLine]:
    """The lines with what lines of text say of short signs, "B = rebuilt", in the columns of nothing but these.

    Where all of them are about the tax, a rate that they name stays as a line.
    """
    found = {line.number: each for line in lines if (each := _keys_in(line.cells))}
    keys = [key for each in found.values() for key in each]
    said = {key[1].casefold(): key[2] for key in keys}
    states = [row_values.condition(text, strong_only=True) for text in said.values()]
    taxed, rates = _of_tax(said), {f"VAT {rate}%" for text in said.values() for rate in numbers.PERCENT.findall(text)}
    if len(said) < _FEWEST_KEYS or len(said) < len(keys) or not (taxed or any(state for state, _, _ in states)):
        return list(lines)
    rows = [line.cells for line in lines if line.number not in found]
    columns = [[cell_at(cells, index) for cells in rows] for index in range(max(map(len, rows), default=0))]
    of_keys = {at for at, cells in enumerate(columns) if sum(_sign_of(cell) in said for cell in cells) >= _FEWEST_KEYS}
    if not of_keys or (taxed and len(rates) > 1):
        return list(lines)
    said |= taxed
    kept = [
        SheetLine(
            line.number,
            tuple(said.get(_sign_of(c), c) if index in of_keys else c for index, c in enumerate(line.cells)),
        )
        for line in lines
        if line.number not in found
    ]
    return kept + [SheetLine(max(found), (rate,)) for rate in rates if taxed]


def _of_tax(said: Mapping[str, str]) -> dict[str, str]:
    """What signs mean in the words of cells about the tax; empty where one of them does not say."""
    marks = {
        sign: "with" if heeding.is_untaxed(text, used=True) else taxes.in_line(text) for sign, text in said.items()
    }
    words = {"with": "inc VAT", "without": "plus VAT"}
    return {sign: words[mark] for sign, mark in marks.items()} if set(marks.values()) <= words.keys() else {}


def _keys_in(cells: Cells) -> list[re.Match[str]]:
    """A sign and its meaning in a line, be it in cells that its commas have parted, or several with signs between."""
    if not isinstance(cells[0], str) or not _KEY.match(cells[0]):
        return []
    texts = [row_values.text(cell) for cell in cells if cell is not None]
    several = [_KEY.fullmatch(each) for each in _BETWEEN_KEYS.split("; ".join(texts).rstrip(" ."))]
    if len(several) > 1 and None not in several:
        return [each for each in several if each is not None]
    one = _KEY.fullmatch(", ".join(texts)) if len(cells) <= _MOST_PIECES else None
    return [one] if one else []


def _sign_of(cell: Value) -> str:
    return cell.casefold() if isinstance(cell, str) else ""


_STRUCK = re.compile(r"~~(.+?)~~")
"""What is struck through in plain text."""


def heed_struck(grid: Grid) -> None:
    """Leave out of cells what is struck through in them; a row with a cell that is wholly so is one that is."""
    for place, line in enumerate(grid.lines):
        if not any(isinstance(cell, str) and "~~" in cell for cell in line.cells):
            continue
        cells = [_STRUCK.sub("", cell).strip() if isinstance(cell, str) else cell for cell in line.cells]
        if "" in cells:
            grid.flags[line.number] = "struck through"
            cells = [_STRUCK.sub(r"\1", cell) if isinstance(cell, str) else cell for cell in line.cells]
        grid.lines[place] = SheetLine(line.number, tuple(cells))


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
    notes = {mark: str(_cell(text_alone(line), {mark}, is_note=True)) for line in lines if (mark := _of_note(line))}
    return [
        (line.number, notes[mark])
        for line in lines
        for cell in line.cells
        if (found := _borne(cell))
        and (mark := _sign(found)) in notes
        and prices.is_amount(found.string[: found.start()])
    ]


def _of_note(line: SheetLine) -> str:
    """The mark with which a line of nothing but a text begins."""
    found = _NOTE.match(text_alone(line))
    return _sign(found) if found else ""


def _borne(cell: Value) -> re.Match[str] | None:
    return _BEARER.search(cell) if isinstance(cell, str) else None


def _cell(cell: Value, marks: Set[str], *, is_note: bool) -> Value:
    if not isinstance(cell, str):
        return cell
    found = _NOTE.match(cell) if is_note else _borne(cell)
    if found is None or _sign(found) not in marks:
        return cell
    return cell[found.end() :] if is_note else cell[: found.start()]


def _sign(found: re.Match[str]) -> str:
    return str(next(filter(None, found.groups()))).translate(_RAISED).casefold()
