"""What a search over one fault comes to: routes as points with their figures, and the trees behind them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from optimiser.diagnosis.case import CaseLayout
from optimiser.diagnosis.dynamic_program import Action
from optimiser.diagnosis.labels import Ints
from optimiser.diagnosis.leading_steps import Opening
from optimiser.model.job import Check
from optimiser.model.option import Line, Option
from optimiser.model.route import CURED, NOT_CURED, AttemptStep, Branch, CheckStep, Node, Route, Stop


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


def points_of(opening: Opening) -> tuple[Point, ...]:
    """The labels of the start as points, by rising cash."""
    top = opening.top
    shared = [sum(int(word) << 64 * place for place, word in enumerate(marks)) for marks in top.marks.tolist()]
    columns = (top.cash, top.chance, top.net, top.minutes, top.worst)
    rows = zip(*(column.tolist() for column in columns), shared, opening.numbers.tolist(), strict=True)
    return tuple(Point(*row) for row in rows)


@dataclass(frozen=True)
class Book:
    """What routes are read from: the moves that there are, by label the one it makes and what follows its results."""

    layout: CaseLayout
    moves: Sequence[Action]
    move: Ints
    then: Ints

    @classmethod
    def of(cls, opening: Opening) -> Book:
        """All labels reckoned so far by the sweep of an opening."""
        labels = opening.tables.pool.all
        return cls(opening.sweep.layout, opening.tables.moves, labels.move, labels.then)

    def only(self, labels: Ints) -> tuple[Book, Ints]:
        """What these labels are read from and nothing else, and their numbers in it."""
        used = np.zeros(len(self.move), dtype=np.bool_)
        new = np.unique(labels)
        while len(new):
            used[new] = True
            after = self.then[new].ravel()
            new = np.unique(after[after >= 0])
            new = new[~used[new]]
        number = np.cumsum(used) - 1
        moves, move = np.unique(self.move[used], return_inverse=True)
        stops = int((moves < 0).any())
        then = self.then[used]
        few = Book(
            self.layout,
            [self.moves[n] for n in moves[stops:].tolist()],
            move - stops,
            np.where(then >= 0, number[then], -1),
        )
        return few, number[labels]

    def first(self, label: int) -> Check | Option:
        """What a route that does something begins with."""
        action = self.moves[int(self.move[label])].action
        count = self.layout.n_checks
        return self.layout.checks[action] if action < count else self.layout.options[action - count]

    def route(self, label: int) -> Route:
        """The tree behind a label of the start."""
        return Route.of(self.layout.case.fault.id, self.node(0, 0, label))

    def node(self, done: int, state: int, label: int) -> Node:
        """What a label does in one state."""
        number = int(self.move[label])
        if number < 0:
            return Stop()
        action, cost, to = self.moves[number]
        then = self.then[label].tolist()
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


class Row(NamedTuple):
    """A route as it is kept: its figures, the lines that are certain in it, whether it is in no best mix."""

    point: Point
    certain: tuple[Line, ...]
    outdone: bool = False


class Searched(NamedTuple):
    """What a search came to: routes with the book they are read from, and how far it went (see ``FaultRoutes``).

    ``ahead``: with options that have lines bought ahead; ``ahead_left``: not with them, for that was too much. With
    ``needs_minor`` cash or more it comes to the same.
    """

    rows: Sequence[Row]
    book: Book | None
    ahead: bool = False
    fallbacks: int | None = None
    short: float = 0.0
    short_minor: float = 0.0
    savings_cut: bool = False
    needs_minor: int = 0
    ahead_left: bool = False
