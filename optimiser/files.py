"""Files read and written with care: only plain files are read, and what is written is put in place whole or not at all."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from secrets import token_hex
from typing import BinaryIO

_AT_ONCE = getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0)
_LONGEST_NAME = 40


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


def leads_outside(path: Path, folder: Path) -> bool:
    """Whether links lead from a place within the folder to one that is not."""
    return not path.resolve().is_relative_to(folder.resolve())
