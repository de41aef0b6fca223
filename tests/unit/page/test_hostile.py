"""A hostile job: scripts, entities, right-to-left marks, very long names; and a supplier's sheet full of them."""

from __future__ import annotations

import json
from html.parser import HTMLParser
from pathlib import Path

import pytest

from optimiser.page.live import Live
from tests.unit.page.serving_a_job import Browser, served
from tests.unit.page.test_uploads import drop

EVIL = """<script>alert(1)</script><img src=x onerror=alert(2)>"'&lt;b&gt;{{ 7*7 }}</title></textarea><!--"""
TURNED = "\u202eexe.tnemyap\u202d\u2066\u200f"
LONG = "long " * 2000
PAGES = ["/", "/plan", "/write", "/fault?words=%3Cscript%3Ealert(3)%3C/script%3E", "/sheets", "/whatif",
         "/whatif?fault=f1&pot=%22%3E%3Cscript%3E", "/diary", "/?added=%3Cscript%3E&taken=%3Cimg src=x%3E&written=1",
         "/?out=%3Cscript%3E&stay=%3Cimg src=x%3E", "/nowhere%3Cscript%3E"]  # fmt: skip
ALLOWED_ADDRESSES = {"/look.css", "/page.css", "/page.js", "/icon.svg"}


class Markup(HTMLParser):
    """What a browser would run or fetch."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.scripts = self.text = ""
        self._in_script = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._in_script = tag == "script"

    def handle_endtag(self, tag: str) -> None:
        self._in_script = self._in_script and tag != "script"

    def handle_data(self, data: str) -> None:
        self.scripts += data if self._in_script else ""
        self.text += data


def harmless(page: str) -> None:
    """Runs nothing of a job's, requests nothing from elsewhere, turns no text round."""
    markup = Markup()
    markup.feed(page)
    assert markup.scripts.strip() == ""
    for tag, attributes in markup.tags:
        assert tag not in ("iframe", "object", "embed", "base", "img", "b", "textarea")
        assert not [name for name in attributes if name.startswith("on") or name == "style"]
        for name in ("src", "href", "action", "formaction"):
            address = attributes.get(name)
            if address and tag in ("script", "link"):
                assert address in ALLOWED_ADDRESSES
            elif address:
                assert address.startswith(("/", "#")), address
                assert not address.startswith("//")
    assert not {"\u202e", "\u2066", "\u200f"} & set(markup.text)


def hostile(folder: Path) -> Path:
    title = json.dumps(EVIL)
    folder.mkdir()
    (folder / "job.toml").write_text(
        f"""[job]
title = {title}
currency = "GBP"
[money]
cap = "500"
[[fault]]
id = "f1"
title = {json.dumps(EVIL + " one")}
severity = "dangerous"
[fault.causes]
worn = 3
loose = 1
[[fault.check]]
id = "c1"
title = {json.dumps(EVIL + " look")}
minutes = 5
[fault.check.results.rise]
worn = 0.9
loose = 0.1
[[fault.repair]]
id = "r1"
title = {json.dumps(EVIL + " mend")}
cures = {{ worn = 0.9, loose = 0.2 }}
parts = {{ p1 = 1 }}
[[fault.repair]]
id = "r2"
title = {json.dumps(LONG.strip()[:9000])}
chance = 0.5
price = "10"
[[part]]
id = "p1"
title = {json.dumps(EVIL + " part")}
""",
        encoding="utf-8",
    )
    (folder / "quotes.csv").write_text(
        'part,supplier,condition,price,ref,note\np1,s1,new,20.00,"<script>alert(4)</script>","<img src=x>"\n',
        encoding="utf-8",
    )
    (folder / "suppliers.csv").write_text('supplier,title\ns1,"<script>alert(5)</script>"\n', encoding="utf-8")
    return folder


@pytest.fixture
def evil(tmp_path: Path) -> tuple[Live, Browser]:
    live, new = served(hostile(tmp_path / "job"))
    browser = new()
    browser.planned()
    return live, browser


def test_no_page_of_a_hostile_job_runs_or_requests_anything(evil: tuple[Live, Browser]) -> None:
    live, browser = evil
    assert browser.post("/write/noted", word=EVIL + TURNED).status_code == 303
    assert browser.post("/write/spent", word=["1", EVIL]).status_code == 303
    browser.planned()
    for path in PAGES:
        answer = browser.client.get(path)
        assert answer.headers["content-security-policy"].startswith("default-src 'none'")
        harmless(answer.text)
    live.stop()


def test_what_a_form_says_comes_back_harmless(evil: tuple[Live, Browser]) -> None:
    live, browser = evil
    old = browser.fields(browser.get("/write"))
    browser.post("/write/noted", word="one")
    for path, fields in [
        ("/write/noted", old | {"word": EVIL + TURNED}),
        ("/write/found", {"word": [EVIL, EVIL]}),
        ("/write/bought", {"word": EVIL, "from": EVIL}),
        ("/write/fitted", {"step": EVIL + TURNED, "plan": "1", "word": "cured"}),
        ("/sheets/out", {"sheet": EVIL + TURNED}),
        ("/sheets/out", {"sheet": f"quotes/{TURNED}\0.csv", "what": "back"}),
        ("/fault", {"pattern": EVIL}),
        ("/write/noted", {"word": "one", "answer": EVIL, "fault": EVIL}),
    ]:
        answer = browser.send(path, fields) if "token" in fields else browser.post(path, **fields)
        assert answer.status_code in (200, 303, 409, 422)
        harmless(answer.text)
    live.stop()


def test_a_hostile_sheet_runs_nothing(evil: tuple[Live, Browser]) -> None:
    live, browser = evil
    rows = [f'"{EVIL.replace(chr(34), chr(34) * 2)}",new,12.00', f"{TURNED},new,13", f"{'y' * 10_000},new,14", "p1,new,15", "=cmd|'/c calc'!A1,new,16"]  # noqa: E501 # fmt: skip
    sheet = "part,condition,price\n" + "\n".join(rows) + "\n"
    status, path = drop(browser, (f"{EVIL}.csv", sheet.encode()))
    assert status == 303
    page = browser.get(path)
    harmless(page)
    assert len(page) < 200_000
    live.stop()


def test_what_a_folder_that_came_by_mail_says_of_sheets_runs_nothing(evil: tuple[Live, Browser]) -> None:
    live, browser = evil
    kept = live.folder / "quotes" / "before"
    kept.mkdir(parents=True)
    sheets, suppliers = [f"quotes/{EVIL.replace('/', '')}.csv"], [EVIL + TURNED, LONG]
    head = json.dumps({"kept": 1, "sheets": sheets, "suppliers": suppliers, "files": sheets, "upon": [1, 2], "out": 0})
    for number, rest in enumerate(("", "{}", '{"files": {"../job.toml": {"before": "", "after": ""}}}'), start=1):
        (kept / f"{number}.json").write_text(f"{head}\n{rest}\n", encoding="utf-8")
    page = browser.get("/sheets")
    assert "from &lt;script" in page
    harmless(page)
    answer = browser.post("/sheets/out", sheet=sheets[0])
    assert answer.status_code == 422
    assert "quotes/before/3.json" in answer.text
    harmless(answer.text)
    live.stop()


def test_very_long_names_do_not_fill_a_page(evil: tuple[Live, Browser]) -> None:
    live, browser = evil
    assert len(browser.get("/")) < 60_000
    live.stop()
