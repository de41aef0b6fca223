"""The step-function recursion over one fault: best figures of every state at every amount of money and minutes left.

Dynamic programming over sets of actions done, largest first. For one set all combinations of results seen, all amounts
of money at which something changes and all amounts of minutes are reckoned at once, as one array. Figures are weighted
with the chance of their state, so that branches add without dividing.

What follows a first attempt does not hang on how that attempt was paid for. So the sets with an attempt in them are
reckoned once (``Sweep``), and those of checks alone as often as first attempts are paid for otherwise (``Opening``).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from optimiser.diagnosis.case import Case, Cost, Floats, Layout

Ints = npt.NDArray[np.int64]
Progress = Callable[[float], None]
"""Told now and then how much of the work is done, from 0 to 1."""

MOST_MOVES = 30_000
"""So many pairs of a set of actions and one more action are searched at most (a few seconds), and ..."""
MOST_STATES = 400_000
"""... so many states, each of up to some hundred amounts; past either fewer attempts are searched."""
EQUAL_CHANCE = 1e-12
"""Chances this near are equal."""
EQUAL_AMOUNT = 1e-7
"""Net cost and minutes this near are equal: they run to millions, where doubles hold some nine places less."""
BARRED = -1e30
"""The value of what cannot be done: far below any other, and finite, so that branches still add."""


class Goal(NamedTuple):
    """What is best: rows of weights over (chance, net cost, expected minutes, steps), compared one after the other."""

    rows: tuple[tuple[float, float, float, float], ...]

    @property
    def slack(self) -> Floats:
        """For each row, how near is equal."""
        return np.array([EQUAL_AMOUNT if any(row[1:]) else EQUAL_CHANCE for row in self.rows])


FIXES = Goal(((1, 0, 0, 0), (0, -1, 0, 0), (0, 0, -1, 0), (0, 0, 0, -1)))
"""The greatest chance of cure, then the least net cost, then the fewest minutes, then the fewest steps."""


def profit(sale_gain_minor: int, hour_worth_minor: int) -> Goal:
    """The greatest ``sale_gain * chance - net cost - hour_worth * hours``, then as for fixes."""
    return Goal(((sale_gain_minor, -1, -hour_worth_minor / 60, 0), *FIXES.rows))


@dataclass(frozen=True)
class Best:
    """The best of every state of one set of actions done.

    ``cash`` and ``minutes`` are the amounts left from which on something changes; ``value`` is rows of the goal by
    states by cash by minutes, and ``choice`` the action taken (-1: stop), without the first axis.
    """

    cash: Ints
    minutes: Ints
    value: Floats
    choice: npt.NDArray[np.int16]

    def at(self, cash_minor: int, minutes: int) -> tuple[int, int]:
        """Where in the two axes these amounts fall."""
        i = int(np.searchsorted(self.cash, cash_minor, "right")) - 1
        j = int(np.searchsorted(self.minutes, minutes, "right")) - 1
        return i, j


class Move(NamedTuple):
    """An action with its cost, and the set of actions that are done then."""

    action: int
    cost: Cost
    to: int


class Sweep:
    """All sets of actions that can be reached, and the best of each; past a size fewer attempts are searched.

    ``narrowed`` says that the case closes fallbacks only to stay within the size: what they could add is missing too.
    """

    def __init__(
        self,
        case: Case,
        goal: Goal = FIXES,
        progress: Progress | None = None,
        most_moves: int = MOST_MOVES,
        *,
        narrowed: bool = False,
    ) -> None:
        self.layout = Layout(case)
        self.goal = np.array(goal.rows)
        self.slack = goal.slack
        self.timed = case.minutes is not None
        self._limit = (_no_limit(case.cash_minor), _no_limit(case.minutes))
        self._progress, self._most_moves = progress, most_moves
        self._weights: dict[int, Floats] = {}
        self.moves: dict[int, list[Move]] = {}
        self.left: dict[int, tuple[int, int]] = {0: self._limit}
        self.layers, uncut = self._reach()
        self.narrowed = narrowed
        self.exact = uncut and not narrowed

    @cached_property
    def later(self) -> dict[int, Best]:
        """The best of every set with an attempt in it, where no more is tried past the cut."""
        return self._solve(beyond=False)

    @cached_property
    def later_at_most(self) -> dict[int, Best]:
        """As ``later``, but past the cut everything is tried at no cost: no route is better than this."""
        return self.later if self.exact else self._solve(beyond=True)

    def figures(self, value: Floats) -> tuple[float, float, float]:
        """Chance, net cost and expected minutes from the rows of the goal; its last four rows are each one of them."""
        return float(value[-4]), 0.0 - float(value[-3]), 0.0 - float(value[-2])

    def weight(self, done: int) -> Floats:
        """The chance of each state of a set, kept because every set above asks for it."""
        if done not in self._weights:
            self._weights[done] = self.layout.weight(done)
        return self._weights[done]

    def _reach(self) -> tuple[list[list[int]], bool]:
        """The sets that can be reached, by their number of attempts and then of checks; whether nothing was cut.

        The first attempt is always searched; a later one only while the whole stays within the size.
        """
        layers: list[list[int]] = []
        start, moves, states = [0], 0, 0
        while start:
            layer = self._with_checks(start, self._most_moves - moves if len(layers) > 1 else None)
            moves += sum(len(self.moves[done]) for done in layer)
            states += sum(self.layout.states(done) for done in layer)
            if len(layers) > 1 and (moves > self._most_moves or states > MOST_STATES):
                for done in layers[-1]:
                    self.moves[done] = [m for m in self.moves[done] if m.action < self.layout.n_checks]
                return layers, False
            layers.append(layer)
            tried = (m.to for done in layer for m in self.moves[done] if m.action >= self.layout.n_checks)
            start = list(dict.fromkeys(tried))
        return layers, True

    def _with_checks(self, start: Sequence[int], room: int | None) -> list[int]:
        """These sets and those that checks make of them, fewest actions first: so each is known from all its sides.

        Breaks off once there are more moves than there is ``room`` for.
        """
        by_size: dict[int, dict[int, None]] = defaultdict(dict)
        for done in start:
            by_size[done.bit_count()][done] = None
        layer: list[int] = []
        for size in range(self.layout.n_actions + 1):
            for done in by_size[size]:
                layer.append(done)
                self.moves[done] = self._open_moves(done)
                room = None if room is None else room - len(self.moves[done])
                if room is not None and room < 0:
                    return layer
                by_size[size + 1] |= {m.to: None for m in self.moves[done] if m.action < self.layout.n_checks}
        return layer

    def _open_moves(self, done: int) -> list[Move]:
        """What can be done next, within the money and minutes that the cheapest way here leaves."""
        costs = ((action, self.layout.cost(done, action)) for action in self.layout.actions(done))
        moves = [Move(action, cost, done | 1 << action) for action, cost in costs if cost is not None]
        return self.affordable(done, moves)

    def affordable(self, done: int, moves: Sequence[Move]) -> list[Move]:
        """Those of the moves that can be paid for, noting what they leave at most."""
        cash, minutes = self.left[done]
        kept = []
        for move in moves:
            left = (cash - move.cost.cash_minor, minutes - move.cost.minutes * self.timed)
            if min(left) >= 0:
                before = self.left.get(move.to, (-1, -1))
                self.left[move.to] = (max(left[0], before[0]), max(left[1], before[1]))
                kept.append(move)
        return kept

    def _solve(self, *, beyond: bool) -> dict[int, Best]:
        best: dict[int, Best] = {}
        total = sum(len(layer) for layer in self.layers[1:])
        for depth in range(len(self.layers) - 1, 0, -1):
            cut = beyond and (self.narrowed or depth == len(self.layers) - 1)
            for done in reversed(self.layers[depth]):
                best[done] = self.best_of(done, self.moves[done], best, hope=cut)
                if self._progress is not None and len(best) % 256 == 0:
                    self._progress(len(best) / total)
        return best

    def best_of(
        self, done: int, moves: Sequence[Move], known: Mapping[int, Best], *, hope: bool = False, may_stop: bool = True
    ) -> Best:
        """The best of each state of a set: stopping, or a move. ``hope``: stopping cures all that could still be."""
        weight, most = self.weight(done), self.left[done]
        cash = _axis([(m.cost.cash_minor, known[m.to].cash) for m in moves], most[0])
        minutes = cash[:1] * 0
        if self.timed:
            minutes = _axis([(m.cost.minutes, known[m.to].minutes) for m in moves], most[1])
        ways = np.full((len(moves) + 1, len(self.goal), len(weight), len(cash), len(minutes)), BARRED)
        stop = self.goal[:, :1] * self._hope(done, weight) if hope else np.zeros((len(self.goal), len(weight)))
        ways[0] = np.where(may_stop or weight == 0, stop, BARRED)[:, :, None, None]
        for way, move in zip(ways[1:], moves, strict=True):
            self._go_on(way, move, known[move.to], cash, minutes)
        if moves:
            ways[1:] += self._steps(moves, weight)[..., None, None]
        slack = self.slack[:, None, None, None] * weight[:, None, None]
        first = lexicographic(ways, slack)
        value = np.take_along_axis(ways, first[None, None], 0)[0]
        actions = np.array([-1, *(move.action for move in moves)], dtype=np.int16)
        return _thinned(Best(cash, minutes, value, actions[first]), slack)

    def _go_on(self, way: Floats, move: Move, below: Best, cash: Ints, minutes: Ints) -> None:
        """Write into ``way`` what comes after a move, wherever the amounts allow the move."""
        i = int(cash.searchsorted(move.cost.cash_minor))
        value, j = below.value.take(below.cash.searchsorted(cash[i:] - move.cost.cash_minor, "right") - 1, 2), 0
        if self.timed:
            j = int(minutes.searchsorted(move.cost.minutes))
            value = value.take(below.minutes.searchsorted(minutes[j:] - move.cost.minutes, "right") - 1, 3)
        if move.action < self.layout.n_checks:
            results, low = len(self.layout.results[move.action]), self.layout.below(move.to, move.action)
            rows, _, *after = value.shape
            value = value.reshape(rows, -1, results, low, *after).sum(2).reshape(rows, -1, *after)
        way[:, :, i:, j:] = value

    def _steps(self, moves: Sequence[Move], weight: Floats) -> Floats:
        """What each move itself adds to each row of the goal in each state: moves by rows by states."""
        steps = np.zeros((len(moves), 4, len(weight)))
        for step, move in zip(steps, moves, strict=True):
            step[1] = move.cost.net_minor * weight
            step[2] = move.cost.minutes * weight
            if move.action >= self.layout.n_checks:
                failed = self.weight(move.to)
                step[0] = weight - failed
                step[1] -= move.cost.refund_minor * failed
        steps[:, 3] = weight
        added: Floats = self.goal @ steps
        return added

    def _hope(self, done: int, weight: Floats) -> Floats:
        """No less than the chance of each state that anything at all would still cure."""
        return weight - self.layout.weight_if_all_fail(done)


FirstCosts = Mapping[int, Cost]
"""What each option takes as the first attempt of a branch, by its action; those that may not be one are missing."""


class Opening:
    """The sets of checks alone under one way of paying for first attempts.

    ``first`` None: as the case reckons it, and never less than that. ``only`` names the actions that may come first of
    all (None: any); ``may_stop`` False: every branch tries something.
    """

    def __init__(
        self,
        sweep: Sweep,
        first: FirstCosts | None = None,
        *,
        only: Collection[int] | None = None,
        may_stop: bool = True,
    ) -> None:
        self.sweep, self._may_stop = sweep, may_stop
        self.moves = {done: self._moves(done, first, only) for done in sweep.layers[0]}
        self.best = {**sweep.later, **self._solve(sweep.later)}

    @cached_property
    def at_most(self) -> Best:
        """No less than the best from the start would be with nothing cut."""
        return self._solve(self.sweep.later_at_most)[0]

    def _solve(self, later: Mapping[int, Best]) -> dict[int, Best]:
        checks: dict[int, Best] = {}
        n_checks = self.sweep.layout.n_checks
        for done in reversed(self._reached()):
            known = {m.to: checks[m.to] if m.action < n_checks else later[m.to] for m in self.moves[done]}
            checks[done] = self.sweep.best_of(done, self.moves[done], known, may_stop=self._may_stop)
        return checks

    @property
    def top(self) -> Best:
        """The best from the start."""
        return self.best[0]

    def move(self, done: int, action: int) -> Move:
        """The move that this action is after those done."""
        moves = self.moves[done] if done in self.moves else self.sweep.moves[done]
        return next(move for move in moves if move.action == action)

    def _moves(self, done: int, first: FirstCosts | None, only: Collection[int] | None) -> list[Move]:
        moves = self.sweep.moves[done]
        if first is not None:
            n_checks = self.sweep.layout.n_checks
            moves = [
                m if m.action < n_checks else m._replace(cost=first[m.action])
                for m in moves
                if m.action < n_checks or m.action in first
            ]
            moves = self.sweep.affordable(done, moves)
        return moves if done or only is None else [m for m in moves if m.action in only]

    def _reached(self) -> list[int]:
        """The sets that the moves lead to, fewest checks first."""
        reached = {0}
        for done in self.sweep.layers[0]:
            if done in reached:
                reached |= {m.to for m in self.moves[done] if m.action < self.sweep.layout.n_checks}
        return [done for done in self.sweep.layers[0] if done in reached]


def _axis(below: Sequence[tuple[int, Ints]], most: int) -> Ints:
    """The amounts at which something may change: those of the moves' next states, with the move paid."""
    amounts = np.unique(np.concatenate([np.zeros(1, dtype=np.int64), *(cost + axis for cost, axis in below)]))
    return amounts[amounts <= most]


