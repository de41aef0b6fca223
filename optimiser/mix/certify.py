"""An independent witness: every figure of a plan again, in whole numbers and exact fractions, straight from the job.

Shares nothing with the formulation or the options: it imports the model alone. A plan that fails is never shown.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from optimiser.errors import PlanRefusedError
from optimiser.model.job import ONLY_NEW_KIND, SOMETHING_ELSE, Fault, Job, LicensedSystem, Repair, Severity
from optimiser.model.option import Option
from optimiser.model.plan import Choice, Order, Plan
from optimiser.model.quotes import Quote


def certify(plan: Plan) -> None:
    """Raise ``PlanRefusedError`` with everything that does not hold; return nothing where all does."""
    wrong = [
        *_choices(plan),
        *_options(plan),
        *_orders(plan),
        *_shelf(plan),
        *_money(plan),
        *_lists(plan),
        *_time(plan),
        *_values(plan),
    ]
    if wrong:
        raise PlanRefusedError("the plan failed its certificate: " + "; ".join(wrong))


def _choices(plan: Plan) -> Iterator[str]:
    faults = [choice.fault.id for choice in plan.choices]
    if sorted(faults) != sorted(f.id for f in plan.job.faults):
        yield "not exactly one choice for every fault"
    taken = [choice.option for choice in plan.choices if choice.option is not None]
    known = {fault.id: fault for fault in plan.job.faults}
    if any(known.get(choice.fault.id) != choice.fault for choice in plan.choices):
        yield "a choice is for a fault that is not the job's"
    if sorted(taken, key=lambda o: o.key) != sorted(plan.selection.options, key=lambda o: o.key):
        yield "choices and selection differ"


def _options(plan: Plan) -> Iterator[str]:
    quotes = _quotes(plan.job)
    for choice in plan.choices:
        if choice.option is not None:
            for what in _option(plan.job, choice.fault, choice.option, quotes):
                yield f"{choice.fault.id}: {what}"
            if [(p.part, p.units, p.wanted, p.quote) for p in choice.parts] != [
                (line.quote.part, line.units, line.wanted, line.quote) for line in choice.option.lines
            ]:
                yield f"{choice.fault.id}: parts shown are not those of the option"


def _option(job: Job, fault: Fault, option: Option, quotes: Mapping[str, Quote]) -> Iterator[str]:
    repair = next((r for r in fault.repairs if r.id == option.repair), None)
    if repair is None or option.fault != fault.id:
        yield f"no repair {option.repair}"
        return
    if {line.quote.part: line.units for line in option.lines} != {
        part: _in_sets(job, part, wanted) for part, wanted in repair.parts.items()
    } or len(option.lines) != len(repair.parts):
        yield "parts are not those of the repair in whole sets"
    if any(line.wanted != repair.parts.get(line.quote.part) for line in option.lines):
        yield "pieces wanted are not the repair's"
    for line in option.lines:
        yield from _barred(job, line.quote, quotes)
    yield from _work_barred(job, fault, repair, option)
    if abs(float(_chance(fault, repair, option)) - option.chance) > 1e-9:
        yield f"chance {option.chance} is not {float(_chance(fault, repair, option))}"
    own = repair.by == "self"
    expected = (not own, repair.price_minor, repair.minutes if own else 0, set(repair.access))
    if (option.by_workshop, option.direct_minor, option.minutes, set(option.access)) != expected:
        yield "price, minutes or access are not the repair's"


def _in_sets(job: Job, part: str, wanted: int) -> int:
    size = next((p.renew_in for p in job.parts if p.id == part), 1)
    return wanted + (-wanted) % size


def _barred(job: Job, quote: Quote, quotes: Mapping[str, Quote]) -> Iterator[str]:
    settings = job.settings
    part = next((p for p in job.parts if p.id == quote.part), None)
    if quotes.get(quote.id) != quote:
        yield f"no quote {quote.id}"
    if _late(job, quote.lead_days):
        yield f"{quote.id} comes too late"
    if quote.valid_until is not None and settings.today is not None and quote.valid_until < settings.today:
        yield f"{quote.id} has lapsed"
    if part is not None and part.kind == ONLY_NEW_KIND and quote.condition != "new":
        yield f"{quote.id} is not new"
    if part is not None and part.salvage_barred and quote.condition == "salvage":
        yield f"{quote.id} is salvage"


def _quotes(job: Job) -> dict[str, Quote]:
    """Every quote of the job by its id, the shelf's pieces as quotes of price 0 among them."""
    shelf = (
        Quote(
            id=f"owned:{number}",
            part=owned.part,
            supplier=None,
            condition=owned.condition,
            price_minor=0,
            stock=owned.units,
            good_chance=owned.good_chance,
        )
        for number, owned in enumerate(job.owned, start=1)
    )
    return {quote.id: quote for quote in (*job.quotes, *shelf)}


