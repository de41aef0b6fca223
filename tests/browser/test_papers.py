"""The report, the card and the paper of the sale in Chromium: narrow and wide, light and dark, on A4 and Letter."""

from __future__ import annotations

import base64
import io
import json
from datetime import UTC, datetime
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from optimiser import service
from optimiser.model import events as h
from optimiser.model.report import Report
from optimiser.planning.report import report
from optimiser.show import html, steps
from optimiser.state import Moment
from tests import hostile_job
from tests.planned import TODAY, job_of, plan_of
from tests.tiny_job import VARIANTS, but

pytestmark = pytest.mark.long

WIDTHS = (320, 360, 768, 1280)
PAPER = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}
CONTRAST = """
const lum = c => { const f = c.map(v => { v /= 255; return v <= .03928 ? v / 12.92 : ((v + .055) / 1.055) ** 2.4 });
  return .2126 * f[0] + .7152 * f[1] + .0722 * f[2] };
const rgb = s => s.match(/[\\d.]+/g).map(Number);
const under = e => { for (; e; e = e.parentElement) { const c = rgb(getComputedStyle(e).backgroundColor);
  if (c.length < 4 || c[3] > 0) return c.slice(0, 3) } return [255, 255, 255] };
return [...document.querySelectorAll("h1,h2,h3,h4,p,li,td,th,a,dt,dd,span,label,figcaption,caption")]
  .filter(e => [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim()))
  .map(e => { const a = lum(rgb(getComputedStyle(e).color).slice(0, 3)), b = lum(under(e));
    return [(Math.max(a, b) + .05) / (Math.min(a, b) + .05), e.tagName + "." + e.className] })
  .filter(([ratio]) => ratio < 4.5).map(([ratio, where]) => ratio.toFixed(2) + " " + where)
"""


def told(name: str) -> Report:
    plan = steps.carried_on(plan_of(name), {})
    return report(plan, (), None, 120)


@cache
def papers() -> dict[str, str]:
    """Every kind of paper, by name."""
    made = {"report": html.report(told("eight-evenings")), "looks": html.report(told("look-first"))}
    made["card"] = html.card(told("eight-evenings"))
    now = Moment(job_of("eight-evenings"))
    found = h.CheckMade(
        at=datetime(2026, 11, 24, 20, tzinfo=UTC), source="found", fault="charging", check="behind-fuse",
        result="dead", currency="GBP",
    )  # fmt: skip
    made["sale"] = html.sale(service.sale_paper(now.after([found])), prices=True)
    return made


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    folder = hostile_job.write(tmp_path_factory.mktemp("hostile") / "job")
    now = service.moment(folder, TODAY)
    known = report(steps.carried_on(service.plan(now.job), {}), (), None, 120)
    return {"report": html.report(known), "card": html.card(known), "sale": html.sale(service.sale_paper(now))}


def open_page(chromium: Any, text: str, tmp_path: Path, width: int = 1280, *, unfolded: bool = True) -> None:
    file = tmp_path / "paper.html"
    file.write_text(text, encoding="utf-8")
    sized(chromium, width)
    lit(chromium, dark=False)
    for kind in ("browser", "performance"):
        chromium.get_log(kind)
    chromium.get(file.as_uri())
    if unfolded:
        chromium.execute_script("document.querySelectorAll('.fold').forEach(box => { box.checked = true })")


def sized(chromium: Any, width: int) -> None:
    height = 740 if width < 500 else 800
    size = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 500}
    chromium.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)


def lit(chromium: Any, *, dark: bool) -> None:
    scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
    chromium.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [scheme]})


def requests(chromium: Any) -> list[str]:
    """What our page asked of anybody since it was opened; what the browser's own first page asks is not ours."""
    said = [json.loads(entry["message"])["message"] for entry in chromium.get_log("performance")]
    sent = [one["params"] for one in said if one["method"] == "Network.requestWillBeSent"]
    return [one["request"]["url"] for one in sent if one["documentURL"] == chromium.current_url]


def overflow(chromium: Any) -> int:
    script = "return document.documentElement.scrollWidth - document.documentElement.clientWidth"
    return int(chromium.execute_script(script))


def printed(chromium: Any, paper: str) -> list[str]:
    """The text of each page as it prints."""
    pypdf = pytest.importorskip("pypdf", reason="pypdf is not installed: printed pages cannot be read")
    from selenium.common.exceptions import WebDriverException  # noqa: PLC0415 - not everywhere

    wide, high = PAPER[paper]
    call = ("Page.printToPDF", {"paperWidth": wide, "paperHeight": high, "printBackground": True})
    try:
        answer = chromium.execute_cdp_cmd(*call)
    except WebDriverException:  # on a busy machine Chromium now and then does not print at all
        answer = chromium.execute_cdp_cmd(*call)
    pages = pypdf.PdfReader(io.BytesIO(base64.b64decode(answer["data"]))).pages
    return [" ".join(page.extract_text().split()) for page in pages]


