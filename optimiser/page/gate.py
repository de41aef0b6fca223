"""Who may ask, and for how much: host, origin, session, code, size; and the headers of every answer.

Everything that comes in passes here first. The page serves one person on one machine, or with a code those whom they
let in on their own network; it trusts no other page that is open in the same browser, and no job that it shows.
"""

from __future__ import annotations

import hmac
import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Iterable
from hashlib import sha256
from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BYTES_OF_A_FORM = 200_000
MOST_BYTES_OF_SHEETS = 20_000_000
"""What is taken from a browser at once: a form, and suppliers' sheets (a tenth as much is a large one)."""
MOST_SESSIONS = 200
CODE_DIGITS = 8
TRIES_OF_A_CODE = 5
LONGEST_WAIT_SECONDS = 60.0
POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self';"
    " base-uri 'none'; frame-ancestors 'none'"
)
"""What a page may do (Content Security Policy, level 3): use what this server itself serves, and nothing inline."""
HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Frame-Options": "DENY",
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
}
OPEN_TO_ALL = {"/code", "/look.css", "/page.css", "/icon.svg"}
"""What may be had without a session, for the code to be typed."""


class Codes:
    """The code that lets a browser in, once; after it the next is said. Wrong ones make everybody wait.

    ``say`` is told each new code, for the screen of the machine that serves; ``clock`` gives seconds.
    """

    def __init__(self, say: Callable[[str], None], clock: Callable[[], float] = time.monotonic) -> None:
        self._say, self._clock = say, clock
        self._lock = threading.Lock()
        self._wrong, self._until = 0, 0.0
        self._code = ""
        self._new()

    def _new(self) -> None:
        self._code = "".join(secrets.choice("0123456789") for _ in range(CODE_DIGITS))
        half = CODE_DIGITS // 2
        self._say(f"{self._code[:half]} {self._code[half:]}")

    def wait_seconds(self) -> float:
        """How long no code is looked at."""
        return max(0.0, self._until - self._clock())

    def fits(self, said: str) -> bool:
        """Whether the code is right. While one must wait none is looked at."""
        with self._lock:
            if self.wait_seconds() > 0:
                return False
            digits = "".join(sign for sign in said if sign.isascii() and sign.isdigit())
            if hmac.compare_digest(digits, self._code):
                self._wrong = 0
                self._new()
                return True
            self._wrong += 1
            self._until = self._clock() + min(LONGEST_WAIT_SECONDS, 2.0 ** (self._wrong - 1))
            if self._wrong % TRIES_OF_A_CODE == 0:
                self._new()
            return False


class Sessions:
    """Browsers that may ask; kept in memory alone, so that all end with the program."""

    def __init__(self, codes: Codes | None = None) -> None:
        self.codes = codes
        self._key = secrets.token_bytes(32)
        self._known: OrderedDict[str, None] = OrderedDict()
        self._lock = threading.Lock()

    def begin(self) -> str:
        """A new session."""
        name = secrets.token_urlsafe(32)
        with self._lock:
            self._known[name] = None
            while len(self._known) > MOST_SESSIONS:
                self._known.popitem(last=False)
        return name

    def holds(self, name: str) -> bool:
        """Whether it is one of ours; those that are used are kept longest."""
        with self._lock:
            if name not in self._known:
                return False
            self._known.move_to_end(name)
            return True

    def token(self, name: str) -> str:
        """What every form of a session carries: nobody else's page can know it."""
        return hmac.new(self._key, name.encode(), sha256).hexdigest()

    def sent_by(self, name: str, token: str) -> bool:
        """Whether a form came from a page that this session was shown."""
        return hmac.compare_digest(self.token(name).encode(), token.encode())


class Gate:
    """Around the application: lets in what may be answered, and puts the headers on all answers."""

    def __init__(self, app: ASGIApp, hosts: Iterable[str], sessions: Sessions, cookie: str) -> None:
        self.app, self.hosts, self.sessions, self.cookie = app, frozenset(hosts), sessions, cookie

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request, by ASGI 3."""
        if scope["type"] != "http":
            return
        headers = Headers(scope=scope)
        name = self._session(headers)
        begun = "" if name or self.sessions.codes is not None else self.sessions.begin()
        scope["session"] = name or begun

        async def dressed(message: Message) -> None:
            if message["type"] == "http.response.start":
                out = MutableHeaders(scope=message)
                for key, value in HEADERS.items():
                    out[key] = value
                if begun:
                    out.append("Set-Cookie", cookie_of(self.cookie, begun))
            await send(message)

        refused = self._refused(scope, headers)
        if refused is not None:
            await refused(scope, receive, dressed)
            return
        most = MOST_BYTES_OF_SHEETS if scope["path"].startswith("/sheets") else MOST_BYTES_OF_A_FORM
        length = headers.get("content-length", "0")
        if not length.isdecimal() or len(length) > 12 or int(length) > most:
            await PlainTextResponse(_too_much(most), 413)(scope, receive, dressed)
            return
        await self.app(scope, _at_most(receive, most), dressed)

    def _session(self, headers: Headers) -> str:
        """The session that a browser names, if it is one of ours."""
        jar = SimpleCookie()
        try:
            jar.load(headers.get("cookie", ""))
        except CookieError:
            return ""
        name = jar[self.cookie].value if self.cookie in jar else ""
        return name if self.sessions.holds(name) else ""

    def _refused(self, scope: Scope, headers: Headers) -> Response | None:
        """Why it is not answered, None where it is."""
        if headers.getlist("host") != [headers.get("host")] or headers["host"].lower() not in self.hosts:
            return PlainTextResponse("This page answers at the address that was printed, and at no other name.\n", 421)
        if scope["method"] not in ("GET", "HEAD", "POST"):
            return PlainTextResponse("Not a way to ask this page.\n", 405, {"Allow": "GET, HEAD, POST"})
        if scope["method"] == "POST" and not self._same_origin(headers):
            return PlainTextResponse("This was sent by another page, so it was not taken.\n", 403)
        if not scope["session"] and scope["path"] not in OPEN_TO_ALL:
            return RedirectResponse("/code", 303)
        return None

    def _same_origin(self, headers: Headers) -> bool:
        """Whether a page of ours sent it, as far as the browser says; the token in the form says it again."""
        origin, site = headers.get("origin"), headers.get("sec-fetch-site")
        if origin is not None and origin.lower() != f"http://{headers['host'].lower()}":
            return False
        return site in (None, "same-origin", "none")


def cookie_of(name: str, value: str) -> str:
    """The header that gives a browser its session: no script reads it, no other site's request carries it."""
    return f"{name}={value}; Path=/; HttpOnly; SameSite=Strict"


def _too_much(most: int) -> str:
    return f"That is more than is taken at once ({most // 1000} kB): nothing was written.\n"


def _at_most(receive: Receive, most: int) -> Receive:
    """What comes in, whatever length was announced: more is refused while it comes."""
    so_far = 0

    async def counted() -> Message:
        nonlocal so_far
        message = await receive()
        so_far += len(message.get("body", b""))
        if so_far > most:
            raise HTTPException(413, _too_much(most))
        return message

    return counted
