"""The exact adaptive optimum of tiny jobs: plain recursion over everything that may have been seen, money and shelf.

Written from the job as it is typed, without the program's belief, options or orders. The jobs: no twins, no accesses,
no shelf at first, single pieces in packs of one, every part in one fault alone, all results of a check written out.
"""

from __future__ import annotations

from collections.abc import Iterator
from copy import copy
from functools import cache
from itertools import chain, combinations, product

from optimiser.model.job import SOMETHING_ELSE, Fault, Job
from tests.bench.played.policies import Policy
from tests.bench.played.vehicle import Buy, Look, Vehicle

Event = tuple[str, ...]
"""("saw", check, result), or ("failed", repair, quote...)."""
Seen = frozenset[Event] | None
"""What was seen on a fault; None once it is cured."""
State = tuple[tuple[Seen, ...], int, frozenset[str]]
"""What was seen on each fault, the money, and the quotes that lie on the shelf."""


class Optimum:
    """A tiny job as a decision process."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.faults = job.faults
        self.quotes = {quote.id: quote for quote in job.quotes}
        self.terms = {terms.id: terms for terms in job.suppliers}
        self.best = cache(self._best)
        self.weights = cache(self._weights)

    @property
    def value(self) -> float:
        """Expected weighted fixes of the best policy there is."""
        return self.best(self.start)

    @property
    def start(self) -> State:
        """Nothing seen, nothing bought."""
        return tuple(frozenset() for _ in self.faults), self.job.pot.remaining_minor, frozenset()

    def value_of(self, policy: Policy) -> float:
        """Expected weighted fixes of a policy, every answer followed with its chance."""
        return self._followed(policy, Vehicle(self.job, _Told()), self.start[0])

    # What may be believed.

    def _weights(
        self, place: int, seen: frozenset[Event]
    ) -> tuple[tuple[float, str, frozenset[str], frozenset[str]], ...]:
        """Every world of a fault with its weight: cause, repairs that suit, quotes that are sound."""
        fault = self.faults[place]
        odds = sum(fault.causes.values())
        prior = {c: (1 - fault.something_else) * o / odds for c, o in fault.causes.items()}
        parts = {part for repair in fault.repairs for part in repair.parts}
        mine = [quote for quote in self.job.quotes if quote.part in parts]
        found = []
        for cause, share in (prior | {SOMETHING_ELSE: fault.something_else}).items():
            for suits in product([True, False], repeat=len(fault.repairs)):
                for sound in product([True, False], repeat=len(mine)):
                    weight = share
                    for repair, fits in zip(fault.repairs, suits, strict=True):
                        chance = repair.chance if repair.chance is not None else (repair.cures or {}).get(cause, 0.0)
                        weight *= chance if fits else 1 - chance
                    for quote, good in zip(mine, sound, strict=True):
                        weight *= quote.good_chance if good else 1 - quote.good_chance
                    fit = frozenset(r.id for r, fits in zip(fault.repairs, suits, strict=True) if fits)
                    good_ones = frozenset(q.id for q, good in zip(mine, sound, strict=True) if good)
                    for event in seen:
                        if event[0] == "saw":
                            weight *= _shows(fault, event[1], event[2], cause)
                        elif event[1] in fit and good_ones.issuperset(event[2:]):
                            weight = 0.0
                    if weight > 0:
                        found.append((weight, cause, fit, good_ones))
        return tuple(found)

    def cures(self, place: int, seen: frozenset[Event], repair: str, quotes: tuple[str, ...]) -> float:
        """The chance that an attempt cures."""
        worlds = self.weights(place, seen)
        total = sum(world[0] for world in worlds)
        return sum(w for w, _, fit, good in worlds if repair in fit and good.issuperset(quotes)) / total

    def shows(self, place: int, seen: frozenset[Event], check: str) -> dict[str, float]:
        """The chance of each result of a check."""
        fault, worlds = self.faults[place], self.weights(place, seen)
        total = sum(world[0] for world in worlds)
        results = next(c for c in fault.checks if c.id == check).results
        chances = {r: sum(w * _shows(fault, check, r, cause) for w, cause, _, _ in worlds) / total for r in results}
        return {result: chance for result, chance in chances.items() if chance > 0}

    # What may be done.

    def _best(self, state: State) -> float:
        return max(chain([0.0], self._looks(state), self._attempts(state), self._orders(state)))

    def _looks(self, state: State) -> Iterator[float]:
        faults, money, shelf = state
        for place, seen in self._open(faults):
            made = {event[1] for event in seen if event[0] == "saw"}
            for check in self.faults[place].checks:
                if check.id not in made and check.cost_minor <= money:
                    left = money - check.cost_minor
                    yield sum(
                        chance * self.best((_put(faults, place, seen | {("saw", check.id, result)}), left, shelf))
                        for result, chance in self.shows(place, seen, check.id).items()
                    )

    def _attempts(self, state: State) -> Iterator[float]:
        faults, money, shelf = state
        for place, seen in self._open(faults):
            for repair in self.faults[place].repairs:
                on_shelf = [[q for q in sorted(shelf) if self.quotes[q].part == part] for part in repair.parts]
                if repair.price_minor > money or (not repair.parts and ("failed", repair.id) in seen):
                    continue
                for quotes in product(*on_shelf):
                    yield self._attempt(state, place, seen, repair.id, quotes, money - repair.price_minor)

    def _attempt(
        self, state: State, place: int, seen: frozenset[Event], repair: str, quotes: tuple[str, ...], money: int
    ) -> float:
        faults, _, shelf = state
        back = sum(self.quotes[q].deposit_minor for q in quotes)
        refunds = sum(round(self.quotes[q].refund_share * self.quotes[q].price_minor + 1e-9) for q in quotes)
        chance = self.cures(place, seen, repair, quotes)
        left = shelf - set(quotes)
        cured = self.faults[place].importance
        if chance:
            cured += self.best((_put(faults, place, None), money + back, left - self._of(place)))
        failed = 0.0
        if chance < 1:
            known = _put(faults, place, seen | {("failed", repair, *quotes)})
            failed = self.best((known, money + back + refunds, left))
        return chance * cured + (1 - chance) * failed

    def _orders(self, state: State) -> Iterator[float]:
        """Any set of quotes of open faults that were neither tried nor lie on the shelf, in one go."""
        faults, money, shelf = state
        wanted = []
        for place, seen in self._open(faults):
            tried = {quote for event in seen if event[0] == "failed" for quote in event[2:]}
            wanted += sorted(self._of(place) - tried - shelf)
        for size in range(1, len(wanted) + 1):
            for some in combinations(wanted, size):
                due = self._bill(some)
                if due is not None and due <= money:
                    yield self.best((faults, money - due, shelf.union(some)))

    def _bill(self, quotes: tuple[str, ...]) -> int | None:
        goods: dict[str, int] = {}
        for quote in (self.quotes[q] for q in quotes):
            goods[quote.supplier] = goods.get(quote.supplier, 0) + quote.price_minor
        total = sum(goods.values()) + sum(self.quotes[q].deposit_minor for q in quotes)
        for supplier, worth in goods.items():
            terms = self.terms[supplier]
            if worth < terms.minimum_order_minor:
                return None
            if terms.free_over_minor is None or worth < terms.free_over_minor:
                total += terms.postage_minor
        return total

    def _of(self, place: int) -> frozenset[str]:
        parts = {part for repair in self.faults[place].repairs for part in repair.parts}
        return frozenset(quote.id for quote in self.job.quotes if quote.part in parts)

    @staticmethod
    def _open(faults: tuple[Seen, ...]) -> Iterator[tuple[int, frozenset[Event]]]:
        return ((place, seen) for place, seen in enumerate(faults) if seen is not None)

    # A policy followed through every answer.

    def _followed(self, policy: Policy, vehicle: Vehicle, faults: tuple[Seen, ...]) -> float:
        step = policy(vehicle.job)
        if step is None:
            return 0.0
        if isinstance(step, Buy):
            return self._followed(policy, _after(vehicle, step, None), faults)
        name = step.fault if isinstance(step, Look) else step.option.fault
        place = next(n for n, fault in enumerate(self.faults) if fault.id == name)
        seen = faults[place]
        assert seen is not None
        if isinstance(step, Look):
            return sum(
                chance * self._followed(policy, _after(vehicle, step, result),
                                        _put(faults, place, seen | {("saw", step.check, result)}))
                for result, chance in self.shows(place, seen, step.check).items()
            )  # fmt: skip
        quotes = tuple(vehicle.batch.get(line.quote.id, line.quote.id) for line in step.option.lines)
        chance = self.cures(place, seen, step.option.repair, quotes)
        value = 0.0
        if chance > 0:
            value += chance * self.faults[place].importance
            value += chance * self._followed(policy, _after(vehicle, step, True), _put(faults, place, None))
        if chance < 1:
            known = _put(faults, place, seen | {("failed", step.option.repair, *quotes)})
            value += (1 - chance) * self._followed(policy, _after(vehicle, step, False), known)
        return value


class _Told:
    """Answers what it is told to."""

    def __init__(self, answer: str | bool | None = None) -> None:
        self.answer = answer

    def result(self, *_: object) -> str:
        return str(self.answer)

    def cures(self, *_: object) -> bool:
        return bool(self.answer)


def _after(vehicle: Vehicle, step, answer: str | bool | None) -> Vehicle:
    """A copy of the vehicle after a step with this answer."""
    other = copy(vehicle)
    other.entries, other.left = list(vehicle.entries), dict(vehicle.left)
    other.batch, other.opened = dict(vehicle.batch), set(vehicle.opened)
    other.answers = _Told(answer)
    other.do(step)
    if other.least_minor < 0:
        raise AssertionError("over the pot")
    return other


def _shows(fault: Fault, check: str, result: str, cause: str) -> float:
    return next(c for c in fault.checks if c.id == check).results[result][cause]


def _put(faults: tuple[Seen, ...], place: int, seen: Seen) -> tuple[Seen, ...]:
    return (*faults[:place], seen, *faults[place + 1 :])
