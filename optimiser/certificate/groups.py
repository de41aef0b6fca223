"""The witness on twins: what is believed of a group in exact fractions, world by world where a piece was borrowed.

Either one shared cause is that of all members, or each member takes the common cause z with chance s = sqrt(strength)
and else draws its own, from the causes that are not shared. Causes are enumerated together only for members between
which a piece was borrowed; the others are summed over one by one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from itertools import product
from math import prod, sqrt

from optimiser.certificate.belief import NOTHING, ONE, Masses, cure, exact, none_sound, not_cured, prior, results
from optimiser.model.evidence import Cured, Evidence, FailedAttempt, Finding, ItIs, ItIsNot, Piece, Still, Works
from optimiser.model.job import Borrowed, Check, Fault, Job

DOUBT = Fraction(1, 100)
"""The chance that a repair cured what it does not cure, where a twin is still as it was after it."""
Seen = Mapping[str, Sequence[Evidence]]


def beliefs(job: Job) -> dict[str, Masses | None]:
    """What is believed of each fault after all that was seen on it and on its twins; None where that is impossible."""
    found: dict[str, Masses | None] = {}
    for fault in job.faults:
        if fault.twin is None and not job.seen.get(fault.id):
            found[fault.id] = prior(fault)
        elif fault.id not in found:
            group = GroupWitness.of(job, fault)
            found |= {name: group.belief(name) for name in group.members}
    return {fault.id: found[fault.id] for fault in job.faults}


def tables(job: Job, fault: Fault) -> dict[str, dict[str, dict[str, Fraction]]]:
    """The chance of every result of a fault's checks given its cause, whatever the causes of its twins are."""
    group = GroupWitness.of(job, fault)
    found = {}
    for check in fault.checks:
        found[check.id] = results(check, prior(fault))
        if (check.borrows or group.owner(check)) and group.possible:
            found[check.id] = {r: group.given(fault, check, r, row) for r, row in found[check.id].items()}
    return found


def counted(job: Job, fault: Fault, repair: str, cause: str) -> tuple[list[frozenset[Piece]], bool]:
    """The pieces of the attempts with a repair that failed and count for a cause; whether that was cured for all."""
    group = GroupWitness.of(job, fault)
    tried = [e for e in job.seen.get(fault.id, ()) if isinstance(e, FailedAttempt | Cured) and e.repair == repair]
    done = False
    for twin in group.members.values():
        if twin.id != fault.id and cause in group.for_all(fault, repair) and group.for_all(twin, repair):
            beside = [
                e for e in job.seen.get(twin.id, ()) if isinstance(e, FailedAttempt | Cured) and e.repair == repair
            ]
            done |= any(isinstance(e, Cured) for e in beside)
            tried += beside
    return [pieces for entry, pieces in _as_first_tried(tried) if isinstance(entry, FailedAttempt)], done


def used_for_all(job: Job, fault: Fault) -> set[str]:
    """Pieces that failed on a twin with a repair that would have cured this fault too."""
    group = GroupWitness.of(job, fault)
    return {
        piece.name
        for twin in group.members.values()
        for e in (job.seen.get(twin.id, ()) if twin.id != fault.id else ())
        if isinstance(e, FailedAttempt) and group.for_all(fault, e.repair) and group.for_all(twin, e.repair)
        for piece in e.pieces
    }


def _as_first_tried(tried: Iterable[FailedAttempt | Cured]) -> list[tuple[FailedAttempt | Cured, frozenset[Piece]]]:
    """Attempts with their pieces; a piece that was kept and tried again is the piece that it was before."""
    entries = list(dict.fromkeys(tried))
    good = dict(sorted((piece.name, piece.good) for entry in entries for piece in entry.pieces))  # the greatest is last
    return [(entry, frozenset(Piece(p.name, good[p.name]) for p in entry.pieces)) for entry in entries]


