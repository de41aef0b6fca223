"""The recursion over one fault: in every state all ways to go on that are worth keeping, at whatever they take.

It is that of decision-theoretic troubleshooting (Heckerman, Breese and Rommelse 1995, section 2) with the worst-case
cost of a policy as a limit instead of a price on everything.

Dynamic programming over sets of actions done, largest first; a node is one combination of results seen with such a set.
All nodes of as many actions are reckoned at once. What is kept of a node are ``labels``: a route is one of the start.

What follows the first attempt that buys or waits does not hang on how that attempt was paid for. So the sets with such
an attempt in them are reckoned once (``Sweep``), and those of leading steps alone (checks, and attempts that buy
nothing and wait for nothing) as often as first attempts are paid for otherwise (``Opening``).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np

from optimiser.diagnosis.case import MOST_AHEAD, Case, CaseLayout, Cost
from optimiser.diagnosis.dominance import MOST_LABELS, kept, overtaken
from optimiser.diagnosis.labels import (
    EQUAL_CHANCE,
    FIXES,
    SUREST,
    Bools,
    Floats,
    Goal,
    Ints,
    Labels,
    Pool,
    Runs,
    Toll,
    beside,
)
from optimiser.diagnosis.limits import CutShortError, Over, TimeOverError, TooMuchError, never

Rank = Callable[[Floats], Floats]

MOST_MOVES = 30_000
"""So many pairs of a set of actions and one more action are searched at most (a few seconds), and ..."""
MOST_STATES = 400_000
"""... so many states; past either fewer attempts are searched."""
MOST_MADE = 3_000_000
"""Labels that one search makes of branches side by side at the most: some five seconds."""
MOST_MADE_WHOLE, MORE_WHOLE = 2 * MOST_MADE, 4
"""... and one that is of use only as a whole: it is another's, with more to choose from, so it may make twice as many,
go so many times as far in all else, and breaks off early where that is not enough."""
MOST_MADE_TIMED, MORE_TIMED = 2 * MOST_MADE, 4
"""... and where the hours matter: minutes tell apart what is alike without them. With four times as many kept of a
state fewer are made than to bound what the rest could be."""
MOST_AT_ONCE = 400_000
"""Labels that are compared at once: some ten megabytes a column."""


class Action(NamedTuple):
    """An action with its cost, and the set of actions that are done then."""

    action: int
    cost: Cost
    to: int


class Sweep:
    """All sets of actions that can be reached, and the labels of each; past a size fewer attempts are searched.

    ``narrowed`` says that the case closes fallbacks only to stay within the size: what they could add is missing too.
    ``needs_minor`` is the cash with which nothing was too dear. ``whole`` searches break off with ``CutShortError``
    where a limit is met, any with ``TooMuchError`` past ``MOST_MADE`` and with ``TimeOverError`` once it is ``over``.
    """

    def __init__(
        self,
        case: Case,
        goal: Goal = FIXES,
        most_moves: int = MOST_MOVES,
        *,
        narrowed: bool = False,
        whole: bool = False,
        over: Over = never,
    ) -> None:
        self.layout, self.goal, self.whole, self._over = CaseLayout(case), goal, whole, over
        self.timed, self.made = case.minutes is not None, 0
        self.needs_minor, self._cash_minor = 0, _no_limit(case.cash_minor)
        more = MORE_WHOLE if whole else 1
        self._most_moves, self._most_states = more * most_moves, more * MOST_STATES
        labels, made = (MORE_TIMED, MOST_MADE_TIMED) if self.timed else (1, MOST_MADE)
        self.most_labels = max(more, labels) * MOST_LABELS
        self._most_made = MOST_MADE_WHOLE if whole else made
        self._weights: dict[int, Floats] = {}
        self.moves: dict[int, list[Action]] = {}
        self.left: dict[int, tuple[int, int]] = {0: (self._cash_minor, _no_limit(case.minutes))}
        self.layers, uncut = self._reach()
        self.narrowed = narrowed
        self.exact = uncut and not narrowed
        if whole and not self.exact:
            raise CutShortError

    @cached_property
    def later(self) -> Tables:
        """The labels of every set with a first attempt in it, where no more is tried past the cut."""
        return self._solved(self.goal, beyond=False)

    @cached_property
    def later_at_most(self) -> Tables:
        """As ``later``, but past the cut everything is tried at no cost: nothing is better than this."""
        return self._solved(self._hopeful, beyond=True)

    @property
    def _hopeful(self) -> Goal:
        """What the ceiling is of: the chance, for aim profit the profit."""
        return SUREST if self.goal.loss is not None else self.goal

    def work(self, labels: int) -> None:
        """Note that so many labels are made; raise ``TooMuchError`` where it is too much in all."""
        self.made += labels
        if self.made > self._most_made:
            raise TooMuchError

    def expect(self, labels: int) -> None:
        """Raise ``CutShortError`` where so many more labels are too much for a search of use only as a whole."""
        if self.whole and self.made + labels > self._most_made:
            raise CutShortError

    def asked(self, cash_minor: int) -> None:
        """Note that something would take so much cash from the start on."""
        self.needs_minor = max(self.needs_minor, cash_minor)

    def beyond(self, cash: Ints, left: Ints) -> Bools:
        """Which of these amounts are more than is left; what they take from the start on is noted."""
        if len(cash):
            self.asked(self._cash_minor + int((cash - left).max()))
        return cash > left

    def go_on(self) -> None:
        """Raise ``TimeOverError`` where there is no time left."""
        if self._over():
            raise TimeOverError

    def weight(self, done: int) -> Floats:
        """The chance of each state of a set, kept because every set above asks for it."""
        if done not in self._weights:
            self._weights[done] = self.layout.weight(done)
        return self._weights[done]

    def _reach(self) -> tuple[list[list[int]], bool]:
        """The sets that can be reached, by their number of attempts that buy or wait; whether nothing was cut.

        The first such attempt is always searched; a later one only while the whole stays within the size.
        """
        layers: list[list[int]] = []
        start, moves, states = [0], 0, 0
        while start:
            layer = self._with_leading(start, self._most_moves - moves if layers else None, whole=len(layers) == 1)
            moves += sum(len(self.moves[done]) for done in layer)
            states += sum(self.layout.states(done) for done in layer)
            if len(layers) > 1 and (moves > self._most_moves or states > self._most_states):
                for done in layers[-1]:
                    self.moves[done] = [m for m in self.moves[done] if self.layout.leads(m.action)]
                return layers, False
            layers.append(layer)
            tried = (m.to for done in layer for m in self.moves[done] if not self.layout.leads(m.action))
            start = list(dict.fromkeys(tried))
        return layers, True

    def _with_leading(self, start: Sequence[int], room: int | None, *, whole: bool) -> list[int]:
        """These sets and those that leading steps make of them, fewest actions first: each is known from all its sides.

        Breaks off once there are more moves than there is ``room`` for; where ``whole``, only leading steps are looked
        for from then on, if anything else can be done at all: the attempts of this layer will be cut.
        """
        by_size: dict[int, dict[int, None]] = defaultdict(dict)
        for done in start:
            by_size[done.bit_count()][done] = None
        layer: list[int] = []
        goes_on = cut = False
        for size in range(self.layout.n_actions + 1):
            for done in by_size[size]:
                self.go_on()
                layer.append(done)
                self.moves[done] = self.affordable(done, self._open_moves(done, only_leading=cut))
                room = None if room is None else room - len(self.moves[done])
                goes_on = goes_on or not all(self.layout.leads(m.action) for m in self.moves[done])
                if room is not None and room < 0:
                    if not whole:
                        return layer
                    cut = goes_on
                    if cut:
                        self.asked(_no_limit(None))  # nobody knows what would be taken by what is not looked at
                by_size[size + 1] |= {m.to: None for m in self.moves[done] if self.layout.leads(m.action)}
        return layer

    def _open_moves(self, done: int, *, only_leading: bool) -> Iterable[Action]:
        for action in self.layout.actions(done):
            if only_leading and not self.layout.leads(action):
                continue
            for cost in self.layout.costs(done, action):
                yield Action(action, cost, done | 1 << action)

    def affordable(self, done: int, moves: Iterable[Action]) -> list[Action]:
        """Those of the moves that can be paid for by what the cheapest way here leaves; what they leave is noted."""
        cash, minutes = self.left[done]
        within = []
        for move in moves:
            left = (cash - move.cost.cash_minor, minutes - move.cost.minutes * self.timed)
            self.asked(self._cash_minor - left[0])
            if min(left) >= 0:
                before = self.left.get(move.to, (-1, -1))
                self.left[move.to] = (max(left[0], before[0]), max(left[1], before[1]))
                within.append(move)
        return within

    def _solved(self, goal: Goal, *, beyond: bool) -> Tables:
        tables = Tables(self, goal, hopeful=beyond)
        depth_of = {done: depth for depth, layer in enumerate(self.layers) for done in layer if depth}
        by_size: dict[int, list[int]] = defaultdict(list)
        for done in depth_of:
            by_size[done.bit_count()].append(done)
        last = len(self.layers) - 1
        cut = {done for done, depth in depth_of.items() if self.narrowed or (depth == last and not self.exact)}
        for size in sorted(by_size, reverse=True):
            tables.solve(by_size[size], self.moves, hope=cut if beyond else set())
        return tables


@dataclass
class _Nodes:
    """The states of some sets, numbered through, with their chance and what is left there at the most."""

    start: dict[int, int]
    weight: Floats
    cash: Ints
    minutes: Ints


class Tables:
    """The labels of all nodes reckoned so far. ``cut``: chance was lost by a limit; ``cost_cut``: only savings were.

    ``hopeful`` tables are a ceiling: no way to go on is better than their best.
    """

    def __init__(self, sweep: Sweep, goal: Goal, *, hopeful: bool) -> None:
        self.sweep, self.goal, self.hopeful = sweep, goal, hopeful
        self.toll = Toll.of(sweep.layout.case.tolls, goal)
        self.branch_toll = self.toll.below_a_check(timed=sweep.timed)
        self.pool = Pool(sweep.layout.words, max([2, *map(len, sweep.layout.results)]))
        self.runs: dict[int, Runs] = {}
        self.moves: list[Action] = []
        self.cut = self.cost_cut = False

    def opened(self) -> Tables:
        """The same labels, to reckon further sets from; those share the pool and nothing else."""
        more = Tables.__new__(Tables)
        more.__dict__ |= self.__dict__ | {"runs": dict(self.runs)}
        return more

    def solve(
        self,
        sets: Sequence[int],
        moves: Mapping[int, Sequence[Action]],
        hope: Collection[int],
        *,
        may_stop: bool = True,
        rank: Rank | None = None,
    ) -> None:
        """Reckon sets of as many actions each; what their moves lead to is known. In ``hope`` stopping cures all."""
        if self.sweep.whole:
            self.sweep.expect(sum(self._labels_made(done, move) for done in sets for move in moves[done]))
        for some in self._at_once(sets, moves):
            self._solve(some, moves, hope, may_stop=may_stop, rank=rank)

    def _at_once(self, sets: Sequence[int], moves: Mapping[int, Sequence[Action]]) -> Iterator[list[int]]:
        """The sets in turn, as many at a time as make so many labels, and one at least."""
        some, size = list[int](), 0
        for done in sets:
            more = sum(self._labels_made(done, move) for move in moves[done])
            if some and size + more > MOST_AT_ONCE:
                yield some
                some, size = [], 0
            some.append(done)
            size += more
        yield some

    def _labels_made(self, done: int, move: Action) -> int:
        """About how many labels a move makes: of a third result and more few are left to go with."""
        count = self.runs[move.to].count
        if move.action >= self.sweep.layout.n_checks:
            return int(count.sum())
        after = [count[places] for places in self.sweep.layout.after_check(done, move.action)]
        return int(np.prod(np.sort(after, axis=0)[-2:], axis=0).sum())

    def _solve(
        self,
        sets: Sequence[int],
        moves: Mapping[int, Sequence[Action]],
        hope: Collection[int],
        *,
        may_stop: bool,
        rank: Rank | None,
    ) -> None:
        nodes = self._nodes(sets)
        found = [self._stops(nodes, hope, may_stop=may_stop)]
        for some in self._by_results(sets, moves, nodes).values():
            found += self._followed(some, nodes)
        labels, node = Labels.joined([some for some, _ in found]), np.concatenate([at for _, at in found])
        checked = np.concatenate(
            [np.full(len(self.sweep.weight(s)), bool(self.sweep.layout.split(s)[0])) for s in sets]
        )
        labels, node = self._kept(labels, node, checked) if rank is None else self._ranked(labels, node, rank)
        if rank is None:
            beside_others = np.flatnonzero(checked[node])
            until = overtaken(labels.take(beside_others), node[beside_others], self.goal, timed=self.sweep.timed)
            labels.until[beside_others] = until
        first = self.pool.add(labels)
        begins = np.searchsorted(node, np.arange(len(nodes.weight) + 1))
        for done in sets:
            low = nodes.start[done]
            high = low + len(self.sweep.weight(done))
            self.runs[done] = Runs(first + begins[low:high], np.diff(begins[low : high + 1]))

    def _nodes(self, sets: Sequence[int]) -> _Nodes:
        weights = [self.sweep.weight(done) for done in sets]
        sizes = [len(weight) for weight in weights]
        starts = np.cumsum([0, *sizes[:-1]]).tolist()
        left = np.repeat(np.array([self.sweep.left[done] for done in sets], dtype=np.int64), sizes, axis=0)
        return _Nodes(dict(zip(sets, starts, strict=True)), np.concatenate(weights), left[:, 0], left[:, 1])

    def _stops(self, nodes: _Nodes, hope: Collection[int], *, may_stop: bool) -> tuple[Labels, Ints]:
        """Doing nothing more, wherever that may be; a state that cannot come up has nothing else."""
        where = np.arange(len(nodes.weight)) if may_stop else np.flatnonzero(nodes.weight <= 0)
        stops = Labels.blank(len(where), self.pool.words, self.pool.results)
        for done in hope if may_stop else ():
            if done in nodes.start:
                weight, low = self.sweep.weight(done), nodes.start[done]
                stops.chance[low : low + len(weight)] = weight - self.sweep.layout.weight_if_all_fail(done)
        return stops, where

    def _by_results(
        self, sets: Sequence[int], moves: Mapping[int, Sequence[Action]], nodes: _Nodes
    ) -> dict[int, list[_Step]]:
        """The moves with the nodes they are made from, by their number of results: an attempt goes on from one."""
        layout = self.sweep.layout
        grouped: dict[int, list[_Step]] = defaultdict(list)
        for done in sets:
            weight = self.sweep.weight(done)
            here = nodes.start[done] + np.arange(len(weight))
            for move in moves[done]:
                number, below = len(self.moves), self.runs[move.to]
                self.moves.append(move)
                if move.action < layout.n_checks:
                    after = [Runs(below.first[r], below.count[r]) for r in layout.after_check(done, move.action)]
                    grouped[len(after)].append(_Step.of(number, here, weight, after))
                else:
                    failed = self.sweep.weight(move.to)
                    able = weight - failed > EQUAL_CHANCE * weight  # what cannot cure is no attempt
                    then = Runs(below.first[able], below.count[able])
                    grouped[1].append(_Step.of(number, here[able], failed[able], [then]))
        return grouped

    def _followed(self, some: Sequence[_Step], nodes: _Nodes) -> Iterator[tuple[Labels, Ints]]:
        """The labels of these moves, all with as many results: as many moves at a time as fit."""
        batch, size = list[_Step](), 0
        for piece in (piece for step in some for piece in step.pieces(MOST_AT_ONCE)):
            if batch and size + piece.pairs > MOST_AT_ONCE:
                yield self._batch(batch, nodes)
                batch, size = [], 0
            batch.append(piece)
            size += piece.pairs
        if batch:
            yield self._batch(batch, nodes)

    def _batch(self, some: Sequence[_Step], nodes: _Nodes) -> tuple[Labels, Ints]:
        self.sweep.go_on()
        move = np.concatenate([np.full(len(step.here), step.move) for step in some])
        node, failed = (np.concatenate([step[field] for step in some]) for field in (1, 2))
        live = nodes.weight[node] > 0
        runs = [
            Runs(
                np.concatenate([step.after[r].first for step in some])[live],
                np.concatenate([step.after[r].count for step in some])[live],
            )
            for r in range(len(some[0].after))
        ]
        labels, place = self._combined(runs)
        return self._with_moves(labels, move[live][place], node[live][place], failed[live][place], nodes)

    def _combined(self, runs: Sequence[Runs]) -> tuple[Labels, Ints]:
        """One label of each run beside it with each other, branch by branch; what is beaten goes in between."""
        numbers, place = runs[0].numbers()
        labels = self.pool.all.take(numbers)
        labels.then = np.full_like(labels.then, -1)
        labels.then[:, 0] = numbers
        for branch, other in enumerate(runs[1:], start=1):
            if branch > 1:
                labels, place = self._kept(labels, place, np.ones(len(other.first), dtype=np.bool_))
            begins = np.searchsorted(place, np.arange(len(other.first) + 1))
            here, there, place = Runs(begins[:-1], np.diff(begins)).pairs(other)
            self.sweep.work(len(here))
            of = self.pool.all
            useful = (labels.cash[here] < of.until[there]) & (of.cash[there] < labels.until[here])
            here, there, place = here[useful], there[useful], place[useful]
            labels = beside(labels.take(here), self.pool.all.take(there), branch, there)
        return labels, place

    def _kept(self, labels: Labels, node: Ints, checked: Bools) -> tuple[Labels, Ints]:
        """What is worth keeping of each node; ``checked`` says by node whether a check was made on the way to it."""
        self.sweep.go_on()
        labels, node = self._few_ahead(labels, node)
        below, most = checked[node], self.sweep.most_labels
        while True:
            found = [
                (some, kept(labels.take(some), node[some], self.goal, toll, timed=self.sweep.timed, most=most))
                for some, toll in ((np.flatnonzero(~below), self.toll), (np.flatnonzero(below), self.branch_toll))
                if len(some)
            ]
            if not self.hopeful or not any(keep.cut for _, keep in found):
                break
            # a ceiling may take sharing for free, but not leave anything out
            labels, most = replace(labels, marks=np.zeros_like(labels.marks)), len(labels)
        self._note_cut(any(keep.cut for _, keep in found))
        self.cost_cut |= any(keep.cost_cut for _, keep in found)
        places = np.concatenate([below.nonzero()[0][:0], *(some[keep.places] for some, keep in found)])
        places = places[np.argsort(node[places], kind="stable")]
        return labels.take(places), node[places]

    def _ranked(self, labels: Labels, node: Ints, rank: Rank) -> tuple[Labels, Ints]:
        """Whole routes: their chance is what it counts for, and each first step keeps its own."""
        labels, node = self._few_ahead(labels, node)
        goal = self.goal
        counting = replace(labels, chance=rank(labels.chance), net=labels.net - goal.gain * labels.chance)
        first = np.array([-1, *(move.action for move in self.moves)])[labels.move + 1] + 1
        how = (goal._replace(loss=0.0, gain=0.0), self.toll)
        keep = kept(counting, first, *how, timed=self.sweep.timed, most=self.sweep.most_labels)
        self._note_cut(keep.cut)
        places = np.sort(keep.places)
        return labels.take(places), node[places]

    def _note_cut(self, cut: bool) -> None:
        self.cut |= cut
        if cut and self.sweep.whole:
            raise CutShortError

    def _few_ahead(self, labels: Labels, node: Ints) -> tuple[Labels, Ints]:
        """The labels that buy no more ahead than they may."""
        ahead = labels.marks & self.sweep.layout.bought_ahead
        if not ahead.any():
            return labels, node
        few: Bools = np.bitwise_count(ahead).sum(1) <= MOST_AHEAD
        return labels.take(few), node[few]

    def _with_moves(self, labels: Labels, move: Ints, node: Ints, failed: Floats, nodes: _Nodes) -> tuple[Labels, Ints]:
        """What follows, with the move itself before it; only what can be paid for."""
        used, at = np.unique(move, return_inverse=True)
        costs = [self.moves[number].cost for number in used.tolist()]
        cash, net, back, minutes = np.array([cost[:4] for cost in costs], dtype=np.int64).reshape(-1, 4)[at].T
        weight = nodes.weight[node]
        labels.cash = labels.cash + cash
        labels.worst = labels.worst + minutes
        labels.chance = labels.chance + (weight - failed)
        labels.net = labels.net + net * weight - back * failed
        labels.minutes = labels.minutes + minutes * weight
        labels.steps = labels.steps + weight
        marks = self.sweep.layout.in_words([cost.marks for cost in costs])[at]
        twice = (labels.marks & marks & self.sweep.layout.once).any(1)
        labels.marks = labels.marks | marks
        labels.move = move
        fits = ~(twice | self.sweep.beyond(labels.cash, nodes.cash[node]))
        if self.sweep.timed:
            fits &= labels.worst <= nodes.minutes[node]
        return labels.take(fits), node[fits]


class _Step(NamedTuple):
    """A move from the states of one set: nodes, the chance of each that it leaves uncured, what follows its results.

    The chance is that of the node itself for a check. ``pairs`` is how many labels it makes at the most.
    """

    move: int
    here: Ints
    failed: Floats
    after: list[Runs]
    pairs: int

    @classmethod
    def of(cls, move: int, here: Ints, failed: Floats, after: list[Runs]) -> _Step:
        """The move with its labels counted."""
        return cls(move, here, failed, after, int(_labels_by_state(after).sum()))

    def pieces(self, most: int) -> Iterator[_Step]:
        """The same in parts of about so many labels: of some of the states each, of one at least."""
        if self.pairs <= most:
            yield self
            return
        labels = np.cumsum(_labels_by_state(self.after))
        for here in np.split(np.arange(len(self.here)), np.flatnonzero(np.diff(labels // most)) + 1):
            after = [Runs(runs.first[here], runs.count[here]) for runs in self.after]
            yield _Step.of(self.move, self.here[here], self.failed[here], after)


def _labels_by_state(after: Sequence[Runs]) -> Floats:
    """How many labels each state makes at the most: one of each run beside one of each other."""
    made = after[0].count.astype(np.float64)
    for runs in after[1:]:
        made *= runs.count
    return made


def _no_limit(amount: int | None) -> int:
    return 2**53 if amount is None else max(amount, 0)
