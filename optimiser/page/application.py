"""START HERE: every address of the page with what answers it.

A look (GET) writes nothing. Whatever writes comes as a form (POST), is on the disk before it is answered, and is
answered with a redirect, so that a page loaded again sends nothing twice.
"""

from __future__ import annotations

import sys
from collections.abc import Awaitable, Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route
from starlette.types import ASGIApp, Receive, Scope, Send

from optimiser import calls, service, starting
from optimiser.errors import EXIT_FAULT, CallError, OptimiserError, RecordError
from optimiser.page import faults, papers, places, sheet_views, taps, uploads, views, whatif
from optimiser.page.forms import FORM, Refilled, Sent, sent
from optimiser.page.gate import Gate, Sessions, cookie_of
from optimiser.page.live import Live
from optimiser.page.uploads import Uploads
from optimiser.show import wording
from optimiser.show.html import page as html
from optimiser.show.html import sections
from optimiser.show.html.marks import short
from optimiser.text import count

Answer = Callable[[Request], Awaitable[Response]]
MEND = 422
"""The status of words that can be mended."""
MOST_WRITTEN = 50
"""Entries that an address names to be told of."""
MOST_ADDED = 9
"""Faults put in, or sheets taken in or out, that an address names to be told of."""


class Pages:
    """What answers each address."""

    def __init__(self, live: Live, sessions: Sessions, dropped: Uploads, cookie: str) -> None:
        self.live, self.sessions, self.dropped, self.cookie = live, sessions, dropped, cookie

    def filled(
        self, request: Request, template: str, here: str, status: int = 200, *,
        waiting: bool = False, again: Refilled | None = None, **data: Any,
    ) -> Response:  # fmt: skip
        """A page of this template in its frame; ``again`` is a form in it that was refused."""
        token = self.sessions.token(request.scope["session"])
        frame = views.frame(self.live.standing(), here, token, again or Refilled(), waiting=waiting)
        return HTMLResponse(html.filled(f"page/{template}", frame=frame, **data), status)

    def next(self, request: Request) -> Response:
        """What comes next, and what was just written."""
        numbers = _numbers(request.query_params.getlist("written"))
        standing = self.live.standing()
        shown, written = standing.shown, None
        if numbers:
            notes = [note for number in numbers for note in self.live.notes_of(number)]
            written = views.acknowledged(self.live.now(), numbers, notes)
        before = short(wording.plain(request.query_params.get("pot", "")))
        ids = tuple(request.query_params.getlist("added")[:MOST_ADDED])
        added = views.added(standing.now, ids, can_be_undone=ids in self.live.added) if ids else None
        turned = self._just_turned(request)
        since = () if standing.now is None else [one for one in standing.now.record if one.number in standing.since]
        found = None if shown is None else views.next_page(shown, since)
        return self.filled(
            request, "next.html", "/", waiting=True, written=written, added=added, turned=turned, found=found,
            names=None if shown is None else views.names(shown.now.job),
            pot=views.changed_pot(standing.now, before), query_pot=before,
        )  # fmt: skip

    def _just_turned(self, request: Request) -> sheet_views.JustTurned | None:
        """The sheets that were just taken in, or out, as the address tells."""
        query = request.query_params
        taken, gone, stay = (tuple(query.getlist(name)[:MOST_ADDED]) for name in ("taken", "out", "stay"))
        if not taken and not gone:
            return None
        known = service.taken_in(self.live.folder)
        return sheet_views.just_turned(known, taken or gone, stay, out=not taken)

    def plan(self, request: Request) -> Response:
        shown = self.live.standing().shown
        data = None if shown is None else views.plan_page(shown)
        return self.filled(request, "plan.html", "/plan", waiting=shown is None, sections_of=data)

    def papers(self, request: Request) -> Response:
        return self.filled(request, "papers.html", "/papers", papers=papers.titles())

    def paper(self, request: Request) -> Response:
        """One of them as a file, which no browser shows in the page's place."""
        file = request.path_params["file"]
        said, kind = papers.paper(self.live, file)
        return Response(said, media_type=kind, headers={"Content-Disposition": f'attachment; filename="{file}"'})

    def write(self, request: Request) -> Response:
        return self.filled(request, "write.html", "/write", names=views.names(self.live.now().job))

    def diary(self, request: Request) -> Response:
        return self.filled(request, "diary.html", "/diary", lines=views.diary_lines(self.live.now()))

    def tap(self, request: Request, form: Sent) -> Response:
        verb = request.path_params["verb"]
        try:
            done = taps.tap(self.live, verb, form)
        except OptimiserError as error:
            return self._refused(request, form, error, "write.html", names=views.names(self.live.now().job))
        return self._after(request, f"/write/{verb}", form, done)

    def _refused(self, request: Request, form: Sent, error: OptimiserError, template: str, **data: Any) -> Response:
        """The page with the form once more, as it was filled; raises the error where there is nothing to mend in it."""
        if form.text(FORM) is None or _status(error) != MEND:
            raise error
        again = Refilled(form, said := _said(error), places.named_in(said))
        return self.filled(request, template, "", MEND, again=again, **data)

    def strike(self, request: Request, form: Sent) -> Response:
        return self._after(request, "/strike", form, taps.strike(self.live, form))

    def _after(self, request: Request, target: str, form: Sent, done: object) -> Response:
        if isinstance(done, taps.Outdated):
            since = [views.entry_line(done.now.job, entry) for entry in done.since]
            return self.filled(
                request,
                "outdated.html",
                "",
                409,
                since=since,
                target=target,
                fields_of=form.again(),
                known=done.now.known,
                about=form.text("about"),
            )
        if isinstance(done, taps.Asked):
            return self.filled(
                request, "asked.html", "", question=wording.plain(done.question), answers=done.answers, target=target,
                fields_of=form.again(), known=form.known, about=form.text("about"),
            )  # fmt: skip
        return _to("/", written=getattr(done, "numbers", ()))

    def fault(self, request: Request) -> Response:
        """A new fault: searched among the patterns."""
        words = request.query_params.get("words", "")
        about = starting.about(self.live.folder, self.live.clock.today())
        found = faults.found(words, starting.patterns(), about)
        return self.filled(request, "fault.html", "/fault", **self._for_a_fault(words), found=found)

    def _for_a_fault(self, words: str) -> dict[str, Any]:
        names = views.names(self.live.now().job)
        return {"words": words[: faults.MOST_WORDS], "names": names, "systems": faults.systems()}

    def add(self, request: Request, form: Sent) -> Response:
        try:
            return _to("/", added=faults.add(self.live, form))
        except OptimiserError as error:
            return self._refused(request, form, error, "fault.html", **self._for_a_fault(""), found=())

    def add_way(self, request: Request, form: Sent) -> Response:
        try:
            return _to("/", added=[faults.add_way(self.live, form)])
        except OptimiserError as error:
            return self._refused(request, form, error, "fault.html", **self._for_a_fault(""), found=())

    def take_out(self, _: Request, form: Sent) -> Response:
        faults.undo(self.live, tuple(form.all("added")))
        return _to("/")

    def sheets(self, request: Request) -> Response:
        return self.filled(request, "sheets.html", "/sheets", **self._for_sheets())

    def _for_sheets(self) -> dict[str, Any]:
        shown = self.live.shown
        names = None if shown is None else views.names(shown.now.job)
        return {"names": names, "taken_in": sheet_views.taken_in(service.taken_in(self.live.folder))}

    def drop(self, _: Request, form: Sent) -> Response:
        batch = self.dropped.lay_down([(each.filename or "", each.file) for each in form.files])
        return _to(f"/sheets/{batch.number}")

    def told(self, request: Request, form: Sent) -> Response:
        """What a shop said of a part, as a sheet of one row."""
        try:
            return _to(f"/sheets/{uploads.told_by_a_shop(self.dropped, form).number}")
        except OptimiserError as error:
            return self._refused(request, form, error, "sheets.html", **self._for_sheets())

    def sheet(self, request: Request) -> Response:
        """Sheets as they are understood so far."""
        batch = self.dropped.batch(request.path_params["number"])
        job, arrived = uploads.understood(self.live, batch)
        today, doubts = job.settings.today or self.live.clock.today(), sheet_views.doubts(job, arrived)
        return self.filled(
            request, "sheet.html", "/sheets", sheets=sheet_views.sheets(job, arrived, today), doubts=doubts,
            strangers=sheet_views.strangers(arrived, doubts), names=views.names(job),
            told=sheet_views.settled(job, batch.told),
            number=batch.number, taken=sheet_views.standing(service.taken_in(self.live.folder), batch.taken),
        )  # fmt: skip

    def settle(self, request: Request, form: Sent) -> Response:
        """Doubts are settled, all is forgotten again, or the sheets are taken in."""
        batch = self.dropped.batch(request.path_params["number"])
        if form.text("what") == "forget":
            self.dropped.put(replace(batch, told=()))
        elif form.text("what") == "whose":
            self.dropped.put(uploads.whose(batch, form))
        elif form.text("what") == "without":
            left = tuple(path for path in batch.files if path.name != form.text("file"))
            self.dropped.put(replace(batch, files=left))
            if not left:
                return _to("/sheets")
        elif form.text("what") == "accept":
            with self.live.turn:
                _, arrived = uploads.understood(self.live, batch, accept=True, whole=form.text("whole") is not None)
            taken = tuple(each.sheet for each in arrived if each.sheet)
            if taken:
                self.dropped.put(replace(batch, taken=taken))
                return _to("/", taken=taken)
        else:
            _, arrived = uploads.understood(self.live, batch)
            problems = [problem for each in arrived for problem in each.problems]
            self.dropped.put(uploads.settled(batch, problems, form))
        return _to(f"/sheets/{batch.number}")

    def turn_back(self, _: Request, form: Sent) -> Response:
        """Sheets that were taken in are taken out again, or put back."""
        done = uploads.turn_back(self.live, form)
        return _to("/", **{"taken" if done.put_back else "out": done.sheets}, stay=done.stay)

    def whatif(self, request: Request) -> Response:
        """Another pot, a price, a chance: planned on a copy."""
        query = dict(request.query_params)
        now, shown = self.live.now(), self.live.shown
        wrong: tuple[str, ...] = ()
        try:
            asked = whatif.asked(self.live, query)
        except CallError as trouble:
            asked, wrong = None, (trouble.found, trouble.mend)
        name = query.get("fault", "")
        return self.filled(
            request, "whatif.html", "/whatif", 400 if wrong else 200, pot=whatif.pot_field(now.job), query=query,
            choices=whatif.fault_choices(now.job), fault=whatif.fault_fields(now.job, name),
            scales=whatif.fault_scales(self.live, now, name), wrong=wrong,
            rows=views.supposed_rows(self.live.supposed(), now), open=asked is not None and asked.is_open,
            more=None if shown is None else sections.more(shown.report.stretch),
        )  # fmt: skip

    def pot(self, _: Request, form: Sent) -> Response:
        return _to("/", pot=[whatif.written(self.live, form)])

    def state(self, request: Request) -> Response:
        """How the plan stands, for the script that looks again; to one that waits not before there is news."""
        standing = self.live.await_news() if "wait" in request.query_params else self.live.standing()
        return JSONResponse(
            {
                "plan": 0 if standing.shown is None else standing.shown.number,
                "known": 0 if standing.now is None else standing.now.known,
                "old": standing.is_old,
                "open": sum(one.is_open for one in self.live.supposed()),
            }
        )

    def code(self, _: Request) -> Response:
        return HTMLResponse(html.filled("page/code.html", wrong=""))

    async def enter(self, request: Request) -> Response:
        """A code is typed: right, it begins a session."""
        codes = self.sessions.codes
        form = await request.form(max_files=0, max_fields=5)
        said = form.get("code")
        if codes is None:
            return RedirectResponse("/", 303)
        wait = codes.wait_seconds()
        if wait == 0 and isinstance(said, str) and codes.fits(said):
            answer = RedirectResponse("/", 303)
            answer.headers["Set-Cookie"] = cookie_of(self.cookie, self.sessions.begin())
            return answer
        wait = codes.wait_seconds()
        wrong = f"That is not the code that stands on the other screen now. Try again in {wait + 0.5:.0f} seconds."
        return HTMLResponse(
            html.filled("page/code.html", wrong=wrong), 429 if wait else 403, {"Retry-After": str(int(wait) + 1)}
        )

    def wrong(self, request: Request, error: Exception) -> Response:
        """What went wrong, for a person, with the way back."""
        said: tuple[str, ...]
        if isinstance(error, HTTPException):
            said, status = (str(error.detail),), error.status_code
        else:
            said, status = _said(error), _status(error)
        if status == 500:
            sys.stderr.write(wording.error(error))
        if not request.scope.get("session"):
            return HTMLResponse(html.filled("page/code.html", wrong=" ".join(said)), status)
        return self.filled(request, "wrong.html", "", status, lines=said, ways=places.named_in(said))


