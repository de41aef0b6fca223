"""Step numbers that meant another step before: each ``optimiser plan`` gives them anew, and people hold old ones.

Until a number belongs to its step for the life of the job, one that changed its meaning is not guessed at.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from optimiser.model.job import Fault
from optimiser.model.kept import KeptPiece, Step
from optimiser.money import Currency
from optimiser.state.history import KeptPlan, Plans

MOST_PLANS = 50
"""A number from before so many plans is nobody's any more."""
MOST_DIGITS = 9
AGAIN = re.compile(r"#\d+$")


class MeantBefore(NamedTuple):
    """What a number meant in an earlier plan."""

    plan: int
    step: Step


def said(word: str) -> int:
    """The number that digits say; of a great many digits one that no step has."""
    return int(word) if len(word) <= MOST_DIGITS else 10**MOST_DIGITS


def otherwise(number: int, plans: Plans, kinds: Iterable[str]) -> MeantBefore | None:
    """The last earlier plan in which the number was another step of one of these kinds; None where it was not."""
    now, wanted = None if plans.seen is None else _meaning(plans.seen, number), tuple(kinds)
    for made in reversed(plans.made[:-1][-MOST_PLANS:]):
        kept = plans.kept(made)
        step = None if kept is None else kept.plain_steps.get(number)
        if kept is not None and step is not None and step.kind in wanted and _meaning(kept, number) not in (None, now):
            return MeantBefore(made.number, step)
    return None


def _meaning(kept: KeptPlan, number: int) -> str | None:
    """What the step is, wherever in its tree it stands; None where that was not kept."""
    return next((AGAIN.sub("", key) for key, given in kept.numbering.items() if given == number), None)


def described(step: Step, currency: Currency) -> str:
    """A step in words, by ids."""
    if step.kind == "check":
        return f"the check {step.id} of {step.fault}"
    if step.kind == "attempt":
        with_it = "; ".join(_piece(piece, currency) for piece in step.pieces)
        return f"to try {step.id} on {step.fault}{f' with {with_it}' if with_it else ''}"
    return f"to order {'; '.join(_piece(piece, currency) for piece in step.pieces)}"


def _piece(piece: KeptPiece, currency: Currency) -> str:
    units = f"{piece.units} x {piece.part}" if piece.packs is None else f"{piece.packs} x {piece.part}"
    whose = f" of {piece.supplier} at {currency.text(piece.price_minor)}" if piece.supplier else " from your shelf"
    return f"{units}, {piece.condition}{whose}{f', ref {piece.ref}' if piece.ref else ''}"


def typed(step: Step, verb: str, faults: Mapping[str, Fault]) -> str:
    """What to type for a step by ids, whatever kind of step it is."""
    if step.kind == "check":
        return f"optimiser found {step.fault} {step.id} RESULT"
    fitted = f"optimiser fitted {step.fault} {step.id} cured (or not-cured)"
    if step.kind == "attempt" and verb in ("found", "fitted"):
        fault = faults.get(step.fault)
        causes = fault is not None and fault.causes
        return f"optimiser found {step.fault} is CAUSE" if verb == "found" and causes else fitted
    told = " and ".join(_for_pieces(step, "bought" if verb in ("found", "fitted") else verb))
    if told:
        return told
    return f"{fitted}, as it needs nothing bought" if verb == "bought" else "nothing, as it needs nothing bought"


def _for_pieces(step: Step, verb: str) -> Iterator[str]:
    for piece in step.pieces:
        which = f" --condition {piece.condition}{f' --ref {piece.ref}' if piece.ref else ''}"
        if verb in ("refunded", "returned"):
            yield f"optimiser {verb} {piece.part}{' AMOUNT' if verb == 'refunded' else ''}"
        elif piece.supplier is not None:
            price = " PRICE" if verb == "corrected" else ""
            yield f"optimiser {verb} {piece.part} from {piece.supplier}{price}{which}"
