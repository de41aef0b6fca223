"""The piles on the shelf as the rows that a plan is made from."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Mapping, Sequence
from typing import NamedTuple

from optimiser.model.job import Job, Owned
from optimiser.state.inventory import Pile

Tried = Mapping[str, Collection[str]]
"""By fault the origins of the pieces that failed there."""
MOST_ROWS_OF_A_NEED = 2
MOST_UNITS = 10**6
"""More pieces than any repair may ask for."""


class KnownOfPiles(NamedTuple):
    """What else is known of piles: by origin the quotes that they were bought by, and how sound kept ones are."""

    quotes_of: Mapping[str, tuple[str, ...]]
    sound: Callable[[Pile], float]


def laid_out(piles: Sequence[Pile], job: Job, tried: Tried, known: KnownOfPiles) -> tuple[Owned, ...]:
    """The piles that are not empty as rows, in their order.

    One row must do for a whole repair, so purchases alike are laid together where no one of them would; and so are
    those beyond the attempts that there may be, the latest to come.
    """
    left = [pile for pile in piles if pile.units > 0]
    wanted, failed_on, attempts = _wanted(job), _failed_on(tried), _attempts(job)
    together: dict[object, list[Pile]] = {}
    for pile in left:
        key = (*pile.alike, failed_on.get(pile.origin)) if pile.untouched else pile.name
        together.setdefault(key, []).append(pile)
    rows: dict[str, Owned] = {}
    for some in together.values():
        part, need = some[0].part, wanted.get(some[0].part, 0)
        takes = 1 if min(pile.units for pile in some) >= need else MOST_ROWS_OF_A_NEED
        apart = takes * attempts.get(part, 0) if max(pile.units for pile in some) >= need else 0
        soonest = sorted(some, key=lambda pile: (pile.days, -pile.units))
        for row in [*([pile] for pile in soonest[:apart]), soonest[apart:]]:
            if row:
                rows[row[0].name] = _row(row, known)
    return tuple(rows[pile.name] for pile in left if pile.name in rows)


def _failed_on(tried: Tried) -> dict[str, tuple[str, ...]]:
    """By origin the faults that its pieces failed on."""
    found: dict[str, tuple[str, ...]] = {}
    for fault, origins in tried.items():
        for origin in origins:
            found[origin] = (*found.get(origin, ()), fault)
    return found


def _attempts(job: Job) -> dict[str, int]:
    """The most attempts that there may be with each part."""
    users = Counter(part for fault in job.faults for part in {part for r in fault.repairs for part in r.parts})
    return {part: faults * job.settings.most_attempts for part, faults in users.items()}


def _wanted(job: Job) -> dict[str, int]:
    """The most pieces of each part that a repair takes, in whole sets."""
    rows = {part.id: part for part in job.parts}
    most: dict[str, int] = {}
    for fault in job.faults:
        for repair in fault.repairs:
            for part, wanted in repair.parts.items():
                units = rows[part].whole_sets(wanted) if part in rows else wanted
                most[part] = max(most.get(part, 0), units)
    return most


def _row(piles: Sequence[Pile], known: KnownOfPiles) -> Owned:
    """Piles as one row, under the name of the first; it is here once all of it is."""
    first = piles[0]
    return Owned(
        part=first.part,
        units=min(MOST_UNITS, sum(pile.units for pile in piles)),
        condition=first.condition,
        good_chance=known.sound(first) if first.tries else first.good_chance,
        kept_from=first.kept_from,
        lead_days=max(pile.days for pile in piles),
        name=first.name,
        bought=first.bought,
        came_from=_sources(piles, known),
    )


def _sources(piles: Sequence[Pile], known: KnownOfPiles) -> tuple[str, ...]:
    """The quotes that piles were bought by, and other piles that are of their batches."""
    quotes = [quote for pile in piles for quote in known.quotes_of.get(pile.origin, ())]
    batches = [pile.origin for pile in piles if pile.origin != piles[0].name]
    return tuple(dict.fromkeys((*quotes, *batches)))
