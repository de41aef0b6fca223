"""The exact frontier of one fault: for every amount of money the best route of checks and attempts, and its tree.

The recursion is that of decision-theoretic troubleshooting (Heckerman, Breese and Rommelse 1995, section 2) with the
worst-case cost of a policy as a limit instead of a price on everything; see ``sweep``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from optimiser.diagnosis.case import Case, Floats
from optimiser.diagnosis.sweep import (
    BARRED,
    FIXES,
    MOST_MOVES,
    Best,
    Goal,
    Opening,
    Progress,
    Sweep,
    lexicographic,
    profit,
)
from optimiser.model.route import CURED, NOT_CURED, AttemptStep, Branch, CheckStep, Node, Route, Stop

__all__ = ["FIXES", "Case", "Frontier", "Goal", "Point", "Worth", "frontier", "profit", "worth", "worthwhile"]


class Point(NamedTuple):
    """One step of the frontier: the least worst-case cash for a chance of cure, with the least expected net cost there.

    ``minutes`` are expected; ``worst_minutes`` are None where the case sets no limit on them: the route has them.
    """

    cash_minor: int
    chance: float
    net_minor: float
    minutes: float
    worst_minutes: int | None


@dataclass(frozen=True)
class Frontier:
    """The points worth having, by rising cash; the first is to do nothing unless something is free.

    A point is kept when its chance rises, or is equal and its net cost falls; with a limit on minutes, when no other is
    as good or better for as little cash and as few minutes. ``exact`` is False where the depth was cut: the points
    are then routes that exist, and ``ceiling`` (cash, first row of the goal) is what no route of that cash passes.
    """

    points: tuple[Point, ...]
    exact: bool
    ceiling: tuple[tuple[int, float], ...]
    _opening: Opening

    def at(self, cash_minor: int, minutes: int | None = None) -> Point | None:
        """The best point within these amounts; None where nothing is within them."""
        within = [
            p
            for p in self.points
            if p.cash_minor <= cash_minor and (minutes is None or (p.worst_minutes or 0) <= minutes)
        ]
        if not within:
            return None
        sweep = self._opening.sweep
        scores = sweep.goal[:, :3] @ np.array([(p.chance, p.net_minor, p.minutes) for p in within]).T
        return within[int(lexicographic(scores.T, sweep.slack))]

    def route(self, point: Point) -> Route:
        """The tree behind a point."""
        return read_route(self._opening, point)


def frontier(
    case: Case, goal: Goal = FIXES, progress: Progress | None = None, most_moves: int = MOST_MOVES
) -> Frontier:
    """All routes of one fault worth having, by their worst-case cash.

    Exact to at least 6 causes, 5 checks and 5 options; past ``most_moves`` (see ``sweep``) the depth is cut. Raises
    ``ValueError`` where a check does not fit.
    """
    sweep = Sweep(case, goal, progress, most_moves)
    opening = Opening(sweep)
    above = opening.at_most
    ceiling = tuple((int(cash), float(above.value[0, 0, i].max())) for i, cash in enumerate(above.cash))
    return Frontier(points_of(sweep, opening.top), sweep.exact, ceiling, opening)


def read_route(opening: Opening, point: Point) -> Route:
    """The tree behind a point of an opening."""
    tree = _Tree(opening)
    return Route.of(opening.sweep.layout.case.fault.id, tree.node(0, 0, point.cash_minor, point.worst_minutes or 0))


class Worth(NamedTuple):
    """What a check adds at one amount of cash: fixes gained and expected net cost saved against the best without it.

    ``earned_minor`` is for aim profit what it adds to sale gain less cost and time; 0 for aim fixes.
    """

    check: str
    fixes: float
    saved_minor: float
    earned_minor: float = 0.0


def worth(case: Case, cash_minor: int, goal: Goal = FIXES) -> tuple[Worth, ...]:
    """What each check is worth to the best route of at most this worst-case cash (and the case's minutes)."""
    with_it = best_at(case, cash_minor, goal)
    found = []
    for check in case.checks:
        without = best_at(_without(case, check.id), cash_minor, goal)
        earned = 0.0 if goal == FIXES else _first_row(goal, with_it) - _first_row(goal, without)
        gained, saved = with_it.chance - without.chance, without.net_minor - with_it.net_minor
        found.append(Worth(check.id, gained, saved, earned))
    return tuple(found)


def worthwhile(
    case: Case, cash_minor: int, must_gain: float, must_save_minor: float, goal: Goal = FIXES
) -> tuple[Case, tuple[Worth, ...]]:
    """The case without the checks that are not worth their time, and what each of those would have added.

    A check goes if it gains less than ``must_gain`` of a fix and saves (or earns) less than ``must_save_minor``: one at
    a time, least worth first, the rest reckoned anew. One that adds nothing at all goes whatever the limits.
    """
    gone: list[Worth] = []
    while case.checks:
        idle = [w for w in worth(case, cash_minor, goal) if _idle(w, must_gain, must_save_minor)]
        if not idle:
            break
        least = min(idle, key=lambda w: (w.fixes, w.saved_minor, w.check))
        gone.append(least)
        case = _without(case, least.check)
    return case, tuple(gone)


def _idle(found: Worth, must_gain: float, must_save_minor: float) -> bool:
    money = max(found.saved_minor, found.earned_minor)
    return (found.fixes <= 1e-12 and money <= 1e-7) or (found.fixes < must_gain and money < must_save_minor)


def _first_row(goal: Goal, point: Point) -> float:
    return float(np.dot(goal.rows[0][:3], (point.chance, point.net_minor, point.minutes)))


def _without(case: Case, check: str) -> Case:
    return replace(case, checks=[c for c in case.checks if c.id != check])


def best_at(case: Case, cash_minor: int, goal: Goal = FIXES, opening: Opening | None = None) -> Point:
    """The best route of at most this cash and the case's minutes; among those of an ``opening`` where one is given.

    Nothing at all (chance 0) where no route is within the limits.
    """
    sweep = Sweep(replace(case, cash_minor=cash_minor), goal) if opening is None else opening.sweep
    top = (opening or Opening(sweep)).top
    value = top.value[:, 0, -1, -1]
    if value[0] < BARRED / 2:
        return Point(0, 0.0, 0.0, 0.0, 0 if sweep.timed else None)
    minutes = int(top.minutes[-1]) if sweep.timed else None
    return Point(int(top.cash[-1]), *sweep.figures(value), minutes)


def points_of(sweep: Sweep, top: Best, others: Sequence[Best] = ()) -> tuple[Point, ...]:
    """Where a step function rises above all that is cheaper and quicker, and above these other ones there."""
    value, slack = top.value[:2, 0], sweep.slack[:2]
    keep = value[0] > BARRED / 2
    keep[1:] &= _rises(value[:, 1:], value[:, :-1], slack)
    keep[:, 1:] &= _rises(value[:, :, 1:], value[:, :, :-1], slack)
    for other in others:
        i = other.cash.searchsorted(top.cash, "right") - 1
        j = other.minutes.searchsorted(top.minutes, "right") - 1
        keep &= _rises(value, other.value[:2, 0][:, i][:, :, j], slack)
    points = []
    for i, j in zip(*(axis.tolist() for axis in np.nonzero(keep)), strict=True):
        chance, net, expected = sweep.figures(top.value[:, 0, i, j])
        minutes = int(top.minutes[j]) if sweep.timed else None
        points.append(Point(int(top.cash[i]), chance, net, expected, minutes))
    return tuple(points)


def _rises(new: Floats, old: Floats, slack: Floats) -> npt.NDArray[np.bool_]:
    """Where the first row rises, or is equal and the second rises."""
    first, second = new - old
    above: npt.NDArray[np.bool_] = (first > slack[0]) | ((np.abs(first) <= slack[0]) & (second > slack[1]))
    return above


class _Tree:
    """Reads a route back out of the choices of an opening and its sweep."""

    def __init__(self, opening: Opening) -> None:
        self.opening, self.sweep, self.layout = opening, opening.sweep, opening.sweep.layout

    def node(self, done: int, state: int, cash_minor: int, minutes: int) -> Node:
        """What is best in one state with these amounts left."""
        best = self.opening.best[done]
        i, j = best.at(cash_minor, minutes)
        action = int(best.choice[state, i, j])
        if action < 0:
            return Stop()
        _, cost, to = self.opening.move(done, action)
        left = (cash_minor - cost.cash_minor, minutes - cost.minutes * self.sweep.timed)
        weight = float(self.layout.weight(done)[state])
        if action >= self.layout.n_checks:
            uncured = float(self.layout.weight(to)[state]) / weight
            then = [Branch(result=CURED, chance=1 - uncured, then=Stop())]
            if uncured > 0:
                then.append(Branch(result=NOT_CURED, chance=uncured, then=self.node(to, state, *left)))
            return AttemptStep(
                option=self.layout.options[action - self.layout.n_checks],
                cash_minor=cost.cash_minor,
                net_minor=cost.net_minor,
                refund_minor=cost.refund_minor,
                minutes=cost.minutes,
                then=tuple(then),
            )
        check, branches = self.layout.checks[action], []
        for next_state, result in self._results(done, state, action):
            chance = float(self.layout.weight(to)[next_state]) / weight
            if chance > 0:
                branches.append(Branch(result=result, chance=chance, then=self.node(to, next_state, *left)))
        return CheckStep(check=check.id, cash_minor=cost.cash_minor, minutes=cost.minutes, then=tuple(branches))

    def _results(self, done: int, state: int, check: int) -> list[tuple[int, str]]:
        """The states that a check's results lead to."""
        high, low = divmod(state, self.layout.below(done, check))
        results = self.layout.results[check]
        return [
            ((high * len(results) + r) * self.layout.below(done, check) + low, name) for r, name in enumerate(results)
        ]
