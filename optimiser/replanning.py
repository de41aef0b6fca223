"""The plan made again, near to the one seen last, and set beside it or an earlier one; plans kept to compare with."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from optimiser.ledger import Store
from optimiser.model.events import PlanMade
from optimiser.model.moves import Moves
from optimiser.model.plan import Plan, Selection
from optimiser.planning.draw_up import drawn_up
from optimiser.state import Moment, history

if TYPE_CHECKING:
    from optimiser.changes import Replanned

SECONDS_FOR_CAUSES, SECONDS_AFTER_A_WRITE = 60.0, 5.0
"""For looking for causes when that is asked for, and when something was just written down."""
Progress = Callable[[str], None]


def quiet(_: str) -> None:
    """No progress shown."""


def moved(
    now: Moment,
    number: int | None = None,
    seconds: float = SECONDS_FOR_CAUSES,
    progress: Progress = quiet,
) -> Moves:
    """The plan now against a kept one, by default the last that did not know all that is known now, with the causes.

    No longer than ``seconds`` go into looking for causes. Raises ``CallError`` where no such plan is kept.
    """
    from optimiser import changes  # noqa: PLC0415 - what plans nothing needs no solver

    return changes.against(changes.wanted(number, now), now, drawn_up, seconds, progress)


def again(
    now: Moment,
    seconds: float = SECONDS_AFTER_A_WRITE,
    progress: Progress = quiet,
) -> Replanned:
    """The plan now, and what moved since the last kept one (None: none can be read)."""
    from optimiser import changes  # noqa: PLC0415

    return changes.ask(changes.last_seen(now), now, drawn_up, seconds, progress)


def last(now: Moment) -> Selection | None:
    """The last kept plan as it stands by now, for a plan to stay near to; None where none can be made out."""
    if not now.plans.made:
        return None
    from optimiser import changes  # noqa: PLC0415

    then = changes.last_seen(now)
    return None if then is None else then.nearest(now)


def keep(folder: Path, now: Moment, plan: Plan, at: datetime) -> PlanMade:
    """Keep a plan that is shown, with the moment that it was planned from; once if nothing has changed.

    Older ones are thinned to what is still asked of them (``history.SHORTER``).

    What safety costs is left out: not every verb reckons it.
    """
    from optimiser.show import steps  # noqa: PLC0415

    plan = plan.model_copy(update={"safety_cost": None})
    text, before = history.kept(plan, steps.kept(plan), now.folder), now.plans.last
    if before is not None and (before.text, before.after) == (text, now.known):
        return before
    return Store(folder).add_plan(at, text, now.known, history.SHORTER)
