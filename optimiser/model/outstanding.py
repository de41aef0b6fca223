"""What is still open from purchases (pieces not fitted yet, deposits to come back), and happenings that misfit."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

from optimiser.model.base import Record


class OnOrder(Record):
    """Pieces of one purchase that nobody has fitted, kept or sent back; ``days`` until they are here, 0 once due."""

    bought: int
    part: str
    supplier: str
    units: int
    days: int


class DepositDue(Record):
    """What comes back of one purchase's deposits when the old units go back: ``pieces`` are those not sent back.

    For a piece that is never fitted there is no old unit: ``fitted`` are those that have one.
    """

    bought: int
    part: str
    supplier: str
    pieces: int
    money_minor: int
    each_minor: int
    fitted: int = 0

    def once_fitted(self, more: int) -> DepositDue:
        """What comes back once so many more pieces are fitted, and no others."""
        pieces = min(self.pieces, self.fitted + more)
        lost = (self.pieces - pieces) * self.each_minor
        return self.model_copy(update={"pieces": pieces, "money_minor": max(0, self.money_minor - lost)})


class Unfit(Record):
    """A happening that names what the folder does not hold (any more), by its number and kind, and why it misfits."""

    number: int
    kind: str
    reason: str


def once_fitted(
    dues: Iterable[DepositDue], on_order: Iterable[OnOrder], wanted: Mapping[tuple[str, int], int]
) -> tuple[DepositDue, ...]:
    """What comes back once pieces are fitted from the shelf: ``wanted`` counts them by part and purchase.

    A row of the shelf may stand for several purchases alike, and is then wanted under the first of them.
    """
    lying = {some.bought: some.units for some in on_order}
    over = Counter[str]()
    for (part, number), units in wanted.items():
        over[part] += max(0, units - lying.get(number, 0))
    found = []
    for due in dues:
        own = min(wanted.get((due.part, due.bought), 0), lying.get(due.bought, 0))
        more = min(over[due.part], lying.get(due.bought, 0) - own)
        over[due.part] -= more
        found.append(due.once_fitted(own + more))
    return tuple(due for due in found if due.money_minor)
