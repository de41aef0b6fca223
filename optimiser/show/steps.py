"""The short number of every step in a plan: first what is done to the faults, then the lines to order."""

from __future__ import annotations

from dataclasses import dataclass

from optimiser.model.plan import Plan


@dataclass(frozen=True)
class Numbers:
    """Step numbers by fault id and by quote id."""

    faults: dict[str, int]
    lines: dict[str, int]


def numbers(plan: Plan) -> Numbers:
    """Number the plan's steps from 1, in the order in which the plan shows them."""
    worked = [choice.fault.id for choice in plan.choices if choice.option is not None]
    ordered = [line.quote.id for order in plan.orders for line in order.lines]
    return Numbers(
        faults={fault: number for number, fault in enumerate(worked, start=1)},
        lines={quote: number for number, quote in enumerate(ordered, start=len(worked) + 1)},
    )
