"""The suppliers' sheets after what was bought and corrected: stock and prices.

A quote's id is its line, and lines move when a sheet is edited: quotes are found again by what they say.
"""

from __future__ import annotations

from collections.abc import Iterator
from operator import is_

from optimiser.model.events import FittedPiece, PriceCorrected, Purchase
from optimiser.model.quotes import Quote
from optimiser.state.misfit import MisfitError

Key = tuple[str, str | None, str, str]
"""Part, supplier, condition, reference."""


class Sheets:
    """Every quote as it stands; ``quotes_of`` tells by the origin of pieces which quotes they came from."""

    def __init__(self, quotes: tuple[Quote, ...]) -> None:
        self._written, self._rows = quotes, list(quotes)
        self._index: dict[Key, list[int]] | None = None
        self._batches: dict[object, str] = {}
        self._taken: dict[int, tuple[int, int]] = {}
        """By purchase the row that it was taken off, and how many packs."""
        self.quotes_of: dict[str, tuple[str, ...]] = {}

    @property
    def quotes(self) -> tuple[Quote, ...]:
        """Those as written, the very same, where nothing has changed: they are looked up in one index then."""
        same = all(map(is_, self._rows, self._written))
        return self._written if same else tuple(self._rows)

    def of(self, origin: str) -> tuple[str, ...]:
        """The quotes that pieces of that origin were bought by, as far as the sheets hold them."""
        return self.quotes_of.get(origin, ())

    def bought(self, number: int, purchase: Purchase) -> str:
        """Take the packs off the stock of the quote that they came from, if the sheets still hold it.

        Returns the origin of the pieces, which is that of the first purchase of the same quote: one quote, one batch.
        What nobody quoted is a batch of its own.
        """
        name, place = f"bought:{number}", self._place(purchase)
        if place is not None:
            row = self._rows[place]
            if row.stock is not None:
                taken = min(row.stock, purchase.packs)
                self._taken[number] = place, taken
                self._rows[place] = row.model_copy(update={"stock": row.stock - taken})
            origin = self._batches.setdefault(place, name)
            self.quotes_of.setdefault(origin, self._as_one(place))
            return origin
        return self._batches.setdefault((*_key(purchase), purchase.pack), name) if purchase.quote else name

    def back(self, number: int, packs: int) -> None:
        """Lay packs of a purchase to the stock again that they were taken off."""
        place, taken = self._taken.get(number, (0, 0))
        again = min(packs, taken)
        if again:
            self._taken[number] = place, taken - again
            row = self._rows[place]
            self._rows[place] = row.model_copy(update={"stock": (row.stock or 0) + again})

    def _place(self, purchase: Purchase) -> int | None:
        """The row that a purchase is from: by what was paid, then by its line, which may have moved.

        Of rows alike the one named is meant as long as it has any left. The price paid may be another than the one
        asked; then it is the row named, or the only one.
        """
        rows = [n for n in self._like(_key(purchase)) if self._rows[n].pack == purchase.pack]

        def rank(place: int) -> tuple[bool, bool, bool]:
            row = self._rows[place]
            other = (row.good_chance, row.deposit_minor) != (purchase.good_chance, purchase.deposit_minor)
            return other, row.stock == 0, row.id != purchase.quote

        as_paid = [n for n in rows if self._rows[n].price_minor == purchase.price_minor]
        if as_paid:
            return min(as_paid, key=rank)
        named = [n for n in rows if self._rows[n].id == purchase.quote]
        return named[0] if named else rows[0] if len(rows) == 1 else None

    def _as_one(self, place: int) -> tuple[str, ...]:
        """The row, and those that are offered as one with it: alike in everything, and none of them can run out."""
        row = self._rows[place]
        if row.stock is not None:
            return (row.id,)
        return tuple(self._rows[n].id for n in self._like(_key(row)) if self._rows[n].content == row.content)

    def fitted(self, origin: str, piece: FittedPiece) -> None:
        """Remember which quote a piece came from that was fitted without a purchase, the first time that it is."""
        found = [row.id for row in self._rows if row.id == piece.quote and row.part == piece.part]
        self.quotes_of.setdefault(origin, tuple(found))

    def correct(self, price: PriceCorrected) -> None:
        """Put in what the supplier really asks. A sheet that already says so is left; raises ``MisfitError``."""
        rows = list(self._like((price.part, price.supplier, price.condition, price.ref)))
        named = [n for n in rows if self._rows[n].id == price.quote]
        for some in (named, rows):
            was = [n for n in some if self._rows[n].price_minor == price.was_minor]
            if was:
                self._rows[was[0]] = self._rows[was[0]].model_copy(update={"price_minor": price.now_minor})
                return
        if not any(self._rows[n].price_minor == price.now_minor for n in rows):
            told = "now asks another price" if rows else "is no longer in the sheets"
            raise MisfitError(f"the quote of {price.supplier} for {price.part} {told}")

    def _like(self, key: Key) -> Iterator[int]:
        """The places of the quotes that say the same of part, supplier, condition and reference, in their order."""
        if self._index is None:
            self._index = {}
            for place, row in enumerate(self._rows):
                self._index.setdefault((row.part, row.supplier, row.condition, row.ref), []).append(place)
        return iter(self._index.get(key, ()))


def _key(said: Purchase | Quote) -> Key:
    return (said.part, said.supplier, said.condition, said.ref)
