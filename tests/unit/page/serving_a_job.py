"""A job folder behind the page's gate, asked as a browser asks: for the tests of the page."""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import httpx2
from starlette.testclient import TestClient

from optimiser.page.application import application
from optimiser.page.gate import Codes, Sessions
from optimiser.page.live import Live, PageClock, Shown
from optimiser.page.uploads import Uploads

HOST = "127.0.0.1:8610"
ORIGIN = f"http://{HOST}"
TODAY = date(2026, 11, 29)
CLOCK = PageClock(lambda: TODAY, lambda: datetime.now(UTC))


@dataclass
class Browser:
    """A browser with a session of its own."""

    client: TestClient
    live: Live

    def get(self, path: str, status: int = 200) -> str:
        """The text of a page."""
        answer = self.client.get(path)
        assert answer.status_code == status, answer.text
        return answer.text

    def fields(self, page: str) -> dict[str, str]:
        """What the first form of a page carries."""
        found = {name: re.search(rf'name="{name}" value="([^"]*)"', page) for name in ("token", "known")}
        return {name: match[1] for name, match in found.items() if match}

    def post(self, path: str, page: str = "/write", headers: Any = None, **fields: Any) -> httpx2.Response:
        """Send a form as a page that was just opened does, without following."""
        carried = self.fields(self.get(page))
        return self.send(path, carried | fields, headers)

    def send(self, path: str, fields: dict[str, Any], headers: Any = None) -> httpx2.Response:
        """Send a form with exactly these fields."""
        return self.client.post(path, data=fields, headers={"Origin": ORIGIN} | (headers or {}), follow_redirects=False)

    def planned(self, seconds: float = 60.0) -> None:
        """Wait until the plan that is shown knows all."""
        until = time.monotonic() + seconds
        shown = self.live.shown
        while self.live.standing().is_old:
            assert time.monotonic() < until, self.live.standing().wrong
            self._wait_for_another(shown)
            shown = self.live.shown

    def rested(self, seconds: float = 60.0) -> Shown:
        """Wait until what other pots would bring stands beside the plan that is shown."""
        until = time.monotonic() + seconds
        while (shown := self.live.standing().shown) is None or shown.report.stretch is None:
            assert time.monotonic() < until
            self._wait_for_another(shown)
        return shown

    def _wait_for_another(self, shown: Shown | None, seconds: float = 1.0) -> None:
        """Until another plan is shown, for some time; nothing is read meanwhile, so that the thread can think."""
        until = time.monotonic() + seconds
        while self.live.shown is shown and time.monotonic() < until:
            time.sleep(0.01)


def served(
    folder: Path, codes: Codes | None = None, *, start: bool = True, clock: PageClock = CLOCK
) -> tuple[Live, Callable[[], Browser]]:
    """A job behind its gate, and what makes a new browser that asks it."""
    live = Live(folder, clock)
    app = application(live, Sessions(codes), Uploads(), [HOST], "page-8610")
    if start:
        live.start()
    return live, lambda: Browser(TestClient(app, base_url=ORIGIN, raise_server_exceptions=False), live)


def numbers(live: Live) -> Sequence[int]:
    """The numbers of the record's entries."""
    return [entry.number for entry in live.now().record]
