"""The same mix given plainly to other solvers: PuLP with CBC as anyone would write it, and CP-SAT of OR-Tools.

Straight from the job and its options: the two stages of value, then cost and time in sixtieths of the minor unit, no
tie-breaks, no cleverness. Columns are whole numbers, rows and objectives are coefficients by column.
"""

from __future__ import annotations

import math
import time
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

import pulp
from ortools.sat.python import cp_model

from optimiser.model.candidates import Offer
from optimiser.model.job import Job, Severity
from tests.brute_force import down_to_steps, half_up, in_steps
from tests.brute_force import plain as written

COST = "cost-and-time"
Terms = dict[int, int]


@dataclass
class Plain:
    """The program: upper bounds of columns (all from 0), rows ``terms <= limit``, what to maximise in turn."""

    highs: list[int] = field(default_factory=list)
    rows: list[tuple[Terms, int]] = field(default_factory=list)
    wanted: list[tuple[str, Terms]] = field(default_factory=list)

    def column(self, high: int) -> int:
        self.highs.append(high)
        return len(self.highs) - 1

    def at_most(self, limit: int, terms: Mapping[int, int]) -> None:
        self.rows.append((dict(terms), limit))


@dataclass(frozen=True)
class Found:
    """What a peer reached, stage by stage, whether it proved it, and the seconds to build and to solve."""

    levels: dict[str, int]
    proven: bool
    building: float
    solving: float


def plain(job: Job, offer: Offer) -> Plain:
    """Section 4 of the model page up to cost and time."""
    p = Plain()
    take = {o.key: p.column(1) for o in offer.options}
    by_fault, need, buys, opens, opens_own = (defaultdict(list) for _ in range(5))
    for o in offer.options:
        by_fault[o.fault].append(take[o.key])
        for line in o.lines:
            need[line.quote.id].append((take[o.key], line.units))
        for supplier in o.suppliers:
            buys[supplier].append(take[o.key])
        for access in o.access:
            opens[access].append(take[o.key])
            opens_own[access] += [] if o.by_workshop else [take[o.key]]
    for columns in by_fault.values():
        p.at_most(1, dict.fromkeys(columns, 1))
    budget = max(0, job.pot.remaining_minor)
    cash: Terms = {take[o.key]: o.direct_minor for o in offer.options if o.direct_minor}
    minutes: Terms = {take[o.key]: o.minutes for o in offer.options if o.minutes}
    back: Terms = defaultdict(int)
    _shelf(p, offer, need)
    _orders(p, job, offer, need, buys, budget, cash, minutes, back)
    for access in job.access:
        for amount, columns, into in ((access.price_minor, opens, cash), (access.minutes, opens_own, minutes)):
            if amount and columns[access.id]:
                into[_needs_one(p, columns[access.id])] = amount
    p.at_most(budget, cash)
    if job.time.minutes is not None:
        p.at_most(job.time.minutes, minutes)
    _wanted(p, job, offer, take)
    net = {c: 60 * (back.get(c, 0) - cash.get(c, 0)) for c in {**cash, **back}}
    for column, own in minutes.items():
        net[column] = net.get(column, 0) - job.hour_worth_minor * own
    p.wanted.append((COST, net))
    return p


def _shelf(p: Plain, offer: Offer, need: Mapping[str, list[tuple[int, int]]]) -> None:
    owned = {x.quote.id: x.quote for o in offer.options for x in o.lines if x.quote.supplier is None}
    for quote in owned.values():
        p.at_most(quote.stock or 0, dict(need[quote.id]))


