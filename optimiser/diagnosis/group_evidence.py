"""What was seen in a twin group, as factors: each tells of one fault, of two where a piece was borrowed, or of all.

Shared causes are those that all members have or none. A repair that cures some of them by ``cures`` is one repair for
the group: where the cause is shared, all attempts with it count together.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import inf, log

from optimiser.diagnosis.belief import prior
from optimiser.diagnosis.evidence import check_of, of_attempts, of_finding, of_look, one_good_a_piece, repair_of
from optimiser.model.evidence import Cured, Evidence, FailedAttempt, Finding, Still
from optimiser.model.job import Check, Fault

SOFT_ZERO = 0.01
"""What an impossible entry is read as, on a fault whose entries clash."""
Entry = tuple[str, Evidence]
"""A fault's id and what was seen on it."""


@dataclass(frozen=True)
class Tells:
    """How likely entries are together: by the causes of the faults in ``of``, or by the one cause that all have.

    ``alike`` tells where that counts: True where the cause is a shared one, False where not, None in any case.
    ``concerns`` are all faults whose entries clash if these do.
    """

    of: tuple[str, ...]
    chances: Mapping[tuple[str, ...], float]
    entries: tuple[Entry, ...] = ()
    concerns: frozenset[str] = frozenset()
    alike: bool | None = None

    def log(self, causes: tuple[str, ...], soft: Iterable[str] = ()) -> float:
        """The logarithm of the chance where the faults have these causes; zeros are read as 0.01 for soft faults."""
        chance = self.chances[causes]
        if chance > 0:
            return log(chance)
        return -inf if self.concerns.isdisjoint(soft) else log(SOFT_ZERO)

    @property
    def excludes(self) -> bool:
        """Whether anything is impossible after it."""
        return min(self.chances.values()) <= 0


def told(members: Mapping[str, Fault], entries: Iterable[Entry]) -> Iterator[Tells]:
    """What all entries tell, those that count together as one.

    Raises ``ValueError`` where an entry names what its fault does not have.
    """
    attempts: dict[tuple[str, str], list[FailedAttempt | Cured]] = {}
    known = list(entries)
    still = frozenset(cause for _, entry in known if isinstance(entry, Still) for cause in entry.causes)
    for fault, entry in known:
        if isinstance(entry, FailedAttempt | Cured):
            attempts.setdefault((fault, entry.repair), []).append(entry)
        elif isinstance(entry, Finding):
            yield finding(members, fault, entry)
        else:
            yield _alone(fault, of_look(members[fault], entry), [(fault, entry)])
    linked: dict[str, list[Entry]] = {}
    for (fault, repair), tried in attempts.items():
        own = [(fault, entry) for entry in tried]
        alike = False if cured_for_all(members[fault], repair) else None
        row = of_attempts(members[fault], repair, tried)
        if not still.isdisjoint(cured_for_all(members[fault], repair)) and any(isinstance(e, Cured) for e in tried):
            row |= dict.fromkeys(_uncured(members[fault], repair), SOFT_ZERO)
        yield _alone(fault, row, own, alike)
        if alike is False:
            linked.setdefault(repair, []).extend(own)
    yield from (_together(members, repair, own) for repair, own in linked.items())


def finding(members: Mapping[str, Fault], fault: str, entry: Finding) -> Tells:
    """What a check's result tells: of two faults where a piece was borrowed that was as it came."""
    check, own = check_of(members[fault], entry.check), [(fault, entry)]
    if check.borrows is None or check.borrows.fault not in members or entry.borrowed_good is not None:
        return _alone(fault, of_finding(members[fault], entry), own)
    other, cause = check.borrows.fault, check.borrows.cause
    good, bad = of_finding(members[fault], entry), of_finding(members[fault], entry, bad=1.0)
    chances: dict[tuple[str, ...], float] = {
        (c, at): (bad if at == cause else good)[c] for c in good for at in prior(members[other])
    }
    return Tells((fault, other), chances, tuple(own), frozenset((fault, other)))


def _alone(fault: str, row: Mapping[str, float], own: Sequence[Entry], alike: bool | None = None) -> Tells:
    return Tells((fault,), {(c,): chance for c, chance in row.items()}, tuple(own), frozenset((fault,)), alike)


def _together(members: Mapping[str, Fault], repair: str, own: Sequence[Entry]) -> Tells:
    """All attempts of the group with one repair, where the cause is one that all members have."""
    first = own[0][0]
    tried = [entry for _, entry in own if isinstance(entry, FailedAttempt | Cured)]
    row = of_attempts(members[first], repair, one_good_a_piece(tried))
    return replace(_alone(first, row, own, alike=True), concerns=frozenset(fault for fault, _ in own))


def _uncured(fault: Fault, repair: str) -> Iterator[str]:
    """Causes that a repair does not cure: it may have met one all the same where a twin is still as it was after it.

    Else such a twin would be a contradiction, and it is not: two things may have been wrong at once.
    """
    return (cause for cause in prior(fault) if repair_of(fault, repair).cure(cause) <= 0)


def cured_for_all(fault: Fault, repair: str) -> frozenset[str]:
    """The shared causes that a repair of the fault cures by ``cures``: with it they are cured for the whole group."""
    found = next((r for r in fault.repairs if r.id == repair), None)
    cures = {} if found is None or found.cures is None else found.cures
    return frozenset(cause for cause in fault.shared_causes if cures.get(cause, 0.0) > 0)


def owner(members: Mapping[str, Fault], check: Check) -> tuple[str, str] | None:
    """The fault and the check that a check with ``same_as`` is, where the fault is among these."""
    if check.same_as is None:
        return None
    known = ((f.id, c.id) for f in members.values() for c in f.checks if f"{f.id}.{c.id}" == check.same_as)
    return next(known, None)


def owned(members: Mapping[str, Fault], fault: str, entry: Finding) -> tuple[str, Finding]:
    """A finding as it is taken: the result of a check that belongs to a twin is a result of that twin's."""
    check = check_of(members[fault], entry.check)
    belongs = owner(members, check)
    if belongs is None:
        return fault, entry
    return belongs[0], Finding(belongs[1], check.pairs.get(entry.result, entry.result), entry.borrowed_good)
