"""The plan as a function of the pot: from which money on the best plan comes to what."""

from __future__ import annotations

from itertools import pairwise

from optimiser.model.base import Record
from optimiser.model.job import Job
from optimiser.model.plan import SAFETY, Plan

MANY, FEW = 20, 6
"""Looks of an overview, more than fit a screen tell a person nothing; and of a report, which nobody waits long for."""
DEAR = 2
"""A further fix is dear that takes so many times the money (common practice, no published source)."""


READABLE = 0.005
"""Fixes that make a difference in two places."""


class Rung(Record):
    """From ``least_minor`` for parts on the best plan is worth this one, and with a minor unit less it is not.

    ``until_minor``: with no more than that nothing better comes about, as far as was looked; None: whatever more there
    is. ``plan`` is a best one that takes the least money, made for that pot.
    """

    least_minor: int
    until_minor: int | None
    plan: Plan


class LinePiece(Record):
    """A piece of the line of fixes against money; where not ``known``, nobody looked at what is between its ends."""

    from_minor: int
    low: Rung
    to_minor: int
    high: Rung
    known: bool = True


class Dear(Record):
    """Where a further fix becomes dear: it takes ``here_minor`` about what is there for parts now, and from
    ``from_minor`` on ``after_minor``, twice as much or more.

    Fixes are weighted by importance, and rungs below the line through their neighbours do not count.
    """

    from_minor: int
    here_minor: float
    after_minor: float


class Stretch(Record):
    """All that more or less money would do.

    ``rungs`` begin at nothing and end with all that can be mended, or, where ``hours_bind_minor`` is set, where from
    about that much money on the best mix takes more than the owner's hours. ``safe_minor`` is the least money for parts
    with which every dangerous fault is as sure as it can be, None where none is dangerous or the time ran out;
    ``unsure`` are dangerous faults that stay below good enough with any money. ``wanted_minor`` are the further
    amounts that were asked for. ``fewer_checks`` is the plan of the present pot where it leaves out checks that gain
    too little, which no rung does.
    """

    job: Job
    rungs: tuple[Rung, ...]
    safe_minor: int | None
    unsure: tuple[str, ...]
    wanted_minor: tuple[int, ...]
    hours_bind_minor: int | None = None
    fewer_checks: Plan | None = None

    @property
    def complete(self) -> bool:
        """Whether every rung is there: none could lie between two of these, or beyond."""
        return all(piece.known for piece in self.line) and self.rungs[-1].until_minor is None

    @property
    def line(self) -> tuple[LinePiece, ...]:
        """Level as far as is known of each rung, then up to the next."""
        pieces = []
        for low, high in self.gaps:
            end = high.least_minor - 1 if low.until_minor is None else low.until_minor
            known = end + 1 >= high.least_minor
            end = high.least_minor if known else end
            pieces += [
                LinePiece(from_minor=low.least_minor, low=low, to_minor=end, high=low),
                LinePiece(from_minor=end, low=low, to_minor=high.least_minor, high=high, known=known),
            ]
        last = self.rungs[-1]
        return (*pieces, LinePiece(from_minor=last.least_minor, low=last, to_minor=self.most_minor, high=last))

    @property
    def gaps(self) -> tuple[tuple[Rung, Rung], ...]:
        """Each rung with the next."""
        return tuple(pairwise(self.rungs))

    @property
    def with_below(self) -> tuple[tuple[Rung | None, Rung], ...]:
        """Each rung behind the one below it, None below the first."""
        return tuple(zip((None, *self.rungs), self.rungs, strict=False))

    @property
    def most_minor(self) -> int:
        """The end of the money that is told of."""
        return max(self.rungs[-1].least_minor, self.now_minor)

    @property
    def most_fixes(self) -> float:
        """The most fixes, weighted, of any rung."""
        return max(rung.plan.expected_fixes for rung in self.rungs)

    @property
    def now_minor(self) -> int:
        """What is left for parts now."""
        return max(0, self.job.pot.remaining_minor)

    def beside(self, plan: Plan) -> Stretch:
        """The same with this plan for the present pot: as its rung, unless it leaves out checks that rungs have."""
        if plan.leaves_out_checks:
            return self.model_copy(update={"fewer_checks": plan})
        here = self.at(self.now_minor)
        rungs = (rung.model_copy(update={"plan": plan}) if rung is here else rung for rung in self.rungs)
        return self.model_copy(update={"rungs": tuple(rungs)})

    @property
    def now(self) -> Plan:
        """The plan of the present pot."""
        return self.fewer_checks or self.at(self.now_minor).plan

    def pot_minor(self, left_minor: int) -> int:
        """The whole pot that leaves so much for parts."""
        return self.job.pot.committed_minor + self.job.pot.hold_back_minor + left_minor

    @property
    def weighted(self) -> bool:
        """Whether any rung's fixes weighted by importance are others than those counted alike."""
        return any(abs(one.plan.expected_count - one.plan.expected_fixes) >= READABLE for one in self.rungs)

    def at(self, left_minor: int) -> Rung:
        """The last rung that so much money reaches."""
        return [rung for rung in self.rungs if rung.least_minor <= max(0, left_minor)][-1]

    def proven_at(self, left_minor: int) -> bool:
        """Whether nothing better comes about with so much money than its rung."""
        until = self.at(left_minor).until_minor
        return until is None or left_minor <= until

    @property
    def dear(self) -> Dear | None:
        """Where from now on a further fix takes twice the money or more; None where it never does."""
        hull: list[Rung] = []
        for rung in self.rungs:
            while len(hull) > 1 and _each(hull[-2], hull[-1]) >= _each(hull[-2], rung):
                hull.pop()
            if not hull or rung.plan.expected_fixes > hull[-1].plan.expected_fixes:
                hull.append(rung)
        ahead = [(low, high) for low, high in pairwise(hull) if high.least_minor > self.now_minor]
        here = _each(*ahead[0]) if ahead else 0.0
        turns = (Dear(from_minor=low.least_minor, here_minor=here, after_minor=_each(low, high)) for low, high in ahead)
        return next((turn for turn in turns if turn.after_minor >= DEAR * here), None)

    @property
    def falls(self) -> tuple[Rung, ...]:
        """Rungs at which less is mended, weighted, than at the one before, since what is dangerous comes first."""
        return tuple(high for low, high in self.gaps if _mends_less(low, high) and is_safer(low, high))


def is_safer(low: Rung, high: Rung) -> bool:
    """Whether the second does more about what is dangerous, as far as that comes before all else."""
    one, other = (rung.plan.selection.levels.get(SAFETY, 0) for rung in (low, high))
    return other > one


def _mends_less(low: Rung, high: Rung) -> bool:
    return high.plan.expected_fixes < low.plan.expected_fixes - READABLE


def _each(low: Rung, high: Rung) -> float:
    """Minor units a fix, from one rung up to another that mends more."""
    return (high.least_minor - low.least_minor) / max(1e-9, high.plan.expected_fixes - low.plan.expected_fixes)
