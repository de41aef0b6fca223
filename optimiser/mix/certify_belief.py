"""The witness on chances: what is believed of every fault, in exact fractions, straight from the job as written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from math import fsum, prod, sqrt

from optimiser.model.evidence import Cured, Evidence, FailedAttempt, Finding, ItIs, ItIsNot, Piece
from optimiser.model.job import SOMETHING_ELSE, Check, Fault, Job, Repair
from optimiser.model.plan import Odds
from optimiser.model.route import CheckStep, Route

Masses = Mapping[str, Fraction]
"""A chance together with each cause; for a belief they sum to 1."""
NEAR = 1e-9
"""How near a chance in floats must be to the exact one."""
PartSets = Sequence[frozenset[Piece]]
NOTHING, HALF, ONE = Fraction(0), Fraction(1, 2), Fraction(1)


@lru_cache(maxsize=4096)
def exact(value: float) -> Fraction:
    """A number as it was written, in decimals: 0.1 is a tenth."""
    return Fraction(repr(float(value)))


def prior(fault: Fault) -> Masses:
    """The odds as written, normalised, something-else at its share."""
    rest = exact(fault.something_else) if fault.causes else ONE
    listed = sum(exact(odds) for odds in fault.causes.values())
    return {c: (1 - rest) * exact(odds) / listed for c, odds in fault.causes.items()} | {SOMETHING_ELSE: rest}


def beliefs(job: Job) -> dict[str, Masses | None]:
    """What is believed of each fault after all that was seen on it and on its twins; None where that is impossible.

    A member of a twin group takes the common cause z with chance s = sqrt(strength), else draws its own:
    ``P(c_i = c) ~ sum_z P(z) prod_{j != i} [s L_j(z) + (1-s) sum_x P(x) L_j(x)] L_i(c) [s 1(c=z) + (1-s) P(c)]``.
    """
    share = exact(sqrt(job.settings.twin_strength))
    known = (*job.faults, *job.closed)
    seen = {fault.id: _likelihood(fault, dict.fromkeys(job.seen.get(fault.id, ()))) for fault in known}
    found: dict[str, Masses | None] = {}
    for fault in job.faults:
        common = prior(fault)
        twins = [f.id for f in known if f.twin is not None and f.twin == fault.twin and f.id != fault.id]
        beside = {
            z: p * prod((_given(seen[twin], common, z, share) for twin in twins), start=ONE) for z, p in common.items()
        }
        anything = sum(beside.values(), NOTHING)
        own = {c: share * beside[c] + (1 - share) * p * anything for c, p in common.items()}
        weights = {c: seen[fault.id][c] * p for c, p in own.items()}
        total = sum(weights.values(), NOTHING)
        found[fault.id] = {c: weight / total for c, weight in weights.items()} if total else None
    return found


def _given(likelihood: Masses, common: Masses, cause: str, share: Fraction) -> Fraction:
    """The chance of what was seen on a twin, given the group's common cause."""
    own = sum((chance * likelihood.get(c, 0) for c, chance in common.items()), NOTHING)
    return share * likelihood.get(cause, NOTHING) + (1 - share) * own


def _likelihood(fault: Fault, entries: Iterable[Evidence]) -> Masses:
    """The chance of all that was seen on a fault, given each cause."""
    entries = list(entries)
    tables = {check.id: results(check, prior(fault)) for check in fault.checks}
    repairs = {entry.repair for entry in entries if isinstance(entry, FailedAttempt | Cured)}
    found = {}
    for cause in prior(fault):
        chance = ONE
        for entry in entries:
            if isinstance(entry, Finding):
                chance *= tables.get(entry.check, {}).get(entry.result, {}).get(cause, NOTHING)
            elif isinstance(entry, ItIs | ItIsNot) and (entry.cause == cause) != isinstance(entry, ItIs):
                chance = NOTHING
        for name in repairs:
            chance *= _tried(cure(fault, name, cause), entries, name)
        found[cause] = chance
    return found


def _tried(curing: Fraction, entries: Sequence[Evidence], repair: str) -> Fraction:
    """The chance that every attempt with one repair turned out as it did; one that cured shows its pieces sound."""
    failed = tried_before(entries, repair)
    cures = [entry for entry in entries if isinstance(entry, Cured) and entry.repair == repair]
    if not cures:
        return not_cured(curing, none_sound(failed))
    sound = frozenset(piece for entry in cures for piece in entry.pieces)
    return prod((exact(piece.good) for piece in sound), start=curing) * none_sound([own - sound for own in failed])


