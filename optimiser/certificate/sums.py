"""The witness on what the whole plan comes to: money, shares, minutes, and the value of every stage."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from optimiser.certificate.belief import exact
from optimiser.certificate.routes import first_attempts, leading, steps_of
from optimiser.model.job import Job, Severity
from optimiser.model.plan import Choice, Plan
from optimiser.model.route import AttemptStep, CheckStep, Node, Route, Stop


@dataclass(frozen=True)
class Used:
    """What one route may use of all that is shared, and what each of its paths pays for sure before parts."""

    opened: frozenset[str]
    opened_by_owner: frozenset[str]
    suppliers: frozenset[str]
    sure_minor: int

    @classmethod
    def by(cls, job: Job, route: Route | None) -> Used:
        """Read off the route's tree; nothing for a fault that is left."""
        if route is None:
            return cls(frozenset(), frozenset(), frozenset(), 0)
        checks = {c.id: c.access for fault in job.faults if fault.id == route.fault for c in fault.checks}
        opened: set[str] = set()
        own: set[str] = set()
        for step in steps_of(route.first):
            names = step.option.access if isinstance(step, AttemptStep) else checks.get(step.check, ())
            opened.update(names)
            if isinstance(step, CheckStep) or not step.option.by_workshop:
                own.update(names)
        lines = (line for option in first_attempts(route.first) if option is not None for line in option.lines)
        suppliers = frozenset(line.quote.supplier for line in lines if line.quote.supplier is not None)
        return cls(frozenset(opened), frozenset(own), suppliers, _sure(route.first))


def _sure(node: Node) -> int:
    """What every branch pays by its first order: leading steps, and the direct price of the attempt that orders."""
    if isinstance(node, Stop):
        return 0
    if isinstance(node, AttemptStep) and not leading(node.option):
        return node.option.direct_minor
    return node.cash_minor + min((_sure(branch.then) for branch in node.then), default=0)


def sums_wrong(plan: Plan) -> Iterator[str]:
    """Every sum of the plan that does not add up."""
    used = {route.fault: Used.by(plan.job, route) for route in plan.selection.routes}
    yield from _money(plan, used)
    yield from _pot(plan)
    yield from _shares(plan, used)
    yield from _lists(plan, used)
    yield from _time(plan, used)
    yield from _safety(plan)
    yield from _values(plan, used)
    yield from _last(plan, used)
    yield from _suppliers(plan, used)


def _unsure(plan: Plan, used: dict[str, Used]) -> list[str]:
    """Suppliers that may get a first order and are not sure to."""
    suppliers = frozenset[str]().union(*(own.suppliers for own in used.values()))
    return sorted(suppliers - {order.supplier.id for order in plan.orders})


def _money(plan: Plan, used: dict[str, Used]) -> Iterator[str]:
    purse, routes = plan.purse, plan.selection.routes
    fitted: Counter[str] = Counter()
    for line in (line for route in routes for line in route.certain):
        fitted[line.quote.id] += line.units
    orders = sum(o.goods_minor + o.postage_minor for o in plan.orders)
    deposits = sum(o.deposits_minor for o in plan.orders)
    back = sum(line.quote.deposit_minor * fitted[line.quote.id] for o in plan.orders for line in o.lines)
    access = sum(a.price_minor for a in plan.job.access if any(a.id in own.opened for own in used.values()))
    sure = sum(own.sure_minor for own in used.values())
    unsure = sum(plan.job.supplier(supplier).postage_minor for supplier in _unsure(plan, used))
    fallbacks = sum(route.cash_minor for route in routes) - sure + unsure
    table = (purse.orders_minor, purse.direct_minor, purse.deposits_minor, purse.deposits_due_minor)
    if table != (orders, access + sure, deposits, back):
        yield "the money table does not add up"
    if purse.fallbacks_minor != fallbacks:
        yield f"{purse.fallbacks_minor} kept for fallbacks is not {fallbacks} minor units"
    net = orders + deposits - back + unsure + access + sum(half_up(exact(route.net_minor)) for route in routes)
    if purse.net_minor != net:
        yield f"expected net cost {purse.net_minor} is not {net} minor units"


