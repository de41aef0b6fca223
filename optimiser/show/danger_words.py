"""The dangerous faults that are not put right, in words and as JSON: at the head of every answer."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import Any

from optimiser.model.danger import Danger, DangerState, dangers
from optimiser.model.job import Job
from optimiser.model.plan import Selection
from optimiser.show import wording

MARK = "! "
STATES = {
    DangerState.AS_IT_IS: "Left as it is because you wrote so",
    DangerState.LEFT: "Left by this plan",
    DangerState.GIVEN_UP: "Tried without a cure, and given up by this plan",
    DangerState.NOT_SURE: "Planned, and not sure to be cured",
    DangerState.OPEN: "Open until it is mended and tested",
}

MENDED = {DangerState.NOT_SURE, DangerState.OPEN}
"""Those on which the plan works."""
MOST_NAMED = 5


def lines(job: Job, selection: Selection | None = None, *, listed: bool = False) -> Iterator[str]:
    """That the vehicle must not be used, and why: a line for each way in which faults stand; nothing without any.

    Where they are ``listed`` under DANGEROUS in the same answer, many that the plan mends are not named here again.
    """
    found = dangers(job, selection)
    if not found:
        return
    several = len(found) > 1
    many = f"{len(found)} dangerous faults are" if several else "a dangerous fault is"
    yield (
        f"{MARK}THE VEHICLE MUST NOT BE USED: {many} not put right yet."
        f" Judge {'their' if several else 'its'} repair at a standstill or by a licensed test, never in use."
    )
    for state, some in groupby(found, key=lambda one: one.state):
        named = list(map(_named, some))
        again = state not in MENDED or not listed or len(named) <= MOST_NAMED
        yield f"{MARK}{STATES[state]}: {'; '.join(named) if again else f'{len(named)} of those under DANGEROUS below'}."


def _named(one: Danger) -> str:
    title = wording.plain(one.fault.title or one.fault.id)
    return f"{title} ({wording.chance(one.chance)})" if one.chance else title


def document(job: Job, selection: Selection | None = None) -> dict[str, Any]:
    """The same as a key of a JSON answer, an empty list where there is none."""
    return {
        "dangerous": [
            {"id": one.fault.id, "title": one.fault.title, "state": one.state.value, "chance": one.chance}
            for one in dangers(job, selection)
        ]
    }
