"""One fault by itself, which the program never searches: for every amount of money its best route.

Brute force and published examples are held against this, and so against the search behind it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimiser.diagnosis.case import Case
from optimiser.diagnosis.dynamic_program import MOST_MOVES, Sweep
from optimiser.diagnosis.labels import FIXES, Goal
from optimiser.diagnosis.leading_steps import Opening
from optimiser.diagnosis.routes import Book, Point, points_of
from optimiser.model.route import Route


def profit(sale_gain_minor: int, hour_worth_minor: int) -> Goal:
    """The greatest ``sale_gain * chance - net cost - hour_worth * hours``."""
    return Goal(None, sale_gain_minor, 1.0, hour_worth_minor)


@dataclass(frozen=True)
class Frontier:
    """The points worth having, by rising cash; the first is to do nothing unless something is free.

    A point is kept unless another is as good or better in worst-case cash, chance and cost (with a limit on minutes, in
    worst-case minutes too), or surer for as little by more than the goal gives up. ``exact`` is False where the search
    was cut: the points are then routes that exist, and ``ceiling`` (cash, chance or profit) is what none of that cash
    passes.
    """

    points: tuple[Point, ...]
    exact: bool
    ceiling: tuple[tuple[int, float], ...]
    _opening: Opening

    def at(self, cash_minor: int, minutes: int | None = None) -> Point | None:
        """The best point within these amounts; None where nothing is within them."""
        within = [
            p for p in self.points if p.cash_minor <= cash_minor and (minutes is None or p.worst_minutes <= minutes)
        ]
        return best_of(self._opening.sweep.goal, within) if within else None

    def route(self, point: Point) -> Route:
        """The tree behind a point."""
        return Book.of(self._opening).route(point.label)


def frontier(case: Case, goal: Goal = FIXES, most_moves: int = MOST_MOVES) -> Frontier:
    """All routes of one fault worth having, by their worst-case cash.

    Exact to at least 6 causes, 5 checks and 5 options; past ``most_moves`` (see ``dynamic_program``) the depth is cut.
    Raises ``ValueError`` where a check does not fit.
    """
    sweep = Sweep(case, goal, most_moves)
    opening = Opening(sweep)
    above = opening.at_most
    reach = above.chance if goal.loss is not None else -goal.cost(above)
    ceiling = tuple(zip(above.cash.tolist(), np.maximum.accumulate(reach).tolist(), strict=True))
    return Frontier(points_of(opening), opening.exact, ceiling, opening)


def best_of(goal: Goal, points: Sequence[Point]) -> Point:
    """The best of some points, whatever they take: the surest, then the cheapest (aim profit: what earns most)."""

    def rank(point: Point) -> tuple[float, ...]:
        cost = goal.net * point.net_minor + goal.hour / 60 * point.minutes - goal.gain * point.chance
        return (-round(point.chance, 11) if goal.loss is not None else 0.0, round(cost, 7), point.minutes)

    return min(points, key=rank)
