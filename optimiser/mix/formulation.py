"""What the mix must keep to: every variable and every constraint, each a small function with its reason.

Money is in minor units of the job's currency, time in minutes. Columns are named by running number, since ids that
differ only in signs would become one name in a solver's file.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from typing import Any

import pulp

from optimiser.mix.preferences import add_levels
from optimiser.mix.program import (
    HALF,
    Expression,
    Mix,
    Variable,
    job_budget,
    most_minutes,
    options_by_fault,
    terms_of,
    total,
)
from optimiser.model.job import Job
from optimiser.model.option import Offer, Option
from optimiser.model.plan import PROFIT, Selection
from optimiser.model.quotes import Quote, Supplier


def build(job: Job, offer: Offer, last: Selection | None = None) -> Mix:
    """Build the program for a job and what it may choose from; ``last`` is the plan to stay nearest to."""
    suppliers = {s.id: s for s in job.suppliers}
    mix = Mix(
        job=job,
        offer=offer,
        problem=pulp.LpProblem("mix", pulp.LpMinimize),
        suppliers=suppliers,
        by_fault=options_by_fault(offer),
        in_play=quotes_in_play(offer, suppliers),
    )
    for option in offer.options:
        mix.take[option.key] = mix.integer(0, 1)
    one_option_a_fault(mix)
    need = needed_units(mix)
    whole_packs(mix, need)
    orders = order_placed(mix)
    packs_only_with_an_order(mix, orders)
    goods = goods_by_supplier(mix)
    minimum_orders(mix, orders, goods)
    postage = postage_due(mix, orders, goods)
    access_price, access_minutes = opened_once(mix)
    mix.cash = total([*goods.values(), *postage, access_price, deposits_paid(mix), direct_prices(mix)])
    never_over(mix)
    minutes = own_minutes(mix, orders, access_minutes)
    within_hours(mix, minutes)
    net = total([mix.cash, -1 * deposits_back(mix, need)])
    add_levels(mix, net, minutes, orders, last)
    room_to_rise(mix)
    return mix


def one_option_a_fault(mix: Mix) -> None:
    """A fault is mended once, or left."""
    for options in mix.by_fault.values():
        mix.row("one_option", total(mix.take[o.key] for o in options) <= 1)


def needed_units(mix: Mix) -> dict[str, Expression]:
    """Pieces that the chosen options need of each quote, all faults together: packs are shared."""
    terms: dict[str, list[Any]] = defaultdict(list)
    for option in mix.offer.options:
        for line in option.lines:
            terms[line.quote.id].append(line.units * mix.take[option.key])
    return {quote: total(needed) for quote, needed in terms.items()}


def quotes_in_play(offer: Offer, suppliers: Mapping[str, Supplier]) -> list[Quote]:
    """Quotes that an option uses, and those that could top up an order to a supplier that an option uses."""
    used = {line.quote.id: line.quote for option in offer.options for line in option.lines}
    thresholds = {s for s in {q.supplier for q in used.values()} if s and s in suppliers and suppliers[s].has_threshold}
    used |= {quote.id: quote for quote in offer.quotes if quote.supplier in thresholds and quote.price_minor > 0}
    return sorted(used.values(), key=lambda q: (q.content, q.line))


def whole_packs(mix: Mix, need: dict[str, Expression]) -> None:
    """Enough packs for the pieces needed, and no more than there are.

    Where single pieces are sold and no order can gain from more goods, the packs are the pieces needed.
    """
    greatest = _greatest_need(mix.offer)
    for quote in mix.in_play:
        needed = need.get(quote.id)
        if quote.supplier is None or (quote.pack == 1 and not _supplier(mix, quote).has_threshold):
            mix.packs[quote.id] = needed
            if needed is not None and quote.stock is not None and greatest[quote.id] > quote.stock:
                mix.row("stock", needed <= quote.stock)
            continue
        most = _most_packs(mix, quote, greatest[quote.id])
        packs = mix.integer(0, most)
        mix.packs[quote.id] = packs
        mix.pack_columns[quote.id] = (packs, most)
        if needed is not None:
            mix.row("enough_packs", quote.pack * packs - needed >= 0)


def _greatest_need(offer: Offer) -> dict[str, int]:
    """The most pieces of each quote that all faults together could want."""
    by_fault: dict[tuple[str, str], int] = defaultdict(int)
    for option in offer.options:
        for line in option.lines:
            key = (line.quote.id, option.fault)
            by_fault[key] = max(by_fault[key], line.units)
    greatest: dict[str, int] = defaultdict(int)
    for (quote, _), units in by_fault.items():
        greatest[quote] += units
    return greatest


def _most_packs(mix: Mix, quote: Quote, need: int) -> int:
    """No more packs than all faults could use or the supplier's terms could ask for."""
    supplier = _supplier(mix, quote)
    asked = max(supplier.minimum_order_minor, supplier.free_over_minor or 0) if supplier.has_threshold else 0
    topping = -(-asked // quote.price_minor) if quote.price_minor else 0
    affordable = job_budget(mix.job) // quote.price_minor if quote.price_minor else math.inf
    most = min(max(quote.packs_for(need), topping), affordable)
    return int(most if quote.stock is None else min(most, quote.stock))


def order_placed(mix: Mix) -> dict[str, Variable]:
    """One order to each supplier that a chosen option buys from."""
    users: dict[str, dict[str, list[Any]]] = defaultdict(lambda: defaultdict(list))
    for option in mix.offer.options:
        for supplier in option.suppliers:
            users[supplier][option.fault].append(mix.take[option.key])
    orders = {supplier: mix.integer(0, 1) for supplier in sorted(users)}
    for supplier, by_fault in sorted(users.items()):
        for takes in by_fault.values():
            mix.row("order_for", total(takes) - orders[supplier] <= 0)
    return orders


def packs_only_with_an_order(mix: Mix, orders: dict[str, Variable]) -> None:
    """Packs that are bought beyond the need still belong to an order with its postage."""
    for quote in mix.in_play:
        if quote.supplier is not None and quote.id in mix.pack_columns:
            packs, most = mix.pack_columns[quote.id]
            mix.row("packs_in_order", packs - most * orders[quote.supplier] <= 0)


def goods_by_supplier(mix: Mix) -> dict[str, Expression]:
    """What the packs from each supplier cost, without deposits and postage."""
    terms: dict[str, list[Any]] = defaultdict(list)
    for quote in mix.in_play:
        if quote.supplier is not None:
            terms[quote.supplier].append(quote.price_minor * mix.packs[quote.id])
    return {supplier: total(goods) for supplier, goods in sorted(terms.items())}


def minimum_orders(mix: Mix, orders: dict[str, Variable], goods: dict[str, Expression]) -> None:
    """A supplier's goods reach its minimum if anything is bought there; any of its quotes may top the order up."""
    for supplier, order in orders.items():
        minimum = terms_of(mix, supplier).minimum_order_minor
        if minimum > 0:
            mix.row("minimum_order", goods[supplier] - minimum * order >= 0)


def postage_due(mix: Mix, orders: dict[str, Variable], goods: dict[str, Expression]) -> list[Expression]:
    """Postage once an order, waived where its goods reach the supplier's free-over amount."""
    due = []
    for supplier_id, order in orders.items():
        supplier = terms_of(mix, supplier_id)
        if supplier.postage_minor == 0:
            continue
        due.append(supplier.postage_minor * order)
        if supplier.free_over_minor is not None:
            waived = mix.integer(0, 1)
            mix.row("waiver_in_order", waived - order <= 0)
            mix.row("free_over", goods[supplier_id] - supplier.free_over_minor * waived >= 0)
            due.append(-supplier.postage_minor * waived)
    return due


def opened_once(mix: Mix) -> tuple[Expression, Expression]:
    """An access is paid once for all work that names it, and its minutes spent once for the owner's own work."""
    price, minutes = [], []
    for access in mix.job.access:
        naming = [o for o in mix.offer.options if access.id in o.access]
        own = [o for o in naming if not o.by_workshop]
        if access.price_minor and naming:
            price.append(access.price_minor * _opened(mix, naming))
        if access.minutes and own:
            minutes.append(access.minutes * _opened(mix, own))
    return total(price), total(minutes)


def _opened(mix: Mix, options: list[Option]) -> Variable:
    opened = mix.integer(0, 1)
    by_fault: dict[str, list[Any]] = defaultdict(list)
    for option in options:
        by_fault[option.fault].append(mix.take[option.key])
    for takes in by_fault.values():
        mix.row("opened_for", total(takes) - opened <= 0)
    return opened


def deposits_paid(mix: Mix) -> Expression:
    """Deposits on every piece bought, fitted or not."""
    return total(q.deposit_minor * q.pack * mix.packs[q.id] for q in mix.in_play if q.deposit_minor)


def deposits_back(mix: Mix, need: dict[str, Expression]) -> Expression:
    """Deposits that return with the old units: on the pieces fitted, not on surplus ones."""
    deposits = {line.quote.id: line.quote.deposit_minor for option in mix.offer.options for line in option.lines}
    return total(deposits[quote] * needed for quote, needed in need.items() if deposits[quote])


def direct_prices(mix: Mix) -> Expression:
    """Bought-in labour and consumables of the chosen repairs."""
    return total(o.direct_minor * mix.take[o.key] for o in mix.offer.options if o.direct_minor)


def never_over(mix: Mix) -> None:
    """What is paid out and what is left over make up what remains of the pot."""
    mix.unspent = mix.continuous(-HALF, job_budget(mix.job))
    mix.definition("never_over", mix.cash + mix.unspent == job_budget(mix.job))


def own_minutes(mix: Mix, orders: dict[str, Variable], access_minutes: Expression) -> Expression:
    """The owner's minutes: own repairs, opening up once, one trip an order where goods are fetched."""
    trips = {s: terms_of(mix, s).trip_minutes for s in orders}
    return total(
        [
            access_minutes,
            *(o.minutes * mix.take[o.key] for o in mix.offer.options if o.minutes),
            *(trips[s] * order for s, order in orders.items() if trips[s]),
        ]
    )


def within_hours(mix: Mix, minutes: Expression) -> None:
    """The owner's minutes fit the free hours, where those are limited."""
    if mix.job.time.minutes is not None and most_minutes(mix):
        mix.row("within_hours", minutes <= mix.job.time.minutes)


def room_to_rise(mix: Mix) -> None:
    """How much dearer the mix could get and still be paid for and still beat a rival.

    ``room <= unspent`` and ``room + cost <= rival``, cost being the net cost (aim profit: the profit foregone); the
    rival's cost is a column that whoever asks sets.
    """
    mix.room = mix.continuous(None, None)
    mix.rival = mix.continuous(None, None)
    decisive = next((s for s in mix.stages if s.name == PROFIT), mix.stages[-1])
    cost = -1 * decisive.column if decisive.maximise else decisive.column
    mix.definition("room_in_pot", mix.room - mix.unspent <= 0)
    mix.definition("room_to_rival", mix.room + cost - mix.rival <= 0)


def _supplier(mix: Mix, quote: Quote) -> Supplier:
    return terms_of(mix, quote.supplier or "-")
