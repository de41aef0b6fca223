"""Whether the files of a job folder are those that were read before, told without opening them."""

from __future__ import annotations

import os
from pathlib import Path

from optimiser.job_folder.reader import JOB_FILE, QUOTES_FILE, QUOTES_FOLDER, SUPPLIERS_FILE

Marks = tuple[tuple[str, int, int, int, int], ...]
"""Of each file its name, when its content and its place in the folder changed (ns), its size, and its number."""


def marks(folder: Path) -> Marks:
    """The marks of every file that a job is read from; of a link those of the file that it leads to."""
    names = [folder / name for name in (JOB_FILE, QUOTES_FILE, SUPPLIERS_FILE)]
    quotes = folder / QUOTES_FOLDER
    try:
        names += [quotes, *(Path(entry.path) for entry in os.scandir(quotes))]
    except OSError:
        names.append(quotes)
    return tuple(_mark(name) for name in sorted(names))


def _mark(path: Path) -> tuple[str, int, int, int, int]:
    try:
        at = path.stat()
    except (OSError, ValueError):
        return (path.name, 0, 0, 0, 0)
    return (path.name, at.st_mtime_ns, at.st_ctime_ns, at.st_size, at.st_ino)


def newest_ns(known: Marks) -> int:
    """When the last of them changed."""
    return max((max(mark[1], mark[2]) for mark in known), default=0)
