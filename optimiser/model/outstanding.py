"""What is still open from purchases (pieces not fitted yet, deposits to come back), and happenings that misfit."""

from __future__ import annotations

from optimiser.model.record import Record


class OnOrder(Record):
    """Pieces of one purchase that nobody has fitted, kept or sent back; ``days`` until they are here, 0 once due."""

    bought: int
    part: str
    supplier: str
    units: int
    days: int


class DepositDue(Record):
    """What comes back of one purchase's deposits when the old units go back: ``pieces`` are those not sent back."""

    bought: int
    part: str
    supplier: str
    pieces: int
    money_minor: int


class Unfit(Record):
    """A happening that names what the folder does not hold (any more), by its number and kind, and why it misfits."""

    number: int
    kind: str
    reason: str
