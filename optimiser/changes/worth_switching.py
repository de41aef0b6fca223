"""How much better a plan is than keeping to the last one: a little is not worth a switch once something is ordered."""

from __future__ import annotations

from dataclasses import replace

from optimiser.model.candidates import Offer
from optimiser.model.moves import Margin
from optimiser.model.plan import MONEY, Selection, per_minor
from optimiser.planning import choose, options
from optimiser.planning.choose import Chosen
from optimiser.solver import solve

LITTLE = 0.01
"""Of the plan's fixes, or of what remains: less than this is a little (common practice, no published source)."""


def margin(pick: Chosen, last: Selection) -> Margin | None:
    """What is gained over the best plan that begins each fault as the last plan does and leaves what it leaves.

    None where nothing is done otherwise, where the last plan cannot be kept to any more for sure, where the gain is in
    safety, which is always worth a switch, and where no time is left to see.
    """
    taken = {route.fault: route.first_step for route in pick.selection.routes}
    wanted = {route.fault: route.first_step for route in last.routes}
    if taken == wanted or pick.clock.over():
        return None
    held = solve.best(pick.solved, _only(pick, wanted), clock=pick.clock)
    kept = {route.fault for route in held.routes} == set(wanted) and not choose.overdrawn(pick.offer, held)
    if not kept or choose.too_long(pick.with_selection(held)):
        return None
    remaining = max(0, pick.job.pot.remaining_minor)
    for stage, value in pick.selection.levels.items():
        other = held.levels.get(stage, value)
        if value == other:
            continue
        if stage in MONEY:
            return Margin(unit="money", better=abs(value - other) / per_minor(stage), small_below=LITTLE * remaining)
        if stage != "all-faults":
            return None
        return Margin(unit="fixes", better=(value - other) / 1_000_000, small_below=LITTLE * value / 1_000_000)
    return Margin(unit="money", better=0, small_below=LITTLE * remaining)


def _only(pick: Chosen, wanted: dict[str, tuple[str, ...]]) -> Offer:
    """What begins as is wanted, and nothing else."""
    offer = pick.offer
    if offer.routes is not None:
        return replace(offer, routes=tuple(p for p in offer.routes if wanted.get(p.fault) == p.first_step))
    whole = options.build(pick.job, whole=set(wanted))
    return replace(whole, options=tuple(o for o in whole.options if wanted.get(o.fault) == o.key))
