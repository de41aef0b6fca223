"""A plan as it is kept in the record, and read back: steps, figures, the mix behind it, the folder it came from.

Kept text is JSON of the model's records, and of no sentence. It is read leniently: what an older or a later version
wrote, or a hand, counts as far as it can be made out, and no plan is ever needed to read the rest of the record.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, TypeVar

from pydantic import ValidationError

from optimiser.model.base import Record
from optimiser.model.events import MOST_PLAN_SIGNS, PlanMade
from optimiser.model.job import Job
from optimiser.model.kept import KeptPiece, KeptShare, Step
from optimiser.model.moves import Sums
from optimiser.model.plan import Plan, Selection
from optimiser.model.quotes import Quote
from optimiser.state import kept_as_shown

KEPT_FORMAT = 2
MOST_WHOLE = 20
"""Plans kept whole, the newest: these can be compared with. A working evening shows some five, so they go back over
days of work (common practice, no published source); of examples/marigold they are 2.4 million bytes."""
MOST_LOOKED_UP = 50
"""A step number that so many plans have not had is looked up no more, and their steps are not kept."""
MOST_JOB_SIGNS = 4_000_000
"""A folder that takes more to write out is not kept with each plan; some 13,000 quotes fit."""
LEAST_QUOTE_SIGNS = 200
"""No quote takes fewer, so of very many it is known beforehand that they are too much."""
CANNOT_BE_READ = (TypeError, ValueError, KeyError, AttributeError, RecursionError)
R = TypeVar("R", bound=Record)


@dataclass(frozen=True)
class KeptPlan:
    """A plan read back, each part of it when it is first asked for, and once."""

    document: Mapping[str, Any]

    @property
    def thinned(self) -> bool:
        """Whether it was whole once: what comparing with it would take was left out when it had become old."""
        return self.document.get("thinned") is True

    @cached_property
    def selection(self) -> Selection | None:
        """The mix; None where it was not kept or cannot be made out."""
        return _record(Selection, self.document.get("selection"))

    @cached_property
    def job(self) -> Job | None:
        """The folder's job as it was read then, without what the record held; None as above."""
        return _record(Job, self.document.get("job"))

    @cached_property
    def shares(self) -> Mapping[str, KeptShare]:
        """By fault what it took."""
        found = {name: _record(KeptShare, share) for name, share in _table(self.document.get("shares")).items()}
        return {name: share for name, share in found.items() if share is not None}

    @property
    def currency(self) -> str:
        """The code of the currency that all its amounts are in."""
        return str(self.document.get("currency", ""))

    @cached_property
    def sums(self) -> Sums | None:
        """Its sums; None where they cannot be made out."""
        return _record(Sums, self.document.get("sums"))

    @cached_property
    def numbering(self) -> Mapping[str, int]:
        """Every step number given so far, by what the step is."""
        rows = _table(self.document.get("numbering")).items()
        return {key: n for key, n in rows if isinstance(n, int) and not isinstance(n, bool) and n > 0}

    @cached_property
    def plain_steps(self) -> Mapping[int, Step]:
        """Every step by the number that the person saw, without the whole quotes, which take their time."""
        rows = self.document.get("steps")
        found = [step for row in (rows if isinstance(rows, list) else ()) if (step := _step(row)) is not None]
        return {step.number: step for step in sorted(found, key=lambda step: step.number)}

    @cached_property
    def asked(self) -> Mapping[str, Quote]:
        """The quotes that its routes name, of a thinned plan those of its steps, by id."""
        if self.selection is not None:
            return _asked(self.selection)
        found = {name: _record(Quote, quote) for name, quote in _table(self.document.get("asked")).items()}
        return {name: quote for name, quote in found.items() if quote is not None}

    @cached_property
    def steps(self) -> Mapping[int, Step]:
        """Every step by the number that the person saw, its pieces with the quotes that the routes name."""
        return {
            number: step.model_copy(update={"pieces": tuple(_with_quote(piece, self.asked) for piece in step.pieces)})
            for number, step in self.plain_steps.items()
        }


class Plans:
    """The plans of a record, each read back once, and only when somebody asks for it."""

    def __init__(self, made: Sequence[PlanMade] = ()) -> None:
        self.made = tuple(made)
        self._read: dict[int, KeptPlan | None] = {}

    @property
    def last(self) -> PlanMade | None:
        """The plan kept last."""
        return self.made[-1] if self.made else None

    @property
    def seen(self) -> KeptPlan | None:
        """The plan kept last, read back; None where there is none, or it cannot be made out."""
        return None if self.last is None else self.kept(self.last)

    @property
    def numbering(self) -> Mapping[str, int]:
        """Every step number given so far, by what the step is."""
        return {} if self.seen is None else self.seen.numbering

    def kept(self, made: PlanMade) -> KeptPlan | None:
        """A plan of these read back; None where it cannot be made out."""
        if made.number not in self._read:
            self._read[made.number] = read(made.text)
        return self._read[made.number]


