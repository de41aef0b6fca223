"""The cheapest suppliers for a fixed list of parts: one integer program out of the pieces in ``ordering``.

The problem is plant location with postage as the fixed charge (Balinski 1965; as internet shopping: Błażewicz,
Kovalyov, Musiał, Urbański and Wojciechowski 2010), with whole packs, stock, waivers, minimum orders and deposits
besides. Two things keep the relaxation tight. An order is tied to each part's pieces apart, which is Balinski's strong
form. And a supplier that waives its postage stands in the program as two counters of which one is used: one that asks
postage, and one that asks none and takes no order below the waiver's amount (the disjunctive form of Balas 1979).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

import pulp

from optimiser.model.job import Job
from optimiser.model.plan import NET_COST, Outcome
from optimiser.model.purchase_list import PacksBought
from optimiser.model.quotes import Quote, Supplier
from optimiser.money import sums_with
from optimiser.solver import backends, ordering
from optimiser.solver.exact_solve import WORTH_RELAXING, Clock, Ending, measured, solve
from optimiser.solver.program import (
    HALF,
    Expression,
    Level,
    Program,
    Values,
    Variable,
    terms_of,
    total,
)
from optimiser.solver.ties import LeastOf, Tie, asked_by, fix_the_settled, settled

CASH, SUPPLIERS = "cash", "suppliers"
WAIVED = "\twaived"
"""Behind the id of a supplier or quote: at the counter that asks no postage. No id of a job holds a tab."""
WIDEST_SUM = 2_000_000
"""Minor units up to which sums of prices are looked at to find pointless quotes; beyond, quotes are kept."""


@dataclass(kw_only=True)
class ListProgram(Program):
    """The program of a fixed list: the pieces ``wanted`` by part, and those ``used`` of each quote that sells one.

    ``asked`` are the quotes as the suppliers put them, in content order; ``in_play`` are they by counter.
    """

    wanted: Mapping[str, int]
    asked: list[Quote]
    used: dict[str, Variable] = field(default_factory=dict)

    @property
    def sold(self) -> Iterator[Quote]:
        """Quotes of the listed parts, by counter."""
        return (quote for quote in self.in_play if quote.part in self.wanted)

    def most_used(self, quote: Quote) -> int:
        """Pieces of the quote that the list could take."""
        wanted = self.wanted[quote.part]
        return wanted if quote.stock is None else min(wanted, quote.stock * quote.pack)

    def most_packs(self, quote: Quote) -> int:
        """No fewer packs of a quote in play than any basket that counts would buy."""
        column, most = self.pack_columns.get(quote.id, (None, 0))
        return self.most_used(quote) if column is None else most

    def at_both_counters(self, quote: Quote, counts: Mapping[str, Expression]) -> Expression:
        """Packs or pieces of a quote as the supplier put it."""
        return total(counts[name] for name in (quote.id, quote.id + WAIVED) if name in counts)


def cheapest(
    job: Job,
    wanted: Mapping[str, int],
    quotes: Iterable[Quote],
    clock: Clock,
    *,
    ceiling_minor: int | None = None,
    fixed: Mapping[str, int] | None = None,
    terms: bool = True,
    ties: bool = True,
) -> PacksBought | None:
    """The least net cost at which these quotes give the pieces wanted, by part; None where the time ran out first.

    Then the least cash out, the fewest suppliers, and (``ties``) the fewest packs of what comes last by content.
    ``ceiling_minor`` is a net cost known to be reached, ``fixed`` the pieces to take of each quote, other quotes being
    there for topping up alone. Without ``terms`` nobody asks for postage or a minimum. The quotes must hold enough
    pieces, and all that a supplier offers must come to its minimum order.

    Raises ``SolverError`` where the solver that the job asks for is missing or gives nothing usable.
    """
    program = build(job, wanted, quotes, terms=terms, ceiling_minor=ceiling_minor)
    if fixed is not None:
        for quote in program.asked:
            if quote.part in wanted:
                pieces = program.at_both_counters(quote, program.used)
                program.row("as_fixed", pieces == fixed.get(quote.id, 0))
    net, *others = program.stages
    ending, answer = _least(program, net.measures, clock)
    if answer is None:
        return None
    values, outcome = answer.values, Outcome(proven=True)
    if ending is not Ending.CLOSED:
        better = measured(net.measures, values) - _whole_bound(answer.bound)
        outcome = Outcome(proven=False, stage=NET_COST, unit="money", better_at_most=max(0, better))
    elif others or ties:
        values = _first_of_equals(program, values, clock, content=ties)
    return _bought(program, values, outcome)


def no_less_than(job: Job, wanted: Mapping[str, int], quotes: Iterable[Quote], clock: Clock) -> int:
    """What no way to buy the list goes below, in minor units: the relaxation's cost, 0 where that is not to be had."""
    program = build(job, wanted, quotes)
    program.problem.setObjective(program.stages[0].measures)
    relaxed = backends.relaxed(program, (), clock.left)
    return 0 if relaxed is None else _whole_bound(relaxed.objective)


