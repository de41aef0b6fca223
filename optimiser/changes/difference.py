"""Two plans side by side: what became of each fault, and the money."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from optimiser import money, text
from optimiser.changes.kept_plan_now import BOUGHT, STOP, Doing, Sources, followed
from optimiser.model.events import CheckMade, Entry, Fitting, Purchase, standing
from optimiser.model.job import Fault, Job
from optimiser.model.moves import LEAST_SHIFT, Move, Side, Sums, Turn
from optimiser.model.plan import Choice, Plan, Selection
from optimiser.model.route import Node, Route, Stop
from optimiser.state.history import KeptPlan

CLOSED: Doing = ("closed",)
AWAY: Doing = ("away",)


@dataclass(frozen=True)
class State:
    """What a plan does about a fault, first and in all; its chance of a cure is no part of what is done."""

    first: Doing
    tree: Doing
    chance: float = field(default=0.0, compare=False)

    @classmethod
    def of(cls, fault: str, job: Job, selection: Selection, sources: Sources) -> State:
        """The fault's state in a mix for the job: cured, not there, left, or its route."""
        if any(cured.id == fault for cured in job.closed):
            return cls(CLOSED, CLOSED)
        if all(known.id != fault for known in job.faults):
            return cls(AWAY, AWAY)
        route = selection.route_for(fault)
        if route is None:
            return cls(STOP, STOP)
        return cls(sources.first(route.first), sources.tree(route.first), route.chance)

    def near(self, other: State) -> bool:
        """Whether its chance is that of another state, but for what is not worth telling."""
        return abs(self.chance - other.chance) < LEAST_SHIFT


@dataclass(frozen=True)
class Earlier:
    """The earlier plan, and what happened since."""

    kept: KeptPlan
    selection: Selection
    job: Job
    since: tuple[Entry, ...]
    sources: Sources

    def state(self, fault: str) -> State:
        """What it did about the fault."""
        return State.of(fault, self.job, self.selection, self.sources)

    def foreseen(self, fault: str) -> Node | None:
        """What it would do by now; None where nothing happened that it foresaw."""
        route = self.selection.route_for(fault)
        if route is None:
            return None
        node = followed(route, self.since)
        return None if node is route.first else node

    def side(self, fault: Fault) -> Side:
        """The fault's figures in it."""
        route = self.selection.route_for(fault.id)
        if route is None:
            return Side()
        share = self.kept.shares.get(fault.id)
        return Side(
            route=route,
            chance=route.chance,
            fixes=route.chance * fault.importance,
            landed_minor=None if share is None else share.landed_minor,
            most_minor=None if share is None else share.most_minor,
        )

    def sums(self) -> Sums | None:
        """Its sums; None where they cannot be made out, or are in another currency."""
        return self.kept.sums if self.kept.currency == self.job.currency.code else None


def side_by_side(earlier: Earlier, plan: Plan) -> tuple[Move, ...]:
    """Every fault of either plan, the gravest first, and what became of it; what brought it about is still open."""
    now = {fault.id: fault for fault in (*plan.job.faults, *plan.job.closed)}
    then = {fault.id: fault for fault in (*earlier.job.faults, *earlier.job.closed)}
    faults = [now.get(name) or then[name] for name in dict.fromkeys((*now, *then))]
    faults.sort(key=lambda fault: (fault.severity.rank, -fault.importance))
    return tuple(_move(fault, earlier, plan, then.get(fault.id)) for fault in faults)


def sums(plan: Plan) -> Sums:
    """A plan's sums."""
    purse = plan.purse
    return Sums(remaining_minor=purse.remaining_minor, unspent_minor=purse.unspent_minor, fixes=plan.expected_count)


def _move(fault: Fault, earlier: Earlier, plan: Plan, known: Fault | None) -> Move:
    before = earlier.state(fault.id)
    after = State.of(fault.id, plan.job, plan.selection, earlier.sources)
    choice = next((c for c in plan.choices if c.fault.id == fault.id), None)
    bought, paid = _paid(fault.id, earlier, choice)
    foreseen = earlier.foreseen(fault.id)
    return Move(
        fault=fault,
        turn=_turn(before, after, None if foreseen is None else earlier.sources.first(foreseen)),
        foreseen=None if foreseen is None or isinstance(foreseen, Stop) else Route.of(fault.id, foreseen),
        before=earlier.side(known) if known is not None and before.first not in (CLOSED, AWAY) else None,
        after=None if choice is None else _side(choice),
        paid_minor=paid,
        bought=bought,
    )


def _turn(before: State, after: State, foreseen: Doing | None) -> Turn:
    """The first that holds."""
    rules = (
        (after.first == before.first and after.first in (CLOSED, AWAY), Turn.LEFT),
        (after.first == CLOSED, Turn.CURED),
        (after.first == AWAY, Turn.GONE),
        (before.first == CLOSED, Turn.REOPENED),
        (before.first == AWAY, Turn.NEW),
        (before == after and not before.near(after), Turn.SHIFTED),
        (before == after, Turn.LEFT if after.first == STOP else Turn.KEPT),
        (after.first == foreseen, Turn.AS_FORESEEN),
        (before.first == STOP, Turn.ADDED),
        (after.first == STOP, Turn.DROPPED),
        (before.first == after.first, Turn.LATER_STEPS),
    )
    return next((turn for holds, turn in rules if holds), Turn.NEW_CHOICE)


def _side(choice: Choice) -> Side:
    return Side(
        route=choice.route,
        chance=choice.chance,
        fixes=choice.chance * choice.fault.importance,
        landed_minor=choice.landed_minor,
        most_minor=choice.most_minor,
    )


def _paid(fault: str, earlier: Earlier, choice: Choice | None) -> tuple[tuple[int, ...], int]:
    """The purchases made since of which pieces were fitted here or are planned for here, and what was paid in all."""
    spent = 0
    units: dict[int, int] = {}
    for entry in standing(earlier.since):
        happening = entry.happening
        if isinstance(happening, CheckMade | Fitting) and happening.fault == fault:
            spent += happening.cash_minor
        if isinstance(happening, Fitting) and happening.fault == fault:
            for piece in happening.pieces:
                number = piece.bought or _number(piece.quote)
                units[number] = units.get(number, 0) + piece.units
    for quote, count in _planned(choice):
        units[_number(quote)] = units.get(_number(quote), 0) + count
    new = {e.number: e.happening for e in standing(earlier.since) if isinstance(e.happening, Purchase)}
    bought = tuple(sorted(number for number in units if number in new))
    for number in bought:
        purchase = new[number]
        spent += money.half_up(purchase.cash_minor * min(1.0, units[number] / purchase.units))
    return bought, spent


def _planned(choice: Choice | None) -> Iterable[tuple[str, int]]:
    """What a route may fit from the shelf."""
    most: dict[str, int] = {}
    for step in () if choice is None or choice.route is None else choice.route.attempts:
        for line in step.option.lines:
            most[line.quote.id] = max(most.get(line.quote.id, 0), line.units)
    return most.items()


def _number(quote: str) -> int:
    number = quote.removeprefix(BOUGHT)
    return (text.count(number) or 0) if quote.startswith(BOUGHT) else 0
