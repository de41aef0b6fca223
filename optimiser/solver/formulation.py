"""What the mix must keep to: every variable and every constraint, each a small function with its reason.

What holds of any order to a supplier (packs, minimums, postage, deposits) is in ``ordering``.

Money is in minor units of the job's currency, time in minutes. Columns are named by running number, since ids that
differ only in signs would become one name in a solver's file.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from typing import Any

import pulp

from optimiser.errors import InputError, Problem
from optimiser.model.candidates import Offer, Proposal
from optimiser.model.job import Job
from optimiser.model.plan import MONEY, Reason, Selection, per_minor
from optimiser.model.quotes import Quote, Supplier
from optimiser.solver import ordering
from optimiser.solver.objectives import add_levels
from optimiser.solver.program import (
    GREATEST_FACTOR,
    HALF,
    Expression,
    Minutes,
    Mix,
    Variable,
    by_fault,
    divided,
    greatest_of,
    job_budget,
    most_minutes,
    scale_of,
    step_of,
    terms_of,
    total,
)


def build(job: Job, offer: Offer, last: Selection | None = None) -> Mix:
    """Build the program for a job and what it may choose from; ``last`` is the plan to stay nearest to."""
    suppliers = {s.id: s for s in job.suppliers}
    grouped = by_fault(offer)
    mix = Mix(
        job=job,
        offer=offer,
        problem=pulp.LpProblem("mix", pulp.LpMinimize),
        suppliers=suppliers,
        by_fault=grouped,
        in_play=quotes_in_play(offer, suppliers),
        budget_minor=job_budget(job),
    )
    for proposal in mix.proposals:
        mix.take[proposal.key] = mix.integer(0, 1)
    one_route_a_fault(mix)
    need = needed_units(mix)
    ordering.whole_packs(mix, need, _greatest_need(mix))
    packs_for_each_fault(mix)
    stock_limits(mix)  # so early: of 200 faults HiGHS then finds much better mixes in its time
    mix.orders = order_placed(mix)
    certain = certain_order(mix)
    ordering.packs_only_with_an_order(mix, certain, need)
    goods = ordering.goods_by_supplier(mix)
    mix.sums = ordering.sums_of_top_ups(mix, certain, offer.sums)
    goods |= {supplier: total([goods[supplier], amount]) for supplier, amount in mix.sums.items()}
    ordering.minimum_orders(mix, certain, goods)
    postage = ordering.postage_due(mix, mix.orders, certain, goods)
    access_price, access_minutes = opened_once(mix)
    shared = total([*goods.values(), *postage, access_price, ordering.deposits_paid(mix)])
    mix.cash = total([shared, own_cash(mix)])
    never_over(mix)
    mix.minutes = own_minutes(mix, access_minutes)
    within_hours(mix)
    at_most_so_many_suppliers(mix)
    ahead_rides(mix)
    add_levels(mix, total([shared, -1 * ordering.deposits_back(mix, need)]), last)
    room_to_rise(mix)
    _no_amount_too_great(mix)
    return mix


def _no_amount_too_great(mix: Mix) -> None:
    """Raise ``InputError`` where amounts are so great that the solver could not tell a minor unit of them."""
    per = per_minor(mix.stages[-1].name)
    money = [mix.cash, *(stage.measures for stage in mix.stages if stage.name in MONEY)]
    if all(max(map(abs, sums.values()), default=0) <= GREATEST_FACTOR * step_of(sums) for sums in money):
        return
    text = mix.job.currency.text
    wanted = f"amounts up to {text(GREATEST_FACTOR // per)} in whole minor units"
    timed = f', or write hour_worth = "0": then up to {text(GREATEST_FACTOR)}' if per > 1 else ""
    mend = f"reckon in a greater unit or in rounder amounts{timed}"
    greatest = max(abs(round(factor)) for factor in mix.cash.values())
    raise InputError([Problem("job.toml", "[money]", "hour_worth" if timed else "cap", text(greatest), wanted, mend)])


def one_route_a_fault(mix: Mix) -> None:
    """A fault is worked on in one way, or left."""
    for proposals in mix.by_fault.values():
        mix.row("one_route", total(mix.take[p.key] for p in proposals) <= 1)


def needed_units(mix: Mix) -> dict[str, Expression]:
    """Pieces that the chosen routes are sure to need of each quote, all faults together: packs are shared."""
    terms: dict[str, list[Any]] = defaultdict(list)
    for proposal in mix.proposals:
        for line in proposal.certain:
            terms[line.quote.id].append((mix.take[proposal.key], line.units))
    return {quote: total(needed) for quote, needed in terms.items()}


def quotes_in_play(offer: Offer, suppliers: Mapping[str, Supplier]) -> list[Quote]:
    """Quotes of certain lines, and those that could top up an order to a supplier of such a line."""
    used = {line.quote.id: line.quote for proposal in offer.proposals for line in proposal.certain}
    thresholds = {s for s in {q.supplier for q in used.values()} if s and s in suppliers and suppliers[s].has_threshold}
    used |= {quote.id: quote for quote in offer.quotes if quote.supplier in thresholds and quote.price_minor > 0}
    return sorted(used.values(), key=lambda q: (q.content, q.line))


def packs_for_each_fault(mix: Mix) -> None:
    """Whole packs for every fault by itself: nothing new, but it spares the relaxation from buying a part of a pack.

    That nearly halves the relaxation's gap on the full example.
    """
    by_name: dict[str, dict[str, list[Any]]] = defaultdict(lambda: defaultdict(list))
    for proposal in mix.proposals:
        for line in proposal.certain:
            if line.quote.id in mix.pack_columns and line.units % line.quote.pack:
                packs = line.quote.packs_for(line.units)
                by_name[line.quote.id][proposal.fault].append((mix.take[proposal.key], packs))
    for quote_id, faults in sorted(by_name.items()):
        for needed in faults.values():
            mix.row("packs_for_fault", total(needed) - mix.pack_columns[quote_id][0] <= 0)


def stock_limits(mix: Mix) -> None:
    """Of every quote no more packs than there are: the shared ones, and what routes may take beside them."""
    others: dict[str, list[Any]] = defaultdict(list)
    for proposal in mix.proposals:
        for quote_id, packs in proposal.other_packs.items():
            others[quote_id].append((mix.take[proposal.key], packs))
    greatest = _greatest_need(mix)
    stock = {line.quote.id: line.quote.stock for option in mix.offer.options for line in option.lines}
    stock |= {quote.id: quote.stock for quote in mix.offer.quotes}
    for quote_id, limit in sorted(stock.items()):
        if limit is None:
            continue
        # a column of packs is bounded already
        exceedable = quote_id not in mix.pack_columns and greatest[quote_id] > limit
        if others[quote_id] or exceedable:
            mix.row("stock", total([mix.packs.get(quote_id, 0), *others[quote_id]]) <= limit)


def _greatest_need(mix: Mix) -> dict[str, int]:
    """The most pieces of each quote that all faults together could be sure to want."""
    by_route: dict[tuple[str, str], int] = defaultdict(int)
    for proposal in mix.proposals:
        for line in proposal.certain:
            key = (line.quote.id, proposal.fault)
            by_route[key] = max(by_route[key], line.units)
    greatest: dict[str, int] = defaultdict(int)
    for (quote, _), units in by_route.items():
        greatest[quote] += units
    return greatest


def order_placed(mix: Mix) -> dict[str, Variable]:
    """One first order to each supplier that a chosen route may buy from."""
    users = _by_name_and_fault(mix, lambda proposal: proposal.suppliers)
    orders = {supplier: mix.integer(0, 1) for supplier in sorted(users)}
    _switched_on(mix, "order_for", users, orders)
    return orders


def certain_order(mix: Mix) -> dict[str, Variable]:
    """Whether a supplier is sure to get an order: only then is there one to share, to top up and to rely on."""
    users = _by_name_and_fault(mix, lambda proposal: proposal.certain_suppliers)
    unsure = {s for p in mix.proposals for s in (p.suppliers | p.relies_on) - p.certain_suppliers}
    certain = {s: mix.integer(0, 1) if s in unsure else mix.orders[s] for s in sorted(users)}
    own = {supplier: faults for supplier, faults in users.items() if supplier in unsure}
    _switched_on(mix, "certain_order_for", own, certain)
    for supplier, takes in own.items():
        everything = [take for of_fault in takes.values() for take in of_fault]
        mix.row("certain_order", certain[supplier] - total(everything) <= 0)
        mix.row("certain_in_order", certain[supplier] - mix.orders[supplier] <= 0)
    relying = _by_name_and_fault(mix, lambda proposal: proposal.relies_on)
    for supplier, faults in sorted(relying.items()):
        for relies in faults.values():
            mix.row("minimum_relied_on", total(relies) - certain.get(supplier, 0) <= 0)
    return certain


def _by_name_and_fault(mix: Mix, names_of: Callable[[Proposal], Iterable[str]]) -> dict[str, dict[str, list[Variable]]]:
    """The columns of the routes that name something, by that name and by fault."""
    users: dict[str, dict[str, list[Variable]]] = defaultdict(lambda: defaultdict(list))
    for proposal in mix.proposals:
        for name in names_of(proposal):
            users[name][proposal.fault].append(mix.take[proposal.key])
    return users


def _switched_on(
    mix: Mix, name: str, users: Mapping[str, Mapping[str, list[Variable]]], switches: Mapping[str, Variable]
) -> None:
    """Whatever uses something switches it on: one row a fault, which is as tight as one a route."""
    for used, faults in sorted(users.items()):
        for takes in faults.values():
            mix.row(name, total(takes) - switches[used] <= 0)


def opened_once(mix: Mix) -> tuple[Expression, Expression]:
    """An access is paid once for all work that may need it, and its minutes spent once for the owner's own work."""
    rows = {access.id: access for access in mix.job.access}
    paid = _by_name_and_fault(mix, lambda p: (a for a in p.access if rows[a].price_minor))
    own = _by_name_and_fault(mix, lambda p: (a for a in p.own_access if rows[a].minutes))
    price = {name: mix.integer(0, 1) for name in sorted(paid)}
    minutes = {name: mix.integer(0, 1) for name in sorted(own)}
    _switched_on(mix, "opened_for", paid, price)
    _switched_on(mix, "opened_by_owner_for", own, minutes)
    return (
        total((opened, rows[name].price_minor) for name, opened in price.items()),
        total((opened, rows[name].minutes) for name, opened in minutes.items()),
    )


