"""The faults after everything that was seen and tried: which are open, what is believed, what failed where.

A fault is cured by a fitting that cured it, and open again once it is seen again or a later fitting fails. A cure that
did not last is taken for a failed attempt: one cause is present, and it was not met.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import NamedTuple

from optimiser.diagnosis.belief import likelihoods, prior
from optimiser.diagnosis.evidence import kept_sound
from optimiser.diagnosis.twins import Standing
from optimiser.model.evidence import Cured, Evidence, FailedAttempt, Finding, Piece
from optimiser.model.happening import Fitting, NewFault, OddsCorrected
from optimiser.model.job import SOMETHING_ELSE, Fault, Job, Severity
from optimiser.standing.misfit import MisfitError
from optimiser.standing.shelf import Pile, Try, Use


class Attempt(NamedTuple):
    """A fitting: where its pieces first came from, and which earlier attempts a cure shows to have been sound ones.

    ``repair`` is None where the job has no such repair; ``fits`` are the pieces that the repair asks for.
    """

    repair: str | None
    origins: tuple[str, ...]
    fits: tuple[tuple[str, float], ...]
    proves: tuple[Try, ...]


@dataclass
class History:
    """What happened on one fault, in order; ``cure`` is the place of the attempt that closed it, None while open."""

    events: list[Evidence | Attempt] = field(default_factory=list)
    cure: int | None = None


class Faults:
    """Every fault of the job and those that the record adds."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.rows = {fault.id: fault for fault in job.faults}
        self.histories = {fault.id: History(list(job.seen.get(fault.id, ()))) for fault in job.faults}
        self._results: dict[tuple[str, str], frozenset[str]] = {}

    def saw(self, fault_id: str, entry: Evidence) -> None:
        """Note a finding. Raises ``MisfitError`` where the fault has no such check, result or cause."""
        fault = self._fault(fault_id)
        if isinstance(entry, Finding):
            if entry.result not in self._results_of(fault, entry.check):
                raise MisfitError(f"check {entry.check} of {fault_id} has no result {entry.result}")
        elif not isinstance(entry, FailedAttempt | Cured) and entry.cause not in (*fault.causes, SOMETHING_ELSE):
            raise MisfitError(f"{fault_id} has no cause {entry.cause}")
        self.histories[fault_id].events.append(entry)

    def tried_out(self, fitting: Fitting, uses: Sequence[Use]) -> None:
        """Note an attempt; one that cured closes the fault, whatever it was.

        Raises ``MisfitError`` where the job has no such fault or repair.
        """
        fault = self._fault(fitting.fault)
        repair = next((r for r in fault.repairs if r.id == fitting.repair), None)
        history = self.histories[fitting.fault]
        history.events.append(
            Attempt(
                repair=None if repair is None else repair.id,
                origins=tuple(use.origin for use in uses),
                fits=tuple((u.origin, u.piece.good_chance) for u in uses if repair and u.piece.part in repair.parts),
                proves=tuple(earlier for use in uses for earlier in use.tries),
            )
        )
        history.cure = len(history.events) - 1 if fitting.cured else None
        if repair is None:
            raise MisfitError(f"{fitting.fault} has no repair {fitting.repair}")

    def appeared(self, new: NewFault) -> None:
        """A fault was seen: one that was cured is open again, one that the job lists stays as it is listed."""
        if new.fault not in self.rows:
            severity = new.severity or Severity.MAJOR
            self.rows[new.fault] = Fault(id=new.fault, title=new.title, severity=severity)
            self.histories[new.fault] = History()
        self.histories[new.fault].cure = None

    def correct_odds(self, odds: OddsCorrected) -> None:
        """Put in a cause's odds, for twins too, each in the scale in which it is written; something-else as a share.

        Raises ``MisfitError`` where there is no such fault or cause.
        """
        fault = self._fault(odds.fault)
        listed = sum(fault.causes.values())
        if odds.cause not in fault.causes and (odds.cause != SOMETHING_ELSE or not fault.causes):
            raise MisfitError(f"{odds.fault} has no cause {odds.cause}")
        for twin in [f for f in self.rows.values() if f is fault or (f.twin is not None and f.twin == fault.twin)]:
            now = odds.now * sum(twin.causes.values()) / listed
            if odds.cause == SOMETHING_ELSE:
                changed: dict[str, object] = {"something_else": odds.now / (odds.now + listed)}
            else:
                changed = {"causes": {**twin.causes, odds.cause: now}}
            self.rows[twin.id] = twin.model_copy(update=changed)

    def parted(self) -> tuple[tuple[Fault, ...], tuple[Fault, ...]]:
        """The open faults and the cured ones, as listed."""
        closed = {name for name, history in self.histories.items() if history.cure is not None}
        rows = self.rows.values()
        return tuple(f for f in rows if f.id not in closed), tuple(f for f in rows if f.id in closed)

    @cached_property
    def noted(self) -> Mapping[str, tuple[Evidence, ...]]:
        """What was seen on each fault of which anything is known, once all happenings are in."""
        proven = {earlier for history in self.histories.values() for earlier in _proven(history)}
        found = {name: tuple(_evidence(name, history, proven)) for name, history in self.histories.items()}
        return {name: entries for name, entries in found.items() if entries}

    def tried(self) -> dict[str, frozenset[str]]:
        """By open fault the origins of all pieces that failed there."""
        found = {}
        for name, history in self.histories.items():
            attempts = [event for event in history.events if isinstance(event, Attempt)]
            if history.cure is None and attempts:
                found[name] = frozenset(origin for attempt in attempts for origin in attempt.origins)
        return found

    def sound(self, pile: Pile, believed: Mapping[str, Standing]) -> float:
        """The chance that kept pieces are sound, after all that was seen on the fault they were kept from."""
        fault, repair, origin = pile.tries[-1]
        entries = self.noted.get(fault, ())
        attempts = [e for e in entries if isinstance(e, FailedAttempt) and e.repair == repair]
        piece = next((p for attempt in attempts for p in attempt.pieces if p.name == origin), None)
        if piece is None:
            return pile.good_chance
        chance = kept_sound(self.rows[fault], believed[fault].chances, entries, repair, piece)
        return min(1.0, max(0.0, chance))

    def _fault(self, name: str) -> Fault:
        if name not in self.rows:
            raise MisfitError(f"the job has no fault {name}")
        return self.rows[name]

    def _results_of(self, fault: Fault, check_id: str) -> frozenset[str]:
        """The results of a check, one that is not written too. Raises ``MisfitError`` for a check that is not there."""
        key = (fault.id, check_id)
        if key not in self._results:
            check = next((c for c in fault.checks if c.id == check_id), None)
            if check is None:
                raise MisfitError(f"{fault.id} has no check {check_id}")
            self._results[key] = frozenset(likelihoods(check, list(prior(fault))))
        return self._results[key]


def _proven(history: History) -> tuple[Try, ...]:
    """Earlier attempts whose piece a lasting cure shows to have been sound."""
    cure = None if history.cure is None else history.events[history.cure]
    return cure.proves if isinstance(cure, Attempt) else ()


def _evidence(fault: str, history: History, proven: set[Try]) -> list[Evidence]:
    """The history as evidence. A batch has one chance of being sound throughout a fault: that of its first attempt."""
    goods: dict[str, float] = {}
    found: list[Evidence] = []
    for place, event in enumerate(history.events):
        if not isinstance(event, Attempt):
            found.append(event)
        elif event.repair is not None:
            pieces = []
            for origin, good in event.fits:
                sure = Try(fault, event.repair, origin) in proven
                pieces.append(Piece(origin, goods.setdefault(origin, 1.0 if sure else good)))
            kind = Cured if place == history.cure else FailedAttempt
            found.append(kind(event.repair, tuple(dict.fromkeys(pieces))))
    return found
