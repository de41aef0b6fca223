"""What the checks of a fault are worth to a plan: with all else as planned, at the money that its route may take.

Orders that the plan places and accesses that it opens are there for this fault too, at no further postage or price.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace

from optimiser.diagnosis.case import Case
from optimiser.diagnosis.cash import AttemptCost
from optimiser.diagnosis.proposals import FaultSearch
from optimiser.diagnosis.routes import Worth, best_at, worth, worthwhile
from optimiser.diagnosis.sweep import Opening, Sweep
from optimiser.model.option import Option
from optimiser.model.route import CURED, AttemptStep, Node, Route, Stop


@dataclass(frozen=True)
class Placed:
    """What the plan shares: suppliers that may get a first order, those sure to, and accesses that may be opened."""

    suppliers: frozenset[str]
    sure: frozenset[str]
    access: frozenset[str]


@dataclass(frozen=True)
class Judged:
    """The checks of one fault judged.

    ``kept`` and ``gone`` are worth their time and not; ``rival`` compares with the best route that begins with a
    check, where the plan begins by trying: what that route would gain in chance and save in net cost.
    """

    kept: tuple[Worth, ...]
    gone: tuple[Worth, ...]
    rival: Worth | None = None


def judged(search: FaultSearch, route: Route, placed: Placed, must_gain: float, must_save_minor: float) -> Judged:
    """What each check adds to the best route that takes no more cash than this one."""
    case = _case(search, route, placed)
    if not case.checks:
        return Judged((), ())
    goal = search.goals()[-1]
    cash = case.cash_minor or 0
    left, gone = worthwhile(case, cash, must_gain, must_save_minor, goal)
    kept = worth(left, cash, goal)
    rival = None
    if left.checks and isinstance(route.first, AttemptStep):
        sweep = Sweep(left, goal)
        best = best_at(left, cash, goal)
        check_first = best_at(left, cash, goal, Opening(sweep, only=range(sweep.layout.n_checks)))
        rival = Worth("", check_first.chance - best.chance, best.net_minor - check_first.net_minor)
    return Judged(kept, gone, rival)


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
