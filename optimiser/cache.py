"""What took long to reckon, kept in the user's cache folder by content: bounded, safe to delete, never missed.

A file holds a digest of its name and its bytes before them; what does not fit that is as if it were not there.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from contextlib import suppress
from functools import cache
from pathlib import Path

from optimiser import files

MOST_BYTES = 200_000_000
"""Of the whole folder; past that the files go that have not been used for longest."""
MOST_OF_ONE = 40_000_000
SHRUNK_TO = 0.8
"""Of the bound, so that not every file that is put in has another taken out."""
DIGEST = hashlib.sha256().digest_size


class Cache:
    """Bytes by name in one folder. Nothing that goes wrong with it is an error: it is slower then."""

    def __init__(self, folder: Path, most_bytes: int = MOST_BYTES) -> None:
        self.folder, self.most_bytes = folder, most_bytes
        self._room = 0
        """What may be put in before the folder, in which there may be thousands of files, is looked through again."""

    @classmethod
    def of_user(cls, name: str) -> Cache:
        """The user's own, for one kind of content."""
        import platformdirs  # noqa: PLC0415 - only what plans asks for it

        return cls(platformdirs.user_cache_path("optimiser") / name)

    def get(self, name: str) -> bytes | None:
        """What was put in under a name; None where it is not there, or not whole."""
        path = self._path(name)
        try:
            data = files.content(path, MOST_OF_ONE + DIGEST)
            os.utime(path)
        except OSError:
            return None
        body = data[DIGEST:]
        return body if data[:DIGEST] == _digest(name, body) else None

    def put(self, name: str, body: bytes) -> None:
        """Keep some bytes, if there is room for so many; what was used longest ago makes way."""
        if len(body) > min(MOST_OF_ONE, self.most_bytes):
            return
        with suppress(OSError):
            self.folder.mkdir(parents=True, exist_ok=True)
            with files.put_in_place(self._path(name)) as (file,):
                file.write(_digest(name, body) + body)
            self._room -= DIGEST + len(body)
            if self._room < 0:
                self._make_way()

    def _path(self, name: str) -> Path:
        return self.folder / name

    def _make_way(self) -> None:
        """Stay within the bound."""
        with os.scandir(self.folder) as entries:
            there = [(Path(entry), entry.stat()) for entry in entries if entry.is_file()]
        size = sum(known.st_size for _, known in there)
        if size > self.most_bytes:
            for path, known in sorted(there, key=lambda pair: pair[1].st_mtime):
                path.unlink(missing_ok=True)
                size -= known.st_size
                if size <= SHRUNK_TO * self.most_bytes:
                    break
        self._room = self.most_bytes - size


def name_of(parts: Iterable[bytes]) -> str:
    """The name of content that hangs on these bytes."""
    whole = hashlib.sha256()
    for part in parts:
        whole.update(len(part).to_bytes(8, "big") + part)
    return whole.hexdigest()


@cache
def version() -> bytes:
    """A digest of the program's own sources: what another version reckoned is not taken."""
    whole = hashlib.sha256()
    for path in sorted(Path(__file__).parent.rglob("*.py")):
        whole.update(path.read_bytes())
    return whole.digest()


def _digest(name: str, body: bytes) -> bytes:
    return hashlib.sha256(name.encode() + body).digest()