@dataclass(frozen=True)
class GroupWitness:
    """A fault with its twins, open and cured."""

    job: Job
    members: Mapping[str, Fault]

    @classmethod
    def of(cls, job: Job, fault: Fault) -> GroupWitness:
        """The group of a fault, or the fault alone."""
        twins = [f for f in (*job.faults, *job.closed) if f.twin == fault.twin] if fault.twin is not None else []
        return cls(job, {f.id: f for f in (twins or [fault])})

    @staticmethod
    def for_all(fault: Fault, repair: str) -> set[str]:
        """The shared causes that a repair cures by ``cures``."""
        cures = next((r.cures or {} for r in fault.repairs if r.id == repair), {})
        return {cause for cause in fault.shared_causes if cures.get(cause, 0) > 0}

    def owner(self, check: Check) -> tuple[str, str] | None:
        """The twin and its check that a check is."""
        names = {f"{f.id}.{c.id}": (f.id, c.id) for f in self.members.values() for c in f.checks}
        return names.get(check.same_as or "")

    @cached_property
    def _seen(self) -> dict[str, list[Evidence]]:
        """What was seen, by the fault whose check it is, each once; with what is taken for said after a cure."""
        said: dict[str, list[Evidence]] = {name: [] for name in self.members}
        for name in self.members:
            for entry in self.job.seen.get(name, ()):
                own = (name, entry)
                if isinstance(entry, Finding):
                    own = self._own(name, entry)
                if own[1] not in said[own[0]]:
                    said[own[0]].append(own[1])
        taken = {name: [*entries, *self._unanswered(name, said)] for name, entries in said.items()}
        return taken if any(self._masses(taken)[next(iter(taken))].values()) else said

    def _own(self, name: str, entry: Finding) -> tuple[str, Finding]:
        check = next((c for c in self.members[name].checks if c.id == entry.check), None)
        owner = None if check is None else self.owner(check)
        if check is None or owner is None:
            return name, entry
        return owner[0], Finding(owner[1], check.pairs.get(entry.result, entry.result), entry.borrowed_good)

    def _unanswered(self, name: str, said: Seen) -> Iterator[Still]:
        """After a cure that may have been an open twin's too it is taken to be still as it was, until somebody says."""
        if all(fault.id != name for fault in self.job.faults):
            return
        cured = {c for f, entries in said.items() if f != name for e in entries if isinstance(e, Cured)
                 for c in self.for_all(self.members[f], e.repair)}  # fmt: skip
        cured -= {c for e in said[name] if isinstance(e, Works | Still) for c in e.causes}
        if cured:
            yield Still(tuple(sorted(cured)))

    @cached_property
    def _known(self) -> dict[str, dict[str, Fraction]]:
        return self._masses(self._seen)

    @property
    def possible(self) -> bool:
        """Whether all that was seen can be true."""
        return any(next(iter(self._known.values())).values())

    def belief(self, name: str) -> Masses | None:
        """What is believed of a member; None where what was seen is impossible."""
        total = sum(self._known[name].values(), NOTHING)
        return {c: mass / total for c, mass in self._known[name].items()} if total else None

    def given(self, fault: Fault, check: Check, result: str, plain: Masses) -> dict[str, Fraction]:
        """The chance of a result given a member's cause."""
        owner = self.owner(check)
        rows = self.members if owner is None else {owner[0]: self.members[owner[0]]}
        borrows = check.borrows if owner is None else next(c.borrows for c in rows[owner[0]].checks if c.id == owner[1])
        good = None
        if borrows is not None:
            cured = any(f.id == borrows.fault for f in self.job.closed)
            good = 1.0 if cured else self.job.renewed.get(borrows.fault, {}).get(borrows.cause)
        name, entry = self._own(fault.id, Finding(check.id, result, good))
        after = self._masses({**self._seen, name: [*self._seen[name], entry]})[fault.id]
        before = self._known[fault.id]
        return {c: after[c] / mass if mass else plain[c] for c, mass in before.items()}

    def _masses(self, seen: Seen) -> dict[str, dict[str, Fraction]]:
        """The chance of all that was seen together with each cause of each member."""
        common = prior(next(iter(self.members.values())))
        shared = set(next(iter(self.members.values())).shared_causes) if len(self.members) > 1 else set()
        apart = {c: p for c, p in common.items() if c not in shared}
        kept = sum(apart.values(), NOTHING)
        found = {name: dict.fromkeys(common, NOTHING) for name in self.members}
        for z, chance in apart.items():
            self._add_apart(seen, {c: p / kept for c, p in apart.items()}, z, chance, found)
        for z in shared:
            alike = common[z] * self._all_have(seen, z)
            for masses in found.values():
                masses[z] = alike
        return found

    def _add_apart(
        self, seen: Seen, apart: Masses, z: str, chance: Fraction, found: dict[str, dict[str, Fraction]]
    ) -> None:
        """Add the worlds in which the common cause is ``z``, none of those that are shared."""
        share = exact(sqrt(self.job.settings.twin_strength))
        draw = {c: share * (c == z) + (1 - share) * p for c, p in apart.items()}
        still = {c for entries in seen.values() for e in entries if isinstance(e, Still) for c in e.causes}
        own = {n: {c: draw[c] * self._alone(n, seen[n], c, still) for c in apart} for n in self.members}
        borrowed = [b for n in self.members for e in seen[n] if (b := self._borrowed(n, e)) is not None]
        tied = list(dict.fromkeys(f for name, _, _, piece in borrowed for f in (name, piece.fault)))
        single = [name for name in self.members if name not in tied]
        whole = {name: sum(own[name].values(), NOTHING) for name in single}
        together = {name: dict.fromkeys(apart, NOTHING) for name in tied}
        anything = NOTHING if tied else ONE
        for causes in product(apart, repeat=len(tied)) if tied else ():
            at = dict(zip(tied, causes, strict=True))
            mass = prod((own[n][c] for n, c in at.items()), start=ONE)
            for name, check, result, piece in borrowed if mass else ():
                bad = Fraction(at[piece.fault] == piece.cause)
                mass *= _shown(self.members[name], check, result, at[name], bad)
            anything += mass
            for name, cause in at.items():
                together[name][cause] += mass
        rest = prod(whole.values(), start=chance)
        for name, masses in together.items():
            for cause, mass in masses.items():
                found[name][cause] += rest * mass
        for name in single:
            beside = prod((w for n, w in whole.items() if n != name), start=chance * anything)
            for cause, mass in own[name].items():
                found[name][cause] += beside * mass

    def _borrowed(self, name: str, entry: Evidence) -> tuple[str, Check, str, Borrowed] | None:
        """A finding on a piece of a twin that was as it came: the fault, the check, its result, the piece."""
        if not isinstance(entry, Finding) or entry.borrowed_good is not None:
            return None
        check = next((c for c in self.members[name].checks if c.id == entry.check), None)
        if check is None or check.borrows is None or check.borrows.fault not in self.members:
            return None
        return name, check, entry.result, check.borrows

    def _alone(self, name: str, entries: Sequence[Evidence], cause: str, still: set[str]) -> Fraction:
        """The chance of what was seen on a member by itself, given its cause.

        Where a twin is ``still`` as it was after a repair for all, that may have met a cause that it does not cure.
        """
        chance = ONE
        for entry in entries:
            if self._borrowed(name, entry) is None:
                chance *= self._told(name, entry, cause)
        fault = self.members[name]
        for repair in {e.repair for e in entries if isinstance(e, FailedAttempt | Cured)} if chance else ():
            tried = [e for e in entries if isinstance(e, FailedAttempt | Cured) and e.repair == repair]
            doubted = self.for_all(fault, repair) & still and any(isinstance(e, Cured) for e in tried)
            chance *= DOUBT if doubted and not cure(fault, repair, cause) else _went(fault, tried, cause)
        return chance

    def _all_have(self, seen: Seen, cause: str) -> Fraction:
        """The chance of all that was seen where every member has a shared cause: repairs for all are one repair."""
        chance = prod((self._told(n, e, cause) for n, entries in seen.items() for e in entries), start=ONE)
        together: list[FailedAttempt | Cured] = []
        for name, entries in seen.items():
            tried = [e for e in entries if isinstance(e, FailedAttempt | Cured)]
            linked = [e for e in tried if self.for_all(self.members[name], e.repair)]
            together += linked
            chance *= _went(self.members[name], [e for e in tried if e not in linked], cause)
        by_fault = {r: f for f in self.members.values() for r in {e.repair for e in together} if self.for_all(f, r)}
        for repair, fault in by_fault.items():
            chance *= _went(fault, [e for e in together if e.repair == repair], cause)
        return chance

    def _told(self, name: str, entry: Evidence, cause: str) -> Fraction:
        """The chance of one entry that is no attempt, given its fault's cause; of a borrowed piece that it is good."""
        if isinstance(entry, Finding):
            check = next((c for c in self.members[name].checks if c.id == entry.check), None)
            bad = NOTHING if entry.borrowed_good is None else 1 - exact(entry.borrowed_good)
            return NOTHING if check is None else _shown(self.members[name], check, entry.result, cause, bad)
        if isinstance(entry, ItIs | ItIsNot):
            return Fraction((entry.cause == cause) == isinstance(entry, ItIs))
        if isinstance(entry, Works | Still):
            return Fraction((cause in entry.causes) == isinstance(entry, Works))
        return ONE


