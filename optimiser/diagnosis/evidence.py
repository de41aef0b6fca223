"""What was seen on a fault, and how likely it was under each cause.

An entry said twice is said once: evidence is a set, in no particular order.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from math import inf, log, prod

from optimiser.diagnosis.belief import likelihoods, prior
from optimiser.model.evidence import Cured, Evidence, FailedAttempt, Finding, ItIs, ItIsNot, Piece
from optimiser.model.job import Fault, Repair

SOFT_ZERO = 0.01
"""What an impossible entry is read as, on a fault whose entries clash."""


PartSets = Sequence[Iterable[Piece]]
"""The pieces of each attempt made with one repair."""


def none_sound(sets: PartSets) -> float:
    """The chance that no set is sound throughout, each piece's soundness drawn once however often it was tried."""
    distinct = {frozenset(pieces) for pieces in sets}
    tried = Counter(piece for pieces in distinct for piece in pieces)
    shared = next((piece for piece, times in tried.items() if times > 1), None)
    if shared is None:
        return prod(1 - prod(piece.good for piece in pieces) for pieces in distinct)
    if_sound = none_sound([pieces - {shared} for pieces in distinct])
    if_not = none_sound([pieces for pieces in distinct if shared not in pieces])
    return shared.good * if_sound + (1 - shared.good) * if_not


def not_cured(cure: float, sets: PartSets) -> float:
    """The chance that one repair, tried once with each set, leaves a cause uncured.

    Whether the repair suits is drawn once (chance ``cure``), as is the soundness of each piece.
    """
    return 1 - cure * (1 - none_sound(sets)) if sets else 1.0


def as_it_went(cure: float, failed: PartSets, cured: PartSets) -> float:
    """The chance that one repair left a cause uncured with each set of ``failed``, and cured it with each of ``cured``.

    A cure shows that the repair suits and that all pieces of its set are sound.
    """
    if not cured:
        return not_cured(cure, failed)
    sound = {piece for pieces in cured for piece in pieces}
    rest = [[piece for piece in pieces if piece not in sound] for pieces in failed]
    return cure * prod(piece.good for piece in sound) * none_sound(rest)


def sets_by_repair(
    entries: Iterable[Evidence], kind: type[FailedAttempt | Cured] = FailedAttempt
) -> dict[str, list[tuple[Piece, ...]]]:
    """The part sets of the attempts that failed, or of those that cured, gathered by repair."""
    gathered: dict[str, list[tuple[Piece, ...]]] = {}
    for entry in dict.fromkeys(entries):
        if isinstance(entry, kind):
            gathered.setdefault(entry.repair, []).append(entry.pieces)
    return gathered


class Attempts:
    """All attempts with one repair, to tell how sound a piece is that was kept from those that failed.

    ``entries`` hold the attempts.
    """

    def __init__(self, repair: Repair, entries: Iterable[Evidence]) -> None:
        self._repair = repair
        known = list(entries)
        self._failed = sets_by_repair(known).get(repair.id, [])
        self._cured = sets_by_repair(known, Cured).get(repair.id, [])
        self._at_all = as_it_went(1.0, self._failed, self._cured)

    def sound(self, belief: Mapping[str, float], piece: Piece) -> float:
        """The chance that the piece is sound; ``belief`` is over the fault's causes after all evidence."""
        failed, cured = (
            [tuple(replace(p, good=1.0) if p == piece else p for p in pieces) for pieces in one]
            for one in (self._failed, self._cured)
        )
        at_none, at_all_if_sound = 0.0 if cured else 1.0, as_it_went(1.0, failed, cured)
        sound = 0.0
        for cause, chance in belief.items():  # how it went is linear in the chance of a cure
            cure = self._repair.cure(cause)
            went, if_sound = ((1 - cure) * at_none + cure * at for at in (self._at_all, at_all_if_sound))
            sound += chance * piece.good * (if_sound / went if went > 0 else 1.0)
        return sound


