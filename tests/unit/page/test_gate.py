"""Who may ask the page, and for how much."""

from __future__ import annotations

from pathlib import Path

import pytest

from optimiser.page.gate import (
    MOST_BYTES_OF_A_FORM,
    MOST_BYTES_OF_SHEETS,
    MOST_SESSIONS,
    POLICY,
    Codes,
    Sessions,
)
from optimiser.page.live import Live
from tests.unit.page.serving_a_job import ORIGIN, Browser, numbers, served

LOOKS = ["/", "/plan", "/write", "/fault", "/fault?words=brakes", "/sheets", "/whatif", "/diary", "/state", "/look.css",
         "/page.css", "/page.js", "/icon.svg", "/nowhere", "/code"]  # fmt: skip
WRITES = ["/write/noted", "/strike", "/fault", "/sheets", "/sheets/1"]


@pytest.mark.parametrize("path", LOOKS)
def test_every_answer_carries_the_headers(quiet: tuple[Live, Browser], path: str) -> None:
    answer = quiet[1].client.get(path)
    assert answer.headers["content-security-policy"] == POLICY
    assert answer.headers["x-frame-options"] == "DENY"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["cache-control"] == "no-store"
    assert answer.headers["referrer-policy"] == "same-origin"
    assert answer.status_code == (404 if path == "/nowhere" else 200)


def test_nothing_is_allowed_inline_and_nothing_from_elsewhere() -> None:
    assert POLICY.startswith("default-src 'none'")
    assert "unsafe" not in POLICY
    assert "http" not in POLICY


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "127.0.0.1:8611", "evil.example:8610", "", "127.0.0.1:8610.evil.example"])  # noqa: E501 # fmt: skip
def test_another_host_is_not_answered(quiet: tuple[Live, Browser], host: str) -> None:
    answer = quiet[1].client.get("/", headers={"Host": host})
    assert answer.status_code == 421
    assert "Thistle" not in answer.text


@pytest.mark.parametrize("headers", [{"Origin": "http://evil.example"}, {"Origin": "null"}, {"Origin": "http://127.0.0.1:9999"}, {"Origin": f"{ORIGIN}.evil.example"}, {"Origin": "https://127.0.0.1:8610"}, {"Sec-Fetch-Site": "cross-site"}, {"Sec-Fetch-Site": "same-site"}])  # noqa: E501 # fmt: skip
@pytest.mark.parametrize("path", WRITES)
def test_what_another_page_sends_is_not_taken(quiet: tuple[Live, Browser], path: str, headers: dict[str, str]) -> None:
    live, browser = quiet
    assert browser.post(path, headers=headers, word="x").status_code == 403
    assert numbers(live) == []


@pytest.mark.parametrize("path", WRITES)
@pytest.mark.parametrize("token", [None, "", "0" * 64, "ü"])
def test_a_form_without_its_token_is_not_taken(quiet: tuple[Live, Browser], path: str, token: str | None) -> None:
    live, browser = quiet
    browser.get("/")
    answer = browser.send(path, {"known": "0", "word": "x"} | ({} if token is None else {"token": token}))
    assert answer.status_code == 403
    assert "Nothing was written" in answer.text
    assert numbers(live) == []


def test_a_token_is_good_for_its_own_session_alone(folder: Path) -> None:
    live, new = served(folder, start=False)
    one, other = new(), new()
    fields = one.fields(one.get("/write"))
    other.get("/write")
    assert other.send("/write/noted", fields | {"word": "x"}).status_code == 403
    assert one.send("/write/noted", fields | {"word": "x"}).status_code == 303
    assert numbers(live) == [1]


def test_the_cookie_is_for_no_script_and_no_other_site(quiet: tuple[Live, Browser]) -> None:
    cookie = quiet[1].client.get("/").headers["set-cookie"]
    assert cookie.endswith("; Path=/; HttpOnly; SameSite=Strict")
    assert "set-cookie" not in quiet[1].client.get("/").headers


@pytest.mark.parametrize("cookie", ["page-8610=made-up", "page-8610=", "=;;=", "page-8610=" + "x" * 5000])
def test_a_made_up_session_is_none(quiet: tuple[Live, Browser], cookie: str) -> None:
    answer = quiet[1].client.get("/", headers={"Cookie": cookie})
    assert "set-cookie" in answer.headers


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "PATCH", "TRACE"])
def test_other_methods_are_not_answered(quiet: tuple[Live, Browser], method: str) -> None:
    assert quiet[1].client.request(method, "/").status_code == 405


@pytest.mark.parametrize("path", ["/write/noted", "/strike"])
def test_a_look_writes_nothing(quiet: tuple[Live, Browser], path: str) -> None:
    live, browser = quiet
    assert browser.client.get(path, params={"word": "x", "entry": "1", "known": "0"}).status_code in (404, 405)
    assert numbers(live) == []


def test_a_form_that_is_too_large_is_refused_by_its_length(quiet: tuple[Live, Browser]) -> None:
    live, browser = quiet
    answer = browser.post("/write/noted", word="x" * MOST_BYTES_OF_A_FORM)
    assert answer.status_code == 413
    assert numbers(live) == []


