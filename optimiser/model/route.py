"""A route through one fault: check this, try that, fall back to the other; a tree with its figures."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Literal, NamedTuple

from optimiser.model.base import Record
from optimiser.model.option import Line, Option


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
    ``topping`` is what its own orders are topped up with: packs by quote id.
    """

    do: Literal["attempt"] = "attempt"
    option: Option
    cash_minor: int
    net_minor: int
    refund_minor: int
    minutes: int
    then: tuple[Branch, ...]
    topping: tuple[tuple[str, int], ...] = ()

    @property
    def chance(self) -> float:
        """The chance of cure, once the route has come this far."""
        return sum(branch.chance for branch in self.then if branch.result == CURED)


Node = Stop | CheckStep | AttemptStep
LIKELY = 0.03
"""What comes up less often is neither told step by step nor waited for (common practice, no published source)."""
LONG_SHOT = 10
"""A try that cures less often, in whole percent, is a long shot (common practice, no published source)."""
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
    """One fault's tree of checks and attempts with its figures.

    Leading steps come before any order: checks, and attempts that buy nothing and wait for nothing.
    In a mix the figures are without what is shared: the ``certain`` lines, which the first other attempt of every
    branch buys, first postage and trips, and access. ``relies_on`` are suppliers whose minimum the certain lines of
    other faults are sure to reach. Of the certain lines those of the quotes ``ahead`` are for a branch or a later
    attempt that may want them: the deposits on them count as lost until such an attempt fits them.
    """

    fault: str
    first: Node
    certain: tuple[Line, ...] = ()
    ahead: tuple[str, ...] = ()
    relies_on: tuple[str, ...] = ()
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

    @classmethod
    def once(cls, option: Option) -> Route:
        """Try one option and leave it at that; nothing is sent back for money."""
        direct, chance = option.direct_minor, option.chance
        then = [Branch(result=CURED, chance=chance, then=Stop())]
        if chance < 1:
            then.append(Branch(result=NOT_CURED, chance=1 - chance, then=Stop()))
        step = AttemptStep(
            option=option, cash_minor=direct, net_minor=direct, refund_minor=0, minutes=option.minutes, then=tuple(then)
        )
        return cls.of(option.fault, step).model_copy(update={"certain": option.lines})

    @property
    def option(self) -> Option | None:
        """What is tried first, None where the route begins with a check."""
        return self.first.option if isinstance(self.first, AttemptStep) else None

    @property
    def first_step(self) -> tuple[str, ...]:
        """Names the first step within the job."""
        if isinstance(self.first, CheckStep):
            return (self.fault, "check", self.first.check)
        return self.first.option.key if isinstance(self.first, AttemptStep) else (self.fault,)

    @property
    def sure_lines(self) -> tuple[Line, ...]:
        """What is taken whatever comes up: the certain lines, and those from the shelf that the route begins with."""
        begun = self.option.lines if self.option is not None and self.option.leads else ()
        return (*self.certain, *(line for line in begun if line not in self.certain))

    @property
    def only_option(self) -> Option | None:
        """The option, where the route is to try one and leave it at that."""
        return self.option if len(list(steps(self.first))) == 1 else None

    @property
    def suppliers(self) -> frozenset[str]:
        """Who may get one of the first orders."""
        return frozenset(s for step in self.first_attempts if step is not None for s in step.option.suppliers)

    @property
    def other_packs(self) -> dict[str, int]:
        """The most packs of each quote that any path takes beside the certain lines, top-ups included."""
        return _other_packs(self.first, {x.quote.id: x.units for x in self.certain if x.quote.id not in self.ahead})

    @property
    def attempts(self) -> tuple[AttemptStep, ...]:
        """Every attempt of the tree."""
        return tuple(step for step in steps(self.first) if isinstance(step, AttemptStep))

    @property
    def parts(self) -> set[str]:
        """Every part that an attempt of the tree takes."""
        return {line.quote.part for step in self.attempts for line in step.option.lines}

    @property
    def checks(self) -> tuple[CheckStep, ...]:
        """Every check of the tree."""
        return tuple(step for step in steps(self.first) if isinstance(step, CheckStep))

    @property
    def most_attempts(self) -> int:
        """The most attempts that any path makes."""
        return _tries(self.first)

    @property
    def sure_minor(self) -> int:
        """What every path pays by its first order beside parts: leading steps, and the direct price of the attempt."""
        return _sure(self.first)

    @property
    def first_attempts(self) -> tuple[AttemptStep | None, ...]:
        """The first attempt of every branch that buys or waits, None for a branch that ends without one."""
        return _first_attempts(self.first)

    def with_wanted(self) -> Route:
        """Its certain lines with what its own first attempts want of them, before that is rounded up to sets.

        Two pairs of options may share as many pieces, of which one wants fewer.
        """

        def own(line: Line) -> Line:
            lines = (x for step in self.first_attempts if step is not None for x in step.option.lines)
            wanted = [min(line.units, x.wanted) for x in lines if x.quote.id == line.quote.id]
            return (
                line
                if line.quote.id in self.ahead
                else line.model_copy(update={"wanted": min(wanted, default=line.wanted)})
            )

        return self.model_copy(update={"certain": tuple(own(line) for line in self.certain)})


def steps(node: Node) -> Iterator[CheckStep | AttemptStep]:
    """Every step of a tree, each before what follows it."""
    if not isinstance(node, Stop):
        yield node
        for branch in node.then:
            yield from steps(branch.then)


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


def _tries(node: Node) -> int:
    if isinstance(node, Stop):
        return 0
    return isinstance(node, AttemptStep) + max(_tries(branch.then) for branch in node.then)


def _sure(node: Node) -> int:
    if isinstance(node, Stop):
        return 0
    if isinstance(node, AttemptStep) and not node.option.leads:
        return node.option.direct_minor
    paid = node.cash_minor
    return paid + min(_sure(branch.then) for branch in node.then)


def _other_packs(node: Node, certain: Mapping[str, int]) -> dict[str, int]:
    """What is taken from a node on; the certain pieces come with the first attempt that buys or waits."""
    if isinstance(node, Stop):
        return {}
    brings = isinstance(node, AttemptStep) and (bool(certain) or not node.option.leads)
    most: Counter[str] = Counter()
    for branch in node.then:
        most |= Counter(_other_packs(branch.then, {} if brings else certain))
    if isinstance(node, AttemptStep):
        for line in node.option.ordered:
            most[line.quote.id] += line.quote.packs_for(max(0, line.units - certain.get(line.quote.id, 0)))
        most.update(dict(node.topping))
    return dict(+most)


def _first_attempts(node: Node) -> tuple[AttemptStep | None, ...]:
    if isinstance(node, Stop):
        return (None,)
    if isinstance(node, AttemptStep) and not node.option.leads:
        return (node,)
    return tuple(first for branch in node.then for first in _first_attempts(branch.then))
