"""The exact frontier of one fault: for every amount of money the best route of checks and attempts, and its tree.

The recursion is that of decision-theoretic troubleshooting (Heckerman, Breese and Rommelse 1995, section 2) with the
worst-case cost of a policy as a limit instead of a price on everything; see ``sweep``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from optimiser.diagnosis.case import Case
from optimiser.diagnosis.labels import FIXES, Goal, Labels, profit
from optimiser.diagnosis.sweep import MOST_MOVES, Opening, Progress, Sweep
from optimiser.model.route import CURED, NOT_CURED, AttemptStep, Branch, CheckStep, Node, Route, Stop

__all__ = ["FIXES", "Case", "Frontier", "Goal", "Point", "Worth", "frontier", "profit", "worth", "worthwhile"]


class Point(NamedTuple):
    """One route worth having: its worst-case cash, chance of cure, expected net cost and minutes.

    ``worst_minutes`` are those of the longest path; ``marks`` what it shares; ``label`` is its number in the search.
    """

    cash_minor: int
    chance: float
    net_minor: float
    minutes: float
    worst_minutes: int
    marks: int = 0
    label: int = -1


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
    reach = above.chance if goal.loss is not None else -goal.cost(above)
    ceiling = tuple(zip(above.cash.tolist(), np.maximum.accumulate(reach).tolist(), strict=True))
    return Frontier(points_of(opening), opening.exact, ceiling, opening)


def best_of(goal: Goal, points: Sequence[Point]) -> Point:
    """The best of some points, whatever they take: the surest, then the cheapest (aim profit: what earns most)."""

    def rank(point: Point) -> tuple[float, ...]:
        cost = goal.net * point.net_minor + goal.hour / 60 * point.minutes - goal.gain * point.chance
        return (-round(point.chance, 11) if goal.loss is not None else 0.0, round(cost, 7), point.minutes)

    return min(points, key=rank)


def points_of(opening: Opening) -> tuple[Point, ...]:
    """The labels of the start as points, by rising cash."""
    top = opening.top
    shared = [sum(int(word) << 64 * place for place, word in enumerate(marks)) for marks in top.marks.tolist()]
    columns = (top.cash, top.chance, top.net, top.minutes, top.worst)
    rows = zip(*(column.tolist() for column in columns), shared, opening.numbers.tolist(), strict=True)
    return tuple(Point(*row) for row in rows)


def read_route(opening: Opening, point: Point) -> Route:
    """The tree behind a point of an opening."""
    return Route.of(opening.sweep.layout.case.fault.id, _Tree(opening).node(0, 0, point.label))


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
    return goal.gain * point.chance - goal.net * point.net_minor - goal.hour / 60 * point.minutes


def _without(case: Case, check: str) -> Case:
    return replace(case, checks=[c for c in case.checks if c.id != check])


def best_at(case: Case, cash_minor: int, goal: Goal = FIXES, opening: Opening | None = None) -> Point:
    """The best route of at most this cash and the case's minutes; among those of an ``opening`` where one is given.

    Nothing at all (chance 0) where no route is within the limits.
    """
    sweep = Sweep(replace(case, cash_minor=cash_minor), goal) if opening is None else opening.sweep
    points = points_of(opening or Opening(sweep))
    return best_of(goal, points) if points else Point(0, 0.0, 0.0, 0.0, 0)


class _Tree:
    """Reads a route back out of the labels of an opening and its sweep."""

    def __init__(self, opening: Opening) -> None:
        self.layout, self.moves = opening.sweep.layout, opening.tables.moves
        self.labels: Labels = opening.tables.pool.all

    def node(self, done: int, state: int, label: int) -> Node:
        """What a label does in one state."""
        number = int(self.labels.move[label])
        if number < 0:
            return Stop()
        action, cost, to = self.moves[number]
        then = self.labels.then[label].tolist()
        weight = float(self.layout.weight(done)[state])
        if action >= self.layout.n_checks:
            uncured = float(self.layout.weight(to)[state]) / weight
            branches = [Branch(result=CURED, chance=1 - uncured, then=Stop())]
            if uncured > 0:
                branches.append(Branch(result=NOT_CURED, chance=uncured, then=self.node(to, state, then[0])))
            return AttemptStep(
                option=self.layout.options[action - self.layout.n_checks],
                cash_minor=cost.cash_minor,
                net_minor=cost.net_minor,
                refund_minor=cost.refund_minor,
                minutes=cost.minutes,
                topping=cost.topping,
                then=tuple(branches),
            )
        check, branches = self.layout.checks[action], []
        names = self.layout.results[action]
        for result, after, below in zip(names, self.layout.after_check(done, action), then, strict=False):
            next_state = int(after[state])
            chance = float(self.layout.weight(to)[next_state]) / weight
            if chance > 0:
                branches.append(Branch(result=result, chance=chance, then=self.node(to, next_state, below)))
        return CheckStep(check=check.id, cash_minor=cost.cash_minor, minutes=cost.minutes, then=tuple(branches))
