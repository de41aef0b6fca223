"""Orders that are still being written down: what is added to one pays no postage again and has its goods behind it.

A person enters an order line by line. In between the plan must not leave out what the order holds. An order of which
something was fitted or went back has come, and nothing can be added to it; what was refunded whole is in none.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta

from optimiser.model.events import Entry, Fitting, Happening, Purchase, Refund, SentBack
from optimiser.model.quotes import Supplier

ONE_ORDER = timedelta(hours=12)
"""Purchases from one supplier this close together are taken for one order (common practice, no published source)."""


def joined(
    suppliers: Iterable[Supplier], record: Sequence[Entry], currency: str, today: date | None, now: datetime | None
) -> tuple[Supplier, ...]:
    """The suppliers with the terms that hold on top of what was bought from them today.

    Today ends ``ONE_ORDER`` after a purchase: by the clock (``now``), else by what was written down last.
    """
    last = max((entry.happening.at for entry in record), default=now) if now is None else now
    open_orders: dict[str, list[Entry]] = {}
    back = Counter[int | None]()
    for entry in record:
        if isinstance(entry.happening, Refund) and entry.happening.currency == currency:
            back[entry.happening.bought] += entry.happening.amount_minor
    for entry in record:
        bought = entry.happening
        for number in _come(bought):
            open_orders = {
                shop: order for shop, order in open_orders.items() if number not in {e.number for e in order}
            }
        if not isinstance(bought, Purchase) or bought.currency != currency or today is None or last is None:
            continue
        refunded = back[entry.number] >= _goods_minor(bought) > 0
        if bought.at.astimezone().date() >= today and last - bought.at <= ONE_ORDER and not refunded:
            open_orders.setdefault(bought.supplier, []).append(entry)
    return tuple(_on_top(row, open_orders[row.id]) if row.id in open_orders else row for row in suppliers)


def _goods_minor(bought: Purchase) -> int:
    return bought.price_minor * bought.packs


def _come(happening: Happening) -> Iterator[int]:
    """The purchases of which a happening shows that they have come."""
    if isinstance(happening, SentBack):
        yield happening.bought
    elif isinstance(happening, Fitting):
        yield from (piece.bought for piece in happening.pieces if piece.bought is not None)


def _on_top(terms: Supplier, order: Sequence[Entry]) -> Supplier:
    """The terms for what is added to an order."""
    bought = [entry.happening for entry in order if isinstance(entry.happening, Purchase)]
    goods = sum(map(_goods_minor, bought))
    free = None if terms.free_over_minor is None else max(0, terms.free_over_minor - goods)
    paid = free == 0 or any(purchase.postage_minor for purchase in bought)
    return terms.model_copy(
        update={
            "postage_minor": 0 if paid else terms.postage_minor,
            "free_over_minor": free,
            "minimum_order_minor": max(0, terms.minimum_order_minor - goods),
            "joins": tuple(entry.number for entry in order),
            "own": terms,
        }
    )
