"""What was seen on a fault, and how likely it was under each cause.

An entry said twice is said once: evidence is a set, in no particular order.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from math import prod

from optimiser.diagnosis.belief import Table, likelihoods, prior
from optimiser.model.evidence import Cured, FailedAttempt, Finding, ItIs, ItIsNot, OnTwin, Piece, Still, Tried, Works
from optimiser.model.job import Check, Fault, Repair
from optimiser.model.option import Option

PartSets = Sequence[Iterable[Piece]]
"""The pieces of each attempt made with one repair."""


def pieces_of(option: Option) -> tuple[Piece, ...]:
    """The pieces that an attempt with the option fits, one a part line."""
    return tuple(Piece(line.quote.id, line.quote.good_chance) for line in option.lines)


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


class Attempts:
    """All attempts with one repair; those on twins count under the causes that the group has together."""

    def __init__(self, repair: Repair, entries: Iterable[Tried]) -> None:
        self._repair = repair
        known = list(dict.fromkeys(entries))
        self._own = [e for e in known if isinstance(e, FailedAttempt | Cured) and e.repair == repair.id]
        self._twins = [e for e in known if isinstance(e, OnTwin) and e.attempt.repair == repair.id]
        self._at_all: dict[tuple[OnTwin, ...], float] = {}

    def failing(self, cause: str, new: PartSets) -> float:
        """The chance that further attempts with these sets leave the cause too, given those made before."""
        _, failed, cured = self._under(cause)
        if cured:  # it was cured for the group: there is nothing left to cure
            return 1.0
        cure = self._repair.cure(cause)
        so_far = not_cured(cure, failed)
        return not_cured(cure, [*failed, *new]) / so_far if so_far > 0 else 1.0

    def failed(self, cause: str) -> PartSets:
        """The sets of the attempts that failed and count under a cause."""
        return self._under(cause)[1]

    def sound(self, belief: Mapping[str, float], piece: Piece) -> float:
        """The chance that the piece is sound; ``belief`` is over the fault's causes after all evidence."""
        sound, if_sounds = 0.0, dict[tuple[OnTwin, ...], float]()
        for cause, chance in belief.items():  # how it went is linear in the chance of a cure
            beside, failed, cured = self._under(cause)
            if beside not in if_sounds:
                piece = next((p for pieces in (*failed, *cured) for p in pieces if p.name == piece.name), piece)
                sure = ([_with_sound(pieces, piece) for pieces in one] for one in (failed, cured))
                if_sounds[beside] = piece.good * as_it_went(1.0, *sure)
            if beside not in self._at_all:
                self._at_all[beside] = as_it_went(1.0, failed, cured)
            cure, at_none = self._repair.cure(cause), 0.0 if cured else 1.0
            went = (1 - cure) * at_none + cure * self._at_all[beside]
            if_sound = (1 - cure) * at_none * piece.good + cure * if_sounds[beside]
            sound += chance * (if_sound / went if went > 0 else piece.good)
        return sound

    def _under(self, cause: str) -> tuple[tuple[OnTwin, ...], PartSets, PartSets]:
        """The twins' attempts that count under a cause, and with them the sets that failed and those that cured."""
        beside = tuple(entry for entry in self._twins if cause in entry.causes)
        all_of_them = one_good_a_piece([*self._own, *(entry.attempt for entry in beside)])
        failed = [entry.pieces for entry in all_of_them if isinstance(entry, FailedAttempt)]
        return beside, failed, [entry.pieces for entry in all_of_them if isinstance(entry, Cured)]


def one_good_a_piece(attempts: Sequence[FailedAttempt | Cured]) -> list[FailedAttempt | Cured]:
    """The attempts with the same chance of soundness for a piece wherever it was tried: that of before the first one.

    A piece that was kept is less likely to be sound each time; what is known of it later comes of these very attempts.
    """
    goods: dict[str, float] = {}
    for piece in (piece for attempt in attempts for piece in attempt.pieces):
        goods[piece.name] = max(piece.good, goods.get(piece.name, 0.0))
    same = (replace(a, pieces=tuple(Piece(p.name, goods[p.name]) for p in a.pieces)) for a in attempts)
    return list(dict.fromkeys(same))


