"""What is really the matter: drawn from a seed, each draw belonging to its thing, the same for every policy."""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping
from math import exp, log, sqrt

from optimiser.diagnosis.belief import likelihoods, prior
from optimiser.model.base import Record
from optimiser.model.job import SOMETHING_ELSE, Fault, Job, Repair


def drawn(seed: object, *thing: object) -> float:
    """A number in [0, 1) that belongs to this thing in this world."""
    return random.Random("|".join(map(str, (seed, *thing)))).random()


def one_of(chances: Mapping[str, float], number: float) -> str:
    """The outcome at this height of the stacked chances."""
    reached = 0.0
    for name, chance in chances.items():
        reached += chance
        if number < reached:
            return name
    return max(chances, key=lambda name: chances[name])


class Truth:
    """One world of a job: causes, whether repairs suit them, whether batches are sound, what checks show."""

    def __init__(self, job: Job, seed: object) -> None:
        self.job, self.seed = job, seed
        self.faults = {fault.id: fault for fault in job.faults}
        self.goods = {quote.id: quote.good_chance for quote in job.quotes}
        self.goods |= {name: owned.good_chance for name, owned in job.shelf.items()}
        self.causes = {fault.id: self._cause(fault) for fault in job.faults}

    def result(self, fault: str, check: str) -> str:
        """What the check shows."""
        found = next(c for c in self.faults[fault].checks if c.id == check)
        table = likelihoods(found, list(prior(self.faults[fault])))
        shown = {result: row[self.causes[fault]] for result, row in table.items()}
        return one_of(shown, drawn(self.seed, "check", fault, check))

    def suits(self, fault: str, repair: str) -> bool:
        """Whether the repair, with sound parts, cures what is the matter; the same for all where a group shares it."""
        found = next(r for r in self.faults[fault].repairs if r.id == repair)
        whose = self.faults[fault].twin if self.shared(fault) else fault
        return drawn(self.seed, "suits", whose, repair) < found.cure(self.causes[fault])

    def shared(self, fault: str) -> bool:
        """Whether the fault has a cause that all of its group have."""
        return self.causes[fault] in self.faults[fault].shared_causes

    def works_too(self, fault: str) -> bool:
        """Whether its twins work once a repair that tells causes apart has cured the fault."""
        return self.shared(fault)

    def sound(self, batch: str) -> bool:
        """Whether all pieces of a quote, or of a row on the shelf, are sound."""
        return drawn(self.seed, "sound", batch) < self.goods[batch]

    def cures(self, fault: str, repair: str, batches: Iterable[str]) -> bool:
        """Whether an attempt with pieces of these batches cures."""
        return self.suits(fault, repair) and all(map(self.sound, batches))

    def _cause(self, fault: Fault) -> str:
        """Members of a group have a shared cause together, else take the group's with the root of its strength."""
        odds = prior(fault)
        own = drawn(self.seed, "cause", fault.id)
        if fault.twin is None:
            return one_of(odds, own)
        shared = fault.shared_causes
        all_have = one_of(odds, drawn(self.seed, "shared", fault.twin))
        if all_have in shared:
            return all_have
        rest = {cause: chance for cause, chance in odds.items() if cause not in shared}
        apart = {cause: chance / sum(rest.values()) for cause, chance in rest.items()}
        together = drawn(self.seed, "together", fault.id) < sqrt(self.job.settings.twin_strength)
        return one_of(apart, drawn(self.seed, "common", fault.twin) if together else own)


def mistyped(job: Job, by: float, seed: object) -> Job:
    """The job as it really is where every typed chance is off by a normal error of so much log-odds; 0 and 1 stay."""

    def off(chance: float, *thing: object) -> float:
        if not 0 < chance < 1:
            return chance
        return 1 / (1 + (1 - chance) / chance * exp(-_error(by, seed, *thing)))

    def repair_off(fault: str, repair: Repair) -> Record:
        if repair.chance is not None:
            return _with(repair, chance=off(repair.chance, fault, repair.id))
        cures = {c: off(p, fault, repair.id, c) for c, p in (repair.cures or {}).items()}
        return _with(repair, cures=cures)

    def fault_off(fault: Fault) -> Record:
        key = fault.twin or fault.id
        causes = {c: exp(log(odds) + _error(by, seed, key, c)) for c, odds in fault.causes.items()}
        checks = tuple(_check_off(fault, check, by, seed) for check in fault.checks)
        repairs = tuple(repair_off(fault.id, repair) for repair in fault.repairs)
        rest = off(fault.something_else, key, SOMETHING_ELSE)
        return _with(fault, causes=causes, checks=checks, repairs=repairs, something_else=rest)

    quotes = tuple(_with(quote, good_chance=off(quote.good_chance, quote.id)) for quote in job.quotes)
    owned = tuple(_with(row, good_chance=off(row.good_chance, n)) for n, row in enumerate(job.owned))
    return job.model_copy(update={"faults": tuple(map(fault_off, job.faults)), "quotes": quotes, "owned": owned})


def _check_off(fault: Fault, check, by: float, seed: object) -> Record:
    table = likelihoods(check, list(prior(fault)))
    causes = list(prior(fault))
    odds = {r: {c: table[r][c] * exp(_error(by, seed, fault.id, check.id, r, c)) for c in causes} for r in table}
    column = {c: sum(odds[r][c] for r in odds) for c in causes}
    return _with(check, results={r: {c: odds[r][c] / column[c] for c in causes} for r in odds})


def _error(by: float, seed: object, *thing: object) -> float:
    return random.Random("|".join(map(str, (seed, "off", *thing)))).gauss(0, by)


def _with(record: Record, **changed: object) -> Record:
    return record.model_copy(update=changed)
