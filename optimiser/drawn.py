"""A choice drawn up as a plan that may be shown: explained, with its cautions, and held against its certificate."""

from __future__ import annotations

from typing import TYPE_CHECKING

from optimiser import explain, read
from optimiser.mix import certify
from optimiser.model.plan import Plan

if TYPE_CHECKING:
    from optimiser.choosing import Chosen


def drawn_up(pick: Chosen) -> Plan:
    """The plan for a choice, with the cautions of all that it touches. Raises ``PlanRefusedError`` where it fails."""
    systems = {fault.system for fault in pick.job.faults if pick.selection.route_for(fault.id) is not None}
    drawn = explain.plan(
        pick.job, pick.offer, pick.selection, read.cautions_for(sorted(systems)), pick.verdicts, pick.cut
    )
    certify.certify(drawn)
    return drawn