def _with_sound(pieces: Iterable[Piece], sound: Piece) -> tuple[Piece, ...]:
    return tuple(replace(piece, good=1.0) if piece == sound else piece for piece in pieces)


def attempt_chance(
    fault: Fault, belief: Mapping[str, float], entries: Iterable[Tried], repair: str, pieces: Sequence[Piece]
) -> float:
    """The chance that one more attempt with ``repair`` and these pieces cures, given all that was seen.

    ``belief`` is over the fault's causes after ``entries``. Raises ``ValueError`` where the fault has no such repair.
    """
    before = Attempts(repair_of(fault, repair), entries)
    return sum(share * (1 - before.failing(cause, [tuple(pieces)])) for cause, share in belief.items())


def repair_of(fault: Fault, repair: str) -> Repair:
    """The fault's repair with this id. Raises ``ValueError`` where there is none."""
    found = next((r for r in fault.repairs if r.id == repair), None)
    if found is None:
        raise ValueError(f'fault "{fault.id}" has no repair "{repair}"')
    return found


def check_of(fault: Fault, check: str) -> Check:
    """The fault's check with this id. Raises ``ValueError`` where there is none."""
    found = next((c for c in fault.checks if c.id == check), None)
    if found is None:
        raise ValueError(f'fault "{fault.id}" has no check "{check}"')
    return found


def if_bad(table: Table, result: str, bad: float) -> dict[str, float]:
    """The chance of a result under each cause where a borrowed piece is bad with chance ``bad``.

    A bad piece never shows the first result; what that gives up goes to the others in proportion to theirs, to the last
    if they are 0.
    """
    first, *others = table
    if result == first:
        return {cause: chance * (1 - bad) for cause, chance in table[first].items()}
    row = {}
    for cause, lost in table[first].items():
        rest = sum(table[other][cause] for other in others)
        share = table[result][cause] / rest if rest > 0 else float(result == others[-1])
        row[cause] = table[result][cause] + bad * lost * share
    return row


def of_finding(fault: Fault, entry: Finding, *, bad: float | None = None) -> dict[str, float]:
    """The chance of a check's result under each cause.

    ``bad`` is the chance that a borrowed piece is bad; None for what the finding says of it itself, sound if nothing.
    Raises ``ValueError`` where the fault has no such check or result.
    """
    table = likelihoods(check_of(fault, entry.check), list(prior(fault)))
    if entry.result not in table:
        raise ValueError(f'check "{entry.check}" of fault "{fault.id}" has no result "{entry.result}"')
    if bad is None:
        bad = 0.0 if entry.borrowed_good is None else 1 - entry.borrowed_good
    return if_bad(table, entry.result, bad) if bad else table[entry.result]


def of_look(fault: Fault, entry: ItIs | ItIsNot | Works | Still) -> dict[str, float]:
    """1 for the causes that what was seen leaves possible, 0 for the others.

    Raises ``ValueError`` where the fault has no such cause.
    """
    named = entry.causes if isinstance(entry, Works | Still) else (entry.cause,)
    causes = prior(fault)
    for cause in named:
        if cause not in causes:
            raise ValueError(f'fault "{fault.id}" has no cause "{cause}"')
    return {cause: float((cause in named) == isinstance(entry, ItIs | Works)) for cause in causes}


def of_attempts(fault: Fault, repair: str, entries: Iterable[FailedAttempt | Cured]) -> dict[str, float]:
    """The chance, under each cause, that these attempts with one repair turned out as they did."""
    known = list(entries)
    failed = [entry.pieces for entry in known if isinstance(entry, FailedAttempt)]
    cured = [entry.pieces for entry in known if isinstance(entry, Cured)]
    tried = repair_of(fault, repair)
    return {cause: as_it_went(tried.cure(cause), failed, cured) for cause in prior(fault)}
