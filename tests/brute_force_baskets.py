"""The cheapest basket by trying every number of packs: plain and slow, sharing nothing with the program."""

from __future__ import annotations

from collections import defaultdict
from itertools import product

from optimiser.model.job import Job
from optimiser.model.quotes import Quote, Supplier

NEVER_USED = {
    "friction", "brake-hydraulic", "steering", "tyre", "fuel-or-gas-hose", "restraint", "coupling-or-lifting",
    "other-safety",
}  # fmt: skip
Price = tuple[int, int, int]
"""Net cost and cash in minor units, and the number of suppliers."""


def cheapest(job: Job, wanted: dict[str, int], conditions: tuple[str, ...] = ()) -> Price | None:
    """The least net cost, then cash, then number of suppliers; None where the list cannot be had."""
    quotes = [q for q in job.quotes if may_be_bought(job, q) and (not conditions or q.condition in conditions)]
    terms = {s.id: s for s in job.suppliers}
    tried = (price(wanted, terms, dict(zip((q.id for q in quotes), packs)), quotes) for packs in _packs(quotes, wanted, terms))  # noqa: E501 # fmt: skip
    return min((found for found in tried if found is not None), default=None)


def may_be_bought(job: Job, quote: Quote) -> bool:
    today, needed_by = job.settings.today, job.settings.needed_by
    part = next((p for p in job.parts if p.id == quote.part), None)
    kind = part.kind if part else "free"
    barred = kind in NEVER_USED if part is None or part.never_salvage is None else part.never_salvage
    return not (
        (quote.valid_until is not None and quote.valid_until < today)
        or (needed_by is not None and quote.lead_days > (needed_by - today).days)
        or (kind == "restraint" and quote.condition != "new")
        or (barred and quote.condition == "salvage")
    )


def _packs(quotes: list[Quote], wanted: dict[str, int], terms: dict[str, Supplier]):
    """One more pack of anything than here is a pack too many: neither the list nor the terms ask for it."""
    most = []
    for q in quotes:
        s = terms.get(q.supplier)
        asked = max(s.minimum_order_minor, s.free_over_minor or 0) if s else 0
        topping = -(-asked // q.price_minor) if q.price_minor else 0
        high = max(-(-wanted.get(q.part, 0) // q.pack), topping)
        most.append(high if q.stock is None else min(high, q.stock))
    return product(*(range(n + 1) for n in most))


def price(
    wanted: dict[str, int], terms: dict[str, Supplier], packs: dict[str, int], quotes: list[Quote]
) -> Price | None:
    """What these packs come to; None where they are not enough or a minimum order is missed."""
    left = dict(wanted)
    goods: dict[str, int] = defaultdict(int)
    deposits = back = 0
    for q in sorted(quotes, key=lambda q: -q.deposit_minor):
        if packs[q.id]:
            goods[q.supplier] += packs[q.id] * q.price_minor
            deposits += packs[q.id] * q.pack * q.deposit_minor
            fits = min(left.get(q.part, 0), packs[q.id] * q.pack)
            if q.part in left:
                left[q.part] -= fits
            back += fits * q.deposit_minor
    if any(left.values()):
        return None
    cash = deposits
    for supplier, worth in goods.items():
        s = terms.get(supplier, Supplier(id=supplier))
        if worth < s.minimum_order_minor:
            return None
        waived = s.free_over_minor is not None and worth >= s.free_over_minor
        cash += worth + (0 if waived else s.postage_minor)
    return cash - back, cash, len(goods)
