"""A route through one fault: check this, try that, fall back to the other; a tree with its figures."""

from __future__ import annotations

from typing import Literal, NamedTuple

from optimiser.model.option import Option
from optimiser.model.record import Record


class Stop(Record):
    """Nothing more is done."""

    do: Literal["stop"] = "stop"


class CheckStep(Record):
    """Make a check, then go on by its result. Results that cannot come up have no branch."""

    do: Literal["check"] = "check"
    check: str
    cash_minor: int
    minutes: int
    then: tuple[Branch, ...]


class AttemptStep(Record):
    """Try an option and see whether it cures; ``then`` has ``cured`` and, where that can be, ``not-cured``.

    ``net_minor`` is the cash less the deposits that come back; ``refund_minor`` is given back if it does not cure.
    """

    do: Literal["attempt"] = "attempt"
    option: Option
    cash_minor: int
    net_minor: int
    refund_minor: int
    minutes: int
    then: tuple[Branch, ...]

    @property
    def chance(self) -> float:
        """The chance of cure, once the route has come this far."""
        return sum(branch.chance for branch in self.then if branch.result == CURED)


Node = Stop | CheckStep | AttemptStep
CURED, NOT_CURED = "cured", "not-cured"


class Branch(Record):
    """What may come out of a step, with its chance once the route has come this far, and what is done then."""

    result: str
    chance: float
    then: Node


class Figures(NamedTuple):
    """What a tree comes to, from its root.

    ``net_minor`` and ``minutes`` are expected (net: deposits and refunds back), ``cash_minor`` and ``worst_minutes``
    are those of the dearest and of the longest path (no refunds counted).
    """

    chance: float
    net_minor: float
    cash_minor: int
    minutes: float
    worst_minutes: int


class Route(Record):
    """One fault's tree of checks and attempts with its figures."""

    fault: str
    first: Node
    chance: float
    net_minor: float
    cash_minor: int
    minutes: float
    worst_minutes: int

    @classmethod
    def of(cls, fault: str, first: Node) -> Route:
        """The route that a tree makes, its figures added up from the tree."""
        figures = figures_of(first)
        return cls(fault=fault, first=first, **figures._asdict())

    @property
    def first_attempts(self) -> tuple[AttemptStep | None, ...]:
        """The first attempt of every branch, None for a branch that stops without one."""
        return _first_attempts(self.first)


def figures_of(node: Node) -> Figures:
    """The figures of a tree, added up leaf to root."""
    if isinstance(node, Stop):
        return Figures(0.0, 0.0, 0, 0.0, 0)
    below = [(branch, figures_of(branch.then)) for branch in node.then]
    chance = sum(b.chance * (1.0 if b.result == CURED and node.do == "attempt" else f.chance) for b, f in below)
    net = node.cash_minor + sum(b.chance * f.net_minor for b, f in below)
    if isinstance(node, AttemptStep):
        net += node.net_minor - node.cash_minor - node.refund_minor * (1 - node.chance)
    return Figures(
        chance=chance,
        net_minor=net,
        cash_minor=node.cash_minor + max(f.cash_minor for _, f in below),
        minutes=node.minutes + sum(b.chance * f.minutes for b, f in below),
        worst_minutes=node.minutes + max(f.worst_minutes for _, f in below),
    )


def _first_attempts(node: Node) -> tuple[AttemptStep | None, ...]:
    if isinstance(node, Stop):
        return (None,)
    if isinstance(node, AttemptStep):
        return (node,)
    return tuple(first for branch in node.then for first in _first_attempts(branch.then))
