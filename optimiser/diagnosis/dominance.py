"""Which labels of a state are worth keeping: each held against the others, few of them pair by pair."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from optimiser.diagnosis.labels import (
    EQUAL_CHANCE,
    EQUAL_COST,
    EVERY_MARK,
    NEVER,
    Bools,
    Floats,
    Goal,
    Ints,
    Labels,
    Toll,
)

BLOCK = 64
"""Labels of one state that are compared with one another at once; more are gone through block by block."""
MOST_LABELS = 1200
"""Labels kept of one state; past that those go that take the most money."""
CROWD = 40
"""Labels of one state from which on not every one is kept that only saves money for a sliver of chance, but ..."""
MOST_SAVINGS = 10
"""... so many that save most for it."""


class KeptLabels(NamedTuple):
    """What is worth keeping: places in the order of their nodes; whether chance, or only cost, was lost by a limit."""

    places: Ints
    cut: bool
    cost_cut: bool


def kept(labels: Labels, node: Ints, goal: Goal, toll: Toll, *, timed: bool, most: int = MOST_LABELS) -> KeptLabels:
    """The labels that no other of their node beats whatever else is done, by node, the cheapest first.

    Another beats one that is no surer nor cheaper and takes no less, even if what the other shares beyond it is paid in
    full; or that it is surer than by more than the goal's loss. Past ``most`` a node keeps the surest.
    """
    rivals = _Rivals.of(labels, goal, toll, timed=timed)
    worst, chance, cost, loss = rivals.worst, rivals.chance, rivals.cost, rivals.loss
    short = _short_of_its_like(labels, node, cost if goal.loss is None else -chance, worst)
    near = np.flatnonzero(short <= (EQUAL_COST if goal.loss is None else loss + EQUAL_CHANCE))
    if goal.loss == 0.0:
        dear = _short_of_its_like(labels.take(near), node[near], cost[near], worst[near], chance[near])
        near = near[dear <= EQUAL_COST]
    shared = np.unpackbits(labels.marks[near].view(np.uint8), axis=1).sum(1, dtype=np.int64)
    chances, costs = np.round(chance[near], 13), np.round(cost[near], 7)
    ties = (labels.steps[near], labels.minutes[near], shared)
    order = near[np.lexsort((*ties, costs, -chances, worst[near], labels.cash[near], node[near]))]
    rivals = rivals._replace(short=short)
    order = order[_unbeaten(rivals, order, node[order])]
    counts = np.bincount(node[order]) if len(order) else np.zeros(0, dtype=np.int64)
    if not (counts > min(most, CROWD if goal.loss else most)).any():
        return KeptLabels(order, cut=False, cost_cut=False)
    return _cut_short(rivals, order, node, most)


def outdone(labels: Labels, node: Ints, goal: Goal, toll: Toll, margin: float, *, timed: bool) -> Bools:
    """Which labels another of their node leaves behind whatever else is done: it is surer, or cheaper by ``margin``.

    Unlike ``kept`` it is never one of two equals.
    """
    places = kept(labels, node, goal, toll, timed=timed, most=len(labels)).places
    rivals = _Rivals.of(labels, goal, toll, timed=timed)
    out = np.zeros(len(labels), dtype=np.bool_)
    for here in np.unique(node):
        ones, front = np.flatnonzero(node == here), places[node[places] == here]
        for low in range(0, len(ones), BLOCK):
            some = ones[low : low + BLOCK]
            out[some] = rivals.outdone(front[:, None], some[None, :], margin).any(0)
    return out


def _short_of_its_like(labels: Labels, node: Ints, value: Floats, worst: Ints, *alike: Floats) -> Floats:
    """By how much another label of the same node, marks and minutes is better in ``value`` (less is) for no more cash.

    Of the same in all that is ``alike``, too.

    A sweep over the cash finds most of what is beaten without holding each label against each.
    """
    count = len(labels)
    by_value = np.argsort(value, kind="stable")
    rank = np.empty(count, dtype=np.int64)
    rank[by_value] = np.arange(count)
    like = (*alike, worst, *labels.marks.T, node)
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
    until = np.full(len(labels), NEVER, dtype=np.int64)
    rivals = _Rivals.of(labels, goal, Toll.of((), goal), timed=timed)
    starts, sizes = _runs_of(node)
    few = sizes <= BLOCK
    for place, there in _squares(starts[few], sizes[few]):
        by = place[:, :, None]
        over = rivals.overtakes(by, place[:, None, :]) & there[:, :, None]
        until[place[there]] = np.where(over, labels.cash[by], NEVER).min(1)[there]
    for start, size in zip(starts[~few].tolist(), sizes[~few].tolist(), strict=True):
        places = start + np.argsort(labels.cash[start : start + size], kind="stable")
        left = places
        for low in range(0, size, BLOCK):
            by = places[low : low + BLOCK, None]
            until[left] = np.where(rivals.overtakes(by, left), labels.cash[by], NEVER).min(0)
            left = left[until[left] == NEVER]
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


def _cut_short(rivals: _Rivals, order: Ints, node: Ints, most: int) -> KeptLabels:
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
    return KeptLabels(kept, cut=len(kept) < len(order), cost_cut=cost_cut)


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
    unpaid: Sequence[np.uint64]
    """By word of the marks those that cannot be paid for."""
    short: Floats
    """How far each is short of the best of its like: see ``_short_of_its_like``."""

    @classmethod
    def of(cls, labels: Labels, goal: Goal, toll: Toll, *, timed: bool) -> _Rivals:
        """What counts of labels under a goal; none is short of anything yet."""
        nothing = np.zeros(len(labels))
        words = [place for place, word in enumerate(labels.marks.T) if not place or word.any()]
        return cls(
            cash=labels.cash,
            worst=labels.worst if timed else np.zeros_like(labels.worst),
            chance=labels.chance if goal.loss is not None else nothing,
            cost=goal.cost(labels),
            marks=[labels.marks[:, word].copy() for word in words],
            unpaid=[toll.unpaid if word == 0 else EVERY_MARK for word in words],
            loss=goal.loss or 0.0,
            toll=toll,
            timed=timed,
            short=nothing,
        )

    def beaten(self, order: Ints, by: Ints, one: Ints) -> Bools:
        """Whether each of ``by`` (a column) beats each of ``one`` (a row), both places in the order.

        Of equals the earlier stays.
        """
        out = self._may_beat(order[by], order[one])
        *rows, i, j = out.nonzero()
        by, one = by[(*rows, i, 0)], one[(*rows, 0, j)]
        able, chance, cost, better = self._compared(order[by], order[one], by < one)
        as_good = (chance >= -EQUAL_CHANCE) & (cost <= EQUAL_COST) & better
        out[(*rows, i, j)] = able & (as_good | (chance > self.loss + EQUAL_CHANCE))
        return out

    def outdone(self, by: Ints, one: Ints, margin: float) -> Bools:
        """Whether each of ``one`` takes and shares no less than each of ``by``, and brings less or costs more."""
        able, chance, cost, _ = self._compared(by, one, np.zeros(1, dtype=np.bool_))
        out: Bools = able & ((chance > EQUAL_CHANCE) | ((chance >= -EQUAL_CHANCE) & (cost < -margin)))
        return out

    def overtakes(self, by: Ints, one: Ints) -> Bools:
        """Whether each of ``by`` costs more cash than each of ``one``, shares no more, and is surer or cheaper."""
        gain, more = self.chance[by] - self.chance[one], self.cost[by] - self.cost[one]
        out = (gain >= -EQUAL_CHANCE) & (more <= EQUAL_COST) & ((gain > EQUAL_CHANCE) | (more < -EQUAL_COST))
        out |= gain > self.loss + EQUAL_CHANCE
        out &= self.cash[by] > self.cash[one]
        if self.timed:
            out &= self.worst[by] <= self.worst[one]
        for marks in self.marks:
            out &= (marks[by] & ~marks[one]) == 0
        return out

    def _may_beat(self, by: Ints, one: Ints) -> Bools:
        """Which pairs are worth a closer look: without what sharing takes, which would only be in the way."""
        chance, cost, least = self.chance[one], self.cost[one], self.chance[by]
        may = (least >= chance - 2 * EQUAL_CHANCE) & (self.cost[by] <= cost + 2 * EQUAL_COST)
        may |= least > chance + self.loss
        may &= self.cash[by] <= self.cash[one]
        if self.timed:
            may &= self.worst[by] <= self.worst[one]
        for marks, unpaid in zip(self.marks, self.unpaid, strict=True):
            may &= (marks[by] & unpaid & ~marks[one]) == 0
        return may

    def _compared(self, by: Ints, one: Ints, earlier: Bools) -> tuple[Bools, Floats, Floats, Bools]:
        """Whether ``by`` takes no more of anything, its chance and cost less those of ``one``, whether it is better."""
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
        return able, chance, cost, better


def _unbeaten(rivals: _Rivals, order: Ints, node: Ints) -> Ints:
    """The places in ``order`` (sorted by node, then cash) of the labels that none of their node beats."""
    starts, sizes = _runs_of(node)
    good = np.ones(len(order), dtype=np.bool_)
    few = sizes <= BLOCK
    for place, there in _squares(starts[few], sizes[few]):
        good[place[there]] = ~_beaten_there(rivals, order, place, there)[there]
    for start, size in zip(starts[sizes > BLOCK].tolist(), sizes[sizes > BLOCK].tolist(), strict=True):
        good[start : start + size] = False
        good[_compare_in_turn(rivals, order, start, size)] = True
    return np.flatnonzero(good)


def _beaten_there(rivals: _Rivals, order: Ints, place: Ints, there: Bools) -> Bools:
    """Which labels of each row another of the row beats."""
    beaten = rivals.beaten(order, place[:, :, None], place[:, None, :])
    within = np.arange(place.shape[1])
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
        left.append(some[~rivals.beaten(order, best[:, None], some[None, :]).any(0)])
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
