"""An independent witness: every figure of a plan again, in whole numbers and exact fractions, straight from the job.

Shares nothing with the search, the formulation or the sums of the plan: it imports the model alone. A plan that fails
is never shown. Here the plan as a whole; ``certify_routes`` holds each tree against the job, with ``certify_options``,
``certify_costs``, ``certify_belief`` and ``certify_groups``.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping

from optimiser.certificate.belief import odds_wrong, stated
from optimiser.certificate.groups import beliefs, tables
from optimiser.certificate.options import quote_barred, quotes_of
from optimiser.certificate.routes import RouteWitness, leading, steps_of
from optimiser.certificate.sums import sums_wrong
from optimiser.errors import PlanRefusedError
from optimiser.model.job import Fault, Job
from optimiser.model.option import Line
from optimiser.model.plan import Choice, FirstCheck, Order, Plan
from optimiser.model.route import AttemptStep, CheckStep, Node, Route, Stop

GRAVITY = {"minor": 0, "major": 1, "dangerous": 2}


def certify(plan: Plan) -> None:
    """Raise ``PlanRefusedError`` with everything that does not hold; return nothing where all does."""
    wrong = [
        *_choices(plan),
        *_routes(plan),
        *_orders(plan),
        *_stock(plan),
        *_first_checks(plan),
        *sums_wrong(plan),
    ]
    if wrong:
        raise PlanRefusedError("the plan failed its certificate: " + "; ".join(dict.fromkeys(wrong)))


def _choices(plan: Plan) -> Iterator[str]:
    faults = [choice.fault.id for choice in plan.choices]
    if sorted(faults) != sorted(f.id for f in plan.job.faults):
        yield "not exactly one choice for every fault"
    known = {fault.id: fault for fault in plan.job.faults}
    if any(known.get(choice.fault.id) != choice.fault for choice in plan.choices):
        yield "a choice is for a fault that is not the job's"
    taken = [choice.route for choice in plan.choices if choice.route is not None]
    if sorted(taken, key=lambda r: r.fault) != sorted(plan.selection.routes, key=lambda r: r.fault):
        yield "choices and selection differ"
    for choice in plan.choices:
        if choice.route is not None and choice.fault.id in plan.job.left:
            yield f"{choice.fault.id}: worked on, though the person leaves it as it is"
        if choice.route is not None and choice.route.fault != choice.fault.id:
            yield f"{choice.fault.id}: the route is another fault's"
        certain, ahead = ((), ()) if choice.route is None else (_sure_lines(choice.route), choice.route.ahead)
        if [(p.part, p.units, p.wanted, p.quote, p.ahead) for p in choice.parts] != [
            (line.quote.part, line.units, line.wanted, line.quote, line.quote.id in ahead) for line in certain
        ]:
            yield f"{choice.fault.id}: parts shown are not those of the route"
        yield from (f"{choice.fault.id}: {what}" for what in _checks_shown(choice))


def _sure_lines(route: Route) -> tuple[Line, ...]:
    """The certain lines, and the shelf's pieces of an attempt that the route begins with."""
    first = route.first.option if isinstance(route.first, AttemptStep) else None
    begun = () if first is None or not leading(first) else first.lines
    return (*route.certain, *[line for line in begun if line not in route.certain])


def _checks_shown(choice: Choice) -> Iterator[str]:
    made = {} if choice.route is None else {x.check for x in steps_of(choice.route.first) if isinstance(x, CheckStep)}
    minutes = {check.id: check.minutes for check in choice.fault.checks}
    for worth in choice.checks:
        if minutes.get(worth.check) != worth.minutes or worth.taken != (worth.check in made and not worth.left_out):
            yield f"check {worth.check} is not shown as it is"


