"""Draw up the plan from the bare mix: orders, shares of cost, the money table, and the short why of each choice."""

from __future__ import annotations

import difflib
from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from optimiser import money
from optimiser.landed import Alone, Standing, extra_cost
from optimiser.model.job import Access, Fault, Job, Severity
from optimiser.model.option import Offer, Option
from optimiser.model.plan import (
    Choice,
    Leftover,
    Notice,
    Order,
    OrderLine,
    PartChoice,
    Plan,
    Purse,
    Reason,
    Remark,
    Selection,
    Why,
)
from optimiser.model.quotes import Quote

NO_DIFFERENCE = 1e-6
MOST_NEAR = 500
GRAVEST_FIRST = (Severity.DANGEROUS, Severity.MAJOR, Severity.MINOR)


def plan(job: Job, offer: Offer, selection: Selection, cautions: Mapping[str, tuple[str, ...]]) -> Plan:
    """The whole plan for a selection; ``cautions`` are those of the systems that it touches.

    Shares of cost sum exactly to the plan's net cost.
    """
    orders = _orders(job, selection, {quote.id: quote for quote in offer.quotes})
    opened = {access for option in selection.options for access in option.access}
    access = tuple(a for a in job.access if a.id in opened)
    purse = _purse(job, selection, orders, access)
    minutes = _minutes(job, selection, orders)
    part_shares, access_shares = _part_shares(selection, orders), _access_shares(access, selection)
    scene = _Scene(job, purse, minutes, Standing.after(orders, opened), Alone(job, offer.quotes), _fitted(selection))
    taken = {option.fault: option for option in selection.options}
    offered: dict[str, list[Option]] = defaultdict(list)
    for option in offer.options:
        offered[option.fault].append(option)
    choices = tuple(
        _choice(
            fault,
            taken.get(fault.id),
            part_shares,
            access_shares,
            _why(fault, taken.get(fault.id), offered[fault.id], scene),
        )
        for fault in sorted(job.faults, key=lambda f: (GRAVEST_FIRST.index(f.severity), -f.importance))
    )
    return Plan(
        job=job,
        choices=choices,
        orders=orders,
        purse=purse,
        access=access,
        minutes=minutes,
        leftovers=_leftovers(orders),
        not_offered=offer.not_offered,
        notices=tuple(_notices(job, choices, orders, purse)),
        cautions=cautions,
        expected_fixes=sum(c.fault.importance * c.chance for c in choices),
        expected_count=sum(c.chance for c in choices),
        selection=selection,
    )


def _orders(job: Job, selection: Selection, quotes: Mapping[str, Quote]) -> tuple[Order, ...]:
    fitted = _fitted(selection)
    by_supplier: dict[str, list[OrderLine]] = defaultdict(list)
    for quote_id, packs in selection.packs.items():
        quote = quotes[quote_id]
        by_supplier[quote.supplier or ""].append(OrderLine(quote=quote, packs=packs, fitted=fitted[quote_id]))
    return tuple(_order(job, supplier, lines) for supplier, lines in sorted(by_supplier.items()))


def _fitted(selection: Selection) -> Counter[str]:
    """Pieces fitted, by quote."""
    fitted: Counter[str] = Counter()
    for option in selection.options:
        for line in option.lines:
            fitted[line.quote.id] += line.units
    return fitted


def _order(job: Job, supplier_id: str, lines: Sequence[OrderLine]) -> Order:
    terms = job.supplier(supplier_id)
    goods = sum(line.goods_minor for line in lines)
    waived = terms.free_over_minor is not None and goods >= terms.free_over_minor
    postage = 0 if waived else terms.postage_minor
    return Order(
        supplier=terms,
        lines=tuple(sorted(lines, key=lambda line: (line.quote.content, line.quote.line))),
        goods_minor=goods,
        postage_minor=postage,
        deposits_minor=sum(line.deposits_minor for line in lines),
        to_waive_minor=terms.free_over_minor - goods if postage and terms.free_over_minor is not None else None,
    )


