"""What somebody would mend who knew everything: no policy can do better."""

from __future__ import annotations

from optimiser import choosing
from optimiser.model.job import Job, Severity
from optimiser.model.record import Record
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
    faults = tuple(
        fault.model_copy(
            update={
                "checks": (),
                "repairs": tuple(
                    repair.model_copy(update={"chance": 1.0, "cures": None})
                    for repair in fault.repairs
                    if truth.suits(fault.id, repair.id)
                ),
            }
        )
        for fault in job.faults
    )
    settings = job.settings.model_copy(update={"fallbacks": False, "safety_first": False, "chance_step": 0.0})
    owned = tuple(_named(row, name) for name, row in job.shelf.items() if truth.sound(name))
    known = job.model_copy(update={"quotes": sound, "faults": faults, "settings": settings, "owned": owned})
    taken = {route.fault for route in choosing.chosen(known, None, lambda _: None).selection.routes}
    mended = [fault for fault in job.faults if fault.id in taken]
    return sum(f.importance for f in mended), sum(f.severity is Severity.DANGEROUS for f in mended)


def _named(row: Record, name: str) -> Record:
    return row.model_copy(update={"name": name, "good_chance": 1.0})