def kept(plan: Plan, steps: Sequence[Step], folder_job: Job | None = None) -> str:
    """The text that keeps a plan: its numbered ``steps``, and ``folder_job``, what the folder alone says."""
    purse = plan.purse
    sums = Sums(remaining_minor=purse.remaining_minor, unspent_minor=purse.unspent_minor, fixes=plan.expected_count)
    least: dict[str, Any] = {
        "kept": KEPT_FORMAT,
        "currency": plan.job.settings.currency,
        "sums": sums.model_dump(),
        "steps": [step.model_dump(exclude_defaults=True) for step in steps],
        "numbering": dict(plan.numbering),
    }
    shares = {
        choice.fault.id: {"landed_minor": choice.landed_minor, "most_minor": choice.most_minor}
        for choice in plan.choices
        if choice.route is not None
    }
    document = least | {"selection": plan.selection.model_dump(mode="json"), "shares": shares}
    text = _text(document)
    if folder_job is not None and len(folder_job.quotes) * LEAST_QUOTE_SIGNS <= MOST_JOB_SIGNS:
        job = folder_job.model_dump_json()
        if len(job) <= MOST_JOB_SIGNS and len(text) + len(job) < MOST_PLAN_SIGNS:
            return _text(document | {"job": json.loads(job)})
    return _text(least) if len(text) > MOST_PLAN_SIGNS else text


def read(text: str) -> KeptPlan | None:
    """A kept plan; None where the text is none that can be made out at all."""
    try:
        document = json.loads(text)
        if isinstance(document, dict) and isinstance(document.get("shown"), dict):
            document = kept_as_shown.translated(document, document["shown"])
    except CANNOT_BE_READ:
        return None
    return KeptPlan(document) if isinstance(document, dict) and isinstance(document.get("steps"), list) else None


def without_mix(text: str) -> str:
    """The text of a plan that is compared with no more: its steps and the quotes that they ask for, not mix and job."""
    return _thinned(text, _steps_with_quotes)


def without_steps(text: str) -> str:
    """The text of a plan whose steps too are looked up no more: its figures, and every number given so far."""
    return _thinned(text, lambda _: {"steps": []})


SHORTER: Mapping[int, Callable[[str], str]] = {MOST_WHOLE: without_mix, MOST_LOOKED_UP: without_steps}
"""What a plan's text becomes when so many newer ones are kept."""


def _thinned(text: str, still_needed: Callable[[KeptPlan], dict[str, Any]]) -> str:
    """The text as it is where it cannot be made out, or would not be shorter."""
    plan = read(text)
    if plan is None:
        return text
    headlines = {key: plan.document[key] for key in ("currency", "sums", "numbering") if key in plan.document}
    try:
        short = _text({"kept": KEPT_FORMAT, "thinned": True} | headlines | still_needed(plan))
        return short if len(short.encode()) < len(text.encode()) else text
    except CANNOT_BE_READ:
        return text


def _steps_with_quotes(plan: KeptPlan) -> dict[str, Any]:
    asked = {piece.quote: piece.asked for step in plan.steps.values() for piece in step.pieces if piece.asked}
    quotes = {name: quote.model_dump(mode="json", exclude_defaults=True) for name, quote in asked.items()}
    return {"steps": plan.document["steps"], "asked": quotes}


def _text(document: Mapping[str, Any]) -> str:
    return json.dumps(document, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _record(kind: type[R], written: object) -> R | None:
    if written is None:
        return None
    try:
        return kind.model_validate_json(json.dumps(written))
    except (ValidationError, *CANNOT_BE_READ):
        return None


def _step(written: object) -> Step | None:
    """A step as far as it can be made out: pieces that cannot are left out, keys that nobody knows are passed over."""
    row = _table(written)
    rows = row.get("pieces", [])
    pieces = [_record(KeptPiece, _known(KeptPiece, _table(one))) for one in (rows if isinstance(rows, list) else ())]
    step = _record(Step, _known(Step, {key: value for key, value in row.items() if key != "pieces"}))
    found = tuple(piece for piece in pieces if piece is not None)
    return None if step is None else step.model_copy(update={"pieces": found})


def _known(kind: type[Record], row: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in row.items() if key in kind.model_fields}


def _table(written: object) -> dict[str, Any]:
    return written if isinstance(written, dict) else {}


def _asked(selection: Selection) -> dict[str, Quote]:
    """The quotes that the routes name, by id."""
    attempts: Iterator[Any] = (step for route in selection.routes for step in route.attempts)
    return {line.quote.id: line.quote for step in attempts for line in step.option.lines}


def _with_quote(piece: KeptPiece, asked: Mapping[str, Quote]) -> KeptPiece:
    quote = asked.get(piece.quote)
    return piece if quote is None else piece.model_copy(update={"asked": quote})
