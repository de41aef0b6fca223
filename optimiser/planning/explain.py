"""Draw up the plan from the bare mix: orders, shares of cost, the money table, and the short why of each choice."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from operator import itemgetter

from optimiser import money
from optimiser.chances import counted, counted_for_safety
from optimiser.model.candidates import Offer
from optimiser.model.job import Fault, Job, Settings, Severity
from optimiser.model.limits import LIMITS
from optimiser.model.option import Option
from optimiser.model.plan import (
    Beyond,
    Choice,
    Grounds,
    Notice,
    Order,
    OrderLine,
    Plan,
    Purse,
    Reason,
    Selection,
    Verdict,
)
from optimiser.model.route import Route
from optimiser.planning import notices
from optimiser.planning.landed_cost import Alone, OnHand, extra_cost
from optimiser.planning.long_shots import is_long_shot
from optimiser.planning.looks import cause_odds, first_checks
from optimiser.planning.quotes_to_get import quotes_to_get
from optimiser.planning.totals import Reckoned

NO_DIFFERENCE = 1e-6


def plan(
    job: Job,
    offer: Offer,
    selection: Selection,
    cautions: Mapping[str, tuple[str, ...]],
    verdicts: Mapping[str, Verdict] | None = None,
    cut: Iterable[Notice] | None = (),
) -> Plan:
    """The whole plan for a selection.

    ``cautions`` are those of the systems that it touches, ``verdicts`` those on the checks of each fault,
    ``cut`` says what was not searched; None where no remarks are wanted. Shares of cost sum exactly to the plan's net
    cost.
    """
    reckoned = Reckoned(job, selection, {quote.id: quote for quote in offer.quotes})
    standing = OnHand.after(reckoned.orders, reckoned.opened)
    scene = _Scene(job, reckoned.purse, reckoned.minutes, standing, Alone(job, offer.quotes), reckoned.fitted)
    offered: dict[str, list[Option]] = defaultdict(list)
    for option in offer.options:
        offered[option.fault].append(option)
    choices = tuple(
        _choice(fault, reckoned, offered[fault.id], scene, (verdicts or {}).get(fault.id, Verdict()))
        for fault in sorted(job.faults, key=lambda f: (f.severity.rank, -f.importance))
    )
    return Plan(
        job=job,
        choices=choices,
        orders=_gravest_first(reckoned.orders, choices),
        purse=reckoned.purse,
        access=reckoned.access,
        minutes=reckoned.minutes,
        expected_minutes=reckoned.expected_minutes,
        leftovers=reckoned.leftovers,
        not_offered=offer.not_offered,
        notices=() if cut is None else tuple(notices.of_plan(job, choices, reckoned, cut)),
        cautions=cautions,
        expected_fixes=sum(c.fault.importance * c.chance for c in choices),
        expected_count=sum(c.chance for c in choices),
        selection=selection,
        do_first=first_checks(job, choices),
        quotes_to_get=quotes_to_get(job, selection.routes, [c.beyond.option for c in choices if c.beyond]),
        odds={c.fault.id: found for c in choices if (found := cause_odds(job, c))},
    )


def _gravest_first(orders: Iterable[Order], choices: Iterable[Choice]) -> tuple[Order, ...]:
    """Orders, and the lines in each, by the gravest fault that they serve; a top-up serves none."""
    rank: dict[str, int] = {}
    for choice in choices:
        for line in () if choice.route is None else choice.route.certain:
            rank.setdefault(line.quote.id, choice.fault.severity.rank)

    def serves(line: OrderLine) -> int:
        return rank.get(line.quote.id, len(Severity))

    found = [order.model_copy(update={"lines": tuple(sorted(order.lines, key=serves))}) for order in orders]
    return tuple(sorted(found, key=lambda order: min(map(serves, order.lines))))


def _choice(fault: Fault, reckoned: Reckoned, options: Sequence[Option], scene: _Scene, verdict: Verdict) -> Choice:
    route = reckoned.selection.route_for(fault.id)
    why = _why(fault, route, options, scene, verdict)
    if route is None:
        return Choice(
            fault=fault, route=None, parts=(), access_minor=0, postage_minor=0, own_minor=0, landed_minor=0, why=why,
            checks=verdict.checks, beyond=_beyond(fault, route, options, scene),
        )  # fmt: skip
    parts = reckoned.parts(route)
    access, postage = reckoned.access_shares.get(fault.id, 0), reckoned.postage_shares.get(fault.id, 0)
    own = money.half_up(route.net_minor)
    return Choice(
        fault=fault,
        route=route,
        parts=parts,
        access_minor=access,
        postage_minor=postage,
        own_minor=own,
        landed_minor=own + access + postage + sum(part.landed_minor for part in parts),
        why=why,
        checks=verdict.checks,
        beyond=_beyond(fault, route, options, scene),
    )


@dataclass(frozen=True)
class _Scene:
    """The facts behind the short whys: the plan so far, the cost of options alone, and the pieces taken."""

    job: Job
    purse: Purse
    minutes: int
    standing: OnHand
    alone: Alone
    taken: Counter[str]

    def without(self, option: Option) -> _Scene:
        """The plan without an option, taken to free all that it uses: a limit passed even so does bind another."""
        goods = {s: minor for s, minor in self.standing.goods_minor.items() if s not in option.suppliers}
        standing = replace(self.standing, goods_minor=goods, opened=self.standing.opened - set(option.access))
        taken = Counter(self.taken)
        taken.subtract({line.quote.id: line.units for line in option.lines})
        minutes = self.minutes - _extra_minutes(option, replace(self, standing=standing))
        return replace(self, minutes=minutes, standing=standing, taken=taken)


def _beyond(fault: Fault, route: Route | None, options: Sequence[Option], scene: _Scene) -> Beyond | None:
    """The likely work that a dangerous fault lacks, where no more than a long shot is planned: none that the money does
    not reach, or, where nothing at all is planned, any.
    """
    if fault.severity != Severity.DANGEROUS or not is_long_shot(0.0 if route is None else route.chance):
        return None
    costs = [(scene.alone(option)[0], option) for option in options if not is_long_shot(option.chance)]
    cost, option = min(costs, key=itemgetter(0), default=(0, None))
    lacking = option is not None and (route is None or cost > max(0, scene.purse.remaining_minor))
    return Beyond(option=option, cost_minor=cost) if option and lacking else None


def _why(fault: Fault, route: Route | None, options: Sequence[Option], scene: _Scene, verdict: Verdict) -> Grounds:
    if fault.id in scene.job.left:
        return Grounds(reason=Reason.LEFT_AS_IT_IS)
    if route is None or not options:
        return _why_left(options, scene) if options else Grounds(reason=Reason.NOTHING_OFFERED)
    chosen = route.option
    if chosen is None:
        return _why_checked(route, verdict)
    if verdict.rival is not None and not all(worth.same_next for worth in verdict.checks):
        dearer = -money.half_up(verdict.rival.saved_minor)
        return Grounds(reason=Reason.TRY_FIRST, cost_minor=dearer, chance=verdict.rival.fixes)
    others = [option for option in options if option.key != chosen.key]
    if route.only_option is None or not others:
        return Grounds(reason=Reason.IN_TURN if others else Reason.ONLY_WAY)
    return _why_chosen(fault, chosen, others, scene)


def _why_checked(route: Route, verdict: Verdict) -> Grounds:
    first = route.first_step[-1]
    known = next((worth for worth in verdict.checks if worth.check == first), None)
    if known is None:
        return Grounds(reason=Reason.CHECK_FIRST)
    return Grounds(reason=Reason.CHECK_FIRST, cost_minor=money.half_up(known.saved_minor), chance=known.fixes)


def _why_chosen(fault: Fault, chosen: Option, others: Sequence[Option], scene: _Scene) -> Grounds:
    """Against the surest other option (of those the cheapest), or the next surest where the choice is the surest."""
    alone = {option.key: scene.alone(option)[1] for option in [chosen, *others]}
    surest = max(others, key=lambda o: (round(o.chance, 6), -alone[o.key]))
    cost = alone[surest.key] - alone[chosen.key]
    gain, limit = surest.chance - chosen.chance, None
    if gain < -NO_DIFFERENCE:
        reason = Reason.SUREST if cost < 0 else Reason.SUREST_AND_CHEAPEST
    elif gain <= NO_DIFFERENCE and cost >= 0:
        reason = Reason.SUREST_AND_CHEAPEST
    elif cost <= 0:
        reason = Reason.SHARES_AN_ORDER
    elif limits := _kept_out(surest, 0, scene.without(chosen)):
        reason, limit = Reason.OUT_OF_REACH, limits[0]
    elif scene.job.settings.safety_first and fault.severity == Severity.DANGEROUS:
        steps = [_steps_of_safety(scene.job.settings, option.chance) for option in (chosen, surest)]
        reason = Reason.GOOD_ENOUGH if steps[0] >= steps[1] else Reason.OUT_OF_REACH
    else:
        reason = Reason.DEARER_FOR_LITTLE
    return Grounds(
        reason=reason, other=surest, cost_minor=cost, chance=gain, limit=limit, alone_minor=alone[chosen.key]
    )


def _steps_of_safety(settings: Settings, chance: float) -> Fraction:
    """How much of a chance counts in the safety stage (model page, section 4)."""
    return counted_for_safety(counted(chance, settings.chance_step), settings.good_enough, settings.safety_step)


def _why_left(options: Sequence[Option], scene: _Scene) -> Grounds:
    """Of the options that the fewest limits keep out of the plan the cheapest, and the limit that binds it."""
    costs = {option.key: extra_cost(scene.job, option, scene.standing)[0] for option in options}
    kept_out = {option.key: _kept_out(option, costs[option.key], scene) for option in options}
    nearest = min(options, key=lambda o: (len(kept_out[o.key]), costs[o.key]))
    binding, cost, alone = kept_out[nearest.key], costs[nearest.key], scene.alone(nearest)[0]
    if not binding:
        reason = Reason.NOT_WORTH_IT if scene.job.settings.aim == "profit" else Reason.OTHERS_FIRST
    elif binding[0] == Reason.NO_MONEY and alone > max(0, scene.purse.remaining_minor):
        reason, cost = Reason.TOO_DEAR, alone
    else:
        reason = binding[0]
    return Grounds(reason=reason, other=nearest, cost_minor=cost, chance=nearest.chance)


def _kept_out(option: Option, cost_minor: int, scene: _Scene) -> list[Reason]:
    """The limits that an option of this cost would pass on top of the plan."""
    return [limit.reason for limit in LIMITS if PASSES[limit.reason](option, cost_minor, scene)]


def _over_the_money(_: Option, cost_minor: int, scene: _Scene) -> bool:
    """Whether it would cost more on top of the plan than the plan leaves."""
    return cost_minor > max(0, scene.purse.unspent_minor)


def _over_the_hours(option: Option, _: int, scene: _Scene) -> bool:
    """Whether it would take more of the owner's minutes than are free."""
    limit = scene.job.time.minutes
    return limit is not None and scene.minutes + _extra_minutes(option, scene) > limit