def _whole_bound(bound: float) -> int:
    """Costs are whole, so the least of them is too; what solvers add at the ninth digit counts for nothing."""
    return max(0, math.ceil(bound - 0.001 - 1e-9 * abs(bound))) if math.isfinite(bound) else 0


def _least(program: ListProgram, objective: Expression, clock: Clock) -> tuple[Ending, backends.Answer | None]:
    """Minimise, and close every column that no other answer as good can use: the tie-breaks are then soon settled.

    Where a column of reduced cost d is used, no answer is better than the relaxation's plus d (Dantzig, Fulkerson and
    Johnson 1954).
    """
    columns = [column for column in program.integers if not column.lowBound and column.upBound]
    relaxed = None
    if len(columns) >= WORTH_RELAXING:
        program.problem.setObjective(total([objective]) - objective.constant)
        relaxed = backends.relaxed(program, columns, clock.left)
    ending, answer = solve(program, objective, clock.left)
    if relaxed is not None and answer is not None and ending is Ending.CLOSED:
        room = answer.objective - relaxed.objective + 0.01 + 1e-6 * abs(relaxed.objective)
        for column in columns:
            if relaxed.reduced_costs[column.name] > room:
                column.upBound = 0
    return ending, answer


def build(
    job: Job,
    wanted: Mapping[str, int],
    quotes: Iterable[Quote],
    *,
    terms: bool = True,
    ceiling_minor: int | None = None,
) -> ListProgram:
    """Build the program: every column, row and level. Money is in minor units."""
    suppliers = {s.id: s for s in job.suppliers} if terms else {}
    asked = worth_asking(quotes, wanted, suppliers)
    counters = counters_of(suppliers[name] for name in sorted({q.supplier or "" for q in asked} & set(suppliers)))
    program = ListProgram(
        job=job,
        problem=pulp.LpProblem("basket", pulp.LpMinimize),
        suppliers=counters,
        in_play=by_counter(asked, wanted, counters),
        asked=asked,
        wanted=wanted,
    )
    as_many_as_wanted(program)
    surplus_never_pays = not_beyond_the_need(program.in_play, suppliers)
    ordering.whole_packs(program, program.used, {q.id: program.most_used(q) for q in program.sold}, surplus_never_pays)
    packs_for_the_list(program)
    orders = order_placed(program)
    goods = ordering.goods_by_supplier(program)
    one_counter_a_supplier(program, orders, goods, suppliers)
    ordering.packs_only_with_an_order(program, orders, program.used)
    ordering.minimum_orders(program, orders, goods)
    postage = ordering.postage_due(program, orders, orders, goods)
    back = ordering.deposits_back(program, program.used)
    program.cash = total([*goods.values(), *postage, ordering.deposits_paid(program)])
    wanted_in_order(program, total([program.cash, -1 * back]), orders, ceiling_minor)
    return program


