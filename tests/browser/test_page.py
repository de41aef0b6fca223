"""The page in Chromium: an evening by taps, narrow and wide, scripts off, dark, by keyboard alone; hostile jobs."""

from __future__ import annotations

import json
import shutil
import threading
import time
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from optimiser import cli
from optimiser.ledger import Store
from optimiser.page.application import application
from optimiser.page.gate import Sessions
from optimiser.page.live import Live
from optimiser.page.serving import LOOPBACK, _AtOnce, _listening, config, hosts
from optimiser.page.uploads import Uploads
from tests.browser.test_papers import CONTRAST
from tests.unit.page.serving_a_job import CLOCK
from tests.unit.page.test_hostile import hostile

pytestmark = pytest.mark.long

EXAMPLES = Path(__file__).parents[2] / "examples"
PLACES = (
    "",
    "plan",
    "write",
    "fault?words=front+brakes+grind",
    "sheets",
    "whatif?fault=charging&pot=900",
    "diary",
    "papers",
    "nowhere",
)
SIZES = ((360, 740), (1280, 800), (320, 640))
WHEN_DRESSED = "if (document.readyState !== 'complete' || document.styleSheets.length < 2) return null; "


@dataclass
class Served:
    """A job that a real server serves in this process."""

    folder: Path
    address: str
    live: Live


def serving(folder: Path, thinking: threading.Event | None = None) -> Iterator[Served]:
    """With ``thinking`` no plan is made before that is set."""
    listening = _listening(LOOPBACK, 0)
    port = listening.getsockname()[1]
    live = Live(folder, CLOCK)
    if thinking is not None:
        plan_again = live._plan_again
        live._plan_again = lambda: thinking.wait(120) and plan_again()
    live.start()
    app = application(live, Sessions(), Uploads(), hosts(LOOPBACK, port), f"page-{port}")
    server = _AtOnce(config(app))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    until = time.monotonic() + 60
    while thinking is None and live.standing().is_old and time.monotonic() < until:
        time.sleep(0.02)
    yield Served(folder, f"http://{LOOPBACK}:{port}/", live)
    server.should_exit = server.force_exit = True
    live.stop()
    thread.join(5)


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    shutil.copytree(EXAMPLES / "look-first", tmp_path / "job", ignore=shutil.ignore_patterns("record*"))
    yield from serving(tmp_path / "job")


@pytest.fixture
def thinking() -> Iterator[threading.Event]:
    """Set once plans may be made; at the end they may, so that nothing waits."""
    allowed = threading.Event()
    yield allowed
    allowed.set()


@pytest.fixture
def held(tmp_path: Path, thinking: threading.Event) -> Iterator[Served]:
    """A job whose plans wait for ``thinking``."""
    shutil.copytree(EXAMPLES / "look-first", tmp_path / "job", ignore=shutil.ignore_patterns("record*"))
    yield from serving(tmp_path / "job", thinking)


@pytest.fixture
def evil(tmp_path: Path) -> Iterator[Served]:
    yield from serving(hostile(tmp_path / "job"))


@pytest.fixture
def browser(chromium: Any) -> Iterator[Any]:
    """The browser as somebody just opened it; what it said before is forgotten."""
    chromium.get("about:blank")
    chromium.get_log("browser")
    chromium.get_log("performance")
    yield chromium
    for command, options in (
        ("Network.emulateNetworkConditions", conditions(0, -1)),
        ("Emulation.setScriptExecutionDisabled", {"value": False}),
        ("Emulation.clearDeviceMetricsOverride", {}),
        ("Emulation.setEmulatedMedia", {"features": []}),
    ):
        chromium.execute_cdp_cmd(command, options)
    chromium.get("about:blank")


def conditions(latency_ms: int, bytes_a_second: int) -> dict[str, Any]:
    """A network as Chromium acts it out; -1 is no limit."""
    speed = {"downloadThroughput": bytes_a_second, "uploadThroughput": bytes_a_second}
    return {"offline": False, "latency": latency_ms, **speed}