def lexicographic(ways: Floats, slack: Floats) -> Ints:
    """Which of the ways (first axis) is best by its first row (second axis), then by the next; of equals the first."""
    best = np.ones((len(ways), *ways.shape[2:]), dtype=np.bool_)
    for row, near in enumerate(slack):
        found = np.where(best, ways[:, row], -np.inf)
        best &= found >= found.max(0) - near
        if np.count_nonzero(best) == best[0].size:
            break  # no ties are left for the rows that follow
    first: Ints = best.argmax(0)
    return first


def _thinned(best: Best, slack: Floats) -> Best:
    """Without the amounts at which no state changes."""
    if len(best.cash) > 1:
        keep = _changes(best.value, slack, axis=2)
        best = Best(best.cash[keep], best.minutes, best.value[:, :, keep], best.choice[:, keep])
    if len(best.minutes) > 1:
        keep = _changes(best.value, slack, axis=3)
        best = Best(best.cash, best.minutes[keep], best.value[..., keep], best.choice[..., keep])
    return best


def _changes(value: Floats, slack: Floats, axis: int) -> npt.NDArray[np.bool_]:
    """Where along an axis any state changes, the first place included."""
    change = np.abs(np.diff(value, axis=axis)) > slack
    others = tuple(a for a in range(4) if a != axis)
    return np.concatenate([[True], change.any(others)])


def _no_limit(amount: int | None) -> int:
    return 2**53 if amount is None else max(amount, 0)
