"""Baskets from a seed, all invented, and the same problem written plainly for CP-SAT of OR-Tools."""

from __future__ import annotations

import random
import time
from collections import defaultdict
from datetime import date

from ortools.sat.python import cp_model

from optimiser.model.job import Job, Pot, Settings, Solve
from optimiser.model.quotes import Quote, Supplier

TODAY = date(2026, 11, 24)
CONDITIONS = {"new": (1.0, 0.99), "refurbished": (0.7, 0.9), "salvage": (0.4, 0.75)}


def job(parts: int, shops: int, seed: int, *, terms: bool = True, seconds: float = 60) -> Job:
    """A job without faults: every shop quotes some seven parts in ten, some twice.

    With ``terms`` there are waivers, minimum orders, packs, stock and deposits beside postage.
    """
    rng = random.Random(seed)
    worth = [rng.choice([300, 800, 1_500, 4_000, 9_000]) * rng.uniform(0.7, 1.4) for _ in range(parts)]
    quotes = []
    for shop in range(shops):
        dear = rng.uniform(0.85, 1.2)
        for part in range(parts):
            for _ in range(rng.choice([0, 0, 0, 1, 1, 1, 1, 1, 1, 2])):
                quotes.append(_quote(rng, len(quotes) + 2, part, shop, worth[part] * dear, terms=terms))
    return Job(
        settings=Settings(currency="GBP", today=TODAY),
        pot=Pot(cap_minor=10**7),
        solve=Solve(seconds=seconds),
        quotes=tuple(quotes),
        suppliers=tuple(_supplier(rng, shop, terms=terms) for shop in range(shops)),
    )


def wanted(parts: int, seed: int) -> dict[str, int]:
    rng = random.Random(seed + 1_000)
    return {f"part-{part:02}": rng.choice([1, 1, 1, 2, 2, 4]) for part in range(parts)}


def _quote(rng: random.Random, line: int, part: int, shop: int, worth: float, *, terms: bool) -> Quote:
    condition = rng.choice(list(CONDITIONS)) if terms else "new"
    share, sound = CONDITIONS[condition]
    pack = rng.choice([1, 1, 1, 1, 2, 4]) if terms else 1
    return Quote(
        id=f"quotes.csv:{line}",
        part=f"part-{part:02}",
        supplier=f"shop-{shop:02}",
        condition=condition,
        price_minor=max(1, round(worth * share * pack**0.9 * rng.uniform(0.8, 1.25))),
        pack=pack,
        stock=rng.choice([None, None, None, 1, 2]) if terms else None,
        good_chance=sound,
        deposit_minor=1_500 if condition == "refurbished" and rng.random() < 0.4 else 0,
    )


def _supplier(rng: random.Random, shop: int, *, terms: bool) -> Supplier:
    return Supplier(
        id=f"shop-{shop:02}",
        postage_minor=rng.choice([350, 495, 695, 950]),
        free_over_minor=rng.choice([None, 5_000, 10_000, 15_000]) if terms else None,
        minimum_order_minor=rng.choice([0, 0, 0, 1_000, 2_500]) if terms else 0,
    )


def with_cpsat(job: Job, wanted: dict[str, int], seconds: float) -> tuple[int, bool, float]:
    """The least net cost in minor units, whether CP-SAT proved it, and the seconds from a bare job; one worker.

    As anyone would write it down: packs, pieces used, an order and a waiver for each supplier.
    """
    began = time.perf_counter()
    model, solver = cp_model.CpModel(), cp_model.CpSolver()
    terms = {supplier.id: supplier for supplier in job.suppliers}
    sold = {quote.supplier for quote in job.quotes if quote.part in wanted}
    orders = {supplier: model.new_bool_var(supplier) for supplier in sorted(sold)}
    used, goods, cost = defaultdict(list), defaultdict(list), []
    for quote in job.quotes:
        if quote.supplier not in orders:
            continue
        asks = max(terms[quote.supplier].minimum_order_minor, terms[quote.supplier].free_over_minor or 0)
        most = max(quote.packs_for(wanted.get(quote.part, 0)), -(-asks // quote.price_minor))
        most = most if quote.stock is None else min(most, quote.stock)
        packs = model.new_int_var(0, most, "")
        model.add(packs <= most * orders[quote.supplier])
        goods[quote.supplier].append(quote.price_minor * packs)
        cost.append((quote.price_minor + quote.deposit_minor * quote.pack) * packs)
        if quote.part in wanted:
            pieces = model.new_int_var(0, wanted[quote.part], "")
            model.add(pieces <= quote.pack * packs)
            used[quote.part].append(pieces)
            cost.append(-quote.deposit_minor * pieces)
    for part, units in wanted.items():
        model.add(sum(used[part]) == units)
    for supplier, order in orders.items():
        waived = model.new_bool_var("")
        model.add_implication(waived, order)
        if terms[supplier].free_over_minor is None:
            model.add(waived == 0)
        else:
            model.add(sum(goods[supplier]) >= terms[supplier].free_over_minor * waived)
        model.add(sum(goods[supplier]) >= terms[supplier].minimum_order_minor * order)
        cost += [terms[supplier].postage_minor * order, -terms[supplier].postage_minor * waived]
    model.minimize(sum(cost))
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model)
    return round(solver.objective_value), status == cp_model.OPTIMAL, time.perf_counter() - began