def application(live: Live, sessions: Sessions, dropped: Uploads, hosts: Iterable[str], cookie: str) -> ASGIApp:
    """The whole page behind its gate; ``hosts`` are the names, with their port, that it answers to."""
    pages = Pages(live, sessions, dropped, cookie)
    look, write = _looks(), _writes(sessions)
    routes = [
        Route("/", look(pages.next), methods=["GET"]),
        Route("/plan", look(pages.plan), methods=["GET"]),
        Route("/papers", look(pages.papers), methods=["GET"]),
        Route("/papers/{file}", look(pages.paper), methods=["GET"]),
        Route("/write", look(pages.write), methods=["GET"]),
        Route("/write/{verb}", write(pages.tap), methods=["POST"]),
        Route("/strike", write(pages.strike), methods=["POST"]),
        Route("/diary", look(pages.diary), methods=["GET"]),
        Route("/fault", look(pages.fault), methods=["GET"]),
        Route("/fault", write(pages.add), methods=["POST"]),
        Route("/fault/way", write(pages.add_way), methods=["POST"]),
        Route("/fault/undo", write(pages.take_out), methods=["POST"]),
        Route("/sheets", look(pages.sheets), methods=["GET"]),
        Route("/sheets", write(pages.drop), methods=["POST"]),
        Route("/sheets/told", write(pages.told), methods=["POST"]),
        Route("/sheets/out", write(pages.turn_back), methods=["POST"]),
        Route("/sheets/{number:int}", look(pages.sheet), methods=["GET"]),
        Route("/sheets/{number:int}", write(pages.settle), methods=["POST"]),
        Route("/whatif", look(pages.whatif), methods=["GET"]),
        Route("/pot", write(pages.pot), methods=["POST"]),
        Route("/state", look(pages.state), methods=["GET"]),
        Route("/code", look(pages.code), methods=["GET"]),
        Route("/code", pages.enter, methods=["POST"]),
        *(Route(f"/{Path(name).name}", look(_served(name, kind)), methods=["GET"]) for name, kind in SERVED),
    ]

    async def wrong(request: Request, error: Exception) -> Response:
        return await run_in_threadpool(pages.wrong, request, error)

    kinds: tuple[Any, ...] = (HTTPException, OptimiserError, Exception)
    inner = Starlette(routes=routes, exception_handlers=dict.fromkeys(kinds, wrong))

    async def here(scope: Scope, receive: Receive, send: Send) -> None:
        calls.are_made_at(places.NAMES)
        await inner(scope, receive, send)

    return Gate(here, hosts, sessions, cookie)


