"""Ways to work on a job: the plan followed, and plain habits. Each says the next step for the job as it stands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache, partial

from optimiser import service
from optimiser.model.candidates import Offer
from optimiser.model.job import Fault, Job, Severity
from optimiser.model.option import Option
from optimiser.model.plan import Plan
from optimiser.model.quotes import Quote
from optimiser.model.route import AttemptStep, CheckStep, Route
from optimiser.planning import choose, explain, options, sending
from optimiser.planning.totals import check_of
from tests.bench.played.vehicle import Buy, Fit, Look, Step

GRAVEST = (Severity.DANGEROUS, Severity.MAJOR, Severity.MINOR)
PAID_WORK = 3
"""Of what leads: looks and free work come before it."""
Policy = Callable[[Job], Step | None]
"""The next step for the job as it stands; None where nothing is left to do."""


def quiet(_: str) -> None:
    """No word of progress."""


def gravity(job: Job, fault: str) -> tuple[int, int]:
    """The gravest first, then as listed."""
    place, found = next((n, f) for n, f in enumerate(job.faults) if f.id == fault)
    return GRAVEST.index(found.severity), place


# The plan, followed.


UNCERTIFIED: set[str] = set()
"""Titles of jobs whose plans are followed though their certificate refuses them: to look at a search by itself."""


@lru_cache(maxsize=1)
def _plans(_: str) -> dict[str, choose.Chosen]:
    """The plans of the job that is played now."""
    return {}


def planned(job: Job) -> choose.Chosen:
    """The plan for the job as it stands; worlds and ways of following it have many moments in common."""
    known, moment = _plans(job.settings.title), job.model_dump_json()
    if moment not in known:
        found = choose.chosen(job, None, quiet)
        if job.settings.title not in UNCERTIFIED:
            service.drawn_up(found)
        known[moment] = found
    return known[moment]


def advised(job: Job) -> Plan:
    """The plan as a person sees it, from which the advice follows which orders may wait."""
    pick = planned(job)
    return explain.plan(job, pick.offer, pick.selection, {}, pick.verdicts)


def follow(job: Job, *, at_once: bool | None = None, worth_first: bool = False) -> Step | None:
    """What the plan does first: looks and free work, then what costs, gravest first: work, or the orders to send now.

    ``at_once``: all orders together whatever the plan says, after all work; False: those that one fault's first
    attempt needs: the gravest one's, or with ``worth_first`` the one with the most weighted chance for the money, work
    that costs and buys nothing among them. The plan is the one that a person would see: drawn up whole, and held
    against its certificate.
    """
    pick = planned(job)
    selection = pick.selection
    routes = [r for r in selection.routes if isinstance(r.first, CheckStep | AttemptStep)]
    if not routes:
        return None
    plan = advised(job) if at_once is None else None

    def rank(route: Route) -> tuple[object, ...]:
        leading = _leading(job, route, worth_first=worth_first)
        if plan is None or leading[0] < PAID_WORK:
            return *leading, *gravity(job, route.fault)
        choice = plan.choice(route.fault)
        return PAID_WORK, *sending.answers_first(choice.fault, sending.freed_minor(choice)), *leading

    routes.sort(key=rank)
    first = routes[0].first
    if isinstance(first, CheckStep):
        return Look(routes[0].fault, first.check)
    if not first.option.suppliers:
        return Fit(first.option)
    later = frozenset() if plan is None else sending.waiting(plan).lines
    packs: Counter[str] = Counter({quote: n for quote, n in selection.packs.items() if quote not in later})
    _complete(packs, (r for r in routes if plan is None or not sending.needs(plan.choice(r.fault)) & later))
    offered = {quote.id: quote for quote in pick.offer.quotes}
    if at_once is False:
        wanted = first.option.suppliers
        packs = Counter({quote: n for quote, n in packs.items() if offered[quote].supplier in wanted})
    return Buy(topped_up(job, {offered[q]: n for q, n in packs.items()}, pick.offer))


def _leading(job: Job, route: Route, *, worth_first: bool) -> tuple[int, float]:
    """Free looks, free work, then looks and work that cost, then what needs an order; the cheaper first."""
    first = route.first
    if isinstance(first, CheckStep):
        check = check_of(job, route.fault, first.check)
        cost = check.cost_minor + sum(a.price_minor for a in job.access if a.id in check.access)
        return (0 if cost == 0 else 2), cost
    assert isinstance(first, AttemptStep)
    option = first.option
    cost = option.direct_minor + sum(a.price_minor for a in job.access if a.id in option.access)
    free = not option.suppliers and not option.days and cost == 0
    if worth_first and not free:
        cost += bill(job, [(x.quote, x.quote.packs_for(x.units)) for x in option.lines if x.quote.supplier]) or 0
        importance = next(fault.importance for fault in job.faults if fault.id == route.fault)
        return 5, -importance * first.chance / max(1, cost)
    if option.suppliers:
        return 5, 0
    return (4 if option.days else 1 if free else 3), cost


def _complete(packs: Counter[str], routes: Iterable[Route]) -> None:
    """Packs for what the first attempts need beyond the lines that count as certain."""
    needed: Counter[Quote] = Counter()
    for route in routes:
        for line in route.first.option.lines if isinstance(route.first, AttemptStep) else ():
            if line.quote.supplier is not None:
                needed[line.quote] += line.units
    for quote, units in needed.items():
        packs[quote.id] = max(packs[quote.id], quote.packs_for(units))


# What is bought.


def topped_up(job: Job, packs: dict[Quote, int], offer: Offer) -> tuple[tuple[Quote, int], ...]:
    """The packs, each supplier's order topped up to its minimum in the cheapest way there is."""
    whole = Counter({quote: n for quote, n in packs.items() if n})
    for supplier in {quote.supplier for quote in whole}:
        goods = sum(quote.price_minor * n for quote, n in whole.items() if quote.supplier == supplier)
        short = job.supplier(supplier).minimum_order_minor - goods
        if short > 0:
            sold = [quote for quote in offer.quotes if quote.supplier == supplier and quote.price_minor]
            left = {q: 99 if q.stock is None else q.stock - whole[q] for q in sold}
            whole.update(_cheapest_cover(short, left) or {})
    return tuple(sorted(whole.items(), key=lambda pair: (pair[0].content, pair[0].id)))