def _late(job: Job, days: int) -> bool:
    settings = job.settings
    return bool(settings.needed_by and settings.today and days > (settings.needed_by - settings.today).days)


def _work_barred(job: Job, fault: Fault, repair: Repair, option: Option) -> Iterator[str]:
    settings = job.settings
    closed = {s.value for s in LicensedSystem} - {s.value for s in settings.licensed}
    if repair.by == "self" and fault.system in closed:
        yield "licensed work"
    wait = max([line.quote.lead_days for line in option.lines], default=0) + repair.lead_days
    if option.days != wait:
        yield f"{option.days} days are not {wait}"
    if _late(job, wait):
        yield "done too late"


def _chance(fault: Fault, repair: Repair, option: Option) -> Fraction:
    """``sum_c P(c) cure[c] x prod good(q)``, exactly, from the odds as written."""
    odds = {cause: Fraction(o) for cause, o in fault.causes.items()}
    listed = sum(odds.values(), Fraction(0))
    rest = Fraction(fault.something_else) if odds else Fraction(1)
    chance = rest * Fraction(repair.cure(SOMETHING_ELSE))
    for cause, share in odds.items():
        chance += (1 - rest) * share / listed * Fraction(repair.cure(cause))
    for line in option.lines:
        chance *= Fraction(line.quote.good_chance)
    return chance


def _fitted(plan: Plan) -> Counter[str]:
    fitted: Counter[str] = Counter()
    for option in plan.selection.options:
        for line in option.lines:
            fitted[line.quote.id] += line.units
    return fitted


def _orders(plan: Plan) -> Iterator[str]:
    fitted, quotes = _fitted(plan), _quotes(plan.job)
    seen: set[str] = set()
    for order in plan.orders:
        name = order.supplier.id
        if order.supplier != plan.job.supplier(name) or name in seen:
            yield f"order to {name}: not that supplier's terms, or two orders"
        seen.add(name)
        for what in _order(order):
            yield f"order to {name}: {what}"
    ordered = {line.quote.id: line for order in plan.orders for line in order.lines}
    for choice in plan.choices:
        for part in choice.parts:
            if part.quote.supplier is not None and part.quote.id not in ordered:
                yield f"{part.quote.id} is fitted but not ordered"
    for quote, line in ordered.items():
        if line.quote.supplier is None or line.fitted != fitted[quote] or line.pieces < fitted[quote]:
            yield f"{quote}: too few packs, or not a quote of the job"
        yield from _barred(plan.job, line.quote, quotes)
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
    for line in order.lines:
        if line.packs < 1 or (line.quote.stock is not None and line.packs > line.quote.stock):
            yield f"{line.quote.id}: packs outside the stock"
        if line.quote.supplier != terms.id:
            yield f"{line.quote.id} is another supplier's"


def _shelf(plan: Plan) -> Iterator[str]:
    fitted = _fitted(plan)
    for number, owned in enumerate(plan.job.owned, start=1):
        if fitted[f"owned:{number}"] > owned.units:
            yield f"only {owned.units} x {owned.part} on the shelf"


def _money(plan: Plan) -> Iterator[str]:
    purse, pot = plan.purse, plan.job.pot
    fitted = _fitted(plan)
    orders = sum(o.goods_minor + o.postage_minor for o in plan.orders)
    deposits = sum(o.deposits_minor for o in plan.orders)
    back = sum(line.quote.deposit_minor * fitted[line.quote.id] for o in plan.orders for line in o.lines)
    access = sum(a.price_minor for a in plan.job.access if a.id in _opened(plan))
    direct = sum(o.direct_minor for o in plan.selection.options) + access
    net = orders + direct + deposits - back
    remaining = pot.cap_minor - pot.purchase_minor - pot.spent_minor - pot.hold_back_minor
    table = (purse.orders_minor, purse.direct_minor, purse.deposits_minor, purse.deposits_due_minor)
    if table != (orders, direct, deposits, back) or purse.fallbacks_minor != 0:
        yield "the money table does not add up"
    if (purse.cap_minor, purse.committed_minor, purse.hold_back_minor, purse.remaining_minor) != (
        pot.cap_minor,
        pot.purchase_minor + pot.spent_minor,
        pot.hold_back_minor,
        remaining,
    ):
        yield "the pot in the money table is not the job's"
    if purse.unspent_minor != remaining - purse.cash_minor:
        yield "what is unspent does not add up"
    if purse.cash_minor > max(0, remaining):
        yield f"over the pot by {purse.cash_minor - max(0, remaining)} minor units"
    if plan.selection.levels.get("net-cost", net) != net:
        yield f"net cost {plan.selection.levels['net-cost']} is not {net}"
    if sum(c.landed_minor for c in plan.choices) != net:
        yield "the shares do not sum to the net cost"
    yield from (f"{c.fault.id}: its share does not add up" for c in plan.choices if not _share_holds(c))


