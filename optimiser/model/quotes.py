"""What suppliers ask: a quote is one line of a sheet, a supplier is its postage terms."""

from __future__ import annotations

from collections import Counter, defaultdict, deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence, Set
from datetime import date
from fractions import Fraction
from functools import cached_property
from itertools import chain, groupby
from math import inf
from operator import attrgetter
from typing import Annotated, Literal, get_args

from pydantic import Field

from optimiser import text
from optimiser.model.base import AtLeastOne, Chance, Count, Id, Minor, Record, no_key

Condition = Literal["new", "refurbished", "salvage"]
CONDITIONS: tuple[Condition, ...] = get_args(Condition)
STILL_TO_BE_ASKED = "still-to-be-asked"
"""The supplier of what nobody has quoted yet: rough prices."""


class Supplier(Record):
    """Postage terms: due once an order, waived from ``free_over_minor`` of goods; no order below the minimum."""

    id: Annotated[Id, Field(alias="supplier")]
    title: str = ""
    postage_minor: Annotated[Minor, Field(alias="postage")] = 0
    free_over_minor: Annotated[Minor | None, Field(alias="free_over")] = None
    minimum_order_minor: Annotated[Minor, Field(alias="minimum_order")] = 0
    lead_days: Count = 0
    trip_minutes: Count = 0
    note: str = ""
    joins: tuple[int, ...] = no_key(())
    """The purchases whose order is still being written down: these terms are for what is added to it."""
    own: Supplier | None = no_key(None)
    """The terms of an order of its own, where these are for what joins one."""

    @property
    def has_threshold(self) -> bool:
        """Whether buying more from this supplier can ever pay: a waiver to reach or a minimum to meet."""
        if self.own is not None and self.own.has_threshold:
            return True
        return self.minimum_order_minor > 0 or (self.free_over_minor is not None and self.postage_minor > 0)

    def most_spared_minor(self, offered: Iterable[Quote]) -> float:
        """Packs beyond the need that take more are of no use in an order, whatever else is in it.

        Without them it costs the postage at most, with one pack in their place that reaches the minimum by itself.
        """
        postage = self.postage_minor if self.free_over_minor is not None else 0
        if not self.minimum_order_minor:
            return postage
        reaching = (q.outlay_minor for q in offered if q.stock is None and q.price_minor >= self.minimum_order_minor)
        return postage + min(reaching, default=inf)

    @property
    def alone(self) -> Supplier:
        """The terms of an order of its own, as a later attempt places it."""
        return self.own or self


class Quote(Record):
    """One part from one supplier (None: on the owner's shelf), by the pack, tax included.

    ``id`` is ``file:line``. ``stock`` counts packs (None: no limit), ``deposit_minor`` is per piece.
    """

    id: str
    part: Id
    supplier: Id | None
    condition: Condition
    price_minor: Annotated[Minor, Field(alias="price")]
    pack: AtLeastOne = 1
    stock: Count | None = None
    good_chance: Chance
    deposit_minor: Annotated[Minor, Field(alias="deposit")] = 0
    refund_share: Chance = 0.0
    lead_days: Count = 0
    warranty_months: Count | None = None
    valid_until: date | None = None
    ref: str = ""
    note: str = ""
    rough: bool = no_key(False)
    """Whether nobody asks this price: it is the middle of the part's rough prices; no column of a sheet."""
    came_from: tuple[str, ...] = no_key(())
    """For pieces on the shelf the quotes and rows of whose batch they are: after one failed no other is a new try."""

    @property
    def content(self) -> tuple[str | int | float, ...]:
        """Everything but the line it stands on, as a sort key: the order of rows and files changes no plan."""
        return (
            self.part,
            self.supplier or "",
            self.condition,
            self.price_minor,
            self.pack,
            self.deposit_minor,
            self.ref,
            -1 if self.stock is None else self.stock,
            self.good_chance,
            self.refund_share,
            self.lead_days,
            -1 if self.warranty_months is None else self.warranty_months,
            "" if self.valid_until is None else self.valid_until.isoformat(),
            self.note,
        )

    @property
    def line(self) -> tuple[str, int]:
        """File and line, for rows that are alike in everything else."""
        file, _, line = self.id.rpartition(":")
        return file, text.count(line) or 0

    @property
    def each(self) -> Fraction:
        """The price of one piece in minor units, exactly."""
        return Fraction(self.price_minor, self.pack)

    @property
    def each_minor(self) -> int:
        """The price of one piece, half a unit up."""
        return (2 * self.price_minor + self.pack) // (2 * self.pack)

    @property
    def outlay_minor(self) -> int:
        """What a pack takes when it is bought: its price and the deposits on its pieces."""
        return self.price_minor + self.pack * self.deposit_minor

    def packs_for(self, units: int) -> int:
        """Whole packs that hold at least ``units`` pieces."""
        return -(-units // self.pack)


_begins = attrgetter("part", "price_minor", "ref")


def in_order(quotes: Iterable[Quote]) -> Iterator[Quote]:
    """The quotes in an order of their own, whatever order they stand in; only where several begin alike are they read
    to the end, for there may be very many.
    """
    for _, alike in groupby(sorted(quotes, key=_begins), _begins):
        some = list(alike)
        yield from some if len(some) == 1 else sorted(some, key=lambda quote: (quote.content, quote.id))


Origin = tuple[str, str | None, str, int, str]
"""Part, supplier, condition, pack, reference: where a piece comes from, whatever line its quote stands on."""
origin: Callable[[Quote], Origin] = attrgetter("part", "supplier", "condition", "pack", "ref")


class QuoteIndex:
    """All quotes of a job, looked up; each index is made once, for there may be very many."""

    def __init__(self, quotes: tuple[Quote, ...]) -> None:
        self.quotes = quotes
        self._shared: dict[str, Set[Origin]] = {}

    @cached_property
    def by_id(self) -> Mapping[str, Quote]:
        return {quote.id: quote for quote in self.quotes}

    @cached_property
    def by_part(self) -> Mapping[str, Sequence[Quote]]:
        """The quotes of each part that has any, in their order."""
        found = defaultdict[str, list[Quote]](list)
        for quote in self.quotes:
            found[quote.part].append(quote)
        return dict(found)

    def of(self, parts: Iterable[str]) -> Iterator[Quote]:
        """The quotes of these parts."""
        return chain.from_iterable(self.by_part.get(part, ()) for part in parts)

    def shared_origins(self, parts: Iterable[str]) -> set[Origin]:
        """The origins that several quotes of one of these parts have in common."""
        found = set[Origin]()
        for part in parts:
            if part not in self._shared:
                rows = Counter(map(origin, self.by_part.get(part, ())))
                self._shared[part] = {each for each, times in rows.items() if times > 1}
            found |= self._shared[part]
        return found


NO_QUOTES = QuoteIndex(())
_LATEST: deque[QuoteIndex] = deque(maxlen=3)


def looked_up(quotes: tuple[Quote, ...]) -> QuoteIndex:
    """The quotes with their indexes: those of this very tuple, if it is one of the latest."""
    latest = tuple(_LATEST)  # at once: another thread may look something up meanwhile
    known = next((index for index in latest if index.quotes is quotes), None)
    if known is None:
        known = QuoteIndex(quotes)
        _LATEST.append(known)
    return known
