"""Files made to harm, and broken ones: each is refused by name or read within bounds, nothing hangs or runs."""

from __future__ import annotations

import contextlib
import io
import os
import struct
import subprocess
import sys
import time
import zipfile
from datetime import date
from pathlib import Path

import pytest

from optimiser.errors import InputError
from optimiser.model.imports import Told
from optimiser.quote_import import accept, understand
from optimiser.sheet_files import archives, grid
from tests.golden.quote_import.making import ods, ods_of, repacked, xlsx
from tests.unit.quote_import.conftest import KNOWN

pytestmark = pytest.mark.long

BOOK = xlsx("Part | Condition | Price\nFront brake disc | new | #25")
SHEET = "xl/worksheets/sheet1.xml"
HEAD = "part,condition,price\n"


def with_sheet(inside: str) -> bytes:
    xml = f'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>{inside}</sheetData></worksheet>'
    return repacked(BOOK, SHEET, lambda _: xml.encode())


def row(number: int | str, *cells: str) -> str:
    return f'<row r="{number}">' + "".join(f'<c t="inlineStr"><is><t>{c}</t></is></c>' for c in cells) + "</row>"


HEADINGS = row(1, "Part", "Condition", "Price")


def many(count: int, piece: str) -> bytes:
    """A sheet of a great many equal pieces, packed small; written in parts so that the test needs no memory."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(BOOK)) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as new,
    ):
        for name in old.namelist():
            if name != SHEET:
                new.writestr(name, old.read(name))
        with new.open(SHEET, "w") as member:
            member.write(b"<worksheet><sheetData>" + HEADINGS.encode())
            for _ in range(count // 10_000):
                member.write(piece.encode() * 10_000)
            member.write(b"</sheetData></worksheet>")
    return out.getvalue()


OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600
ENTITY = b'<!DOCTYPE x [<!ENTITY a "b">]>'
CORNER = '<row r="1048576"><c r="XFD1048576"><v>2</v></c></row>'
REFUSED = {
    "nothing": (b"", "an empty file"),
    "blanks": (b" \r\n\t\n", "an empty file"),
    "a NUL byte": (b"part,condition,price\nfront disc,new,1\x002\n", "a NUL byte"),
    "a picture": (b"\x89PNG\r\n\x1a\n" + b"\0" * 50, "a picture"),
    "a PDF": (b"%PDF-1.7 ...", "a PDF file"),
    "a web page": (b"\xef\xbb\xbf<!DOCTYPE html><table><tr><td>part</td></tr></table>", "a web page"),
    "an old spreadsheet": (OLE, "old kind"),
    "a password": (OLE + "EncryptedPackage".encode("utf-16-le"), "a password"),
    "a zip file cut off": (BOOK[: len(BOOK) // 2], "broken or cut off"),
    "a zip file of nothing": (b"PK\x05\x06" + b"\0" * 18, "no spreadsheet"),
    "no headings": (b"1,2,3\n4,5,6\n", "1, 2, 3"),
    "a quotation mark never closed": ((HEAD + 'front disc,new,"12\nrear shoe,new,5\n').encode(), "never closed"),
    "a cell without end": ((HEAD + 'x,new,"' + "y\n" * 100_000 + '"\n').encode(), "a cell of more than"),
    "a line without end": (b"x" * 2_000_000, "a line of"),
    "ten thousand columns": ((HEAD + ",".join(map(str, range(10_000))) + "\n").encode(), "10000 columns"),
    "an entity": (repacked(BOOK, SHEET, lambda xml: ENTITY + xml.partition(b"?>")[2]), "document type"),
    "a document type": (
        repacked(BOOK, SHEET, lambda xml: b"<!DOCTYPE worksheet>" + xml.partition(b"?>")[2]),
        "document type",
    ),
    "XML that breaks off": (repacked(BOOK, SHEET, lambda xml: xml[:-40]), "no XML"),
    "a row beyond the end": (with_sheet(HEADINGS + row(9_999_999, "a", "b")), "row 9999999"),
    "a column beyond the end": (with_sheet('<row r="1"><c r="ZZZZ1"><v>1</v></c></row>'), "column ZZZZ"),
    "a cell with no name": (with_sheet('<row r="1"><c r="?!1"><v>1</v></c></row>'), "a cell called"),
    "two far corners": (with_sheet(HEADINGS + CORNER), "16384 columns"),
    "deep XML": (with_sheet("<a>" * 5000 + "</a>" * 5000), "nested too deep"),
    "a tag without end": (with_sheet(f'<row r="1"><c r="A1" x="{"y" * 3_000_000}"/></row>'), "a mark of more than"),
    "an ODS with a cell repeated": (
        ods_of('<table:table><table:table-row><table:table-cell office:value-type="float" office:value="1"'
               ' table:number-columns-repeated="16000"/></table:table-row></table:table>'),
        "16000 columns",
    ),
    "an ODS with a row repeated": (
        ods_of('<table:table><table:table-row table:number-rows-repeated="1000000"><table:table-cell'
               ' office:value-type="float" office:value="1"/></table:table-row></table:table>'),
        "lines alike",
    ),
    "an ODS with a password": (
        repacked(ods("part | price"), "META-INF/manifest.xml", lambda _: b"<x><manifest:encryption-data/></x>"),
        "a password",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
@pytest.mark.parametrize("file", ["oddlode.csv", "oddlode.xlsx"])
def test_refused_by_name(refused, name, file):
    data, words = REFUSED[name]
    started = time.perf_counter()
    problem = refused(data, file)
    assert words in problem.found
    assert time.perf_counter() - started < 5


def test_a_file_that_is_not_there_or_no_file(tmp_path):
    for path, words in ((tmp_path / "none.csv", "no such file"), (tmp_path, "a folder")):
        with pytest.raises(InputError) as caught:
            understand(path, KNOWN)
        assert words in caught.value.problems[0].found


@pytest.mark.parametrize(
    ("piece", "words"),
    [
        ("<c><v>1</v></c>", "columns in row"),
        ("<row><c><v>1</v></c></row>", "lines"),
        ("<row/>", "elements"),
        ("<z/>", "elements"),
        ("<!-- " + "y" * 90 + " -->", "unpacks to more than"),
    ],
)
def test_a_bomb_is_stopped_at_its_limit(refused, monkeypatch, piece, words):
    """The limits are real ones, made smaller so that the test is quick."""
    monkeypatch.setattr(archives, "MOST_UNPACKED", 7_000_000)
    monkeypatch.setattr(archives, "_MOST_ELEMENTS", 300_000)
    monkeypatch.setattr(grid, "MOST_LINES", 60_000)
    data = many(100_000 if "<!" in piece else 400_000, piece)
    assert len(data) < 400_000
    assert words in refused(data, "oddlode.xlsx").found


def test_what_the_zip_file_claims_of_its_sizes_counts_for_nothing(refused):
    """A size of 1 in the directory, and content beyond it: the checksum fails before anything comes of it."""
    data = bytearray(BOOK)
    place = data.index(b"PK\x01\x02")
    while place != -1:
        data[place + 24 : place + 28] = struct.pack("<I", 1)
        place = data.find(b"PK\x01\x02", place + 4)
    assert "broken or cut off" in refused(bytes(data)).found


def test_cells_without_end_in_one_row_of_an_ods(refused):
    cells = '<table:table-cell table:number-columns-repeated="9999999"/>' * 50_000
    last = '<table:table-cell office:value-type="float" office:value="1"/>'
    row = f"<table:table><table:table-row>{cells}{last}</table:table-row></table:table>"
    assert "16385 columns" in refused(ods_of(row)).found


def test_a_directory_of_a_million_files(refused):
    entry = b"PK\x01\x02" + b"\0" * 42
    assert "files packed in it" in refused(b"PK\x03\x04" + entry * 20_000 + b"PK\x05\x06" + b"\0" * 18).found


def test_a_cell_of_a_hundred_million_signs_costs_its_row_alone(taken):
    """In a spreadsheet such a cell is never whole in memory; the rest of the sheet is read."""
    out = io.BytesIO()
    with (
        zipfile.ZipFile(io.BytesIO(BOOK)) as old,
        zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as new,
    ):
        for name in old.namelist():
            if name != SHEET:
                new.writestr(name, old.read(name))
        with new.open(SHEET, "w") as member:
            member.write(b"<worksheet><sheetData>" + HEADINGS.encode() + b'<row><c t="inlineStr"><is><t>')
            for _ in range(100):
                member.write(b"y" * 1_000_000)
            member.write(
                b"</t></is></c></row>" + row(3, "Front disc", "new", "5").encode() + b"</sheetData></worksheet>"
            )
    started = time.perf_counter()
    understood = taken(out.getvalue(), name="oddlode.xlsx")
    assert time.perf_counter() - started < 10
    assert [each.row for each in understood.rows] == [3]
    (aside,) = understood.aside
    assert "32767" in aside.reason


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="peak memory is read as Linux tells it")
def test_memory_stays_within_its_bounds(tmp_path):
    """Two hundred thousand cells, none of them in a quote; the limits' own worst was measured by hand (370 MB).

    Not by ``getrusage``: what it says of a child begins with the peak of the process that started it.
    """
    path = tmp_path / "oddlode.xlsx"
    path.write_bytes(many(10_000, "<row>" + "<c><v>1234567.5</v></c>" * 20 + "</row>"))
    program = (
        "import sys\nfrom pathlib import Path\n"
        "from tests.unit.quote_import.conftest import KNOWN\nfrom optimiser.quote_import import understand\n"
        "u = understand(Path(sys.argv[1]), KNOWN)\n"
        "status = Path('/proc/self/status').read_text()\n"
        "print(len(u.aside), status.split('VmHWM:')[1].split()[0])"
    )
    done = subprocess.run([sys.executable, "-c", program, str(path)], capture_output=True, text=True, check=True)
    aside, kilobytes = map(int, done.stdout.split())
    assert aside == 10_000
    assert kilobytes < 200_000


def test_nothing_is_run_or_followed(taken, monkeypatch):
    """Macros and links to other files stay where they are, and that is said; stored results are taken."""
    monkeypatch.setattr(subprocess, "Popen", None)
    data = xlsx("Part | Condition | Price\nFront brake disc | new | =25")
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        for name in old.namelist():
            new.writestr(name, old.read(name))
        new.writestr("xl/vbaProject.bin", b"macros")
        new.writestr("xl/externalLinks/externalLink1.xml", b"<!DOCTYPE x SYSTEM 'http://example.invalid/x'><x/>")
    understood = taken(out.getvalue(), name="oddlode.xlsm")
    assert [each.price_minor for each in understood.rows] == [2500]
    said = " ".join(understood.remarks)
    assert "macros" in said
    assert "other files" in said
    assert "stored result of a formula" in said


def test_formulas_as_text_are_text(taken):
    understood = taken(HEAD.strip() + ",ref\nfront disc,new,5,=HYPERLINK(1)\n=cmd|' /c x'!A1,new,5,\n")
    assert [each.ref for each in understood.rows] == ["=HYPERLINK(1)"]
    assert understood.aside[0].kind == "part"


BROKEN_ENCODINGS = [
    ("part,condition,price\nfront disc,new,£5\n".encode("cp1252"), [500]),
    ("part,condition,price\nfront disc,new,£5\n".encode("utf-8-sig"), [500]),
    ("part,condition,price\nfront disc,new,£5\n".encode("utf-16"), [500]),
    ("part,condition,price\nfront disc,new,£5\n".encode("utf-16-be"), [500]),
    ("part,condition,price\nfront disc,new,£5\n".encode("utf-32"), [500]),
    ("part,condition,price\nfront disc,new,£5\n".encode() + b"rear shoe,new,\xff\xfe7\n", []),
    (b"part,condition,price\nfront disc,new,5\n" + b"rear shoe \x81\x8d,new,7\n", [500, 700]),
    (b"\xef\xbb\xbf" + b"part,condition,price\nfront disc,new,5\n" + b"caf\xe9,new,7\n", [500]),
]


@pytest.mark.parametrize(("data", "prices"), BROKEN_ENCODINGS)
def test_encodings_with_and_without_marks(taken, data, prices):
    assert [each.price_minor for each in taken(data).rows] == prices


def test_lines_may_end_in_any_way(taken):
    for end in ("\n", "\r\n", "\r"):
        assert [each.row for each in taken(f"part,condition,price{end}front disc,new,5{end}").rows] == [2]


def test_a_first_line_that_names_the_sign(taken):
    understood = taken("sep=;\npart;condition;price\nfront disc;new;5,00\n")
    assert [(each.row, each.price_minor) for each in understood.rows] == [(3, 500)]


def test_a_quotation_mark_never_closed_is_placed_where_it_opens(refused):
    problem = refused(HEAD + 'front disc,new,5\nfront disc,new,"12\nrear shoe,new,5\nrear shoe,new,6')
    assert problem.where == "row 3"


def test_limits_of_a_text_file(refused, monkeypatch):
    monkeypatch.setattr(grid, "MOST_LINES", 100)
    assert "more than 100 lines" in refused(HEAD + "x,new,1\n" * 101).found
    monkeypatch.setattr(grid, "MOST_CELLS", 100)
    assert "more than 100 cells" in refused(HEAD + "x,new,1\n" * 50).found


def within_five_seconds(do):
    began = time.process_time()
    answer = do()
    assert time.process_time() - began < 5
    return answer


@pytest.mark.parametrize("member", ["xl/sharedStrings.xml", SHEET])
def test_a_string_of_very_many_runs(taken, member):
    """Each run is short; they count together, and only once each."""
    runs = "<r><t>a</t></r>" * 300_000
    cell = f'<row r="2"><c t="inlineStr"><is>{runs}</is></c></row>'
    data = with_sheet(HEADINGS + cell) if member == SHEET else with_strings(f"<sst><si>{runs}</si></sst>")
    with contextlib.suppress(InputError):
        within_five_seconds(lambda: taken(data, name="oddlode.xlsx"))


def with_strings(xml):
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(BOOK)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            new.writestr(name, xml if name == "xl/sharedStrings.xml" else old.read(name))
    return out.getvalue()


def test_a_string_of_seventy_runs_is_read_whole(taken):
    runs = "".join(f"<r><t>{sign}</t></r>" for sign in "front brake disc, " + "x" * 60)
    data = with_sheet(HEADINGS + f'<row r="2"><c t="inlineStr"><is>{runs}</is></c><c><v>1</v></c></row>')
    (aside,) = taken(data, Told(supplier="oddlode", condition="new"), "oddlode.xlsx").aside
    assert "x" * 60 in str(aside)


def test_very_many_merges(taken):
    lines = "".join(row(number, "x", "y", "z") for number in range(2, 20_000))
    merges = "".join(f'<mergeCell ref="{"ABC"[n % 3]}{2 + n // 50}:{"ABC"[n % 3]}20000"/>' for n in range(90_000))
    xml = f"<worksheet><sheetData>{HEADINGS}{lines}</sheetData><mergeCells>{merges}</mergeCells></worksheet>"
    data = repacked(BOOK, SHEET, lambda _: xml.encode())
    with pytest.raises(InputError, match="more merged cells"):
        within_five_seconds(lambda: taken(data, name="oddlode.xlsx"))


@pytest.mark.parametrize("method", [zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_archives_packed_as_no_spreadsheet_is(refused, method):
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(BOOK)) as old, zipfile.ZipFile(out, "w", method) as new:
        for name in old.namelist():
            new.writestr(name, old.read(name))
    assert "packed in a way" in refused(out.getvalue(), "oddlode.xlsx").found


LONG = {
    "commas": "," * 900_000, "quotes": '""' * 450_000, "one word": "x" * 900_000, "nothing": "", "returns": "\r",
    "separators": "\t;|," * 200_000,
}  # fmt: skip


@pytest.mark.parametrize("line", LONG)
def test_long_lines_and_lines_without_end(refused, line):
    content = HEAD + (LONG[line] + "\n") * (12_000_000 // (len(LONG[line]) + 1))
    within_five_seconds(lambda: refused(content))


@pytest.mark.skipif(sys.platform in ("darwin", "win32"), reason="names are text there")
def test_a_file_whose_name_is_no_utf8(tmp_path):
    path = tmp_path / os.fsdecode(b"odd\xfflode.csv")
    path.write_text(HEAD + "front disc,new,5\n")
    folder = tmp_path / "job"
    folder.mkdir()
    understood = understand(path, KNOWN, Told(supplier="oddlode"))
    assert understood.file == "odd\N{REPLACEMENT CHARACTER}lode.csv"
    (taken,) = accept(folder, [understood], KNOWN.currency, date(2026, 11, 24))
    assert (folder / taken.sheet).exists()


def test_numbers_beyond_all_bounds(taken):
    cells = ["1E999999999", "NaN", "-5", "1E-99", "1e15", "0.1" + "0" * 300]
    texts = "".join(f'<c t="inlineStr"><is><t>{text}</t></is></c>' for text in ("Front disc", "new"))
    data = with_sheet(HEADINGS + "".join(f"<row>{texts}<c><v>{cell}</v></c></row>" for cell in cells))
    understood = taken(data, Told(), "oddlode.xlsx")
    assert [(each.row, each.price_minor) for each in understood.rows] == [(7, 10)]
    assert len(understood.aside) == 5


def test_names_that_are_nobodys(taken):
    understood = taken(
        "part,condition,price,supplier\nfront disc,new,5,???\n" + "front disc,new,5," + "x" * 5000 + "\n"
    )
    assert [len(each.supplier) for each in understood.rows] == [200]
    assert understood.aside[0].kind == "supplier"
