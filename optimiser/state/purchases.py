"""What was bought, and the deposits that are still to come back of it."""

from __future__ import annotations

from dataclasses import dataclass

from optimiser.model.events import DepositReturned, Purchase
from optimiser.model.outstanding import DepositDue
from optimiser.state.misfit import MisfitError


@dataclass
class PurchaseOutcome:
    """A purchase and what became of it; ``back_minor`` is what came back of its deposits.

    ``unfitted_back`` are the pieces that went back untried, ``refunded_minor`` is the money that came back for it,
    ``resold`` counts the packs that the seller has again.
    """

    purchase: Purchase
    sent_back: int = 0
    back_minor: int = 0
    fitted: int = 0
    unfitted_back: int = 0
    refunded_minor: int = 0
    resold: int = 0

    def for_sale_again(self) -> int:
        """Packs that the seller has again since this was last asked: all that went back untried, once refunded in full.

        A seller who keeps some of the money is not held to sell it once more.
        """
        sold = self.purchase
        packs = self.unfitted_back // sold.pack
        if packs * (sold.price_minor + sold.deposit_minor * sold.pack) > self.refunded_minor:
            return 0
        since, self.resold = packs - self.resold, packs
        return since

    @property
    def pieces(self) -> int:
        """Pieces on which a deposit may still come back: what is sent back whole is refunded, deposit and all."""
        return max(0, self.purchase.units - self.sent_back)

    @property
    def due_minor(self) -> int:
        """Deposits still to come back."""
        return max(0, self.pieces * self.purchase.deposit_minor - self.back_minor)


class Purchases:
    """All purchases by their number in the record."""

    def __init__(self) -> None:
        self._by_number: dict[int, PurchaseOutcome] = {}
        self._owing: dict[int, PurchaseOutcome] = {}

    def add(self, number: int, purchase: Purchase) -> None:
        self._by_number[number] = self._owing[number] = PurchaseOutcome(purchase)

    def of(self, number: int) -> PurchaseOutcome:
        """The purchase of that number. Raises ``MisfitError`` where there is none."""
        if number not in self._by_number:
            raise MisfitError(f"number {number} of the record is no purchase that counts")
        return self._by_number[number]

    def fitted(self, number: int | None, units: int) -> None:
        """Pieces were fitted for the first time; below zero: such as went back after all."""
        if number in self._by_number:
            self._by_number[number].fitted += units

    def sent_back(self, number: int | None, units: int) -> None:
        """Pieces went back to whoever sold them; those of no purchase that counts are nobody's to note."""
        if number in self._by_number:
            self._by_number[number].sent_back += units

    def deposit_back(self, back: DepositReturned) -> None:
        """A deposit came back: on its purchase, else on the oldest ones that are still owed."""
        if back.bought is not None:
            self.of(back.bought).back_minor += back.amount_minor
            return
        left = back.amount_minor
        for number, bought in tuple(self._owing.items()):
            if left == 0:
                return
            paid = min(left, bought.due_minor)
            bought.back_minor += paid
            left -= paid
            if bought.due_minor == 0:  # what is owed never rises again
                del self._owing[number]

    def deposits_due(self) -> tuple[DepositDue, ...]:
        return tuple(
            DepositDue(
                bought=number,
                part=bought.purchase.part,
                supplier=bought.purchase.supplier,
                pieces=bought.pieces,
                money_minor=bought.due_minor,
                each_minor=bought.purchase.deposit_minor,
                fitted=min(bought.pieces, bought.fitted),
            )
            for number, bought in self._by_number.items()
            if bought.due_minor
        )