def _opened(plan: Plan) -> set[str]:
    return {access for option in plan.selection.options for access in option.access}


def _lists(plan: Plan) -> Iterator[str]:
    if plan.access != tuple(a for a in plan.job.access if a.id in _opened(plan)):
        yield "what is opened up is not what the options name"
    over: Counter[str] = Counter()
    for line in (line for order in plan.orders for line in order.lines):
        over[line.quote.part] += line.packs * line.quote.pack - line.fitted
    if {left.part: left.units for left in plan.leftovers} != {part: units for part, units in over.items() if units}:
        yield "leftovers do not add up"


def _share_holds(choice: Choice) -> bool:
    direct = 0 if choice.option is None else choice.option.direct_minor
    return choice.landed_minor == direct + choice.access_minor + sum(p.landed_minor for p in choice.parts)


def _time(plan: Plan) -> Iterator[str]:
    own = [o for o in plan.selection.options if not o.by_workshop]
    opened = {access for option in own for access in option.access}
    minutes = (
        sum(o.minutes for o in own)
        + sum(a.minutes for a in plan.job.access if a.id in opened)
        + sum(o.supplier.trip_minutes for o in plan.orders)
    )
    if plan.minutes != minutes:
        yield f"{plan.minutes} minutes are not {minutes}"
    limit = plan.job.time.minutes
    if limit is not None and minutes > limit:
        yield f"{minutes} minutes do not fit {limit}"


def _values(plan: Plan) -> Iterator[str]:
    settings = plan.job.settings
    taken = {o.fault: o for o in plan.selection.options}
    stages = {"dangerous": {Severity.DANGEROUS}, "dangerous-and-major": {Severity.DANGEROUS, Severity.MAJOR}}
    if settings.safety_first:
        for name, grave in (("dangerous", Severity.DANGEROUS), ("dangerous-and-major", Severity.MAJOR)):
            if any(f.severity == grave for f in plan.job.faults) and name not in plan.selection.levels:
                yield f"stage {name} is missing"
    for name, severities in stages.items():
        counted = [f for f in plan.job.faults if f.severity in severities and f.id in taken]
        value = sum(_millionths(f.importance, min(taken[f.id].chance, settings.good_enough)) for f in counted)
        if name in plan.selection.levels and plan.selection.levels[name] != value:
            yield f"stage {name}: {plan.selection.levels[name]} millionths are not {value}"
    fixes = [(f.importance, taken[f.id].chance) for f in plan.job.faults if f.id in taken]
    value = sum(_millionths(importance, chance) for importance, chance in fixes)
    if plan.selection.levels.get("all-faults", value) != value:
        yield f"all faults: {plan.selection.levels['all-faults']} millionths are not {value}"
    if "profit" in plan.selection.levels and plan.selection.levels["profit"] != _profit(plan):
        yield f"profit {plan.selection.levels['profit']} is not {_profit(plan)}"
    if abs(plan.expected_fixes - sum(i * c for i, c in fixes)) > 1e-6 or (
        abs(plan.expected_count - sum(c for _, c in fixes)) > 1e-6
    ):
        yield "expected fixes do not add up"


def _profit(plan: Plan) -> int:
    gains = {f.id: f.sale_gain_minor for f in plan.job.faults}
    gained = sum(_half_up(Decimal(gains[o.fault]) * Decimal(o.chance)) for o in plan.selection.options)
    time = _half_up(Decimal(plan.minutes) * plan.job.pot.hour_worth_minor / 60)
    return gained - plan.purse.net_minor - time


def _millionths(importance: float, chance: float) -> int:
    return _half_up(Decimal(importance) * Decimal(chance) * 1_000_000)


def _half_up(amount: Decimal) -> int:
    return int(amount.quantize(Decimal("1e-6"), ROUND_HALF_UP).quantize(Decimal(1), ROUND_HALF_UP))
