"""A job folder from texts, read at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path

import pytest

from optimiser import job_folder
from optimiser.errors import InputError, Problem
from optimiser.model.job import Job

TODAY = date(2026, 11, 24)
Files = Mapping[str, str | bytes]


def lay(folder: Path, files: Files) -> Path:
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return folder


@pytest.fixture
def good(tmp_path: Path) -> Callable[..., Job]:
    """Read a folder of these files; a problem fails the test."""

    def run(job_toml: str | bytes, files: Files | None = None) -> Job:
        return job_folder.job(lay(tmp_path, {"job.toml": job_toml, **(files or {})}), TODAY)

    return run


@pytest.fixture
def bad(tmp_path: Path) -> Callable[..., tuple[Problem, ...]]:
    """Read a folder of these files; its problems, none left out."""

    def run(job_toml: str | bytes, files: Files | None = None) -> tuple[Problem, ...]:
        with pytest.raises(InputError) as caught:
            job_folder.job(lay(tmp_path, {"job.toml": job_toml, **(files or {})}), TODAY)
        assert caught.value.left_out == 0
        return caught.value.problems

    return run
