"""The shelf: the folder's owned pieces, what was bought and is not fitted, and what was kept after it did not help.

Pieces lie in piles. A pile's ``name`` is what they are planned under and stays the same as long as they lie there:
``owned:2`` for the second row of the folder, ``bought:7`` for purchase 7, ``kept:12-1`` for the first piece kept of
fitting 12. Its ``origin`` is the pile that the pieces of its batch first came from, and tells one batch from another.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from optimiser.model.events import FittedPiece, Fitting, Purchase, SentBack
from optimiser.model.job import Job
from optimiser.model.outstanding import OnOrder
from optimiser.model.quotes import Condition
from optimiser.state.misfit import MisfitError
from optimiser.state.purchases import Purchases

OWN, OWN_NAMES = "owned:", ("owned:", "bought:", "kept:")


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

    @property
    def untouched(self) -> bool:
        """Bought and never tried."""
        return self.bought is not None and not self.tries

    @property
    def alike(self) -> tuple[str, Condition, float]:
        """What makes two purchases do for one another."""
        return (self.part, self.condition, self.good_chance)


class Use(NamedTuple):
    """So many pieces of a fitting from one pile; ``short`` where they are more than the shelf held."""

    piece: FittedPiece
    origin: str
    bought: int | None
    units: int
    tries: tuple[Try, ...] = ()
    short: bool = False


class Shelf:
    """All piles by name, empty ones too, and all purchases."""

    def __init__(self, job: Job) -> None:
        self.today: date | None = job.settings.today
        self.purchases = Purchases()
        self.piles: dict[str, Pile] = {}
        self._of_purchase: dict[int | None, list[Pile]] = {}
        self._by_quote: dict[str, list[int]] = {}
        self._lying: dict[tuple[str, Condition, float], dict[str, Pile]] = {}
        for name, row in job.shelf.items():
            pile = Pile(name, name, row.part, row.condition, row.good_chance, row.units, row.lead_days)
            pile.kept_from = row.kept_from
            self._lay(pile)
        self._own = tuple(self.piles.values())

    def buy(self, number: int, bought: Purchase, origin: str) -> None:
        """Put what was bought on the shelf, on its way as long as the supplier takes; ``origin`` tells its batch."""
        since = 0 if self.today is None else (self.today - bought.at.date()).days
        days = max(0, bought.lead_days - max(0, since))
        name = f"bought:{number}"
        self.purchases.add(number, bought)
        if bought.quote:
            self._by_quote.setdefault(bought.quote, []).append(number)
        self._lay(
            Pile(name, origin, bought.part, bought.condition, bought.good_chance, bought.units, days, bought=number)
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
                self._come(use.bought)
                if not use.tries:
                    self.purchases.fitted(use.bought, use.units)
                if piece.then == "sent-back":
                    self.purchases.sent_back(use.bought, use.units)
                    self.purchases.fitted(use.bought, -use.units)
                if piece.then == "kept":
                    self._keep(f"kept:{number}-{len(uses)}", use, Try(fitting.fault, fitting.repair, use.origin))
        return uses

    def send_back(self, back: SentBack) -> None:
        """Pieces go back unfitted, those never tried first. Raises ``MisfitError`` where there are not so many."""
        if self.purchases.of(back.bought).purchase.part != back.part:
            raise MisfitError(f"number {back.bought} of the record is no purchase of {back.part}")
        self.purchases.sent_back(back.bought, back.units)
        self._come(back.bought)
        left = back.units
        for pile in self._of_purchase[back.bought]:
            taken = self._take(pile, left)
            left -= taken
            if pile.tries:
                self.purchases.fitted(back.bought, -taken)
            else:
                self.purchases.of(back.bought).unfitted_back += taken
        if left:
            raise MisfitError(f"more pieces of {back.part} than the shelf held of that purchase")

    def _come(self, bought: int | None) -> None:
        """What was fitted or went back has come, and with it all of its purchase."""
        for pile in self._of_purchase.get(bought, ()):
            pile.days = 0

    def on_order(self) -> tuple[OnOrder, ...]:
        """What was bought and neither fitted nor sent back, by purchase."""
        return tuple(
            OnOrder(
                bought=pile.bought,
                part=pile.part,
                supplier=self.purchases.of(pile.bought).purchase.supplier,
                units=pile.units,
                days=pile.days,
            )
            for pile in self.piles.values()
            if pile.bought is not None and pile.untouched and pile.units
        )

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

    def _sources(self, piece: FittedPiece) -> Iterator[Pile]:
        """The piles that a piece may come from: where it was planned, its purchase, then what is alike."""
        found = self._named(piece)
        yield from found
        if found and found[0].untouched:  # one row may stand for several purchases alike
            names = {pile.name for pile in found}
            alike = tuple(self._lying.get(found[0].alike, {}).values())
            yield from (pile for pile in alike if pile.name not in names)

    def _named(self, piece: FittedPiece) -> list[Pile]:
        """The pile that a piece was planned under and those of its purchase; else what it may be, where it says less.

        A row of the folder may have another place there by now, and a fitting may name the quote and no purchase.
        """
        if piece.bought is not None:
            named = [self.piles[piece.quote]] if piece.quote in self.piles else []
            found = [*named, *(pile for pile in self._of_purchase.get(piece.bought, ()) if pile not in named)]
        elif piece.quote.startswith(OWN):
            rows = [p for p in self._own if p.condition == piece.condition or p.name == piece.quote]
            found = sorted(rows, key=lambda pile: (pile.condition != piece.condition, pile.name != piece.quote))
        elif piece.quote in self.piles:
            found = [self.piles[piece.quote]]
        else:
            found = [pile for number in self._by_quote.get(piece.quote, ()) for pile in self._of_purchase[number]]
        return [pile for pile in found if pile.part == piece.part]

    def _lay(self, pile: Pile) -> None:
        self.piles[pile.name] = pile
        if pile.bought is not None:
            self._of_purchase.setdefault(pile.bought, []).append(pile)
        if pile.untouched:
            self._lying.setdefault(pile.alike, {})[pile.name] = pile

    def _take(self, pile: Pile, most: int) -> int:
        """Take pieces off a pile, as many as there are, and return how many."""
        taken = min(pile.units, most)
        pile.units -= taken
        if not pile.units and pile.untouched:
            self._lying[pile.alike].pop(pile.name, None)
        return taken