def _over_the_suppliers(option: Option, _: int, scene: _Scene) -> bool:
    """Whether it would need an order to more suppliers than the job allows."""
    most, placed = scene.job.settings.most_suppliers, set(scene.standing.goods_minor)
    return most is not None and not placed >= set(option.suppliers) and len(placed | set(option.suppliers)) > most


def _extra_minutes(option: Option, scene: _Scene) -> int:
    """The owner's minutes on top of the plan: the repair, accesses not open yet, a trip to a new supplier."""
    job, standing = scene.job, scene.standing
    trips = sum(job.supplier(s).trip_minutes for s in option.suppliers if s not in standing.goods_minor)
    if option.by_workshop:
        return trips
    closed = set(option.access) - set(standing.opened)
    opening = sum(a.minutes for a in job.access if a.id in closed) if closed else 0
    return option.minutes + opening + trips


def _bare(option: Option, _: int, scene: _Scene) -> bool:
    """Whether other faults have taken the pieces that the option would need."""
    return any(
        line.quote.stock is not None and scene.taken[line.quote.id] + line.units > line.quote.stock * line.quote.pack
        for line in option.lines
    )


PASSES: Mapping[Reason, Callable[[Option, int, _Scene], bool]] = {
    Reason.NO_STOCK: _bare,
    Reason.NO_MONEY: _over_the_money,
    Reason.NO_HOURS: _over_the_hours,
    Reason.NO_MORE_SUPPLIERS: _over_the_suppliers,
}
"""Of every limit (``model.limits``) whether an option passes it on top of the plan."""
