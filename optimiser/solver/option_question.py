"""What a mix says to one question about an option's price or chance, its routes searched for that question."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from optimiser.model.candidates import Offer
from optimiser.model.job import Job
from optimiser.model.option import Option
from optimiser.model.plan import Outcome, Selection
from optimiser.solver.climbing import Climb, climb_rest, nothing_taken, selection
from optimiser.solver.exact_solve import Clock, Ending, measured, solve
from optimiser.solver.solve import solved
from optimiser.solver.what_if import HoursDecideError, WhatIf

Levels = Mapping[str, int]
"""What each stage reaches, in their order."""


class NotAnsweredError(Exception):
    """A question that was not answered exactly in the time allowed."""


def reached(job: Job, offer: Offer, keeps_hours: Callable[[Selection], bool], clock: Clock) -> Levels:
    """What the stages reach in the best mix. Raises ``HoursDecideError`` where it takes longer than the hours."""
    found = solved(job, offer, clock=clock)
    if not found.found.outcome.proven:
        raise NotAnsweredError
    if not keeps_hours(found.any_of_equals()):
        raise HoursDecideError
    return found.found.levels


class Question(WhatIf):
    """A program whose fault may begin with one option or with anything else, what is in no mix of use left out.

    ``known`` are values that the first stages are known to reach: they are held instead of solved.
    """

    def __init__(
        self,
        job: Job,
        offer: Offer,
        chosen: Selection,
        option: Option,
        keeps_hours: Callable[[Selection], bool],
        clock: Clock,
    ) -> None:
        """``option`` is what ``chosen`` tries first, ``clock`` the time for all questions together."""
        (fault,) = (fault for fault in job.faults if fault.id == option.fault)
        super().__init__(job, offer, fault, chosen, keeps_hours)
        self.option, self.clock = option, clock
        self.mix.narrowed = True

    def settled(self, one: Levels, other: Levels, *, money: bool) -> Levels:
        """The first stages that reach the same in two mixes between which this one lies; of money only if asked."""
        found: dict[str, int] = {}
        for stage in self.mix.stages:
            if one[stage.name] != other[stage.name] or (stage.counted is None and not money):
                break
            found[stage.name] = one[stage.name]
        return found

    def rival(self, known: Levels, far: Levels) -> Levels:
        """What the stages reach in the best mix that does not begin with the option; such a mix comes to ``far``."""
        if len(known) == len(self.mix.stages):
            return known
        self._all_open()
        for column in self._routes_with(self.option.key):
            column.upBound = 0
        return self._best(known, far).levels

    def room(self, rival: Levels) -> int:
        """The greatest surcharge at which a mix that begins with the option is no worse; negative where none is.

        A surcharge on what is tried first falls on every path of the route, once: it moves the cash and the expected
        cost of all that begin with the option, and nothing else.
        """
        found = self._surcharge(self.option, Climb(Ending.CLOSED, {}, dict(rival), Outcome(proven=True)))
        if self.clock.left <= 0:
            raise NotAnsweredError
        return -1 if found is None else found

    def begins_with_it(self, known: Levels, far: Levels) -> tuple[bool, Levels]:
        """Whether a mix as good as the best begins with the option; and what the stages reach, or ``far``.

        As for a price, equal profit is enough whatever it costs. ``far`` may be had without the option: where no mix
        that begins with it comes to as much, nothing else is asked.
        """
        if not self._may_begin(known, far):
            return False, far
        self._all_open()
        best = self._best(known, far)
        if any(best.values.get(column.name) for column in self._routes_with(self.option.key)):
            return True, best.levels
        self._only_with(self.option.key)
        for stage in self.mix.stages[: self.mix.stages.index(self.mix.decisive) + 1]:
            stage.at_least(best.levels[stage.name])
            stage.at_most(best.levels[stage.name])
        ending, answer = solve(self.mix, self.mix.cash, self.clock.left)
        if answer is None:
            if ending is not Ending.IMPOSSIBLE:
                raise NotAnsweredError
            return False, best.levels
        if not self.keeps_hours(selection(self.mix, Climb(ending, answer.values, {}, Outcome(proven=True)))):
            raise HoursDecideError
        return True, best.levels

    def _may_begin(self, known: Levels, far: Levels) -> bool:
        """Whether a mix that begins with the option reaches ``far`` in the first stage that is not known.

        The best is sought: with ``far`` as a row and nothing to make small, HiGHS takes seconds to find that there is
        no such mix.
        """
        self._only_with(self.option.key)
        *held, stage = self.mix.stages[: len(known) + 1]
        for before in held:
            before.at_least(known[before.name])
        sign = -1 if stage.maximise else 1
        ending, answer = solve(self.mix, sign * stage.measures, self.clock.left)
        if ending is not Ending.CLOSED or answer is None:
            return ending is not Ending.IMPOSSIBLE
        return sign * measured(stage.measures, answer.values) <= sign * far[stage.name]

    def _best(self, known: Levels, far: Levels) -> Climb:
        """The best mix under the bounds as they stand; one comes to ``far``.

        Raises ``HoursDecideError`` where it takes longer than the hours.
        """
        found = climb_rest(self.mix, self.mix.stages, known, self.clock, nothing_taken(self.mix), floors=far)
        if found.ending is not Ending.CLOSED:
            raise NotAnsweredError
        if not self.keeps_hours(selection(self.mix, found)):
            raise HoursDecideError
        return found
