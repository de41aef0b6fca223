"""Long shots: attempts that seldom cure.

A mix makes the most of its money, so it buys them with what nothing better would take. Where what is known by then
points to a cause that the plan has nothing for, a person would rather stop there: once the finding is written down, the
money may go elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from optimiser.chances import whole_percent
from optimiser.diagnosis import groups
from optimiser.diagnosis.evidence import pieces_of
from optimiser.model.evidence import Evidence, FailedAttempt
from optimiser.model.job import Job
from optimiser.model.plan import Choice
from optimiser.model.route import LONG_SHOT, NOT_CURED, AttemptStep, CheckStep, Node, Stop
from optimiser.model.route import steps as route_steps
from optimiser.planning.totals import check_of


class LongShot(NamedTuple):
    """An attempt by its place among the steps of its route: how likely it cures.

    ``cause`` is the likeliest by then, with its ``chance``, where the plan has nothing for it from there on.
    """

    place: int
    cures: float
    cause: str = ""
    chance: float = 0.0


def is_long_shot(cures: float) -> bool:
    """Whether an attempt that cures as likely as that is one."""
    return whole_percent(cures) < LONG_SHOT


def long_shots(job: Job, choice: Choice) -> Iterator[LongShot]:
    """The long shots of a fault's route."""
    if choice.route is None:
        return
    for place, (node, seen) in enumerate(_come_to(job, choice, choice.route.first)):
        if isinstance(node, AttemptStep) and is_long_shot(node.chance):
            cause, chance = _points_elsewhere(job, choice, node, seen) or ("", 0.0)
            yield LongShot(place, node.chance, cause, chance)


def _points_elsewhere(
    job: Job, choice: Choice, node: AttemptStep, seen: tuple[Evidence, ...]
) -> tuple[str, float] | None:
    """The likeliest cause once so much is seen, with its chance, where nothing from the attempt on cures it."""
    if not choice.fault.causes:
        return None
    entries = {**job.seen, choice.fault.id: (*job.seen.get(choice.fault.id, ()), *seen)}
    causes = groups.standing(job.model_copy(update={"seen": entries}), choice.fault).chances
    likely = max(causes, key=lambda cause: causes[cause])
    cures = {repair.id: repair.cure for repair in choice.fault.repairs}
    below = (step.option.repair for step in route_steps(node) if isinstance(step, AttemptStep))
    return None if any(cures[repair](likely) for repair in below) else (likely, causes[likely])


def _come_to(
    job: Job, choice: Choice, node: Node, seen: tuple[Evidence, ...] = ()
) -> Iterator[tuple[Node, tuple[Evidence, ...]]]:
    """Every step in the order of ``route.steps``, with what is seen on the way to it."""
    if isinstance(node, Stop):
        return
    yield node, seen
    for branch in node.then:
        found: tuple[Evidence, ...] = ()
        if isinstance(node, CheckStep):
            check = check_of(job, choice.fault.id, node.check)
            found = (groups.made_now(job, choice.fault, check, branch.result),)
        elif branch.result == NOT_CURED:
            found = (FailedAttempt(node.option.repair, pieces_of(node.option)),)
        yield from _come_to(job, choice, branch.then, (*seen, *found))
