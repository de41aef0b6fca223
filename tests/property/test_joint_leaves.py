"""The promise of the plan: in no outcome over the pot, the hours or the stock.

Every way in which all faults together may turn out is walked with a purse. What is paid is reckoned here from quotes
and suppliers alone: the routes' own figures of money are not looked at, and refunds never counted.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from functools import cache
from itertools import product
from math import prod

import pytest
from hypothesis import HealthCheck, assume, given, settings

from optimiser import choosing
from optimiser.model.job import Job
from optimiser.model.option import Option
from optimiser.model.plan import Selection
from optimiser.model.route import CheckStep, Node, Route, Stop
from tests.brute_force import offered
from tests.small_route_jobs import jobs

few = settings(max_examples=120, deadline=None, suppress_health_check=list(HealthCheck))
MOST_OUTCOMES = 20_000

Path = list[CheckStep | Option]


def paths(node: Node) -> list[Path]:
    """Everything that is done on the way to each leaf."""
    if isinstance(node, Stop):
        return [[]]
    step = node if isinstance(node, CheckStep) else node.option
    return [[step, *rest] for branch in node.then for rest in paths(branch.then)]


class Purse:
    """One outcome of a plan, paid for step by step."""

    def __init__(self, job: Job, selection: Selection) -> None:
        self.job, self.selection = job, selection
        self.quotes = {q.id: q for q in offered(job)}
        self.spent = self.minutes = 0
        self.opened: dict[str, bool] = {}
        self.bought: Counter[str] = Counter()

    def walk(self, outcome: list[tuple[Route, Path]]) -> None:
        for route, path in outcome:
            for step in path:
                self._work(route, step)
        self._first_orders(outcome)
        for _, path in outcome:
            for option in [step for step in path if isinstance(step, Option)][1:]:
                self._later_order(option)

    def _work(self, route: Route, step: CheckStep | Option) -> None:
        """Minutes, direct prices, and opening up the first time."""
        if isinstance(step, Option):
            self.spent += step.direct_minor
            self.minutes += step.minutes
            own = not step.by_workshop
            names = step.access
        else:
            fault = next(f for f in self.job.faults if f.id == route.fault)
            check = next(c for c in fault.checks if c.id == step.check)
            self.spent += check.cost_minor
            self.minutes += check.minutes
            own, names = True, check.access
        for access in (a for a in self.job.access if a.id in names):
            self.spent += 0 if access.id in self.opened else access.price_minor
            self.minutes += access.minutes if own and not self.opened.get(access.id) else 0
            self.opened[access.id] = own or self.opened.get(access.id, False)

    def _pay(self, supplier: str, packs: dict[str, int], *, may_waive: bool) -> None:
        """One order: goods and deposits, topped up to the minimum, postage by the goods.

        Topped up to free postage only where that is its own business: the plan's sure packs hold what is bought for it.
        """
        terms = self.job.supplier(supplier)
        goods = sum(self.quotes[q].price_minor * n for q, n in packs.items())
        deposits = sum(self.quotes[q].deposit_minor * self.quotes[q].pack * n for q, n in packs.items())
        levels = [(terms.minimum_order_minor, terms.postage_minor)]
        if terms.free_over_minor is not None and (may_waive or goods >= terms.free_over_minor):
            levels.append((max(terms.free_over_minor, terms.minimum_order_minor), 0))
        topped = [(self._top_up(supplier)(level - goods), postage) for level, postage in levels]
        self.spent += goods + deposits + min(up + postage for up, postage in topped if up is not None)
        self.minutes += terms.trip_minutes
        self.bought.update(packs)

    def _top_up(self, supplier: str):
        packs = [
            (q.price_minor, q.deposit_minor * q.pack)
            for q in self.quotes.values()
            if q.supplier == supplier and q.stock is None and q.price_minor
        ]

        @cache
        def least(short: int) -> int | None:
            if short <= 0:
                return 0
            ways = [p + d + least(short - p) for p, d in packs if least(short - p) is not None]
            return min(ways, default=None)

        return least

    def _first_orders(self, outcome: list[tuple[Route, Path]]) -> None:
        orders: dict[str | None, Counter[str]] = defaultdict(Counter)
        for q_id, packs in self.selection.packs.items():
            orders[self.quotes[q_id].supplier][q_id] += packs
        for route, path in outcome:
            certain = {line.quote.id: line.units for line in route.certain}
            first = next((step for step in path if isinstance(step, Option)), None)
            assert first is not None or not certain, "a branch that buys nothing has no certain lines"
            for line in first.lines if first is not None else ():
                rest = line.units - certain.pop(line.quote.id, 0)
                assert rest >= 0
                if line.quote.supplier is None:
                    self.bought[line.quote.id] += line.units
                elif rest:
                    orders[line.quote.supplier][line.quote.id] += line.quote.packs_for(rest)
            assert not certain, "certain lines are those of the first attempt in every branch"
        for supplier, packs in orders.items():
            self._pay(supplier, dict(packs), may_waive=False)

    def _later_order(self, option: Option) -> None:
        orders: dict[str, dict[str, int]] = defaultdict(dict)
        for line in option.lines:
            if line.quote.supplier is None:
                self.bought[line.quote.id] += line.units
            else:
                orders[line.quote.supplier][line.quote.id] = line.quote.packs_for(line.units)
        for supplier, packs in orders.items():
            self._pay(supplier, packs, may_waive=True)


def every_outcome_holds(job: Job) -> None:
    selection = choosing.chosen(job, None, lambda _: None).selection
    walked = [[(route, path) for path in paths(route.first)] for route in selection.routes]
    assume(prod(len(leaves) for leaves in walked) <= MOST_OUTCOMES)
    need: Counter[str] = Counter()
    for line in selection.certain:
        need[line.quote.id] += line.units
    for outcome in product(*walked):
        purse = Purse(job, selection)
        purse.walk(list(outcome))
        assert purse.spent <= max(0, job.pot.remaining_minor)
        assert job.time.minutes is None or purse.minutes <= job.time.minutes
        for quote in purse.quotes.values():
            assert quote.stock is None or purse.bought[quote.id] <= quote.stock, quote
            assert quote.supplier is None or selection.packs.get(quote.id, 0) * quote.pack >= need[quote.id]


@few
@given(jobs())
def test_no_outcome_is_over_the_pot_the_hours_or_the_stock(job: Job) -> None:
    every_outcome_holds(job)


@pytest.mark.slow
@settings(max_examples=3000, deadline=None, suppress_health_check=list(HealthCheck))
@given(jobs())
def test_no_outcome_of_many_jobs_is_over(job: Job) -> None:
    every_outcome_holds(job)