@pytest.mark.parametrize("name", ["report", "looks", "card", "sale"])
def test_it_fits_each_width_and_asks_nobody_for_anything(name: str, chromium: Any, tmp_path: Path) -> None:
    open_page(chromium, papers()[name], tmp_path, WIDTHS[0])
    over = {}
    for width in WIDTHS:
        sized(chromium, width)
        over[width] = (chromium.execute_script("return innerWidth"), overflow(chromium) > 0)
    assert over == {width: (width, False) for width in WIDTHS}
    assert [entry["message"] for entry in chromium.get_log("browser")] == []
    assert requests(chromium) == [(tmp_path / "paper.html").as_uri()]


@pytest.mark.parametrize("name", ["report", "looks", "card", "sale"])
def test_at_twice_the_text_size_nothing_runs_out(name: str, chromium: Any, tmp_path: Path) -> None:
    open_page(chromium, papers()[name], tmp_path, 640)
    chromium.execute_script("document.documentElement.style.fontSize = '200%'")
    assert overflow(chromium) <= 0


@pytest.mark.parametrize("name", ["report", "looks", "card", "sale"])
def test_all_words_stand_out_from_their_ground(name: str, chromium: Any, tmp_path: Path) -> None:
    """WCAG 2.2, success criterion 1.4.3, by its own formula."""
    open_page(chromium, papers()[name], tmp_path)
    for dark in (False, True):
        lit(chromium, dark=dark)
        assert chromium.execute_script(CONTRAST) == [], f"dark: {dark}"
        ground = chromium.execute_script("return getComputedStyle(document.body).backgroundColor")
        assert (max(int(n) for n in ground[4:-1].split(",")) < 100) == dark


@pytest.mark.parametrize("name", ["report", "looks", "card", "sale"])
def test_axe_finds_nothing(name: str, chromium: Any, axe: str, tmp_path: Path) -> None:
    """The page lets no script in, so the rules run past its policy."""
    chromium.execute_cdp_cmd("Page.setBypassCSP", {"enabled": True})
    open_page(chromium, papers()[name], tmp_path, 320)
    chromium.execute_script(axe)
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    found = {}
    for width in (320, 1280):
        sized(chromium, width)
        found[width] = chromium.execute_async_script(
            "const done = arguments[arguments.length - 1];"
            "axe.run(document, {runOnly: arguments[0]}).then(r => done(r.violations.map(v => v.id + ' ' +"
            " v.nodes.slice(0, 3).map(n => n.html))))",
            tags,
        )
    chromium.execute_cdp_cmd("Page.setBypassCSP", {"enabled": False})
    assert found == {320: [], 1280: []}


def test_what_can_be_touched_is_large_enough(chromium: Any, tmp_path: Path) -> None:
    """WCAG 2.2, success criterion 2.5.8: 24 px, links within a sentence apart."""
    for unfolded in (False, True):
        open_page(chromium, papers()["report"], tmp_path, 360, unfolded=unfolded)
        small = chromium.execute_script(
            "return [...document.querySelectorAll('input, nav a')]"
            ".filter(e => e.checkVisibility()).map(e => e.getBoundingClientRect())"
            ".filter(r => r.height < 24 || r.width < 24).length"
        )
        assert small == 0


def test_a_fault_is_folded_until_somebody_asks_for_it(chromium: Any, tmp_path: Path) -> None:
    """By its own line, by a link to it or to a caution in it, by the keyboard, or all at once; no script is let in."""
    from selenium.webdriver import Keys  # noqa: PLC0415 - not everywhere

    def seen() -> list[int]:
        script = "return [...document.querySelectorAll('.folded')].map((e, n) => e.checkVisibility() ? n : -1)"
        return [number for number in chromium.execute_script(script) if number >= 0]

    open_page(chromium, papers()["report"], tmp_path, 360, unfolded=False)
    assert seen() == []
    chromium.find_element("css selector", "#fault-2 > .fold").click()
    assert seen() == [1]
    chromium.find_element("css selector", "#fault-3 > .fold").send_keys(Keys.SPACE)
    assert seen() == [1, 2]
    chromium.execute_script("location.hash = 'fault-1'")
    assert seen() == [0, 1, 2]
    caution = chromium.find_element("css selector", ".folded dt[id]")
    sheets = chromium.find_elements("css selector", "article.sheet")
    place = next(n for n, sheet in enumerate(sheets) if sheet.find_elements("id", caution.get_attribute("id")))
    chromium.execute_script("location.hash = arguments[0]", caution.get_attribute("id"))
    assert seen() == sorted({1, 2, place})
    chromium.find_element("css selector", "#every-fault").click()
    assert seen() == list(range(len(sheets)))


