"""How a plan moved since an earlier one: what became of each fault, what brought it about, and the money it moved."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import Literal

from optimiser.model.base import Record
from optimiser.model.events import Happening
from optimiser.model.job import Fault
from optimiser.model.plan import Plan
from optimiser.model.quotes import Quote
from optimiser.model.route import Route


class Turn(StrEnum):
    """What became of one fault. ``LEFT``: nothing is done in either plan; ``SHIFTED``: the same, at another chance."""

    CURED = "cured"
    GONE = "gone"
    REOPENED = "reopened"
    NEW = "new"
    AS_FORESEEN = "as-foreseen"
    ADDED = "added"
    DROPPED = "dropped"
    NEW_CHOICE = "new-choice"
    LATER_STEPS = "later-steps"
    SHIFTED = "shifted"
    KEPT = "kept"
    LEFT = "left"


UNMOVED = frozenset({Turn.KEPT, Turn.LEFT})
LEAST_SHIFT = 0.01
"""By how much a chance must differ to be told where all that is done stays (common practice, no published source)."""


class What(StrEnum):
    """What differs between the two moments."""

    HAPPENED = "happened"
    STRUCK = "struck"
    QUOTES = "quotes"
    LAPSED = "lapsed"
    DAY = "day"
    WRITTEN = "written"


class QuotePair(Record):
    """A quote as it was and as it is; None where it was not there then, or is gone."""

    was: Quote | None = None
    now: Quote | None = None

    @property
    def quote(self) -> Quote:
        """Whichever there is, the present one first. Raises ``ValueError`` for an empty pair."""
        known = self.now or self.was
        if known is None:
            raise ValueError("a pair without a quote")
        return known


class Cause(Record):
    """One thing that differs between the two moments, and the faults that would not have moved without it.

    ``enough_for`` are faults that move without any one cause, and would have moved by this one alone.

    ``number`` and ``happening`` are those of an entry of the record, ``quotes`` what changed in the sheets, ``place``
    with ``was`` and ``now`` (amounts in minor units) what was written otherwise in the folder. ``checked`` is False
    where the time ran out before the plan was made again without it. ``supposed``: it is only asked what would be if.
    """

    what: What
    number: int | None = None
    happening: Happening | None = None
    quotes: tuple[QuotePair, ...] = ()
    place: tuple[str, ...] = ()
    was: str = ""
    now: str = ""
    moved: tuple[str, ...] = ()
    enough_for: tuple[str, ...] = ()
    checked: bool = False
    supposed: bool = False


class Explained(StrEnum):
    """How a move is explained.

    ``ALONE``: without this one cause the fault stands as it did. ``EACH``: so it does without any one of several.
    ``ENOUGH``: it moves without any one of them, and each of these by itself would have moved it as far.
    ``TOGETHER``: no cause explains it by itself. ``NOTHING``: nothing is known to differ. ``OPEN``: not all causes were
    tried.
    """

    ALONE = "alone"
    EACH = "each"
    ENOUGH = "enough"
    TOGETHER = "together"
    NOTHING = "nothing"
    OPEN = "open"


class Side(Record):
    """A fault in one of the two plans; ``fixes`` is its chance times its importance.

    ``landed_minor`` and ``most_minor`` are None where the earlier plan does not say them.
    """

    route: Route | None = None
    chance: float = 0.0
    fixes: float = 0.0
    landed_minor: int | None = 0
    most_minor: int | None = 0


class Move(Record):
    """What became of one fault.

    ``before`` is None where the earlier plan did not list it, ``after`` where it is planned no more. ``paid_minor`` is
    what was paid on it since; ``bought`` are the purchases of it. ``causes`` are places in the list of causes.
    ``foreseen`` is what the earlier plan does by now, None where nothing happened that it foresaw.
    """

    fault: Fault
    turn: Turn
    before: Side | None = None
    after: Side | None = None
    foreseen: Route | None = None
    paid_minor: int = 0
    bought: tuple[int, ...] = ()
    found: Explained = Explained.NOTHING
    causes: tuple[int, ...] = ()

    @property
    def moved(self) -> bool:
        """Whether anything about it is another than before."""
        return self.turn not in UNMOVED

    @property
    def freed_minor(self) -> int | None:
        """What the fault held of the pot, less what was paid on it and what it holds now; below zero: it takes more."""
        before = 0 if self.before is None else self.before.most_minor
        after = 0 if self.after is None else self.after.most_minor
        return None if before is None or after is None else before - after - self.paid_minor


class Margin(Record):
    """How much better the plan is than keeping to the last one; ``small_below`` is what counts as a little.

    In fixes (weighted) or minor units. ``small`` says that it is not worth a switch once something is ordered.
    """

    unit: Literal["fixes", "money"]
    better: float
    small_below: float

    @property
    def small(self) -> bool:
        """Whether it is better by a little only."""
        return self.better < self.small_below


class Sums(Record):
    """The whole of a plan: what remains to plan with, what of it nothing is planned for, faults expected mended."""

    remaining_minor: int
    unspent_minor: int
    fixes: float


class Moves(Record):
    """The plan now against an earlier one.

    ``folder_known`` is False where the earlier plan does not say what the folder held, so that only what the record
    holds could be tried as a cause. ``before`` is None where its sums cannot be made out, ``margin`` where there is
    nothing to keep to.
    """

    number: int
    at: datetime
    plan: Plan
    moves: tuple[Move, ...]
    causes: tuple[Cause, ...]
    before: Sums | None
    now: Sums
    spent_minor: int
    margin: Margin | None = None
    folder_known: bool = True

    @property
    def moved(self) -> tuple[Move, ...]:
        """The faults that are not as they were."""
        return tuple(move for move in self.moves if move.moved)