def kept_sound(
    fault: Fault, belief: Mapping[str, float], entries: Iterable[Evidence], repair: str, piece: Piece
) -> float:
    """The chance that a piece kept from failed attempts with ``repair`` is sound.

    ``belief`` is over the fault's causes after all evidence, ``entries`` hold the attempts. Raises ``ValueError`` where
    the fault has no such repair.
    """
    return Attempts(repair_of(fault, repair), entries).sound(belief, piece)


def attempt_chance(
    fault: Fault, belief: Mapping[str, float], entries: Iterable[Evidence], repair: str, pieces: Sequence[Piece]
) -> float:
    """The chance that one more attempt with ``repair`` and these pieces cures, given all that was seen.

    ``belief`` is over the fault's causes after ``entries``. Raises ``ValueError`` where the fault has no such repair.
    """
    before = sets_by_repair(entries).get(repair, [])
    with_it = [*before, tuple(pieces)]
    tried = repair_of(fault, repair)
    chance = 0.0
    for cause, share in belief.items():
        failed = not_cured(tried.cure(cause), before)
        chance += share * (1 - not_cured(tried.cure(cause), with_it) / failed) if failed > 0 else 0.0
    return chance


def repair_of(fault: Fault, repair: str) -> Repair:
    """The fault's repair with this id. Raises ``ValueError`` where there is none."""
    found = next((r for r in fault.repairs if r.id == repair), None)
    if found is None:
        raise ValueError(f'fault "{fault.id}" has no repair "{repair}"')
    return found


def log_likelihoods(fault: Fault, entries: Iterable[Evidence], *, soft: bool = False) -> dict[str, float]:
    """The logarithm of the chance of all entries together under each cause; ``-inf`` where they are impossible.

    ``soft`` reads every zero as 0.01. Logarithms, because the product of many small chances is 0 in floats.
    Raises ``ValueError`` where an entry names a check, result, cause or repair that the fault does not have.
    """
    known = list(dict.fromkeys(entries))
    failed, cured = sets_by_repair(known), sets_by_repair(known, Cured)
    factors = [_factor(fault, entry) for entry in known if not isinstance(entry, FailedAttempt | Cured)]
    factors += [_attempts_factor(fault, r, failed.get(r, []), cured.get(r, [])) for r in {**failed, **cured}]
    return {cause: sum(_log(factor[cause], soft=soft) for factor in factors) for cause in prior(fault)}


def possible(fault: Fault, entries: Iterable[Evidence]) -> frozenset[str]:
    """The causes under which the entries can all be true."""
    return frozenset(cause for cause, value in log_likelihoods(fault, entries).items() if value > -inf)


def _log(chance: float, *, soft: bool) -> float:
    if chance > 0:
        return log(chance)
    return log(SOFT_ZERO) if soft else -inf


def _factor(fault: Fault, entry: Finding | ItIs | ItIsNot) -> dict[str, float]:
    """The chance of one finding under each cause."""
    causes = list(prior(fault))
    if isinstance(entry, Finding):
        check = next((c for c in fault.checks if c.id == entry.check), None)
        if check is None:
            raise ValueError(f'fault "{fault.id}" has no check "{entry.check}"')
        table = likelihoods(check, causes)
        if entry.result not in table:
            raise ValueError(f'check "{entry.check}" of fault "{fault.id}" has no result "{entry.result}"')
        return table[entry.result]
    if entry.cause not in causes:
        raise ValueError(f'fault "{fault.id}" has no cause "{entry.cause}"')
    return {cause: float((cause == entry.cause) == isinstance(entry, ItIs)) for cause in causes}


def _attempts_factor(fault: Fault, repair: str, failed: PartSets, cured: PartSets) -> dict[str, float]:
    """The chance, under each cause, that all attempts with one repair turned out as they did."""
    tried = repair_of(fault, repair)
    return {cause: as_it_went(tried.cure(cause), failed, cured) for cause in prior(fault)}
