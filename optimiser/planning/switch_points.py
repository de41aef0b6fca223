"""Switch points with fallbacks (model page, section 5), by asking again at other prices and chances.

The question is asked of the option wherever it stands: a surcharge, or another chance given sound parts and cause,
holds in every route of the fault that contains it, the rivals' too. The point is where it ceases to be the first step.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from typing import TypeVar

from optimiser.chances import steps_in
from optimiser.model.candidates import Offer
from optimiser.model.job import Fault
from optimiser.model.option import Option
from optimiser.model.plan import Selection, SwitchPoints
from optimiser.planning.choose import Chosen, Search, overdrawn, with_enough_pieces
from optimiser.solver.exact_solve import Clock
from optimiser.solver.narrowing import that_reach
from optimiser.solver.option_question import Levels, NotAnsweredError, Question, reached
from optimiser.solver.shrinking import Bounds

FINEST = 10_000
"""Parts of a certainty to which a chance is sought where chances count as they are, and told from a step where not."""
NOISE = 1e-9
Answer = TypeVar("Answer")


def points(
    pick: Chosen, fault: Fault, keeps_hours: Callable[[Selection], bool], clock: Clock | None = None
) -> SwitchPoints | None:
    """How far the price of the option tried first may rise, and its chance fall.

    ``clock`` is that of all questions together (None: this one may take the job's seconds). None where the plan begins
    otherwise for the fault, or is not proven; a point that the time did not allow is None. Raises
    ``HoursDecideError`` where a mix that decides does not keep the hours.
    """
    taken = pick.selection.route_for(fault.id)
    if pick.search is None or taken is None or taken.option is None or not pick.selection.outcome.proven:
        return None
    told_apart: Chosen | None = pick
    clock = clock or Clock(pick.job.solve.seconds)
    while told_apart is not None and told_apart.search is not None:
        try:
            return _points(_Asking(told_apart, told_apart.search, fault, taken.option, keeps_hours, clock))
        except _OverdrawnError as short:
            told_apart = with_enough_pieces(told_apart, short.quotes)
    return SwitchPoints(surcharge_minor=None, chance=None)


class _OverdrawnError(Exception):
    """A mix that decides takes more of these quotes than there are: they must be told apart first."""

    def __init__(self, quotes: frozenset[str]) -> None:
        self.quotes = quotes


def _points(asking: _Asking) -> SwitchPoints:
    if _answered(asking.look_round) is None:
        return SwitchPoints(surcharge_minor=None, chance=None)
    surcharge, fallen = _answered(asking.most_surcharge), _answered(asking.least_chance)
    chance, any_fall_loses = (None, False) if fallen is None else fallen
    return SwitchPoints(surcharge_minor=surcharge, chance=chance, any_fall_loses=any_fall_loses)


def _answered(question: Callable[[], Answer]) -> Answer | None:
    try:
        return question()
    except NotAnsweredError:
        return None


class _Asking:
    """Puts one question after the other about an option that is tried first, within the job's seconds in all."""

    def __init__(
        self,
        pick: Chosen,
        search: Search,
        fault: Fault,
        option: Option,
        keeps_hours: Callable[[Selection], bool],
        clock: Clock,
    ) -> None:
        self.pick, self.search, self.fault, self.option = pick, search, fault, option
        self.keeps_hours, self.clock = keeps_hours, clock
        self._bounds: Bounds | None = None

    def _offer(self, option: Option | None) -> Offer:
        """The offer with the option as it is asked about; None: without it in any route."""
        others = [other for other in self.search.faults[self.fault.id].options if other.key != self.option.key]
        found = self.search.asked(self.fault.id, others if option is None else [*others, option], self.clock.over)
        if found is None or found.routes is None:
            raise NotAnsweredError
        return found

    def _keeps_to_it(self, offer: Offer, mix: Selection) -> bool:
        """Whether a mix keeps the hours. Raises ``_OverdrawnError`` where it takes more of a quote than there is."""
        if short := overdrawn(offer, mix):
            raise _OverdrawnError(short)
        return self.keeps_hours(mix)

    def _asked(self, option: Option) -> Question:
        """The program with the option as it is asked about, in every route.

        Whatever its price and chance, the mix without it may be had: routes of which no mix comes to that are left out.
        """
        offer, most = self._offer(option), self.pick.selection.levels
        few, self._bounds = that_reach(self.pick.solved, offer, self.without_it, most, self._bounds)
        keeps = partial(self._keeps_to_it, offer)
        return Question(self.pick.solved, few, self.pick.selection, self.option, keeps, self.clock)

    def look_round(self) -> Levels:
        """The values of the mix without the option anywhere, which no price or chance falls behind."""
        offer = self._offer(None)
        self.without_it = reached(self.pick.solved, offer, partial(self._keeps_to_it, offer), self.clock)
        return self.without_it

    def most_surcharge(self) -> int:
        """The greatest surcharge up to which it stays.

        The mixes that begin with the option move with the surcharge, so against a rival of known worth the room is
        exact (``Question.room``). Rivals only lose by the surcharge: it stays at least up to the room against the rival
        at none, and at most up to the room against the rival without the option. Between these the room is asked for
        again where it seems to meet the surcharge at which the rival is reckoned, or half way where that says little.
        A rival that has lost nothing by so much loses nothing by less.
        """
        now = self._asked(self.option)
        far = self.without_it
        near = now.rival(now.settled(self.pick.selection.levels, far, money=True), far)
        stays = now.room(near)
        lost = now.room(far) + 1 if near != far else stays + 1
        low, high, halve = (0, stays), (stays + 1, stays), False
        while lost - stays > 1:
            surcharge = (stays + lost) // 2 if halve else min(max(_meeting(low, high), stays + 1), lost - 1)
            asked, before = self._asked(self.option.dearer(surcharge)), lost - stays
            rival = asked.rival(asked.settled(near, far, money=True), self.without_it)
            if rival == near:
                break
            room = now.room(rival)
            if room >= surcharge:
                stays, near, low = room, rival, (surcharge, room)
            else:
                lost, far, high = surcharge, rival, (surcharge, room)
            halve = 2 * (lost - stays) > before
        return stays

    def least_chance(self) -> tuple[float, bool]:
        """The chance down to which it stays, and whether it is lost by the least fall.

        In steps by which chances count the point is the greatest step not above it.
        """
        step, own = self.pick.job.settings.chance_step, self.option.chance
        count = steps_in(step) if step else FINEST
        near: Levels = self.pick.selection.levels
        far = self.without_it
        lost, top = 0, math.ceil(round(own * count, 6))
        stays = top
        while stays - lost > 1:
            middle = (stays + lost) // 2
            begins, best = self._begins_at(middle / count, near, far)
            if begins:
                stays, near = middle, best
            else:
                lost, far = middle, best
        point = min(own, stays / count)
        if not step:
            return (0.0 if stays == 1 else point), stays == top
        below = point - 1 / FINEST
        under = below > 0 and self._begins_at(below, near, far)[0]
        on_step = not under and stays / count < own + NOISE
        return (stays if on_step else lost) / count, stays == top and not under

    def _begins_at(self, chance: float, near: Levels, far: Levels) -> tuple[bool, Levels]:
        """Whether the best mix begins with the option at this chance; values lie between those at two others."""
        asked = self._asked(self.option.less_sure(chance))
        return asked.begins_with_it(asked.settled(near, far, money=False), far)


def _meeting(low: tuple[int, int], high: tuple[int, int]) -> int:
    """Where the room meets the surcharge on the line between one with room to spare and one without enough."""
    (stays, room), (lost, too_little) = low, high
    spare = room - stays
    return stays + spare * (lost - stays) // (spare + lost - too_little)
