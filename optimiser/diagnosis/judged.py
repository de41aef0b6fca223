"""What the checks of a fault are worth to a plan: with all else as planned, at the money that its route may take.

Orders that the plan places and accesses that it opens are there for this fault too, at no further postage or price.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import NamedTuple

from optimiser.diagnosis.case import Case
from optimiser.diagnosis.cash import AttemptCost
from optimiser.diagnosis.proposals import FaultSearch
from optimiser.diagnosis.routes import Worth, best_at, read_route, worth, worthwhile
from optimiser.diagnosis.sweep import Goal, Opening, Sweep
from optimiser.model.option import Option
from optimiser.model.route import CURED, AttemptStep, CheckStep, Node, Route, Stop

LEAST_CHANCE = 0.0005
LEAST_MINOR = 0.5
"""Less than this of a fix or of a minor unit is nothing to speak of."""


@dataclass(frozen=True)
class Placed:
    """What the plan shares: suppliers that may get a first order, those sure to, and accesses that may be opened."""

    suppliers: frozenset[str]
    sure: frozenset[str]
    access: frozenset[str]


class Idle(NamedTuple):
    """A check that is not worth its time.

    ``worth`` is what it adds; where that is nothing, what making it first would add: nothing or less. ``same_next``:
    whatever it showed, the next step would be the same.
    """

    worth: Worth
    same_next: bool


@dataclass(frozen=True)
class Judged:
    """The checks of one fault judged.

    ``kept`` and ``gone`` are worth their time and not; ``rival`` compares with the best route that begins with a
    check, where the plan begins by trying and does better by it: what that route would gain in chance and save.
    """

    kept: tuple[Worth, ...]
    gone: tuple[Idle, ...]
    rival: Worth | None = None


def judged(search: FaultSearch, route: Route, placed: Placed, must_gain: float, must_save_minor: float) -> Judged:
    """What each check adds to the best route that takes no more cash than this one."""
    case = _case(search, route, placed)
    if not case.checks:
        return Judged((), ())
    goal = search.goals()[-1]
    left, gone = worthwhile(case, case.cash_minor or 0, must_gain, must_save_minor, goal)
    kept = worth(left, case.cash_minor or 0, goal)
    looks = _Looks(case, goal)
    rival = looks.first(range(looks.n_checks)) if isinstance(route.first, AttemptStep) else None
    loses = rival is not None and (rival.fixes < -LEAST_CHANCE or rival.saved_minor <= -LEAST_MINOR)
    return Judged(kept, tuple(looks.idle(one) for one in gone), rival if loses else None)


class _Looks:
    """What it would come to if a check were made first of all."""

    def __init__(self, case: Case, goal: Goal) -> None:
        self.case, self.goal = case, goal
        self.sweep = Sweep(case, goal)
        self.best = best_at(case, case.cash_minor or 0, goal)
        self.n_checks = self.sweep.layout.n_checks

    def first(self, checks: Collection[int]) -> Worth:
        """The best route that begins with one of these checks, against the best of all."""
        found = best_at(self.case, self.case.cash_minor or 0, self.goal, Opening(self.sweep, only=checks))
        return Worth("", found.chance - self.best.chance, self.best.net_minor - found.net_minor)

    def idle(self, known: Worth) -> Idle:
        """The check with its figures, and whether anything would be done otherwise after it."""
        number = next(i for i, check in enumerate(self.sweep.layout.checks) if check.id == known.check)
        opening = Opening(self.sweep, only=[number])
        point = best_at(self.case, self.case.cash_minor or 0, self.goal, opening)
        tree = read_route(opening, point).first
        same = isinstance(tree, CheckStep) and len({_step_name(branch.then) for branch in tree.then}) == 1
        adds = known.fixes > LEAST_CHANCE or known.saved_minor > LEAST_MINOR
        return Idle(known if adds else self.first([number])._replace(check=known.check), same)


def _step_name(node: Node) -> tuple[str, ...]:
    if isinstance(node, CheckStep):
        return ("check", node.check)
    return node.option.key if isinstance(node, AttemptStep) else ("stop",)


def _case(search: FaultSearch, route: Route, placed: Placed) -> Case:
    """The fault as it stands in the plan, limited to the cash that the route may take there."""
    scene, own = search.scene, search.scene.own_landed
    used = {line.quote.id for step in route.attempts for line in step.option.lines}
    options = [
        option
        for option in search.options
        if placed.access.issuperset(option.access)
        and all(line.quote.id in used for line in option.lines if line.quote.id in scene.contested)
    ]
    checks = [check for check in search.checks if placed.access.issuperset(check.access)]

    def cash_of(option: Option, tried: tuple[Option, ...]) -> AttemptCost | None:
        if tried:
            return own(option)
        return own.beside(option, {}, placed.sure) if option.suppliers <= placed.suppliers else None

    case = search.case(options, checks, first_only=(), cash_of=cash_of)
    minutes = None if case.minutes is None else route.worst_minutes
    return replace(case, cash_minor=_cash(route.first, case, tried=()), minutes=minutes)


def _cash(node: Node, case: Case, tried: Collection[Option]) -> int:
    """The dearest path of a tree by the case's own costs."""
    if isinstance(node, Stop):
        return 0
    if isinstance(node, AttemptStep):
        cost = case.cash_of(node.option, tuple(tried))
        after = max(
            (_cash(b.then, case, (*tried, node.option)) for b in node.then if b.result != CURED),
            default=0,
        )
        return (node.cash_minor if cost is None else cost.cash_minor) + after
    return node.cash_minor + max(_cash(branch.then, case, tried) for branch in node.then)