def dressed(browser: Any, script: str) -> Any:
    """What a script says once the page wears its style sheets: while it loads itself again it has no widths yet."""
    end = time.monotonic() + 30
    while (said := browser.execute_script(WHEN_DRESSED + script)) is None:
        assert time.monotonic() < end
        time.sleep(0.02)
    return said


def sized(browser: Any, width: int, height: int) -> None:
    metrics = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 500}
    browser.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)


def element(browser: Any, selector: str) -> Any:
    return browser.find_element("css selector", selector)


def tapped(browser: Any, selector: str) -> None:
    """Tap once; a page that is just being loaded again is waited for."""
    from selenium.common.exceptions import NoSuchElementException, StaleElementReferenceException  # noqa: PLC0415

    def done() -> bool:
        try:
            element(browser, selector).click()
        except (NoSuchElementException, StaleElementReferenceException):
            return False
        return True

    until(done)


def says(browser: Any, selector: str, words: str) -> None:
    """Wait until an element says something."""
    script = f"return [...document.querySelectorAll({json.dumps(selector)})].map(e => e.innerText).join(' ')"
    until(lambda: words in browser.execute_script(script))


def requested(browser: Any) -> set[str]:
    """Every address that was asked for since the last look."""
    events = [json.loads(entry["message"])["message"] for entry in browser.get_log("performance")]
    return {e["params"]["request"]["url"] for e in events if e["method"] == "Network.requestWillBeSent"}


def until(true: Any, seconds: float = 30.0) -> None:
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end
        time.sleep(0.05)


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_every_place_fits_and_says_nothing_on_the_console(
    browser: Any, served: Served, width: int, height: int
) -> None:
    sized(browser, width, height)
    for place in PLACES:
        browser.get(f"{served.address}{place}")
        wide, room = dressed(browser, "return [document.documentElement.scrollWidth, innerWidth]")
        assert wide <= room == width, place
        small = browser.execute_script(
            "return [...document.querySelectorAll('button,.button,select,input:not([type=hidden])')]"
            ".filter(e => e.offsetParent && (e.offsetHeight < 24 || e.offsetWidth < 24)).map(e => e.outerHTML)"
        )
        assert small == [], place
    said = [entry for entry in browser.get_log("browser") if "/nowhere" not in entry["message"]]
    assert said == []
    assert {url for url in requested(browser) if not url.startswith((served.address, "about:", "data:"))} == set()


def test_an_evening_by_taps_with_scripts(browser: Any, served: Served) -> None:
    sized(browser, 360, 740)
    browser.get(served.address)
    tapped(browser, ".doing .buttons button")
    says(browser, ".written", "Entry 1")
    until(lambda: "How the plan moved" in browser.page_source and 'data-old="0"' in browser.page_source)
    tapped(browser, ".written button")
    says(browser, ".written", "entry 1 struck out")
    assert [entry.stands for entry in Store(served.folder).entries()] == [False, False]
    assert browser.get_log("browser") == []


def test_what_was_just_sent_is_not_lost_to_the_page_looking_again(browser: Any, served: Served) -> None:
    """The entry is on disk some time before its answer is here: what looks again must not load another page then."""
    browser.get(served.address)
    dressed(browser, "document.addEventListener('submit', e => e.preventDefault()); window.here = true; return true")
    tapped(browser, ".doing .buttons button")
    assert cli.main(["noted", str(served.folder), "grease"]) == 0
    time.sleep(4)  # a look and a half
    assert browser.execute_script("return window.here === true")


def test_an_evening_by_taps_with_scripts_off(browser: Any, served: Served) -> None:
    sized(browser, 360, 740)
    browser.execute_cdp_cmd("Emulation.setScriptExecutionDisabled", {"value": True})
    browser.get(served.address)
    tapped(browser, ".doing .buttons button")
    says(browser, ".written", "Entry 1")
    until(lambda: "How the plan moved" in browser.page_source)
    until(lambda: 'http-equiv="refresh"' not in browser.page_source)  # else it loads itself again under what follows
    browser.get(f"{served.address}write")
    for field, text in zip(browser.find_elements("css selector", "#spent input[name=word]"), ("4.50", "grease")):
        field.send_keys(text)
    tapped(browser, "#spent button")
    says(browser, ".written", "grease")
    browser.get(f"{served.address}fault")
    element(browser, "input[name=words]").send_keys("front brakes grind")
    tapped(browser, "form[role=search] button")
    until(lambda: "words=front" in browser.current_url and "Likely cause" in browser.page_source)
    tapped(browser, "article button")
    says(browser, ".written", "Put into the job")
    browser.get(f"{served.address}whatif?pot=900")
    until(lambda: browser.get(f"{served.address}whatif?pot=900") or "fixes expected" in browser.page_source)
    assert len(Store(served.folder).entries()) == 2