SERVED = (
    ("look.css", "text/css"),
    ("page/page.css", "text/css"),
    ("page/page.js", "text/javascript"),
    ("page/icon.svg", "image/svg+xml"),
)
"""Files that pages use, by their templates: how they look, and a script for comfort."""


def _served(template: str, kind: str) -> Callable[[Request], Response]:
    return lambda _: Response(html.filled(template), media_type=kind)


def _looks() -> Callable[[Callable[[Request], Response]], Answer]:
    def made(look: Callable[[Request], Response]) -> Answer:
        async def answer(request: Request) -> Response:
            return await run_in_threadpool(look, request)

        return answer

    return made


def _writes(sessions: Sessions) -> Callable[[Callable[[Request, Sent], Response]], Answer]:
    """Whatever writes takes a form that we handed out, and nothing else."""

    def made(write: Callable[[Request, Sent], Response]) -> Answer:
        async def answer(request: Request) -> Response:
            form = await sent(request, sessions)
            return await run_in_threadpool(write, request, form)

        return answer

    return made


def _to(path: str, **query: Iterable[object]) -> Response:
    """To another page, by a look."""
    pairs = [(key, str(value)) for key, values in query.items() for value in values]
    return RedirectResponse(f"{path}?{urlencode(pairs)}" if pairs else path, 303)


def _numbers(texts: Iterable[str]) -> list[int]:
    return [number for text in texts if (number := count(text)) is not None][:MOST_WRITTEN]


def _said(error: Exception) -> tuple[str, ...]:
    """What is wrong, line by line, in the names of the page's fields."""
    return tuple(map(views.of_fields, views.lines(wording.error(error))))


def _status(error: Exception) -> int:
    """What an error is in the terms of HTTP (RFC 9110): the page's own fault, the record's state, or the words."""
    if getattr(error, "exit_code", EXIT_FAULT) == EXIT_FAULT:
        return 500
    return 503 if isinstance(error, RecordError) else MEND
