"""What tops an order up, told by its sum alone: of a whole catalogue hundreds of packs are good for nothing else.

In a program over sums an order is topped up with nothing, or with an amount in one of some runs. Every sum of packs
that are for nothing but topping up lies in a run, at its price and without deposits: so no mix of real packs is better
than the best one here, and a best one here whose routes come to as much with real packs is a best one. Few runs make a
small program; amounts in them that no packs come to are taken out once a mix wants one (``without``).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import pairwise

from optimiser.model.candidates import Offer, Spans
from optimiser.model.job import Job
from optimiser.model.quotes import Quote
from optimiser.money import sums_with
from optimiser.solver.exact_solve import measured
from optimiser.solver.program import Mix, Values

WORTH_SUMMING = 40
"""Packs of one supplier that are for nothing but topping up, from which on they are told by their sums."""
WIDEST_SUM = 1_000_000
"""Sums are told up to so many minor units."""
MOST_RUNS = 12


@dataclass(frozen=True)
class TopUpSums:
    """An offer with sums in the place of packs; ``sums`` are those that there are of a supplier's, as bits."""

    offer: Offer
    sums: Mapping[str, int]

    @classmethod
    def of(cls, job: Job, offer: Offer) -> TopUpSums | None:
        """None where no supplier has many packs that are for nothing else."""
        most = _most_spared(job, offer)
        own = {line.quote.id for proposal in offer.proposals for line in proposal.certain}
        own |= {quote for proposal in offer.proposals for quote in proposal.other_packs}
        packs: dict[str, list[Quote]] = defaultdict(list)
        for quote in offer.quotes:
            if quote.supplier in most and quote.price_minor and quote.id not in own:
                packs[quote.supplier].append(quote)
        sums = {name: _sums(sold, most[name]) for name, sold in packs.items() if len(sold) >= WORTH_SUMMING}
        if not sums:
            return None
        told = {quote.id for name in sums for quote in packs[name]}
        runs = {name: _runs(bits) for name, bits in sums.items()}
        return cls(replace(offer, quotes=tuple(q for q in offer.quotes if q.id not in told), sums=runs), sums)

    def missed(self, mix: Mix, values: Values) -> dict[str, int]:
        """The amounts that a mix tops orders up with and that no packs come to."""
        amounts = {name: measured(sums, values) for name, sums in mix.sums.items()}
        return {name: amount for name, amount in amounts.items() if not self.sums[name] >> amount & 1}

    def without(self, missed: Mapping[str, int]) -> TopUpSums:
        """The same without these amounts, and without those beside each that no packs come to."""
        runs = {
            name: tuple(part for run in spans for part in _parted(run, missed.get(name), self.sums[name]))
            for name, spans in self.offer.sums.items()
        }
        return replace(self, offer=replace(self.offer, sums=runs))


def _most_spared(job: Job, offer: Offer) -> dict[str, int]:
    """By supplier whose terms a top-up may serve what packs beyond the need spare at the most, where that is told."""
    sold: dict[str, list[Quote]] = defaultdict(list)
    for quote in {line.quote.id: line.quote for p in offer.proposals for line in p.certain}.values():
        sold[quote.supplier or ""].append(quote)
    for quote in offer.quotes:
        if quote.supplier in sold:
            sold[quote.supplier].append(quote)
    terms = {supplier.id: supplier for supplier in job.suppliers if supplier.has_threshold}
    spared = {name: terms[name].most_spared_minor(quotes) for name, quotes in sold.items() if name in terms}
    return {name: int(most) for name, most in spared.items() if most <= WIDEST_SUM}


def _sums(packs: Iterable[Quote], most: int) -> int:
    """What some packs together may cost, up to so much, as bits."""
    bits = 1
    for quote in packs:
        bits = sums_with(bits, quote.price_minor, most, quote.stock)
    return bits


def _runs(bits: int) -> Spans:
    """The sums above nothing in a few runs, parted at the widest gaps."""
    sums = [amount for amount in range(1, bits.bit_length()) if bits >> amount & 1]
    gaps = sorted((low - high, low) for high, low in pairwise(sums) if low - high > 1)
    begins = {low for _, low in gaps[max(0, len(gaps) + 1 - MOST_RUNS) :]}
    runs: list[tuple[int, int]] = []
    for amount in sums:
        begun = not runs or amount in begins
        runs = [*runs, (amount, amount)] if begun else [*runs[:-1], (runs[-1][0], amount)]
    return tuple(runs)


def _parted(run: tuple[int, int], missed: int | None, bits: int) -> Spans:
    """A run, or what is left of it on either side of an amount that there is not."""
    low, high = run
    if missed is None or not low < missed < high:
        return (run,)
    below = next(amount for amount in range(missed, low - 1, -1) if bits >> amount & 1)
    above = next(amount for amount in range(missed, high + 1) if bits >> amount & 1)
    return ((low, below), (above, high))
