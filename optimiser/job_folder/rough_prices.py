"""Rough prices of parts as quotes to plan with, until somebody quotes the part."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from optimiser.job_folder import package_data
from optimiser.model.job import Part
from optimiser.model.quotes import STILL_TO_BE_ASKED, Quote, Supplier

NOBODY_YET = Supplier(id=STILL_TO_BE_ASKED, title="a shop still to be asked")


def rough_quotes(parts: Iterable[Part], quotes: Iterable[Quote]) -> Iterator[Quote]:
    """A quote at the middle of each rough price of a part that no sheet quotes, from nobody yet."""
    quoted = {quote.part for quote in quotes}
    for part in parts:
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
