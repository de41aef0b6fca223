"""For all tests: nothing is kept in, or taken from, the cache of whoever runs them; modules are compiled once.

Of what is searched in their own process only long routes are kept: a name would not tell what a test changed there.
A hundred tests start the program anew, and each start compiles the whole package where nothing compiled may be kept.
"""

from __future__ import annotations

import os
import sys
import tempfile
from math import inf

import pytest

from tests.shares import in_shares

if "PYTEST_XDIST_WORKER" not in os.environ:  # a worker begins with what is set here
    os.environ["XDG_CACHE_HOME"] = tempfile.mkdtemp(prefix="optimiser-tests-")
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    sys.dont_write_bytecode = False


@pytest.fixture(autouse=True)
def little_is_kept_of_what_is_searched_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("optimiser.planning.choose.WORTH_KEEPING", 0.5)
    monkeypatch.setattr("optimiser.planning.choose.A_MIX_WORTH_KEEPING", inf)


@pytest.hookimpl(trylast=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Tests marked as ``together`` by the same name go to one worker."""
    workers = getattr(config, "workerinput", {"workercount": 1})["workercount"]
    items[:] = in_shares(items, group_of, workers)


def group_of(item: pytest.Item) -> str:
    mark = item.get_closest_marker("together")
    return "" if mark is None else str(mark.args[0])
