"""What brought a move about, held against plain leaving out: every change left out in turn and everything planned anew.

The other side is written apart: it puts changes in instead of taking them out, plans each time, and tells what is done
by its own words for it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from optimiser import service
from optimiser.changes import Then, moves
from optimiser.model.events import Entry, PlanMade, Purchase
from optimiser.model.job import Job
from optimiser.model.moves import Cause, Explained, Move, Moves, What
from optimiser.model.plan import Plan
from optimiser.model.quotes import Quote
from optimiser.model.route import CheckStep, Node, Stop
from optimiser.planning import choose
from optimiser.show import steps
from optimiser.state import Moment, history, stood
from tests.effort import examples
from tests.property.changes.changes import Change, grouped, moment, some, without
from tests.small_jobs import jobs as jobs_tried_once
from tests.small_route_jobs import job_of, jobs

pytestmark = pytest.mark.long

AT = datetime(2026, 11, 24, 18, 0, tzinfo=UTC)


def kept_at_first(job: Job, plan: Plan, now: Moment) -> Then:
    text = history.kept(plan, steps.kept(plan), job)
    then = Then.of(PlanMade(number=1, at=AT, after=0, text=text), history.read(text), now)
    assert then is not None
    return then


def planned(job: Job, record: Sequence[Entry], then: Then) -> Plan:
    now = Moment(job, tuple(record))
    return service.plan(stood(job, record).job, then.nearest(now))


def by_row(said: Quote | Purchase) -> str:
    """The line of a supplier's quote, or that a purchase was made of: no change here moves it."""
    return said.quote if isinstance(said, Purchase) else said.id if said.supplier else ""


Row = Callable[[Quote | Purchase], str]


def sources(option, record: Sequence[Entry], row: Row) -> list[tuple[object, ...]]:
    bought = {f"bought:{e.number}": e.happening for e in record if isinstance(e.happening, Purchase)}
    found = []
    for line in option.lines:
        of = bought.get(line.quote.id, line.quote)
        found.append((of.part, of.supplier or "", of.condition, of.ref, of.pack, row(of)))
    return sorted(found)


def doing(node: Node, record: Sequence[Entry], deep: bool, row: Row) -> object:
    if isinstance(node, Stop):
        return "nothing"
    first = node.check if isinstance(node, CheckStep) else (node.option.repair, sources(node.option, record, row))
    if not deep:
        return first
    return first, {branch.result: doing(branch.then, record, deep, row) for branch in node.then}


def state(fault: str, plan: Plan, record: Sequence[Entry], deep: bool = False, row: Row = by_row) -> object:
    """What is done about a fault; ``row`` tells quotes apart that say the same otherwise."""
    if any(closed.id == fault for closed in plan.job.closed):
        return "cured"
    if all(known.id != fault for known in plan.job.faults):
        return "not there"
    route = plan.selection.route_for(fault)
    return "nothing" if route is None else doing(route.first, record, deep, row)


def undone(fault: str, before: Plan, now: Plan, other: Plan, record: Sequence[Entry]) -> bool:
    """Whether the fault does not move as it did, in the plan without one change."""
    if shifted(fault, before, now, record):
        return (
            same(fault, before, other, record, deep=True) and abs(chance(fault, before) - chance(fault, other)) < 0.01
        )
    was, is_now, would = (state(fault, plan, record) for plan in (before, now, other))
    if is_now in ("cured", "not there") or (is_now == "nothing" and was not in ("cured", "not there")):
        return would != is_now
    if was == is_now:
        return state(fault, other, record, deep=True) == state(fault, before, record, deep=True)
    return would == was


def chance(fault: str, plan: Plan) -> float:
    route = plan.selection.route_for(fault)
    return 0.0 if route is None else route.chance


def shifted(fault: str, before: Plan, now: Plan, record: Sequence[Entry]) -> bool:
    """Whether what is done is the same, and only its chance is another by a point or more."""
    unlike = abs(chance(fault, before) - chance(fault, now)) >= 0.01
    return unlike and same(fault, before, now, record, deep=True) and state(fault, now, record) != "cured"


def belongs(cause: Cause, change: Change, number: int) -> bool:
    if change.happening is not None:
        return cause.what == What.HAPPENED and cause.number == number
    return {
        "cap": cause.place == ("money", "cap_minor"),
        "day": cause.what == What.DAY,
        "price": cause.what == What.QUOTES and cause.quotes[0].now is not None,
        "gone": cause.what == What.QUOTES and cause.quotes[0].now is None,
        "repair": cause.place[:1] == ("fault",),
    }[change.name]


