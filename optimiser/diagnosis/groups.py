"""Belief after what was seen, on one fault or on a group of twins: exact Bayes, whatever the order of findings.

Twins: with the chance that the odds give to the shared causes one of these is the cause of all members. Else a group
has a common cause z, drawn from the odds of the other causes; each member takes it with chance s, else draws its own
from the same odds. With the strength t, s = sqrt(t), so that the first finding on one of two members moves the other to
(1 - t) * prior + t * posterior, where nothing is shared. A fault alone is a group of one.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product
from math import exp, inf, log, sqrt

from optimiser.diagnosis.belief import Belief, Table, likelihoods, prior
from optimiser.diagnosis.evidence import check_of
from optimiser.diagnosis.group_evidence import Entry, Tells, cured_for_all, finding, owned, owner, told
from optimiser.model.evidence import Cured, Evidence, FailedAttempt, Finding, OnTwin, Still, Tried, Works
from optimiser.model.job import Check, Fault, Job

Logs = dict[str, float]
"""Logarithm of a chance by cause."""


@dataclass(frozen=True)
class Believed:
    """What is believed of one fault now.

    ``clash`` holds the entries that cannot all be true (of twins too); while it is not empty, zeros of this fault are
    read as 0.01.
    """

    chances: Belief
    clash: tuple[Entry, ...] = ()


def standings(job: Job) -> dict[str, Believed]:
    """The belief about every fault of a job, cured ones too, after everything seen on it and on its twins, by id."""
    found: dict[str, Believed] = {}
    for members in _groups(job):
        found |= _group(job, members).standings()
    return found


def standing(job: Job, fault: Fault) -> Believed:
    """The belief about one fault alone, as ``standings`` has it."""
    return _group(job, _group_of(job, fault)).standings()[fault.id]


def unanswered(job: Job) -> dict[str, frozenset[str]]:
    """Open faults whose cause may have been cured together with a twin's, as far as nobody has said: those causes."""
    found: dict[str, frozenset[str]] = {}
    for members in _groups(job):
        found |= {fault: frozenset(still.causes) for fault, still in _group(job, members).unanswered}
    return found


def with_twins(job: Job, fault: Fault) -> tuple[Tried, ...]:
    """What was seen on a fault, with the attempts on its twins that count here too."""
    return (*job.seen.get(fault.id, ()), *on_twins(_group_of(job, fault), job.seen, fault))


def on_twins(faults: Iterable[Fault], seen: Mapping[str, Sequence[Evidence]], fault: Fault) -> Iterator[OnTwin]:
    """The attempts on a fault's twins that count for it too."""
    for twin in faults if fault.twin and fault.shared_causes else ():
        for entry in seen.get(twin.id, ()) if twin.twin == fault.twin and twin.id != fault.id else ():
            if isinstance(entry, FailedAttempt | Cured) and cured_for_all(twin, entry.repair):
                causes = cured_for_all(fault, entry.repair)
                if causes:
                    yield OnTwin(entry, causes)


def made_now(job: Job, fault: Fault, check: Check, result: str) -> Finding:
    """The result of a check as evidence, if it were made now: with what is known of a piece that it borrows."""
    found = owner({f.id: f for f in _group_of(job, fault)}, check)
    borrows = check.borrows if found is None else check_of(_fault(job, found[0]), found[1]).borrows
    if borrows is None:
        return Finding(check.id, result)
    cured = any(one.id == borrows.fault for one in job.closed)
    return Finding(check.id, result, 1.0 if cured else job.renewed.get(borrows.fault, {}).get(borrows.cause))


def tables(job: Job, fault: Fault) -> dict[str, Table]:
    """The chance of a result given this fault's cause alone, by check, for the checks that tell of a twin too.

    Exact for one such check on a path. Nothing where entries of the group clash: then results count as written.
    """
    members = {member.id: member for member in _group_of(job, fault)}
    telling = [check for check in fault.checks if check.borrows or owner(members, check)]
    if not telling:
        return {}
    group = _group(job, list(members.values()))
    if group.soft:
        return {}
    return {check.id: group.table(fault, check, made_now(job, fault, check, "").borrowed_good) for check in telling}


def _groups(job: Job) -> list[list[Fault]]:
    groups: dict[tuple[str, str], list[Fault]] = {}
    for fault in (*job.faults, *job.closed):
        groups.setdefault(("twin", fault.twin) if fault.twin else ("alone", fault.id), []).append(fault)
    return list(groups.values())


def _group_of(job: Job, fault: Fault) -> list[Fault]:
    """The fault and its twins, open and cured."""
    return [f for f in (*job.faults, *job.closed) if f.twin == fault.twin] if fault.twin else [fault]


def _group(job: Job, members: Sequence[Fault]) -> Group:
    cured = {fault.id for fault in job.closed}
    opened = {fault.id for fault in members} - cured
    return Group(members, job.seen, job.settings.twin_strength, opened)


def _fault(job: Job, name: str) -> Fault:
    return next(fault for fault in (*job.faults, *job.closed) if fault.id == name)


