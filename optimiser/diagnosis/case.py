"""One fault laid out for the search: its actions as bits, what each costs and moves, belief as arrays."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property, reduce
from math import inf, prod
from operator import or_
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from optimiser.diagnosis.belief import Belief, Table, likelihoods
from optimiser.diagnosis.evidence import Attempts, none_sound, not_cured, pieces_of, repair_of
from optimiser.diagnosis.shares import STOCK, Marks
from optimiser.model.evidence import FailedAttempt, Finding, OnTwin, Tried
from optimiser.model.job import Access, Check, Fault
from optimiser.model.option import Option
from optimiser.orders import AttemptCost, CashOf, Topping, ways_to_pay

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]


@dataclass(frozen=True)
class Case:
    """Everything that a fault's routes depend on.

    ``belief`` is as it stands after ``seen``; checks and pieces in ``seen`` are not offered again. ``options`` and
    ``checks`` are those that may be taken at all. ``access`` holds what is not open yet. ``cash_minor`` and ``minutes``
    are limits for the worst case, None for no limit; minutes are only reckoned as a limit where one is given.
    ``first_only`` holds the keys of options that are no fallback: tried as the first attempt of a branch or not at all;
    no path tries more than ``most_attempts``. ``tables`` hold the chances of a check's results given the cause, by
    check, where they are not as written. ``marks_of`` names what an action shares whatever was done before, as bits of
    ``marks``; what the first of them stand for is paid for once at the most, by ``tolls`` in minor units and minutes.
    No path may take a pack of short stock twice, and no route buys more than ``MOST_AHEAD`` quotes ahead.
    """

    fault: Fault
    belief: Belief
    options: Sequence[Option]
    checks: Sequence[Check]
    cash_of: CashOf
    seen: Sequence[Tried] = ()
    access: Mapping[str, Access] = field(default_factory=dict)
    today: date | None = None
    needed_by: date | None = None
    cash_minor: int | None = None
    minutes: int | None = None
    first_only: Collection[tuple[str, ...]] = ()
    most_attempts: int = 1000
    tables: Mapping[str, Table] = field(default_factory=dict)
    marks_of: Callable[[Check | Option], int] = lambda _: 0
    marks: Marks = field(default_factory=Marks)
    tolls: Sequence[tuple[int, int]] = ()


MOST_AHEAD = 2
"""So many lines at most does a route buy ahead."""


class Cost(NamedTuple):
    """What one action takes from the state in which it is taken, and what it shares with other faults, as bits."""

    cash_minor: int
    net_minor: int
    refund_minor: int
    minutes: int
    marks: int = 0
    topping: Topping = ()


class CaseLayout:
    """A case with its actions numbered: first the checks, then the options; a set of actions is a bit mask.

    Only what was done counts, not in which order: belief, open access, days and money are functions of the set.
    """

    def __init__(self, case: Case) -> None:
        self.case = case
        made = {entry.check for entry in case.seen if isinstance(entry, Finding)}
        self.checks = [check for check in case.checks if check.id not in made]
        self.options = list(case.options)
        self.causes = list(case.belief)
        tables = [case.tables.get(check.id) or likelihoods(check, self.causes) for check in self.checks]
        self.results = [list(table) for table in tables]
        self.tables = [np.array([[row[c] for c in self.causes] for row in table.values()]) for table in tables]
        self.n_checks = len(self.checks)
        self.n_actions = self.n_checks + len(self.options)
        names = {option.repair for option in self.options}
        self._tried = {name: Attempts(repair_of(case.fault, name), case.seen) for name in names}
        self._closes = [reduce(or_, (self._options_of[name] for name in _batches(o)), 0) for o in self.options]
        self._never = self._closed_from_the_start()
        self._first_only = sum(1 << self.n_checks + j for j, o in enumerate(self.options) if o.key in case.first_only)
        self._leading = sum(1 << self.n_checks + j for j, o in enumerate(self.options) if o.leads)
        self._named_access = [*(c.access for c in self.checks), *(o.access for o in self.options)]
        self._masses: dict[int, Floats] = {0: np.array([[case.belief[c] for c in self.causes]])}
        self._failures: dict[int, Floats] = {}
        self._failures_alike: dict[int, Floats] = {}  # of options of one repair
        self._waits = [self._wait(option) for option in self.options]
        self._latest = [self._latest_order(option) for option in self.options]
        dated = any(latest < inf for latest in self._latest)
        self._earliest = [self._comes(option) if dated else 0 for option in self.options]
        self._open_options: dict[int, list[int]] = {}
        self._attempt_costs: dict[tuple[int, int], tuple[AttemptCost, ...]] = {}
        self._costs: dict[tuple[int, int], tuple[Cost, ...]] = {}
        self._after: dict[tuple[int, int], list[Ints]] = {}
        self._opened: dict[tuple[int, bool], frozenset[str]] = {}

    def states(self, done: int, since: int = 0) -> int:
        """How many combinations of results a set of actions may have shown, of the checks from this one on."""
        return prod(len(self.results[k]) for k in range(since, self.n_checks) if done >> k & 1)

    def after_check(self, done: int, check: int) -> list[Ints]:
        """For each result of a check the states that those of a set become by it."""
        made = self.split(done)[0]
        if (made, check) not in self._after:
            low, results = self.states(made, check + 1), len(self.results[check])
            high, rest = np.divmod(np.arange(self.states(made)), low)
            self._after[made, check] = [(high * results + r) * low + rest for r in range(results)]
        return self._after[made, check]

    def leads(self, action: int) -> bool:
        """Whether an action may come before any order: a check, or an attempt that buys and waits for nothing."""
        return action < self.n_checks or bool(self._leading >> action & 1)

    def split(self, done: int) -> tuple[int, int]:
        """A set of actions as the checks made and the options tried."""
        checks = done & ((1 << self.n_checks) - 1)
        return checks, done - checks

    def actions(self, done: int) -> list[int]:
        """The actions that are still open: the options first, so that ties go to trying rather than to checking."""
        checks, tried = self.split(done)
        if tried not in self._open_options:
            self._open_options[tried] = self._options_after(tried)
        return self._open_options[tried] + [k for k in range(self.n_checks) if not checks >> k & 1]

    def _options_after(self, tried: int) -> list[int]:
        """The options that may be tried after these: not closed by them, and still in time."""
        before = self._bits(tried)
        if len(before) >= self.case.most_attempts:
            return []
        closed = self._never | tried | (self._first_only if tried & ~self._leading else 0)
        for j in before:
            closed |= self._closes[j - self.n_checks]
        days = sum(self._waits[j - self.n_checks] for j in before)
        able = (n for n in range(len(self.options)) if self._earliest[n] <= days <= self._latest[n])
        return [j for j in (n + self.n_checks for n in able) if not closed >> j & 1]

    def _wait(self, option: Option) -> int:
        """Days that an attempt takes from its order on; what was bought ahead is there."""
        if not option.ahead:
            return option.days
        lead = max((line.quote.lead_days for line in option.ordered), default=0)
        return lead + repair_of(self.case.fault, option.repair).lead_days

    @staticmethod
    def _comes(option: Option) -> int:
        """After how many days what was bought ahead is there: only from then on it is reckoned with."""
        return max((line.quote.lead_days for line in option.bought_ahead), default=0)

    def weight(self, done: int) -> Floats:
        """The chance of each state of a set of actions: its results seen, and every attempt in it failed."""
        checks, tried = self.split(done)
        return self.mass(checks) @ self.failing(tried)

    def failing(self, tried: int) -> Floats:
        """The chance under each cause that the attempts fail, given those that failed before the case."""
        if tried not in self._failures:
            self._failures[tried] = self._fail(tried)
        return self._failures[tried]

    def weight_if_all_fail(self, done: int) -> Floats:
        """No more than the chance of each state of a set of actions with every option there is failing too."""
        return self.mass(self.split(done)[0]) @ self._all_fail

    @cached_property
    def _all_fail(self) -> Floats:
        """No more than the chance under each cause that every option fails, as if any quotes could be put together.

        A ``scale`` below 1 is left out of it: such an option fails more often still.
        """
        factor = np.ones(len(self.causes))
        for name in {option.repair for option in self.options}:
            repair = repair_of(self.case.fault, name)
            sound = _some_set_sound([option for option in self.options if option.repair == name])
            for i, cause in enumerate(self.causes):
                old, cure = self._tried[name].failed(cause), repair.cure(cause)
                before = not_cured(cure, old)
                none = none_sound(old) * (1 - sound)
                factor[i] *= (1 - cure * (1 - none)) / before if before > 0 else 0.0
        return factor

    def costs(self, done: int, action: int) -> tuple[Cost, ...]:
        """The ways to pay for an action after those done, with the access that it opens; none where it is closed."""
        before = done if self.case.access else self.split(done)[1]  # where access is free checks open nothing
        if (before, action) not in self._costs:
            self._costs[before, action] = tuple(self._reckoned(done, action))
        return self._costs[before, action]

    def _reckoned(self, done: int, action: int) -> Iterator[Cost]:
        named = self._named_access[action]
        price = sum(self._access(a).price_minor for a in named if a not in self._open(done, own_work=False))
        opening = sum(self._access(a).minutes for a in named if a not in self._open(done, own_work=True))
        if action < self.n_checks:
            check = self.checks[action]
            cash = check.cost_minor + price
            yield Cost(cash, cash, 0, check.minutes + opening, self.case.marks_of(check))
            return
        option = self.options[action - self.n_checks]
        for own in self._attempt_cost(self.split(done)[1] & ~self._leading, action):
            minutes = option.minutes + own.trip_minutes + (0 if option.by_workshop else opening)
            marks = own.marks | self.case.marks_of(option)
            yield Cost(own.cash_minor + price, own.net_minor + price, own.refund_minor, minutes, marks, own.topping)

    def _attempt_cost(self, tried: int, action: int) -> tuple[AttemptCost, ...]:
        if (tried, action) not in self._attempt_costs:
            before = tuple(self.options[j - self.n_checks] for j in self._bits(tried))
            found = self.case.cash_of(self.options[action - self.n_checks], before)
            self._attempt_costs[tried, action] = ways_to_pay(found)
        return self._attempt_costs[tried, action]

    @cached_property
    def words(self) -> int:
        """How many words of 64 bits hold all marks; not asked before every mark is given out."""
        return max(1, -(-len(self.case.marks) // 64))

    @cached_property
    def once(self) -> npt.NDArray[np.uint64]:
        """The marks that no path may have twice."""
        return self.in_words([self.case.marks.of_kind(STOCK)]).ravel()

    @cached_property
    def bought_ahead(self) -> npt.NDArray[np.uint64]:
        """The marks that say that a quote is bought ahead, one each."""
        return self.in_words([self.case.marks.bought_ahead]).ravel()

    def in_words(self, marks: Sequence[int]) -> npt.NDArray[np.uint64]:
        """Marks by words of 64 bits, one row each."""
        rows = [[mark >> 64 * word & 2**64 - 1 for word in range(self.words)] for mark in marks]
        return np.array(rows, dtype=np.uint64).reshape(len(marks), self.words)

    def _access(self, name: str) -> Access:
        return self.case.access.get(name) or Access(id=name)

    def _open(self, done: int, *, own_work: bool) -> frozenset[str]:
        """Access named by the actions done; a workshop's is paid for, but its minutes are not the owner's."""
        if (done, own_work) not in self._opened:
            self._opened[done, own_work] = frozenset(
                name
                for a in self._bits(done)
                if not (own_work and a >= self.n_checks and self.options[a - self.n_checks].by_workshop)
                for name in self._named_access[a]
            )
        return self._opened[done, own_work]

    def mass(self, checks: int) -> Floats:
        """The chance of each combination of results together with each cause."""
        if checks not in self._masses:
            last = checks.bit_length() - 1
            before = self.mass(checks ^ 1 << last)
            self._masses[checks] = (before[:, None, :] * self.tables[last][None]).reshape(-1, len(self.causes))
        return self._masses[checks]

    def _fail(self, tried: int) -> Floats:
        by_repair: dict[str, int] = defaultdict(int)
        for j in self._bits(tried):
            by_repair[self.options[j - self.n_checks].repair] |= 1 << j
        factor = np.ones(len(self.causes))
        for name, some in by_repair.items():
            if some not in self._failures_alike:
                new = [self.options[j - self.n_checks] for j in self._bits(some)]
                self._failures_alike[some] = np.array([self._failing(name, cause, new) for cause in self.causes])
            factor *= self._failures_alike[some]
        return factor

    def _failing(self, repair: str, cause: str, new: Sequence[Option]) -> float:
        """The chance that these options, all of one repair, leave a cause too.

        One of them may be less sure than the repair (``scale``): whether the repair suits is still drawn once, and then
        with this chance whether the option's attempt counts; the others keep their own.
        """
        tried, scale = self._tried[repair], min(option.scale for option in new)
        failing = tried.failing(cause, [pieces_of(option) for option in new])
        if scale == 1:
            return failing
        others = [pieces_of(option) for option in new if option.scale == 1]
        return scale * failing + (1 - scale) * tried.failing(cause, others)

    @cached_property
    def _options_of(self) -> Mapping[str | tuple[str], int]:
        """The options of each batch, and those of each repair without parts."""
        found: dict[str | tuple[str], int] = defaultdict(int)
        for j, option in enumerate(self.options, start=self.n_checks):
            for name in _batches(option):
                found[name] |= 1 << j
        return found

    @cached_property
    def numbers(self) -> Mapping[tuple[tuple[str, ...], tuple[str, ...]], int]:
        """The action that each option is, by its key and what it has bought ahead."""
        return {(option.key, option.ahead): j for j, option in enumerate(self.options, start=self.n_checks)}

    def _closed_from_the_start(self) -> int:
        """Options that share a piece with an attempt made before, or are a repair without parts that was tried."""
        attempts = [entry for entry in self.case.seen if isinstance(entry, FailedAttempt)]
        on_twins = (e.attempt for e in self.case.seen if isinstance(e, OnTwin) and isinstance(e.attempt, FailedAttempt))
        used = {piece.name for attempt in (*attempts, *on_twins) for piece in attempt.pieces}
        bare = {attempt.repair for attempt in attempts if not attempt.pieces}
        closed = 0
        for j, option in enumerate(self.options):
            if {line.quote.id for line in option.lines} & used or (not option.lines and option.repair in bare):
                closed |= 1 << self.n_checks + j
        return closed

    def _latest_order(self, option: Option) -> float:
        """After how many days the option may be ordered at the latest: quotes still valid, and there when needed."""
        today, needed_by = self.case.today, self.case.needed_by
        if today is None:
            return inf
        ends = [line.quote.valid_until for line in option.ordered if line.quote.valid_until is not None]
        days: list[float] = [(end - today).days for end in ends]
        if needed_by is not None:
            days.append((needed_by - today).days - self._wait(option))
        return min(days, default=inf)

    @staticmethod
    def _bits(mask: int) -> list[int]:
        return [i for i in range(mask.bit_length()) if mask >> i & 1]


def _batches(option: Option) -> frozenset[str | tuple[str]]:
    """The quotes of an option, and what its pieces on the shelf are of one batch with; its repair where it has none."""
    if not option.lines:
        return frozenset({(option.repair,)})
    return frozenset(name for line in option.lines for name in (line.quote.id, *line.quote.came_from))


def _some_set_sound(options: Sequence[Option]) -> float:
    """No less than the chance that some option of one repair has sound parts throughout: any quotes put together."""
    by_parts: dict[frozenset[str], dict[tuple[str, str], float]] = {}
    for option in options:
        quotes = by_parts.setdefault(frozenset(line.quote.part for line in option.lines), {})
        quotes |= {(line.quote.part, line.quote.id): line.quote.good_chance for line in option.lines}
    none = 1.0
    for parts, quotes in by_parts.items():
        none *= 1 - prod(1 - prod(1 - good for (own, _), good in quotes.items() if own == part) for part in parts)
    return 1 - none