def test_a_sheet_is_dropped_in_and_taken(browser: Any, served: Served, tmp_path: Path) -> None:
    part = next(iter(served.live.now().job.titles_of_parts))
    sized(browser, 320, 640)
    sheet = tmp_path / f"alderfold-{'x' * 60}.csv"
    sheet.write_text(f"part;supplier;condition;price\n{part};alderfold;new;1.234\n", encoding="utf-8")
    browser.get(f"{served.address}sheets")
    element(browser, "input[type=file]").send_keys(str(sheet))
    tapped(browser, ".drop button")
    tapped(browser, """input[value='--decimal ","']""")
    tapped(browser, "#doubts button")
    tapped(browser, "input[value*='as it stands']")  # so dear a part is asked about once
    tapped(browser, "#doubts button")
    tapped(browser, ".accept button")
    says(browser, ".written", "Taken in")
    assert any(quote.price_minor == 123_400 for quote in served.live.now().job.quotes)
    tapped(browser, ".written button")
    says(browser, ".written", "Taken out")
    assert not any(quote.price_minor == 123_400 for quote in served.live.now().job.quotes)
    tapped(browser, ".written button")
    says(browser, ".written", "Taken in")
    assert dressed(browser, "return document.documentElement.scrollWidth") <= 320
    browser.get(f"{served.address}sheets")
    assert dressed(browser, "return document.documentElement.scrollWidth") <= 320
    tapped(browser, "#taken button")
    says(browser, ".written", "Taken out")
    assert browser.get_log("browser") == []


def test_a_step_is_typed_by_the_number_that_the_page_shows(browser: Any, served: Served) -> None:
    sized(browser, 360, 740)
    browser.get(served.address)
    number = next(n for n, step in served.live.now().plans.seen.steps.items() if step.kind == "check")
    assert str(number) in [each.text for each in browser.find_elements("css selector", ".doing .step")]
    browser.get(f"{served.address}write")
    element(browser, "#look input[name=step]").send_keys(str(number))
    element(browser, "#look input[name=words]").send_keys("rise")
    tapped(browser, "#look button")
    says(browser, ".written", "Entry 1")
    assert len(Store(served.folder).entries()) == 1


