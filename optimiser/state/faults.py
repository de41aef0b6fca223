"""The faults after everything that was seen and tried: which are open, what is believed, what failed where.

A fault is cured by a fitting that cured it, and open again once it is seen again or a later fitting fails. A cure that
did not last is taken for a failed attempt: one cause is present, and it was not met.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import prod
from typing import NamedTuple

from optimiser.diagnosis.belief import likelihoods, prior
from optimiser.diagnosis.evidence import Attempts, repair_of
from optimiser.diagnosis.group_evidence import cured_for_all
from optimiser.diagnosis.groups import Believed, on_twins
from optimiser.model import protection
from optimiser.model.events import Fitting, NewFault, OddsCorrected, WorkPriceCorrected
from optimiser.model.evidence import Cured, Evidence, FailedAttempt, Finding, ItIs, ItIsNot, Piece, Still, Works
from optimiser.model.job import SOMETHING_ELSE, Check, Fault, Job, Severity
from optimiser.state.inventory import Pile, Try, Use
from optimiser.state.misfit import MisfitError

LEAST_ODDS, MOST_ELSE = 1e-300, 1 - 1e-15
"""Odds are above 0, and something-else is never quite certain: what a float makes of the extremes is not either."""
ANOTHER = " (another)"
"""Stands after the origin of a piece that is told apart from its batch."""


class Attempt(NamedTuple):
    """A fitting: where its pieces first came from, and which earlier attempts a cure shows to have been sound ones.

    ``repair`` is None where the job has no such repair, or the fault came right without one; ``fits`` are the pieces
    that the repair asks for; ``number`` is that of its entry.
    """

    repair: str | None
    origins: tuple[str, ...]
    fits: tuple[tuple[str, float], ...]
    proves: tuple[Try, ...]
    number: int | None


@dataclass
class History:
    """What happened on one fault, in order; ``cure`` is the place of what closed it, None while open.

    That is the attempt that cured, or the word that it works after a twin was cured.
    """

    events: list[Evidence | Attempt] = field(default_factory=list)
    cure: int | None = None

    @property
    def lasting(self) -> Attempt | None:
        """The attempt that closed the fault."""
        cure = None if self.cure is None else self.events[self.cure]
        return cure if isinstance(cure, Attempt) else None


class Faults:
    """Every fault of the job and those that the record adds."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.rows = {fault.id: fault for fault in job.faults}
        self.histories = {fault.id: History(list(job.seen.get(fault.id, ()))) for fault in job.faults}
        self.left: dict[str, int] = {}
        """By fault the entry that leaves it as it is."""
        self.untested: dict[str, tuple[str, ...]] = {}
        """By cured fault the systems that only the licensed work on, and that none of them worked on or has tested."""
        self.unproven: set[str] = set()
        """The cured dangerous faults that no workshop put right, and that nobody licensed has tested since."""
        self.opened: set[str] = set()
        """The accesses that some check or attempt has needed."""
        self.renewed: dict[str, dict[str, float]] = {}
        """By fault and cause the chance that the piece is sound which stayed on in place of the bad one."""
        self._results: dict[str, dict[str, frozenset[str]]] = {}
        self._made: dict[tuple[str, str], Attempts] = {}

    def found(self, fault_id: str, check_id: str, result: str, number: int | None = None) -> None:
        """Note a check's result on every fault that lists the check.

        Raises ``MisfitError`` where the fault has no such check or result.
        """
        fault = self._fault(fault_id)
        check = self._check(fault, check_id)
        self.opened.update(check.access)
        if result not in self._results_of(fault, check):
            raise MisfitError(f"check {check_id} of {fault_id} has no result {result}")
        name, shown = check.same_as or f"{fault_id}.{check_id}", check.pairs.get(result, result)
        for other in self.rows.values():
            for one in other.checks:
                if name == (one.same_as or f"{other.id}.{one.id}"):
                    own = next((r for r in self._results_of(other, one) if one.pairs.get(r, r) == shown), shown)
                    good = self._borrowed_good(name, other)
                    self.histories[other.id].events.append(Finding(one.id, own, good, number=number))

    def _borrowed_good(self, check: str, fault: Fault) -> float | None:
        """The chance that the piece is sound which a check borrows of a twin of this fault; None for one as it came."""
        group = [f for f in self.rows.values() if f is fault or (fault.twin is not None and f.twin == fault.twin)]
        borrows = next((c.borrows for f in group for c in f.checks if check == f"{f.id}.{c.id}"), None)
        if borrows is None or borrows.fault not in self.histories:
            return None
        cured = self.histories[borrows.fault].cure is not None
        return 1.0 if cured else self.renewed.get(borrows.fault, {}).get(borrows.cause)

    def looked(self, fault_id: str, entry: ItIs | ItIsNot) -> None:
        """Note a cause seen or ruled out. Raises ``MisfitError`` where the fault has no such cause."""
        if entry.cause not in (*self._fault(fault_id).causes, SOMETHING_ELSE):
            raise MisfitError(f"{fault_id} has no cause {entry.cause}")
        self.histories[fault_id].events.append(entry)

    def after_cure(self, fault_id: str, *, works: bool, number: int | None = None) -> None:
        """Note whether a fault works too after a twin was cured of what they may have together; if so it is closed.

        Raises ``MisfitError`` where no twin was.
        """
        fault, causes = self._fault(fault_id), set[str]()
        for twin in self._twins(fault):
            cure = self.histories[twin.id].lasting
            causes |= cured_for_all(twin, cure.repair) if cure is not None and cure.repair is not None else set()
        if not causes:
            raise MisfitError(f"no twin of {fault_id} was cured by a repair that would have cured it too")
        history = self.histories[fault_id]
        history.events.append((Works if works else Still)(tuple(sorted(causes)), number=number))
        history.cure = len(history.events) - 1 if works else history.cure
        if works:
            self.left.pop(fault_id, None)
            self._to_be_proven(fault)

    def came_right(self, fault_id: str, number: int | None = None) -> None:
        """Close a fault that is gone though nothing cured it, which tells nothing of its cause or of its twins.

        What only the licensed work on stays untested. Raises ``MisfitError`` where the job has no such fault.
        """
        fault = self._fault(fault_id)
        history = self.histories[fault.id]
        history.events.append(Attempt(repair=None, origins=(), fits=(), proves=(), number=number))
        history.cure = len(history.events) - 1
        self.left.pop(fault_id, None)
        self._to_be_proven(fault)
        if lacking := protection.licences_lacking(self.job, fault):
            self.untested[fault_id] = lacking

    def _to_be_proven(self, fault: Fault) -> None:
        if fault.severity == Severity.DANGEROUS:
            self.unproven.add(fault.id)

    def _twins(self, fault: Fault) -> list[Fault]:
        return [f for f in self.rows.values() if fault.twin is not None and f.twin == fault.twin and f is not fault]

    def tried_out(self, fitting: Fitting, uses: Sequence[Use], number: int | None = None) -> None:
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
                number=number,
            )
        )
        history.cure = len(history.events) - 1 if fitting.cured else None
        if fitting.cured:
            self.left.pop(fitting.fault, None)
        self.untested.pop(fitting.fault, None)
        self.unproven.discard(fitting.fault)
        if fitting.cured and (repair is None or repair.by == "self"):
            self._to_be_proven(fault)
        if repair is not None and fitting.cured and (own := protection.own_unlicensed(self.job, fault, repair)):
            self.untested[fitting.fault] = own
        if repair is None:
            raise MisfitError(f"{fitting.fault} has no repair {fitting.repair}")
        self.opened.update(repair.access)
        pieces = [piece for piece in fitting.pieces if piece.part in repair.parts]
        if pieces and all(piece.then == "stays-on" for piece in pieces):
            good = prod(piece.good_chance for piece in pieces)
            causes = [cause for cause, chance in (repair.cures or {}).items() if chance > 0]
            self.renewed.setdefault(fitting.fault, {}).update(dict.fromkeys(causes, good))

    def appeared(self, new: NewFault) -> None:
        """A fault was seen: one that was cured is open again, one that the job lists stays as it is listed."""
        if new.fault not in self.rows:
            severity = new.severity or Severity.MAJOR
            self.rows[new.fault] = Fault(id=new.fault, title=new.title, severity=severity)
            self.histories[new.fault] = History()
        self.histories[new.fault].cure = None
        self.left.pop(new.fault, None)
        self.untested.pop(new.fault, None)
        self.unproven.discard(new.fault)

    def tested(self, fault_id: str) -> None:
        """Somebody licensed has passed a cured fault. Raises ``MisfitError`` where there is none such."""
        if self.histories[self._fault(fault_id).id].cure is None:
            raise MisfitError(f"{fault_id} is not cured")
        self.untested.pop(fault_id, None)
        self.unproven.discard(fault_id)

    def leave(self, fault_id: str, number: int) -> None:
        """Leave a fault as it is. Raises ``MisfitError`` where there is none, or it is cured."""
        if self.histories[self._fault(fault_id).id].cure is not None:
            raise MisfitError(f"{fault_id} is cured")
        self.left[fault_id] = number

    def correct_price(self, price: WorkPriceCorrected) -> None:
        """Put in what a repair really costs. Raises ``MisfitError`` where there is none such, or it now costs else."""
        fault = self._fault(price.fault)
        repair = next((each for each in fault.repairs if each.id == price.repair), None)
        if repair is None:
            raise MisfitError(f"{price.fault} has no repair {price.repair}")
        if repair.price_minor not in (price.was_minor, price.now_minor):
            raise MisfitError(f"{price.repair} of {price.fault} now has another price")
        asked = repair.model_copy(update={"price_minor": price.now_minor, "rough": False})
        repairs = tuple(asked if each is repair else each for each in fault.repairs)
        self.rows[fault.id] = fault.model_copy(update={"repairs": repairs})

    def correct_odds(self, odds: OddsCorrected) -> None:
        """Put in a cause's odds, for twins too, each in the scale in which it is written; something-else as a share.

        Raises ``MisfitError`` where there is no such fault or cause.
        """
        fault = self._fault(odds.fault)
        listed = sum(fault.causes.values())
        if odds.cause not in fault.causes and (odds.cause != SOMETHING_ELSE or not fault.causes):
            raise MisfitError(f"{odds.fault} has no cause {odds.cause}")
        for twin in [f for f in self.rows.values() if f is fault or (f.twin is not None and f.twin == fault.twin)]:
            now = max(LEAST_ODDS, odds.now * sum(twin.causes.values()) / listed)
            if odds.cause == SOMETHING_ELSE:
                changed: dict[str, object] = {"something_else": min(MOST_ELSE, odds.now / (odds.now + listed))}
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
            attempts += self._failed_for(self.rows[name])
            if history.cure is None and attempts:
                found[name] = frozenset(origin for attempt in attempts for origin in attempt.origins)
        return found

    def _failed_for(self, fault: Fault) -> list[Attempt]:
        """The attempts on twins that failed and count as attempts on this fault."""
        return [
            event
            for twin in (self._twins(fault) if fault.shared_causes else ())
            for event in self.histories[twin.id].events
            if isinstance(event, Attempt) and event is not self.histories[twin.id].lasting
            if event.repair and cured_for_all(twin, event.repair) and cured_for_all(fault, event.repair)
        ]

    def sound(self, pile: Pile, believed: Mapping[str, Believed]) -> float:
        """The chance that kept pieces are sound, after all that was seen on the fault they were kept from."""
        fault, repair, origin = pile.tries[-1]
        failed = self._failed.get((fault, repair), {})
        piece = failed.get(origin) or failed.get(origin + ANOTHER)
        if piece is None:
            return pile.good_chance
        chance = self._attempts(fault, repair).sound(believed[fault].chances, piece)
        return min(1.0, max(0.0, chance))

    @cached_property
    def _failed(self) -> Mapping[tuple[str, str], Mapping[str, Piece]]:
        """The pieces of the attempts that failed by name, by fault and repair."""
        found: dict[tuple[str, str], dict[str, Piece]] = {}
        for fault, entries in self.noted.items():
            for entry in entries:
                if isinstance(entry, FailedAttempt):
                    found.setdefault((fault, entry.repair), {}).update({piece.name: piece for piece in entry.pieces})
        return found

    def _attempts(self, fault: str, repair: str) -> Attempts:
        """All attempts with a repair; once all happenings are in."""
        if (fault, repair) not in self._made:
            row = self.rows[fault]
            known = (*self.noted[fault], *on_twins(self.rows.values(), self.noted, row))
            self._made[fault, repair] = Attempts(repair_of(row, repair), known)
        return self._made[fault, repair]

    def _fault(self, name: str) -> Fault:
        if name not in self.rows:
            raise MisfitError(f"the job has no fault {name}")
        return self.rows[name]

    @staticmethod
    def _check(fault: Fault, check_id: str) -> Check:
        check = next((c for c in fault.checks if c.id == check_id), None)
        if check is None:
            raise MisfitError(f"{fault.id} has no check {check_id}")
        return check

    def _results_of(self, fault: Fault, check: Check) -> frozenset[str]:
        """The results of a check, one that is not written too."""
        known = self._results.setdefault(fault.id, {})
        if check.id not in known:
            known[check.id] = frozenset(likelihoods(check, list(prior(fault))))
        return known[check.id]


