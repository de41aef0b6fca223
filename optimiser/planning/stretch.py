"""The plan as a function of the pot: asked where most is unknown, each answer proven on both its ends."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import partial
from itertools import pairwise

from optimiser.errors import CallError
from optimiser.job_folder import package_data
from optimiser.model.candidates import Offer
from optimiser.model.job import Job, Severity, Time
from optimiser.model.plan import Outcome
from optimiser.model.stretch import MANY, Rung, Stretch
from optimiser.money import Currency, parse
from optimiser.planning import choose, options
from optimiser.planning.at_once import at_once
from optimiser.planning.choose import Chosen, Search
from optimiser.planning.draw_up import drawn_up
from optimiser.planning.kept_mixes import KeptRung, KeptStretch, KeptStretches
from optimiser.solver import least_money
from optimiser.solver.exact_solve import Clock
from optimiser.solver.least_money import Reached
from optimiser.solver.narrowing import Start

Progress = Callable[[str], None]
TRIES, NEAR = 4, 0.1
"""Looks for where the hours begin to bind, and how near is near enough, as a share."""
AT_ONCE = 4
"""Gaps that are looked into side by side, however many processors there are: the points found hang on it."""
MOST_MINOR = 10**9
"""More than anybody spends on parts: routes are searched for any pot up to it."""


@dataclass
class _Known:
    """A best value with the least money that brings it, and how far it is known to stay the best."""

    reached: Reached
    until_minor: int


@dataclass
class _Gap:
    """Money between two known values of which nothing is known, both ends among it."""

    low: _Known
    high: _Known

    @property
    def first_minor(self) -> int:
        return self.low.until_minor + 1

    @property
    def last_minor(self) -> int:
        return self.high.reached.least_minor - 1

    @property
    def doubt(self) -> int:
        """How much may lie in it: money times the difference of the two values, all stages alike."""
        low, high = self.low.reached.values, self.high.reached.values
        return (self.last_minor - self.first_minor + 1) * sum(abs(b - a) for a, b in zip(low, high, strict=True))


class _AgainError(Exception):
    """The routes at hand do not do: of some pieces there are too few for all, or, with none, the hours matter."""

    def __init__(self, short: frozenset[str] = frozenset()) -> None:
        super().__init__()
        self.short = short


@dataclass
class _Ladder:
    """The points known of one set of routes; ``known`` ascends in money and in value."""

    job: Job
    search: Search | None
    offer: Offer
    clock: Clock
    progress: Progress
    needed_minor: int
    """Up to here something is known in the end, hours or not."""
    known: list[_Known] = field(default_factory=list)
    bare: set[int] = field(default_factory=set)
    """The ends of gaps into whose middle was looked in vain."""
    looks: int = 0
    too_long: set[int] = field(default_factory=set)
    """Money that was looked at of which the best mix takes more than the owner's hours."""

    def __post_init__(self) -> None:
        time = self.job.time if self.search is None else self.search.job.time
        self.solved = self.job.model_copy(update={"time": time})
        self.put = self.offer.without_outdone()
        self.grain = least_money.grain(self.job, self.put)
        self.ample_minor = least_money.ample(self.job, self.put)

    def look(self, *amounts_minor: int) -> bool:
        """Ask for the best mix at each of these amounts of money; False where the time ran out first."""
        asked = [left for left in dict.fromkeys(amounts_minor) if not self._is_known(left)]
        self.looks += len(asked)
        if asked:
            amounts = ", ".join(map(self.job.currency.text, asked))
            self.progress(f"what {amounts} for parts would bring")
        found = at_once(partial(self._best_with, left) for left in asked)
        for left, best in zip(asked, found, strict=True):
            if best is not None and not self._is_known(left) and self._feasible(best, left):
                self._take_in(best, left)
        return None not in found

    def _is_known(self, left_minor: int) -> bool:
        """Whether it is known what so much money brings."""
        at = self._place(left_minor)
        return at >= 0 and left_minor <= self.known[at].until_minor

    def _best_with(self, left_minor: int) -> Reached | None:
        """The best mix with so much money, sought from the next known one on; None where the time ran out first."""
        above = min(self._place(left_minor) + 1, len(self.known) - 1)
        near = self.known[above].reached.start if self.known else None
        return least_money.reached(self.solved, self.put, left_minor, self.clock, near)

    def _take_in(self, found: Reached, left_minor: int) -> None:
        """Put a best mix in its place among those that are known."""
        at = self._place(left_minor)
        if at >= 0 and found.values == self.known[at].reached.values:
            self.known[at].until_minor = left_minor
            if at + 1 < len(self.known):
                self.bare.add(self.known[at + 1].reached.least_minor)
        else:
            self.known.insert(at + 1, _Known(found, left_minor))
        self._close()

    def climb(self, wanted: Sequence[int], looks: int | None) -> int | None:
        """Find out what can be in about so many looks; the least money that makes the vehicle safe, if any does."""
        now = max(0, self.job.pot.remaining_minor)
        self.look(self.ample_minor)
        self.look(*(min(left, self.ample_minor) for left in (0, now, *(now + more for more in wanted))))
        if not self.known:
            mend = "Give [solve] of job.toml more seconds."
            raise CallError(f"Nothing was proven within {self.job.solve.seconds:g} s.", mend)
        safe = least_money.safest(self.solved, self.put, self.ample_minor, self.clock)
        if safe is not None and choose.too_long(self.pick(safe)):
            safe = None
        if safe is not None:
            self.look(safe.least_minor)
        self.toward_the_hours()
        self.fill(looks)
        return None if safe is None else safe.least_minor

    def gaps(self) -> list[_Gap]:
        """Where something may still lie."""
        pairs = (_Gap(low, high) for low, high in pairwise(self.known))
        gaps = [gap for gap in pairs if gap.first_minor <= gap.last_minor]
        return [gap for gap in gaps if not any(gap.first_minor <= left <= gap.last_minor for left in self.too_long)]

    def fill(self, enough: int | None) -> None:
        """Look where most may lie, until nothing may, the time is over, or so many looks were made."""
        while (gaps := self.gaps()) and (enough is None or self.looks < enough):
            widest = sorted(gaps, key=lambda gap: -gap.doubt)[:AT_ONCE]
            if not self.look(*(self._inside(gap, whole=enough is None) for gap in widest)):
                return

    def _inside(self, gap: _Gap, *, whole: bool) -> int:
        """Where to look in a gap: in its middle, or at its end where that was in vain or the ``whole`` is asked for."""
        at_the_end = whole or gap.high.reached.least_minor in self.bare
        return gap.last_minor if at_the_end else (gap.first_minor + gap.last_minor) // 2

    @property
    def hours_bind_minor(self) -> int | None:
        """Above what is known, the least money that was looked at of which the best mix takes too long."""
        return min((left for left in self.too_long if left > self.known[-1].until_minor), default=None)

    def toward_the_hours(self) -> None:
        """Come near to where the hours bind, from below."""
        for _ in range(TRIES):
            top = self.known[-1].until_minor
            if self.hours_bind_minor is None or self.hours_bind_minor - top < NEAR * top:
                return
            self.look((top + self.hours_bind_minor) // 2)

    def _place(self, left_minor: int) -> int:
        """The last known point that so much money reaches; -1 for none."""
        return bisect_right([one.reached.least_minor for one in self.known], left_minor) - 1

    def _close(self) -> None:
        """Between values that are one grain apart there is no other."""
        for gap in self.gaps():
            low, high = gap.low.reached.values, gap.high.reached.values
            if low[:-1] == high[:-1] and high[-1] - low[-1] <= self.grain:
                gap.low.until_minor = gap.last_minor

    def _feasible(self, found: Reached, left_minor: int) -> bool:
        """Whether a mix keeps to the hours, which the routes at hand may not know of.

        Raises ``_AgainError`` where it takes more pieces than there are, or too long where something must be known.
        """
        if self.search is None:
            return True
        if short := choose.overdrawn(self.offer, found.selection):
            raise _AgainError(short)
        if self.solved.time == self.job.time or not choose.too_long(self.pick(found)):
            return True
        if left_minor <= self.needed_minor:
            raise _AgainError
        self.too_long.add(left_minor)
        return False

    def pick(self, found: Reached) -> Chosen:
        """The mix as a choice, for just the money that it takes."""
        job = least_money.with_left(self.job, found.least_minor)
        cut = choose.passed_over_in(self.offer) if self.search is None else self.search.cut
        selection = found.selection if self.search is None else self.search.known_to(found.selection)
        solved = job.model_copy(update={"time": self.solved.time})
        return Chosen(job, solved, self.offer, selection, {}, cut, self.clock, self.search)


def usual(currency: Currency) -> tuple[int, ...]:
    """About 20, 50 and 100 neutral units, in minor units (common practice, no published source)."""
    scale = package_data.rough_scale().get(currency.code, Decimal(1))
    power = Decimal(10) ** max(0, scale.adjusted())
    return tuple(parse(str(units * power), currency) for units in (20, 50, 100))


def stretched(job: Job, wanted: Sequence[int], progress: Progress, looks: int | None = MANY) -> Stretch:
    """What every pot would bring, from nothing for parts to all that can be mended, in about so many proven looks.

    ``wanted``: further amounts in minor units that are looked at in any case. ``looks``: None until every point at
    which the plan's value changes is found, or the job's time limit is over. Checks are weighed as they stand: none is
    left out for the little that it gains. Raises as ``service.plan`` does.
    """
    clock, kept = Clock(job.solve.seconds), KeptStretches.of(job, wanted, looks)
    known = kept and kept.found()
    if known and (stands := _as_kept(job, known, clock, progress)):
        return _told(stands, known.safe_minor, tuple(wanted))
    ladder, safe_minor = _climbed(job, wanted, clock, progress, looks)
    if kept and ladder.search and clock.spent > choose.A_MIX_WORTH_KEEPING and not clock.over():
        kept.keep(_to_keep(ladder, ladder.search, safe_minor, looks))
    return _told(ladder, safe_minor, tuple(wanted))


def _as_kept(job: Job, known: KeptStretch, clock: Clock, progress: Progress) -> _Ladder | None:
    """What was known before; None where its routes are not put forward any more."""
    search = _search(job, progress, clock, known.told_apart, timed=known.timed)
    offer = search.offer()
    proven = Outcome(proven=True, cheapest=False)
    mixes = [rung.mix.selection(offer.proposals, proven) for rung in known.rungs]
    ladder = _Ladder(job, search, offer, clock, progress, 0)
    for rung, mix in zip(known.rungs, mixes, strict=True):
        if mix is None:
            return None
        ladder.known.append(_Known(Reached((), rung.least_minor, mix, Start()), rung.until_minor))
    ladder.too_long = set() if known.hours_bind_minor is None else {known.hours_bind_minor}
    return ladder


def _to_keep(ladder: _Ladder, search: Search, safe_minor: int | None, looks: int | None) -> KeptStretch:
    """What is known as it is kept."""
    return KeptStretch(
        looks=looks,
        rungs=tuple(
            KeptRung(
                mix=search.taken(one.reached.selection),
                least_minor=one.reached.least_minor,
                until_minor=one.until_minor,
            )
            for one in ladder.known
        ),
        safe_minor=safe_minor,
        hours_bind_minor=ladder.hours_bind_minor,
        told_apart=search.scene.scarce,
        timed=search.scene.timed,
    )


def _climbed(
    job: Job, wanted: Sequence[int], clock: Clock, progress: Progress, looks: int | None
) -> tuple[_Ladder, int | None]:
    """All that is found out, and the least money that makes the vehicle safe."""
    search = _search(job, progress, clock, timed=False) if job.settings.fallbacks else None
    needed = max(0, job.pot.remaining_minor) + max(wanted, default=0)
    while True:
        offer = options.build(job) if search is None else search.offer()
        ladder = _Ladder(job, search, offer, clock, progress, needed)
        try:
            return ladder, ladder.climb(wanted, looks)
        except _AgainError as why:
            short = why.short
            search = search.telling_apart(short) if search and short else _search(job, progress, clock, timed=True)


def _search(
    job: Job, progress: Progress, clock: Clock, told_apart: frozenset[str] | None = None, *, timed: bool
) -> Search:
    """The routes of a pot without an end, these quotes told apart, or those that may be short (None)."""
    rich = least_money.with_left(job, MOST_MINOR)
    rich = rich if timed else rich.model_copy(update={"time": Time()})
    offer = options.build(rich, whole={fault.id for fault in rich.faults})
    return Search(rich, offer, progress, choose.likely_short(offer) if told_apart is None else told_apart, clock)


def _told(ladder: _Ladder, safe_minor: int | None, wanted: tuple[int, ...]) -> Stretch:
    job = ladder.job
    rungs = tuple(_rung(ladder, n) for n in range(len(ladder.known)))
    good = job.settings.good_enough
    unsure = () if safe_minor is None else tuple(
        fault.id for fault in job.faults
        if fault.severity == Severity.DANGEROUS and rungs[-1].plan.choice(fault.id).chance < good
    )  # fmt: skip
    return Stretch(job=job, rungs=rungs, safe_minor=safe_minor, unsure=unsure, wanted_minor=wanted, hours_bind_minor=ladder.hours_bind_minor)  # noqa: E501 # fmt: skip


def _rung(ladder: _Ladder, n: int) -> Rung:
    one = ladder.known[n]
    until = None if one.until_minor >= ladder.ample_minor else one.until_minor
    return Rung(least_minor=one.reached.least_minor, until_minor=until, plan=drawn_up(ladder.pick(one.reached)))
