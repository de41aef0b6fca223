"""Text with a sign between the columns: which encoding, which sign, which lines."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Protocol

from optimiser.sheet_files.grid import (
    MOST_CELLS,
    MOST_LINES,
    Cells,
    Counter,
    Grid,
    Opened,
    RefusedError,
    SheetLine,
    Value,
    text,
    too_much,
)

SIGNS = (",", ";", "\t", "|")
_GAPS = {
    "runs of spaces": re.compile(r"(?: {2,}|\t)\s*"),
    "dashes": re.compile(r"\s+[-\N{EN DASH}\N{EM DASH}]\s+|\s?\.{3,}\s?|:\s+(?=[£€$])"),
    "strokes": re.compile(r"\s+/\s+"),
    "colons": re.compile(r"\s?:\s+"),
}
"""What stands between the columns of a list that a person typed, where none of the signs does."""
_LABEL = re.compile(r"(?:[^\W\d_][^:\d]{0,30}): +\S")
"""How a line begins that says of the goods in a block of lines what one of their columns would."""
_BULLET = re.compile(r"^\s*(?:[-*\N{BULLET}\N{EN DASH}]|\d{1,2}[.)])\s+")
_NUMBER = re.compile(r"(\d{1,2})[.)]\s+(?=[^\W\d])")
_DECIMALS = re.compile(r"(?<=\d),(?:\d\d(?!\d)|[-\N{EN DASH}])(?=[\s;|]|$)")
_BETWEEN_CELLS = re.compile(r",(?=[^\s\d])")
"""A comma that parts columns: a writer of sentences puts a space behind it."""
_DECIMALS_OF_MONEY = re.compile(r"\d,\d\d\s?(?:€|kr\b|zł|EUR\b)")
_FEWEST = 2
"""Lines with a number in front that may be counted."""
_ENOUGH, _HALF = 2.0, 0.5
"""How much a line must look like headings; the share of lines of one width from which a file is one of columns."""
_LONGEST_LINE = 1_000_000
_MOST_SPLIT, _MOST_LINES = 4 * MOST_CELLS, 4 * MOST_LINES
_NAMES = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "upright strokes"}
_SAMPLE_LINES, _SAMPLE_SIGNS = 60, 200_000
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_WESTERN = "cp1252"
_LIKELY = [_WESTERN, "cp1250", "cp850", "mac_roman"]
"""Encodings without a mark that a sheet of this trade may come in. Digits are the same in all of them."""
_END = "\x02the end\x03"
_AGAIN = 'save the sheet again as UTF-8 (a spreadsheet calls it "CSV UTF-8")'


class Reader(Protocol):
    """Whoever reads the words: it tells headings and prices, and parts what was typed into one line."""

    def score(self, cells: Cells) -> float:
        """How much a line looks like headings; higher is better."""
        ...

    def is_priced(self, cells: Sequence[Value]) -> bool:
        """Whether a sum of money stands beside something else."""
        ...

    def in_one_order(self, lines: Sequence[SheetLine]) -> list[SheetLine]:
        """Lines with what is alike in one column."""
        ...

    def of_order(self, line: str) -> Sequence[str]:
        """A line of an order in its name and the price of one; empty where it is none."""
        ...

    def parted(self, cell: str) -> Iterable[str]:
        """A piece of a typed line in the cells that it holds."""
        ...


def opened(data: bytes, reader: Reader) -> Opened:
    """The one sheet of a text file. Raises ``RefusedError`` where it is no text or too large."""
    encoding, doubtful = _encoding(data)
    sign = _sign(data, encoding, reader)
    remarks = [f"a text file in {encoding.removesuffix('-sig').upper()}, its columns between {_NAMES.get(sign, sign)}"]
    grid = Grid("", spreadsheet=False)
    counter = Counter()
    left = _MOST_SPLIT
    lines = _lines(data, encoding)
    for number, cells in _apart(lines, sign, reader) if sign in _GAPS else _rows(lines, sign):
        left -= len(cells)
        if number > _MOST_LINES:
            raise too_much(f"more than {_MOST_LINES} lines, empty ones among them", f"at most {_MOST_LINES} lines")
        if left < 0:
            raise too_much(f"more than {_MOST_SPLIT} cells, empty ones among them", f"at most {_MOST_SPLIT} cells")
        line = counter.line(number, [_value(cell) for cell in cells])
        if line is not None:
            grid.lines.append(line)
    grid.lines = _without_numbers(grid.lines)
    if sign in _GAPS and sign != "colons":
        grid.lines = reader.in_one_order(grid.lines)
    return Opened([grid], remarks, doubtful)


def _without_numbers(lines: list[SheetLine]) -> list[SheetLine]:
    """The lines of a list that counts them in front of their first cells ("1. Spark plug"), without these numbers."""
    found = [_NUMBER.match(first) if isinstance(first := line.cells[0], str) else None for line in lines]
    counted = [each for each in found if each is not None]
    if len(counted) < _FEWEST or [int(each[1]) for each in counted] != list(range(1, len(counted) + 1)):
        return lines
    return [
        line if each is None else SheetLine(line.number, (each.string[each.end() :], *line.cells[1:]))
        for line, each in zip(lines, found, strict=True)
    ]


def _encoding(data: bytes) -> tuple[str, list[str]]:
    """The encoding, and what to say where it could not be known for certain."""
    for mark, name in _MARKS:
        if data.startswith(mark):
            return name, []
    sample = data[:4096]
    if b"\0" in sample:
        evens, odds = sample[::2].count(0), sample[1::2].count(0)
        if max(evens, odds) * 4 >= len(sample) and min(evens, odds) * 8 <= len(sample):
            return ("utf-16-le" if odds > evens else "utf-16-be"), ["read as UTF-16, which the file does not say"]
        raise RefusedError("a NUL byte", "text", _AGAIN, f"line {data.count(10, 0, data.index(0)) + 1}")
    if _is_utf8(data):
        return "utf-8", []
    name = _guessed(data)
    return name, [f"it is not UTF-8, and {name} is the likeliest: look at letters with accents and at currency signs"]


def _is_utf8(data: bytes) -> bool:
    decoder = codecs.getincrementaldecoder("utf-8")()
    try:
        for start in range(0, len(data), 1 << 16):
            decoder.decode(data[start : start + (1 << 16)])
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True


def _guessed(data: bytes) -> str:
    """By the letters of the lines that are not plain; too few of them say nothing, and then it is the usual one."""
    lines = [line for line in data[:1_000_000].splitlines() if not line.isascii()][:500]
    if sum(byte > 127 for line in lines for byte in line) < 8:
        return _WESTERN
    from charset_normalizer import from_bytes  # noqa: PLC0415 - wanted for few files

    sample = b"\n".join(lines)[:50_000]
    best = from_bytes(sample, cp_isolation=_LIKELY).best()
    same = best is None or sample.decode(best.encoding, "replace") == sample.decode(_WESTERN, "replace")
    return _WESTERN if best is None or same else best.encoding


def _lines(data: bytes, encoding: str) -> Iterator[str]:
    """The lines one by one, then one of our own that cannot be in the file."""
    number = 0
    with io.TextIOWrapper(io.BytesIO(data), encoding=encoding, errors="replace", newline="") as file:
        for line in file:
            number += 1
            if "\0" in line:
                raise RefusedError("a NUL byte", "text", _AGAIN, f"line {number}")
            if len(line) > _LONGEST_LINE:
                found, expected = f"a line of {len(line)} signs", f"at most {_LONGEST_LINE} signs in a line"
                raise RefusedError(found, expected, "close the quotation marks, or take the line out", f"line {number}")
            yield line.replace("\x02", " ")
    yield _END


def _sign(data: bytes, encoding: str, reader: Reader) -> str:
    """The sign whose columns look most like headings and are most alike in number; of a typed list its gaps."""
    with io.TextIOWrapper(io.BytesIO(data), encoding=encoding, errors="replace", newline="") as file:
        first = file.readline(200)
        if first.lower().startswith("sep=") and first.rstrip("\r\n")[4:] in SIGNS:
            return first.rstrip("\r\n")[4:]
    sample: list[str] = []
    left = _SAMPLE_SIGNS
    for line in _lines(data, encoding):
        if line == _END or left < 0 or len(sample) >= _SAMPLE_LINES:
            break
        sample.append(line[:left])
        left -= len(line)
    apart = [_DECIMALS.sub("", line) for line in sample]  # the comma in "350,-" parts no columns
    labelled = [(line.split(":")[0].strip(),) for line in sample if _LABEL.match(line.strip())]
    if 2 * len(labelled) > sum(bool(line.strip()) for line in sample) and _likeness(labelled, reader) >= _ENOUGH:
        return "colons"
    ranked = [(_merit(_split(apart, sign), reader), -place, sign) for place, sign in enumerate(SIGNS)]
    (likeness, alike), _, sign = max(ranked)
    in_decimals = sign == "," and any(map(_DECIMALS_OF_MONEY.search, sample))
    in_prose = sign == "," and not any(map(_BETWEEN_CELLS.search, sample))
    priced = _priced(_split(apart, sign), reader)
    of_text = likeness < _ENOUGH and (alike < _HALF or in_decimals or in_prose)
    if of_text or (in_prose and not priced):  # "As agreed, all parts used, prices include VAT:" is no line of headings
        least = priced if alike >= _HALF and not in_decimals else 0
        rows = {name: [cells for _, cells in _apart(iter(sample), name, reader)] for name in _GAPS}
        headed = (name for name in _GAPS if _merit(rows[name], reader)[0] >= _ENOUGH)
        pricing = (name for name in _GAPS if _priced(rows[name], reader) > least)
        return next((name for names in (headed, pricing) for name in names), sign)
    return sign


def _priced(rows: Sequence[Sequence[str]], reader: Reader) -> int:
    """In how many rows a sum of money stands beside something else."""
    return sum(reader.is_priced(list(map(text, cells))) for cells in rows)


def _split(sample: Sequence[str], sign: str) -> list[list[str]]:
    try:
        return list(csv.reader(sample, delimiter=sign))
    except csv.Error:
        return []


def _merit(rows: Sequence[Sequence[str]], reader: Reader) -> tuple[float, float]:
    rows = [row for row in rows if any(cell.strip() for cell in row)]
    if not rows:
        return (0.0, 0.0)
    widths = [len(row) for row in rows if len(row) > 2 or any(cell.strip() for cell in row[1:])]  # "Dear customer,"
    alike = widths.count(max(set(widths), key=widths.count)) / len(rows) if widths else 0.0
    last = max((place for place, row in enumerate(rows) if len(row) > 1), default=0)  # nothing stands below it
    scores = (reader.score(tuple(_value(cell) for cell in row[:256])) for row in rows[: min(last, 30)])
    return max(scores, default=0.0), alike


def _apart(lines: Iterator[str], gap: str, reader: Reader) -> Iterator[tuple[int, list[str]]]:
    """Each line with its number, parted at the gaps; what marks it as one of a list is left out."""
    for number, line in enumerate(lines, start=1):
        if line != _END:
            yield number, in_cells(line, reader, gap)


def in_cells(line: str, reader: Reader, gap: str = "runs of spaces") -> list[str]:
    """A typed line in cells: parted at one kind of gap, or at another where a price stands by itself then alone."""
    said = _BULLET.sub("", line.strip())
    if ordered := reader.of_order(said):
        return list(ordered)
    ways = (_GAPS[each].split(said) for each in (gap, *_GAPS))
    parted = ([part for cell in cells for part in reader.parted(cell)] for cells in ways)
    first = next(parted)
    return first if reader.is_priced(first) or gap == "colons" else next(filter(reader.is_priced, parted), first)


def _likeness(labels: Sequence[tuple[str, ...]], reader: Reader) -> float:
    """How much labels, each of which stands more than once, look like headings."""
    return reader.score(tuple(dict.fromkeys(label for (label,) in labels if labels.count((label,)) > 1)))


def _rows(lines: Iterator[str], sign: str) -> Iterator[tuple[int, list[str]]]:
    """Each row with the line on which it begins."""
    reader = csv.reader(lines, delimiter=sign)
    start = 1
    try:
        for row in reader:
            if row == [_END]:
                return
            if row and row[-1].endswith(_END):
                break
            if not (start == 1 and len(row) in (1, 2) and row[0].lower().startswith("sep=")):
                yield start, row
            start = reader.line_num + 1
    except csv.Error as error:
        limit = "field limit" in str(error)
        found = f"a cell of more than {csv.field_size_limit()} signs" if limit else "a line that cannot be taken apart"
        raise RefusedError(found, "rows of cells", "close the quotation marks, or shorten the cell", f"row {start}") from None  # noqa: E501 # fmt: skip
    found, mend = "a quotation mark that is never closed", "close it, or take it out"
    raise RefusedError(found, "quotation marks in pairs", mend, f"row {start}")


def _value(cell: str) -> Value:
    return text(cell)
