"""The sets of leading steps alone: reckoned anew for each way to pay for first attempts, on top of one sweep."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from functools import cached_property
from typing import NamedTuple

import numpy as np

from optimiser.diagnosis.case import Cost
from optimiser.diagnosis.dynamic_program import Action, Rank, Sweep, Tables
from optimiser.diagnosis.labels import Ints, Labels
from optimiser.model.option import Line

FirstCosts = Mapping[int, Sequence[Cost]]
"""The ways to pay for each option as a first attempt, by its action; those that may not be one are missing."""


class Opening:
    """The sets of leading steps alone under one way of paying for first attempts.

    ``first`` None: as the case reckons them, and never less than that. ``only`` names the actions that may come first
    of all (None: any), ``leading`` the leading steps that may be made (None: any); ``may_stop`` False: every branch
    comes to a first attempt. ``rank`` says what chances count for in the end (None: as they are).
    """

    def __init__(
        self,
        sweep: Sweep,
        first: FirstCosts | None = None,
        *,
        only: Collection[int] | None = None,
        leading: Collection[int] | None = None,
        may_stop: bool = True,
        rank: Rank | None = None,
    ) -> None:
        self.sweep, self._may_stop, self._rank = sweep, may_stop, rank
        self.moves = {done: self._moves(done, first, only, leading) for done in sweep.layers[0]}
        self.tables = self._solved(sweep.later)

    @property
    def top(self) -> Labels:
        """What is worth keeping from the start, the cheapest first."""
        return _of(self.tables, 0)

    @property
    def numbers(self) -> Ints:
        """The numbers of the labels of ``top``."""
        run = self.tables.runs[0]
        return np.arange(int(run.count[0])) + int(run.first[0])

    @cached_property
    def at_most(self) -> Labels:
        """Labels from the start, one of which is as good as any with nothing cut."""
        return self.top if self.exact else _of(self._solved(self.sweep.later_at_most), 0)

    @property
    def exact(self) -> bool:
        """Whether nothing was cut that could give more chance (aim profit: more)."""
        return self.sweep.exact and not self.tables.cut

    @property
    def short(self) -> float:
        """How far a route that was not searched could be above all that were, of those that take and share no more.

        In chance, for aim profit in minor units.
        """
        goal, top, above = self.sweep.goal, self.top, self.at_most
        reached, most = ((-goal.cost(x) if goal.loss is None else x.chance) for x in (top, above))
        worst = 0.0
        for n in range(len(above)):
            able = (top.cash <= above.cash[n]) & (top.worst <= above.worst[n])
            able &= ~(top.marks & ~above.marks[n]).any(1)
            worst = max(worst, float(most[n] - reached[able].max(initial=0.0)))
        return worst

    def _solved(self, later: Tables) -> Tables:
        tables = later.opened()
        by_size: dict[int, list[int]] = defaultdict(list)
        for done in self._reached():
            by_size[done.bit_count()].append(done)
        for size in sorted(by_size, reverse=True):
            rank = None if size or tables.hopeful else self._rank
            tables.solve(by_size[size], self.moves, (), may_stop=self._may_stop, rank=rank)
        return tables

    def _moves(
        self, done: int, first: FirstCosts | None, only: Collection[int] | None, leading: Collection[int] | None
    ) -> list[Action]:
        leads = self.sweep.layout.leads
        moves = [m for m in self.sweep.moves[done] if leading is None or not leads(m.action) or m.action in leading]
        if first is not None:
            tried = dict.fromkeys(m.action for m in moves if not leads(m.action))
            paid = [Action(a, cost, done | 1 << a) for a in tried for cost in first.get(a, ())]
            moves = self.sweep.affordable(done, [*paid, *(m for m in moves if leads(m.action))])
        return moves if done or only is None else [m for m in moves if m.action in only]

    def _reached(self) -> list[int]:
        """The sets that the moves lead to, fewest steps first."""
        reached = {0}
        for done in self.sweep.layers[0]:
            if done in reached:
                reached |= {m.to for m in self.moves[done] if self.sweep.layout.leads(m.action)}
        return [done for done in self.sweep.layers[0] if done in reached]


def _of(tables: Tables, done: int) -> Labels:
    run = tables.runs[done]
    first = int(run.first[0])
    return tables.pool.all.take(np.arange(first, first + int(run.count[0])))


class Family(NamedTuple):
    """A way to begin: what is certain, what first attempts cost beside it, what may come first, what may lead."""

    certain: tuple[Line, ...]
    first: FirstCosts
    only: Collection[int]
    leading: Collection[int] | None
    may_stop: bool

    def opening(self, sweep: Sweep, rank: Rank) -> Opening:
        """All routes that begin so."""
        return Opening(sweep, self.first, only=self.only, leading=self.leading, may_stop=self.may_stop, rank=rank)
