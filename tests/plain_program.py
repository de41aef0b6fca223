"""The model page's section 4 once more, as bare lists, for reference solvers: CP-SAT of OR-Tools and ``milp`` of SciPy.

Written from the page and the job's records alone. Only the options are the program's own, all of them: none is left out
as pointless. Every column is whole, every figure an integer; preferences are maximised one after the other.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np
from ortools.sat.python import cp_model
from scipy.optimize import Bounds, LinearConstraint, milp

from optimiser.model.job import Job
from optimiser.planning import options

Terms = Counter[int]
"""Coefficients by column; sums, like ``a + b`` of counters, go through ``plus`` since those drop what is negative."""


def plus(*parts: Terms, factor: int = 1) -> Terms:
    whole: Terms = Counter()
    for part in parts:
        for column, coefficient in part.items():
            whole[column] += factor * coefficient
    return whole


@dataclass
class Program:
    """Columns as (low, high), rows as (terms, low, high) with None for no limit, preferences as (name, maximised)."""

    columns: list[tuple[int, int]] = field(default_factory=list)
    rows: list[tuple[Terms, int | None, int | None]] = field(default_factory=list)
    wanted: list[tuple[str, Terms]] = field(default_factory=list)

    def column(self, high: int) -> int:
        self.columns.append((0, high))
        return len(self.columns) - 1

    def row(self, terms: Terms, low: int | None = None, high: int | None = None) -> None:
        self.rows.append((terms, low, high))


def half_up(amount: Fraction) -> int:
    return math.floor(round(amount, 6) + Fraction(1, 2))


def write(job: Job) -> Program:
    p = Program()
    offer = options.build(job, whole=[f.id for f in job.faults])
    take = [p.column(1) for _ in offer.options]
    chosen = list(zip(take, offer.options))
    for fault in job.faults:
        p.row(Counter({x: 1 for x, o in chosen if o.fault == fault.id}), high=1)
    goods, deposits, back, orders = _orders(p, job, offer.quotes, chosen)
    postage = _postage(p, job, goods, orders)
    access_price, access_minutes = _access(p, job, chosen)
    direct = Counter({x: o.direct_minor for x, o in chosen})
    cash = plus(*goods.values(), deposits, postage, access_price, direct)
    p.row(cash, high=max(0, job.pot.remaining_minor))
    trips = Counter({y: job.supplier(s).trip_minutes for s, y in orders.items()})
    minutes = plus(Counter({x: 0 if o.by_workshop else o.minutes for x, o in chosen}), access_minutes, trips)
    if job.time.hours is not None:
        p.row(minutes, high=math.floor(Fraction(job.time.hours * 60) + Fraction(1, 10**9)))
    net = plus(cash, plus(back, factor=-1))
    _preferences(p, job, chosen, net, minutes)
    return p


def _orders(p: Program, job: Job, quotes, chosen) -> tuple[dict[str, Terms], Terms, Terms, dict[str, int]]:
    """Packs of every quote: goods by supplier, deposits paid, deposits that come back, whether an order is placed."""
    used = {line.quote.id: line.quote for _, o in chosen for line in o.lines}
    everything = used | {q.id: q for q in quotes}
    orders = {s: p.column(1) for s in sorted({q.supplier for q in everything.values() if q.supplier is not None})}
    goods: dict[str, Terms] = {s: Counter() for s in orders}
    deposits, back = Counter(), Counter()
    for q in everything.values():
        need = Counter({x: line.units for x, o in chosen for line in o.lines if line.quote.id == q.id})
        if q.supplier is None:
            p.row(need, high=q.stock)
            continue
        terms = job.supplier(q.supplier)
        top_up = max(terms.minimum_order_minor, terms.free_over_minor or 0)
        most = sum(need.values()) + (-(-top_up // q.price_minor) if q.price_minor else 0)
        packs = p.column(most if q.stock is None else min(most, q.stock))
        p.row(plus(Counter({packs: q.pack}), plus(need, factor=-1)), low=0)
        p.row(Counter({packs: 1, orders[q.supplier]: -most}), high=0)
        goods[q.supplier][packs] = q.price_minor
        deposits[packs] = q.deposit_minor * q.pack
        back = plus(back, plus(need, factor=q.deposit_minor))
    return goods, deposits, back, orders


def _postage(p: Program, job: Job, goods: dict[str, Terms], orders: dict[str, int]) -> Terms:
    postage: Terms = Counter()
    for supplier, order in orders.items():
        terms = job.supplier(supplier)
        p.row(plus(goods[supplier], Counter({order: -terms.minimum_order_minor})), low=0)
        postage[order] = terms.postage_minor
        if terms.free_over_minor is not None:
            waived = p.column(1)
            p.row(plus(goods[supplier], Counter({waived: -terms.free_over_minor})), low=0)
            p.row(Counter({waived: 1, order: -1}), high=0)
            postage[waived] = -terms.postage_minor
    return postage


def _access(p: Program, job: Job, chosen) -> tuple[Terms, Terms]:
    """Its price once for any work that names it, its minutes once for the owner's own."""
    price, minutes = Counter(), Counter()
    for access in job.access:
        opened, opened_by_owner = p.column(1), p.column(1)
        for x, option in chosen:
            if access.id in option.access:
                p.row(Counter({x: 1, opened: -1}), high=0)
                if not option.by_workshop:
                    p.row(Counter({x: 1, opened_by_owner: -1}), high=0)
        price[opened], minutes[opened_by_owner] = access.price_minor, access.minutes
    return price, minutes


