"""Our reader of spreadsheets against two others, openpyxl 3.1 and calamine (python-calamine 0.9), cell by cell."""

from __future__ import annotations

import io
from datetime import date, datetime
from decimal import Decimal

import openpyxl
import pytest
import python_calamine
import xlsxwriter
from openpyxl.cell.rich_text import CellRichText, TextBlock
from openpyxl.cell.text import InlineFont

from optimiser.sheet_files import ods as ods_reader
from optimiser.sheet_files import xlsx as xlsx_reader
from optimiser.sheet_files.archives import Archive
from optimiser.sheet_files.grid import Marked, Opened, UnfitCell
from tests.golden.quote_import.making import ods, repacked, xlsx

CELLS = [
    [
        "text",
        "spaces  between\nlines",
        12,
        12.5,
        0.1,
        1e-5,
        -3,
        123456789.123,
        True,
        date(2026, 12, 31),
        "=1",
        "£5",
        "é中",
    ],
    [],
    ["", "second", None, 1 / 3, 2 / 3, 100 * 1.1, 4.35 * 100, 0.1 + 0.2],
    ["<&>\"'", "x" * 1000],
]


def plainly(value):
    """A cell of another reader as ours gives it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return Decimal(f"{value:.15g}")
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, str):
        return " ".join(value.split()) or None
    return value


def ours(opened: Opened):
    return {
        (line.number, place): cell.number if isinstance(cell, Marked) else cell
        for line in opened.grids[0].lines
        for place, cell in enumerate(line.cells)
        if cell is not None
    }


def theirs(rows):
    return {
        (number, place): plainly(cell)
        for number, row in enumerate(rows, start=1)
        for place, cell in enumerate(row)
        if plainly(cell) is not None
    }


def by_openpyxl() -> bytes:
    out = io.BytesIO()
    book = openpyxl.Workbook()
    for row in CELLS:
        book.active.append([None if cell == "" else cell for cell in row])
    book.active["K1"].data_type = "s"
    book.active["A6"] = CellRichText("rich ", TextBlock(InlineFont(b=True), "text"))
    book.save(out)
    return out.getvalue()


def by_xlsxwriter(options=None) -> bytes:
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"strings_to_formulas": False, **(options or {})})
    day = book.add_format({"num_format": "d mmm yyyy"})
    sheet = book.add_worksheet()
    for y, row in enumerate(CELLS):
        for x, cell in enumerate(row):
            if isinstance(cell, date):
                sheet.write_datetime(y, x, cell, day)
            else:
                sheet.write(y, x, cell)
    book.close()
    return out.getvalue()


@pytest.mark.parametrize(
    "data",
    [by_openpyxl(), by_xlsxwriter(), by_xlsxwriter({"constant_memory": True}), by_xlsxwriter({"date_1904": True})],
    ids=["openpyxl", "shared strings", "strings in place", "days counted from 1904"],
)
def test_against_both(data):
    read = ours(xlsx_reader.opened(Archive(data)))
    book = openpyxl.load_workbook(io.BytesIO(data), data_only=True)
    assert read == theirs(book.active.iter_rows(values_only=True))
    rows = python_calamine.load_workbook(io.BytesIO(data)).get_sheet_by_index(0).to_python(skip_empty_area=False)
    assert read == theirs(rows)


def test_ods_against_calamine():
    data = ods("text | two words | #12.5 | @2026-12-31 | \n\n | x | #-3 | =7 | <&>")
    read = ours(ods_reader.opened(Archive(data)))
    rows = python_calamine.load_workbook(io.BytesIO(data)).get_sheet_by_index(0).to_python(skip_empty_area=False)
    assert read == theirs(rows)
    assert read[(3, 3)] == Decimal(7)


@pytest.mark.parametrize(
    ("code", "is_date", "shown"),
    [
        ("General", False, ""), ("0.00", False, ""), ("#,##0.00", False, ""), ("0%", False, ""),
        ("0.00E+00", False, ""),
        ("dd/mm/yyyy", True, ""), ("[$-409]d-mmm-yy;@", True, ""), ("h:mm", True, ""), ("[Red]0.00", False, ""),
        ("[$€-407] #,##0.00", False, "€"), ('"£"#,##0.00', False, "£"), ("£#,##0.00", False, "£"),
        ('_-* #,##0.00\\ "kr"_-', False, "kr"), ("[$USD] 0.00", False, "USD"), ('0" days"', False, ""),
        ("\\d0", False, ""),
    ],
)  # fmt: skip
def test_what_a_number_format_shows(code, is_date, shown):
    assert xlsx_reader._style("170", {"170": code})[:2] == (is_date, shown)


def test_words_behind_a_number_are_no_currency(taken):
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out)
    sheet = book.add_worksheet()
    for place, name in enumerate(["Part", "Condition", "Price"]):
        sheet.write(0, place, name)
    for row, code in enumerate(['0.00" each"', '0.00 "€"', '0.00 "GBP"'], start=1):
        sheet.write_row(row, 0, ["front disc", "new"])
        sheet.write_number(row, 2, 5, book.add_format({"num_format": code}))
    book.close()
    understood = taken(out.getvalue(), name="oddlode.xlsx")
    assert [row.row for row in understood.rows] == [2, 4]
    assert [problem.where for problem in understood.doubts] == ["sheet Sheet1, row 3"]


def test_prefixes_absolute_paths_and_strict_names_of_other_writers():
    def prefixed(xml: bytes) -> bytes:
        xml = xml.replace(b"xmlns=", b"xmlns:x=")
        for name in (b"worksheet", b"sheetData", b"row", b"c", b"v", b"is", b"t"):
            for end in (b" ", b">", b"/"):
                xml = xml.replace(b"<" + name + end, b"<x:" + name + end).replace(
                    b"</" + name + end, b"</x:" + name + end
                )
        return xml

    data = repacked(xlsx("Part | #5\nx | #6"), "xl/worksheets/sheet1.xml", prefixed)
    data = repacked(data, "xl/_rels/workbook.xml.rels", lambda xml: xml.replace(b'"worksheets/', b'"/xl/worksheets/'))
    read = ours(xlsx_reader.opened(Archive(data)))
    assert read == {(1, 0): "Part", (1, 1): Decimal(5), (2, 0): "x", (2, 1): Decimal(6)}


def test_errors_and_formulas():
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out)
    sheet = book.add_worksheet()
    sheet.write_formula(0, 0, "=1/0", None, "#DIV/0!")
    sheet.write_formula(0, 1, '="a"', None, "a")
    sheet.write_formula(0, 2, "=1", None, 1)
    book.close()
    opened = xlsx_reader.opened(Archive(out.getvalue()))
    first, second, third = opened.grids[0].lines[0].cells
    assert isinstance(first, UnfitCell)
    assert (second, third) == ("a", Decimal(1))
    assert opened.grids[0].formulas == 3


def test_signs_written_by_their_number():
    """ECMA-376 part 1, 22.9.2.19 (ST_Xstring): ``_xHHHH_``; an underscore that would begin one is itself written so."""
    data = repacked(
        by_xlsxwriter({"constant_memory": True}),
        "xl/worksheets/sheet1.xml",
        lambda xml: xml.replace(b"second", b"a_x0041_b_x005F_x"),
    )
    assert ours(xlsx_reader.opened(Archive(data)))[(3, 1)] == "aAb_x"
