"""The short number of every step in a plan: first what is done to the faults, then the lines to order."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count

from optimiser.model import route
from optimiser.model.plan import Plan
from optimiser.model.route import Node, Stop


@dataclass(frozen=True)
class Numbers:
    """Step numbers: by fault id that of its first step and those of its whole tree, each before what follows it.

    ``lines`` are the numbers of the lines to order, by quote id.
    """

    faults: dict[str, int]
    trees: dict[str, tuple[int, ...]]
    lines: dict[str, int]


@dataclass(frozen=True)
class Numbered:
    """A node with its number (None: a stop) and what follows it: results with their chances."""

    number: int | None
    node: Node
    then: tuple[tuple[str, float, Numbered], ...] = ()


def numbers(plan: Plan) -> Numbers:
    """Number the plan's steps from 1, in the order in which the plan shows them."""
    counter = count(1)
    trees = {
        choice.fault.id: tuple(next(counter) for _ in route.steps(choice.route.first))
        for choice in plan.choices
        if choice.route is not None
    }
    ordered = (line.quote.id for order in plan.orders for line in order.lines)
    return Numbers(
        faults={fault: tree[0] for fault, tree in trees.items()},
        trees=trees,
        lines={quote: next(counter) for quote in ordered},
    )


def numbered(first: Node, tree: tuple[int, ...]) -> Numbered:
    """A tree with the numbers of its steps."""
    return _numbered(first, iter(tree))


def _numbered(node: Node, left: Iterator[int]) -> Numbered:
    if isinstance(node, Stop):
        return Numbered(None, node)
    number = next(left)
    return Numbered(number, node, tuple((b.result, b.chance, _numbered(b.then, left)) for b in node.then))
