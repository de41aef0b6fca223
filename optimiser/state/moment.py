"""A job at one moment: what its folder said and what its record held, read once in a call and passed on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property
from typing import Any

from optimiser.model.events import Entry, Happening, entries
from optimiser.model.events import standing as counting
from optimiser.model.job import Job, SheetWords
from optimiser.model.quotes import in_order
from optimiser.state.current import Standing, stood
from optimiser.state.history import Plans
from optimiser.state.orders import joined

ASIDE: dict[str, Any] = {"unfit": (), "on_order": (), "deposits_due": (), "words": SheetWords()}
"""What a job says beside what it is planned from."""
ORDERLESS = ("access", "parts", "suppliers", "faults", "closed")


class Folds:
    """Every moment of a call folded once: the last kept plan often knew what is known now."""

    def __init__(self) -> None:
        self._known: list[tuple[Job, tuple[Entry, ...], Standing]] = []

    def of(self, folder: Job, record: tuple[Entry, ...]) -> Standing:
        """The folder with the record worked in."""
        for job, entries_then, standing in self._known:
            if job is folder and entries_then == record:
                return standing
        self._known.append((folder, record, stood(folder, record)))
        return self._known[-1][2]


@dataclass(frozen=True)
class Moment:
    """The folder's job and the record's entries: the job as it stood. Those from ``supposed`` on did not happen.

    ``plans`` are those that the record keeps.
    """

    folder: Job
    record: tuple[Entry, ...] = ()
    supposed: int | None = None
    plans: Plans = field(default_factory=Plans, compare=False)
    folds: Folds = field(default_factory=Folds, compare=False, repr=False)

    @cached_property
    def standing(self) -> Standing:
        """The job as it stands, with what is open beside it."""
        return self.folds.of(self.folder, self.record)

    @property
    def job(self) -> Job:
        """The job as it stands."""
        return self.standing.job

    def job_at(self, now: datetime) -> Job:
        """The job as it stands, with the orders that are still being written down by the clock."""
        settings = self.folder.settings
        counted = tuple(counting(self.record))
        terms = joined(self.folder.suppliers, counted, settings.currency, settings.today, now)
        return self.job.model_copy(update={"suppliers": terms})

    @property
    def known(self) -> int:
        """The number of the last entry, 0 where there is none."""
        return self.record[-1].number if self.record else 0

    @cached_property
    def planned(self) -> Job:
        """All that a plan depends on, rows in an order of their own."""
        return self._quoteless.model_copy(update={"quotes": tuple(in_order(self.standing.job.quotes))})

    @cached_property
    def _quoteless(self) -> Job:
        job = self.standing.job
        rows = {name: tuple(sorted(getattr(job, name), key=lambda row: row.id)) for name in ORDERLESS}
        return job.model_copy(update=ASIDE | rows | {"quotes": ()})

    def has_plan_of(self, other: Moment) -> bool:
        """Whether all that a plan depends on is the same; of quotes there may be very many, so they come last."""
        if self._quoteless != other._quoteless:
            return False
        return self.job.quotes == other.job.quotes or self.planned.quotes == other.planned.quotes

    def at(self, after: int, folder: Job | None = None) -> Moment:
        """The moment after that entry: later ones are not there, what they struck out stands; ``folder`` as it was."""
        then = [(entry.number, entry.happening) for entry in self.record if entry.number <= after]
        there = self.folder if folder is None or folder == self.folder else folder
        return Moment(there, entries(then), folds=self.folds)

    def after(self, happenings: Sequence[Happening], *, supposed: bool = False) -> Moment:
        """The moment once these have happened too, or as if they had."""
        first = self.known + 1
        written = [(entry.number, entry.happening) for entry in self.record]
        record = entries([*written, *enumerate(happenings, start=first)])
        return replace(self, record=record, supposed=first if supposed else None)

    def without(self, number: int) -> Moment:
        """As if this had not happened."""
        return replace(self, record=tuple(entry for entry in self.record if entry.number != number))

    def unstruck(self, number: int) -> Moment:
        """As if this had not been struck out."""
        record = (e._replace(struck_by=None) if e.number == number else e for e in self.record)
        return replace(self, record=tuple(record))

    def with_folder(self, **rows: Any) -> Moment:
        """With other rows in the folder's job."""
        return replace(self, folder=self.folder.model_copy(update=rows))

    def with_pot(self, cap_minor: int) -> Moment:
        """With another whole pot in the folder's job, in minor units; more than that may be gone already."""
        return self.with_folder(pot=self.folder.pot.model_copy(update={"cap_minor": cap_minor}))


def put_back(rows: Iterable[Any], row_id: str, was: Any) -> tuple[Any, ...]:
    """Rows with the one of this id as it was: replaced, left out (None), or put in again."""
    kept = list(rows)
    places = [n for n, row in enumerate(kept) if row.id == row_id]
    if not places:
        return (*kept, was) if was is not None else tuple(kept)
    kept[places[0] : places[0] + 1] = [] if was is None else [was]
    return tuple(kept)
