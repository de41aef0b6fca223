"""What every mix keeps within: the list of limits, each with its words.

``solver.formulation.WITHIN`` states the rows of each, ``planning.explain.PASSES`` tells whether an option would pass it
on top of a plan; the sentences about limits are made from here.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from optimiser.model.job import Job
from optimiser.model.plan import Reason


class Limit(NamedTuple):
    """A limit under the reason that says that it binds.

    ``left`` is the short why of a fault that is left for it ({rival}: the way that is nearest, {cost} on top of the
    plan), ``in_brief`` the same in a few words; ``forbids`` goes before "not allow it".
    """

    reason: Reason
    name: str
    forbids: str
    left: str
    in_brief: str
    is_set: Callable[[Job], bool] = lambda _: True


LIMITS = (
    Limit(
        Reason.NO_STOCK,
        name="the stock",
        forbids="the pieces that other faults have taken do",
        left="Left. The pieces for {rival} are needed by faults that count for more.",
        in_brief="its pieces are needed elsewhere",
    ),
    Limit(
        Reason.NO_MONEY,
        name="the pot",
        forbids="the pot does",
        left="Left. {rival} would cost {cost} on top of the plan, and the money does more elsewhere.",
        in_brief="the money does more elsewhere",
    ),
    Limit(
        Reason.NO_HOURS,
        name="the hours",
        forbids="the free hours do",
        left="Left. Money would do for {rival} ({cost}), but the free hours are used up.",
        in_brief="no hours left",
        is_set=lambda job: job.time.minutes is not None,
    ),
    Limit(
        Reason.NO_MORE_SUPPLIERS,
        name="the number of suppliers",
        forbids="the number of suppliers that the job allows does",
        left="Left. {rival} ({cost} on top) would take one supplier more than the job allows.",
        in_brief="one supplier too many",
        is_set=lambda job: job.settings.most_suppliers is not None,
    ),
)
"""In the order in which the short why asks: what no money would change comes before the money."""


def limits_of(job: Job) -> tuple[Limit, ...]:
    """The limits that a job has."""
    return tuple(limit for limit in LIMITS if limit.is_set(job))
