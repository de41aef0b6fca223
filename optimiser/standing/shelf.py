"""The shelf: the folder's owned pieces, what was bought and is not fitted, and what was kept after it did not help.

Pieces lie in piles. A pile's ``name`` is what they are planned under and stays the same as long as they lie there:
``owned:2`` for the second row of the folder, ``bought:7`` for purchase 7, ``kept:12-1`` for the first piece kept of
fitting 12. Its ``origin`` is the pile that the pieces first came from, and tells one batch from another.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from optimiser.model.happening import DepositReturned, FittedPiece, Fitting, Purchase, SentBack
from optimiser.model.job import Job, Owned
from optimiser.model.outstanding import DepositDue, OnOrder
from optimiser.model.quotes import Condition
from optimiser.standing.misfit import MisfitError

Tried = Mapping[str, Collection[str]]
"""By fault the origins of the pieces that failed there."""
OWN_NAMES = ("owned:", "bought:", "kept:")
MOST_UNITS = 10**6
"""More pieces than any repair may ask for."""


class Try(NamedTuple):
    """A fault, the repair that was tried there, and where the pieces first came from."""

    fault: str
    repair: str
    origin: str


@dataclass
class Pile:
    """Pieces alike; ``tries`` are the attempts that they were kept from, the latest last."""

    name: str
    origin: str
    part: str
    condition: Condition
    good_chance: float
    units: int
    days: int = 0
    bought: int | None = None
    kept_from: str | None = None
    tries: tuple[Try, ...] = ()


@dataclass
class Bought:
    """A purchase and what became of it; ``back_minor`` is what came back of its deposits."""

    purchase: Purchase
    sent_back: int = 0
    back_minor: int = 0

    @property
    def pieces(self) -> int:
        """Pieces on which a deposit may still come back."""
        return max(0, self.purchase.units - self.sent_back)

    @property
    def due_minor(self) -> int:
        """Deposits still to come back."""
        return max(0, self.pieces * self.purchase.deposit_minor - self.back_minor)


class Use(NamedTuple):
    """So many pieces of a fitting from one pile; ``short`` where they are more than the shelf held."""

    piece: FittedPiece
    origin: str
    bought: int | None
    units: int
    tries: tuple[Try, ...] = ()
    short: bool = False


class Shelf:
    """All piles by name, and all purchases by number."""

    def __init__(self, job: Job) -> None:
        self.today: date | None = job.settings.today
        self.piles: dict[str, Pile] = {}
        self.purchases: dict[int, Bought] = {}
        self._of_purchase: dict[int | None, list[Pile]] = {}
        self._by_quote: dict[str, list[int]] = {}
        self._lying: dict[tuple[str, Condition, float], dict[str, Pile]] = {}
        for name, row in job.shelf.items():
            pile = Pile(name, name, row.part, row.condition, row.good_chance, row.units, row.lead_days)
            pile.kept_from = row.kept_from
            self._lay(pile)

    def purchase(self, number: int) -> Bought:
        """The purchase of that number. Raises ``MisfitError`` where there is none."""
        if number not in self.purchases:
            raise MisfitError(f"number {number} of the record is no purchase that counts")
        return self.purchases[number]

    def buy(self, number: int, bought: Purchase) -> None:
        """Put what was bought on the shelf, on its way as long as the supplier takes."""
        since = 0 if self.today is None else (self.today - bought.at.date()).days
        days = max(0, bought.lead_days - max(0, since))
        name = f"bought:{number}"
        self.purchases[number] = Bought(bought)
        if bought.quote:
            self._by_quote.setdefault(bought.quote, []).append(number)
        self._lay(
            Pile(name, name, bought.part, bought.condition, bought.good_chance, bought.units, days, bought=number)
        )

    def fit(self, number: int, fitting: Fitting) -> list[Use]:
        """Take the pieces of a fitting off the shelf; those kept after a failure go back as a pile of their own.

        A piece kept after a cure was not needed, and stays where it lay.
        """
        uses: list[Use] = []
        for piece in fitting.pieces:
            if fitting.cured and piece.then == "kept":
                continue
            for use in self._used(piece, f"fitted:{number}-{len(uses) + 1}"):
                uses.append(use)
                if piece.then == "sent-back" and use.bought in self.purchases:
                    self.purchases[use.bought].sent_back += use.units
                if piece.then == "kept":
                    self._keep(f"kept:{number}-{len(uses)}", use, Try(fitting.fault, fitting.repair, use.origin))
        return uses

    def _used(self, piece: FittedPiece, unknown: str) -> list[Use]:
        """Take a piece's units off the shelf, and say for each pile how many; ``unknown`` is where others come from."""
        uses = []
        left = piece.units
        first: Pile | None = None
        for pile in self._sources(piece):
            first = first or pile
            taken = self._take(pile, left)
            left -= taken
            if taken:
                uses.append(Use(piece, pile.origin, pile.bought, taken, pile.tries))
            if not left:
                return uses
        origin, bought = (first.origin, first.bought) if first else (unknown, piece.bought)
        claimed = first is not None or piece.bought is not None or piece.quote.startswith(OWN_NAMES)
        return [*uses, Use(piece, origin, bought, left, short=claimed)]

    def _keep(self, name: str, use: Use, tried: Try) -> None:
        """Lay pieces that did not help on the shelf again."""
        piece = use.piece
        pile = Pile(name, use.origin, piece.part, piece.condition, piece.good_chance, use.units, bought=use.bought)
        pile.kept_from, pile.tries = tried.fault, (*use.tries, tried)
        self._lay(pile)

    def send_back(self, back: SentBack) -> None:
        """Pieces go back unfitted, those never tried first. Raises ``MisfitError`` where there are not so many."""
        bought = self.purchase(back.bought)
        if bought.purchase.part != back.part:
            raise MisfitError(f"number {back.bought} of the record is no purchase of {back.part}")
        bought.sent_back += back.units
        left = back.units
        for pile in self._of_purchase[back.bought]:
            left -= self._take(pile, left)
        if left:
            raise MisfitError(f"more pieces of {back.part} than the shelf held of that purchase")

    def deposit_back(self, back: DepositReturned) -> None:
        """A deposit came back: on its purchase, else on the oldest ones that are still owed."""
        if back.bought is not None:
            self.purchase(back.bought).back_minor += back.amount_minor
            return
        left = back.amount_minor
        for bought in self.purchases.values():
            paid = min(left, bought.due_minor)
            bought.back_minor += paid
            left -= paid

    def on_order(self) -> tuple[OnOrder, ...]:
        """What was bought and neither fitted nor sent back, by purchase."""
        return tuple(
            OnOrder(
                bought=number,
                part=pile.part,
                supplier=bought.purchase.supplier,
                units=pile.units,
                days=pile.days,
            )
            for number, bought in self.purchases.items()
            if (pile := self.piles[f"bought:{number}"]).units
        )

    def deposits_due(self) -> tuple[DepositDue, ...]:
        """Deposits still to come back, by purchase."""
        return tuple(
            DepositDue(
                bought=number,
                part=bought.purchase.part,
                supplier=bought.purchase.supplier,
                pieces=bought.pieces,
                money_minor=bought.due_minor,
            )
            for number, bought in self.purchases.items()
            if bought.due_minor
        )

    def rows(
        self, job: Job, tried: Tried, quotes_of: Mapping[str, tuple[str, ...]], sound: Callable[[Pile], float]
    ) -> tuple[Owned, ...]:
        """The piles that are not empty as rows of the shelf.

        ``quotes_of`` tells by origin the quotes that pieces were bought by, ``sound`` the chance of a pile that was
        kept. One row must do for a whole repair, so purchases alike are laid together where no one of them would.
        """
        left = [pile for pile in self.piles.values() if pile.units > 0]
        wanted, failed_on = _wanted(job), _failed_on(tried)
        together: dict[object, list[Pile]] = {}
        for pile in left:
            key = (*_alike(pile), failed_on.get(pile.origin)) if _untouched(pile) else pile.name
            together.setdefault(key, []).append(pile)
        rows: dict[str, Owned] = {}
        for piles in together.values():
            if len(piles) > 1 and max(pile.units for pile in piles) < wanted.get(piles[0].part, 0):
                rows[piles[0].name] = _row(piles, piles[0].good_chance, quotes_of)
                continue
            for pile in piles:
                rows[pile.name] = _row([pile], sound(pile) if pile.tries else pile.good_chance, quotes_of)
        return tuple(rows[pile.name] for pile in left if pile.name in rows)

    def _sources(self, piece: FittedPiece) -> Iterator[Pile]:
        """The piles that a piece may come from: where it was planned, its purchase, then what is alike."""
        found = self._named(piece)
        yield from found
        if found and _untouched(found[0]):  # one row may stand for several purchases alike
            names = {pile.name for pile in found}
            yield from (pile for pile in self._lying.get(_alike(found[0]), {}).values() if pile.name not in names)

    def _named(self, piece: FittedPiece) -> list[Pile]:
        """The pile that a piece was planned under and those of its purchase; else what it may be, where it says less.

        A row of the folder may have another place there by now, and a fitting may name the quote and no purchase.
        """
        named = self.piles.get(piece.quote)
        found = [named] if named is not None else []
        found += [pile for pile in self._of_purchase.get(piece.bought, ()) if pile is not named]
        if not found and piece.bought is None and piece.quote.startswith("owned:"):
            found = [p for p in self.piles.values() if p.name.startswith("owned:") and p.condition == piece.condition]
        elif not found and piece.bought is None:
            found = [pile for number in self._by_quote.get(piece.quote, ()) for pile in self._of_purchase[number]]
        return [pile for pile in found if pile.part == piece.part]

    def _lay(self, pile: Pile) -> None:
        self.piles[pile.name] = pile
        if pile.bought is not None:
            self._of_purchase.setdefault(pile.bought, []).append(pile)
        if _untouched(pile):
            self._lying.setdefault(_alike(pile), {})[pile.name] = pile

    def _take(self, pile: Pile, most: int) -> int:
        """Take pieces off a pile, as many as there are, and return how many."""
        taken = min(pile.units, most)
        pile.units -= taken
        if not pile.units and _untouched(pile):
            self._lying[_alike(pile)].pop(pile.name, None)
        return taken


