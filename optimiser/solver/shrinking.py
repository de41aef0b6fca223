"""Which routes may be in a mix as good as one that is known: all others are left out before a program is stated.

Prices are put on what faults compete for: cash, hours, the stages that come before, the goods that waive a postage.
With prices in place of those limits nothing couples the faults but what they pay for once (first orders, accesses).
Which of these a mix pays for, and which postage it has waived, is its *state*. In one state the best mix takes of each
fault the route worth most, so no mix in that state is worth more than the sum of these; and none that holds a certain
route is worth more than that sum with this route in the place of its fault's best (Lagrange's relaxation, Geoffrion
1974, with the few charges that couple its parts written out). A route is left out where all states say that with it
less comes about than is known to be possible: it is then in no best mix, whatever the prices. Good prices only leave
out more; they are sought with cutting planes (Kelley 1960).

Bounds are sums of floats. Stages are whole, so a bound is raised by more than its rounding and cut to whole numbers.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from optimiser.model.candidates import Offer, Proposal
from optimiser.model.job import Job
from optimiser.model.plan import ALL_FAULTS, COST_AND_TIME, NET_COST, PROFIT, SAFETY, SIXTIETHS
from optimiser.solver import worth
from optimiser.solver.backends import least_of_cuts

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

MOST_CELLS = 200_000
"""Faults times states that are gone through for one bound: some milliseconds."""
MOST_ROUNDS = 30
"""Prices tried for one stage."""
NEAR = 1e-4
"""Of what a stage may come to: prices are good enough when none could lower the bound by more."""
NOISE = 1e-9
"""Of the amounts added up, far more than doubles lose in a sum of some thousand."""


class Stage(NamedTuple):
    """A stage of the mix, to be as great as can be: what each route adds, what shared minor units and minutes take."""

    name: str
    own: Floats
    per_minor: float
    per_minute: float
    sign: int
    constant: float = 0.0

    def value(self, level: int) -> float:
        """What a level of the mix is here."""
        return self.sign * level


class Charge(NamedTuple):
    """What is paid once, whoever uses it; ``supplier`` names whose postage it is where goods may waive that."""

    minor: int
    minutes: int
    users: Bools
    supplier: str | None = None
    free_over_minor: int = 0


@dataclass(frozen=True)
class RouteTable:
    """All routes of an offer as columns, a row each, fault by fault."""

    job: Job
    proposals: tuple[Proposal, ...]
    faults: tuple[str, ...]
    fault: Ints
    cash: Floats
    minutes: Floats
    goods: Mapping[str, Floats]
    charges: tuple[Charge, ...]
    stages: tuple[Stage, ...]

    @classmethod
    def of(cls, job: Job, offer: Offer) -> RouteTable:
        """The routes that an offer puts forward."""
        grouped: dict[str, list[Proposal]] = defaultdict(list)
        for proposal in offer.proposals:
            grouped[proposal.fault].append(proposal)
        proposals = tuple(p for routes in grouped.values() for p in routes)
        goods, deposits, lost = _goods(proposals)
        counts = np.array([len(routes) for routes in grouped.values()], dtype=np.int64)
        paid: Floats = sum(goods.values(), np.zeros(len(proposals)))
        return cls(
            job=job,
            proposals=proposals,
            faults=tuple(grouped),
            fault=np.repeat(np.arange(len(grouped)), counts),
            cash=np.array([p.cash_minor for p in proposals], dtype=float) + paid + deposits,
            minutes=np.array([p.minutes for p in proposals], dtype=float),
            goods=goods,
            charges=tuple(_charges(job, proposals)),
            stages=tuple(_stages(job, proposals, paid + lost)),
        )

    @property
    def budget_minor(self) -> int:
        """What may be paid out."""
        return max(0, self.job.pot.remaining_minor)

    def all_open(self) -> Bools:
        """Every route."""
        return np.ones(len(self.proposals), dtype=np.bool_)


def _goods(proposals: Sequence[Proposal]) -> tuple[dict[str, Floats], Floats, Floats]:
    """By supplier no more than what a route's certain lines cost; their deposits, and what of those is lost.

    Whole packs of what one fault alone may want, of anything else its part of the packs.
    """
    users: dict[str, set[str]] = defaultdict(set)
    for proposal in proposals:
        for line in proposal.certain:
            users[line.quote.id].add(proposal.fault)
    goods: dict[str, Floats] = defaultdict(lambda: np.zeros(len(proposals)))
    deposits, lost = np.zeros(len(proposals)), np.zeros(len(proposals))
    for row, proposal in enumerate(proposals):
        for line in proposal.certain:
            quote = line.quote
            if quote.supplier is not None:
                alone = len(users[quote.id]) == 1
                packs = quote.packs_for(line.units) if alone else line.units / quote.pack
                goods[quote.supplier][row] += quote.price_minor * packs
                deposits[row] += quote.deposit_minor * quote.pack * packs
                lost[row] += quote.deposit_minor * (quote.pack * packs - line.units)
    return goods, deposits, lost


def _charges(job: Job, proposals: Sequence[Proposal]) -> list[Charge]:
    """First orders with their postage and trip, accesses with their price, and with the owner's minutes."""
    suppliers, access = {s.id: s for s in job.suppliers}, {a.id: a for a in job.access}
    users: dict[tuple[str, str], list[int]] = defaultdict(list)
    for row, proposal in enumerate(proposals):
        for kind, names in (("order", proposal.suppliers), ("price", proposal.access), ("own", proposal.own_access)):
            for name in names:
                users[kind, name].append(row)
    charges = []
    for (kind, name), rows in sorted(users.items()):
        used = np.zeros(len(proposals), dtype=np.bool_)
        used[rows] = True
        if kind == "order" and name in suppliers:
            terms = suppliers[name]
            waived = terms.postage_minor > 0 and terms.free_over_minor is not None
            free = (name, terms.free_over_minor or 0) if waived else (None, 0)
            charges.append(Charge(terms.postage_minor, terms.trip_minutes, used, *free))
        elif kind == "price":
            charges.append(Charge(access[name].price_minor, 0, used))
        elif kind == "own":
            charges.append(Charge(0, access[name].minutes, used))
    return [charge for charge in charges if charge.minor or charge.minutes]


