"""The dangerous faults that are not put right: at the head of every answer, in words, on a terminal and as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, Any

from optimiser.calls import call
from optimiser.model import danger
from optimiser.model.danger import Danger, DangerState
from optimiser.model.job import FUEL, GAS, Job
from optimiser.model.plan import Selection
from optimiser.show import cause_words, wording
from optimiser.text import in_shell

if TYPE_CHECKING:
    from rich.console import Console

MARK = "! "
STATES = {
    DangerState.AS_IT_IS: "Left as it is because you wrote so",
    DangerState.LEFT: "Left by this plan",
    DangerState.GIVEN_UP: "Worked on and not right, and given up by this plan",
    DangerState.HARDLY: "Hardly to be cured by this plan, which has a long shot for it alone",
    DangerState.NOT_SURE: "Planned, and not sure to be cured",
    DangerState.OPEN: "Open until it is mended and tested",
}

LITHIUM = frozenset({"lithium-batteries"})
AT_ONCE = {
    GAS: "Until the gas is put right it stays shut at its bottle or tank. Air low down before any switch or engine.",
    FUEL: "Until the fuel is put right nothing is started, switched or charged beside it. No flame, and air it.",
    LITHIUM: "Until the battery is gone it stays outdoors, away from walls, never charged. If it smokes, keep away and"
    " call the fire brigade.",
}
"""What to do at once about what may burn, by its systems."""
MENDED = {DangerState.NOT_SURE, DangerState.OPEN}
"""Those on which the plan works."""
MOST_NAMED = 5


def lines(job: Job, selection: Selection | None = None, *, listed: bool = False) -> Iterator[str]:
    """That the vehicle must not be used, and why: a line for each way in which faults stand, and one for what only
    the licensed work on and none of them has tested; nothing without any.

    Where they are ``listed`` under DANGEROUS in the same answer, many that the plan mends are not named here again.
    """
    found = danger.dangers(job, selection)
    if found:
        yield from _not_put_right(found, listed=listed)
    if job.untested:
        systems = " and ".join(sorted({system for some in job.untested.values() for system in some}))
        titles = "; ".join(cause_words.fault_title(job, name) for name in job.untested)
        yield (
            f"{MARK}NOT TESTED: nobody licensed for {systems} has put this right or tested it: {titles}."
            " Do not use it before one of them has tested it and that is written down."
        )
    if unproven := [name for name in job.unproven if name not in job.untested]:
        titles = "; ".join(cause_words.fault_title(job, name) for name in unproven)
        yield (
            f"{MARK}Mended, and no licensed test is written down: {titles}."
            f" Once it has passed: {call('found', in_shell(unproven[0]), 'tested')}."
        )


def _not_put_right(found: Sequence[Danger], *, listed: bool) -> Iterator[str]:
    several = len(found) > 1
    many = f"{len(found)} dangerous faults are" if several else "a dangerous fault is"
    yield (
        f"{MARK}THE VEHICLE MUST NOT BE USED: {many} not put right yet."
        f" Judge {'their' if several else 'its'} repair at a standstill or by a licensed test, never in use."
    )
    about = {system for one in found for system in one.fault.systems}
    yield from (f"{MARK}{line}" for systems, line in AT_ONCE.items() if not systems.isdisjoint(about))
    for state, some in groupby(found, key=lambda one: one.state):
        named = list(map(_named, some))
        again = state not in MENDED or not listed or len(named) <= MOST_NAMED
        yield f"{MARK}{STATES[state]}: {'; '.join(named) if again else f'{len(named)} of those under DANGEROUS below'}."


def _named(one: Danger) -> str:
    title = wording.named(one.fault)
    return f"{title} (cure {wording.chance(one.chance)} likely)" if one.chance else title


def show(out: Console, job: Job, selection: Selection | None = None, *, listed: bool = False) -> None:
    from rich.text import Text  # noqa: PLC0415 - the words are said before anything is laid out

    for line in lines(job, selection, listed=listed):
        out.print(Text(line, style="danger"))


def document(job: Job, selection: Selection | None = None) -> dict[str, Any]:
    """The same as a key of a JSON answer, an empty list where there is none."""
    return {
        "dangerous": [
            {"id": one.fault.id, "title": one.fault.title, "state": one.state.value, "chance": one.chance}
            for one in danger.dangers(job, selection)
        ],
        "untested": [{"id": name, "systems": list(systems)} for name, systems in job.untested.items()],
        "unproven": list(job.unproven),
    }
