"""What a plan leaves behind when it is kept: its numbered steps, as the person saw them, and what each fault took."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from optimiser.model.base import Record
from optimiser.model.quotes import Quote


class KeptShare(Record):
    """What a fault took in a plan, in minor units: expected, and at the most."""

    landed_minor: int
    most_minor: int


class KeptPiece(Record):
    """Pieces of a step as the person saw them; a ``supplier`` of None is the shelf.

    ``packs`` is set for a line to order. ``asked`` is the whole quote as it stood, where the plan's routes hold it.
    """

    part: str
    units: int
    supplier: str | None
    condition: str
    quote: str
    ref: str = ""
    price_minor: int = 0
    deposit_minor: int = 0
    pack: int = 1
    packs: int | None = None
    asked: Quote | None = Field(None, exclude=True)


class Step(Record):
    """A numbered step: a check or an attempt on a fault, by its id there, or a line to order."""

    number: int = Field(gt=0, strict=True)
    kind: Literal["check", "attempt", "order"]
    fault: str = ""
    id: str = ""
    pieces: tuple[KeptPiece, ...] = ()