def worth_asking(quotes: Iterable[Quote], wanted: Mapping[str, int], suppliers: Mapping[str, Supplier]) -> list[Quote]:
    """Quotes of the listed parts, and those that could top up an order to a supplier of one, in content order."""
    quotes = sorted(quotes, key=lambda q: (q.content, q.line))
    sold = [quote for quote in quotes if quote.part in wanted]
    thresholds = {s.id for s in suppliers.values() if s.has_threshold} & {quote.supplier for quote in sold}
    others: dict[str, list[Quote]] = defaultdict(list)
    for quote in quotes:
        if quote.part not in wanted and quote.supplier in thresholds and quote.price_minor > 0:
            terms = suppliers[quote.supplier]
            if terms.minimum_order_minor or quote.price_minor < terms.postage_minor:
                others[quote.supplier].append(quote)
    topping = [quote for offered in others.values() for quote in worth_topping_up_with(offered)]
    return sorted([*sold, *topping], key=lambda q: (q.content, q.line))


def counters_of(suppliers: Iterable[Supplier]) -> dict[str, Supplier]:
    """Each supplier's counters with terms that hold no waiver any more."""
    counters: dict[str, Supplier] = {}
    for supplier in suppliers:
        counters[supplier.id] = supplier.model_copy(update={"free_over_minor": None})
        if supplier.free_over_minor is not None and supplier.postage_minor:
            least = max(supplier.free_over_minor, supplier.minimum_order_minor)
            terms = {"id": supplier.id + WAIVED, "postage_minor": 0, "minimum_order_minor": least}
            counters[supplier.id + WAIVED] = counters[supplier.id].model_copy(update=terms)
    return counters


def by_counter(asked: Iterable[Quote], wanted: Mapping[str, int], counters: Mapping[str, Supplier]) -> list[Quote]:
    """The quotes at every counter where they can be of use: topping up is for counters with a minimum."""
    placed = []
    for quote in asked:
        supplier = quote.supplier or ""
        for name, mark in ((supplier, ""), (supplier + WAIVED, WAIVED)):
            asks = counters[name].minimum_order_minor > 0 if name in counters else mark == "" and quote.part in wanted
            if asks or (quote.part in wanted and name in counters):
                copy = quote.model_copy(update={"id": quote.id + mark, "supplier": name}) if mark else quote
                placed.append(copy)
    return placed


def worth_topping_up_with(quotes: Iterable[Quote]) -> list[Quote]:
    """Of one supplier's quotes that nobody wants as parts, those that others do not make pointless.

    Goods are all that counts: quotes that never run out and ask no deposit do for every price that is a sum of theirs.
    Sums are the bits of a whole number.
    """
    ranked = sorted(quotes, key=lambda q: (q.price_minor, q.deposit_minor, q.stock is not None, q.content, q.line))
    most = min(max((quote.price_minor for quote in ranked), default=0), WIDEST_SUM)
    sums, kept = 1, []
    for quote in ranked:
        if sums >> quote.price_minor & 1:
            continue
        kept.append(quote)
        if quote.stock is None and quote.deposit_minor == 0:
            sums = sums_with(sums, quote.price_minor, most)
    return kept


def not_beyond_the_need(in_play: Iterable[Quote], suppliers: Mapping[str, Supplier]) -> set[str]:
    """Quotes of which a pack too many never pays: it costs the postage that it could spare, and no minimum asks."""
    waived = ((q, suppliers[(q.supplier or "").removesuffix(WAIVED)]) for q in in_play if q.id.endswith(WAIVED))
    return {q.id for q, terms in waived if not terms.minimum_order_minor and q.price_minor >= terms.postage_minor}


def as_many_as_wanted(program: ListProgram) -> None:
    """Every part on the list in exactly the pieces wanted; one part may come from several quotes."""
    by_part: dict[str, list[Variable]] = defaultdict(list)
    for quote in program.sold:
        program.used[quote.id] = program.integer(0, program.most_used(quote))
        by_part[quote.part].append(program.used[quote.id])
    for part, wanted in program.wanted.items():
        program.row("as_wanted", total(by_part[part]) == wanted)


def packs_for_the_list(program: ListProgram) -> None:
    """A pack larger than what is wanted is bought whole: nothing new, but the relaxation is not to buy a part of it."""
    for quote in program.sold:
        wanted = program.wanted[quote.part]
        if wanted < quote.pack and quote.id in program.pack_columns:
            program.row("packs_for_list", wanted * program.pack_columns[quote.id][0] - program.used[quote.id] >= 0)


