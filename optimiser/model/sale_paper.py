"""What a buyer is told at the sale: what was found and done, with dates, and what was left undone."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum

from optimiser.model.base import Record
from optimiser.model.job import Fault, Job, Severity
from optimiser.names import id_for


class Ended(StrEnum):
    """How a fault stands at the sale, as far as the record tells.

    ``CURED``: a repair was written down as a cure. ``CURED_AGAIN``: so it was, came back, and was cured once more.
    ``CAME_RIGHT``: it is gone, and no repair was written down as its cure.
    ``CAME_BACK``: it was cured and is not any more. ``TRIED``: repairs were tried and none cured. ``LOOKED_AT``: only
    looked at. ``UNTOUCHED``: nothing was done.
    """

    CURED = "cured"
    CURED_AGAIN = "cured-again"
    CAME_RIGHT = "came-right"
    CAME_BACK = "came-back"
    TRIED = "tried"
    LOOKED_AT = "looked-at"
    UNTOUCHED = "untouched"


LEFT = "left"
"""The result of the deed that was none: it was decided to leave the fault as it is."""
BACK = "back"
"""The result of the deed that was none: a fault that was cured was seen again."""


RIGHT = "came-right"
"""The result of the deed that was none: a fault came right by itself."""
TESTED = "tested"
"""The result of the deed that was none of the owner's: somebody licensed tested it, and passed it."""


class PieceFitted(Record):
    """Pieces that were used; ``price_minor`` is what was paid for them where the record knows their purchase.

    ``supplier`` is None for what lay on the shelf; ``stayed`` whether they are still fitted; ``back_minor`` what came
    back of their price once they were sent back, None where they were not.
    """

    part: str
    units: int
    condition: str
    supplier: str | None = None
    price_minor: int | None = None
    warranty_months: int | None = None
    stayed: bool = True
    back_minor: int | None = None


class Deed(Record):
    """One thing done or seen on a fault: a check with its result, a cause seen or ruled out, a repair.

    ``LEFT``, ``BACK``, ``RIGHT`` and ``TESTED`` are results of their own.
    """

    at: datetime
    entry: int
    check: str = ""
    result: str = ""
    cause: str = ""
    repair: str = ""
    cured: bool | None = None
    pieces: tuple[PieceFitted, ...] = ()
    price_minor: int = 0
    by_workshop: bool = False
    since: str = ""
    """Of what came right the title of the twin that a repair had cured by then."""
    unlicensed: tuple[str, ...] = ()
    """Licensed systems that the owner worked on without being licensed for them."""

    @property
    def mended(self) -> bool:
        """Whether the fault was cured by it, or seen to be cured."""
        return bool(self.cured) or self.result in ("works", RIGHT)


class OpenFinding(Record):
    """What an entry tells of a cured fault, and the cure does not explain: the causes that it points at."""

    entry: int
    causes: tuple[str, ...]

    @property
    def said(self) -> str:
        """The causes in words."""
        return " or ".join(cause.replace("-", " ") for cause in self.causes)

    def title(self, fault: Fault) -> str:
        """What it is called as a fault of its own."""
        return f"{self.said} ({fault.title or fault.id})"

    def fault_id(self, fault: Fault) -> str:
        """The id of that fault once it is written down."""
        return id_for(self.title(fault))


class FaultStory(Record):
    """A fault from the first look to the sale; ``noticed`` where it was seen later than the job was written."""

    fault: Fault
    ended: Ended
    deeds: tuple[Deed, ...]
    noticed: datetime | None = None
    open_findings: tuple[OpenFinding, ...] = ()

    @property
    def done(self) -> bool:
        """Whether it is mended."""
        return self.ended in {Ended.CURED, Ended.CURED_AGAIN, Ended.CAME_RIGHT}

    @property
    def since(self) -> str:
        """The title of the twin with whose repair it came right, if it did."""
        last = next((deed for deed in reversed(self.deeds) if deed.mended), None)
        return last.since if last is not None and self.done else ""

    @property
    def untested(self) -> tuple[str, ...]:
        """Licensed systems that it was put right on by an owner who is not licensed for them."""
        last = next((deed for deed in reversed(self.deeds) if deed.mended or deed.result == TESTED), None)
        return last.unlicensed if last is not None and self.done else ()

    @property
    def unproven(self) -> bool:
        """Whether it was dangerous, is mended, and no test of it by somebody licensed is told since."""
        last = next((deed for deed in reversed(self.deeds) if deed.mended or deed.result == TESTED), None)
        return self.done and self.fault.severity == Severity.DANGEROUS and (last is None or last.result != TESTED)


class SalePaper(Record):
    """Every fault, the mended ones first as they were mended, then the others, the gravest first."""

    job: Job
    day: date | None
    """The day of the job or of the last entry, whichever is later."""
    mended: tuple[FaultStory, ...]
    left: tuple[FaultStory, ...]
    spare: tuple[PieceFitted, ...] = ()
    """Pieces bought and neither fitted nor sent back: they may go with the vehicle."""
