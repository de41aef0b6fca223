"""Spreadsheets are zip files of XML: unpacking them within bounds, streaming, nothing in them followed or run.

XML is read with expat, sign by sign, so that no cell, however large, is ever whole in memory. Document type
declarations, and with them every entity, are refused (OWASP, XML External Entity Prevention Cheat Sheet).
"""

from __future__ import annotations

import io
import posixpath
import struct
import zipfile
import zlib
from collections.abc import Callable, Mapping
from typing import Any
from xml.parsers import expat

from optimiser.sheet_files.grid import RefusedError, too_much

MOST_MEMBERS = 10_000
"""Files inside the zip file."""
MOST_UNPACKED = 200_000_000
"""Bytes of XML that are unpacked in all, whatever the zip file claims."""
_MOST_ELEMENTS = 12_000_000
_DEEPEST = 100
_LONGEST_TAG = 1_000_000
_CHUNK = 1 << 16
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
_BROKEN = (
    zipfile.BadZipFile,
    zlib.error,
    struct.error,
    EOFError,
    LookupError,
    NotImplementedError,
    OSError,
    RuntimeError,
    ValueError,
)
_MEND = "open it in a spreadsheet and save it again as XLSX, ODS or CSV"

Attributes = Mapping[str, str]
Start = Callable[[str, Attributes], None]
End = Callable[[str], None]
Signs = Callable[[str], None]


class Archive:
    """A spreadsheet's zip file. Raises ``RefusedError`` for all that is wrong with it."""

    def __init__(self, data: bytes) -> None:
        if data.count(b"PK\x01\x02") > MOST_MEMBERS:
            raise too_much(f"more than {MOST_MEMBERS} files packed in it", f"at most {MOST_MEMBERS}")
        try:
            self._zip = zipfile.ZipFile(io.BytesIO(data))
            self._names = {name.lower().lstrip("/"): name for name in self._zip.namelist()}
        except _BROKEN:
            raise RefusedError("a zip file that is broken or cut off", "a spreadsheet", _MEND) from None
        members = self._zip.infolist()
        if any(member.flag_bits & 1 for member in members):
            raise RefusedError("a zip file with a password", "one without", "take the password off and save it again")
        if any(member.compress_type not in _METHODS for member in members):
            raise RefusedError("a zip file packed in a way that spreadsheets do not use", "a spreadsheet", _MEND)
        self._left = MOST_UNPACKED

    def holds(self, name: str) -> bool:
        """Whether there is a file with this name; capitals do not count."""
        return name.lower() in self._names

    def any_with(self, beginning: str) -> bool:
        """Whether the name of any file begins so."""
        return any(name.startswith(beginning.lower()) for name in self._names)

    def start_of(self, name: str) -> bytes:
        """The first bytes of a small file; nothing where it is not there."""
        if not self.holds(name):
            return b""
        try:
            with self._zip.open(self._names[name.lower()]) as member:
                return member.read(_CHUNK)
        except _BROKEN:
            return b""

    def stream(self, name: str, start: Start, end: End | None = None, signs: Signs | None = None) -> None:
        """Read a file of XML through these handlers; names of elements come without their prefix."""
        if not self.holds(name):
            raise RefusedError(f"no {name} packed in it", "a spreadsheet", _MEND)
        parser = _parser(start, end, signs)
        fed = 0
        try:
            with self._zip.open(self._names[name.lower()]) as member:
                while chunk := member.read(_CHUNK):
                    self._left -= len(chunk)
                    if self._left < 0:
                        limit = f"{MOST_UNPACKED // 10**6} million bytes"
                        raise too_much(f"a file that unpacks to more than {limit}", f"at most {limit}")
                    parser.Parse(chunk, False)
                    fed += len(chunk)
                    if fed - parser.CurrentByteIndex > _LONGEST_TAG:
                        raise too_much(f"a mark of more than {_LONGEST_TAG} bytes in its XML", "shorter ones")
            parser.Parse(b"", True)
        except expat.ExpatError as error:
            raise RefusedError(f"{name} in it is no XML (line {error.lineno})", "a spreadsheet", _MEND) from None
        except _BROKEN:
            raise RefusedError(f"{name} in it is broken or cut off", "a spreadsheet", _MEND) from None


def _parser(start: Start, end: End | None, signs: Signs | None) -> Any:
    """An expat parser that refuses what no spreadsheet needs and keeps count."""
    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.buffer_size = _CHUNK
    depth = elements = 0
    local: dict[str, str] = {}

    def begins(name: str, attributes: dict[str, str]) -> None:
        nonlocal depth, elements
        depth += 1
        elements += 1
        if depth > _DEEPEST or elements > _MOST_ELEMENTS:
            raise too_much("XML nested too deep or of too many elements", f"at most {_MOST_ELEMENTS} elements")
        start(local.get(name) or _bare(name, local), attributes)

    def ends(name: str) -> None:
        nonlocal depth
        depth -= 1
        if end is not None:
            end(local.get(name) or _bare(name, local))

    parser.StartElementHandler = begins
    parser.EndElementHandler = ends
    parser.CharacterDataHandler = signs
    parser.StartDoctypeDeclHandler = _no_declaration
    parser.EntityDeclHandler = _no_declaration
    return parser


def _bare(name: str, known: dict[str, str]) -> str:
    """The name without its prefix. What a hostile file calls its elements is not remembered without end."""
    found = name.rpartition(":")[2]
    if len(known) < 1000:
        known[name] = found
    return found


def _no_declaration(*_: object) -> None:
    raise RefusedError("a document type declaration in its XML", "a spreadsheet, which has none", _MEND)


def beside(base: str, target: str) -> str:
    """The name of a packed file that another one names, relative to itself or from the top."""
    joined = target if target.startswith("/") else posixpath.join(posixpath.dirname(base), target)
    return posixpath.normpath(joined.replace("\\", "/")).lstrip("/")
