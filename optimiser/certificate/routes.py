"""The witness on one route: every leaf of its tree again, what it may do, what it costs, how likely it is.

Chances are exact fractions over the causes. A branch that comes up with chance w is known in floats to some 1e-15 / w
only, so that much is let pass below it.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Generator, Iterator, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from typing import NamedTuple

from optimiser.certificate.belief import NEAR, NOTHING, Masses, Tables, cure, none_sound, not_cured
from optimiser.certificate.costs import Costs
from optimiser.certificate.groups import counted, tables, used_for_all
from optimiser.certificate.options import Quotes, licensed_work, option_wrong
from optimiser.model.evidence import Evidence, FailedAttempt, Finding, Piece
from optimiser.model.job import Fault, Job
from optimiser.model.option import Line, Option
from optimiser.model.route import CURED, NOT_CURED, AttemptStep, Branch, CheckStep, Node, Route, Stop

MOST_AHEAD = 2
"""So many lines at most does a route buy ahead."""


@dataclass(frozen=True)
class Path:
    """How a node is come to: the chance of that together with each cause, the checks made, the options that failed."""

    masses: Masses
    checks: tuple[str, ...] = ()
    tried: tuple[Option, ...] = ()

    @property
    def reach(self) -> Fraction:
        """The chance of coming here."""
        return sum(self.masses.values(), NOTHING)


class TreeSums(NamedTuple):
    """What a tree comes to from a node on; the first three weighted with the chance of coming there."""

    chance: Fraction = NOTHING
    net_minor: Fraction = NOTHING
    minutes: Fraction = NOTHING
    cash_minor: int = 0
    worst_minutes: int = 0


Findings = Generator[str, None, TreeSums]
"""What is wrong, as it is found; in the end the sums."""


@dataclass(frozen=True)
class RouteWitness:
    """One route with all that it is held against; ``belief`` is over the fault's causes before the route."""

    job: Job
    fault: Fault
    route: Route
    belief: Masses
    quotes: Quotes

    def wrong(self) -> Iterator[str]:
        """Everything that does not hold."""
        for option in dict.fromkeys(attempts_of(self.route.first)):
            yield from option_wrong(self.job, self.fault, option, self.quotes)
            chance = 1 - sum(self._failing(Path(self.belief), option).values(), NOTHING)
            if _off(option.chance, chance):
                yield f"chance {option.chance} of {option.repair} is not {float(chance)}"
        yield from self._certain_lines() if self.job.settings.fallbacks else self._single()
        tally = yield from self._node(self.route.first, Path(self.belief))
        yield from self._figures(tally)

    @cached_property
    def _seen(self) -> Collection[Evidence]:
        return self.job.seen.get(self.fault.id, ())

    @cached_property
    def _costs(self) -> Costs:
        certain = {x.quote.id: x.units for x in self.route.certain if x.quote.id not in self.route.ahead}
        return Costs(
            self.job, self.quotes, certain, self.route.relies_on, {x.quote.supplier or "" for x in self._ahead}
        )

    @cached_property
    def _ahead(self) -> list[Line]:
        """What is bought ahead."""
        return [line for line in self.route.certain if line.quote.id in self.route.ahead]

    @cached_property
    def _tables(self) -> Tables:
        return tables(self.job, self.fault)

    @cached_property
    def _before(self) -> Mapping[tuple[str, str], tuple[list[frozenset[Piece]], bool]]:
        """What was tried before the plan, by repair and cause; whether that was cured for all the group."""
        known = ((repair.id, cause) for repair in self.fault.repairs for cause in self.belief)
        return {(repair, cause): counted(self.job, self.fault, repair, cause) for repair, cause in known}

    @cached_property
    def _spent(self) -> frozenset[str]:
        """Quotes and shelf rows that did not help on this fault before."""
        tried = {piece.name for e in self._seen if isinstance(e, FailedAttempt) for piece in e.pieces}
        kept = (name for name, owned in self.job.shelf.items() if owned.kept_from == self.fault.id)
        return frozenset(
            {*tried, *used_for_all(self.job, self.fault), *kept, *self.job.tried_on.get(self.fault.id, ())}
        )

    def _certain_lines(self) -> Iterator[str]:
        """What is sure to be bought is bought by the first attempt of every branch, or ahead."""
        if len({line.quote.id for line in self.route.certain}) != len(self.route.certain):
            yield "a quote stands twice in the certain lines"
        yield from self._bought_ahead()
        certain = [line for line in self.route.certain if line not in self._ahead]
        firsts = list(first_attempts(self.route.first))
        if certain and None in firsts:
            yield "a branch stops without the certain lines"
        for line in certain:
            if line.units < 1 or line.wanted not in self._wanted(line, firsts):
                yield f"{line.quote.id}: certain pieces are not what a repair wants"
            for option in firsts:
                own = [x.units for x in (option.lines if option else ()) if x.quote == line.quote]
                if option is not None and max(own, default=0) < line.units:
                    yield f"{option.repair} does not buy what is certain of {line.quote.id}"

    def _bought_ahead(self) -> Iterator[str]:
        """At most two lines, each for an attempt that wants all of it, where that may spare something."""
        ahead = {line.quote.id: line.units for line in self._ahead}
        if len(ahead) > MOST_AHEAD or ahead.keys() != set(self.route.ahead):
            yield f"more than {MOST_AHEAD} lines are bought ahead, or some that are not sure"
        users = list(attempts_of(self.route.first))
        wanted = [(x.quote.id, x.units) for option in users for x in option.lines if x.quote.id in option.ahead]
        if any(units > ahead.get(name, 0) for name, units in wanted):
            yield "an attempt takes more than what is bought ahead"
        for line in self._ahead:
            name, terms = line.quote.id, self.job.supplier(line.quote.supplier or "")
            if line.quote.supplier is None or (name, line.units) not in wanted or line.wanted != line.units:
                yield f"{name} is bought ahead, but no attempt wants all of it"
            spared = (terms.postage_minor, terms.trip_minutes, terms.minimum_order_minor, line.quote.pack - 1)
            if not any(spared):
                yield f"{name} is bought ahead, but nothing is spared by it"

    @staticmethod
    def _wanted(line: Line, firsts: list[Option | None]) -> set[int]:
        """What the first attempts want of it before rounding up to its set, as far as the line goes."""
        own = (x for option in firsts for x in (option.lines if option else ()) if x.quote == line.quote)
        return {min(line.units, x.wanted) for x in own}

    def _single(self) -> Iterator[str]:
        """Without fallbacks one option is tried, all its parts in the shared orders, and that is that."""
        first = self.route.first
        if not isinstance(first, AttemptStep) or any(not isinstance(b.then, Stop) for b in first.then):
            yield "more than one attempt, though the job allows no fallbacks"
        elif self.route.certain != first.option.lines or self.route.ahead or first.option.ahead:
            yield "parts of a single attempt are not all certain"

    def _figures(self, tally: TreeSums) -> Iterator[str]:
        route = self.route
        if _off(route.chance, tally.chance):
            yield f"chance {route.chance} of the route is not {float(tally.chance)}"
        net_minor = tally.net_minor + sum(line.quote.deposit_minor * line.units for line in self._ahead)
        if not _same(route.net_minor, net_minor):
            yield f"expected net cost {route.net_minor} is not {float(net_minor)}"
        if not _same(route.minutes, tally.minutes):
            yield f"expected minutes {route.minutes} are not {float(tally.minutes)}"
        if route.cash_minor != tally.cash_minor:
            yield f"the dearest path takes {tally.cash_minor}, not {route.cash_minor} minor units"
        if route.worst_minutes != tally.worst_minutes:
            yield f"the longest path takes {tally.worst_minutes}, not {route.worst_minutes} minutes"

    def _node(self, node: Node, path: Path) -> Findings:
        if isinstance(node, CheckStep):
            return (yield from self._check(node, path))
        if isinstance(node, AttemptStep):
            return (yield from self._attempt(node, path))
        return TreeSums()

    def _check(self, step: CheckStep, path: Path) -> Findings:
        check = next((c for c in self.fault.checks if c.id == step.check), None)
        if check is None:
            yield f"no check {step.check}"
            return TreeSums()
        made = {entry.check for entry in self._seen if isinstance(entry, Finding)}
        if step.check in path.checks or step.check in made:
            yield f"check {step.check} is made twice"
        if licensed_work(self.job, self.fault):
            yield f"check {step.check}: licensed work"
        if (step.cash_minor, step.minutes) != (check.cost_minor, check.minutes):
            yield f"check {step.check}: cost or minutes are not the check's"
        likely = self._tables[step.check]
        outcomes = {result: {c: path.masses[c] * row[c] for c in path.masses} for result, row in likely.items()}
        after = replace(path, checks=(*path.checks, step.check))
        below = yield from self._branches(step.check, step.then, outcomes, path.reach, after)
        return _added(step, path.reach * step.cash_minor, path.reach, below)

    def _attempt(self, step: AttemptStep, path: Path) -> Findings:
        name, option = step.option.repair, step.option
        yield from self._closed(step, path)
        ordered = not all(leading(before) for before in path.tried)
        wrong = self._costs.later_wrong(step) if ordered else self._costs.first_wrong(step)
        yield from (f"{name}: {what}" for what in wrong)
        failed = self._failing(path, option)
        outcomes = {CURED: {c: mass - failed[c] for c, mass in path.masses.items()}, NOT_CURED: failed}
        after = replace(path, tried=(*path.tried, option))
        below = yield from self._branches(name, step.then, outcomes, path.reach, after)
        if any(branch.result == CURED and not isinstance(branch.then, Stop) for branch in step.then):
            yield f"{name}: something is done after the cure"
        uncured = sum(failed.values(), NOTHING)
        tally = _added(step, path.reach * step.net_minor - uncured * step.refund_minor, path.reach, below)
        return tally._replace(chance=tally.chance + path.reach - uncured)

    def _branches(
        self, name: str, branches: tuple[Branch, ...], outcomes: Mapping[str, Masses], reach: Fraction, after: Path
    ) -> Generator[str, None, list[TreeSums]]:
        """Hold the branches of a step against its outcomes, and go down each."""
        stated = {branch.result: branch.chance for branch in branches}
        if len(stated) != len(branches) or not stated.keys() <= outcomes.keys():
            yield f"{name}: branches are not its results"
        for result, masses in outcomes.items():
            chance = sum(masses.values(), NOTHING) / reach if reach else NOTHING
            if reach and _off(stated.get(result, 0.0), chance, reach):
                yield f"{name}: chance of {result} is not {float(chance)}"
        below = []
        for branch in branches:
            masses = outcomes.get(branch.result) or dict.fromkeys(after.masses, NOTHING)
            below.append((yield from self._node(branch.then, replace(after, masses=masses))))
        return below

    def _closed(self, step: AttemptStep, path: Path) -> Iterator[str]:
        """Whether the option may still be tried after what was tried on the path and before the plan."""
        settings, option = self.job.settings, step.option
        name = option.repair
        if len(path.tried) >= settings.most_attempts:
            yield f"{name}: more than {settings.most_attempts} attempts"
        quotes = {line.quote.id for line in option.lines}
        lines = [line for before in path.tried for line in before.lines]
        batches = {name for line in lines for name in (line.quote.id, *line.quote.came_from)}
        wanted = {name for line in option.lines for name in line.quote.came_from}
        if quotes & self._spent or (quotes | wanted) & batches:
            yield f"{name}: a quote or piece that did not help before"
        bare = {before.repair for before in path.tried if not before.lines}
        bare |= {e.repair for e in self._seen if isinstance(e, FailedAttempt) and not e.pieces}
        if not option.lines and name in bare:
            yield f"{name}: tried before without parts"
        if settings.today is None or not path.tried:
            return
        days = 0
        for before in path.tried:
            days = self._done(before, days)
        ordered = [line.quote for line in option.lines if line.quote.id not in option.ahead]
        ordered += [self.quotes[quote] for quote, _ in step.topping if quote in self.quotes]
        for quote in ordered:
            if quote.valid_until is not None and days > (quote.valid_until - settings.today).days:
                yield f"{name}: {quote.id} has lapsed by then"
        done = self._done(option, days)
        if settings.needed_by is not None and done > (settings.needed_by - settings.today).days:
            yield f"{name}: done too late after what was tried before"

    def _done(self, option: Option, days: int) -> int:
        """After how many days an attempt is made that is begun after so many; what is ahead came from the first on."""
        work = sum(repair.lead_days for repair in self.fault.repairs if repair.id == option.repair)
        leads = {line.quote.id: line.quote.lead_days for line in option.lines}
        there = max((leads[name] for name in option.ahead), default=0)
        return max(there, days + max((lead for q, lead in leads.items() if q not in option.ahead), default=0)) + work

    def _failing(self, path: Path, option: Option) -> dict[str, Fraction]:
        """The chance of coming here and of the option failing then, together with each cause."""
        on_path = [_pieces(before) for before in path.tried if before.repair == option.repair]
        failing = {}
        for cause, mass in path.masses.items():
            sets, done = self._before.get((option.repair, cause), ([], False))
            curing, sets = cure(self.fault, option.repair, cause), [*sets, *on_path]
            so_far = not_cured(curing, none_sound(sets))
            # a cause under which the failures seen could not be: held to fail again, as zeros are where entries clash
            again = not_cured(curing, none_sound([*sets, _pieces(option)])) / so_far if so_far and not done else 1
            failing[cause] = mass * again
        return failing


