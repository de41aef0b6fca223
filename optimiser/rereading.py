"""A part of the service: moments of one job, one after another, for a program that stays open beside it."""

from __future__ import annotations

import threading
import time
from datetime import date
from pathlib import Path

from optimiser import job_folder
from optimiser.job_folder import changed_files
from optimiser.ledger import Store
from optimiser.model.job import Job
from optimiser.state import Moment
from optimiser.state.history import Plans

COARSE_NS = 1_000_000_000
"""Clocks of file systems may be so coarse: what changed less than this before it was read may have changed since."""


class Rereading:
    """The folder's files are read again only where one of them changed; the record is read every time.

    The moments of one record share what was folded and read back. May be called by several threads.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._lock = threading.Lock()
        self._job: Job | None = None
        self._known: tuple[date, changed_files.Marks] | None = None
        self._last: Moment | None = None

    def moment(self, today: date) -> Moment:
        """What is known now. Raises as ``service.moment`` does."""
        with self._lock:
            job = self._read(today)
            recorded = Store(self.folder).everything()
            last = self._last
            if last is not None and last.folder is job and last.record == recorded.entries:
                if last.plans.made != recorded.plans:
                    last = Moment(job, recorded.entries, plans=Plans(recorded.plans), folds=last.folds)
            else:
                same_plans = last is not None and last.plans.made == recorded.plans
                plans = last.plans if last is not None and same_plans else Plans(recorded.plans)
                last = Moment(job, recorded.entries, plans=plans)
            self._last = last
            return last

    def _read(self, today: date) -> Job:
        now, began = (today, changed_files.marks(self.folder)), time.time_ns()
        if self._job is None or now != self._known:
            self._job = job_folder.job(self.folder, today)
            settled = changed_files.newest_ns(now[1]) < began - COARSE_NS
            self._known = now if settled else None
        return self._job