def _preferences(p: Program, job: Job, chosen, net: Terms, minutes: Terms) -> None:
    faults = {f.id: f for f in job.faults}

    def fixes(severities: str, most: float = 1.0, step: float = 0.0) -> Terms:
        """Chances as they count; with a ``step``, whole steps of them up to the most that counts."""
        worth = {x: min(in_steps(o, job.settings.chance_step), Fraction(str(most))) for x, o in chosen}
        if step:
            worth = {x: (p // Fraction(str(step))) * Fraction(str(step)) for x, p in worth.items()}
        return Counter(
            {
                x: half_up(Fraction(str(faults[o.fault].importance)) * worth[x] * 10**6)
                for x, o in chosen
                if faults[o.fault].severity in severities.split()
            }
        )

    if job.settings.safety_first and "dangerous" in {str(f.severity) for f in job.faults}:
        p.wanted.append(("dangerous", fixes("dangerous", job.settings.good_enough, job.settings.safety_step)))
    if job.settings.aim == "profit":
        gains = Counter({x: half_up(Fraction(faults[o.fault].sale_gain_minor) * Fraction(o.chance)) for x, o in chosen})
        worth = job.hour_worth_minor
        longest = sum(coefficient * p.columns[column][1] for column, coefficient in minutes.items())
        time = p.column(longest * worth // 60 + 1)
        p.row(plus(Counter({time: 60}), plus(minutes, factor=-worth)), low=-29)
        p.wanted.append(("profit", plus(gains, plus(net, factor=-1), Counter({time: -1}))))
    else:
        p.wanted.append(("all-faults", fixes("dangerous major minor")))
    if job.settings.aim == "profit" or job.hour_worth_minor == 0:
        p.wanted.append(("net-cost", plus(net, factor=-1)))
    else:
        p.wanted.append(("cost-and-time", plus(plus(net, factor=-60), plus(minutes, factor=-job.hour_worth_minor))))


def in_steps(option, step: float) -> Fraction:
    """Its chance half up to a multiple of the step, from one step on, and only a certainty is one."""
    chance = Fraction(round(option.chance, 9)).limit_denominator(10**9)
    if step == 0 or chance < Fraction(str(step)) or chance == 1:
        return chance
    return min((chance / Fraction(str(step)) + Fraction(1, 2)) // 1 * Fraction(str(step)), 1 - Fraction(str(step)))


def levels(program: Program, solver) -> dict[str, int]:
    """Each preference's best value with those before it held; net cost positive, as the program shows it."""
    rows, reached = list(program.rows), {}
    for name, terms in program.wanted:
        best = solver(Program(program.columns, rows), terms)
        rows.append((terms, best, None))
        reached[name] = -best if name in ("net-cost", "cost-and-time") else best
    return reached


def cp_sat(program: Program, objective: Terms) -> int:
    model = cp_model.CpModel()
    columns = [model.new_int_var(low, high, f"c{i}") for i, (low, high) in enumerate(program.columns)]
    for terms, low, high in program.rows:
        left = sum(coefficient * columns[c] for c, coefficient in terms.items() if coefficient)
        if low is not None:
            model.add(left >= low)
        if high is not None:
            model.add(left <= high)
    model.maximize(sum(coefficient * columns[c] for c, coefficient in objective.items() if coefficient))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 2
    assert solver.solve(model) == cp_model.OPTIMAL
    return round(solver.objective_value)


def scipy_milp(program: Program, objective: Terms) -> int:
    width = len(program.columns)

    def dense(terms: Terms) -> np.ndarray:
        line = np.zeros(width)
        for column, coefficient in terms.items():
            line[column] = coefficient
        return line

    matrix = np.array([dense(terms) for terms, _, _ in program.rows])
    low = [-np.inf if low is None else low for _, low, _ in program.rows]
    high = [np.inf if high is None else high for _, _, high in program.rows]
    found = milp(
        -dense(objective),
        integrality=np.ones(width),
        bounds=Bounds([low for low, _ in program.columns], [high for _, high in program.columns]),
        constraints=LinearConstraint(matrix, low, high),
        options={"mip_rel_gap": 0},
    )
    assert found.status == 0, found.message
    whole = [round(x) for x in found.x]
    return sum(coefficient * whole[column] for column, coefficient in objective.items())