@pytest.mark.parametrize("path", ["/write/noted", "/sheets"])
def test_what_comes_without_a_length_is_counted(quiet: tuple[Live, Browser], path: str) -> None:
    browser = quiet[1]
    browser.get("/")
    most = MOST_BYTES_OF_SHEETS if path == "/sheets" else MOST_BYTES_OF_A_FORM
    sent = iter([b"a=" + b"x" * (most // 4)] * 5)
    headers = {"Origin": ORIGIN, "Content-Type": "application/x-www-form-urlencoded"}
    assert browser.client.post(path, content=sent, headers=headers).status_code == 413


@pytest.mark.parametrize("length", ["-1", "x", "9" * 40, "1e3"])
def test_a_length_that_is_none_is_refused(quiet: tuple[Live, Browser], length: str) -> None:
    headers = {"Origin": ORIGIN, "Content-Length": length}
    assert quiet[1].client.post("/write/noted", content=b"a=1", headers=headers).status_code == 413


def test_very_many_fields_are_refused(quiet: tuple[Live, Browser]) -> None:
    live, browser = quiet
    answer = browser.post("/write/noted", **{f"f{n}": "1" for n in range(500)})
    assert answer.status_code in (400, 403)
    assert numbers(live) == []


def test_the_oldest_session_goes_when_there_are_very_many() -> None:
    sessions = Sessions()
    first = sessions.begin()
    second = sessions.begin()
    for _ in range(MOST_SESSIONS - 1):
        assert sessions.holds(second)
        sessions.begin()
    assert sessions.holds(second)
    assert not sessions.holds(first)


class TestCodes:
    """The code that lets a browser in from the network."""

    def made(self) -> tuple[Codes, list[str], list[float]]:
        said: list[str] = []
        now = [1000.0]
        return Codes(said.append, lambda: now[0]), said, now

    def wrong(self, said: list[str]) -> str:
        """A code that is not the one last said."""
        return "".join(str((int(sign) + 1) % 10) for sign in said[-1] if sign != " ")

    def test_it_lets_one_in_and_then_another_is_said(self) -> None:
        codes, said, _ = self.made()
        first = said[-1]
        assert codes.fits(first)
        assert len(said) == 2
        assert not codes.fits(first) or said[0] == said[1]

    def test_after_a_wrong_one_even_the_right_one_waits(self) -> None:
        codes, said, now = self.made()
        assert not codes.fits(self.wrong(said))
        assert codes.wait_seconds() == 1
        assert not codes.fits(said[-1])
        now[0] += 1.01
        assert codes.fits(said[-1])

    def test_each_wrong_one_doubles_the_wait_up_to_an_end(self) -> None:
        codes, said, now = self.made()
        waits = []
        for _ in range(9):
            assert not codes.fits(self.wrong(said))
            waits.append(codes.wait_seconds())
            now[0] += waits[-1] + 0.01
        assert waits == [1, 2, 4, 8, 16, 32, 60, 60, 60]

    def test_five_wrong_ones_make_another_code(self) -> None:
        codes, said, now = self.made()
        for _ in range(5):
            assert len(said) == 1
            codes.fits(self.wrong(said))
            now[0] += 100
        assert len(said) == 2

    def test_nothing_is_shown_without_a_code(self, folder: Path) -> None:
        codes, said, _ = self.made()
        _, new = served(folder, codes, start=False)
        browser = new()
        for path in LOOKS:
            answer = browser.client.get(path, follow_redirects=False)
            assert "Thistle" not in answer.text, path
            assert answer.status_code == (200 if path in ("/code", "/look.css", "/page.css", "/icon.svg") else 303)
            assert "set-cookie" not in answer.headers
        for path in WRITES:
            assert browser.send(path, {"word": "x"}).headers["location"] == "/code"
        assert browser.send("/code", {"code": self.wrong(said)}).status_code == 429
        assert "Thistle" not in browser.get("/")

    def test_the_right_code_opens_the_page(self, folder: Path) -> None:
        codes, said, now = self.made()
        live, new = served(folder, codes, start=False)
        browser = new()
        assert browser.send("/code", {"code": self.wrong(said)}).headers["retry-after"] == "2"
        now[0] += 2
        answer = browser.send("/code", {"code": said[-1]})
        assert answer.status_code == 303
        assert "HttpOnly; SameSite=Strict" in answer.headers["set-cookie"]
        assert "Thistle" in browser.get("/")
        assert browser.post("/write/noted", word="in").status_code == 303
        assert numbers(live) == [1]
        assert said[0] not in answer.headers["location"]

    @pytest.mark.parametrize("said", ["", "1", "abc", "١٢٣٤٥٦٧٨", "1" * 19])
    def test_what_is_no_code_lets_nobody_in(self, folder: Path, said: str) -> None:
        codes, _, _ = self.made()
        _, new = served(folder, codes, start=False)
        assert new().send("/code", {"code": said}).status_code == 429