def _purse(job: Job, selection: Selection, orders: Sequence[Order], access: Sequence[Access]) -> Purse:
    ordered = sum(o.goods_minor + o.postage_minor for o in orders)
    direct = sum(o.direct_minor for o in selection.options) + sum(a.price_minor for a in access)
    deposits = sum(o.deposits_minor for o in orders)
    pot = job.pot
    return Purse(
        cap_minor=pot.cap_minor,
        committed_minor=pot.committed_minor,
        hold_back_minor=pot.hold_back_minor,
        remaining_minor=pot.remaining_minor,
        orders_minor=ordered,
        direct_minor=direct,
        deposits_minor=deposits,
        deposits_due_minor=sum(line.quote.deposit_minor * line.fitted for o in orders for line in o.lines),
        fallbacks_minor=0,
        unspent_minor=pot.remaining_minor - ordered - direct - deposits,
    )


def _minutes(job: Job, selection: Selection, orders: Sequence[Order]) -> int:
    own = [option for option in selection.options if not option.by_workshop]
    opened = {access for option in own for access in option.access}
    return (
        sum(option.minutes for option in own)
        + sum(a.minutes for a in job.access if a.id in opened)
        + sum(order.supplier.trip_minutes for order in orders)
    )


def _part_shares(selection: Selection, orders: Sequence[Order]) -> dict[tuple[str, str], int]:
    """Each fault's part with its share of the order that brings it.

    A line's goods and lost deposits are shared by pieces; what no piece of the plan stands for (postage, topping up)
    is shared by those shares.
    """
    users_of: dict[str, list[tuple[str, str, int]]] = defaultdict(list)
    for option in selection.options:
        for used in option.lines:
            users_of[used.quote.id].append((option.fault, used.quote.part, used.units))
    shares: dict[tuple[str, str], int] = {}
    for order in orders:
        order_shares: dict[tuple[str, str], int] = {}
        common = order.postage_minor
        for line in order.lines:
            cost = line.goods_minor + line.deposits_minor - line.quote.deposit_minor * line.fitted
            users = users_of[line.quote.id]
            if not users:
                common += cost
                continue
            split = money.share(cost, [units for _, _, units in users])
            order_shares |= {(fault, part): share for (fault, part, _), share in zip(users, split, strict=True)}
        for key, extra in zip(order_shares, money.share(common, list(order_shares.values())), strict=True):
            shares[key] = order_shares[key] + extra
    return shares


def _access_shares(access: Sequence[Access], selection: Selection) -> dict[str, int]:
    """An access price in equal shares for the faults that need it open."""
    users_of: dict[str, list[str]] = defaultdict(list)
    for option in selection.options:
        for access_id in option.access:
            users_of[access_id].append(option.fault)
    shares: dict[str, int] = defaultdict(int)
    for opened in access:
        users = users_of[opened.id]
        for fault, share in zip(users, money.share(opened.price_minor, [1] * len(users)), strict=True):
            shares[fault] += share
    return shares


def _choice(
    fault: Fault,
    option: Option | None,
    shares: Mapping[tuple[str, str], int],
    access_shares: Mapping[str, int],
    why: Why,
) -> Choice:
    if option is None:
        return Choice(fault=fault, option=None, parts=(), access_minor=0, landed_minor=0, why=why)
    parts = tuple(
        PartChoice(
            part=line.quote.part,
            units=line.units,
            wanted=line.wanted,
            quote=line.quote,
            landed_minor=shares.get((fault.id, line.quote.part), 0),
        )
        for line in option.lines
    )
    access = access_shares.get(fault.id, 0)
    landed = option.direct_minor + access + sum(part.landed_minor for part in parts)
    return Choice(fault=fault, option=option, parts=parts, access_minor=access, landed_minor=landed, why=why)


@dataclass(frozen=True)
class _Scene:
    """What the short whys look at: the plan so far, what options cost alone, and the pieces that are taken."""

    job: Job
    purse: Purse
    minutes: int
    standing: Standing
    alone: Alone
    taken: Counter[str]


