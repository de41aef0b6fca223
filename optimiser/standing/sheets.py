"""The suppliers' sheets after what was bought and corrected: stock and prices.

A quote's id is its line, and lines move when a sheet is edited: quotes are found again by what they say.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from optimiser.model.happening import FittedPiece, PriceCorrected, Purchase
from optimiser.model.quotes import Quote
from optimiser.standing.misfit import MisfitError

Key = tuple[str, str | None, str, str]
"""Part, supplier, condition, reference."""


class Sheets:
    """Every quote as it stands; ``quotes_of`` tells by the origin of pieces which quotes they came from."""

    def __init__(self, quotes: Sequence[Quote]) -> None:
        self._rows = list(quotes)
        self._index: dict[Key, list[int]] | None = None
        self.quotes_of: dict[str, tuple[str, ...]] = {}

    @property
    def quotes(self) -> tuple[Quote, ...]:
        """The quotes in their order."""
        return tuple(self._rows)

    def of(self, origin: str) -> tuple[str, ...]:
        """The quotes that pieces of that origin were bought by, as far as the sheets hold them."""
        return self.quotes_of.get(origin, ())

    def bought(self, number: int, purchase: Purchase) -> None:
        """Take the packs off the stock of the quote that they came from, if the sheets still hold it.

        The price paid may be another than the one asked. Rows alike in everything are one quote to whoever buys: the
        one named is taken from, and all of them are what was tried.
        """
        key = (purchase.part, purchase.supplier, purchase.condition, purchase.ref)
        rows = [n for n in self._like(key) if self._rows[n].pack == purchase.pack]
        same = [n for n in rows if self._rows[n].price_minor == purchase.price_minor]
        named = [n for n in rows if self._rows[n].id == purchase.quote]
        found = [n for n in named if n in same] or same or named
        if found:
            row = self._rows[found[0]]
            if row.stock is not None:
                left = max(0, row.stock - purchase.packs)
                self._rows[found[0]] = row.model_copy(update={"stock": left})
        alike = same or named or (rows if len(rows) == 1 else [])
        self.quotes_of[f"bought:{number}"] = tuple(self._rows[n].id for n in alike)

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