def test_by_keyboard_alone(browser: Any, served: Served) -> None:
    from selenium.webdriver.common.action_chains import ActionChains  # noqa: PLC0415 - not everywhere
    from selenium.webdriver.common.keys import Keys  # noqa: PLC0415

    browser.get(served.address)
    for _ in range(60):
        ActionChains(browser).send_keys(Keys.TAB).perform()
        tag, outline = browser.execute_script(
            "const e = document.activeElement; return [e.closest('.buttons') ? e.tagName : '', getComputedStyle(e).outlineStyle]"  # noqa: E501
        )
        assert outline != "none"
        if tag == "BUTTON":
            break
    ActionChains(browser).send_keys(Keys.ENTER).perform()
    until(lambda: "written=1" in browser.current_url)
    assert len(Store(served.folder).entries()) == 1


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_place_can_be_read_in_either_light(browser: Any, served: Served, scheme: str) -> None:
    media = {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", media)
    for place in PLACES[:-1]:
        browser.get(f"{served.address}{place}")
        script = CONTRAST.replace('"h1,', '"button,.button,summary,small,legend,h1,')
        assert dressed(browser, script) == [], place


def judged(browser: Any, axe: str) -> Any:
    """What axe finds; a page that loads itself again meanwhile, because a plan has come, is looked at once more."""
    from selenium.common.exceptions import JavascriptException  # noqa: PLC0415

    for _ in range(5):
        with suppress(JavascriptException):
            browser.execute_script(axe)
            return browser.execute_async_script("axe.run().then(arguments[0])")
        time.sleep(1)
    pytest.fail("the page loads itself again and again")


def test_the_rules_of_axe_are_kept(browser: Any, served: Served, axe: str) -> None:
    for place in PLACES:
        browser.get(f"{served.address}{place}")
        browser.execute_cdp_cmd("Page.setBypassCSP", {"enabled": True})
        found = judged(browser, axe)
        assert [(one["id"], [n["html"] for n in one["nodes"]][:2]) for one in found["violations"]] == [], place


def test_a_hostile_job_runs_nothing_and_requests_nothing(browser: Any, evil: Served) -> None:
    for place in ("", "plan", "write", "diary", "whatif?fault=f1", "sheets", "fault?words=%3Cscript%3Ealert(1)%3C/script%3E"):  # noqa: E501 # fmt: skip
        sized(browser, 320, 640)
        browser.get(f"{evil.address}{place}")
        assert dressed(browser, "return document.documentElement.scrollWidth") <= 320
        assert browser.execute_script("return document.querySelectorAll('img,iframe,object,b').length") == 0
    assert browser.get_log("browser") == []
    assert {url for url in requested(browser) if not url.startswith((evil.address, "about:", "data:"))} == set()


def test_on_a_slow_network_it_is_seen_and_tapped_before_the_thinking_ends(
    browser: Any, held: Served, thinking: threading.Event
) -> None:
    """Half a second there and back, 20 kB a second: a shed far off. No plan is made until the test says so."""
    sized(browser, 360, 740)
    browser.execute_cdp_cmd("Network.enable", {})
    browser.execute_cdp_cmd("Network.emulateNetworkConditions", conditions(500, 20_000))
    browser.get(held.address)
    assert "There is no plan to show yet." in browser.page_source
    assert 500 <= painted(browser) < 6000
    assert held.live.shown is None
    thinking.set()
    says(browser, "#next", "What next")
    until(lambda: not held.live.standing().is_old)
    thinking.clear()
    browser.get(held.address)
    began = time.monotonic()
    tapped(browser, ".doing .buttons button")
    says(browser, ".written", "Entry 1")
    assert time.monotonic() - began < 10
    assert [entry.number for entry in Store(held.folder).entries()] == [1]
    says(browser, ".stands", "This plan is old")
    assert painted(browser) < 6000
    thinking.set()
    until(lambda: "How the plan moved" in browser.page_source and 'data-old="0"' in browser.page_source)


def painted(browser: Any) -> float:
    """Milliseconds from the start of loading to the first content on the screen."""
    script = "return performance.getEntriesByName('first-contentful-paint').map(e => e.startTime)[0] ?? null"
    return float(dressed(browser, script))


def test_marks_where_a_choice_would_change_fit_and_keep_the_rules(browser: Any, served: Served, axe: str) -> None:
    browser.get(f"{served.address}whatif?fault=cushions&points=1")
    until(lambda: not any(one.is_open for one in served.live.supposed()))
    for width, height in SIZES:
        sized(browser, width, height)
        browser.get(f"{served.address}whatif?fault=cushions")
        assert dressed(browser, "return document.documentElement.scrollWidth") <= width
        outside = browser.execute_script(
            "return [...document.querySelectorAll('#fault figure text')].filter(e => {"
            "const r = e.getBoundingClientRect(); return r.left < 0 || r.right > innerWidth; }).length"
        )
        assert outside == 0
        assert len(browser.find_elements("css selector", "#fault figure svg[role=img]")) == 2
    browser.execute_cdp_cmd("Page.setBypassCSP", {"enabled": True})
    browser.execute_script(axe)
    found = browser.execute_async_script("axe.run().then(arguments[0])")
    assert [(one["id"], [n["html"] for n in one["nodes"]][:2]) for one in found["violations"]] == []
