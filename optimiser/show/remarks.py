"""Which of a plan's remarks are said where: some head every answer, some only the whole one tells."""

from __future__ import annotations

from collections.abc import Callable

from optimiser.model.plan import Notice, Plan, Remark
from optimiser.show import wording

GRAVE = (Remark.OVERSPENT, Remark.HELD_BACK_SPENT)
"""Said at the head of a plan."""
AT_ONCE = (Remark.CURED_TOO, Remark.ENTRIES_CLASH, Remark.ENTRY_MISFITS, Remark.SET_INCOMPLETE, *GRAVE)
"""What the record gives cause to say before it is forgotten how it came about."""
DETAIL = (
    Remark.SET_ROUNDED, Remark.ALIKE_QUOTES, Remark.ROUTES_CUT, Remark.CHECKS_CUT, Remark.AHEAD_CUT,
    Remark.KIND_NOT_SAID, Remark.CAUSES_SHARED, Remark.SINGLE_CAUSE, Remark.PART_NOT_NAMED,
)  # fmt: skip
"""Told by the whole plan alone: nothing in them makes anybody do another thing first."""


def at_once(plan: Plan) -> list[str]:
    """What is said with every answer to an entry, and where the next steps are listed."""
    return _said(plan, lambda one: one.remark in AT_ONCE)


def grave(plan: Plan) -> list[str]:
    """What is wrong with the money, marked."""
    return [f"! {said}" for said in _said(plan, lambda one: one.remark in GRAVE)]


def in_short(plan: Plan) -> list[str]:
    """What the short plan says beside that."""
    return _said(plan, lambda one: one.remark not in (*GRAVE, *DETAIL))


def in_full(plan: Plan) -> list[str]:
    """Everything beside what stands at the head."""
    return _said(plan, lambda one: one.remark not in GRAVE)


def of_fault(plan: Plan, fault: str) -> list[str]:
    about = (*wording.ABOUT_FAULTS, Remark.CAUSES_SHARED)
    return _said(plan, lambda one: one.remark in about and fault in one.about)


def _said(plan: Plan, which: Callable[[Notice], bool]) -> list[str]:
    return [wording.notice(plan.job, one) for one in plan.notices if which(one)]