class Group:
    """Twins with what was seen on them; ``share`` is the chance that a member takes the common cause."""

    def __init__(
        self, members: Sequence[Fault], seen: Mapping[str, Sequence[Evidence]], strength: float, opened: Collection[str]
    ) -> None:
        self.members = {fault.id: fault for fault in members}
        self.common, self.share, self.opened = prior(members[0]), sqrt(strength), opened
        for fault in members[1:]:
            _must_match(members[0], self.common, fault)
        self.shared = frozenset(members[0].shared_causes if len(members) > 1 else ()) & self.common.keys()
        apart = {cause: chance for cause, chance in self.common.items() if cause not in self.shared}
        kept = sum(apart.values())
        self.apart = {cause: chance / kept if kept else 1 / len(apart) for cause, chance in apart.items()}
        self.log_apart = _log(kept)
        everything = ((fault.id, entry) for fault in members for entry in seen.get(fault.id, ()))
        taken = (owned(self.members, f, e) if isinstance(e, Finding) else (f, e) for f, e in everything)
        self.entries: list[Entry] = list(dict.fromkeys(taken))

    @cached_property
    def unanswered(self) -> tuple[tuple[str, Still], ...]:
        """What is taken for said of open members after a cure that may have been theirs too, until it is said."""
        cures = [(f, cured_for_all(self.members[f], e.repair)) for f, e in self.entries if isinstance(e, Cured)]
        found = []
        for fault in (name for name in self.members if name in self.opened):
            causes = frozenset[str]().union(*(causes for other, causes in cures if other != fault))
            said = (e.causes for f, e in self.entries if f == fault and isinstance(e, Works | Still))
            left = causes.difference(*said)
            if left:
                found.append((fault, Still(tuple(sorted(left)))))
        return tuple(found)

    @cached_property
    def soft(self) -> dict[str, tuple[Entry, ...]]:
        """The faults whose entries clash, each with a smallest set that cannot all be true."""
        return self._settled[0]

    @cached_property
    def known(self) -> tuple[tuple[Tells, ...], dict[str, Logs]]:
        """All that is taken for true, and the weight of each cause of each member after it."""
        soft, background = self._settled
        taken = tuple(told(self.members, [*self.entries, *background]))
        return taken, self._weights(taken, soft)

    @cached_property
    def _settled(self) -> tuple[dict[str, tuple[Entry, ...]], Sequence[Entry]]:
        """What clashes, and what is taken for said: nothing where what was seen shows that it is not so."""
        return self._softened(self.unanswered)

    def _softened(self, background: Sequence[Entry]) -> tuple[dict[str, tuple[Entry, ...]], Sequence[Entry]]:
        soft: dict[str, tuple[Entry, ...]] = {}
        while clash := self._clash(soft, background):
            clashing = list(told(self.members, clash))
            if background and _can_be(self._weights(clashing, soft)):
                return self._softened(())
            soft |= dict.fromkeys((fault for tells in clashing for fault in tells.concerns), clash)
        return soft, background

    def standings(self) -> dict[str, Believed]:
        """The belief about each member."""
        found = {}
        for fault, logs in self.known[1].items():
            total = _log_sum(logs.values())
            chances = {cause: exp(logs[cause] - total) for cause in self.common}
            found[fault] = Believed(chances, self.soft.get(fault, ()))
        return found

    def table(self, fault: Fault, check: Check, borrowed_good: float | None) -> Table:
        """The chance of each result of a check given the cause of one member, whatever the others' are."""
        plain = likelihoods(check, list(self.common))
        taken, before = self.known
        found: Table = {}
        for result in plain:
            tells = finding(self.members, *owned(self.members, fault.id, Finding(check.id, result, borrowed_good)))
            after = self._weights([*taken, tells], ())[fault.id]
            own = before[fault.id]
            found[result] = {c: exp(after[c] - own[c]) if own[c] > -inf else plain[result][c] for c in self.common}
        return found

    def _clash(self, soft: Collection[str], background: Sequence[Entry]) -> tuple[Entry, ...]:
        """A smallest set of entries that cannot all be true, in their order; empty where all can be.

        Smallest in that leaving out any one of them lets the rest be true. Entries of softened faults never clash.
        """
        everything = list(told(self.members, [*self.entries, *background]))
        if _can_be(self._weights(everything, soft)):
            return ()
        excluding = {
            e for tells in everything if tells.excludes and tells.concerns.isdisjoint(soft) for e in tells.entries
        }
        hard = [entry for entry in self.entries if entry in excluding]
        for entry in tuple(hard):
            fewer = [kept for kept in hard if kept != entry]
            if not _can_be(self._weights(tuple(told(self.members, [*fewer, *background])), soft)):
                hard = fewer
        return tuple(hard)

    def _weights(self, taken: Collection[Tells], soft: Collection[str]) -> dict[str, Logs]:
        """Log weight of each cause of each member: the chance of all worlds with it, times what was seen there."""
        found = self._apart([tells for tells in taken if tells.alike is not True], soft)
        everywhere = [tells for tells in taken if tells.alike is not False]
        for cause in self.shared:
            seen = sum(tells.log((cause,) * len(tells.of), soft) for tells in everywhere)
            for logs in found.values():
                logs[cause] = _log(self.common[cause]) + seen
        return found

    def _apart(self, taken: Collection[Tells], soft: Collection[str]) -> dict[str, Logs]:
        """The weights of causes that are not shared: sum over the common cause, member by member or those tied."""
        pieces = [_Tied(faults, self, taken, soft) for faults in self._tied(taken)]
        if len(self.members) == 1:
            return {pieces[0].faults[0]: pieces[0].alone()}
        by_common = {z: [piece.given(z) for piece in pieces] for z in self.apart}
        whole = {z: [_log_sum(next(iter(p.values())).values()) for p in found] for z, found in by_common.items()}
        weights: dict[str, Logs] = {}
        for number, piece in enumerate(pieces):
            beside = {
                z: self.log_apart + _log(chance) + sum(w for n, w in enumerate(whole[z]) if n != number)
                for z, chance in self.apart.items()
            }
            for fault in piece.faults:
                weights[fault] = {
                    c: _log_sum(beside[z] + by_common[z][number][fault][c] for z in self.apart) for c in self.apart
                }
        return {fault: weights[fault] for fault in self.members}

    def _tied(self, taken: Iterable[Tells]) -> Iterator[tuple[str, ...]]:
        """The members in parts, those together that some finding ties to one another."""
        part = {fault: frozenset((fault,)) for fault in self.members}
        for tells in taken:
            whole = frozenset[str]().union(*(part[fault] for fault in tells.of))
            part |= dict.fromkeys(whole, whole)
        for whole in dict.fromkeys(part.values()):
            yield tuple(fault for fault in self.members if fault in whole)


