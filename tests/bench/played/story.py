"""One world of one job told step by step, to be looked at by hand."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.model import happening as h
from optimiser.model.job import Job
from tests.bench.played import policies
from tests.bench.played.perfect import perfect
from tests.bench.played.running import Task
from tests.bench.played.truth import Truth, mistyped
from tests.bench.played.vehicle import Fit, Vehicle


def told(task: Task, world: int) -> Iterator[str]:
    """The job, what is really the matter, and every policy's steps with their answers."""
    job, seed = task.made(), f"{task.job}/{world}"
    truth = Truth(mistyped(job, task.off, seed) if task.off else job, seed)
    yield from _job(job, truth)
    yield f"perfect knowledge: {perfect(job, truth)}"
    for name in task.names:
        yield f"== {name}"
        vehicle = Vehicle(job, truth)
        while (step := policies.POLICIES[name](vehicle.job)) is not None:
            before = len(vehicle.entries)
            vehicle.do(step)
            for entry in vehicle.entries[before:]:
                yield f"  {_entry(entry.happening)}   left {vehicle.job.pot.remaining_minor}"
            if isinstance(step, Fit):
                yield f"    (thought {step.option.chance:.2f})"
        yield f"  open: {[fault.id for fault in vehicle.job.faults]}"


def _job(job: Job, truth: Truth) -> Iterator[str]:
    yield f"remaining {job.pot.remaining_minor}"
    for fault in job.faults:
        yield f"{fault.id} {fault.severity} x{fault.importance:g} causes {dict(fault.causes)} really {truth.causes[fault.id]}"
        for check in fault.checks:
            rows = {r: dict(row) for r, row in check.results.items()}
            yield f"  check {check.id} cost {check.cost_minor} open {check.access} {rows} shows {truth.result(fault.id, check.id)}"
        for repair in fault.repairs:
            cures = repair.chance if repair.cures is None else dict(repair.cures)
            yield (f"  repair {repair.id} {cures} parts {dict(repair.parts)} price {repair.price_minor} open {repair.access}"
                   f" {'suits' if truth.suits(fault.id, repair.id) else ''}")  # fmt: skip
    for access in job.access:
        yield f"access {access.id} {access.price_minor}"
    for name, row in job.shelf.items():
        yield f"shelf {name} {row.units} x {row.part} {row.good_chance} {'sound' if truth.sound(name) else 'bad'}"
    for terms in job.suppliers:
        yield f"{terms.id} postage {terms.postage_minor} free over {terms.free_over_minor} minimum {terms.minimum_order_minor}"
    for quote in sorted(job.quotes, key=lambda q: q.part):
        yield (f"  {quote.id} {quote.part} {quote.supplier} {quote.condition} {quote.price_minor} pack {quote.pack} "
               f"stock {quote.stock} good {quote.good_chance} deposit {quote.deposit_minor} refund {quote.refund_share} "
               f"{'sound' if truth.sound(quote.id) else 'bad'}")  # fmt: skip


def _entry(what: h.Happened) -> str:
    if isinstance(what, h.Finding):
        return f"{what.fault}: {what.check} shows {what.result} ({what.cost_minor})"
    if isinstance(what, h.Purchase):
        return f"bought {what.packs} of {what.quote} {what.part} {what.condition} from {what.supplier} ({what.cash_minor})"
    if isinstance(what, h.Fitting):
        pieces = ", ".join(f"{piece.quote} {piece.then}" for piece in what.pieces)
        return f"{what.fault}: {what.repair} [{pieces}] {'CURED' if what.cured else 'not cured'} ({what.price_minor})"
    return f"{what.kind} ({what.cash_minor})"
