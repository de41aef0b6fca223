"""Step numbers of which two kept plans make two steps.

A number belongs to its step for the life of the job. Only two plans made in the same moment, neither of which knew the
other, can give one number to two steps; then it is not guessed at.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from optimiser.calls import call
from optimiser.model.events import PlanMade
from optimiser.model.job import Fault
from optimiser.model.kept import KeptPiece, Step
from optimiser.money import Currency
from optimiser.state.history import MOST_LOOKED_UP, KeptPlan, Plans
from optimiser.text import in_shell

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
    meanings = (_meaning(kept, number) for kept, _ in newest_first(plans))
    now, wanted = next((meaning for meaning in meanings if meaning is not None), None), tuple(kinds)
    for kept, made in newest_first(plans):
        step = kept.plain_steps.get(number)
        if step is not None and step.kind in wanted and _meaning(kept, number) != now:
            return MeantBefore(made.number, step)
    return None


def fault_of(number: int, plans: Plans) -> str:
    """The fault that a number was a step of when a plan last had it; an empty text where none had."""
    found = (kept.plain_steps.get(number) for kept, _ in newest_first(plans))
    return next((step.fault for step in found if step is not None), "")


def newest_first(plans: Plans) -> Iterator[tuple[KeptPlan, PlanMade]]:
    """The plans whose numbers are looked up, as far as they can be made out."""
    for made in reversed(plans.made[-MOST_LOOKED_UP:]):
        kept = plans.kept(made)
        if kept is not None:
            yield kept, made


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
        return f"{call('found')} {in_shell(step.fault)} {in_shell(step.id)} RESULT"
    fitted = f"{call('fitted')} {in_shell(step.fault)} {in_shell(step.id)} cured (or not-cured)"
    if step.kind == "attempt" and verb in ("found", "fitted"):
        fault = faults.get(step.fault)
        causes = fault is not None and fault.causes
        return f"{call('found')} {in_shell(step.fault)} is CAUSE" if verb == "found" and causes else fitted
    told = " and ".join(_for_pieces(step, "bought" if verb in ("found", "fitted") else verb))
    if told:
        return told
    return f"{fitted}, as it needs nothing bought" if verb == "bought" else "nothing, as it needs nothing bought"


def _for_pieces(step: Step, verb: str) -> Iterator[str]:
    for piece in step.pieces:
        which = f" --condition {piece.condition}{f' --ref {in_shell(piece.ref)}' if piece.ref else ''}"
        if verb in ("refunded", "returned"):
            yield f"{call(verb, in_shell(piece.part))}{' AMOUNT' if verb == 'refunded' else ''}"
        elif piece.supplier is not None:
            price = " PRICE" if verb == "corrected" else ""
            yield f"{call(verb, in_shell(piece.part))} from {in_shell(piece.supplier)}{price}{which}"