def _cheapest_cover(short: int, left: dict[Quote, int]) -> Counter[Quote] | None:
    """The packs of least outlay that come to at least so much; None where all that is left does not."""
    best: dict[int, tuple[int, Counter[Quote]]] = {0: (0, Counter())}
    for quote, stock in left.items():
        for _ in range(min(stock, -(-short // quote.price_minor))):
            more = dict(best)
            for goods, (outlay, taken) in best.items():
                there, paid = goods + quote.price_minor, outlay + quote.price_minor + quote.deposit_minor * quote.pack
                if goods < short and (there not in more or paid < more[there][0]):
                    more[there] = paid, taken + Counter({quote: 1})
            best = more
    enough = [found for goods, found in best.items() if goods >= short]
    return min(enough, key=lambda found: found[0])[1] if enough else None


def bill(job: Job, packs: Iterable[tuple[Quote, int]]) -> int | None:
    """What orders of these packs come to now, postage and deposits included; None where a minimum is not met."""
    goods: Counter[str] = Counter()
    deposits = 0
    for quote, n in packs:
        goods[quote.supplier or ""] += quote.price_minor * n
        deposits += quote.deposit_minor * n * quote.pack
    total = deposits
    for supplier, worth in goods.items():
        terms = job.supplier(supplier)
        if worth < terms.minimum_order_minor:
            return None
        waived = terms.free_over_minor is not None and worth >= terms.free_over_minor
        total += worth + (0 if waived else terms.postage_minor)
    return total


# Habits.


@dataclass(frozen=True)
class Try:
    """An option that can be paid for, with what it takes now and what has to be ordered for it."""

    option: Option
    fault: Fault
    cash_minor: int
    packs: tuple[tuple[Quote, int], ...]

    @property
    def worth(self) -> float:
        """Weighted chance for the money."""
        return self.fault.importance * self.option.chance / max(1, self.cash_minor)


Taste = Callable[[Try], tuple[float, ...]]
"""A sort key: what is least comes first."""


def habit(job: Job, *, taste: Taste, looks: str = "free", grave_first: bool = False) -> Step | None:
    """One attempt at a time by taste, after the looks that the habit makes; never more than there is money for.

    ``looks``: "all" those of every fault that can be paid for come first, "free" those that cost nothing, "none".
    """
    if looks != "none":
        for fault in sorted(job.faults, key=lambda f: gravity(job, f.id)):
            look = _look(job, fault, free=looks == "free")
            if look is not None:
                return look
    tries = _tries(job)
    if not tries:
        return None
    bought = {each.bought for each in job.on_order}

    def rank(each: Try) -> tuple[object, ...]:
        """What was just bought is fitted before anything else is thought of."""
        at_hand = any(name in job.shelf and job.shelf[name].bought in bought for name in each.option.key[2:])
        return not at_hand, grave_first and gravity(job, each.fault.id)[0], *taste(each), each.option.key

    best = min(tries, key=rank)
    return Buy(best.packs) if best.packs else Fit(best.option)


def _look(job: Job, fault: Fault, *, free: bool) -> Step | None:
    made = {getattr(entry, "check", None) for entry in job.seen.get(fault.id, ())}
    if options.needs_licence(job, fault) or not fault.repairs:
        return None
    for check in fault.checks:
        cost = check.cost_minor + sum(a.price_minor for a in job.access if a.id in check.access)
        if check.id not in made and cost <= (0 if free else max(0, job.pot.remaining_minor)):
            return Look(fault.id, check.id)
    return None


def _tries(job: Job) -> list[Try]:
    """Every option that can be paid for, as it stands now."""
    offer = options.build(job, whole={fault.id for fault in job.faults})
    faults = {fault.id: fault for fault in job.faults}
    found = []
    for option in offer.options:
        opening = sum(a.price_minor for a in job.access if a.id in option.access)
        need = {q.quote: q.quote.packs_for(q.units) for q in option.lines if q.quote.supplier is not None}
        packs = topped_up(job, need, offer)
        goods = bill(job, packs)
        if goods is not None and goods + opening + option.direct_minor <= max(0, job.pot.remaining_minor):
            found.append(Try(option, faults[option.fault], goods + opening + option.direct_minor, packs))
    return found


def cheapest(each: Try) -> tuple[float, ...]:
    """The least money now."""
    return each.cash_minor, -each.option.chance


def for_the_money(each: Try) -> tuple[float, ...]:
    """The most chance for the money."""
    return (-each.worth,)


def always(condition: str, each: Try) -> tuple[float, ...]:
    """Fault by fault as listed what is likeliest to cure, in this condition where there is a choice."""
    bought = [line.quote for line in each.option.lines if line.quote.supplier is not None]
    other = sum(quote.condition != condition for quote in bought)
    return other, -each.fault.importance * each.option.chance, each.cash_minor


HABITS: dict[str, Policy] = {}
for _name, _taste, _looks in [
    ("cheapest part first", cheapest, "free"),
    ("always new", partial(always, "new"), "free"),
    ("always refurbished", partial(always, "refurbished"), "free"),
    ("best chance for the money", for_the_money, "free"),
    ("check everything first", for_the_money, "all"),
    ("never check", for_the_money, "none"),
]:
    HABITS[_name] = partial(habit, taste=_taste, looks=_looks)
    HABITS[f"{_name}, grave first"] = partial(habit, taste=_taste, looks=_looks, grave_first=True)
PLANS: dict[str, Policy] = {
    "the plan": follow,
    "the plan, all orders at once": partial(follow, at_once=True),
    "the plan, an order at a time": partial(follow, at_once=False),
    "the plan, most for the money next": partial(follow, at_once=False, worth_first=True),
}
POLICIES = PLANS | HABITS