def _stages(job: Job, proposals: Sequence[Proposal], paid: Floats) -> list[Stage]:
    """The stages in their order (``objectives.add_levels``); ``paid`` is what routes take of shared orders for good."""

    def column(own: worth.Worth) -> Floats:
        return np.array([own.get(p.key, 0) for p in proposals], dtype=float)

    stages, hour = [], job.hour_worth_minor
    if job.settings.safety_first and job.is_unsafe:
        stages.append(Stage(SAFETY, column(worth.for_safety(job, proposals)), 0, 0, 1))
    net = np.array([p.net_whole_minor for p in proposals], dtype=float) + paid
    fixes = job.settings.aim == "fixes"
    if fixes:
        stages.append(Stage(ALL_FAULTS, column(worth.in_fixes(job, proposals)), 0, 0, 1))
    else:
        time = hour / 600 * np.array([p.expected_tenths for p in proposals], dtype=float)
        stages.append(Stage(PROFIT, column(worth.in_sale(job, proposals)) - net - time, 1, hour / 60, 1, constant=0.5))
    if fixes and hour:
        own = column(worth.in_cost_and_time(job, proposals)) + SIXTIETHS * paid
        stages.append(Stage(COST_AND_TIME, -own, SIXTIETHS, hour, -1))
    else:
        stages.append(Stage(NET_COST, -net, 1, 0, -1))
    return stages


@dataclass(frozen=True)
class Mixes:
    """The mixes that are asked about: those of the ``open`` routes that reach the ``held`` levels, in their order.

    Of the ``taken`` faults one of those must be.
    """

    table: RouteTable
    open: Bools
    held: Mapping[str, int]
    taken: Collection[str] = ()

    def bounds(self, stage: str, start: Floats | None = None, rounds: int = MOST_ROUNDS) -> Bounds:
        """What mixes with each route come to at most in a stage, at the best prices found from ``start`` on."""
        names = [s.name for s in self.table.stages]
        states = _States(self, names.index(stage))
        if start is None or len(start) != len(states.usual):
            prices = states.priced(states.usual, states.most, rounds)
        else:
            prices = states.priced(start, np.minimum(states.most, 4 * start + states.usual), rounds)
        return Bounds(self.table.stages[names.index(stage)], *states.with_each(prices), prices)


