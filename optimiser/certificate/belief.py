"""The witness on chances: odds, results and cures in exact fractions, straight from the job as written."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from math import fsum, prod

from optimiser.model.evidence import Piece
from optimiser.model.job import SOMETHING_ELSE, Check, Fault, Repair
from optimiser.model.plan import Odds
from optimiser.model.route import CheckStep, Route

Masses = Mapping[str, Fraction]
"""A chance together with each cause; for a belief they sum to 1."""
Tables = Mapping[str, Mapping[str, Masses]]
"""The chance of a result given the cause, by check, by result."""
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


def odds_wrong(
    fault: Fault, odds: Sequence[Odds], belief: Masses | None, route: Route | None, tables: Tables
) -> Iterator[str]:
    """What does not hold in the odds that a plan shows; where entries clash (no ``belief``) they need only sum to 1.

    ``tables`` hold the chance of every result of every check given the fault's cause.
    """
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
    yield from _after_wrong(odds, belief, route, tables)


def _after_wrong(odds: Sequence[Odds], belief: Masses | None, route: Route | None, tables: Tables) -> Iterator[str]:
    """What does not hold in the odds after each result of the check that comes first."""
    first = None if route is None else route.first
    shown = {branch.result for branch in first.then} if isinstance(first, CheckStep) else set()
    if any(row.after.keys() != shown for row in odds):
        yield "odds are not given after each result of the first check"
        return
    table = tables.get(first.check, {}) if isinstance(first, CheckStep) else {}
    for result in shown & table.keys():
        joint = {} if belief is None else {c: p * table[result][c] for c, p in belief.items()}
        reach = sum(joint.values(), NOTHING)
        for row in odds:
            after = float(joint[row.cause] / reach) if reach else row.after[result]
            if abs(row.after[result] - after) > NEAR + 1e-14 / (float(reach) or 1):
                yield f"odds of {row.cause} after {result} are not {after}"
        if abs(fsum(row.after[result] for row in odds) - 1) > NEAR and odds:
            yield f"odds after {result} do not sum to 1"