def _first_checks(plan: Plan) -> Iterator[str]:
    """What to look at first: each check that a route begins with, once, what is opened up counted in its turn."""
    names = {(f.id, c.id): c.same_as or f"{f.id}.{c.id}" for f in plan.job.faults for c in f.checks}
    begun: dict[str | None, set[str]] = {}
    for route in plan.selection.routes:
        if isinstance(route.first, CheckStep):
            begun.setdefault(names.get((route.fault, route.first.check)), set()).add(route.fault)
    looks = [names.get((look.fault, look.check)) for look in plan.do_first]
    if Counter(looks) != Counter(dict.fromkeys(begun, 1)):
        yield "what to look at first is not what the routes begin with"
    grave = {fault.id: GRAVITY[fault.severity] for fault in plan.job.faults}
    gravities = [grave.get(look.fault, 0) for look in plan.do_first]
    if gravities != sorted(gravities, reverse=True):
        yield "what to look at first is not the gravest first"
    checks = {(fault.id, check.id): check for fault in plan.job.faults for check in fault.checks}
    opened: set[str] = set()
    for look in plan.do_first:
        check = checks.get((look.fault, look.check))
        if check is None:
            continue
        opening = sum(a.minutes for a in plan.job.access if a.id in check.access and a.id not in opened)
        opened.update(check.access)
        if look.minutes != check.minutes + opening:
            yield f"{look.fault}: {look.minutes} minutes for {look.check} are not {check.minutes + opening}"
        name = names.get((look.fault, look.check))
        beside = {fault for (fault, _), other in names.items() if other == name} - {look.fault}
        if set(look.also) != beside or look.fault not in begun.get(name, ()):
            yield f"{look.fault}: {look.check} is not said to serve the faults that it serves"
        if not _worth_holds(plan, look, begun.get(name, set()), names):
            yield f"{look.fault}: what {look.check} is worth is not what the choice says"


def _worth_holds(plan: Plan, look: FirstCheck, served: set[str], names: Mapping[tuple[str, str], str]) -> bool:
    """Whether a look says of its worth what the choices say, and adds fixes and money up as shares of all."""
    fixes = saved = earned = worth = 0.0
    remaining = plan.job.pot.remaining_minor
    for choice in (choice for choice in plan.choices if choice.fault.id in served):
        for known in choice.checks:
            if names.get((choice.fault.id, known.check)) == names.get((look.fault, look.check)):
                fixes, saved = fixes + known.fixes, saved + known.saved_minor
                earned += known.earned_minor
                worth += choice.fault.importance * known.fixes
    worth += saved / remaining if remaining > 0 else 0.0
    said = (look.fixes, look.saved_minor, look.earned_minor, look.worth)
    known_to_be = (fixes, saved, earned, worth)
    return all(
        math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-9) for one, other in zip(said, known_to_be, strict=True)
    )


def _routes(plan: Plan) -> Iterator[str]:
    job, quotes, believed = plan.job, quotes_of(plan.job), beliefs(plan.job)
    sure = {order.supplier.id for order in plan.orders}
    for fault in job.faults:
        route, odds = plan.selection.route_for(fault.id), plan.odds.get(fault.id, ())
        belief = believed[fault.id]
        yield from (f"{fault.id}: {what}" for what in odds_wrong(fault, odds, belief, route, tables(job, fault)))
        if route is None:
            continue
        held = RouteWitness(job, fault, route, stated(odds) if belief is None else belief, quotes)
        yield from (f"{fault.id}: {what}" for what in held.wrong())
        yield from (f"{fault.id}: {what}" for what in _rides_alone(plan, route))
        if not sure.issuperset(route.relies_on):
            yield f"{fault.id}: relies on the minimum of a supplier that is not sure to get an order"


def _rides_alone(plan: Plan, route: Route) -> Iterator[str]:
    """What is bought ahead comes with some other line that is sure, of whatever fault."""
    if not route.ahead:
        return
    lines = [(r.fault, line.quote) for r in plan.selection.routes for line in r.certain]
    for line in (line for line in route.certain if line.quote.id in route.ahead):
        beside = [q for fault, q in lines if (fault, q.id) != (route.fault, line.quote.id)]
        if not any(q.supplier == line.quote.supplier for q in beside):
            yield f"{line.quote.id} is bought ahead in an order of its own"


def _fitted(plan: Plan) -> Counter[str]:
    """Pieces that are sure to be fitted, by quote."""
    fitted: Counter[str] = Counter()
    for route in plan.selection.routes:
        for line in route.certain:
            fitted[line.quote.id] += line.units
    return fitted


