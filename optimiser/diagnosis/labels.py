"""Figures of many routes at once, and which of them are worth keeping: label setting over arrays.

A label is one way to go on from a state: what it takes at the most, what it is expected to cost, its chance of cure,
and what it shares with other faults as bits (``marks``). Figures are weighted with the chance of the state, so that
branches add without dividing. Labels of several criteria: Martins, On a multicriteria shortest path problem, 1984.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from optimiser.chances import PLACES, steps_in

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

NEVER = 2**62
"""More cash than there is."""
EVERY_MARK = np.uint64(2**64 - 1)
"""All marks of a word."""
EQUAL_CHANCE = 1e-12
"""Chances this near are equal."""
EQUAL_COST = 1e-7
"""Costs this near are equal: they run to millions, where doubles hold some nine places less."""


class Goal(NamedTuple):
    """What is best: the greatest chance, but for a ``loss`` that may be given up for less cost (None: cost alone).

    The cost is ``net * net cost + hour / 60 * expected minutes - gain * chance``, in minor units.
    """

    loss: float | None = 0.0
    gain: float = 0.0
    net: float = 1.0
    hour: float = 0.0

    def cost(self, labels: Labels) -> Floats:
        """The cost of each label, weighted as its figures are."""
        return self.net * labels.net + self.hour / 60 * labels.minutes - self.gain * labels.chance


FIXES = Goal()
"""The greatest chance of cure, then the least net cost."""
SUREST = Goal(None, 1.0, 0.0, 0.0)
"""The greatest chance of cure and nothing else."""


@dataclass(frozen=True)
class Toll:
    """What sharing takes at the most: marks below ``bits`` stand for something that is paid for once in the whole mix.

    By every set of those marks: cash, worst minutes and expected cost. Other marks have no price: no way round them.
    Below a check another branch may be the dearest already, so there a label that takes less has nothing to pay with:
    what costs cash, or minutes where they are limited, is then ``NEVER`` paid.
    """

    bits: int
    cash: Ints
    worst: Ints
    cost: Floats

    @property
    def unpaid(self) -> np.uint64:
        """The marks of the first word that nothing pays for."""
        paid = sum(1 << bit for bit in range(self.bits) if self.cash[1 << bit] < NEVER)
        return EVERY_MARK ^ np.uint64(paid)

    def below_a_check(self, *, timed: bool) -> Toll:
        """What is left of it where branches are still to be put side by side."""
        barred = (self.cash > 0) | ((self.worst > 0) & timed)
        return replace(self, cash=np.where(barred, NEVER, 0))

    @classmethod
    def of(cls, prices: Sequence[tuple[int, int]], goal: Goal) -> Toll:
        """For marks in turn, each with its cash and minutes."""
        sets = np.arange(1 << len(prices))
        cash, worst = np.zeros(len(sets), dtype=np.int64), np.zeros(len(sets), dtype=np.int64)
        for bit, (minor, minutes) in enumerate(prices):
            cash += (sets >> bit & 1) * minor
            worst += (sets >> bit & 1) * minutes
        return cls(len(prices), cash, worst, goal.net * cash + goal.hour / 60 * worst)


@dataclass
class Labels:
    """Labels as columns: worst cash and minutes; chance, net cost, minutes and steps as expected; marks by words.

    ``move`` is the number of the move taken (-1: stop), ``then`` the labels that follow each of its results; ``until``
    is the cash from which on another label of the state is the better one.
    """

    cash: Ints
    worst: Ints
    chance: Floats
    net: Floats
    minutes: Floats
    steps: Floats
    marks: npt.NDArray[np.uint64]
    move: Ints
    then: Ints
    until: Ints

    @classmethod
    def blank(cls, count: int, words: int, results: int) -> Labels:
        """So many labels that take and bring nothing."""

        def whole() -> Ints:
            return np.zeros(count, dtype=np.int64)

        return cls(
            cash=whole(),
            worst=whole(),
            chance=np.zeros(count),
            net=np.zeros(count),
            minutes=np.zeros(count),
            steps=np.zeros(count),
            marks=np.zeros((count, words), dtype=np.uint64),
            move=whole() - 1,
            then=np.full((count, results), -1, dtype=np.int64),
            until=whole() + NEVER,
        )

    def __len__(self) -> int:
        return len(self.cash)

    def take(self, places: Ints | Bools) -> Labels:
        return Labels(*(getattr(self, f.name)[places] for f in fields(self)))

    @classmethod
    def joined(cls, parts: Sequence[Labels]) -> Labels:
        return cls(*(np.concatenate([getattr(part, f.name) for part in parts]) for f in fields(cls)))


class Pool:
    """All labels of a search, found by number; a node (one state of one set of actions) holds a run of them."""

    def __init__(self, words: int, results: int) -> None:
        self.words, self.results, self.size = words, results, 0
        self.all = Labels.blank(1024, words, results)

    def add(self, labels: Labels) -> int:
        """Append labels; the number of the first."""
        first, self.size = self.size, self.size + len(labels)
        while self.size > len(self.all):
            self.all = Labels.joined([self.all, Labels.blank(len(self.all), self.words, self.results)])
        for f in fields(Labels):
            getattr(self.all, f.name)[first : self.size] = getattr(labels, f.name)
        return first


@dataclass(frozen=True)
class Runs:
    """Runs of labels: where each begins and how many it holds."""

    first: Ints
    count: Ints

    def numbers(self) -> tuple[Ints, Ints]:
        """The number of every label in turn, and the run that it is in."""
        run = np.repeat(np.arange(len(self.count)), self.count)
        within = np.arange(len(run)) - np.repeat(np.cumsum(self.count) - self.count, self.count)
        return self.first[run] + within, run

    def pairs(self, other: Runs) -> tuple[Ints, Ints, Ints]:
        """Every label of a run with every one of the other's run beside it, and the run."""
        each = Runs(np.zeros_like(self.first), self.count * other.count)
        place, run = each.numbers()
        here, there = np.divmod(place, np.maximum(other.count[run], 1))
        return self.first[run] + here, other.first[run] + there, run


def beside(labels: Labels, others: Labels, branch: int, numbers: Ints) -> Labels:
    """Labels of some branches with those of one more: the dearest and longest path, the sum of what is expected."""
    then = labels.then.copy()
    then[:, branch] = numbers
    return Labels(
        cash=np.maximum(labels.cash, others.cash),
        worst=np.maximum(labels.worst, others.worst),
        chance=labels.chance + others.chance,
        net=labels.net + others.net,
        minutes=labels.minutes + others.minutes,
        steps=labels.steps + others.steps,
        marks=labels.marks | others.marks,
        move=labels.move,
        then=then,
        until=np.minimum(labels.until, others.until),
    )


def all_counted(chances: Floats, step: float) -> Floats:
    """``chances.counted`` for many at once."""
    billionths = np.rint(chances * PLACES).astype(np.int64)
    if step == 0:
        return billionths / PLACES
    count = steps_in(step)
    stepped = np.minimum((2 * billionths * count + PLACES) // (2 * PLACES), count - 1) / count
    return np.where((billionths >= PLACES) | (billionths * count < PLACES), billionths / PLACES, stepped)


def numbered(names: Iterable[object]) -> Ints:
    numbers: dict[object, int] = {}
    return np.array([numbers.setdefault(name, len(numbers)) for name in names], dtype=np.int64)