def _orders(p, job, offer, need, buys, budget, cash, minutes, back) -> None:
    """Whole packs, orders with postage and its waiver, minimum orders, deposits."""
    terms = {s.id: s for s in job.suppliers}
    ordered = {supplier: _needs_one(p, columns) for supplier, columns in buys.items()}
    goods: dict[str, Terms] = defaultdict(dict)
    for quote in offer.quotes:
        if quote.supplier not in ordered:
            continue
        most = min(quote.stock or 10**6, budget // max(1, quote.price_minor))
        packs = p.column(most)
        goods[quote.supplier][packs] = quote.price_minor
        cash[packs] = quote.price_minor + quote.deposit_minor * quote.pack
        p.at_most(0, {packs: 1, ordered[quote.supplier]: -most})
        if need[quote.id]:
            p.at_most(0, {**dict(need[quote.id]), packs: -quote.pack})
        for column, units in need[quote.id]:
            back[column] += units * quote.deposit_minor
    for supplier, order in ordered.items():
        s = terms[supplier]
        cash[order] = s.postage_minor
        minutes[order] = s.trip_minutes
        bought = {c: -price for c, price in goods[supplier].items()}
        p.at_most(0, {**bought, order: s.minimum_order_minor})
        if s.free_over_minor is not None:
            waived = p.column(1)
            cash[waived] = -s.postage_minor
            p.at_most(0, {waived: 1, order: -1})
            p.at_most(0, {**bought, waived: s.free_over_minor})


def _needs_one(p: Plain, columns: list[int]) -> int:
    """A column that is 1 if any of these is."""
    one = p.column(1)
    for column in columns:
        p.at_most(0, {column: 1, one: -1})
    return one


def _wanted(p: Plain, job: Job, offer: Offer, take: Mapping[tuple[str, ...], int]) -> None:
    """Two stages of value: dangerous faults in whole steps of safety, then all faults in full."""
    faults, settings = {f.id: f for f in job.faults}, job.settings
    dangerous, in_full = {}, {}
    for o in offer.options:
        fault, chance = faults[o.fault], in_steps(Fraction(o.chance), settings.chance_step)
        if fault.severity == Severity.DANGEROUS and settings.safety_first:
            safe = down_to_steps(min(chance, written(settings.good_enough)), settings.safety_step)
            dangerous[take[o.key]] = half_up(written(fault.importance) * safe * 10**6)
        in_full[take[o.key]] = half_up(written(fault.importance) * chance * 10**6)
    p.wanted += [(name, value) for name, value in (("dangerous", dangerous), ("all-faults", in_full)) if value]


def with_cbc(job: Job, offer: Offer, seconds: float) -> Found:
    """PuLP with CBC, one solve a stage, each stage's best as a row for the next; gap 0."""
    began = time.perf_counter()
    p = plain(job, offer)
    problem = pulp.LpProblem("plain", pulp.LpMaximize)
    columns = [problem.add_variable(f"c{n}", 0, high, "Integer") for n, high in enumerate(p.highs)]
    for terms, limit in p.rows:
        problem.addConstraint(pulp.lpSum(f * columns[c] for c, f in terms.items()) <= limit)
    built = time.perf_counter()
    levels: dict[str, int] = {}
    cbc = getattr(pulp, "PULP_CBC_CMD", None) or pulp.COIN_CMD
    for name, terms in p.wanted:
        left = built + seconds - time.perf_counter()
        objective = pulp.lpSum(f * columns[c] for c, f in terms.items())
        problem.setObjective(objective)
        if left > 0:
            problem.solve(cbc(msg=False, gapRel=0, gapAbs=0, threads=1, timeLimit=max(1, math.ceil(left))))
        if left <= 0 or problem.sol_status != pulp.LpSolutionOptimal:
            return Found(levels, False, built - began, time.perf_counter() - built)
        levels[name] = round(pulp.value(objective))
        problem.addConstraint(objective >= levels[name] - 0.5)
    return Found(_spent(levels), True, built - began, time.perf_counter() - built)


def with_cpsat(job: Job, offer: Offer, seconds: float) -> Found:
    """CP-SAT with one worker, as the others have one thread; one solve a stage, each stage's best as a row."""
    began = time.perf_counter()
    p = plain(job, offer)
    model, solver = cp_model.CpModel(), cp_model.CpSolver()
    columns = [model.new_int_var(0, high, f"c{n}") for n, high in enumerate(p.highs)]

    def total(terms: Mapping[int, int]) -> cp_model.LinearExpr:
        return cp_model.LinearExpr.weighted_sum([columns[c] for c in terms], list(terms.values()))

    for terms, limit in p.rows:
        model.add(total(terms) <= limit)
    solver.parameters.num_workers = 1
    built = time.perf_counter()
    levels: dict[str, int] = {}
    for name, terms in p.wanted:
        solver.parameters.max_time_in_seconds = max(0.01, built + seconds - time.perf_counter())
        model.maximize(total(terms))
        if solver.solve(model) != cp_model.OPTIMAL:
            return Found(levels, False, built - began, time.perf_counter() - built)
        levels[name] = round(solver.objective_value)
        model.add(total(terms) >= levels[name])
    return Found(_spent(levels), True, built - began, time.perf_counter() - built)


def _spent(levels: dict[str, int]) -> dict[str, int]:
    return levels | {COST: -levels[COST]}