def tried_before(entries: Iterable[Evidence], repair: str) -> list[frozenset[Piece]]:
    """The pieces of every attempt with one repair that failed before the plan."""
    return [frozenset(e.pieces) for e in dict.fromkeys(entries) if isinstance(e, FailedAttempt) and e.repair == repair]


def results(check: Check, causes: Iterable[str]) -> dict[str, dict[str, Fraction]]:
    """The chance of every result of a check given each cause, what is not written completed."""
    written = {result: {c: exact(chance) for c, chance in row.items()} for result, row in check.results.items()}
    if len(written) == 1:
        ((result, row),) = written.items()
        said = {cause: row.get(cause, row.get("default", HALF)) for cause in causes}
        return {result: said, f"not-{result}": {cause: 1 - chance for cause, chance in said.items()}}
    table: dict[str, dict[str, Fraction]] = {result: {} for result in written}
    for cause in causes:
        column = {result: row.get(cause, row.get("default")) for result, row in written.items()}
        said_in_all = sum((chance for chance in column.values() if chance is not None), NOTHING)
        unsaid = [result for result, chance in column.items() if chance is None]
        left = max(NOTHING, 1 - said_in_all) / max(1, len(unsaid))
        whole = said_in_all + left * len(unsaid)
        for result, chance in column.items():
            table[result][cause] = (left if chance is None else chance) / whole
    return table


def cure(fault: Fault, repair: str, cause: str) -> Fraction:
    """The chance that a repair cures a cause, given sound parts."""
    found: Repair | None = next((r for r in fault.repairs if r.id == repair), None)
    return NOTHING if found is None else exact(found.cure(cause))


def not_cured(curing: Fraction, none: Fraction) -> Fraction:
    """The chance that a repair leaves a cause, where with chance ``none`` no set of parts tried is sound."""
    return 1 - curing * (1 - none)


def none_sound(sets: PartSets) -> Fraction:
    """The chance that no set is sound throughout: by the first set, each piece's soundness drawn once."""
    if not sets:
        return ONE
    first, *rest = dict.fromkeys(sets)
    sound = prod((exact(piece.good) for piece in first), start=ONE)
    if all(first.isdisjoint(other) for other in rest):
        return (1 - sound) * none_sound(rest)
    return none_sound(rest) - sound * none_sound([other - first for other in rest])


def stated(odds: Sequence[Odds]) -> Masses:
    """The belief that a plan shows, for a fault whose entries clash; a single cause is certain."""
    return {row.cause: exact(row.now) for row in odds} or {SOMETHING_ELSE: ONE}


def odds_wrong(fault: Fault, odds: Sequence[Odds], belief: Masses | None, route: Route | None) -> Iterator[str]:
    """What does not hold in the odds that a plan shows; where entries clash (no ``belief``) they need only sum to 1."""
    causes = prior(fault)
    if [row.cause for row in odds] != (list(causes) if len(causes) > 1 else []):
        yield "odds are not over its causes"
        return
    known = stated(odds) if belief is None else belief
    if abs(float(sum(known.values())) - 1) > NEAR:
        yield "odds do not sum to 1"
    for row in odds:
        if max(abs(row.written - float(causes[row.cause])), abs(row.now - float(known[row.cause]))) > NEAR:
            yield f"odds of {row.cause} are not {float(known[row.cause])}"
    yield from _after_wrong(fault, odds, belief, route)


def _after_wrong(fault: Fault, odds: Sequence[Odds], belief: Masses | None, route: Route | None) -> Iterator[str]:
    """What does not hold in the odds after each result of the check that comes first."""
    first = None if route is None else route.first
    check = next((c for c in fault.checks if isinstance(first, CheckStep) and c.id == first.check), None)
    shown = {branch.result for branch in first.then} if isinstance(first, CheckStep) else set()
    if any(row.after.keys() != shown for row in odds):
        yield "odds are not given after each result of the first check"
        return
    table = {} if check is None else results(check, prior(fault))
    for result in shown & table.keys():
        joint = {} if belief is None else {c: p * table[result][c] for c, p in belief.items()}
        reach = sum(joint.values(), NOTHING)
        for row in odds:
            after = float(joint[row.cause] / reach) if reach else row.after[result]
            if abs(row.after[result] - after) > NEAR + 1e-14 / (float(reach) or 1):
                yield f"odds of {row.cause} after {result} are not {after}"
        if abs(fsum(row.after[result] for row in odds) - 1) > NEAR and odds:
            yield f"odds after {result} do not sum to 1"
