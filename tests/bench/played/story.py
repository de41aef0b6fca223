"""One world of one job told step by step, to be looked at by hand."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.model import events as h
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
        really = truth.causes[fault.id]
        yield f"{fault.id} {fault.severity} x{fault.importance:g} causes {dict(fault.causes)}, really {really}"
        for check in fault.checks:
            rows = {result: dict(row) for result, row in check.results.items()}
            shows = truth.result(fault.id, check.id)
            yield f"  check {check.id} costs {check.cost_minor} opens {check.access} {rows}, shows {shows}"
        for repair in fault.repairs:
            cures = repair.chance if repair.cures is None else dict(repair.cures)
            suits = "suits" if truth.suits(fault.id, repair.id) else ""
            needs = f"takes {dict(repair.parts)} costs {repair.price_minor} opens {repair.access}"
            yield f"  repair {repair.id} {cures} {needs} {suits}"
    yield f"access {[(access.id, access.price_minor) for access in job.access]}"
    sound = {True: "sound", False: "bad"}
    for name, row in job.shelf.items():
        yield f"shelf {name} {row.units} x {row.part} {row.good_chance} {sound[truth.sound(name)]}"
    for terms in job.suppliers:
        limits = f"free over {terms.free_over_minor} minimum {terms.minimum_order_minor}"
        yield f"{terms.id} postage {terms.postage_minor} {limits}"
    for quote in sorted(job.quotes, key=lambda q: q.part):
        asked = f"{quote.condition} {quote.price_minor} pack {quote.pack} stock {quote.stock}"
        terms = f"good {quote.good_chance} deposit {quote.deposit_minor} refund {quote.refund_share}"
        yield f"  {quote.id} {quote.part} {quote.supplier} {asked} {terms} {sound[truth.sound(quote.id)]}"


def _entry(what: h.EventHead) -> str:
    if isinstance(what, h.CheckMade):
        return f"{what.fault}: {what.check} shows {what.result} ({what.cost_minor})"
    if isinstance(what, h.Purchase):
        return (
            f"bought {what.packs} of {what.quote} {what.part} {what.condition} from {what.supplier} ({what.cash_minor})"
        )
    if isinstance(what, h.Fitting):
        pieces = ", ".join(f"{piece.quote} {piece.then}" for piece in what.pieces)
        return f"{what.fault}: {what.repair} [{pieces}] {'CURED' if what.cured else 'not cured'} ({what.price_minor})"
    return f"{what.kind} ({what.cash_minor})"
