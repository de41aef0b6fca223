"""The best that a mix comes to with so much money, and the least money that brings as much.

Between these two amounts nothing else can be best: what more money allows is never worse, and the least is proven. So
two questions to the program settle a whole stretch of the plan as a function of the pot.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from math import gcd

from optimiser.model.candidates import Offer
from optimiser.model.job import Job, Severity
from optimiser.model.plan import LAST, LEAST_MONEY, SAFETY, Outcome, Selection
from optimiser.solver.climbing import Climb, climb, climb_rest, nothing_taken, selection, tidied
from optimiser.solver.exact_solve import Clock, Ending, measured
from optimiser.solver.formulation import build
from optimiser.solver.narrowing import Start, narrowed
from optimiser.solver.objectives import level
from optimiser.solver.program import Level, Mix, job_budget
from optimiser.solver.shrinking import Bounds
from optimiser.solver.worth import in_fixes


@dataclass(frozen=True)
class Reached:
    """What the value stages come to at best, in their order; the least money that brings it, and a mix that does."""

    values: tuple[int, ...]
    least_minor: int
    selection: Selection
    start: Start = field(compare=False)


def with_left(job: Job, left_minor: int) -> Job:
    """The job with so much left for parts; an hour of the owner stays worth what it is, whatever the pot."""
    cap = left_minor + job.pot.committed_minor + job.pot.hold_back_minor
    pot = job.pot.model_copy(update={"cap_minor": cap, "hour_worth_minor": job.hour_worth_minor})
    return job.model_copy(update={"pot": pot})


def reached(job: Job, offer: Offer, left_minor: int, clock: Clock, start: Start | None = None) -> Reached | None:
    """What is best with so much money for parts, and the least that brings it; None where the time ran out."""
    left = narrowed(with_left(job, left_minor), offer, clock, start or Start())
    mix = left.program()
    levels = _then_least_money(mix, [stage for stage in mix.stages if stage.name not in LAST])
    nothing, close_in = nothing_taken(mix), partial(left.close_in, mix)
    found = climb_rest(mix, levels, left.known, clock, nothing, proven=close_in, floors=left.floors)
    return _with_mix(mix, levels, found, left.bounds)


def safest(job: Job, offer: Offer, ample_minor: int, clock: Clock) -> Reached | None:
    """What the safety stage alone comes to at best, and the least money that brings it.

    None where no fault is dangerous or the time ran out.
    """
    careful = job.settings.model_copy(update={"safety_first": True})
    mix = build(with_left(job.model_copy(update={"settings": careful}), ample_minor), _for_safety(job, offer))
    safety = [stage for stage in mix.stages if stage.name == SAFETY]
    if not safety:
        return None
    levels = _then_least_money(mix, safety)
    return _with_mix(mix, levels, climb(mix, levels, clock, nothing_taken(mix)), {})


def _for_safety(job: Job, offer: Offer) -> Offer:
    """The routes of dangerous faults, and those of others that place an order which one of these relies on.

    Any other route only takes money: what its goods would waive, goods that nobody needs waive as well.
    """
    grave = {fault.id for fault in job.faults if fault.severity == Severity.DANGEROUS}
    relied = frozenset[str]().union(*(p.relies_on | p.rides_with for p in offer.proposals if p.fault in grave))
    return replace(offer, routes=tuple(p for p in offer.proposals if p.fault in grave or p.certain_suppliers & relied))


def _then_least_money(mix: Mix, values: list[Level]) -> list[Level]:
    """Value stages with a further one behind them: the money that is paid out, as little as can be."""
    money = level(mix, LEAST_MONEY, mix.cash, maximise=False, low=0, high=job_budget(mix.job))
    mix.stages.insert(len(values), money)
    return [*values, money]


def _with_mix(mix: Mix, levels: list[Level], found: Climb, bounds: Mapping[str, Bounds]) -> Reached | None:
    """A program that was climbed to these levels as an answer; None where it was not climbed to its end."""
    if found.ending is not Ending.CLOSED:
        return None
    settled = tidied(mix, found.values)
    figures = {stage.name: measured(stage.measures, settled) for stage in mix.stages if stage is not levels[-1]}
    taken = [p for p in mix.proposals if settled[mix.take[p.key].name] == 1]
    return Reached(
        values=tuple(found.levels[stage.name] for stage in levels[:-1]),
        least_minor=found.levels[LEAST_MONEY],
        selection=selection(mix, Climb(found.ending, settled, figures, Outcome(proven=True, cheapest=False))),
        start=Start(taken, bounds),
    )


def grain(job: Job, offer: Offer) -> int:
    """What any two values of the last value stage differ by at least, if they differ."""
    if job.settings.aim == "profit":
        return 1
    return gcd(*in_fixes(job, offer.proposals).values()) or 1


def ample(job: Job, offer: Offer) -> int:
    """No less money than a mix may need: every fault's dearest route by itself, and every order topped up by itself."""
    dearest: dict[str, int] = defaultdict(int)
    for route in offer.proposals:
        certain = sum(line.quote.packs_for(line.units) * line.quote.outlay_minor for line in route.certain)
        dearest[route.fault] = max(dearest[route.fault], route.cash_minor + certain)
    topping: dict[str, int] = defaultdict(int)
    for quote in offer.quotes:
        if quote.supplier is not None and quote.price_minor:
            packs = job.supplier(quote.supplier).minimum_order_minor // quote.price_minor + 2
            topping[quote.supplier] = max(topping[quote.supplier], packs * quote.outlay_minor)
    orders = sum(job.supplier(name).postage_minor + most for name, most in topping.items())
    orders += sum(supplier.postage_minor for supplier in job.suppliers if supplier.id not in topping)
    return sum(dearest.values()) + orders + sum(access.price_minor for access in job.access)
