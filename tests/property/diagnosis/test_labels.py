"""Labels worth keeping, against the plain definition pair by pair."""

from __future__ import annotations

import random
from collections import Counter
from itertools import product
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from optimiser.diagnosis.dominance import MOST_SAVINGS, kept, overtaken
from optimiser.diagnosis.labels import NEVER, Goal, Labels, Toll
from tests.effort import examples

some = examples(300)
TOLLS = [(3, 10), (1, 0)]
"""Of the marks 1 and 2; mark 4 has no price."""


class One(NamedTuple):
    node: int
    cash: int
    worst: int
    chance: float
    cost: int
    marks: int


def drawn(seed: int, most: int, nodes: int) -> list[One]:
    rng = random.Random(seed)
    count = rng.randint(1, most)
    wide = rng.choice([2, 4, 9])
    return [
        One(rng.randrange(nodes), rng.randrange(2 * wide), rng.choice([0, 0, 15]), rng.randrange(wide + 1) / 20,
            rng.randrange(2 * wide), rng.choice([0, 0, 1, 2, 3, 4, 5]))
        for _ in range(count)
    ]  # fmt: skip


def as_labels(ones: list[One]) -> Labels:
    labels = Labels.blank(len(ones), 1, 2)
    labels.cash[:], labels.worst[:] = [x.cash for x in ones], [x.worst for x in ones]
    labels.chance[:], labels.net[:] = [x.chance for x in ones], [x.cost for x in ones]
    labels.marks[:, 0] = [x.marks for x in ones]
    return labels


def beats(by: One, one: One, loss: float | None, *, timed: bool, equals: bool = False) -> bool:
    """Whether one is no surer nor cheaper, even where all that the other shares beyond it is paid in full."""
    more = by.marks & ~one.marks
    if by.node != one.node or more & 4:
        return False
    toll = [sum(TOLLS[bit][what] for bit in (0, 1) if more >> bit & 1) for what in (0, 1)]
    cash, worst, cost = by.cash + toll[0] - one.cash, by.worst + toll[1] - one.worst, by.cost + toll[0] - one.cost
    chance = by.chance - one.chance if loss is not None else 0.0
    if cash > 0 or (timed and worst > 0):
        return False
    if loss is not None and chance > loss + 1e-9:
        return True
    better = (
        equals or cash < 0 or cost < 0 or chance > 1e-9 or (timed and worst < 0) or (not more and by.marks != one.marks)
    )
    return chance > -1e-9 and cost <= 0 and better


def same(x: One, loss: float | None, *, timed: bool) -> tuple[object, ...]:
    """What tells labels apart that are as good as one another."""
    return (x.node, x.cash, x.worst if timed else 0, x.chance if loss is not None else 0, x.cost, x.marks)


def holds(ones: list[One], loss: float | None, *, timed: bool) -> None:
    node = np.array([x.node for x in ones])
    found = kept(as_labels(ones), node, Goal(loss), Toll.of(TOLLS, Goal(loss)), timed=timed)
    left = [ones[place] for place in found.places.tolist()]
    assert len({same(x, loss, timed=timed) for x in left}) == len(left)
    assert not any(beats(y, x, loss, timed=timed) for x in left for y in ones)
    if found.cost_cut:
        assert max(Counter(x.node for x in left).values()) >= MOST_SAVINGS
        loss = 0.0
    assert all(any(beats(y, x, loss, timed=timed, equals=True) for y in left) for x in ones)
    assert not found.cut
    assert [x.node for x in left] == sorted(x.node for x in left)


@some
@given(st.integers(0, 10**9), st.sampled_from([0.0, 0.1, None]), st.booleans())
def test_what_is_kept_is_what_no_other_beats_and_of_equals_one(seed: int, loss: float | None, timed: bool) -> None:
    holds(drawn(seed, 40, 4), loss, timed=timed)


@examples(40)
@given(st.integers(0, 10**9), st.sampled_from([0.0, 0.1, None]), st.booleans())
def test_what_is_kept_of_many_is_the_same(seed: int, loss: float | None, timed: bool) -> None:
    holds(drawn(seed, 500, 2), loss, timed=timed)