def _untouched(pile: Pile) -> bool:
    """Bought and never tried."""
    return pile.bought is not None and not pile.tries


def _alike(pile: Pile) -> tuple[str, Condition, float]:
    """What makes two purchases do for one another."""
    return (pile.part, pile.condition, pile.good_chance)


def _failed_on(tried: Tried) -> dict[str, tuple[str, ...]]:
    """By origin the faults that its pieces failed on."""
    found: dict[str, tuple[str, ...]] = {}
    for fault, origins in tried.items():
        for origin in origins:
            found[origin] = (*found.get(origin, ()), fault)
    return found


def _wanted(job: Job) -> dict[str, int]:
    """The most pieces of each part that a repair takes, in whole sets."""
    sets = {part.id: part.renew_in for part in job.parts}
    most: dict[str, int] = {}
    for fault in job.faults:
        for repair in fault.repairs:
            for part, wanted in repair.parts.items():
                size = sets.get(part, 1)
                most[part] = max(most.get(part, 0), -(-wanted // size) * size)
    return most


def _row(piles: Sequence[Pile], good_chance: float, quotes_of: Mapping[str, tuple[str, ...]]) -> Owned:
    """Piles as one row, under the name of the first; it is here once all of it is."""
    first = piles[0]
    return Owned(
        part=first.part,
        units=min(MOST_UNITS, sum(pile.units for pile in piles)),
        condition=first.condition,
        good_chance=good_chance,
        kept_from=first.kept_from,
        lead_days=max(pile.days for pile in piles),
        name=first.name,
        bought=first.bought,
        came_from=tuple(dict.fromkeys(quote for pile in piles for quote in quotes_of.get(pile.origin, ()))),
    )
