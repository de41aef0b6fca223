"""Sheets from a drawing: one line a row, cells between upright strokes.

In spreadsheets ``#12.5`` is a number, ``#12.5 EUR`` a number shown with a currency, ``#20%`` a number shown in percent,
``@2026-12-31`` a date, ``=25`` a formula with the stored result 25, ``=`` one without; ``<`` belongs to the cell on its
left, ``^`` to the one above (merged). Everything else is text.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Sequence
from datetime import date
from xml.sax.saxutils import escape, quoteattr

import xlsxwriter


def rows_of(drawing: str) -> list[list[str]]:
    lines = [line.strip() for line in drawing.strip("\n").split("\n")]
    return [[cell.strip() for cell in line.split("|")] if line else [] for line in lines]


def delimited(drawing: str, sign: str = ",", encoding: str = "utf-8", end: str = "\n") -> bytes:
    """A text file; cells that hold the sign or a quotation mark are quoted."""

    def quoted(cell: str) -> str:
        if sign in cell or '"' in cell:
            return '"' + cell.replace('"', '""') + '"'
        return cell

    return "".join(sign.join(map(quoted, row)) + end for row in rows_of(drawing)).encode(encoding)


def spans(rows: Sequence[Sequence[str]]) -> list[tuple[int, int, int, int]]:
    """Merged cells as top, left, bottom, right."""
    found = []
    for top, row in enumerate(rows):
        for left, cell in enumerate(row):
            if cell in ("<", "^"):
                continue
            right = left
            while right + 1 < len(row) and row[right + 1] == "<":
                right += 1
            bottom = top
            while bottom + 1 < len(rows) and len(rows[bottom + 1]) > left and rows[bottom + 1][left] == "^":
                bottom += 1
            if (top, left) != (bottom, right):
                found.append((top, left, bottom, right))
    return found


def xlsx(*drawings: str, names: Sequence[str] = (), hidden: Sequence[str] = ()) -> bytes:
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True, "strings_to_formulas": False})
    day = book.add_format({"num_format": "dd/mm/yyyy"})
    percent = book.add_format({"num_format": "0%"})
    for number, drawing in enumerate(drawings):
        sheet = book.add_worksheet(names[number] if names else None)
        if sheet.name in hidden:
            sheet.hide()
        rows = rows_of(drawing)
        for top, left, bottom, right in spans(rows):
            sheet.merge_range(top, left, bottom, right, "")
        for y, row in enumerate(rows):
            for x, cell in enumerate(row):
                if cell in ("", "<", "^"):
                    continue
                if cell.startswith("#"):
                    value, _, currency = cell[1:].partition(" ")
                    shown = book.add_format({"num_format": f"[${currency}] #,##0.00"}) if currency else None
                    shown = percent if value.endswith("%") else shown
                    figure = float(value.rstrip("%")) / (100 if value.endswith("%") else 1)
                    sheet.write_number(y, x, figure, shown)
                elif cell.startswith("@"):
                    sheet.write_datetime(y, x, date.fromisoformat(cell[1:]), day)
                elif cell.startswith("="):
                    sheet.write_formula(y, x, "=1+1", None, float(cell[1:]) if cell[1:] else "")
                else:
                    sheet.write_string(y, x, cell)
    book.close()
    data = out.getvalue()
    return without_results(data) if any("| = " in f"| {d} " or "|=|" in d for d in drawings) else data


def without_results(data: bytes) -> bytes:
    """The same file with the empty stored results taken out, as programs that never reckon leave them out."""
    return repacked(
        data, "xl/worksheets/sheet1.xml", lambda xml: xml.replace(b' t="str"><f>1+1</f><v></v>', b"><f>1+1</f>")
    )


def repacked(data: bytes, name: str, change) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for member in old.namelist():
            content = old.read(member)
            new.writestr(member, change(content) if member == name else content)
    return out.getvalue()


_ODS = (
    '<?xml version="1.0" encoding="UTF-8"?><office:document-content'
    ' xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0"'
    ' xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"'
    ' xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"'
    ' xmlns:style="urn:oasis:names:tc:opendocument:xmlns:style:1.0"'
    ' xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0"'
    ' office:version="1.3">{}<office:body><office:spreadsheet>{}</office:spreadsheet></office:body>'
    "</office:document-content>"
)
MIME = "application/vnd.oasis.opendocument.spreadsheet"


def ods(*drawings: str, names: Sequence[str] = ()) -> bytes:
    tables = []
    for number, drawing in enumerate(drawings):
        rows = rows_of(drawing)
        at = {(top, left): (bottom - top + 1, right - left + 1) for top, left, bottom, right in spans(rows)}
        lines = []
        for y, row in enumerate(rows):
            cells = "".join(_ods_cell(cell, at.get((y, x), (1, 1))) for x, cell in enumerate(row))
            # empty cells to the edge of the sheet, as spreadsheets write them
            lines.append(
                f'<table:table-row>{cells}<table:table-cell table:number-columns-repeated="1000"/></table:table-row>'
            )
        lines.append('<table:table-row table:number-rows-repeated="1048000"><table:table-cell/></table:table-row>')
        name = quoteattr(names[number] if names else f"Sheet{number + 1}")
        tables.append(f"<table:table table:name={name}>{''.join(lines)}</table:table>")
    return ods_of("".join(tables))


def ods_of(body: str, styles: str = "") -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("mimetype", MIME)
        file.writestr(
            "META-INF/manifest.xml",
            '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0">'
            f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{MIME}"/></manifest:manifest>',
        )
        file.writestr("content.xml", _ODS.format(styles, body))
    return out.getvalue()


def _ods_cell(cell: str, span: tuple[int, int]) -> str:
    if cell in ("<", "^"):
        return "<table:covered-table-cell/>"
    kind, text = 'office:value-type="string"', cell
    if cell.startswith("#"):
        value, _, currency = cell[1:].partition(" ")
        kind = f'office:value-type="float" office:value="{value}"'
        if currency:
            kind = f'office:value-type="currency" office:currency="{currency}" office:value="{value}"'
        if value.endswith("%"):
            kind = f'office:value-type="percentage" office:value="{float(value[:-1]) / 100}"'
        text = f"{value} {currency}"
    elif cell.startswith("@"):
        kind = f'office:value-type="date" office:date-value="{cell[1:]}"'
    elif cell.startswith("="):
        result = f'office:value-type="float" office:value="{cell[1:]}"' if cell[1:] else ""
        kind, text = f'table:formula="of:=1+1" {result}', cell[1:]
    spanned = (
        f' table:number-rows-spanned="{span[0]}" table:number-columns-spanned="{span[1]}"' if span != (1, 1) else ""
    )
    if not cell:
        return f"<table:table-cell{spanned}/>"
    inside = f"<text:p>{escape(text)}</text:p>" if text else ""
    return f"<table:table-cell {kind}{spanned}>{inside}</table:table-cell>"
