"""What kind of file it is, by its content, whatever it is called; and its sheets."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from optimiser.job_folder import opening
from optimiser.job_folder.problems import Place
from optimiser.sheet_files import delimited, ods, xlsx
from optimiser.sheet_files.archives import Archive
from optimiser.sheet_files.delimited import Reader, in_cells
from optimiser.sheet_files.grid import Opened, RefusedError

__all__ = ["MOST_BYTES", "TYPE_IT", "Reader", "in_cells", "sheets"]
MOST_BYTES = 50_000_000
"""Bytes of one file, as it lies on the disk."""
_AGAIN = "open it in a spreadsheet and save it as XLSX, ODS or CSV"
TYPE_IT = "type its prices into a sheet with the columns part, condition, price"
_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
_OTHERS = (
    (b"%PDF", "a PDF file"),
    (b"{\\rtf", "a text document (RTF)"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"GIF8", "a picture"),
    (b"II*\x00", "a picture"),
    (b"MM\x00*", "a picture"),
    (b"\x1f\x8b", "a packed file (gzip)"),
    (b"7z\xbc\xaf", "a packed file (7z)"),
    (b"Rar!", "a packed file (RAR)"),
    (b"SQLite format 3", "a database"),
    (b"\x7fELF", "a program"),
    (b"MZ", "a program"),
)
_TO_TYPE = ("a PDF file", "a picture", "a text document (RTF)")
_MAIL = re.compile(rb"^(?:MIME-Version|Message-ID|Received|Return-Path|Delivered-To): ", re.IGNORECASE | re.MULTILINE)
_CHAT = re.compile(
    rb"\W{0,5}(?:(?:\d{1,4}[/.-]\d{1,2}[/.-]\d{2,4}|\d{1,2} \w{3,9}(?: \d{4})?)(?:[,;\t|] ?| ))?"
    rb"\d{1,2}[:.]\d\d(?:[:.]\d\d)?(?: ?[ap]m)?\]?(?: -)?"
    rb"(?: [^\d:][^:]{0,40}: |[,;\t|] ?[^\d:,;\t|][^:,;\t|]{0,40}[,;\t|] ?(?:\"|\S+ \S+ [^,;\t|]*$))",
    re.IGNORECASE,
)
"""A line of a chat: when, who, and what was said, with a colon before it or in cells of a sheet."""
_MARKUP = (b"<!doctype", b"<html", b"<table", b"<?xml", b"<office:", b"<workbook")


def sheets(path: Path, place: Place, reader: Reader) -> Opened:
    """All sheets of the file. Raises ``UnfitError`` once what is wrong has been noted at ``place``."""
    if not opening.is_there(path, place):
        place.complain("", found="no such file", expected="a sheet of quotes", mend="check the file's name")
        raise opening.UnfitError
    data = opening.content(path, place, MOST_BYTES)
    try:
        return _kind(data)(data, reader)
    except RefusedError as refused:
        at = place.at(refused.where) if refused.where else place
        at.complain("", found=refused.found, expected=refused.expected, mend=refused.mend)
        raise opening.UnfitError from None


def _kind(data: bytes) -> Callable[[bytes, Reader], Opened]:
    if not data.strip(b" \t\r\n\x00"):
        raise RefusedError("an empty file", "a sheet of quotes", "put the quotes in it, or leave it out")
    if data.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return _zipped
    if data.startswith(_OLE):
        raise _old_spreadsheet(data)
    for mark, name in _OTHERS:
        if data.startswith(mark):
            mend = TYPE_IT if name in _TO_TYPE else _AGAIN
            raise RefusedError(name, "a spreadsheet or a text file with columns", mend)
    if kind := _to_read_by_eye(data):
        raise RefusedError(kind, "a spreadsheet or a text file with columns", TYPE_IT)
    if data[:200].lstrip(b"\xef\xbb\xbf \t\r\n").lower().startswith(_MARKUP):
        raise RefusedError("a web page or XML", "a spreadsheet or a text file with columns", _AGAIN)
    return delimited.opened


def _to_read_by_eye(data: bytes) -> str:
    """What it is, if its prices can only be typed off it."""
    if (data[:4] == b"RIFF" and data[8:12] == b"WEBP") or data[4:12] in (b"ftypheic", b"ftypavif", b"ftypmif1"):
        return "a picture"
    if data[:2] == b"BM" and data[6:10] == b"\0\0\0\0":
        return "a picture"
    if data[:12].upper().startswith(b"BEGIN:VCARD"):
        return "a visiting card"
    lines = data[:4000].splitlines()
    said = sum(_CHAT.match(line) is not None for line in lines)
    if said > 1 and 2 * said >= sum(map(bool, lines)):
        return "a chat"
    return "a letter (mail)" if _MAIL.search(data[:4000]) else ""


def _old_spreadsheet(data: bytes) -> RefusedError:
    if _ENCRYPTED in data:
        found, expected = "a file with a password", "a file without one"
        return RefusedError(found, expected, "take the password off and save it again")
    return RefusedError("a spreadsheet of the old kind (XLS), or no spreadsheet", "XLSX, ODS or CSV", _AGAIN)


def _zipped(data: bytes, _: Reader) -> Opened:
    archive = Archive(data)
    is_text = archive.start_of("mimetype").startswith(b"application/vnd.oasis.opendocument.text")
    if is_text or archive.holds("word/document.xml") or archive.any_with("ppt/slides/"):
        raise RefusedError("a text document", "a spreadsheet or a text file with columns", TYPE_IT)
    if archive.holds("content.xml"):
        return ods.opened(archive)
    if archive.holds("xl/workbook.bin"):
        raise RefusedError("a binary spreadsheet (XLSB)", "XLSX, ODS or CSV", _AGAIN)
    if archive.holds("xl/workbook.xml") or archive.holds("[Content_Types].xml"):
        return xlsx.opened(archive)
    raise RefusedError("a zip file that is no spreadsheet", "XLSX, ODS or CSV", "unpack it and name the sheet in it")
