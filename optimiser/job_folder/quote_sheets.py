"""Sheets of quotes and of suppliers: CSV by RFC 4180, read row by row."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from optimiser.job_folder import opening, package_data
from optimiser.job_folder.known_cells import SPACES, KnownCells, quote_of, values
from optimiser.job_folder.problems import Place, did_you_mean, listed, shown
from optimiser.job_folder.row_reader import LENIENT, keys_of, record
from optimiser.model.quotes import STILL_TO_BE_ASKED, Quote, Supplier
from optimiser.money import NO_CURRENCY, Currency
from optimiser.text import plain_again

MOST_LINES = 250_000
"""Lines of all sheets of a job together."""
MOST_BYTES = 50_000_000
"""Bytes of one sheet."""

QUOTE_COLUMNS = (*(key for key in keys_of(Quote) if key != "id"), "currency")
SHEET_COLUMNS = (*QUOTE_COLUMNS, "price_each", "tax_rate", "tax_amount", "tax_said")
"""What a heading of a supplier's sheet can mean: the columns of a quote, and those that are worked into its price."""
IGNORE = "ignore"
"""What is told to mean nothing."""
QUOTE_NEEDED = ("part", "supplier", "condition", "price")
SUPPLIER_COLUMNS = tuple(keys_of(Supplier))
SUPPLIER_NEEDED = ("supplier",)


class SheetRow(NamedTuple):
    """One row under the sheet's columns; ``line`` is the line of the file on which it begins."""

    line: int
    header: Sequence[str]
    written: Sequence[str]

    def cells(self, columns: Collection[str]) -> dict[str, str]:
        """Those of these columns, by column, empty ones left out."""
        stripped = ((key, cell.strip(SPACES)) for key, cell in zip(self.header, self.written, strict=True))
        return {key: plain_again(cell) for key, cell in stripped if cell and key in columns}

    def text(self, column: str) -> str | None:
        """The text in one column; None where there is none."""
        return self.cells([column]).get(column)


@dataclass(frozen=True)
class SheetText:
    """A sheet by its place, its text and the number of its lines."""

    place: Place
    text: str
    lines: int

    def rows(self, columns: tuple[str, ...], needed: tuple[str, ...]) -> Iterator[SheetRow]:
        """The rows one by one; whatever is wrong with the sheet's shape is noted, and ends it where it must."""
        reader = csv.reader(self._lines(), strict=True)
        header: list[str] | None = None
        line = 1
        try:
            for cells in reader:
                start, line = line, reader.line_num + 1
                if not "".join(cells).strip(SPACES):
                    continue
                if header is None:
                    header = [cell.strip(SPACES) for cell in cells]
                    if not _header_fits(header, columns, needed, self.place.at(f"row {start}")):
                        return
                elif len(cells) != len(header):
                    _complain_width(cells, header, self.place.at(f"row {start}"))
                else:
                    yield SheetRow(start, header, cells)
        except (csv.Error, _NulError) as error:
            _complain_broken(error, self.place.at(f"row {line}"))
            return
        if header is None:
            mend = f"write a first line with {', '.join(needed)}, or take the file away"
            self.place.complain("", found="an empty sheet", expected="a first line with the columns", mend=mend)

    def _lines(self) -> Iterator[str]:
        """Physical lines; ends of line inside quoted cells stay as they are."""
        lines = io.StringIO(self.text, newline="")
        return self._up_to_nul(lines) if "\0" in self.text else lines

    @staticmethod
    def _up_to_nul(lines: Iterable[str]) -> Iterator[str]:
        for line in lines:
            if "\0" in line:
                raise _NulError
            yield line


class _NulError(Exception):
    """A NUL byte, which no text has."""


def sheet(path: Path, place: Place, lines_left: int) -> SheetText:
    """Open a sheet. Raises ``UnfitError``, once noted, where it is too large or no text."""
    data = opening.content(path, place, MOST_BYTES)
    lines = lines_of(data)
    if lines > lines_left:
        mend = "take out what the job does not need: keep the quotes for its own parts"
        expected = f"at most {MOST_LINES} lines in all sheets of a job together"
        place.complain("", found=f"{lines} lines", expected=expected, mend=mend)
        raise opening.UnfitError
    return SheetText(place, opening.text(data, place), lines)


def lines_of(data: bytes) -> int:
    """Lines in the bytes, whichever way lines end."""
    return max(data.count(b"\n"), data.count(b"\r")) + 1


def quotes(pages: Iterable[SheetText], terms: Mapping[str, Supplier], currency: Currency | None) -> Iterator[Quote]:
    """The quotes of all sheets, with chance by condition and days by supplier filled in.

    ``currency`` is None where the job's is unknown: amounts are then read leniently and currencies not compared.
    """
    amounts = currency or LENIENT
    known, days = KnownCells(amounts), {name: supplier.lead_days for name, supplier in terms.items()}
    chances = package_data.conditions()
    for page in pages:
        columns = None
        for row in page.rows(QUOTE_COLUMNS, QUOTE_NEEDED):
            columns = columns or known.under(row.header)
            found = values(columns, row.written)
            written = row.text("currency") if found is None else found.pop("currency", None)
            name = f"{page.place.file}:{row.line}"
            if currency is not None and written not in (None, currency.code):
                _complain_currency(written, currency, page.place.at(f"row {row.line}"))
            elif found is not None:
                found.setdefault("good_chance", chances[found["condition"]])
                found.setdefault("lead_days", days.get(found["supplier"], 0))
                found["id"] = name
                yield quote_of(found)
            elif (quote := _read_in_full(row, name, page.place, days, amounts)) is not None:
                yield quote


