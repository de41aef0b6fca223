"""Rough prices of parts as quotes to plan with, until somebody quotes the part."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date

from optimiser.job_folder import package_data
from optimiser.model import protection
from optimiser.model.job import Fault, Part
from optimiser.model.quotes import STILL_TO_BE_ASKED, Quote, Supplier

NOBODY_YET = Supplier(id=STILL_TO_BE_ASKED, title="a shop still to be asked")


def rough_quotes(
    parts: Iterable[Part], quotes: Iterable[Quote], faults: Iterable[Fault], today: date
) -> Iterator[Quote]:
    """A quote at the middle of each rough price of a part that no sheet quotes so that it may be bought, from nobody
    yet: one that has lapsed, is out of stock or that safety forbids to fit tells nothing of what the part costs.
    """
    known = {part.id: part for part in parts if part.rough_price}
    users = protection.users(faults)
    quoted = {
        quote.part
        for quote in quotes
        if quote.part in known
        and quote.stock != 0
        and (quote.valid_until is None or quote.valid_until >= today)
        and not protection.never_fits(known[quote.part], users.get(quote.part, ()), quote.condition)
    }
    for part in known.values():
        if part.id in quoted:
            continue
        for condition, (low_minor, high_minor) in part.rough_price.items():
            yield Quote(
                id=f"[[part]] {part.id}, rough {condition}",
                part=part.id,
                supplier=STILL_TO_BE_ASKED,
                condition=condition,
                price_minor=(low_minor + high_minor + 1) // 2,
                good_chance=package_data.conditions()[condition],
                rough=True,
            )
