from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from optimiser.page.live import Live
from tests.unit.page.serving_a_job import Browser, served

EXAMPLES = Path(__file__).parents[3] / "examples"


@pytest.fixture(autouse=True)
def searched_once(kept_for_all: None) -> None:
    """The same few jobs are planned for every test."""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the shortest example."""
    return Path(shutil.copytree(EXAMPLES / "shortest", tmp_path / "job", ignore=shutil.ignore_patterns("record*")))


@pytest.fixture
def looking(tmp_path: Path) -> Path:
    """A copy of the example with a check and quotes."""
    return Path(shutil.copytree(EXAMPLES / "look-first", tmp_path / "job", ignore=shutil.ignore_patterns("record*")))


@pytest.fixture
def quiet(folder: Path) -> tuple[Live, Browser]:
    """The shortest example behind its gate, where nothing is planned."""
    live, new = served(folder, start=False)
    return live, new()


@pytest.fixture
def planning(looking: Path) -> Iterator[tuple[Live, Callable[[], Browser]]]:
    """The example with a check behind its gate, planned once."""
    live, new = served(looking)
    new().planned()
    yield live, new
    live.stop()