def _read_in_full(row: SheetRow, name: str, page: Place, days: Mapping[str, int], currency: Currency) -> Quote | None:
    """The quote of a row that has something wrong with it, or seems so; None once all of that has been noted."""
    cells = row.cells(QUOTE_COLUMNS)
    cells.pop("currency", None)
    # an unknown condition is reported for itself, so its chance may be anything
    chance = package_data.conditions().get(cells.get("condition", ""), 1.0)
    filled: dict[str, object] = {"good_chance": chance, "lead_days": days.get(cells.get("supplier", ""), 0)}
    return record(Quote, filled | cells | {"id": name}, page.at(f"row {row.line}"), currency)


def suppliers(page: SheetText, currency: Currency | None) -> tuple[Supplier, ...]:
    """The suppliers of the sheet, each of which stands once."""
    first: dict[str, int] = {}
    found = []
    for row in page.rows(SUPPLIER_COLUMNS, SUPPLIER_NEEDED):
        place = page.place.at(f"row {row.line}")
        supplier = record(Supplier, row.cells(SUPPLIER_COLUMNS), place, currency or LENIENT)
        if supplier is None:
            continue
        if supplier.id == STILL_TO_BE_ASKED:
            complain_nobodys(place)
            continue
        other = first.setdefault(supplier.id, row.line)
        if other == row.line:
            found.append(supplier)
        else:
            told = f"{shown(supplier.id)}, as in row {other}"
            place.complain("supplier", found=told, expected="each supplier once", mend="take one of the two rows out")
    return tuple(found)


def complain_nobodys(place: Place) -> None:
    """Note a supplier by the name under which rough prices stand, of which nobody is the supplier."""
    found, mend = f"{STILL_TO_BE_ASKED}, which stands for nobody yet", "write the name of the shop that it is"
    place.complain("supplier", found=found, expected="the name of a shop", mend=mend)


def _header_fits(header: list[str], columns: tuple[str, ...], needed: tuple[str, ...], place: Place) -> bool:
    """Whether the rows below can be read at all."""
    if not set(header) & set(columns):
        _complain_no_header(header, needed, place)
        return False
    times = Counter(header)
    for name in (name for name in times if name not in columns):
        _complain_unknown_column(name, columns, place)
    twice = [name for name in columns if times[name] > 1]
    for name in twice:
        place.complain(name, found="the column twice", expected="each column once", mend="take one of the two out")
    missing = [name for name in needed if name not in header]
    for name in missing:
        place.complain(name, found="no such column", expected=f"the columns {', '.join(needed)}", mend=f"add {name}")
    return not (twice or missing)


def _complain_no_header(header: list[str], needed: tuple[str, ...], place: Place) -> None:
    names = ", ".join(needed)
    joined = len(header) == 1 and any(sign in header[0] for sign in ";\t|")
    mend = "save the sheet with commas between the columns" if joined else f"write a first line with {names}"
    found = shown(",".join(header))
    place.complain("", found=found, expected=f"a first line with columns such as {names}", mend=mend)


def _complain_unknown_column(name: str, columns: tuple[str, ...], place: Place) -> None:
    told = "an unknown column" if name else "a column without a name"
    mend = did_you_mean(name, columns, "take the column out")
    place.complain(shown(name)[1:-1], found=told, expected=f"one of {listed(columns)}", mend=mend)


def _complain_width(cells: list[str], header: list[str], place: Place) -> None:
    mend = "put cells with commas in them between quotation marks, and leave unused cells empty but there"
    found, expected = f"{len(cells)} cells", f"{len(header)} cells, as in the first line"
    place.complain("", found=found, expected=expected, mend=mend)


def _complain_broken(error: Exception, place: Place) -> None:
    if isinstance(error, _NulError):
        found, mend = "a NUL byte", "save the sheet again as CSV in UTF-8"
    elif "field limit" in str(error):
        found, mend = "a cell of more than 131072 signs", "close the quotation marks, or shorten the cell"
    else:
        found, mend = "quotation marks that do not pair", 'close them; a quotation mark inside a cell is written ""'
    place.complain("", found=found, expected="CSV by RFC 4180", mend=mend)


def _complain_currency(written: object, currency: Currency, place: Place) -> None:
    if currency.code == NO_CURRENCY:
        expected, mend = "no currency, as the job names none", "write currency under [job] in job.toml"
    else:
        expected, mend = f"{currency.code}, the job's currency", "convert the price, or take the row out"
    place.complain("currency", found=shown(written), expected=expected, mend=mend)