def _pot(plan: Plan) -> Iterator[str]:
    purse, pot = plan.purse, plan.job.pot
    committed = pot.purchase_minor + pot.spent_minor + pot.recorded_minor
    remaining = pot.cap_minor - committed - pot.hold_back_minor
    cash = purse.orders_minor + purse.direct_minor + purse.deposits_minor + purse.fallbacks_minor
    if (purse.cap_minor, purse.committed_minor, purse.hold_back_minor, purse.remaining_minor) != (
        pot.cap_minor,
        committed,
        pot.hold_back_minor,
        remaining,
    ):
        yield "the pot in the money table is not the job's"
    if purse.unspent_minor != remaining - cash:
        yield "what is unspent does not add up"
    if cash > max(0, remaining):
        yield f"over the pot by {cash - max(0, remaining)} minor units"


def _shares(plan: Plan, used: dict[str, Used]) -> Iterator[str]:
    """Shares of what is shared fall on who may use it, and all shares of one cost sum to it."""
    unsure = {supplier: plan.job.supplier(supplier).postage_minor for supplier in _unsure(plan, used)}
    prices = {access.id: access.price_minor for access in plan.job.access}
    for choice in plan.choices:
        route = choice.route
        own = used.get(choice.fault.id, Used.by(plan.job, None))
        if not _share_holds(choice) or choice.own_minor != (0 if route is None else half_up(exact(route.net_minor))):
            yield f"{choice.fault.id}: its share does not add up"
        opening = [(prices[a], sum(a in other.opened for other in used.values())) for a in own.opened if a in prices]
        if not _equal_share(choice.access_minor, opening):
            yield f"{choice.fault.id}: its share of opening up does not add up"
        posting = [
            (unsure[s], sum(s in other.suppliers for other in used.values())) for s in own.suppliers & set(unsure)
        ]
        if not _equal_share(choice.postage_minor, posting):
            yield f"{choice.fault.id}: its share of postage does not add up"
    if sum(c.landed_minor for c in plan.choices) != plan.purse.net_minor:
        yield "the shares do not sum to the net cost"
    opened = frozenset[str]().union(*(own.opened for own in used.values()))
    if sum(c.access_minor for c in plan.choices) != sum(price for name, price in prices.items() if name in opened):
        yield "the shares of opening up do not sum to it"
    if sum(c.postage_minor for c in plan.choices) != sum(unsure.values()):
        yield "the shares of postage do not sum to it"


def _share_holds(choice: Choice) -> bool:
    parts = sum(part.landed_minor for part in choice.parts)
    return choice.landed_minor == choice.own_minor + choice.access_minor + choice.postage_minor + parts


