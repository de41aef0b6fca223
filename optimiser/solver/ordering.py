"""What ordering from suppliers comes to, whatever the pieces are for: whole packs, minimum orders, postage, deposits.

Each constraint is a small function on any ``Program``; who decides what is needed gives the pieces of each quote as an
expression (``need``) with their greatest value, and a column a supplier that is 1 where an order is placed. Money is in
minor units.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Mapping
from typing import Any

from optimiser.model.candidates import Spans
from optimiser.model.quotes import Quote
from optimiser.solver.program import Expression, Program, Variable, terms_of, total


def whole_packs(
    program: Program,
    need: Mapping[str, Expression],
    greatest: Mapping[str, int],
    never_beyond: Collection[str] = (),
) -> None:
    """Enough packs for the pieces needed.

    Where single pieces are sold and no order can gain from more goods, the packs are the pieces needed. Of quotes in
    ``never_beyond`` no order can gain a pack more, whatever its supplier's terms.
    """
    for quote in program.in_play:
        needed = need.get(quote.id)
        gains = quote.supplier is not None and terms_of(program, quote.supplier).has_threshold
        gains = gains and quote.id not in never_beyond
        if quote.supplier is None or (quote.pack == 1 and not gains):
            program.packs[quote.id] = needed
            continue
        spared_minor = program.most_spared[quote.supplier] if gains else 0
        most = _most_packs(program, quote, greatest.get(quote.id, 0), spared_minor)
        packs = program.integer(0, most)
        program.packs[quote.id] = packs
        program.pack_columns[quote.id] = (packs, most)
        if needed is not None:
            program.row("enough_packs", quote.pack * packs - needed >= 0)


def _most_packs(program: Program, quote: Quote, need: int, spared_minor: float) -> int:
    """No more packs than could be used, or could spare so much or more by what the supplier's terms ask for."""
    supplier = terms_of(program, quote.supplier or "-")
    asked_minor = max(supplier.minimum_order_minor, supplier.free_over_minor or 0)
    needed, beyond = quote.packs_for(need), 0.0
    if spared_minor and quote.price_minor:
        beyond = min(-(-asked_minor // quote.price_minor), needed + spared_minor // quote.outlay_minor)
    budget = program.budget_minor
    affordable = budget // quote.price_minor if quote.price_minor and budget is not None else math.inf
    most = min(max(needed, beyond), affordable)
    return int(most if quote.stock is None else min(most, quote.stock))


def packs_only_with_an_order(program: Program, orders: Mapping[str, Variable], need: Collection[str]) -> None:
    """Packs that are bought beyond the need still belong to an order that is sure to be placed.

    What nobody needs is bought for no more, all of it together, than it can spare.
    """
    spared, beyond = program.most_spared, defaultdict[str, list[tuple[Variable, int]]](list)
    for quote in program.in_play:
        if quote.supplier is not None and quote.id in program.pack_columns:
            packs, most = program.pack_columns[quote.id]
            if quote.id in need or spared[quote.supplier] == math.inf:
                program.row("packs_in_order", packs - most * orders[quote.supplier] <= 0)
            else:
                beyond[quote.supplier].append((packs, quote.outlay_minor))
    for supplier, outlays in beyond.items():
        program.row("topping_in_order", total([*outlays, (orders[supplier], -int(spared[supplier]))]) <= 0)


def goods_by_supplier(program: Program) -> dict[str, Expression]:
    """What the packs from each supplier cost, without deposits and postage."""
    terms: dict[str, list[Any]] = defaultdict(list)
    for quote in program.in_play:
        if quote.supplier is not None:
            terms[quote.supplier].append(quote.price_minor * program.packs[quote.id])
    return {supplier: total(goods) for supplier, goods in sorted(terms.items())}


def sums_of_top_ups(
    program: Program, orders: Mapping[str, Variable], sums: Mapping[str, Spans]
) -> dict[str, Expression]:
    """What tops up an order that is sure to be placed where it is told by its sum: nothing, or an amount in one run."""
    amounts = {}
    for supplier in sorted(sums.keys() & orders.keys()):
        chosen = [(program.integer(0, 1), low, high) for low, high in sums[supplier]]
        beyond = [(program.integer(0, high - low), run, high - low) for run, low, high in chosen if high > low]
        program.row("sum_in_order", total([run for run, _, _ in chosen]) - orders[supplier] <= 0)
        for amount, run, most in beyond:
            program.row("sum_in_run", amount - most * run <= 0)
        amounts[supplier] = total([*((run, low) for run, low, _ in chosen), *(amount for amount, _, _ in beyond)])
    return amounts


def minimum_orders(program: Program, orders: Mapping[str, Variable], goods: Mapping[str, Expression]) -> None:
    """A supplier's certain goods reach its minimum; any of its quotes may top the order up."""
    for supplier, order in orders.items():
        minimum = terms_of(program, supplier).minimum_order_minor
        if minimum > 0:
            program.row("minimum_order", goods[supplier] - minimum * order >= 0)


def postage_due(
    program: Program,
    orders: Mapping[str, Variable],
    certain: Mapping[str, Variable],
    goods: Mapping[str, Expression],
) -> list[Expression]:
    """Postage once an order, waived where its certain goods reach the supplier's free-over amount."""
    due = []
    for supplier_id, order in orders.items():
        supplier = terms_of(program, supplier_id)
        if supplier.postage_minor == 0:
            continue
        due.append(supplier.postage_minor * order)
        if supplier.free_over_minor is not None and supplier_id in certain:
            waived = program.integer(0, 1)
            program.row("waiver_in_order", waived - certain[supplier_id] <= 0)
            program.row("free_over", goods[supplier_id] - supplier.free_over_minor * waived >= 0)
            due.append(-supplier.postage_minor * waived)
    return due


def deposits_paid(program: Program) -> Expression:
    """Deposits on every piece bought, fitted or not."""
    return total(q.deposit_minor * q.pack * program.packs[q.id] for q in program.in_play if q.deposit_minor)


def deposits_back(program: Program, need: Mapping[str, Expression]) -> Expression:
    """Deposits that return with the old units: on the pieces fitted, not on surplus ones."""
    return total(q.deposit_minor * need[q.id] for q in program.in_play if q.deposit_minor and q.id in need)
