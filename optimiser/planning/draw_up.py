"""A choice drawn up as a plan that may be shown: explained, with its cautions, and held against its certificate."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optimiser.certificate import plan
from optimiser.model.plan import FaultInFull, Plan
from optimiser.planning import explain
from optimiser.planning.cautions import cautions

if TYPE_CHECKING:
    from optimiser.planning.choose import Chosen


def drawn_up(pick: Chosen) -> Plan:
    """The plan for a choice, with the cautions of all that it touches. Raises ``PlanRefusedError`` where it fails."""
    touched = cautions(pick.job, pick.selection.routes)
    drawn = explain.plan(pick.job, pick.offer, pick.selection, touched, pick.verdicts, pick.cut)
    plan.certify(drawn)
    return drawn


def fault_in_full(plan: Plan, fault: str) -> FaultInFull:
    """One fault of a plan by its id, with the cautions of its own route alone."""
    route = plan.choice(fault).route
    return FaultInFull(plan=plan, fault=fault, cautions=cautions(plan.job, () if route is None else (route,)))
