"""Which quotes a plan may take at all: of suppliers' whole catalogues most lines are of no use to a job."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence

from optimiser.model.job import Job, needed_parts
from optimiser.model.quotes import Quote, Supplier
from optimiser.money import sums_with

WIDEST_SUM = 1_000_000
"""Sums of prices are told up to this many minor units; quotes of a higher price stay."""


def of_use(job: Job, quotes: Iterable[Quote], taken: Collection[str] | None = None) -> list[Quote]:
    """Quotes of parts that a repair needs, and of others those that could top up an order of such parts.

    Of the former those that are ``taken`` by an option, where that is known: others are of no more use than the rest.

    What is left out is in no best mix, and in none that is first among equals: the same order without it, or with
    other packs in its place, takes less, or as much and comes first by content.
    """
    wanted = needed_parts(job.faults)
    terms = {supplier.id: supplier for supplier in job.suppliers if supplier.has_threshold}
    needed, others = list[Quote](), defaultdict[str, list[Quote]](list)
    for quote in quotes:
        if quote.id in taken if taken is not None else quote.part in wanted:
            needed.append(quote)
        elif quote.supplier in terms and quote.price_minor:
            others[quote.supplier].append(quote)
    own = defaultdict[str, list[Quote]](list)
    for quote in needed:
        own[quote.supplier or ""].append(quote)
    lasts = _lasting(job)
    return needed + [
        quote for name in others.keys() & own.keys() for quote in _worth(own[name], others[name], terms[name], lasts)
    ]


def _lasting(job: Job) -> Callable[[Quote], bool]:
    """Whether a quote may top up an order of which nobody knows when it will be placed."""
    last_day = job.settings.needed_by
    return lambda q: q.valid_until is None or (last_day is not None and last_day <= q.valid_until)


def _worth(
    own: Sequence[Quote], others: Sequence[Quote], terms: Supplier, lasts: Callable[[Quote], bool]
) -> Iterator[Quote]:
    """Of a supplier's other quotes those that neither cost more than they spare nor are a sum of what comes before."""
    lasting = [quote for quote in (*own, *others) if lasts(quote)]
    most = max(each.most_spared_minor(lasting) for each in (terms, terms.alone))
    yield from _no_sums(own, [quote for quote in others if quote.outlay_minor <= most], lasts)


def _no_sums(own: Sequence[Quote], others: Sequence[Quote], lasts: Callable[[Quote], bool]) -> Iterator[Quote]:
    """Of the others those whose price is no sum of prices that come before by content and never run out.

    Sums are the bits of whole numbers: of all such prices, and of those that last.
    """
    greatest = min(max((quote.price_minor for quote in others), default=0), WIDEST_SUM)
    sums = lasting = 1
    needed = {quote.id for quote in own}
    for quote in sorted([*own, *others], key=lambda q: (q.content, q.line)):
        price, stays = quote.price_minor, lasts(quote)
        if (lasting if stays else sums) >> price & 1 and quote.id not in needed:
            continue
        if quote.id not in needed:
            yield quote
        if quote.stock is None and not quote.deposit_minor:
            sums = sums_with(sums, price, greatest)
            lasting = sums_with(lasting, price, greatest) if stays else lasting
