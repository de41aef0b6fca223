"""Cells that no spreadsheet runs: in CSV, and in XLSX as two other programs read it."""

from __future__ import annotations

import csv
import io
import zipfile
from datetime import date
from decimal import Decimal

import openpyxl
import pytest
import python_calamine

from optimiser import text as cells
from optimiser.errors import CallError
from optimiser.quote_import import understand
from optimiser.show.as_xlsx import Table, write_xlsx
from optimiser.show.tables import Column
from tests.unit.quote_import.conftest import KNOWN

RUN = [
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "\n=1",
    "  =1",
    "＝1",
    "'=1",
    "''=1",
    "a;=1",
    "a\t=1",
    "a\n=1",
    "a|@b",
]
LEFT = ["", "plain", "'90s trim", "it's", "12.50", "a-b", "x=y", "a;b", "R-20", "mail me @ home"]


@pytest.mark.parametrize("text", RUN)
def test_what_would_run_is_marked(text):
    marked = cells.neutral(text)
    assert marked != text
    assert cells.plain_again(marked) == text
    for part in marked.replace("\n", ";").replace("\t", ";").replace("|", ";").split(";"):
        assert not part.strip().startswith(("=", "+", "-", "@", "＝"))


@pytest.mark.parametrize("text", LEFT)
def test_what_would_not_is_left(text):
    assert cells.neutral(text) == text
    assert cells.plain_again(text) == text


@pytest.mark.parametrize("sign", [",", ";", "\t", "|"])
@pytest.mark.parametrize("text", RUN)
def test_no_spreadsheet_parts_it_into_something_that_runs(text, sign):
    """However it takes the line apart: our commas, or another sign, with or without regard for quotation marks."""
    file = io.StringIO(newline="")
    csv.writer(file).writerow(["x", cells.neutral(text), "y"])
    for parts in (
        csv.reader(io.StringIO(file.getvalue(), newline=""), delimiter=sign),
        [file.getvalue().replace('"', "").splitlines()],
    ):
        for row in parts:
            for cell in row:
                for piece in cell.split(sign) if sign != "," else [cell]:
                    assert not piece.strip(' "').startswith(("=", "+", "@", "\N{FULLWIDTH EQUALS SIGN}"))


COLUMNS = (Column("what", "text", ""), Column("much", "money", ""))


def book(tmp_path, *tables):
    path = tmp_path / "out.xlsx"
    write_xlsx(path, tables)
    return path


@pytest.mark.parametrize("text", [*RUN, *LEFT])
def test_text_in_xlsx_is_never_a_formula(tmp_path, text):
    path = book(tmp_path, Table("one", COLUMNS, [(text, 1)]))
    cell = openpyxl.load_workbook(path)["one"]["A2"]
    assert cell.data_type != "f"
    assert b"<f>" not in zipfile.ZipFile(path).read("xl/worksheets/sheet1.xml")
    if text in RUN:
        assert cell.quotePrefix
        assert cell.value.replace("_x000D_", "").split() == text.split()


def test_numbers_stay_numbers(tmp_path):
    rows = [
        ("a", Decimal("12.50")),
        ("b", 3),
        ("c", 0.1),
        ("d", None),
        ("e", float("nan")),
        ("f", Decimal("12345678901234567.89")),
        ("g", date(2026, 1, 2)),
    ]
    path = book(tmp_path, Table("one", COLUMNS, rows))
    read = python_calamine.load_workbook(path).get_sheet_by_index(0).to_python()
    assert read[0] == ["what", "much"]
    assert [row[1] for row in read[1:]] == [12.5, 3, 0.1, "", "nan", "12345678901234567.89", date(2026, 1, 2)]


def test_names_of_sheets(tmp_path):
    names = ["a/b:c*?[x]", "x" * 50, "X" * 50, "", "'quoted'"]
    path = book(tmp_path, *(Table(name, COLUMNS, []) for name in names))
    read = python_calamine.load_workbook(path).sheet_names
    assert len(set(map(str.casefold, read))) == 5
    assert max(map(len, read)) <= 31


def test_a_file_whole_or_not_at_all(tmp_path):
    def rows():
        yield ("a", 1)
        raise CallError("stopped", "")

    path = tmp_path / "out.xlsx"
    path.write_text("before")
    with pytest.raises(CallError):
        write_xlsx(path, [Table("one", COLUMNS, rows())])
    assert path.read_text() == "before"
    assert [each.name for each in tmp_path.iterdir()] == ["out.xlsx"]
    with pytest.raises(CallError, match="cannot be written"):
        write_xlsx(tmp_path / "no" / "out.xlsx", [Table("one", COLUMNS, [])])


def test_what_we_write_we_read(tmp_path):
    columns = tuple(Column(name, "", "") for name in ("part", "condition", "price", "ref"))
    path = tmp_path / "oddlode.xlsx"
    write_xlsx(
        path, [Table("q", columns, [("front-disc", "new", Decimal("12.50"), "=cmd"), ("rear-shoe", "new", 7, "'90s")])]
    )
    understood = understand(path, KNOWN)
    assert [(row.part, row.price_minor, row.ref) for row in understood.rows] == [
        ("front-disc", 1250, "=cmd"),
        ("rear-shoe", 700, "'90s"),
    ]