def _added(step: CheckStep | AttemptStep, net_minor: Fraction, reach: Fraction, below: list[TreeSums]) -> TreeSums:
    return TreeSums(
        chance=sum((tally.chance for tally in below), NOTHING),
        net_minor=net_minor + sum(tally.net_minor for tally in below),
        minutes=reach * step.minutes + sum(tally.minutes for tally in below),
        cash_minor=step.cash_minor + max((tally.cash_minor for tally in below), default=0),
        worst_minutes=step.minutes + max((tally.worst_minutes for tally in below), default=0),
    )


def _pieces(option: Option) -> frozenset[Piece]:
    return frozenset(Piece(line.quote.id, line.quote.good_chance) for line in option.lines)


def _off(stated: float, chance: Fraction, reach: Fraction | int = 1) -> bool:
    """Whether a chance is not what it is given out for, once a branch of chance ``reach`` has come up."""
    return not abs(stated - float(chance)) <= NEAR + 1e-14 / max(float(reach), 1e-300)


def _same(stated: float, amount: Fraction) -> bool:
    return math.isclose(stated, float(amount), rel_tol=1e-10, abs_tol=1e-6)


def steps_of(node: Node) -> Iterator[CheckStep | AttemptStep]:
    """Every step of a tree."""
    if not isinstance(node, Stop):
        yield node
        for branch in node.then:
            yield from steps_of(branch.then)


def leading(option: Option) -> bool:
    """Whether an attempt may come before any order: it buys nothing and waits for nothing."""
    return not option.days and not any(line.quote.supplier for line in option.lines)


def attempts_of(node: Node) -> Iterator[Option]:
    """What is tried anywhere in a tree."""
    return (step.option for step in steps_of(node) if isinstance(step, AttemptStep))


def first_attempts(node: Node) -> Iterator[Option | None]:
    """What every branch tries first of all that buys or waits; None for one that ends without it."""
    if isinstance(node, Stop):
        yield None
    elif isinstance(node, AttemptStep) and not leading(node.option):
        yield node.option
    else:
        for branch in node.then:
            yield from first_attempts(branch.then)
