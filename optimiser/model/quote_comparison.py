"""Quotes of one part side by side: what each really costs, and which is the best at what.

Plain frozen dataclasses, since nothing outside the program makes any and there may be a hundred thousand of them: as
records of pydantic these took twice the time and memory.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from optimiser.model.job import Job
from optimiser.model.option import NotOffered
from optimiser.model.plan import Plan
from optimiser.model.quotes import Quote, Supplier


class Merit(StrEnum):
    """What a quote can be the best at."""

    EACH = "cheapest-each"
    ALONE = "cheapest-alone"
    IN_PLAN = "cheapest-in-plan"
    UNTIL_SOUND = "cheapest-until-one-works"
    SOONEST = "soonest"
    WARRANTY = "longest-warranty"


@dataclass(frozen=True, slots=True)
class Landed:
    """What a quote adds to one order, in minor units, and how that comes about.

    ``order_minor`` is the whole order that carries it, ``before_minor`` the same supplier's order without it (0: there
    is none). ``top_up_minor`` and ``postage_minor`` are those of the order that carries it, ``goods_minor`` its own
    packs. ``lost_minor`` are deposits on pieces too many, which do not come back.
    """

    packs: int
    goods_minor: int
    top_up_minor: int
    postage_minor: int
    order_minor: int
    before_minor: int
    lost_minor: int

    @property
    def total_minor(self) -> int:
        """What it adds, less the deposits that come back."""
        return self.order_minor - self.before_minor + self.lost_minor


@dataclass(frozen=True, slots=True)
class Again:
    """What follows a piece that is not sound.

    ``again_minor`` is what going on to the next try takes, ``refund_minor`` what is given back of the goods;
    ``replaced`` where the next one comes under warranty for the postage. ``expected_minor`` is what all tries together
    are expected to take until one is sound, half a unit up. ``one_try``: the stock is enough for one, and the figure
    is as if another like it turned up.
    """

    expected_minor: int
    again_minor: int
    refund_minor: int
    replaced: bool
    one_try: bool = False


@dataclass(frozen=True, slots=True)
class Quoted:
    """One quote beside the others of its part.

    ``barred`` says why it cannot be bought: then it has no figures beyond its price. ``alone`` is None where its order
    does not reach the supplier's minimum with all that is offered there, ``in_plan`` also where no plan was asked for,
    ``until_sound`` also where it is as good as never sound.
    """

    quote: Quote
    terms: Supplier
    barred: NotOffered | None = None
    alone: Landed | None = None
    in_plan: Landed | None = None
    until_sound: Again | None = None
    planned: bool = False
    wins: frozenset[Merit] = frozenset()

    @property
    def may_be_bought(self) -> bool:
        """Whether nothing bars it and an order that carries it can be made."""
        return self.barred is None and (self.alone is not None or self.in_plan is not None)


@dataclass(frozen=True, slots=True)
class QuotesOfPart:
    """Every quote of a part, the cheapest bought alone first, those that cannot be bought last.

    ``units`` are the pieces that each is reckoned for: the greatest need of any one repair of an open fault, in whole
    sets; one set where no open fault needs the part. ``repairs`` name the part, as fault/repair. ``on_shelf`` are
    pieces there already.
    """

    part: str
    units: int
    repairs: tuple[str, ...]
    on_shelf: int
    rows: tuple[Quoted, ...]

    @property
    def may_be_bought(self) -> tuple[Quoted, ...]:
        """The quotes that an order can be made for."""
        return tuple(row for row in self.rows if row.may_be_bought)


@dataclass(frozen=True, slots=True)
class QuotesCompared:
    """The quotes of a job, part by part; ``plan`` is the one that they were held against, None where none was."""

    job: Job
    plan: Plan | None
    parts: tuple[QuotesOfPart, ...]


@dataclass(frozen=True, slots=True)
class MatrixRow:
    """One part in one condition, and by supplier the quote with the lowest price each."""

    part: str
    condition: str
    cells: Mapping[str, Quote]

    @property
    def cheapest(self) -> frozenset[str]:
        """The suppliers that ask the least each."""
        least = min((quote.each for quote in self.cells.values()), default=None)
        return frozenset(supplier for supplier, quote in self.cells.items() if quote.each == least)


@dataclass(frozen=True, slots=True)
class Matrix:
    """Parts by suppliers: what may be bought now."""

    job: Job
    suppliers: tuple[str, ...]
    rows: tuple[MatrixRow, ...]
