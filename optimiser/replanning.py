"""The plan made again, near to the one seen last, and set beside it or an earlier one; plans kept to compare with."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from optimiser import read
from optimiser.drawn import drawn_up
from optimiser.model.happening import Happening, PlanMade
from optimiser.model.moves import Moves
from optimiser.model.plan import Plan, Selection
from optimiser.record import Store

if TYPE_CHECKING:
    from optimiser.moves import Asked, Moment

SECONDS_FOR_CAUSES, SECONDS_AFTER_A_WRITE = 60.0, 5.0
"""For looking for causes when that is asked for, and when something was just written down."""
Progress = Callable[[str], None]


def quiet(_: str) -> None:
    """No progress shown."""


def moved(
    folder: Path,
    today: date,
    number: int | None = None,
    seconds: float = SECONDS_FOR_CAUSES,
    progress: Progress = quiet,
    at_first: Callable[[Moves], None] | None = None,
) -> Moves:
    """The plan now against a kept one, by default the last that did not know all that is known now, with the causes.

    No longer than ``seconds`` go into looking for causes. Raises ``CallError`` where no such plan is kept.
    """
    from optimiser import moves  # noqa: PLC0415 - what plans nothing needs no solver

    plans, now = _now(folder, today)
    return moves.against(moves.wanted(plans, number, now), now, drawn_up, seconds, progress, at_first)


def again(
    folder: Path,
    today: date,
    suppose: Sequence[Happening] = (),
    seconds: float = SECONDS_AFTER_A_WRITE,
    progress: Progress = quiet,
    at_first: Callable[[Moves], None] | None = None,
) -> Asked:
    """The plan now, or as if more had happened, and what moved since the last kept one (None: none can be read).

    ``at_first`` is told what moves at first sight where the whole search takes some seconds.
    """
    from optimiser import moves  # noqa: PLC0415

    plans, now = _now(folder, today, suppose)
    return moves.ask(moves.last_seen(plans, now), now, drawn_up, seconds, progress, at_first)


def last(folder: Path, today: date) -> Selection | None:
    """The last kept plan as it stands by now, for a plan to stay near to; None where none can be made out."""
    from optimiser import moves  # noqa: PLC0415

    everything = Store(folder).everything()
    if not everything.plans:
        return None
    now = moves.supposed(read.job(folder, today), everything.entries, ())
    then = moves.last_seen(everything.plans, now)
    return None if then is None else then.nearest(now)


def keep(folder: Path, today: date, plan: Plan, at: datetime) -> PlanMade:
    """Keep a plan that is shown, with what the folder said, to be compared with; once if nothing has changed.

    What safety costs is left out: not every verb reckons it.
    """
    from optimiser import keeping  # noqa: PLC0415
    from optimiser.show import as_json  # noqa: PLC0415

    plan = plan.model_copy(update={"safety_cost": None})
    text, store = keeping.kept(plan, as_json.plan(plan), read.job(folder, today)), Store(folder)
    seen = store.everything()
    same = [made for made in seen.plans[-1:] if (made.text, made.after) == (text, len(seen.entries))]
    return same[0] if same else store.add_plan(at, text)


def _now(folder: Path, today: date, suppose: Sequence[Happening] = ()) -> tuple[Sequence[PlanMade], Moment]:
    from optimiser import moves  # noqa: PLC0415

    everything = Store(folder).everything()
    return everything.plans, moves.supposed(read.job(folder, today), everything.entries, suppose)