def test_past_the_most_the_dearest_go_and_it_is_said() -> None:
    ones = [One(0, n, 0, n / 100, n, 0) for n in range(10)]
    found = kept(as_labels(ones), np.zeros(10, dtype=np.int64), Goal(0.0), Toll.of([], Goal()), timed=False, most=4)
    assert (found.places.tolist(), found.cut, found.cost_cut) == ([0, 1, 2, 3], True, False)


def test_of_a_crowd_those_that_save_for_a_sliver_go_and_it_is_said() -> None:
    """One is surest; a hundred more are each a thousandth less sure and one cheaper."""
    ones = [One(0, 5, 0, 0.5 - n / 1000, 200 - n, 0) for n in range(101)]
    found = kept(as_labels(ones), np.zeros(101, dtype=np.int64), Goal(0.2), Toll.of([], Goal()), timed=False)
    assert (len(found.places), found.cut, found.cost_cut) == (1 + MOST_SAVINGS, False, True)
    assert 0 in found.places


@some
@given(st.integers(0, 10**9), st.sampled_from([0.0, 0.1, None]), st.booleans())
def test_what_another_overtakes_is_needed_in_no_check(seed: int, loss: float | None, timed: bool) -> None:
    """Pairs of labels by two results: what is kept of all of them is kept of those where none was overtaken."""
    goal, toll = Goal(loss), Toll.of(TOLLS, Goal(loss))
    branches = []
    for ones in (drawn(seed, 14, 1), drawn(seed + 1, 14, 1)):
        node = np.zeros(len(ones), dtype=np.int64)
        labels = as_labels(ones).take(kept(as_labels(ones), node, goal, toll, timed=timed).places)
        labels.until = overtaken(labels, np.zeros(len(labels), dtype=np.int64), goal, timed=timed)
        branches.append(labels)
    left, right = branches
    pairs, useful = [], []
    for a, b in product(range(len(left)), range(len(right))):
        pair = One(0, max(left.cash[a], right.cash[b]), max(left.worst[a], right.worst[b]),
                   round(left.chance[a] + right.chance[b], 9), int(left.net[a] + right.net[b]),
                   int(left.marks[a, 0] | right.marks[b, 0]))  # fmt: skip
        pairs.append(pair)
        if left.cash[a] < right.until[b] and right.cash[b] < left.until[a]:
            useful.append(pair)
    assert all(any(beats(y, x, loss, timed=timed, equals=True) for y in useful) for x in pairs)


@examples(40)
@given(st.integers(0, 10**9), st.sampled_from([0.0, 0.1, None]), st.booleans())
def test_each_is_overtaken_by_the_cheapest_that_shares_no_more(seed: int, loss: float | None, timed: bool) -> None:
    """Of few labels a node and of many, each held against each by itself."""
    ones = sorted(drawn(seed, 300, 3))
    until = overtaken(as_labels(ones), np.array([x.node for x in ones]), Goal(loss), timed=timed)

    def overtakes(by: One, one: One) -> bool:
        free = One(by.node, one.cash, by.worst, by.chance, by.cost, one.marks)
        shares_no_more = not by.marks & ~one.marks and by.cash > one.cash
        ahead = by.cost < one.cost or (loss is not None and by.chance > one.chance + 1e-9)
        return shares_no_more and ahead and beats(free, one, loss, timed=timed, equals=True)

    for one, cash in zip(ones, until.tolist(), strict=True):
        assert cash == min((by.cash for by in ones if overtakes(by, one)), default=NEVER)


def test_nothing_overtakes_the_surest() -> None:
    ones = [One(0, 1, 0, 0.1, 1, 0), One(0, 2, 0, 0.3, 1, 0), One(0, 3, 0, 0.2, 3, 0), One(0, 4, 0, 0.4, 9, 0)]
    until = overtaken(as_labels(ones), np.zeros(4, dtype=np.int64), Goal(0.05), timed=False)
    assert until.tolist() == [2, 4, 4, NEVER]


@pytest.mark.slow
@settings(max_examples=4000, deadline=None)
@given(st.integers(0, 10**9), st.sampled_from([0.0, 0.1, 0.3, None]), st.booleans())
def test_what_is_kept_on_many_draws(seed: int, loss: float | None, timed: bool) -> None:
    holds(drawn(seed, 150, 3), loss, timed=timed)
