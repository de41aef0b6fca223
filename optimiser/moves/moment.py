"""A job at one moment: what its folder said and what its record held."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from optimiser.model.happening import Entry, entries
from optimiser.model.job import Job
from optimiser.standing import Standing, stood

ASIDE: dict[str, Any] = {"unfit": (), "on_order": (), "deposits_due": ()}
"""What a job says beside what it is planned from."""
ORDERLESS = ("access", "parts", "suppliers", "faults", "closed")


@dataclass(frozen=True)
class Moment:
    """The folder's job and the record's entries: the job as it stood. Those from ``supposed`` on did not happen."""

    folder: Job
    record: tuple[Entry, ...]
    supposed: int | None = None

    @cached_property
    def standing(self) -> Standing:
        """The job as it stands, with what is open beside it."""
        return stood(self.folder, self.record)

    @cached_property
    def planned(self) -> Job:
        """All that a plan depends on, rows in an order of their own: moments alike in this have the same plan."""
        job = self.standing.job
        rows = {name: tuple(sorted(getattr(job, name), key=lambda row: row.id)) for name in ORDERLESS}
        quotes = tuple(sorted(job.quotes, key=lambda quote: (quote.content, quote.id)))
        return job.model_copy(update=ASIDE | rows | {"quotes": quotes})

    @classmethod
    def at(cls, folder: Job, record: Sequence[Entry], after: int) -> Moment:
        """The moment after that happening: later entries are not there, what they struck out stands."""
        then = [(entry.number, entry.happening) for entry in record if entry.number <= after]
        return cls(folder, entries(then))

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


def put_back(rows: Iterable[Any], row_id: str, was: Any) -> tuple[Any, ...]:
    """Rows with the one of this id as it was: replaced, left out (None), or put in again."""
    kept = list(rows)
    places = [n for n, row in enumerate(kept) if row.id == row_id]
    if not places:
        return (*kept, was) if was is not None else tuple(kept)
    kept[places[0] : places[0] + 1] = [] if was is None else [was]
    return tuple(kept)
