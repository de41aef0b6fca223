"""Small stories on the tiny job: a plan is kept, something happens or is written otherwise, and the plan moves."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime

from optimiser import service
from optimiser.changes import Then, against
from optimiser.model import events as h
from optimiser.model.events import Happening, PlanMade, entries
from optimiser.model.job import Job, Pot
from optimiser.model.moves import Cause, Move, Moves
from optimiser.show import steps
from optimiser.state import Moment, history, stood
from tests.tiny_job import BASE, but

AT = datetime(2026, 11, 24, 19, 0, tzinfo=UTC)
SAID = {"at": AT, "source": "test"}
MONEY = SAID | {"currency": "GBP"}
PLENTY = 3600.0


def pot(minor: int, job: Job = BASE) -> Job:
    return but(job, pot=Pot(cap_minor=minor))


def spend(minor: int, text: str = "hire") -> Happening:
    return h.Spend(**MONEY, amount_minor=minor, text=text)


def note(text: str = "rain") -> Happening:
    return h.Note(**SAID, text=text)


def strike(number: int) -> Happening:
    return h.Strike(**SAID, strikes=number)


def fitted(fault: str, repair: str, *, cured: bool) -> Happening:
    return h.Fitting(**MONEY, fault=fault, repair=repair, cured=cured)


def moment(job: Job, *happenings: Happening) -> Moment:
    return Moment(job, entries(enumerate(happenings, start=1)))


def kept(job: Job, now: Moment, after: int = 0, number: int = 1) -> Then:
    """The plan of the job after that many of the happenings, as it is kept and read back."""
    at_first = entries((e.number, e.happening) for e in now.record if e.number <= after)
    plan = service.plan(stood(job, at_first).job)
    made = PlanMade(number=number, at=AT, after=after, text=history.kept(plan, steps.kept(plan), job))
    then = Then.of(made, history.read(made.text), now)
    assert then is not None
    return then


def moved(was: Job, *happenings: Happening, now: Job | None = None, after: int = 0, seconds: float = PLENTY) -> Moves:
    """The plan now against that of the job as it ``was``, after that many of the happenings."""
    here = moment(now or was, *happenings)
    return against(kept(was, here, after), here, service.drawn_up, seconds, lambda _: None)


def of(moves: Moves, fault: str) -> Move:
    (found,) = [move for move in moves.moves if move.fault.id == fault]
    return found


def causes(moves: Moves, fault: str) -> Sequence[Cause]:
    return [moves.causes[n] for n in of(moves, fault).causes]
