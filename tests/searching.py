"""The best mix of all routes, before any check is judged."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from optimiser.model.job import Job
from optimiser.model.plan import Selection
from optimiser.planning import choose, options
from optimiser.solver import solve
from optimiser.solver.exact_solve import Clock


def put_forward(
    job: Job,
    without: Mapping[str, Collection[str]] | None = None,
    *,
    outdone: bool = False,
    clock: Clock | None = None,
    thrifty: bool = True,
) -> Selection:
    """``without`` some checks by fault; with or without the routes that are left behind by others; by a ``clock``.

    Not ``thrifty``: of the surest routes alone, whatever they cost.
    """
    offer = options.build(job, whole={fault.id for fault in job.faults})
    search = choose.Search(job, offer, lambda _: None, clock=clock).without(without or {})
    if not thrifty:
        search.faults = {fault: one.without_savings() for fault, one in search.faults.items()}
    while True:
        put = search.offer()
        mix = solve.best(job, put if outdone else put.without_outdone())
        short = choose.overdrawn(put, mix)
        if not short:
            return search.known_to(mix)
        search = search.telling_apart(short)