def test_what_is_folded_is_printed_all_the_same(chromium: Any, tmp_path: Path) -> None:
    open_page(chromium, papers()["report"], tmp_path, unfolded=False)
    pages = squeezed(" ".join(printed(chromium, "A4")))
    inside = chromium.execute_script("return [...document.querySelectorAll('.folded > p')].map(e => e.textContent)")
    assert inside
    assert all(squeezed(text) in pages for text in inside)


def test_with_the_keyboard_alone_the_first_stop_leads_to_what_is_next(chromium: Any, tmp_path: Path) -> None:
    from selenium.webdriver import ActionChains, Keys  # noqa: PLC0415 - not everywhere

    open_page(chromium, papers()["report"], tmp_path)
    ActionChains(chromium).send_keys(Keys.TAB).perform()
    assert chromium.execute_script("return document.activeElement.getAttribute('href')") == "#next"
    ActionChains(chromium).send_keys(Keys.TAB).perform()
    shown = chromium.execute_script("return getComputedStyle(document.activeElement).outlineStyle")
    assert shown == "solid"


@pytest.mark.parametrize("paper", PAPER)
@pytest.mark.parametrize("name", ["report", "looks"])
def test_on_paper_no_order_and_no_odds_are_cut_in_two(name: str, paper: str, chromium: Any, tmp_path: Path) -> None:
    text = papers()[name]
    open_page(chromium, text, tmp_path)
    tables = chromium.execute_script(
        "return [...document.querySelectorAll('table.short')].map(t => [...t.rows].map(r => r.innerText.trim()))"
    )
    pages = printed(chromium, paper)
    assert 1 < len(pages) < 20
    assert tables
    for table in tables:
        rows = [" ".join(row.split()) for row in table]
        assert any(all(squeezed(row) in squeezed(page) for row in rows) for page in pages), rows


def squeezed(text: str) -> str:
    """Text without its blanks: where cells meet, a page's text has none."""
    return "".join(text.split())


@pytest.mark.parametrize("paper", PAPER)
def test_a_fault_takes_about_a_page_of_paper_and_no_more(paper: str, chromium: Any, tmp_path: Path) -> None:
    known = told("eight-evenings")
    open_page(chromium, html.report(known), tmp_path)
    assert len(printed(chromium, paper)) < 2 + len(known.plan.choices)


@pytest.mark.parametrize("paper", PAPER)
def test_a_card_is_one_page(paper: str, chromium: Any, tmp_path: Path) -> None:
    for name in ("eight-evenings", "look-first", "try-it", "shortest"):
        open_page(chromium, html.card(told(name)), tmp_path)
        (page,) = printed(chromium, paper)
        assert "DANGEROUS" not in page or "MUST NOT BE USED" in page


@pytest.mark.parametrize("paper", PAPER)
def test_the_fullest_card_is_one_page(paper: str, hostile: dict[str, str], chromium: Any, tmp_path: Path) -> None:
    lamp = VARIANTS["base"].faults[1]
    systems = ("brakes", "fuel", "wiring", "heating", "hydraulics", "cooling", "gearbox", "tyres-and-wheels")
    wide = "W" * 300
    many = tuple(
        but(lamp, id=f"lamp-{n}", title=wide, systems=(systems[n % len(systems)],),
            repairs=(but(lamp.repairs[0], title=wide),))
        for n in range(40)
    )  # fmt: skip
    job = but(VARIANTS["base"], faults=many, pot=but(VARIANTS["base"].pot, cap_minor=100_000))
    plan = steps.carried_on(service.plan(job), {})
    for text in (html.card(report(plan, (), None, None)), hostile["card"]):
        open_page(chromium, text, tmp_path)
        assert len(printed(chromium, paper)) == 1


@pytest.mark.parametrize("name", ["report", "card", "sale"])
def test_a_hostile_job_runs_nothing_and_asks_for_nothing(
    name: str, hostile: dict[str, str], chromium: Any, tmp_path: Path
) -> None:
    open_page(chromium, hostile[name], tmp_path, 320)
    assert chromium.execute_script("return window.pwned === undefined")
    assert requests(chromium) == [(tmp_path / "paper.html").as_uri()]
    assert [entry["message"] for entry in chromium.get_log("browser")] == []
    assert overflow(chromium) <= 0
    for element in chromium.find_elements("css selector", "h1, h3")[:20]:
        chromium.execute_script("arguments[0].dispatchEvent(new MouseEvent('mouseover', {bubbles: true}))", element)
    assert chromium.execute_script("return window.pwned === undefined")
