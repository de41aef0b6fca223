"""Belief after what was seen, on one fault or on a group of twins: exact Bayes, whatever the order of findings.

Twins: a group has a common cause z, drawn from the odds; each member takes it with chance s, else draws its own from
the same odds. With the strength t, s = sqrt(t), so that the first finding on one of two members moves the other to
(1 - t) * prior + t * posterior. A fault alone is a group of one.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import exp, inf, log, sqrt

from optimiser.diagnosis.belief import Belief, prior
from optimiser.diagnosis.evidence import log_likelihoods, possible
from optimiser.model.evidence import Cured, Evidence, FailedAttempt
from optimiser.model.job import Fault, Job

Entry = tuple[str, Evidence]
"""A fault's id and what was seen on it."""
CausesOf = Callable[[str, tuple[Evidence, ...]], frozenset[str]]
"""The causes under which entries of a fault can all be true."""


@dataclass(frozen=True)
class Standing:
    """What is believed of one fault now.

    ``clash`` holds the entries that cannot all be true (of twins too); while it is not empty, zeros of this fault are
    read as 0.01.
    """

    chances: Belief
    clash: tuple[Entry, ...] = ()


def standings(job: Job) -> dict[str, Standing]:
    """The belief about every fault of a job, cured ones too, after everything seen on it and on its twins, by id."""
    groups: dict[tuple[str, str], list[Fault]] = {}
    for fault in (*job.faults, *job.closed):
        groups.setdefault(("twin", fault.twin) if fault.twin else ("alone", fault.id), []).append(fault)
    found: dict[str, Standing] = {}
    for members in groups.values():
        found |= group_posteriors(members, job.seen, job.settings.twin_strength)
    return found


def posterior(fault: Fault, seen: Sequence[Evidence] = ()) -> Standing:
    """The belief about one fault without twins after everything seen on it.

    Raises ``ValueError`` where an entry names what the fault does not have.
    """
    return group_posteriors([fault], {fault.id: seen}, 0.0)[fault.id]


def group_posteriors(
    members: Sequence[Fault], seen: Mapping[str, Sequence[Evidence]], strength: float
) -> dict[str, Standing]:
    """The belief about each member of a twin group, by fault id, after everything seen on all of them.

    ``seen`` is by fault id; ``strength`` in [0, 1]. Raises ``ValueError`` where the members' causes or odds differ or
    an entry names what its fault does not have.
    """
    common = prior(members[0])
    for fault in members[1:]:
        _must_match(members[0], common, fault)
    entries = [(fault.id, entry) for fault in members for entry in dict.fromkeys(seen.get(fault.id, ()))]
    group = _Group(members, common, sqrt(strength), entries)
    soft: dict[str, tuple[Entry, ...]] = {}
    while clash := group.clash(soft):
        soft |= {fault: clash for fault, _ in clash}
    tables = group.tables(soft)
    return {f.id: Standing(group.belief(f.id, tables), soft.get(f.id, ())) for f in members}


def _must_match(first: Fault, common: Belief, fault: Fault) -> None:
    own = prior(fault)
    if own.keys() != common.keys() or any(abs(own[cause] - common[cause]) > 1e-9 for cause in common):
        raise ValueError(f'twins "{first.id}" and "{fault.id}" do not list the same causes with the same odds')


@dataclass(frozen=True)
class _Group:
    """Twins with their common odds; ``share`` is the chance that a member takes the common cause."""

    members: Sequence[Fault]
    common: Belief
    share: float
    entries: Sequence[Entry]

    def tables(self, soft: Mapping[str, object]) -> dict[str, dict[str, float]]:
        """Log likelihood of everything seen on each member under each cause, zeros softened where asked."""
        return {
            fault.id: log_likelihoods(fault, [e for f, e in self.entries if f == fault.id], soft=fault.id in soft)
            for fault in self.members
        }

    def belief(self, fault: str, tables: Mapping[str, Mapping[str, float]]) -> Belief:
        """P(c_i = c) up to scale: sum over z of pi_z, the other members' evidence given z, and this one's given c."""
        beside = {
            z: _log(chance) + sum(self._given_common(tables[other], z) for other in tables if other != fault)
            for z, chance in self.common.items()
        }
        anything = _log_sum(beside.values())
        weights = {
            cause: tables[fault][cause]
            + _log_sum([_log(self.share) + beside[cause], _log((1 - self.share) * chance) + anything])
            for cause, chance in self.common.items()
        }
        total = _log_sum(weights.values())
        return {cause: exp(weight - total) for cause, weight in weights.items()}

    def _given_common(self, table: Mapping[str, float], cause: str) -> float:
        """Log likelihood of what was seen on a member, given the group's common cause."""
        own = _log_sum(_log(chance) + table[c] for c, chance in self.common.items())
        return _log_sum([_log(self.share) + table[cause], _log(1 - self.share) + own])

    def clash(self, soft: Mapping[str, object]) -> tuple[Entry, ...]:
        """A smallest set of entries that cannot all be true, in their order; empty where all can be.

        Smallest in that leaving out any one of them lets the rest be true. Entries of softened faults never clash.
        """
        hard = [entry for entry in self.entries if entry[0] not in soft]
        faults = {fault.id: fault for fault in self.members}
        causes = lru_cache(maxsize=None)(lambda fault, entries: possible(faults[fault], entries))
        if self._can_be(hard, causes):
            return ()
        for entry in tuple(hard):
            fewer = [kept for kept in hard if kept != entry]
            if not self._can_be(fewer, causes):
                hard = fewer
        return tuple(hard)

    def _can_be(self, entries: Sequence[Entry], causes: CausesOf) -> bool:
        """Whether the entries can all be true: and at one cause in common where twins are one and the same."""
        start = frozenset(cause for cause, chance in self.common.items() if chance > 0)
        left = {fault.id: start for fault in self.members}
        for fault, together in _together(entries):
            left[fault] &= causes(fault, together)
        return all(left.values()) and (self.share < 1 or bool(start.intersection(*left.values())))


def _together(entries: Sequence[Entry]) -> Iterator[tuple[str, tuple[Evidence, ...]]]:
    """Entries that decide together which causes are left: each by itself, but all attempts with a repair that cured.

    Attempts that failed can all be true if each can; beside one that cured they may not be, for it shows what is sound.
    """
    cures = {(fault, entry.repair) for fault, entry in entries if isinstance(entry, Cured)}
    attempts: dict[tuple[str, str], tuple[Evidence, ...]] = {}
    for fault, entry in entries:
        if isinstance(entry, FailedAttempt | Cured) and (fault, entry.repair) in cures:
            attempts[fault, entry.repair] = (*attempts.get((fault, entry.repair), ()), entry)
        else:
            yield fault, (entry,)
    for (fault, _), tried in attempts.items():
        yield fault, tried


def _log(value: float) -> float:
    return log(value) if value > 0 else -inf


def _log_sum(logs: Iterable[float]) -> float:
    """The logarithm of a sum, from the logarithms of its terms."""
    terms = list(logs)
    largest = max(terms)
    return largest if largest == -inf else largest + log(sum(exp(term - largest) for term in terms))
