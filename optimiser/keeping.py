"""A plan as it is kept in the record, and read back: what the person saw, the mix behind it, the folder it came from.

Kept text is JSON. It is read leniently: what an older or a later version wrote, or a hand, counts as far as it can be
made out, and no plan is ever needed to read the rest of the record.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Literal, TypeVar

from pydantic import ValidationError

from optimiser.model.happening import MOST_PLAN_SIGNS
from optimiser.model.job import Job
from optimiser.model.plan import Plan, Selection
from optimiser.model.quotes import Quote
from optimiser.model.record import Record

KEPT_FORMAT = 1
MOST_JOB_SIGNS = 4_000_000
"""A folder that takes more to write out is not kept with each plan; some 13,000 quotes fit."""
CANNOT_BE_READ = (TypeError, ValueError, KeyError, AttributeError, RecursionError)
R = TypeVar("R", bound=Record)


class Share(Record):
    """What a fault took in a plan, in minor units: expected, and at the most."""

    landed_minor: int
    most_minor: int


@dataclass(frozen=True)
class Piece:
    """Pieces of a step as the person saw them; amounts are decimal strings of the job's currency.

    ``packs`` is set for a line to order. ``asked`` is the whole quote as it stood, where the plan's routes hold it.
    """

    part: str
    units: int
    supplier: str | None
    condition: str
    quote: str
    ref: str = ""
    price: str = "0"
    deposit: str = "0"
    pack: int = 1
    packs: int | None = None
    asked: Quote | None = None


@dataclass(frozen=True)
class Step:
    """A numbered step: a check or an attempt on a fault, by its id there, or a line to order."""

    number: int
    kind: Literal["check", "attempt", "order"]
    fault: str = ""
    id: str = ""
    pieces: tuple[Piece, ...] = ()


@dataclass(frozen=True)
class Kept:
    """A plan read back. ``job`` is the folder's job as it was read then, without what the record held.

    ``selection`` and ``job`` are None where they were not kept or cannot be made out.
    """

    shown: Mapping[str, Any]
    selection: Selection | None = None
    job: Job | None = None
    shares: Mapping[str, Share] = field(default_factory=dict)
    numbering: Mapping[str, int] = field(default_factory=dict)
    """Every step number given since the plan was last shown in full, by what the step is."""

    @cached_property
    def steps(self) -> Mapping[int, Step]:
        """Every step of the plan by the number that the person saw."""
        asked = {} if self.selection is None else _asked(self.selection)
        found = (*_fault_steps(self.shown, asked), *_order_steps(self.shown, asked))
        return {step.number: step for step in sorted(found, key=lambda step: step.number)}


def kept(plan: Plan, shown: Mapping[str, Any], folder_job: Job | None = None) -> str:
    """The text that keeps a plan: ``shown`` is its JSON document, ``folder_job`` what the folder alone says."""
    document: dict[str, Any] = {
        "kept": KEPT_FORMAT,
        "shown": shown,
        "selection": plan.selection.model_dump(mode="json"),
        "shares": {
            choice.fault.id: {"landed_minor": choice.landed_minor, "most_minor": choice.most_minor}
            for choice in plan.choices
            if choice.route is not None
        },
        "numbering": dict(plan.numbering),
    }
    text = _text(document)
    if folder_job is not None:
        job = folder_job.model_dump_json()
        if len(job) <= MOST_JOB_SIGNS and len(text) + len(job) < MOST_PLAN_SIGNS:
            return _text(document | {"job": json.loads(job)})
    if len(text) > MOST_PLAN_SIGNS:
        return _text({"kept": KEPT_FORMAT, "shown": shown, "numbering": dict(plan.numbering)})
    return text


def read(text: str, whole: bool = True) -> Kept | None:
    """A kept plan; None where the text is none that can be made out at all.

    Not ``whole``: without its selection and job, which take their time.
    """
    try:
        document = json.loads(text)
    except CANNOT_BE_READ:
        return None
    if not isinstance(document, dict) or not isinstance(document.get("shown"), dict):
        return None
    shares = document.get("shares")
    found = {name: _record(Share, share) for name, share in (shares if isinstance(shares, dict) else {}).items()}
    return Kept(
        shown=document["shown"],
        selection=_record(Selection, document.get("selection")) if whole else None,
        job=_record(Job, document.get("job")) if whole else None,
        shares={name: share for name, share in found.items() if share is not None},
        numbering=_numbering(document.get("numbering")),
    )


def _text(document: Mapping[str, Any]) -> str:
    return json.dumps(document, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _record(kind: type[R], written: object) -> R | None:
    if written is None:
        return None
    try:
        return kind.model_validate_json(json.dumps(written))
    except (ValidationError, *CANNOT_BE_READ):
        return None


def _numbering(written: object) -> dict[str, int]:
    rows = written.items() if isinstance(written, dict) else ()
    return {key: number for key, number in rows if _number({"step": number}) is not None}


def _asked(selection: Selection) -> dict[str, Quote]:
    """The quotes that the routes name, by id."""
    return {
        line.quote.id: line.quote for route in selection.routes for step in route.attempts for line in step.option.lines
    }


def _fault_steps(shown: Mapping[str, Any], asked: Mapping[str, Quote]) -> Iterator[Step]:
    for row in _rows(shown, "faults"):
        fault, node = str(row.get("id", "")), row.get("route")
        if isinstance(node, dict):
            yield from _tree_steps(fault, node, asked)
        elif row.get("repair") is not None and _number(row) is not None:
            pieces = tuple(_pieces(row, asked))
            yield Step(_number(row) or 0, "attempt", fault, str(row["repair"]), pieces)


def _tree_steps(fault: str, node: Mapping[str, Any], asked: Mapping[str, Quote]) -> Iterator[Step]:
    number, kind = _number(node), node.get("do")
    if number is not None and kind in ("check", "attempt"):
        named: Literal["check", "attempt"] = "check" if kind == "check" else "attempt"
        yield Step(number, named, fault, str(node.get("id", "")), tuple(_pieces(node, asked)))
    then = node.get("then")
    for after in then.values() if isinstance(then, dict) else ():
        if isinstance(after, dict):
            yield from _tree_steps(fault, after, asked)


def _order_steps(shown: Mapping[str, Any], asked: Mapping[str, Quote]) -> Iterator[Step]:
    for order in _rows(shown, "orders"):
        for line in _rows(order, "lines"):
            number, piece = _number(line), _piece(line | {"supplier": order.get("supplier")}, asked)
            if number is not None and piece is not None:
                yield Step(number, "order", pieces=(piece,))


def _pieces(row: Mapping[str, Any], asked: Mapping[str, Quote]) -> Iterator[Piece]:
    return (piece for part in _rows(row, "parts") if (piece := _piece(part, asked)) is not None)


def _piece(row: Mapping[str, Any], asked: Mapping[str, Quote]) -> Piece | None:
    try:
        quote = asked.get(str(row["quote"]))
        packs = row.get("packs")
        pack = int(row.get("pack", 1 if quote is None else quote.pack))
        return Piece(
            part=str(row["part"]),
            units=int(row["units"]) if packs is None else int(packs) * pack,
            supplier=None if row.get("supplier") is None else str(row["supplier"]),
            condition=str(row["condition"]),
            quote=str(row["quote"]),
            ref=str(row.get("ref", "")),
            price=str(row.get("price", "0")),
            deposit=str(row.get("deposit", "0")),
            pack=pack,
            packs=None if packs is None else int(packs),
            asked=quote,
        )
    except CANNOT_BE_READ:
        return None


def _rows(row: Mapping[str, Any], name: str) -> list[dict[str, Any]]:
    found = row.get(name)
    return [one for one in found if isinstance(one, dict)] if isinstance(found, list) else []


def _number(row: Mapping[str, Any]) -> int | None:
    number = row.get("step")
    return number if isinstance(number, int) and not isinstance(number, bool) and number > 0 else None