class _Tied:
    """Members of a group that must be gone through together, most often one alone: all combinations of their causes."""

    def __init__(self, faults: tuple[str, ...], group: Group, taken: Iterable[Tells], soft: Collection[str]) -> None:
        self.faults, self.group, self.causes = faults, group, list(group.apart)
        own = [tells for tells in taken if tells.of[0] in faults]
        self.seen = [0.0]
        for fault in faults:
            alone = [tells for tells in own if tells.of == (fault,)]
            row = [sum(tells.log((cause,), soft) for tells in alone) for cause in self.causes]
            self.seen = [before + log for before in self.seen for log in row]
        for tells in (tells for tells in own if len(tells.of) > 1):
            places = [faults.index(fault) for fault in tells.of]
            logs = {causes: tells.log(causes, soft) for causes in tells.chances}
            for number, causes in enumerate(product(self.causes, repeat=len(faults))):
                self.seen[number] += logs[tuple(causes[place] for place in places)]

    def alone(self) -> Logs:
        """The weights of a fault without twins."""
        apart = self.group.apart.items()
        return {cause: _log(chance) + seen for (cause, chance), seen in zip(apart, self.seen, strict=True)}

    def given(self, common: str) -> dict[str, Logs]:
        """The weights of each member's causes, given the group's common cause."""
        share = self.group.share
        draw = [_log(share * (c == common) + (1 - share) * chance) for c, chance in self.group.apart.items()]
        weights = [0.0]
        for _ in self.faults:
            weights = [before + log for before in weights for log in draw]
        weights = [weight + seen for weight, seen in zip(weights, self.seen, strict=True)]
        largest = max(weights)
        if largest == -inf:
            return {fault: dict.fromkeys(self.causes, -inf) for fault in self.faults}
        masses = [exp(weight - largest) for weight in weights]
        return {
            fault: {cause: largest + _log(mass) for cause, mass in self._of(number, masses)}
            for number, fault in enumerate(self.faults)
        }

    def _of(self, number: int, masses: Sequence[float]) -> Iterator[tuple[str, float]]:
        """The mass of each cause of one member, whatever the others' are."""
        run = len(self.causes) ** (len(self.faults) - 1 - number)
        for place, cause in enumerate(self.causes):
            starts = range(place * run, len(masses), len(self.causes) * run)
            yield cause, sum(sum(masses[start : start + run]) for start in starts)


def _must_match(first: Fault, common: Belief, fault: Fault) -> None:
    own = prior(fault)
    if own.keys() != common.keys() or any(abs(own[cause] - common[cause]) > 1e-9 for cause in common):
        raise ValueError(f'twins "{first.id}" and "{fault.id}" do not list the same causes with the same odds')
    if set(first.shared_causes) != set(fault.shared_causes):
        raise ValueError(f'twins "{first.id}" and "{fault.id}" do not share the same causes')


def _can_be(weights: Mapping[str, Logs]) -> bool:
    return max(next(iter(weights.values())).values()) > -inf


def _log(value: float) -> float:
    return log(value) if value > 0 else -inf


def _log_sum(logs: Iterable[float]) -> float:
    """The logarithm of a sum, from the logarithms of its terms."""
    terms = list(logs)
    largest = max(terms, default=-inf)
    return largest if largest == -inf else largest + log(sum(exp(term - largest) for term in terms))
