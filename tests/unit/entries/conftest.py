from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.unit.entries import shed


@pytest.fixture(scope="session")
def planned_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The job with its plan kept; nobody is to write into it."""
    folder = shed.write(tmp_path_factory.mktemp("recording") / "burdock")
    shed.plan(folder)
    return folder


@pytest.fixture
def folder(planned_once: Path, tmp_path: Path) -> Path:
    """A copy of the job with its plan kept."""
    return Path(shutil.copytree(planned_once, tmp_path / "burdock"))