def _proven(history: History) -> tuple[Try, ...]:
    """Earlier attempts whose piece a lasting cure shows to have been sound."""
    return () if history.lasting is None else history.lasting.proves


def _evidence(fault: str, history: History, proven: set[Try]) -> list[Evidence]:
    """The history as evidence. A batch has one chance of being sound throughout the attempts with one repair.

    It is that of the first of them: for another repair that which was left when a piece was fitted so.
    An attempt that cured when it was made once more, with no other pieces, was no true one, and tells nothing.
    """
    goods: dict[tuple[str, str], float] = {}
    found: list[Evidence] = []
    for event in history.events:
        if not isinstance(event, Attempt):
            if not isinstance(event, Works) or (history.cure is not None and event is history.events[history.cure]):
                found.append(event)
        elif event.repair is not None:
            kind = Cured if event is history.lasting else FailedAttempt
            fits = _told_apart(fault, event, history.lasting)
            if kind is FailedAttempt and _made_once_more(event, fits, history.lasting):
                continue
            pieces = []
            for name, good in fits:
                sure = Try(fault, event.repair, name) in proven
                pieces.append(Piece(name, goods.setdefault((event.repair, name), 1.0 if sure else good)))
            found.append(kind(event.repair, tuple(dict.fromkeys(pieces)), number=event.number))
    return found


def _told_apart(fault: str, attempt: Attempt, cure: Attempt | None) -> tuple[tuple[str, float], ...]:
    """The pieces of an attempt by name: a failed one of the batch that cured in the end is not like the rest of it."""
    if cure is None or attempt is cure or attempt.repair is None or attempt.repair != cure.repair:
        return attempt.fits
    others = {origin for origin, _ in cure.fits if Try(fault, attempt.repair, origin) not in cure.proves}
    return tuple((origin + ANOTHER if origin in others else origin, good) for origin, good in attempt.fits)


def _made_once_more(attempt: Attempt, fits: tuple[tuple[str, float], ...], cure: Attempt | None) -> bool:
    """Whether the attempt that cured in the end was the same one again."""
    return cure is not None and attempt.repair == cure.repair and {n for n, _ in fits} <= {n for n, _ in cure.fits}
