"""Files read and written with care: only plain ones are read, and one is put in place whole or not at all."""

from __future__ import annotations

import errno
import os
import stat
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from secrets import token_hex
from typing import BinaryIO

_AT_ONCE = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0)
_LONGEST_NAME = 40
_BETWEEN_TRIES = 0.02


def content(path: Path, most_bytes: int) -> bytes:
    """The bytes of a plain file, no more than one beyond ``most_bytes``.

    Raises ``OSError``, for devices, pipes and files of the system that would let us wait too.
    """
    descriptor = os.open(path, os.O_RDONLY | _AT_ONCE)
    with os.fdopen(descriptor, "rb") as file:
        if not stat.S_ISREG(os.fstat(descriptor).st_mode):
            raise OSError(errno.EINVAL, "it is no plain file")
        data: bytes | None = file.read(most_bytes + 1)
    if data is None:
        raise OSError(errno.EAGAIN, "it has nothing to read")
    return data


@contextmanager
def put_in_place(*paths: Path) -> Iterator[list[BinaryIO]]:
    """New files to fill, one for each path: put there once all are on the disk, taken away where anything fails.

    Each lies beside its place under a name that nobody could have foreseen; a file that was there leaves it its mode.
    """
    with ExitStack() as undo:
        names, files = [], list[BinaryIO]()
        for path in paths:
            name = path.with_name(f".{path.name[:_LONGEST_NAME]}.{token_hex(8)}.unfinished")
            undo.callback(name.unlink, missing_ok=True)
            files.append(undo.enter_context(name.open("xb")))
            names.append(name)
            with suppress(FileNotFoundError):
                name.chmod(stat.S_IMODE(path.stat().st_mode))
        yield files
        for file in files:
            file.flush()
            os.fsync(file.fileno())
            file.close()
        for name, path in zip(names, paths, strict=True):
            name.replace(path)


def name_of(path: Path) -> str:
    """The file's name as text that may be written: what of it is no UTF-8 is marked."""
    return os.fsencode(path.name).decode(errors="replace")


class HeldError(Exception):
    """Another program held the folder for longer than the stated wait."""


@contextmanager
def held(folder: Path, wait_seconds: float) -> Iterator[None]:
    """Hold a folder against other programs that hold it too; nothing is left in it. Raises ``HeldError``."""
    if sys.platform == "win32":  # which cannot lock a folder
        yield
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        until = time.monotonic() + wait_seconds
        while not _taken(descriptor):
            if time.monotonic() > until:
                raise HeldError
            time.sleep(_BETWEEN_TRIES)
        yield
    finally:
        os.close(descriptor)


def _taken(descriptor: int) -> bool:
    import fcntl  # noqa: PLC0415 - not everywhere

    try:
        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    return True


def leads_outside(path: Path, folder: Path) -> bool:
    """Whether links lead from a place within the folder to one that is not."""
    return not path.resolve().is_relative_to(folder.resolve())
