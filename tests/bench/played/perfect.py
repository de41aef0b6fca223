"""What somebody would mend who knew everything: no policy can do better."""

from __future__ import annotations

from optimiser.model.base import Record
from optimiser.model.job import Fault, Job, Severity
from optimiser.planning import choose
from tests.bench.played.truth import Truth


def perfect(job: Job, truth: Truth) -> tuple[float, int]:
    """Fixes, weighted, and dangerous faults of the best mix of what really cures.

    No deposit is asked, as it comes back before the next order.
    """
    sound = tuple(
        quote.model_copy(update={"good_chance": 1.0, "deposit_minor": 0})
        for quote in job.quotes
        if truth.sound(quote.id)
    )
    alone = [fault for fault in job.faults if fault.twin is None or not truth.shared(fault.id)]
    together = [fault for fault in job.faults if fault not in alone]
    first = together[:1]  # the cure of a shared cause mends all that share it, and no job here has two such groups
    worth = {fault.id: fault.importance for fault in alone} | {f.id: sum(x.importance for x in together) for f in first}
    faults = tuple(_mended(fault, truth, worth[fault.id]) for fault in (*alone, *first))
    settings = job.settings.model_copy(update={"fallbacks": False, "safety_first": False, "chance_step": 0.0})
    owned = tuple(_named(row, name) for name, row in job.shelf.items() if truth.sound(name))
    known = job.model_copy(update={"quotes": sound, "faults": faults, "settings": settings, "owned": owned})
    taken = {route.fault for route in choose.chosen(known, None, lambda _: None).selection.routes}
    mended = [fault for fault in job.faults if (fault if fault in alone else first[0]).id in taken]
    return sum(f.importance for f in mended), sum(f.severity is Severity.DANGEROUS for f in mended)


def _mended(fault: Fault, truth: Truth, worth: float) -> Fault:
    """The fault with the repairs that suit it, which are then certain."""
    suit = [repair for repair in fault.repairs if truth.suits(fault.id, repair.id)]
    sure = tuple(repair.model_copy(update={"chance": 1.0, "cures": None}) for repair in suit)
    alone = {"checks": (), "twin": None, "shared_causes": (), "importance": worth}
    return fault.model_copy(update={"repairs": sure} | alone)


def _named(row: Record, name: str) -> Record:
    return row.model_copy(update={"name": name, "good_chance": 1.0})
