"""Why this and not that: every option of a fault forced, several at a time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from threading import Lock
from typing import Any

from optimiser.model.job import Fault
from optimiser.model.option import Option
from optimiser.model.plan import Comparison, Forced, Plan, SwitchPoints
from optimiser.planning import choose, options
from optimiser.planning import switch_points as switching
from optimiser.planning.at_once import at_once
from optimiser.planning.choose import Chosen
from optimiser.planning.landed_cost import Alone
from optimiser.solver.exact_solve import Clock
from optimiser.solver.narrowing import Ground
from optimiser.solver.what_if import ForcedMix, HoursDecideError, WhatIf

Progress = Callable[[str], None]


def compared(
    pick: Chosen, faults: Sequence[Fault], draw: Callable[[Chosen], Plan], progress: Progress
) -> list[Comparison]:
    """Every option of these faults with the best plan that tries it first, and the chosen ones' switch points.

    All questions together take the job's seconds once more: what is not settled by then is said so.
    """
    best = draw(pick)
    shared, clock = _Grounds(), Clock(pick.job.solve.seconds)
    desks = {fault.id: _Alternatives(_whole(pick, fault), fault, draw, shared, clock) for fault in faults}
    rows = [(f, option) for f in faults for option in desks[f.id].pick.offer.options if option.fault == f.id]
    points: list[Callable[[], Any]] = [partial(desks[fault.id].switch_points) for fault in faults]
    others: list[Callable[[], Any]] = [partial(desks[fault.id].forced, best, option) for fault, option in rows]
    alone = len(faults) == 1  # what takes longest first; of many faults every option first, for the time may run out
    first, then = (points, others) if alone else (others, points)
    answers = at_once([*first, *then], lambda done, of: progress(f"{done} of {of} what-ifs"))
    head, tail = answers[: len(first)], answers[len(first) :]
    found, forced = (head, tail) if alone else (tail, head)
    switches = dict(zip((fault.id for fault in faults), found, strict=True))
    return [
        Comparison(
            plan=best,
            fault=fault,
            rows=tuple(
                row.model_copy(update={"switch": switches[fault.id]}) if best.takes(row.option) else row
                for row in forced
                if row.option.fault == fault.id
            ),
        )
        for fault in faults
    ]


def _whole(pick: Chosen, fault: Fault) -> Chosen:
    """The choice with every option of the fault in its offer."""
    if pick.offer.routes is not None:
        return pick
    return replace(pick, offer=options.build(pick.job, whole={fault.id}))


class _Grounds:
    """The ground that all questions about one choice share, made once."""

    def __init__(self) -> None:
        self._lock, self._made = Lock(), list[tuple[Chosen, Ground]]()

    def of(self, pick: Chosen) -> Ground:
        """That of a choice, prices and all."""
        with self._lock:
            for known, ground in self._made:
                if known.offer is pick.offer and known.solved is pick.solved:
                    return ground
            ground = Ground.of(pick.solved, pick.offer, pick.selection, Clock(pick.job.solve.seconds))
            self._made.append((pick, ground))
            return ground


class _Alternatives:
    """Asks what-ifs about one fault; where the hours turn out to matter, with routes that were searched for them."""

    def __init__(
        self, pick: Chosen, fault: Fault, draw: Callable[[Chosen], Plan], grounds: _Grounds, clock: Clock
    ) -> None:
        self.pick, self.fault, self.draw, self.grounds, self.clock = pick, fault, draw, grounds, clock
        self._lock, self._limited = Lock(), None if pick.hours_free else pick

    @property
    def limited(self) -> Chosen:
        """The choice with routes searched within the hours, searched at most once."""
        with self._lock:
            if self._limited is None:
                self._limited = choose.within_hours(self.pick)
            return self._limited

    def switch_points(self) -> SwitchPoints | None:
        """The switch points of the option that the plan tries first."""
        pick, keeps_hours = self.pick, lambda mix: not choose.too_long(self.pick.with_selection(mix))
        if pick.search is None:
            found = WhatIf(
                pick.solved, pick.offer, self.fault, pick.selection, keeps_hours, clock=self.clock
            ).switch_points()
        else:
            try:
                found = switching.points(pick, self.fault, keeps_hours, self.clock)
            except HoursDecideError:
                found = switching.points(self.limited, self.fault, keeps_hours, self.clock)
        return found and _with_pack_price(pick, self.fault, found)

    def _what_if(self, pick: Chosen) -> WhatIf:
        ground = self.grounds.of(pick)
        return WhatIf(
            pick.solved, pick.offer.without_outdone({self.fault.id}), self.fault, pick.selection, ground=ground,
            clock=self.clock,
        )  # fmt: skip

    def forced(self, best: Plan, option: Option) -> Forced:
        """The best plan that tries the option first."""
        pick, found = self._best_with(option)
        drawn = None if found.selection is None else self.draw(pick.with_selection(found.selection))
        return Forced(
            option=option,
            alone_minor=Alone(pick.job, pick.offer.quotes)(option)[1],
            plan=drawn,
            loses=_losers(best, drawn, self.fault),
            known=found.known,
        )

    def _best_with(self, option: Option) -> tuple[Chosen, ForcedMix]:
        """The best mix that tries the option first, and the choice that it is of: it keeps the hours and the stock."""
        pick = self.pick
        while (mix := (found := self._what_if(pick).forced(option)).selection) is not None:
            if pick.hours_free and choose.too_long(pick.with_selection(mix)):
                pick = self.limited
            elif short := choose.overdrawn(pick.offer, mix):
                told = choose.with_enough_pieces(pick, short)
                if told is None:
                    return pick, ForcedMix(option, None, known=False)
                pick = told
            else:
                break
        return pick, found


def _with_pack_price(pick: Chosen, fault: Fault, points: SwitchPoints) -> SwitchPoints:
    """The surcharge said as a pack's price, where a dearer pack is a surcharge on this option and on nothing else.

    That is: one quote, which no other option of any fault can buy and no order is topped up with or carried over a
    threshold by; with fallbacks also bought only where it is tried, and nothing of it ever given back.
    """
    taken = pick.selection.route_for(fault.id)
    if points.surcharge_minor is None or taken is None or taken.option is None or len(taken.option.lines) != 1:
        return points
    ((quote, units),) = ((line.quote, line.units) for line in taken.option.lines)
    users = sum(any(line.quote.id == quote.id for line in option.lines) for option in pick.offer.options)
    if quote.supplier is None or users > 1 or (terms := pick.job.supplier(quote.supplier)).has_threshold:
        return points
    if pick.search is not None and (terms.postage_minor or terms.trip_minutes or quote.refund_share):
        return points
    price = quote.price_minor + points.surcharge_minor // quote.packs_for(units)
    return points.model_copy(update={"pack_minor": price})


def _losers(best: Plan, other: Plan | None, fault: Fault) -> tuple[str, ...]:
    """Faults that stand a smaller chance in the other plan."""
    if other is None:
        return ()
    return tuple(
        c.fault.id for c in best.choices if c.fault.id != fault.id and other.choice(c.fault.id).chance < c.chance - 1e-9
    )
