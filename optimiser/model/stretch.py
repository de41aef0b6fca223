"""The plan as a function of the pot: from which money on the best plan comes to what."""

from __future__ import annotations

from itertools import pairwise

from optimiser.model.base import Record
from optimiser.model.job import Job
from optimiser.model.plan import Plan


class Rung(Record):
    """From ``least_minor`` for parts on the best plan is worth this one, and with a minor unit less it is not.

    ``until_minor``: with no more than that nothing better comes about, as far as was looked; None: whatever more there
    is. ``plan`` is a best one that takes the least money, made for that pot.
    """

    least_minor: int
    until_minor: int | None
    plan: Plan


class Dear(Record):
    """Where a further fix becomes dear: from ``from_minor`` on it takes ``after_minor``, before that ``before_minor``.

    Fixes are weighted by importance; of the upper hull of all rungs.
    """

    from_minor: int
    before_minor: float
    after_minor: float


class Stretch(Record):
    """All that more or less money would do.

    ``rungs`` begin at nothing and end with all that can be mended, or, where ``hours_bind_minor`` is set, where from
    about that much money on the best mix takes more than the owner's hours. ``safe_minor`` is the least money for parts
    with which every dangerous fault is as sure as it can be, None where none is dangerous or the time ran out;
    ``unsure`` are dangerous faults that stay below good enough with any money. ``wanted_minor`` are the further
    amounts that were asked for.
    """

    job: Job
    rungs: tuple[Rung, ...]
    safe_minor: int | None
    unsure: tuple[str, ...]
    wanted_minor: tuple[int, ...]
    hours_bind_minor: int | None = None

    @property
    def complete(self) -> bool:
        """Whether every rung is there: none could lie between two of these."""
        return all(low.until_minor is not None and low.until_minor + 1 >= high.least_minor for low, high in self.gaps)

    @property
    def gaps(self) -> tuple[tuple[Rung, Rung], ...]:
        """Each rung with the next."""
        return tuple(pairwise(self.rungs))

    @property
    def now_minor(self) -> int:
        """What is left for parts now."""
        return max(0, self.job.pot.remaining_minor)

    def at(self, left_minor: int) -> Rung:
        """The last rung that so much money reaches."""
        return [rung for rung in self.rungs if rung.least_minor <= max(0, left_minor)][-1]

    def proven_at(self, left_minor: int) -> bool:
        """Whether nothing better comes about with so much money than its rung."""
        until = self.at(left_minor).until_minor
        return until is None or left_minor <= until

    @property
    def dear(self) -> Dear | None:
        """Where the price of a further fix rises most, if it at least doubles; from what is there for parts now on."""
        hull: list[Rung] = []
        for rung in self.rungs:
            while len(hull) > 1 and _each(hull[-2], hull[-1]) >= _each(hull[-2], rung):
                hull.pop()
            if not hull or rung.plan.expected_fixes > hull[-1].plan.expected_fixes:
                hull.append(rung)
        turns = [Dear(from_minor=b.least_minor, before_minor=_each(a, b), after_minor=_each(b, c)) for a, b, c in zip(hull, hull[1:], hull[2:], strict=False)]  # noqa: E501 # fmt: skip
        steep = [turn for turn in turns if turn.from_minor >= self.now_minor and turn.after_minor >= 2 * turn.before_minor]  # noqa: E501 # fmt: skip
        return max(steep, key=lambda turn: turn.after_minor / turn.before_minor, default=None)


def _each(low: Rung, high: Rung) -> float:
    """Minor units a fix, from one rung up to another that mends more."""
    return (high.least_minor - low.least_minor) / max(1e-9, high.plan.expected_fixes - low.plan.expected_fixes)
