"""A real browser, started once a run with an empty profile; where there is none, a skip that says so."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-software-rasterizer", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
)  # fmt: skip
BROWSER, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """One browser for all of them: they go to one worker."""
    for item in items:
        if item.path.parent == Path(__file__).parent:
            item.add_marker(pytest.mark.together("browser"))


@pytest.fixture(scope="session")
def chromium(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """The browser's driver."""
    webdriver = pytest.importorskip("selenium.webdriver", reason="selenium is not installed: no browser can be driven")
    if BROWSER is None or DRIVER is None:
        pytest.skip("no Chromium with its driver on this machine: apt-get install chromium chromium-driver")
    from selenium.webdriver.chrome.service import Service  # noqa: PLC0415 - not everywhere

    options = webdriver.ChromeOptions()
    options.binary_location = BROWSER
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    for flag in (*FLAGS, f"--user-data-dir={tmp_path_factory.mktemp('profile')}"):
        options.add_argument(flag)
    driver = webdriver.Chrome(options=options, service=Service(DRIVER))
    yield driver
    driver.quit()


@pytest.fixture(scope="session")
def axe() -> str:
    """The rules of axe-core as a script; ``.ci/run`` fetches it from npm and names it."""
    file = os.environ.get("AXE_CORE", "")
    if not file or not Path(file).is_file():
        pytest.skip("AXE_CORE names no axe.min.js: npm install axe-core somewhere outside the clone, and name it")
    return Path(file).read_text(encoding="utf-8")