def asked(job: Job, changes: list[Change]) -> tuple[Moves, Then, Plan, int]:
    """The moves, and how often planning them anew took."""
    folder, record = moment(job, changes)
    now = Moment(folder, record)
    before = service.plan(job)
    then = kept_at_first(job, before, now)
    plan = planned(folder, record, then)
    times = []

    def replan(variant, last):
        times.append(1)
        return choose.chosen(variant, last, lambda _: None).selection

    return moves(then, now, plan, replan), then, before, len(times)


def holds(job: Job, seed: int) -> None:
    assume(len({quote.content for quote in job.quotes}) == len(job.quotes))  # of rows alike none can be followed
    changes = some(job, seed)
    found, then, before, times = asked(job, changes)
    causes = [cause for cause in found.causes if cause.what != What.LAPSED]
    assume(len(causes) == len(changes))  # a price that comes to what another quote asked is told otherwise
    assume(not any(cause.what == What.LAPSED for cause in found.causes))
    assert times <= 2 * len(changes)
    _, record = moment(job, changes)
    for number, change in enumerate(changes, start=1):
        (cause,) = [cause for cause in causes if belongs(cause, change, number)]
        assert cause.checked
        other = planned(*without(job, changes, number - 1), then)
        expected = [m.fault.id for m in found.moved if undone(m.fault.id, before, found.plan, other, record)]
        assert sorted(cause.moved) == sorted(expected), (cause, expected)
    for move in found.moves:
        agrees(move, found, before, record)
    over = [move.fault.id for move in found.moved if not any(move.fault.id in cause.moved for cause in causes)]
    for number, change in enumerate(changes, start=1) if over else ():
        (cause,) = [cause for cause in causes if belongs(cause, change, number)]
        alone = planned(*moment(job, [c if c is change else Change() for c in changes]), then)
        like = [f for f in over if all(same(f, found.plan, alone, record, deep) for deep in (False, True))]
        expected = [
            f for f in like
            if not shifted(f, before, found.plan, record) or abs(chance(f, found.plan) - chance(f, alone)) < 0.01
        ]  # fmt: skip
        assert sorted(cause.enough_for) == sorted(expected), (cause, expected)


def same(fault: str, one: Plan, other: Plan, record: Sequence[Entry], deep: bool) -> bool:
    return state(fault, one, record, deep) == state(fault, other, record, deep)


def agrees(move: Move, found: Moves, before: Plan, record: Sequence[Entry]) -> None:
    """A move is one where what is done differs, and is explained by the causes that name it."""
    was, now = (state(move.fault.id, plan, record, deep=True) for plan in (before, found.plan))
    assert move.moved == (was != now or shifted(move.fault.id, before, found.plan, record))
    own = tuple(n for n, cause in enumerate(found.causes) if move.fault.id in cause.moved)
    enough = tuple(n for n, cause in enumerate(found.causes) if move.fault.id in cause.enough_for)
    assert not (own and enough)
    if move.moved:
        assert move.causes == (own or enough)
        none = Explained.ENOUGH if enough else Explained.TOGETHER if len(found.causes) > 1 else Explained.NOTHING
        assert move.found == {0: none, 1: Explained.ALONE}.get(len(own), Explained.EACH)
    for side, plan in ((move.before, before), (move.after, found.plan)):
        choice = next((c for c in plan.choices if c.fault.id == move.fault.id), None)
        assert (None if side is None else side.landed_minor) == (None if choice is None else choice.landed_minor)
        assert (None if side is None else side.most_minor) == (None if choice is None else choice.most_minor)


@given(jobs(), st.integers(0, 10**9))
@examples(30, usual=3)
@example(job_of(2269), 2269)  # two quotes of one supplier for one part, of which the one that is used asks more by now
def test_causes_are_those_of_leaving_out_in_turn(job: Job, seed: int) -> None:
    holds(job, seed)


@given(grouped(), st.integers(0, 10**9))
@examples(20, usual=2)
def test_causes_are_those_of_leaving_out_among_twins(job: Job, seed: int) -> None:
    holds(job, seed)


@given(jobs_tried_once(), st.integers(0, 10**9))
@examples(40, usual=3)
def test_causes_are_those_of_leaving_out_where_each_fault_gets_one_attempt(job: Job, seed: int) -> None:
    holds(job, seed)


@given(jobs(), st.integers(0, 10**9))
@examples(30, usual=3)
def test_one_cause_explains_every_move_without_planning_anew(job: Job, seed: int) -> None:
    changes = some(job, seed)[:1]
    found, *_, times = asked(job, changes)
    assume(len(found.causes) == 1)
    assert times == 0
    assert all(move.found == Explained.ALONE for move in found.moved)
