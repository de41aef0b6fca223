"""Proven mixes as bytes, and back: what the same job was answered before is not searched for again.

Only which routes were taken is kept, by their numbers: the routes themselves come from the job at hand, and the plan
that is drawn up of them is certified like any other.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from importlib.metadata import version
from typing import TypeVar

from pydantic import TypeAdapter, ValidationError

from optimiser import cache
from optimiser.model.base import Record
from optimiser.model.candidates import Proposal
from optimiser.model.job import Job
from optimiser.model.plan import Outcome, Selection, Verdict

MOST_NEARESTS = 8
"""Answers that are kept of one job: each the nearest of equals to another plan."""

Kept = TypeVar("Kept")
Steps = Mapping[str, tuple[str, ...]]
"""The first step of every fault that is not left."""


class TakenRoutes(Record):
    """A mix as the numbers of its routes by fault, with the ``first`` step of each."""

    first: Steps
    taken: Mapping[str, str]
    packs: Mapping[str, int]
    levels: Mapping[str, int]

    @classmethod
    def of(cls, mix: Selection, routes: Iterable[Proposal]) -> TakenRoutes:
        """A mix of these routes."""
        routes = list(routes)
        return cls(
            first={route.fault: route.first_step for route in routes},
            taken={route.fault: route.key[-1] for route in routes},
            packs=mix.packs,
            levels=mix.levels,
        )

    def selection(self, proposals: Iterable[Proposal], outcome: Outcome) -> Selection | None:
        """The mix of these routes; None where they are not those that it was chosen from."""
        routes = [p for p in proposals if self.taken.get(p.fault) == p.key[-1]]
        if {p.fault: p.first_step for p in routes} != self.first:
            return None
        return Selection(routes=tuple(p.read() for p in routes), packs=self.packs, levels=self.levels, outcome=outcome)


class KeptMix(Record):
    """A proven mix of one job.

    ``nearest`` are the first steps of the plan that it is nearest to, None where there was none. Its routes were
    searched without the checks ``unasked``, with the quotes ``told_apart``; within the hours if ``timed``.
    """

    nearest: Steps | None
    mix: TakenRoutes
    unasked: Mapping[str, frozenset[str]]
    told_apart: frozenset[str]
    timed: bool
    verdicts: Mapping[str, Verdict]

    def is_nearest_to(self, last: Steps | None) -> bool:
        """Whether this is the answer beside that plan: it was, or it begins like that plan itself."""
        return last in (self.nearest, self.mix.first)


class KeptRung(Record):
    """A proven mix for just so much money, and up to which money nothing is better."""

    mix: TakenRoutes
    least_minor: int
    until_minor: int


class KeptStretch(Record):
    """What every pot would bring one job: routes ``told_apart`` and ``timed`` as of a mix, the rest as in a stretch.

    It was found in so many ``looks``, None: in as many as there are.
    """

    looks: int | None
    rungs: tuple[KeptRung, ...]
    safe_minor: int | None
    hours_bind_minor: int | None
    told_apart: frozenset[str]
    timed: bool


_MIXES, _STRETCH = TypeAdapter(tuple[KeptMix, ...]), TypeAdapter(KeptStretch)


def _name(job: Job, *more: object) -> str:
    """The name of an answer to a job, whatever time it was given."""
    told = job.model_dump_json(exclude={"solve": {"seconds"}}).encode()
    seen = repr(list(job.seen.items())).encode()  # as JSON a cure and a failure are the same
    solvers = [version(name).encode() for name in ("pulp", "highspy", "numpy")]
    return cache.name_of([cache.version(), *solvers, told, seen, repr(more).encode()])


@dataclass(frozen=True)
class KeptMixes:
    """The answers that are kept of one job."""

    cache: cache.Cache
    name: str
    faults: frozenset[str]

    @classmethod
    def of(cls, job: Job) -> KeptMixes | None:
        """Those of a job; None where it wants nothing kept."""
        if not job.solve.cache:
            return None
        return cls(cache.Cache.of_user("mixes"), _name(job), frozenset(fault.id for fault in job.faults))

    def all(self) -> tuple[KeptMix, ...]:
        """The latest last."""
        return _read(_MIXES, self.cache.get(self.name)) or ()

    def nearest_to(self, last: Selection | None) -> KeptMix | None:
        """The answer that is the nearest of equals to a plan."""
        steps = self.steps(last)
        return next((mix for mix in reversed(self.all()) if mix.is_nearest_to(steps)), None)

    def keep(self, mix: KeptMix) -> None:
        """Keep one answer more."""
        self.cache.put(self.name, _MIXES.dump_json((*self.all(), mix)[-MOST_NEARESTS:]))

    def steps(self, mix: Selection | None) -> Steps | None:
        """What a mix begins with, as far as it is about the faults of the job."""
        return None if mix is None else {r.fault: r.first_step for r in mix.routes if r.fault in self.faults}


@dataclass(frozen=True)
class KeptStretches:
    """Where what every pot would bring one job is kept, looked at such amounts and so often at least."""

    cache: cache.Cache
    name: str
    looks: int | None

    @classmethod
    def of(cls, job: Job, wanted: Iterable[int], looks: int | None) -> KeptStretches | None:
        """That of a job; None where it wants nothing kept."""
        if not job.solve.cache:
            return None
        return cls(cache.Cache.of_user("mixes"), _name(job, "stretch", tuple(wanted)), looks)

    def found(self) -> KeptStretch | None:
        """What is kept; None where it was looked less often."""
        kept = _read(_STRETCH, self.cache.get(self.name))
        enough = kept is not None and (kept.looks is None or (self.looks is not None and kept.looks >= self.looks))
        return kept if enough else None

    def keep(self, stretch: KeptStretch) -> None:
        """Keep it."""
        self.cache.put(self.name, _STRETCH.dump_json(stretch))


def _read(kind: TypeAdapter[Kept], data: bytes | None) -> Kept | None:
    try:
        return None if data is None else kind.validate_json(data)
    except ValidationError:
        return None
