"""What to do next from where the vehicle stands: what needs no buying, orders, workshops, each with its last day."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from enum import StrEnum

from pydantic import Field

from optimiser.model.base import Record
from optimiser.model.job import Severity
from optimiser.model.option import Option
from optimiser.model.plan import Plan


class Doing(StrEnum):
    """What kind of thing is done, in the order in which an evening is filled.

    ``LOOK``: a check. ``TRY``: own work that takes no part. ``FIT``: parts that are here. ``ASK``: a price is asked
    for that is rough so far. ``ORDER``: parts are sent for. ``BOOK``: a workshop is asked.
    """

    LOOK = "look"
    TRY = "try"
    FIT = "fit"
    ASK = "ask"
    ORDER = "order"
    BOOK = "book"

    @property
    def by_hand(self) -> bool:
        """Whether it is done at the vehicle."""
        return self in (Doing.LOOK, Doing.TRY, Doing.FIT)


class TooLate(StrEnum):
    """What a last day is the last day of."""

    QUOTE = "quote"
    NEEDED_BY = "needed-by"


class LastDay(Record):
    """The last day on which something may be begun, and why."""

    day: date
    why: TooLate


class Task(Record):
    """One thing to do, by what it is: a check, an ``option`` to try, fit or book, or an order to a supplier.

    ``faults`` are those that it serves, the gravest first (none: a top-up alone). ``lines`` are the quotes that an
    order sends for now, ``later`` those that may wait. ``pay_minor`` is paid now, ``minutes`` are those of the owner
    with ``opens``, what comes off first and is not off yet. ``after`` are faults whose own first steps come before it
    where they can: what they show may go into the order, or free its money. ``days`` pass until its parts are here, for
    a booking until its work can be done. ``long_shot``: nothing that it serves is cured by it one time in ten.
    ``held``: something dangerous that is open forbids it for now.
    """

    doing: Doing
    faults: tuple[str, ...]
    severity: Severity | None
    check: str = ""
    option: Option | None = None
    supplier: str = ""
    lines: tuple[str, ...] = ()
    later: tuple[str, ...] = ()
    pay_minor: int = 0
    minutes: int = 0
    opens: tuple[str, ...] = ()
    after: tuple[str, ...] = ()
    days: int = 0
    last_day: LastDay | None = None
    long_shot: bool = False
    held: bool = False

    @property
    def minutes_unsaid(self) -> bool:
        """Whether it is own work of which nobody said how long it takes; only its covers are in ``minutes``."""
        return self.doing.by_hand and self.option is not None and self.option.minutes_unsaid

    @property
    def dangerous(self) -> bool:
        """Whether it serves a dangerous fault."""
        return self.severity == Severity.DANGEROUS


class Tonight(Record):
    """Everything to do next for a plan, in order; the first task is what is next.

    ``limit`` are the minutes of the evening (None: no end), ``tasks`` what fits into them, ``left`` what is for another
    evening. ``urgent`` are the tasks of either that cannot wait, the last day that comes first first. ``cautions`` are
    those of the work in ``tasks``, by title. ``coming`` are parts to fit that were bought and are not here yet.
    ``for_nothing`` are checks that cost nothing, by the dangerous fault that no step of the plan serves.
    """

    plan: Plan
    limit: int | None
    tasks: tuple[Task, ...]
    left: tuple[Task, ...] = ()
    urgent: tuple[Task, ...] = ()
    coming: tuple[Task, ...] = ()
    cautions: Mapping[str, tuple[str, ...]]
    for_nothing: Mapping[str, str] = Field(default_factory=dict)

    @property
    def minutes(self) -> int:
        """The owner's minutes that the tasks take."""
        return sum(task.minutes for task in self.tasks)