def own_cash(mix: Mix) -> Expression:
    """What each chosen route takes beside what is shared, at its dearest: direct prices, checks, fallbacks."""
    return total((mix.take[p.key], p.cash_minor) for p in mix.proposals if p.cash_minor)


def at_most_so_many_suppliers(mix: Mix) -> None:
    """No more first orders than the job allows: a person waits for only so many parcels."""
    most = mix.job.settings.most_suppliers
    if most is not None and len(mix.orders) > most:
        mix.row("most_suppliers", total(mix.orders.values()) <= most)


def ahead_rides(mix: Mix) -> None:
    """What is bought ahead rides in an order with something else: by itself it would spare no postage, trip or minimum.

    Where its own route is not sure to buy more there, another fault's must be.
    """
    riders = _by_name_and_fault(mix, lambda proposal: proposal.rides_with)
    carriers = _by_name_and_fault(mix, lambda proposal: proposal.certain_suppliers)
    for supplier, faults in sorted(riders.items()):
        for fault, rides in faults.items():
            others = [take for other, takes in carriers[supplier].items() if other != fault for take in takes]
            mix.row("ahead_rides", total(rides) - total(others) <= 0)


def never_over(mix: Mix) -> None:
    """What is paid out at most and what is left over make up what remains of the pot, as far as a mix could take it."""
    step = step_of(mix.cash)
    mix.within_reach = min(job_budget(mix.job), greatest_of(mix.cash)) // step * step
    mix.unspent_unit = step * scale_of(divided(mix.cash, step))
    mix.unspent = mix.continuous(-HALF * step / mix.unspent_unit, mix.within_reach / mix.unspent_unit)
    paid = divided(mix.cash, mix.unspent_unit)
    mix.definition("never_over", paid + mix.unspent == mix.within_reach / mix.unspent_unit)