@dataclass(frozen=True)
class Bounds:
    """What no mix passes in a stage that is to be as great as can be; ``by_route`` none with that route."""

    stage: Stage
    greatest: float
    by_route: Floats
    prices: Floats

    def reach(self, level: int) -> Bools:
        """The routes with which a mix may come to a level."""
        return self.by_route >= self.stage.value(level)

    @property
    def level(self) -> int | None:
        """The best level that a mix may come to; None where there is no mix."""
        return None if np.isinf(self.greatest) else self.stage.sign * int(self.greatest)


class _States:
    """The states of some mixes in one stage, and what they come to at some prices.

    Prices are one row of floats: of a minor unit, of an hour's minute where hours are limited, of each held level, of
    each minor unit of goods that counts towards a waiver.
    """

    def __init__(self, mixes: Mixes, stage: int) -> None:
        table = mixes.table
        self.table, self.rows = table, np.flatnonzero(mixes.open)
        self.fault = table.fault[self.rows]
        self.stages = table.stages[: stage + 1]
        self.held = np.array([s.value(mixes.held[s.name]) - s.constant for s in self.stages[:-1]])
        self.limit = table.job.time.minutes
        self.own = np.array([s.own[self.rows] for s in self.stages])
        self.cash, self.minutes = table.cash[self.rows].copy(), table.minutes[self.rows].copy()
        self.charges = self._written_out([self._of_rows(charge) for charge in table.charges])
        self.waiving = [n for n, charge in enumerate(self.charges) if charge.supplier is not None]
        self._lay_out({table.faults.index(name) for name in mixes.taken if name in table.faults})

    def _of_rows(self, charge: Charge) -> Charge:
        return charge._replace(users=charge.users[self.rows])

    def _written_out(self, charges: Sequence[Charge]) -> list[Charge]:
        """The charges that states tell apart: as many as may be, the greatest first. What is left out costs nothing.

        What one fault alone may use is simply that fault's own.
        """
        timed = self.limit is not None or any(s.per_minute for s in self.stages)
        shared = []
        for charge in charges:
            of = np.unique(self.fault[charge.users])
            if len(of) == 0 or not (charge.minor or timed):
                continue
            if len(of) > 1 or charge.supplier is not None:
                shared.append(charge)
                continue
            self.cash += charge.minor * charge.users
            self.minutes += charge.minutes * charge.users
            taken = [s.per_minor * charge.minor + s.per_minute * charge.minutes for s in self.stages]
            self.own -= np.array(taken)[:, None] * charge.users
        shared.sort(key=lambda charge: -charge.minor - self.table.job.hour_worth_minor * charge.minutes / 60)
        size, out = max(1, len(self.table.faults)), []
        for charge in shared:
            size *= 4 if charge.supplier is not None else 2
            if size > MOST_CELLS:
                break
            out.append(charge)
        return out

    def _lay_out(self, taken: Collection[int]) -> None:
        """The sets of charges by waived postages as a grid, and where in it each route belongs."""
        count, waivers = len(self.charges), len(self.waiving)
        self.on = np.arange(1 << count)[:, None] >> np.arange(count) & 1
        self.waived = np.arange(1 << waivers)[:, None] >> np.arange(waivers) & 1
        self.goods = np.zeros((len(self.rows), waivers))
        for column, n in enumerate(self.waiving):
            goods = self.table.goods.get(self.charges[n].supplier or "")
            self.goods[:, column] = 0 if goods is None else goods[self.rows]
        self.over = np.array([self.charges[n].free_over_minor for n in self.waiving], dtype=float)
        placed = self.on[:, self.waiving]
        self.possible = ~(self.waived[None, :, :] > placed[:, None, :]).any(2)
        saved = np.array([self.charges[n].minor for n in self.waiving], dtype=float)
        minor = np.array([charge.minor for charge in self.charges], dtype=float)
        self.charged = (self.on @ minor)[:, None] - (self.waived @ saved)[None, :]
        self.spent = self.on @ np.array([charge.minutes for charge in self.charges], dtype=float)
        users = np.array([charge.users for charge in self.charges], dtype=np.int64).reshape(count, len(self.rows))
        self.needs = (1 << np.arange(count)) @ users if count else np.zeros(len(self.rows), dtype=np.int64)
        self.order = np.lexsort((self.needs, self.fault))
        place = (self.fault << count) + self.needs
        self.at, self.begins = np.unique(place[self.order], return_index=True)
        self.floor = np.zeros(len(self.table.faults))
        self.floor[list(taken)] = -np.inf

    @cached_property
    def usual(self) -> Floats:
        """Prices to begin with: what the stage is worth spread over the pot."""
        return self.most / 50

    @cached_property
    def most(self) -> Floats:
        """Prices that are not passed: they would be far beyond what anything brings."""
        spans = self._spans
        span, timed = spans[-1], self.limit is not None
        money = 50 * span / max(1, self.table.budget_minor)
        minutes = [50 * span / max(1, self.limit or 0)] if timed else []
        goods = money + sum(s.per_minor for s in self.stages)
        return np.array([money, *minutes, *(50 * span / other for other in spans[:-1]), *([goods] * len(self.waiving))])

    @cached_property
    def _spans(self) -> list[float]:
        return [max(1.0, self._span(own)) for own in self.own]

    def _span(self, own: Floats) -> float:
        """How far apart mixes are in a stage, about."""
        low, high = np.zeros(len(self.table.faults)), np.zeros(len(self.table.faults))
        np.minimum.at(low, self.fault, own)
        np.maximum.at(high, self.fault, own)
        return float(high.sum() - low.sum())

    def _parted(self, prices: Floats) -> tuple[float, float, Floats, Floats]:
        timed = self.limit is not None
        held = prices[1 + timed : 1 + timed + len(self.held)]
        return prices[0], prices[1] if timed else 0.0, np.append(held, 1.0), prices[1 + timed + len(self.held) :]

    def _allowed(self, prices: Floats) -> Floats:
        """The prices, with goods that count towards a waiver at no more than what a minor unit of them costs.

        Anything of the supplier's tops an order up: goods that were worth more than they cost would have no end.
        """
        money, _, weights, goods = self._parted(prices)
        rate = money + sum(w * s.per_minor for w, s in zip(weights, self.stages, strict=True))
        return np.append(prices[: len(prices) - len(goods)], np.minimum(goods, rate))

    def _at(self, prices: Floats) -> tuple[Floats, Floats, Floats]:
        """Each route's worth by waived postages; by charges and these of each fault the best; of each state all."""
        money, minute, weights, goods = self._parted(prices)
        single = weights @ self.own - money * self.cash - minute * self.minutes
        values = single[:, None] + self.goods @ (goods[:, None] * self.waived.T)
        count = len(self.charges)
        best = np.repeat(self.floor, 1 << count)[:, None] + np.zeros(len(self.waived))
        if len(self.rows):
            found = np.maximum.reduceat(values[self.order], self.begins, axis=0)
            best[self.at] = np.maximum(best[self.at], found)
        best = best.reshape(len(self.floor), 1 << count, len(self.waived))
        for bit in range(count):  # what needs fewer charges may be taken wherever more are paid
            halves = best.reshape(len(self.floor), -1, 2, 1 << bit, len(self.waived))
            np.maximum(halves[:, :, 1], halves[:, :, 0], out=halves[:, :, 1])
        rate = money + sum(w * s.per_minor for w, s in zip(weights, self.stages, strict=True))
        minutes = minute + sum(w * s.per_minute for w, s in zip(weights, self.stages, strict=True))
        fixed = -rate * self.charged - (minutes * self.spent)[:, None] - (self.waived @ (goods * self.over))[None, :]
        constant = money * self.table.budget_minor + minute * (self.limit or 0) + self.stages[-1].constant
        total = best.sum(0) + fixed + constant - float(weights[:-1] @ self.held)
        total[~self.possible] = -np.inf
        return values, best, total

    def _slack(self, prices: Floats) -> float:
        """More than floats may lose."""
        money, minute, weights, goods = self._parted(prices)
        added = np.abs(weights) @ np.abs(self.own).max(1, initial=0.0) + money * np.abs(self.cash).max(initial=0.0)
        sums = len(self.floor) * added + money * self.table.budget_minor + minute * (self.limit or 0)
        sums += goods @ self.over + weights[:-1] @ np.abs(self.held) + np.abs(self.charged).max(initial=0.0) * money
        return float(NOISE * (sums + 1) + 1e-6)

    def priced(self, start: Floats, most: Floats, rounds: int) -> Floats:
        """The prices of the least bound, or near them; none is above ``most``."""
        tried = best = self._allowed(start)
        bound, low, cuts = np.inf, -np.inf, list[tuple[float, Floats]]()
        for _ in range(rounds):
            value, slope = self._bound(tried)
            if np.isinf(value):
                return tried
            if value < bound:
                best, bound = tried, value
            cuts.append((value - float(slope @ tried), slope))
            low, found = least_of_cuts([(constant, list(rises)) for constant, rises in cuts], most.tolist())
            if bound - low < max(0.5, NEAR * self._spans[-1]):
                break
            tried = self._allowed(0.4 * np.array(found) + 0.6 * best)
        return best

    def _bound(self, prices: Floats) -> tuple[float, Floats]:
        """The bound at some prices, and how it rises with each of them."""
        values, _, total = self._at(prices)
        on, waived = np.unravel_index(int(np.argmax(total)), total.shape)
        value = float(total[on, waived])
        allowed = (self.needs & ~on) == 0
        ranked = np.where(allowed, values[:, waived], -np.inf)
        cash, minutes, goods = self.charged[on, waived], self.spent[on], np.zeros(len(self.waiving))
        reached = np.zeros(len(self.held))
        rates = [(s.per_minor, s.per_minute) for s in self.stages[:-1]]
        reached -= np.array([minor * cash + minute * minutes for minor, minute in rates])
        for n, floor in enumerate(self.floor):
            low, high = np.searchsorted(self.fault, [n, n + 1])
            if high > low:
                row = low + int(np.argmax(ranked[low:high]))
                if ranked[row] > floor:
                    cash, minutes = cash + self.cash[row], minutes + self.minutes[row]
                    reached += self.own[:-1, row]
                    goods += self.goods[row]
        slope = [self.table.budget_minor - cash]
        slope += [] if self.limit is None else [self.limit - minutes]
        return value, np.array([*slope, *(reached - self.held), *(self.waived[waived] * (goods - self.over))])

    def with_each(self, prices: Floats) -> tuple[float, Floats]:
        """The bound of all mixes, and of those with each route (closed ones: none), whole numbers."""
        prices = self._allowed(prices)
        values, best, total = self._at(prices)
        count, slack = len(self.charges), self._slack(prices)
        others = np.where(np.isinf(total), -np.inf, total) - np.where(np.isinf(best), 0, best)
        for bit in range(count):
            halves = others.reshape(len(self.floor), -1, 2, 1 << bit, len(self.waived))
            np.maximum(halves[:, :, 0], halves[:, :, 1], out=halves[:, :, 0])
        bounds = np.full(len(self.table.proposals), -np.inf)
        bounds[self.rows] = (values + others[self.fault, self.needs]).max(1)
        step = self._step
        return float(step * np.floor((total.max() + slack) / step)), step * np.floor((bounds + slack) / step)

    @property
    def _step(self) -> int:
        """What all values of the stage are multiples of."""
        if self.stages[-1].per_minor or not len(self.rows):
            return 1
        return int(np.gcd.reduce(self.own[-1].astype(np.int64))) or 1