def _why(fault: Fault, chosen: Option | None, options: Sequence[Option], scene: _Scene) -> Why:
    if not options:
        return Why(reason=Reason.NOTHING_OFFERED)
    if chosen is None:
        return _why_left(options, scene)
    others = [option for option in options if option.key != chosen.key]
    if not others:
        return Why(reason=Reason.ONLY_WAY)
    return _why_chosen(fault, chosen, others, scene)


def _why_chosen(fault: Fault, chosen: Option, others: Sequence[Option], scene: _Scene) -> Why:
    """Against the surest other option (of those the cheapest), or the next surest where the choice is the surest."""
    alone = {option.key: scene.alone(option)[1] for option in [chosen, *others]}
    surest = max(others, key=lambda o: (round(o.chance, 6), -alone[o.key]))
    cost = alone[surest.key] - alone[chosen.key]
    gain = surest.chance - chosen.chance
    settings = scene.job.settings
    if gain < -NO_DIFFERENCE:
        reason = Reason.SUREST if cost < 0 else Reason.SUREST_AND_CHEAPEST
    elif gain <= NO_DIFFERENCE and cost >= 0:
        reason = Reason.SUREST_AND_CHEAPEST
    elif cost <= 0:
        reason = Reason.SHARES_AN_ORDER
    elif settings.safety_first and fault.severity != Severity.MINOR and chosen.chance >= settings.good_enough:
        reason = Reason.GOOD_ENOUGH
    else:
        reason = Reason.DEARER_FOR_LITTLE
    return Why(reason=reason, other=surest, cost_minor=cost, chance=gain)


def _why_left(options: Sequence[Option], scene: _Scene) -> Why:
    costs = {option.key: extra_cost(scene.job, option, scene.standing)[0] for option in options}
    cheapest = min(options, key=lambda o: costs[o.key])
    cost, alone = costs[cheapest.key], scene.alone(cheapest)[0]
    limit = scene.job.time.minutes
    in_stock = [o for o in options if not _bare(o, scene)]
    affordable = [o for o in in_stock if costs[o.key] <= max(0, scene.purse.unspent_minor)]
    if not in_stock:
        reason = Reason.NO_STOCK
    elif alone > max(0, scene.purse.remaining_minor):
        reason, cost = Reason.TOO_DEAR, alone
    elif not affordable:
        reason = Reason.NO_MONEY
    elif limit is not None and all(scene.minutes + _extra_minutes(o, scene) > limit for o in affordable):
        reason = Reason.NO_HOURS
    else:
        reason = Reason.NOT_WORTH_IT if scene.job.settings.aim == "profit" else Reason.OTHERS_FIRST
    return Why(reason=reason, other=cheapest, cost_minor=cost, chance=cheapest.chance)


def _extra_minutes(option: Option, scene: _Scene) -> int:
    """The owner's minutes on top of the plan: the repair, what is not open yet, a trip to a new supplier."""
    job, standing = scene.job, scene.standing
    trips = sum(job.supplier(s).trip_minutes for s in option.suppliers if s not in standing.goods_minor)
    if option.by_workshop:
        return trips
    opening = sum(a.minutes for a in job.access if a.id in option.access and a.id not in standing.opened)
    return option.minutes + opening + trips


def _bare(option: Option, scene: _Scene) -> bool:
    """Whether other faults have taken the pieces that the option would need."""
    return any(
        line.quote.stock is not None and scene.taken[line.quote.id] + line.units > line.quote.stock * line.quote.pack
        for line in option.lines
    )


def _leftovers(orders: Sequence[Order]) -> tuple[Leftover, ...]:
    over: Counter[str] = Counter()
    for order in orders:
        for line in order.lines:
            over[line.quote.part] += line.pieces - line.fitted
    return tuple(Leftover(part=part, units=units) for part, units in sorted(over.items()) if units)