def _equal_share(share_minor: int, costs: list[tuple[int, int]]) -> bool:
    """Whether a share is that of costs which so many users share alike, to the minor unit each."""
    return sum(c // users for c, users in costs) <= share_minor <= sum(-(-c // users) for c, users in costs)


def _lists(plan: Plan, used: dict[str, Used]) -> Iterator[str]:
    if plan.access != tuple(a for a in plan.job.access if any(a.id in own.opened for own in used.values())):
        yield "what is opened up is not what the routes name"
    over: Counter[str] = Counter()
    for line in (line for order in plan.orders for line in order.lines):
        over[line.quote.part] += line.packs * line.quote.pack - line.fitted
    left = [(left.part, left.units) for left in plan.leftovers]
    if sorted(left) != sorted((part, units) for part, units in over.items() if units):
        yield "leftovers do not add up"


def _shared_minutes(plan: Plan, used: dict[str, Used]) -> int:
    """Opening up for the owner's own work, and a trip for every first order, sure or not."""
    suppliers = [order.supplier for order in plan.orders]
    suppliers += [plan.job.supplier(supplier) for supplier in _unsure(plan, used)]
    opened = frozenset[str]().union(*(own.opened_by_owner for own in used.values()))
    return sum(a.minutes for a in plan.job.access if a.id in opened) + sum(s.trip_minutes for s in suppliers)


def _time(plan: Plan, used: dict[str, Used]) -> Iterator[str]:
    shared, routes = _shared_minutes(plan, used), plan.selection.routes
    minutes = shared + sum(route.worst_minutes for route in routes)
    expected = shared + math.fsum(route.minutes for route in routes)
    if plan.minutes != minutes:
        yield f"{plan.minutes} minutes are not {minutes}"
    if abs(plan.expected_minutes - expected) > 1e-6:
        yield f"{plan.expected_minutes} expected minutes are not {expected}"
    limit = plan.job.time.minutes
    if limit is not None and minutes > limit:
        yield f"{minutes} minutes do not fit {limit}"


def _safety(plan: Plan) -> Iterator[str]:
    """The stage that comes first under safety first: dangerous faults, in whole steps, up to good enough."""
    settings, levels = plan.job.settings, plan.selection.levels
    chances = {route.fault: route.chance for route in plan.selection.routes}
    grave = [f for f in plan.job.faults if f.severity == Severity.DANGEROUS]
    if settings.safety_first and grave and "dangerous" not in levels:
        yield "stage dangerous is missing"
    enough, step, value = exact(settings.good_enough), exact(settings.safety_step), 0
    for fault in grave:
        worth = min(enough, as_counted(chances.get(fault.id, 0.0), settings.chance_step))
        if step:
            worth = math.floor(worth * whole_steps(step)) / Fraction(whole_steps(step))
        value += half_up(exact(fault.importance) * worth * 1_000_000)
    if levels.get("dangerous", value) != value:
        yield f"stage dangerous: {levels['dangerous']} millionths are not {value}"


def whole_steps(step: Fraction) -> int:
    """How many steps there are in 1."""
    return half_up(1 / step)


def as_counted(chance: float, step: float) -> Fraction:
    """A chance as it counts: to the nearest step, half up, from one step on and never up to a certainty."""
    as_written = Fraction(math.floor(exact(chance) * 10**9 + Fraction(1, 2)), 10**9)
    if not step:
        return as_written
    steps = whole_steps(exact(step))
    if as_written * steps < 1 or as_written == 1:
        return as_written
    return Fraction(min(steps - 1, math.floor(as_written * steps + Fraction(1, 2))), steps)


def _values(plan: Plan, used: dict[str, Used]) -> Iterator[str]:
    levels = plan.selection.levels
    chances = {route.fault: route.chance for route in plan.selection.routes}
    step = plan.job.settings.chance_step
    fixes = [(f.importance, chances[f.id]) for f in plan.job.faults if f.id in chances]
    value = sum(half_up(exact(importance) * as_counted(chance, step) * 1_000_000) for importance, chance in fixes)
    if levels.get("all-faults", value) != value:
        yield f"all faults: {levels['all-faults']} millionths are not {value}"
    if "profit" in levels and levels["profit"] != _profit(plan, used):
        yield f"profit {levels['profit']} is not {_profit(plan, used)}"
    if abs(plan.expected_fixes - sum(i * c for i, c in fixes)) > 1e-6 or (
        abs(plan.expected_count - sum(c for _, c in fixes)) > 1e-6
    ):
        yield "expected fixes do not add up"


def _last(plan: Plan, used: dict[str, Used]) -> Iterator[str]:
    """The last stage: net cost, or with it what the owner's time is worth, in sixtieths of a minor unit."""
    levels, net, worth = plan.selection.levels, plan.purse.net_minor, plan.job.hour_worth_minor
    if plan.job.settings.aim == "profit" or not worth:
        if levels.get("net-cost") != net:
            yield f"net cost {levels.get('net-cost')} is not {net}"
        return
    routes = plan.selection.routes
    shared_net = net - sum(half_up(exact(route.net_minor)) for route in routes)
    own = sum(half_up(60 * exact(route.net_minor) + worth * exact(route.minutes)) for route in routes)
    value = 60 * shared_net + worth * _shared_minutes(plan, used) + own
    if levels.get("cost-and-time") != value:
        yield f"cost and time {levels.get('cost-and-time')} are not {value} sixtieths"


def _suppliers(plan: Plan, used: dict[str, Used]) -> Iterator[str]:
    """No more first orders than the job allows, counting those that only some branch places."""
    most = plan.job.settings.most_suppliers
    suppliers = {order.supplier.id for order in plan.orders}.union(*(own.suppliers for own in used.values()))
    if most is not None and len(suppliers) > most:
        yield f"orders to {len(suppliers)} suppliers where {most} are allowed"


def _profit(plan: Plan, used: dict[str, Used]) -> int:
    gains = {f.id: f.sale_gain_minor for f in plan.job.faults}
    gained = 0
    for route in plan.selection.routes:
        net = exact(route.net_minor)
        gained += half_up(gains.get(route.fault, 0) * exact(route.chance) - net) + half_up(net)
    tenths = 10 * _shared_minutes(plan, used)
    tenths += sum(half_up(10 * exact(route.minutes)) for route in plan.selection.routes)
    time = (plan.job.hour_worth_minor * tenths + 300) // 600
    return gained - plan.purse.net_minor - time


def half_up(amount: Fraction) -> int:
    """To the nearest whole number, half up; what floats add at the eighth place and below is noise, not a half."""
    return (math.floor(amount * 1_000_000 + Fraction(1, 2)) + 500_000) // 1_000_000