def _shown(fault: Fault, check: Check, result: str, cause: str, bad: Fraction) -> Fraction:
    """The chance of a result; a borrowed piece that is bad never shows the first, which goes to the others."""
    column = {name: row[cause] for name, row in results(check, prior(fault)).items()}
    first, *others = column
    if result == first:
        return column[first] * (1 - bad)
    if result not in column:
        return NOTHING
    rest = sum((column[other] for other in others), NOTHING)
    share = column[result] / rest if rest else Fraction(result == others[-1])
    return column[result] + bad * column[first] * share


def _went(fault: Fault, tried: Sequence[FailedAttempt | Cured], cause: str) -> Fraction:
    """The chance that every attempt turned out as it did; one that cured shows its pieces sound."""
    chance = ONE
    for repair in {entry.repair for entry in tried}:
        known = _as_first_tried(entry for entry in tried if entry.repair == repair)
        failed = [pieces for entry, pieces in known if isinstance(entry, FailedAttempt)]
        cured = [pieces for entry, pieces in known if isinstance(entry, Cured)]
        curing = cure(fault, repair, cause)
        if cured:
            sound = frozenset[Piece]().union(*cured)
            chance *= prod((exact(piece.good) for piece in sound), start=curing)
            chance *= none_sound([pieces - sound for pieces in failed])
        else:
            chance *= not_cured(curing, none_sound(failed))
    return chance
