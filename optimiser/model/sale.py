"""What the vehicle should sell for after a plan, what has gone into it by then, and what is left over."""

from __future__ import annotations

from optimiser.model.base import Record
from optimiser.model.plan import Plan
from optimiser.money import half_up


class Sale(Record):
    """The sale in minor units, as it is expected and at the worst; the owner's time is not counted.

    ``mended_minor`` is what cured faults add, those of the plan as likely as they are. ``gone_minor`` is all that is
    committed and the plan's expected net cost, deposits due from before taken off. At the worst all that the plan may
    take is paid, no deposit comes back, and nothing more is cured: ``least_minor`` against ``most_gone_minor``.
    """

    as_it_stands_minor: int
    mended_minor: int
    gone_minor: int
    least_minor: int
    most_gone_minor: int

    @property
    def expected_minor(self) -> int:
        """What the vehicle should sell for."""
        return self.as_it_stands_minor + self.mended_minor

    @property
    def left_minor(self) -> int:
        """What is expected to be left over; below zero it is lost."""
        return self.expected_minor - self.gone_minor

    @property
    def least_left_minor(self) -> int:
        """What is left over at the worst."""
        return self.least_minor - self.most_gone_minor


def sale(plan: Plan) -> Sale | None:
    """The sale after a plan; None where the job does not say what the vehicle would sell for as it stands."""
    stands, purse = plan.job.pot.sale_as_it_stands_minor, plan.purse
    if stands is None:
        return None
    cured = sum(fault.sale_gain_minor for fault in plan.job.closed)
    planned = sum(choice.fault.sale_gain_minor * choice.chance for choice in plan.choices)
    return Sale(
        as_it_stands_minor=stands,
        mended_minor=cured + half_up(planned),
        gone_minor=purse.committed_minor + purse.net_minor - sum(due.money_minor for due in plan.job.deposits_due),
        least_minor=stands + cured,
        most_gone_minor=purse.committed_minor + purse.cash_minor,
    )
