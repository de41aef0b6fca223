"""Figures of many routes at once, and which of them are worth keeping: label setting over arrays.

A label is one way to go on from a state: what it takes at the most, what it is expected to cost, its chance of cure,
and what it shares with other faults as bits (``marks``). Figures are weighted with the chance of the state, so that
branches add without dividing. Labels of several criteria: Martins, On a multicriteria shortest path problem, 1984.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

NEVER = 2**62
"""More cash than there is."""
EQUAL_CHANCE = 1e-12
"""Chances this near are equal."""
EQUAL_COST = 1e-7
"""Costs this near are equal: they run to millions, where doubles hold some nine places less."""
BLOCK = 64
"""Labels of one state that are compared with one another at once; more are gone through block by block."""
MOST_LABELS = 1200
"""Labels kept of one state; past that those go that take the most money."""
CROWD = 40
"""Labels of one state from which on not every one is kept that only saves money for a sliver of chance, but ..."""
MOST_SAVINGS = 10
"""... so many that save most for it."""


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


def profit(sale_gain_minor: int, hour_worth_minor: int) -> Goal:
    """The greatest ``sale_gain * chance - net cost - hour_worth * hours``."""
    return Goal(None, sale_gain_minor, 1.0, hour_worth_minor)


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
        """Those at these places."""
        return Labels(*(getattr(self, f.name)[places] for f in fields(self)))

    @classmethod
    def joined(cls, parts: Sequence[Labels]) -> Labels:
        """All of these in turn."""
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


class Kept(NamedTuple):
    """What is worth keeping: places in the order of their nodes; whether chance, or only cost, was lost by a limit."""

    places: Ints
    cut: bool
    cost_cut: bool


def kept(labels: Labels, node: Ints, goal: Goal, toll: Toll, *, timed: bool, most: int = MOST_LABELS) -> Kept:
    """The labels that no other of their node beats whatever else is done, by node, the cheapest first.

    Another beats one that is no surer nor cheaper and takes no less, even if what the other shares beyond it is paid in
    full; or that it is surer than by more than the goal's loss. Past ``most`` a node keeps the surest.
    """
    cost = goal.cost(labels)
    worst = labels.worst if timed else np.zeros_like(labels.worst)
    chance = labels.chance if goal.loss is not None else np.zeros_like(labels.chance)
    loss, short = goal.loss or 0.0, _short_of_its_like(labels, node, cost if goal.loss is None else -chance, worst)
    near = np.flatnonzero(short <= (EQUAL_COST if goal.loss is None else loss + EQUAL_CHANCE))
    shared = np.unpackbits(labels.marks[near].view(np.uint8), axis=1).sum(1, dtype=np.int64)
    chances, costs = np.round(chance[near], 13), np.round(cost[near], 7)
    ties = (labels.steps[near], labels.minutes[near], shared)
    order = near[np.lexsort((*ties, costs, -chances, worst[near], labels.cash[near], node[near]))]
    marks = [word for place, word in enumerate(labels.marks.T.copy()) if not place or word.any()]
    rivals = _Rivals(labels.cash, worst, chance, cost, marks, loss, toll, timed, short)
    order = order[_unbeaten(rivals, order, node[order])]
    counts = np.bincount(node[order]) if len(order) else np.zeros(0, dtype=np.int64)
    if not (counts > min(most, CROWD if goal.loss else most)).any():
        return Kept(order, cut=False, cost_cut=False)
    return _cut_short(rivals, order, node, most)


def _short_of_its_like(labels: Labels, node: Ints, value: Floats, worst: Ints) -> Floats:
    """By how much another label of the same node, marks and minutes is better in ``value`` (less is) for no more cash.

    A sweep over the cash finds most of what is beaten without holding each label against each.
    """
    count = len(labels)
    by_value = np.argsort(value, kind="stable")
    rank = np.empty(count, dtype=np.int64)
    rank[by_value] = np.arange(count)
    like = (worst, *labels.marks.T, node)
    order = np.lexsort((rank, labels.cash, *like))
    new = np.ones(count, dtype=np.bool_)
    new[1:] = np.any([key[order][1:] != key[order][:-1] for key in like], axis=0)
    group = np.cumsum(new)
    best = np.minimum.accumulate(rank[order] - group * count) + group * count
    short = np.empty(count)
    short[order] = value[order] - value[by_value[best]]
    return short


def overtaken(labels: Labels, node: Ints, goal: Goal, *, timed: bool) -> Ints:
    """The cash from which on another label of the node is surer or cheaper and otherwise no worse (``NEVER``: none).

    Where a dearer branch sets the cash of a check anyway, that other label is the better one to go with it.
    ``labels`` are in the order of their nodes.
    """
    until, cost = np.full(len(labels), NEVER, dtype=np.int64), goal.cost(labels)
    chance = labels.chance if goal.loss is not None else np.zeros_like(cost)
    for place, there in _squares(*_runs_of(node)):
        one, by = place[:, None, :], place[:, :, None]
        gain, more = chance[by] - chance[one], cost[by] - cost[one]
        better = (gain >= -EQUAL_CHANCE) & (more <= EQUAL_COST) & ((gain > EQUAL_CHANCE) | (more < -EQUAL_COST))
        better |= gain > (goal.loss or 0.0) + EQUAL_CHANCE
        better &= (labels.cash[by] > labels.cash[one]) & there[:, :, None]
        if timed:
            better &= labels.worst[by] <= labels.worst[one]
        for marks in labels.marks.T:
            better &= (marks[by] & ~marks[one]) == 0
        until[place[there]] = np.where(better, labels.cash[by], NEVER).min(1)[there]
    return until


def _runs_of(node: Ints) -> tuple[Ints, Ints]:
    """Where each run of equal numbers begins, and how long it is."""
    starts = np.flatnonzero(np.concatenate([[True], node[1:] != node[:-1]])) if len(node) else np.zeros(0, np.int64)
    return starts, np.diff(np.append(starts, len(node)))


def _squares(starts: Ints, sizes: Ints) -> Iterator[tuple[Ints, Bools]]:
    """The places of runs of about the same length side by side, one run a row, and which of them there are."""
    low = 1
    while len(sizes) and low < sizes.max():
        low *= 2
        some = np.flatnonzero((sizes > low // 2) & (sizes <= low))
        most = max(1, 2_000_000 // (low * low))
        for begin in range(0, len(some), most):
            first, size = starts[some[begin : begin + most], None], sizes[some[begin : begin + most], None]
            there = np.arange(low) < size
            yield np.where(there, first + np.arange(low), first), there


def _cut_short(rivals: _Rivals, order: Ints, node: Ints, most: int) -> Kept:
    """Of nodes with many labels the surest for their cash, and a few that save most; in the end the cheapest."""
    counts = np.bincount(node[order])
    many = counts[node[order]] > CROWD
    cost_cut = rivals.loss > 0 and bool(many.any())
    if cost_cut:
        crowd = order[many]
        sure = np.zeros(len(crowd), dtype=np.bool_)
        sure[_unbeaten(rivals._replace(loss=0.0), crowd, node[crowd])] = True
        few = _first_of_each(node, _most_saving(rivals, crowd[~sure], node), MOST_SAVINGS)
        order = np.concatenate([order[~many], crowd[sure], few])
        order = order[np.lexsort((rivals.cost[order], -rivals.chance[order], rivals.cash[order], node[order]))]
    kept = _first_of_each(node, order, most)
    return Kept(kept, cut=len(kept) < len(order), cost_cut=cost_cut)


def _most_saving(rivals: _Rivals, places: Ints, node: Ints) -> Ints:
    """By node, those first that save most for their chance."""
    return places[np.lexsort((_saving(rivals, places, node[places]), node[places]))] if len(places) else places


def _saving(rivals: _Rivals, places: Ints, node: Ints | None = None) -> Floats:
    """What each costs, less its chance where all of the loss is worth what the costs of its node are apart."""
    here = np.zeros(len(places), dtype=np.int64) if node is None else node
    low, high = (np.full(here.max(initial=-1) + 1, edge) for edge in (np.inf, -np.inf))
    np.minimum.at(low, here, rivals.cost[places])
    np.maximum.at(high, here, rivals.cost[places])
    out: Floats = rivals.cost[places] - (high - low)[here] / rivals.loss * rivals.chance[places]
    return out


def _first_of_each(node: Ints, order: Ints, most: int) -> Ints:
    """No more than so many of each node, the first ones."""
    here = node[order]
    return order[np.arange(len(order)) - np.searchsorted(here, here) < most]


class _Rivals(NamedTuple):
    """What labels are compared by."""

    cash: Ints
    worst: Ints
    chance: Floats
    cost: Floats
    marks: Sequence[npt.NDArray[np.uint64]]
    loss: float
    toll: Toll
    timed: bool
    short: Floats
    """How far each is short of the best of its like: see ``_short_of_its_like``."""

    def beaten(self, by: Ints, one: Ints, *, earlier: Bools) -> Bools:
        """Whether each of ``one`` is beaten by each of ``by`` (they broadcast); of equals the earlier stays."""
        cash, chance = self.cash[by] - self.cash[one], self.chance[by] - self.chance[one]
        cost, better = self.cost[by] - self.cost[one], earlier | (chance > EQUAL_CHANCE)
        able: Bools = np.ones(1, dtype=np.bool_)
        worst = self.worst[by] - self.worst[one] if self.timed else None
        for word, marks in enumerate(self.marks):
            theirs, own = marks[by], marks[one]
            more = theirs & ~own
            better = better | ((more == 0) & (theirs != own))
            if word == 0 and self.toll.bits:
                paid = (more & np.uint64(2**self.toll.bits - 1)).astype(np.int64)
                cash, cost, more = (
                    cash + self.toll.cash[paid],
                    cost + self.toll.cost[paid],
                    more >> np.uint64(self.toll.bits),
                )
                worst = None if worst is None else worst + self.toll.worst[paid]
            able = able & (more == 0)
        able, better = able & (cash <= 0), better | (cash < 0) | (cost < -EQUAL_COST)
        if worst is not None:
            able, better = able & (worst <= 0), better | (worst < 0)
        as_good = (chance >= -EQUAL_CHANCE) & (cost <= EQUAL_COST) & better
        out: Bools = able & (as_good | (chance > self.loss + EQUAL_CHANCE))
        return out


def _unbeaten(rivals: _Rivals, order: Ints, node: Ints) -> Ints:
    """The places in ``order`` (sorted by node, then cash) of the labels that none of their node beats."""
    starts, sizes = _runs_of(node)
    good = np.ones(len(order), dtype=np.bool_)
    few = sizes <= BLOCK
    for place, there in _squares(starts[few], sizes[few]):
        good[place[there]] = ~_beaten_there(rivals, order[place], there)[there]
    for start, size in zip(starts[sizes > BLOCK].tolist(), sizes[sizes > BLOCK].tolist(), strict=True):
        good[start : start + size] = False
        good[_compare_in_turn(rivals, order, start, size)] = True
    return np.flatnonzero(good)


def _beaten_there(rivals: _Rivals, labels: Ints, there: Bools) -> Bools:
    """Which labels of each row another of the row beats."""
    within = np.arange(labels.shape[1])
    earlier = within[:, None] < within[None, :]
    beaten = rivals.beaten(labels[:, :, None], labels[:, None, :], earlier=earlier[None])
    out: Bools = (beaten & there[:, :, None] & (within[:, None] != within[None, :])[None]).any(1)
    return out


def _compare_in_turn(rivals: _Rivals, order: Ints, start: int, size: int) -> Ints:
    """Those of one node of many labels that are worth keeping, or more of them than are kept of a crowd.

    Whatever a label beats by being surer by more than the loss, one of the surest for their cash beats as well. Among
    the rest only a surer and cheaper one beats another, so it comes before it by what it saves for its chance.
    """
    places = np.arange(start, start + size)
    if not rivals.loss:
        return _front(rivals, order, places)
    like = rivals.short[order[places]] <= EQUAL_CHANCE
    sure = _front(rivals._replace(loss=0.0), order, places[like])
    rest = np.setdiff1d(places, sure, assume_unique=True)
    ranked = rest[np.argsort(_saving(rivals, order[rest]), kind="stable")]
    return _front(rivals, order, ranked, max(CROWD + 1 - len(sure), MOST_SAVINGS), sure)


def _not_beaten_by(rivals: _Rivals, order: Ints, best: Ints, places: Ints) -> Ints:
    """Those of the places that none of the best beats."""
    at_once = max(1, 1_000_000 // max(1, len(best)))
    left = []
    for low in range(0, len(places), at_once):
        some = places[low : low + at_once]
        earlier = best[:, None] < some[None, :]
        left.append(some[~rivals.beaten(order[best][:, None], order[some][None, :], earlier=earlier).any(0)])
    return np.concatenate([places[:0], *left])


def _front(rivals: _Rivals, order: Ints, places: Ints, enough: int = NEVER, known: Ints | None = None) -> Ints:
    """Those that are ``known`` and those of the places of one node that no other beats, or ``enough`` of these.

    None of the places beats a known one or one in a block before.
    """
    front = places[:0] if known is None else known
    enough += len(front)
    for low in range(0, len(places), BLOCK):
        block = places[low : low + BLOCK]
        if len(front):
            block = _not_beaten_by(rivals, order, front, block)
        front = np.concatenate([front, _not_beaten_by(rivals, order, block, block)])
        if len(front) >= enough:
            break
    return front