def order_placed(program: ListProgram) -> dict[str, Variable]:
    """An order to each supplier that pieces are taken from, part by part."""
    taken: dict[tuple[str, str], list[Quote]] = defaultdict(list)
    for quote in program.sold:
        taken[quote.supplier or "", quote.part].append(quote)
    orders = {supplier: program.integer(0, 1) for supplier in sorted({supplier for supplier, _ in taken})}
    for (supplier, part), quotes in taken.items():
        most = min(program.wanted[part], sum(program.most_used(quote) for quote in quotes))
        program.row("order_for", total(program.used[q.id] for q in quotes) - most * orders[supplier] <= 0)
    return orders


def one_counter_a_supplier(
    program: ListProgram,
    orders: Mapping[str, Variable],
    goods: Mapping[str, Expression],
    suppliers: Mapping[str, Supplier],
) -> None:
    """One order a supplier, and goods that reach the waiver are not bought where postage is asked."""
    for name, waived in orders.items():
        if name.endswith(WAIVED):
            paid = name.removesuffix(WAIVED)
            free_over = suppliers[paid].free_over_minor or 0
            program.row("one_counter", orders[paid] + waived <= 1)
            program.row("below_waiver", goods[paid] - (free_over - 1) * orders[paid] <= 0)


def wanted_in_order(
    program: ListProgram, net: Expression, orders: Mapping[str, Variable], ceiling_minor: int | None
) -> None:
    """What is wanted, in order: least net cost, least cash out, fewest suppliers."""
    most = sum(program.most_packs(quote) * quote.outlay_minor for quote in program.in_play)
    high = most + sum(terms_of(program, supplier).postage_minor for supplier in orders)
    returned = sum(q.deposit_minor * program.most_used(q) for q in program.sold)
    _level(program, NET_COST, net, high if ceiling_minor is None else min(high, ceiling_minor))
    if returned:
        _level(program, CASH, program.cash, high)
    _level(program, SUPPLIERS, total(orders.values()), len(orders))


def _level(program: ListProgram, name: str, measures: Expression, high: int) -> None:
    column = program.continuous(-HALF, high + HALF)
    program.definition("level", column - measures == 0)
    program.stages.append(Level(name=name, column=column, measures=measures, maximise=False, low=0, high=high))


def _first_of_equals(program: ListProgram, values: Values, clock: Clock, *, content: bool) -> Values:
    """Hold the net cost, then settle what is left in order, as far as the time goes."""
    least = asked_by(program, clock.for_ties())
    net, *others = program.stages
    net.at_most(measured(net.measures, values))
    for level in others:
        found = least(level.measures, values)
        if found is None:
            return values
        values = found
        level.at_most(measured(level.measures, values))
    return _first_by_content(program, values, least) if content else values


def _first_by_content(program: ListProgram, values: Values, least: LeastOf) -> Values:
    """The fewest packs of the quote that comes last by content, then of the one before it, and so on.

    Quotes that no equal basket buys are fixed at none first, so that few are left to settle.
    """
    packs = {quote.id: program.at_both_counters(quote, program.packs) for quote in program.asked}
    bought = frozenset(name for name, count in packs.items() if measured(count, values))
    loose = fix_the_settled(packs, lambda name: -1 * packs[name], values, least, bought)
    if loose is None:
        return values
    reach = {quote.id: program.most_packs(quote) + 1 for quote in program.in_play}

    def tie(name: str) -> Tie:
        def hold(values: Values) -> None:
            """Not at one counter: a quote that comes later may still move the order to the other."""
            program.row("settled", packs[name] == measured(packs[name], values))

        return Tie(packs[name], max(reach.get(name, 0), reach.get(name + WAIVED, 0)), hold)

    return settled((tie(quote.id) for quote in reversed(program.asked) if quote.id in loose), values, least)


def _bought(program: ListProgram, values: Values, outcome: Outcome) -> PacksBought:
    packs = {quote.id: measured(program.at_both_counters(quote, program.packs), values) for quote in program.asked}
    return PacksBought(
        packs={name: count for name, count in packs.items() if count},
        net_minor=measured(program.stages[0].measures, values),
        cash_minor=measured(program.cash, values),
        outcome=outcome,
    )
