"""Step numbers that meant another step before: each ``optimiser plan`` gives them anew, and people hold old ones.

Until a number belongs to its step for the life of the job, one that changed its meaning is not guessed at.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from optimiser import keeping
from optimiser.keeping import Kept, Piece, Step
from optimiser.model.happening import PlanMade

MOST_PLANS = 50
"""A number from before so many plans is nobody's any more."""
MOST_DIGITS = 9
AGAIN = re.compile(r"#\d+$")


class Meant(NamedTuple):
    """What a number meant in an earlier plan."""

    plan: int
    step: Step


def said(word: str) -> int:
    """The number that digits say; of a great many digits one that no step has."""
    return int(word) if len(word) <= MOST_DIGITS else 10**MOST_DIGITS


def otherwise(number: int, seen: Kept, earlier: Iterable[PlanMade], kinds: Iterable[str]) -> Meant | None:
    """The last earlier plan in which the number was another step of one of these kinds; None where it was not."""
    now, wanted = _meaning(seen, number), tuple(kinds)
    for made in reversed(list(earlier)[-MOST_PLANS:]):
        kept = keeping.read(made.text, whole=False)
        step = None if kept is None else kept.steps.get(number)
        if kept is not None and step is not None and step.kind in wanted and _meaning(kept, number) not in (None, now):
            return Meant(made.number, step)
    return None


def _meaning(kept: Kept, number: int) -> str | None:
    """What the step is, wherever in its tree it stands; None where that was not kept."""
    return next((AGAIN.sub("", key) for key, given in kept.numbering.items() if given == number), None)


def described(step: Step) -> str:
    """A step in words, by ids."""
    if step.kind == "check":
        return f"the check {step.id} of {step.fault}"
    if step.kind == "attempt":
        with_it = "; ".join(map(_piece, step.pieces))
        return f"to try {step.id} on {step.fault}{f' with {with_it}' if with_it else ''}"
    return f"to order {'; '.join(map(_piece, step.pieces))}"


def _piece(piece: Piece) -> str:
    units = f"{piece.units} x {piece.part}" if piece.packs is None else f"{piece.packs} x {piece.part}"
    whose = f" of {piece.supplier} at {piece.price}" if piece.supplier else " from your shelf"
    return f"{units}, {piece.condition}{whose}{f', ref {piece.ref}' if piece.ref else ''}"


def typed(step: Step, verb: str) -> str:
    """What to type for a step by ids."""
    if verb == "found":
        return f"optimiser found {step.fault} {f'{step.id} RESULT' if step.kind == 'check' else 'is CAUSE'}"
    if verb == "fitted" and step.kind == "attempt":
        return f"optimiser fitted {step.fault} {step.id} cured (or not-cured)"
    return " and ".join(_for_pieces(step, verb)) or f"optimiser {verb} by names"


def _for_pieces(step: Step, verb: str) -> Iterator[str]:
    for piece in step.pieces:
        told = f"{piece.part} from {piece.supplier or 'SUPPLIER'}"
        which = f" --condition {piece.condition}{f' --ref {piece.ref}' if piece.ref else ''}"
        if verb == "corrected":
            yield f"optimiser corrected {told} PRICE{which}"
        elif verb == "bought":
            yield f"optimiser bought {told}{which}"
        else:
            yield f"optimiser {verb} {piece.part}{' AMOUNT' if verb == 'refunded' else ''}"
