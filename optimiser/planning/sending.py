"""Which lines of the plan's orders may wait for an answer, because nothing is lost by it and something may be gained.

An answer may change an order for a fault no graver if it may free money, or if the fault may stay and has another way
that the money could go to. What is dangerous waits for nothing.

A line is tied to its whole order by postage, a minimum, a trip or an order that it joins, to the other lines that its
fault needs, and to those of faults for which the same has to come off. It waits for nothing where its quote may lapse
or its stock may be bought by others, nor where it rides on a purchase of today that spares it postage or a minimum, nor
where the job has a last day that work done one fault after another might miss.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from optimiser.model.job import Fault, Severity
from optimiser.model.plan import Choice, Order, OrderLine, Plan
from optimiser.model.quotes import Supplier
from optimiser.model.route import CURED, LIKELY, AttemptStep, figures_of


@dataclass(frozen=True)
class Waiting:
    """Lines that may wait, by quote id, and the faults whose first steps they wait for, the gravest first."""

    lines: frozenset[str] = frozenset()
    until: tuple[str, ...] = ()


def waiting(plan: Plan) -> Waiting:
    """What need not be sent yet: all that can wait for the answer of the gravest fault that may change it.

    Of several as grave it is the answer that may free the most money.
    """
    lines = {line.quote.id: line for order in plan.orders for line in order.lines}
    riding = {line.quote.id for order in plan.orders if _rides(order.supplier) for line in order.lines}
    parcels = _parcels(plan)
    if len(parcels) < 2 or not _time_to_wait(plan):
        return Waiting()
    served = [[c for c in plan.choices if needs(c) & parcel] for parcel in parcels]
    telling = [n for n in range(len(parcels)) if any(map(_may_change_others, served[n]))]
    if not telling:
        return Waiting()
    first = min(telling, key=lambda n: _rank(served[n], n))
    now = {
        n
        for n, parcel in enumerate(parcels)
        if n == first
        or _gravest(served[n]) < max(_gravest(served[first]), Severity.MAJOR.rank)  # graver, or dangerous
        or parcel & riding
        or not all(_lasts(lines[quote]) for quote in parcel)
    }
    until = {choice.fault.id for n in now for choice in served[n] if _may_change_others(choice)}
    later = frozenset[str]().union(*(parcel for n, parcel in enumerate(parcels) if n not in now))
    if not later or not until:
        return Waiting()
    return Waiting(later, tuple(c.fault.id for c in plan.choices if c.fault.id in until))


def needs(choice: Choice) -> frozenset[str]:
    """The quotes that the first order for a fault brings."""
    return frozenset() if choice.route is None else frozenset(line.quote.id for line in choice.route.certain)


def freed_minor(choice: Choice) -> float:
    """The money that the answer to a fault's first attempt is expected to free: what is kept for later, or a refund."""
    step = None if choice.route is None else choice.route.first
    if not isinstance(step, AttemptStep):
        return 0.0
    kept = max((figures_of(branch.then).cash_minor for branch in step.then if branch.result != CURED), default=0)
    return step.chance * kept + (1 - step.chance) * step.refund_minor


def _may_change_others(choice: Choice) -> bool:
    """Whether the answer to a fault's first attempt may free money, or leave the fault to another way that takes it."""
    step = None if choice.route is None else choice.route.first
    if not isinstance(step, AttemptStep) or choice.route is None:
        return False
    tried = {attempt.option.repair for attempt in choice.route.attempts}
    another = any(repair.id not in tried for repair in choice.fault.repairs)
    return freed_minor(choice) > 0 or (another and 1 - step.chance >= LIKELY)


def _gravest(served: list[Choice]) -> int:
    """The rank of the gravest fault; a top-up serves none."""
    return min((choice.fault.severity.rank for choice in served), default=len(Severity))


def answers_first(fault: Fault, freed: float) -> tuple[int, float]:
    """A sort key of steps that cost: the gravest fault, then the answer that may free the most money."""
    return fault.severity.rank, -freed


def _parcels(plan: Plan) -> list[frozenset[str]]:
    """The lines that must be sent together."""
    parcels: list[frozenset[str]] = []
    for tied in (*_tied_by_terms(plan.orders), *map(needs, plan.choices), *_tied_by_access(plan)):
        apart = [parcel for parcel in parcels if not parcel & tied]
        parcels = [*apart, tied.union(*(parcel for parcel in parcels if parcel & tied))]
    known = {line.quote.id for order in plan.orders for line in order.lines}
    return [found for parcel in parcels if (found := parcel & known)]


def _tied_by_terms(orders: tuple[Order, ...]) -> Iterator[frozenset[str]]:
    for order in orders:
        terms = order.supplier
        whole = terms.joins or terms.minimum_order_minor or terms.postage_minor or terms.trip_minutes
        quotes = [line.quote.id for line in order.lines]
        yield from [frozenset(quotes)] if whole else map(frozenset, ([quote] for quote in quotes))


def _tied_by_access(plan: Plan) -> Iterator[frozenset[str]]:
    """What is opened up once is not closed and opened again for a part that waited."""
    for access in plan.access:
        opens = [c for c in plan.choices if c.route and any(access.id in s.option.access for s in c.route.attempts)]
        yield frozenset[str]().union(*map(needs, opens))


def _rank(served: list[Choice], place: int) -> tuple[object, ...]:
    """The gravest fault first; a top-up, which serves none, last."""
    return (*min((answers_first(c.fault, freed_minor(c)) for c in served), default=(99, 0.0)), place)


def _lasts(line: OrderLine) -> bool:
    return line.quote.valid_until is None and line.quote.stock is None


def _rides(terms: Supplier) -> bool:
    """Whether an order of its own, which it is from tomorrow on, would cost more than what is added to today's."""
    alone = terms.alone
    return bool(terms.joins) and bool(alone.postage_minor or alone.minimum_order_minor)


def _time_to_wait(plan: Plan) -> bool:
    """Whether everything that may be tried, one thing after another, is done by the last day."""
    settings = plan.job.settings
    if settings.needed_by is None:
        return True
    days = sum(step.option.days for choice in plan.choices if choice.route for step in choice.route.attempts)
    return settings.today is not None and days <= (settings.needed_by - settings.today).days
