"""Proven mixes as bytes, and back: what the same job was answered before is not searched for again.

Only which routes were taken is kept, by their numbers: the routes themselves come from the job at hand, and the plan
that is drawn up of them is certified like any other.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib.metadata import version

from pydantic import TypeAdapter, ValidationError

from optimiser import cache
from optimiser.model.base import Record
from optimiser.model.candidates import Proposal
from optimiser.model.job import Job
from optimiser.model.plan import Outcome, Selection, Verdict

MOST_NEARESTS = 8
"""Answers that are kept of one job: each the nearest of equals to another plan."""

Steps = Mapping[str, tuple[str, ...]]
"""The first step of every fault that is not left."""


class KeptMix(Record):
    """A proven mix of one job: ``taken`` are its routes by fault and number, ``first`` what these begin with.

    ``nearest`` are the first steps of the plan that it is nearest to, None where there was none. Its routes were
    searched without the checks ``unasked``, with the quotes ``told_apart``; within the hours if ``timed``.
    """

    nearest: Steps | None
    first: Steps
    taken: Mapping[str, str]
    unasked: Mapping[str, frozenset[str]]
    told_apart: tuple[str, ...]
    timed: bool
    packs: Mapping[str, int]
    levels: Mapping[str, int]
    verdicts: Mapping[str, Verdict]

    def is_nearest_to(self, last: Steps | None) -> bool:
        """Whether this is the answer beside that plan: it was, or it begins like that plan itself."""
        return last in (self.nearest, self.first)

    def selection(self, proposals: Iterable[Proposal]) -> Selection | None:
        """The mix of these routes; None where they are not those that it was chosen from."""
        routes = [p for p in proposals if self.taken.get(p.fault) == p.key[-1]]
        if {p.fault: p.first_step for p in routes} != self.first:
            return None
        return Selection(
            routes=tuple(p.read() for p in routes), packs=self.packs, levels=self.levels, outcome=Outcome(proven=True)
        )


_ALL = TypeAdapter(tuple[KeptMix, ...])


@dataclass(frozen=True)
class KeptMixes:
    """The answers that are kept of one job."""

    cache: cache.Cache
    name: str
    faults: frozenset[str]

    @classmethod
    def of(cls, job: Job) -> KeptMixes | None:
        """Those of a job, whatever time it was given; None where it wants nothing kept."""
        if not job.solve.cache:
            return None
        told = job.model_dump_json(exclude={"solve": {"seconds"}}).encode()
        solvers = [version(name).encode() for name in ("pulp", "highspy", "numpy")]
        name = cache.name_of([cache.version(), *solvers, told])
        return cls(cache.Cache.of_user("mixes"), name, frozenset(fault.id for fault in job.faults))

    def all(self) -> tuple[KeptMix, ...]:
        """The latest last."""
        data = self.cache.get(self.name)
        try:
            return () if data is None else _ALL.validate_json(data)
        except ValidationError:
            return ()

    def nearest_to(self, last: Selection | None) -> KeptMix | None:
        """The answer that is the nearest of equals to a plan."""
        steps = self.steps(last)
        return next((mix for mix in reversed(self.all()) if mix.is_nearest_to(steps)), None)

    def keep(self, mix: KeptMix) -> None:
        """Keep one answer more."""
        self.cache.put(self.name, _ALL.dump_json((*self.all(), mix)[-MOST_NEARESTS:]))

    def steps(self, mix: Selection | None) -> Steps | None:
        """What a mix begins with, as far as it is about the faults of the job."""
        return None if mix is None else {r.fault: r.first_step for r in mix.routes if r.fault in self.faults}