def _users(job: Job) -> dict[str, list[Fault]]:
    """The faults that use each part."""
    users: dict[str, list[Fault]] = defaultdict(list)
    for fault in job.faults:
        for part in {part for repair in fault.repairs for part in repair.parts}:
            users[part].append(fault)
    return users


def _orders(plan: Plan) -> Iterator[str]:
    fitted, quotes, users = _fitted(plan), quotes_of(plan.job), _users(plan.job)
    seen: set[str] = set()
    for order in plan.orders:
        name = order.supplier.id
        if order.supplier != plan.job.supplier(name) or name in seen:
            yield f"order to {name}: not that supplier's terms, or two orders"
        seen.add(name)
        for what in _order(order):
            yield f"order to {name}: {what}"
    lines = [line for order in plan.orders for line in order.lines]
    ordered = {line.quote.id: line for line in lines}
    if len(ordered) != len(lines):
        yield "a quote stands twice in the orders"
    for quote in fitted:
        if quote in quotes and quotes[quote].supplier is not None and quote not in ordered:
            yield f"{quote} is fitted but not ordered"
    for quote, line in ordered.items():
        if line.quote.supplier is None or line.fitted != fitted[quote] or line.packs * line.quote.pack < fitted[quote]:
            yield f"{quote}: too few packs, or not a quote of the job"
        yield from quote_barred(plan.job, line.quote, quotes, users.get(line.quote.part))
    if {quote: line.packs for quote, line in ordered.items()} != dict(plan.selection.packs):
        yield "orders and selection differ"


def _order(order: Order) -> Iterator[str]:
    goods = sum(line.packs * line.quote.price_minor for line in order.lines)
    terms = order.supplier
    waived = terms.free_over_minor is not None and goods >= terms.free_over_minor
    if order.goods_minor != goods or order.postage_minor != (0 if waived else terms.postage_minor):
        yield "goods or postage do not add up"
    waivable = terms.free_over_minor is not None and terms.postage_minor and not waived
    if order.to_waive_minor != ((terms.free_over_minor or 0) - goods if waivable else None):
        yield "what would waive the postage does not add up"
    if order.deposits_minor != sum(x.packs * x.quote.pack * x.quote.deposit_minor for x in order.lines):
        yield "deposits do not add up"
    if goods < terms.minimum_order_minor:
        yield "below the minimum order"
    if not any(line.fitted for line in order.lines):
        yield "nothing in it is sure to be fitted"
    for line in order.lines:
        if line.packs < 1 or (line.quote.stock is not None and line.packs > line.quote.stock):
            yield f"{line.quote.id}: packs outside the stock"
        if line.quote.supplier != terms.id:
            yield f"{line.quote.id} is another supplier's"


def _stock(plan: Plan) -> Iterator[str]:
    """Of every quote and shelf row, what is sure to be taken and what any path of each route may take beside that."""
    fitted, quotes = _fitted(plan), quotes_of(plan.job)
    taken = Counter(dict(plan.selection.packs))
    taken.update({quote: units for quote, units in fitted.items() if quote in quotes and not quotes[quote].supplier})
    for route in plan.selection.routes:
        taken.update(_others(route))
    for quote, packs in taken.items():
        limit = quotes[quote].stock if quote in quotes else None
        if limit is not None and packs > limit:
            what = "packs" if quotes[quote].supplier else f"x {quotes[quote].part} on the shelf"
            yield f"{quote}: only {limit} {what}, where {packs} may be taken"


def _others(route: Route) -> dict[str, int]:
    """The most packs of each quote that a path takes beside the certain lines, with what tops its orders up."""
    return _taken(route.first, {x.quote.id: x.units for x in route.certain if x.quote.id not in route.ahead})


def _taken(node: Node, certain: Mapping[str, int]) -> Counter[str]:
    if isinstance(node, Stop):
        return Counter()
    own: Counter[str] = Counter()
    below = certain
    if isinstance(node, AttemptStep):
        for line in (line for line in node.option.lines if line.quote.id not in node.option.ahead):
            own[line.quote.id] += -(-max(0, line.units - certain.get(line.quote.id, 0)) // line.quote.pack)
        own.update(dict(node.topping))
        below = certain if leading(node.option) and not certain else {}
    most: Counter[str] = Counter()
    for branch in node.then:
        most |= _taken(branch.then, below)
    return most + own