def own_minutes(mix: Mix, access_minutes: Expression) -> Minutes:
    """The owner's minutes: checks and own repairs, opening up once, one trip a first order where goods are fetched."""
    trips = {s: terms_of(mix, s).trip_minutes for s in mix.orders}
    shared = total([access_minutes, *((order, trips[s]) for s, order in mix.orders.items() if trips[s])])
    counted = total((mix.take[p.key], p.minutes) for p in mix.proposals if p.minutes)
    tenths = total((mix.take[p.key], p.expected_tenths) for p in mix.proposals if p.expected_tenths)
    return Minutes(total([shared, counted]), total([10 * shared, tenths]), shared)


def within_hours(mix: Mix) -> None:
    """The owner's minutes fit the free hours along every path, where those are limited."""
    if mix.job.time.minutes is not None and most_minutes(mix):
        mix.row("within_hours", mix.minutes.counted <= mix.job.time.minutes)


WITHIN: Mapping[Reason, Callable[[Mix], None]] = {
    Reason.NO_STOCK: stock_limits,
    Reason.NO_MONEY: never_over,
    Reason.NO_HOURS: within_hours,
    Reason.NO_MORE_SUPPLIERS: at_most_so_many_suppliers,
}
"""The rows of every limit (``model.limits``), which ``build`` states once what they are made of is there."""


def room_to_rise(mix: Mix) -> None:
    """How much dearer the mix could get and still be paid for and still beat a rival.

    ``room <= unspent`` and ``room + cost <= rival``, cost being what the last stage measures (aim profit: the profit
    foregone), all in that level's unit; the rival's cost is a column that whoever asks sets.
    """
    mix.room = mix.continuous(None, None)
    mix.rival = mix.continuous(None, None)
    decisive = mix.decisive
    cost = -1 * decisive.column if decisive.maximise else decisive.column
    per_minor_unit = per_minor(decisive.name)
    # more room than this limits nothing; a rival of another program may cost the whole pot
    span = decisive.high - decisive.low + per_minor_unit * job_budget(mix.job)
    beyond = min(span, per_minor_unit * (job_budget(mix.job) - mix.within_reach))
    in_pot = decisive.unit * mix.room - per_minor_unit * mix.unspent_unit * mix.unspent
    mix.definition("room_in_pot", in_pot <= beyond)
    mix.definition("room_to_rival", mix.room + cost - mix.rival <= 0)
