"""The routes of a fault as bytes, and back: what a search came to is the same for whatever it would be asked again.

Figures and trees are kept as whole arrays and text that runs nothing when it is read; quotes and options come from the
job at hand.
"""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np

from optimiser.diagnosis.candidates import FaultSearch
from optimiser.diagnosis.case import CaseLayout, Cost
from optimiser.diagnosis.dynamic_program import Action
from optimiser.diagnosis.routes import Book, Point, Row, Searched
from optimiser.diagnosis.shares import Marks, Share
from optimiser.model.evidence import OnTwin, Tried
from optimiser.model.option import Line


def content(search: FaultSearch) -> Iterator[bytes]:
    """All that the routes of a search hang on but for the money."""
    scene, job = search.scene, search.scene.job
    suppliers = frozenset[str]().union(*(option.suppliers for option in search.options))
    access = frozenset[str]().union(*(c.access for c in search.checks), *(o.access for o in search.options))
    quotes = {line.quote.id for option in search.options for line in option.lines}
    quotes |= {quote.id for quote in scene.payments.quotes if quote.supplier in suppliers}
    yield np.__version__.encode()
    settings = job.settings.model_copy(update={"title": ""})
    yield from (record.model_dump_json().encode() for record in (settings, search.fault, *search.options))
    yield from scene.digests(suppliers, access)
    yield from (record.model_dump_json().encode() for record in search.checks)
    yield repr([_seen(entry) for entry in search.seen]).encode()
    time = (job.hour_worth_minor, scene.timed, job.time.minutes if scene.timed else None)
    ahead = [(option.key, option.ahead) for option in search.bought_ahead()]
    tables = {name: {result: dict(row) for result, row in table.items()} for name, table in search.tables.items()}
    how_far = (search.unsearched, search.thrifty)
    rest = (time, list(search.belief.items()), tables, sorted(scene.scarce & quotes), ahead, how_far)
    yield json.dumps(rest, default=_told).encode()


def money(search: FaultSearch, *, binds: bool) -> bytes:
    """What the routes hang on beside their content: nothing where there is as much money as they need."""
    return str(search.cash_minor).encode() if binds else b"enough"


def _seen(entry: Tried) -> object:
    """What was seen, whatever its entry's number, causes in one order."""
    if isinstance(entry, OnTwin):
        return (_seen(entry.attempt), sorted(entry.causes))
    return replace(entry, number=None)


def _told(value: object) -> str:
    if isinstance(value, date):
        return value.isoformat()
    raise TypeError(f"{value!r} is not told")


def packed(search: FaultSearch, found: Searched) -> bytes:
    points = [row.point for row in found.rows]
    arrays: dict[str, Any] = {}
    moves: list[Action] = []
    if found.book is not None:
        book, labels = found.book.only(np.array([p.label for p in points], dtype=np.int64))
        moves = list(book.moves)
        arrays |= {"move": book.move.astype(np.int32), "then": book.then.astype(np.int32), "label": labels}
        arrays |= {"cash": np.array([p.cash_minor for p in points], dtype=np.int64)}
        arrays |= {"worst": np.array([p.worst_minutes for p in points], dtype=np.int64)}
        arrays |= {"chance": np.array([p.chance for p in points]), "net": np.array([p.net_minor for p in points])}
        arrays |= {"minutes": np.array([p.minutes for p in points])}
    certain = list(dict.fromkeys(_lines(row.certain) for row in found.rows))
    place = {lines: n for n, lines in enumerate(certain)}
    text = {
        "certain": certain,
        "rows": [(place[_lines(row.certain)], row.point.marks, row.outdone) for row in found.rows],
        "moves": [(m.action, *m.cost[:4], m.cost.topping, m.to) for m in moves],
        "shares": search.marks.in_turn,
        "rest": (found.book is not None, *found[2:]),
    }
    file = io.BytesIO()
    np.savez(file, text=np.frombuffer(json.dumps(text).encode(), dtype=np.uint8), **arrays)
    return file.getvalue()


def unpacked(search: FaultSearch, data: bytes) -> Searched | None:
    """What a search like this came to; None where that cannot be made out."""
    try:
        with np.load(io.BytesIO(data), allow_pickle=False) as arrays:
            text = json.loads(arrays["text"].tobytes())
            there, ahead, *rest = text["rest"]
            if not there:
                return Searched((), None, ahead, *rest)
            search.marks = Marks(Share(*share) for share in text["shares"])
            options = [*search.options, *(search.bought_ahead() if ahead else ())]
            layout = CaseLayout(search.case(options, search.checks, (), lambda _, __: ()))
            moves = [_move(*told) for told in text["moves"]]
            book = Book(layout, moves, arrays["move"].astype(np.int64), arrays["then"].astype(np.int64))
            columns = [arrays[name].tolist() for name in ("cash", "chance", "net", "minutes", "worst", "label")]
    except (KeyError, IndexError, TypeError, ValueError, EOFError, OSError, zipfile.BadZipFile):
        return None
    quotes = {line.quote.id: line.quote for option in search.options for line in option.lines}
    certain = [tuple(Line(quote=quotes[q], units=n, wanted=w) for q, n, w in lines) for lines in text["certain"]]
    rows = [
        Row(Point(cash, chance, net, minutes, worst, marks, label), certain[lines], outdone)
        for (lines, marks, outdone), cash, chance, net, minutes, worst, label in zip(
            text["rows"], *columns, strict=True
        )
    ]
    return Searched(rows, book, ahead, *rest)


def _lines(lines: Sequence[Line]) -> tuple[tuple[str, int, int], ...]:
    return tuple((line.quote.id, line.units, line.wanted) for line in lines)


def _move(action: int, cash: int, net: int, back: int, minutes: int, topping: list[list[object]], to: int) -> Action:
    return Action(action, Cost(cash, net, back, minutes, 0, tuple((str(q), int(str(n))) for q, n in topping)), to)