def _notices(job: Job, choices: Sequence[Choice], orders: Sequence[Order], purse: Purse) -> list[Notice]:
    """What must be said, the gravest first."""
    settings = job.settings
    found: list[Notice] = []
    if purse.remaining_minor < 0:
        found.append(Notice(remark=Remark.OVERSPENT, about=(job.currency.text(-purse.remaining_minor),)))
    dangerous = [c for c in choices if c.fault.severity == Severity.DANGEROUS]
    found += [Notice(remark=Remark.DANGEROUS_LEFT, about=(c.fault.id,)) for c in dangerous if c.option is None]
    found += [
        Notice(remark=Remark.DANGEROUS_UNSURE, about=(c.fault.id, f"{c.chance:.2f}"))
        for c in dangerous
        if c.option is not None and c.chance < settings.good_enough
    ]
    if not settings.safety_first:
        found.append(Notice(remark=Remark.SAFETY_OFF))
    found += [Notice(remark=Remark.PROTECTION_LIFTED, about=(p.id, p.kind)) for p in job.parts if p.protection_lifted]
    found += [Notice(remark=Remark.LICENCE_CLAIMED, about=(system.value,)) for system in settings.licensed]
    found += [
        Notice(remark=Remark.SET_ROUNDED, about=(c.fault.id, p.part, str(p.wanted), str(p.units)))
        for c in choices
        for p in c.parts
        if p.units > p.wanted
    ]
    return found + job_notices(job, {order.supplier.id for order in orders})


def job_notices(job: Job, suppliers: set[str] | None = None) -> list[Notice]:
    """What the job as written gives cause to say, whatever is chosen; about these suppliers only, if given."""
    found: list[Notice] = []
    settings = job.settings
    listed = {supplier.id for supplier in job.suppliers}
    quoted = {quote.supplier for quote in job.quotes if quote.supplier is not None}
    unlisted = sorted((quoted if suppliers is None else suppliers) - listed)
    found += [_with_nearest(Remark.SUPPLIER_NOT_LISTED, supplier, listed) for supplier in unlisted]
    named = {part for fault in job.faults for repair in fault.repairs for part in repair.parts}
    strays = [
        _with_nearest(Remark.PART_NOT_NAMED, part, named) for part in sorted({q.part for q in job.quotes} - named)
    ]
    found += [stray for stray in strays if len(stray.about) > 1]
    if settings.needed_by and settings.today and settings.needed_by < settings.today:
        found.append(Notice(remark=Remark.NEEDED_BY_PAST, about=(str(settings.needed_by), str(settings.today))))
    alike: dict[tuple[object, ...], list[Quote]] = defaultdict(list)
    for quote in job.quotes:
        alike[quote.content].append(quote)
    repeated = [quotes for quotes in alike.values() if len(quotes) > 1]
    found += [Notice(remark=Remark.ALIKE_QUOTES, about=tuple(q.id for q in quotes)) for quotes in repeated]
    found += _same_axle(job)
    if job.settings.currency == money.NO_CURRENCY:
        found.append(Notice(remark=Remark.NO_CURRENCY))
    if job.settings.fallbacks and any(fault.checks for fault in job.faults):
        found.append(Notice(remark=Remark.CHECKS_NOT_PLANNED))
    return found


def _with_nearest(remark: Remark, name: str, known: set[str]) -> Notice:
    near = difflib.get_close_matches(name, sorted(known)[:MOST_NEAR], n=1, cutoff=0.8) if name not in known else []
    swapped = [other for other in known if other.lower() == name.lower()]
    return Notice(remark=remark, about=(name, *(swapped or near)[:1]))


def _same_axle(job: Job) -> list[Notice]:
    """Two faults that each renew a set of the same part may mean the two ends of one axle."""
    users_of: dict[str, list[str]] = defaultdict(list)
    for fault in job.faults:
        for part_id in {part: None for repair in fault.repairs for part in repair.parts}:
            users_of[part_id].append(fault.id)
    return [
        Notice(remark=Remark.SAME_AXLE, about=(part.id, *users_of[part.id]))
        for part in job.parts
        if part.renew_in > 1 and len(users_of[part.id]) > 1
    ]
