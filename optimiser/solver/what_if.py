"""Why this and not that, exactly: options forced, and how far the chosen one's price and chance may move.

Every answer comes from re-solving the same program under other bounds. With fallbacks an option is forced as what is
tried first; what follows it is open, and so is everything else.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property, partial

from optimiser.chances import counted, counted_for_safety, steps_in
from optimiser.model.candidates import Offer
from optimiser.model.job import Fault, Job
from optimiser.model.option import Option
from optimiser.model.plan import LAST, PROFIT, Outcome, Selection, SwitchPoints, per_minor
from optimiser.solver.climbing import Climb, climb, climb_rest, release, selection
from optimiser.solver.exact_solve import Clock, Ending, measured, solve
from optimiser.solver.formulation import build
from optimiser.solver.narrowing import Ground, narrowed
from optimiser.solver.program import Expression, Level, Mix, Values, Variable, job_budget, total

MILLION = 1_000_000


@dataclass(frozen=True)
class ForcedMix:
    """The best mix with one option taken; no ``selection`` where no mix holds it or, not ``known``, none was found."""

    option: Option
    selection: Selection | None
    known: bool


class HoursDecideError(Exception):
    """A mix that decides a switch point takes longer than the hours, which this program does not limit."""


class WhatIf:
    """Questions about one fault's options, put to one program that holds every option of that fault."""

    def __init__(
        self,
        job: Job,
        offer: Offer,
        fault: Fault,
        chosen: Selection,
        keeps_hours: Callable[[Selection], bool] = lambda _: True,
        ground: Ground | None = None,
        clock: Clock | None = None,
    ) -> None:
        """``offer`` must hold the fault whole (see ``options.build``).

        ``keeps_hours`` judges mixes where the program does not limit the hours itself. ``ground`` is what several
        questions may share (None: made here when it is needed), ``clock`` the time of all of them (None: the job's).
        """
        self.job, self.offer, self.fault, self.chosen, self.keeps_hours = job, offer, fault, chosen, keeps_hours
        self.clock = clock or Clock(job.solve.seconds)
        self.taken = chosen.route_for(fault.id)
        self._ground = ground

    @cached_property
    def mix(self) -> Mix:
        """The program that holds every option of the fault, which may be left."""
        mix = build(self.job, self.offer, self.chosen)
        self.left = mix.continuous(0, 1)
        everything = [mix.take[p.key] for p in mix.by_fault.get(self.fault.id, [])]
        mix.definition("taken_or_left", total([self.left, *everything]) >= 1)
        return mix

    def forced(self, option: Option) -> ForcedMix:
        """The best mix that takes the option, nearest to the plan among equals."""
        if self.taken is not None and self.taken.first_step == option.key:
            return ForcedMix(option, self.chosen, known=True)
        clock = self.clock
        if clock.over():
            return ForcedMix(option, None, known=False)
        ground = self._ground or Ground.of(self.job, self.offer, self.chosen, clock)
        keep = ground.beginning_with(self.fault.id, option.key)
        left = narrowed(self.job, ground.offer, clock, ground.start, ground.table, keep, {self.fault.id})
        if left.impossible:
            return ForcedMix(option, None, known=True)
        mix = left.program(last=self.chosen)
        close_in = partial(left.close_in, mix)
        levels = [*mix.stages, mix.ties[0]]
        found = climb_rest(mix, levels, left.known, clock, None, proven=close_in, floors=left.floors)
        if found.ending in (Ending.IMPOSSIBLE, Ending.UNKNOWN):
            return ForcedMix(option, None, known=found.ending is Ending.IMPOSSIBLE)
        return ForcedMix(option, selection(mix, found), known=True)

    def switch_points(self) -> SwitchPoints | None:
        """Up to which price and down to which chance the option that is tried first stays the choice.

        A surcharge falls on it as the first thing tried, so on every route that begins with it alike. None where the
        fault is left or begins with a check, and where the plan, or the mix without the option, is not proven: a point
        would be a guess; and where a mix that decides takes longer than the hours. The chance is None where a grave
        fault's routes count up to ``good_enough`` and differ.
        """
        if self.taken is None or self.taken.option is None or not self.chosen.outcome.proven:
            return None
        option = self.taken.option
        without = self._without(option)
        if without.ending is not Ending.CLOSED or not self.keeps_hours(selection(self.mix, without)):
            return None
        try:
            surcharge = self._surcharge(option, without)
        except HoursDecideError:
            return None
        if surcharge is None:
            return None
        chance, any_fall_loses = self._chance_point(option, without)
        return SwitchPoints(surcharge_minor=surcharge, chance=chance, any_fall_loses=any_fall_loses)

    def _routes_with(self, key: tuple[str, ...]) -> list[Variable]:
        """The columns of the routes that begin with an option."""
        proposals = self.mix.by_fault.get(self.fault.id, [])
        return [self.mix.take[p.key] for p in proposals if p.first_step == key]

    def _only_with(self, key: tuple[str, ...]) -> None:
        """Only mixes that begin with the option: every other route of the fault is closed, and one is taken."""
        self._all_open()
        inside = self.mix.forced = frozenset(column.name for column in self._routes_with(key))
        for proposal in self.mix.by_fault.get(self.fault.id, []):
            column = self.mix.take[proposal.key]
            if column.name not in inside:
                column.upBound = 0
        self.left.upBound = 0

    def _all_open(self) -> None:
        release(self.mix)
        self.left.upBound, self.mix.forced = 1, frozenset()

    def _without(self, option: Option) -> Climb:
        self._all_open()
        for column in self._routes_with(option.key):
            column.upBound = 0
        start = {column.name: 0 for column in self.mix.integers}
        return climb(self.mix, self.mix.stages, self.clock, start)

    def _values(self) -> list[Level]:
        """The stages that a surcharge cannot touch: all but the last; for aim profit the safety stage alone."""
        return [stage for stage in self.mix.stages if stage.name not in (*LAST, PROFIT)]

    def _surcharge(self, option: Option, without: Climb) -> int | None:
        """The larger of what is left by the cheapest mix that beats the rival, and of the room at equal values."""
        points = []
        values = self._values()
        decided = next((i for i, s in enumerate(values) if self._gain(s, without) > 0), len(values))
        for beaten in range(decided, len(values)):
            least_cash = self._least_cash(option, values[: beaten + 1], without)
            if least_cash is not None:
                points.append(job_budget(self.job) - least_cash)
        room = self._room(option, values, without)
        if room is not None:
            points.append(room)
        return max(points, default=None)

    def _gain(self, stage: Level, without: Climb) -> int:
        return self.chosen.levels[stage.name] - without.levels[stage.name]

    def _hold(self, option: Option, held: list[Level], without: Climb, *, beat: bool) -> None:
        """Only mixes that contain the option and reach the rival's values, beating it in the last one if asked.

        The rival may be of a program with other routes, and its values need not be steps of this one's.
        """
        self._only_with(option.key)
        for stage in held:
            least = without.levels[stage.name] + (beat and stage is held[-1])
            stage.at_least(-(-least // stage.step) * stage.step)

    def _least_cash(self, option: Option, held: list[Level], without: Climb) -> int | None:
        """The least cash of a mix that contains the option and beats the rival in the last of these stages."""
        if without.levels[held[-1].name] >= held[-1].high:
            return None
        self._hold(option, held, without, beat=True)
        answer = self._decided(self.mix.cash)
        return None if answer is None else measured(self.mix.cash, answer)

    def _decided(self, objective: Expression, step: int | None = None) -> Values | None:
        """The best mix as the bounds stand. Raises ``HoursDecideError`` where it takes longer than the hours."""
        ending, answer = solve(self.mix, objective, self.clock.left, step)
        if answer is None or ending is not Ending.CLOSED:
            return None
        if not self.keeps_hours(selection(self.mix, Climb(ending, answer.values, {}, Outcome(proven=True)))):
            raise HoursDecideError
        return answer.values

    def _room(self, option: Option, values: list[Level], without: Climb) -> int | None:
        """``max min(remaining - cash, rival's cost - cost)`` over the mixes that reach its values, rounded down.

        In the unit of the stage in which money decides; a surcharge is whole minor units.
        """
        self._hold(option, values, without, beat=False)
        decisive = self.mix.decisive
        rival = without.levels[decisive.name] * (-1 if decisive.maximise else 1)
        self.mix.rival.lowBound = self.mix.rival.upBound = rival / decisive.unit
        answer = self._decided(-decisive.unit * self.mix.room, step=1)
        self.mix.rival.lowBound = self.mix.rival.upBound = None
        if answer is None:
            return None
        cost = measured(decisive.measures, answer) * (-1 if decisive.maximise else 1)
        left = job_budget(self.job) - measured(self.mix.cash, answer)
        return min(left, (rival - cost) // per_minor(decisive.name))

    def _chance_point(self, option: Option, without: Climb) -> tuple[float | None, bool]:
        """Model section 5: only the option's own chance falls, so only the stages that count its fault lose by it.

        Chances are those that count, and the point is cut to a step of them. Where several routes begin with the option
        the chances of all of them fall by as much, which is exact where one stage counts the fault.
        """
        *safety, last = [stage for stage in self.mix.stages if stage.name not in LAST]
        graded = [stage for stage in safety if any(key[0] == self.fault.id for key in stage.counted or ())]
        if graded and len(self._routes_with(option.key)) > 1:
            return None, False
        if any(self._gain(stage, without) for stage in safety if stage not in graded):
            return 0.0, False
        shown = option.chance if self.taken is None else self.taken.chance
        step = 0 if last.name == PROFIT and not graded else self.job.settings.chance_step
        chance = counted(shown, step)
        point = self._fallen(counted(shown, 0) if last.name == PROFIT else chance, last, without)
        for stage in graded:
            point = self._fallen_in_steps(chance, stage, point, without)
        point = max(Fraction(0), point)
        return float(point // Fraction(1, steps_in(step)) / steps_in(step) if step else point), point >= chance

    def _fallen(self, chance: Fraction, stage: Level, without: Climb) -> Fraction:
        """Where the last stage falls to the rival's value."""
        gain = self._gain(stage, without)
        if stage.name != PROFIT:
            return chance - Fraction(gain, MILLION) / Fraction(repr(self.fault.importance))
        if not self.fault.sale_gain_minor:  # no chance earns anything: where money decides, it is lost or kept at any
            return Fraction(0) if gain >= 0 else Fraction(2)
        return chance - Fraction(gain, self.fault.sale_gain_minor)

    def _fallen_in_steps(self, chance: Fraction, stage: Level, last: Fraction, without: Climb) -> Fraction:
        """Where the safety stage falls below the rival's value; where it equals that, ``last`` decides."""
        good_enough, step = self.job.settings.good_enough, self.job.settings.safety_step
        millionth = Fraction(1, MILLION) / Fraction(repr(self.fault.importance))
        level = counted_for_safety(chance, good_enough, step) - self._gain(stage, without) * millionth
        above: Fraction | float = level
        if step:
            steps = steps_in(step)
            on_step = Fraction(round(level * steps), steps)
            if abs(level - on_step) > millionth:
                return Fraction(math.ceil(level * steps), steps)
            level, above = on_step, on_step + Fraction(1, steps)
            above = above if above <= Fraction(repr(good_enough)) else math.inf
        elif level >= Fraction(repr(good_enough)):
            above = math.inf
        return Fraction(min(above, max(level, last)))
