"""Opening a file that a person wrote: its size, its encoding, whether it may be read at all."""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from optimiser import files
from optimiser.job_folder.problems import Place

_AS_UTF8 = 'save it again as UTF-8 (a spreadsheet calls it "CSV UTF-8")'


class UnfitError(Exception):
    """The file is no good, and why has been noted; nothing more can be read from it."""


@contextmanager
def noting(place: Place) -> Iterator[None]:
    """Turn what the system says about a file into a problem. Raises ``UnfitError`` once it has been noted."""
    try:
        yield
    except PermissionError:
        place.complain("", found="no permission to read it", expected="permission to read", mend="allow it")
        raise UnfitError from None
    except OSError as error:
        mend = "check the file, or the link that leads to it"
        place.complain("", found=error.strerror or "it cannot be read", expected="something to read", mend=mend)
        raise UnfitError from None


def is_there(path: Path, place: Place) -> bool:
    """Whether a file stands here. Raises ``UnfitError`` for what is there and is no file (pipes would hang us)."""
    with noting(place):
        try:
            path.lstat()
        except FileNotFoundError:
            return False
        path.stat()
        if path.is_file():
            return True
    found = "a folder" if path.is_dir() else "something that is no plain file"
    place.complain("", found=found, expected="a file", mend="move it away, or put a file in its place")
    raise UnfitError


def content(path: Path, place: Place, most_bytes: int) -> bytes:
    """The bytes of the file. Raises ``UnfitError`` where it is larger than ``most_bytes`` or cannot be read."""
    with noting(place):
        data = files.content(path, most_bytes)
    if len(data) > most_bytes:
        mend = "split the job or the sheet, or take out what is not needed"
        limit = f"{most_bytes // 10**6} million bytes"
        place.complain("", found=f"more than {limit}", expected=f"at most {limit}", mend=mend)
        raise UnfitError
    return data


def text(data: bytes, place: Place) -> str:
    """The bytes as text, without a byte-order mark. Raises ``UnfitError`` where they are not UTF-8, saying where."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        place.complain("", found="text saved as UTF-16", expected="UTF-8", mend=_AS_UTF8)
        raise UnfitError
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        found = f"the byte {data[error.start]:#04x}, which is not UTF-8"
        place.at(f"line {line}").complain("", found=found, expected="UTF-8", mend=_AS_UTF8)
        raise UnfitError from None
