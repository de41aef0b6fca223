"""An option: one repair of one fault with one quote for each of its parts."""

from __future__ import annotations

from enum import StrEnum

from optimiser.model.base import Record
from optimiser.model.quotes import Quote


class Line(Record):
    """Pieces of one part from one quote; ``units`` are rounded up to the part's set, ``wanted`` are not."""

    quote: Quote
    units: int
    wanted: int


class Option(Record):
    """A repair with its parts chosen: what it draws on the pot and the hours, and its chance of cure.

    ``chance`` is over the fault's causes and the soundness of the parts; ``minutes`` are the owner's own (0 for a
    workshop), ``days`` until it can be done.
    """

    fault: str
    repair: str
    by_workshop: bool
    lines: tuple[Line, ...]
    direct_minor: int
    minutes: int
    access: tuple[str, ...]
    chance: float
    days: int
    ahead: tuple[str, ...] = ()
    """Quotes whose pieces its route buys ahead: here they cost nothing and are not waited for."""
    scale: float = 1.0
    """What its cures given sound parts are taken times; below 1 only where it is asked how far they may fall."""

    @property
    def key(self) -> tuple[str, ...]:
        """Names the option within the job: fault, repair, and the quote of each part."""
        return (self.fault, self.repair, *(line.quote.id for line in self.lines))

    @property
    def content(self) -> tuple[object, ...]:
        """A sort key made of what the option is, not of where its quotes stand."""
        return (
            tuple(line.quote.content for line in self.lines),
            self.repair,
            tuple(line.quote.line for line in self.lines),
        )

    def dearer(self, surcharge_minor: int) -> Option:
        """The option at a surcharge that no free postage and no minimum order counts."""
        return self.model_copy(update={"direct_minor": self.direct_minor + surcharge_minor})

    def less_sure(self, chance: float) -> Option:
        """The option at this chance instead of its own, all its cures scaled alike."""
        return self.model_copy(update={"scale": self.scale * chance / self.chance, "chance": chance})

    @property
    def leads(self) -> bool:
        """Whether an attempt may come before any order: it buys nothing and waits for nothing."""
        return self.days == 0 and not any(line.quote.supplier for line in self.lines)

    @property
    def minutes_unsaid(self) -> bool:
        """Whether it is own work of which nobody said how long it takes: none takes no time."""
        return not self.by_workshop and self.minutes == 0

    @property
    def suppliers(self) -> frozenset[str]:
        """Suppliers that an order goes to if this option is taken."""
        return frozenset(line.quote.supplier for line in self.ordered if line.quote.supplier is not None)

    @property
    def ordered(self) -> tuple[Line, ...]:
        """The lines that are not bought ahead."""
        return tuple(line for line in self.lines if line.quote.id not in self.ahead)

    @property
    def bought_ahead(self) -> tuple[Line, ...]:
        """The lines that are."""
        return tuple(line for line in self.lines if line.quote.id in self.ahead)


class Bar(StrEnum):
    """Why something in the job is not offered."""

    LAPSED = "lapsed"
    LATE = "late"
    SALVAGE = "salvage"
    KIND_NOT_SAID = "kind-not-said"
    ONLY_NEW = "only-new"
    LICENSED = "licensed"
    NO_QUOTE = "no-quote"
    NO_REPAIR = "no-repair"
    LEFT = "left"
    TOO_FEW = "too-few"
    NO_CURE = "no-cure"
    TRIED = "tried"


class NotOffered(Record):
    """A quote, an owned row, a repair, a check or a fault that the mix cannot take, and why.

    ``detail`` is a date or a name; ``faults`` are those for which it is barred, where others may still use it.
    """

    kind: str
    id: str
    bar: Bar
    detail: str = ""
    faults: tuple[str, ...] = ()
