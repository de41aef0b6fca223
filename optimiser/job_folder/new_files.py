"""Files of the job that are written on a person's word: whole and all of them, or none."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from optimiser import files
from optimiser.errors import CallError
from optimiser.job_folder.reader import JOB_FILE, MOST_JOB_BYTES


def job_bytes(folder: Path) -> bytes:
    """The bytes of ``job.toml``, which was read as a job before."""
    return files.content(folder / JOB_FILE, MOST_JOB_BYTES)


def is_taken(folder: Path) -> bool:
    """Whether a job, or something in its place, is there already."""
    path = folder / JOB_FILE
    try:
        return path.is_symlink() or path.exists()
    except ValueError:
        return False


def put(folder: Path, texts: Mapping[str, bytes]) -> None:
    """Write the files, by name, into the folder, which is made where it is missing. Raises ``CallError``."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with files.put_in_place(*(folder / name for name in texts)) as places:
            for place, text in zip(places, texts.values(), strict=True):
                place.write(text)
    except (OSError, ValueError) as error:
        told = getattr(error, "strerror", None) or "no such name can exist"
        raise CallError(f"{folder} cannot be written: {told}. Nothing was written.", "Name another folder.") from None
