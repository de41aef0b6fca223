"""The promise of the plan: in no outcome over the pot, the hours or the stock.

Every way in which all faults together may turn out is walked with a purse. What is paid is reckoned here from quotes
and suppliers alone: the routes' own figures of money are not looked at, and refunds never counted. Written from the
model page, section 6: leading steps, then one order to each supplier, then an order of its own for each later attempt.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from itertools import product
from math import prod

import pytest
from hypothesis import HealthCheck, assume, given, settings

from optimiser.model.job import Fault, Job
from optimiser.model.option import Option
from optimiser.model.plan import Selection
from optimiser.model.route import AttemptStep, CheckStep, Node, Route, Stop
from optimiser.planning import choose
from tests.brute_force import offered
from tests.effort import examples
from tests.small_route_jobs import jobs

few = examples(120, usual=12)
MOST_OUTCOMES = 20_000

Step = CheckStep | AttemptStep
Path = list[Step]
Packs = Counter[str]


def paths(node: Node) -> list[Path]:
    """Everything that is done on the way to each leaf; what cannot be is no branch, what cannot cure is no attempt."""
    if isinstance(node, Stop):
        return [[]]
    assert all(branch.chance > 0 for branch in node.then)
    return [[node, *rest] for branch in node.then for rest in paths(branch.then)]


class Purse:
    """One outcome of a plan, paid for step by step.

    ``as_told``: everything is bought that the plan names; else first orders that are large enough are not topped up.
    """

    def __init__(self, job: Job, selection: Selection, *, as_told: bool) -> None:
        self.job, self.selection, self.as_told = job, selection, as_told
        self.faults = {fault.id: fault for fault in job.faults}
        self.quotes = {q.id: q for q in offered(job)}
        self.spent = self.minutes = 0
        self.opened: dict[str, bool] = {}
        self.taken: Packs = Counter()

    def walk(self, outcome: list[tuple[Route, Path]]) -> None:
        first: list[tuple[Route, AttemptStep | None]] = []
        for route, path in outcome:
            fault = self.faults[route.fault]
            for step in path:
                self._work(fault, step)
            leading, buying = self._told_apart(fault, path)
            self._uses_ahead(route, buying)
            first.append((route, buying[0] if buying else None))
            for step in leading:
                self._from_the_shelf(step.option)
            for step in buying[1:]:
                self._later_order(step)
        self._first_orders(first)

    def _uses_ahead(self, route: Route, attempts: Iterable[AttemptStep]) -> None:
        """What was bought ahead is there once, and for all that an attempt needs."""
        there = {line.quote.id: line.units for line in route.certain if line.quote.id in route.ahead}
        for step in attempts:
            for line in (line for line in step.option.lines if line.quote.id in step.option.ahead):
                assert there.pop(line.quote.id, 0) >= line.units

    def _told_apart(self, fault: Fault, path: Path) -> tuple[list[AttemptStep], list[AttemptStep]]:
        """The attempts that buy nothing and wait for nothing before any other, and all from the first other on."""
        attempts = [step for step in path if isinstance(step, AttemptStep)]
        leading = []
        while attempts and self._leads(fault, attempts[0].option):
            leading.append(attempts.pop(0))
        return leading, attempts

    def _leads(self, fault: Fault, option: Option) -> bool:
        repair = next(r for r in fault.repairs if r.id == option.repair)
        return repair.lead_days == 0 and all(self.quotes[x.quote.id].supplier is None for x in option.lines)

    def _work(self, fault: Fault, step: Step) -> None:
        """Minutes, direct prices, and opening up the first time."""
        if isinstance(step, AttemptStep):
            repair = next(r for r in fault.repairs if r.id == step.option.repair)
            self.spent += repair.price_minor
            own, names = repair.by == "self", repair.access
            self.minutes += repair.minutes if own else 0
        else:
            check = next(c for c in fault.checks if c.id == step.check)
            self.spent += check.cost_minor
            self.minutes += check.minutes
            own, names = True, check.access
        for access in (a for a in self.job.access if a.id in names):
            self.spent += 0 if access.id in self.opened else access.price_minor
            self.minutes += access.minutes if own and not self.opened.get(access.id) else 0
            self.opened[access.id] = own or self.opened.get(access.id, False)

    def _from_the_shelf(self, option: Option) -> None:
        for line in option.lines:
            if self.quotes[line.quote.id].supplier is None:
                self.taken[line.quote.id] += line.units

    def _pay(self, supplier: str, packs: Packs, topping: Packs) -> None:
        """One order: goods and deposits, postage by the goods; what tops it up makes it large enough."""
        terms = self.job.supplier(supplier)
        order = packs + topping
        goods = self._goods(order)
        assert goods >= terms.minimum_order_minor, f"{supplier} does not take this order"
        waived = terms.free_over_minor is not None and goods >= terms.free_over_minor
        self.spent += goods + (0 if waived else terms.postage_minor)
        self.spent += sum(self.quotes[q].deposit_minor * self.quotes[q].pack * n for q, n in order.items())
        self.minutes += terms.trip_minutes
        self.taken.update(order)

    def _goods(self, packs: Packs) -> int:
        return sum(self.quotes[q].price_minor * n for q, n in packs.items())

    def _pay_all(self, packs: Packs, topping: Packs) -> None:
        """An order to each of the suppliers of these packs; nothing else is topped up."""
        orders: dict[str, Packs] = defaultdict(Counter)
        for q, n in packs.items():
            supplier = self.quotes[q].supplier
            assert supplier is not None
            orders[supplier][q] += n
        assert {self.quotes[q].supplier for q in topping} <= set(orders)
        for supplier, some in orders.items():
            self._pay(supplier, some, self._from(supplier, topping))

    def _from(self, supplier: str, packs: Packs) -> Packs:
        return Counter({q: n for q, n in packs.items() if self.quotes[q].supplier == supplier})

    def _first_orders(self, first: Iterable[tuple[Route, AttemptStep | None]]) -> None:
        packs, topping = Counter(dict(self.selection.packs)), Counter[str]()
        for route, step in first:
            certain = {line.quote.id: line.units for line in route.certain if line.quote.id not in route.ahead}
            assert step is not None or not certain, "a branch that buys nothing has no certain lines"
            if step is None:
                continue
            self._from_the_shelf(step.option)
            topping.update(dict(step.topping))
            for line in (line for line in step.option.lines if line.quote.id not in step.option.ahead):
                rest = line.units - certain.pop(line.quote.id, 0)
                assert rest >= 0
                if rest and self.quotes[line.quote.id].supplier is not None:
                    packs[line.quote.id] += line.quote.packs_for(rest)
            assert not certain, "certain lines are those of the first attempt in every branch"
        if not self.as_told:
            topping = Counter({q: n for q, n in topping.items() if self._too_small(self.quotes[q].supplier, packs)})
        self._pay_all(packs, topping)

    def _too_small(self, supplier: str | None, packs: Packs) -> bool:
        assert supplier is not None
        return self._goods(self._from(supplier, packs)) < self.job.supplier(supplier).minimum_order_minor

    def _later_order(self, step: AttemptStep) -> None:
        self._from_the_shelf(step.option)
        ordered = [line for line in step.option.lines if line.quote.id not in step.option.ahead]
        bought = [line for line in ordered if self.quotes[line.quote.id].supplier is not None]
        self._pay_all(Counter({x.quote.id: x.quote.packs_for(x.units) for x in bought}), Counter(dict(step.topping)))


def every_outcome_holds(job: Job) -> None:
    selection = choose.chosen(job, None, lambda _: None).selection
    walked = [[(route, path) for path in paths(route.first)] for route in selection.routes]
    assume(prod(len(leaves) for leaves in walked) <= MOST_OUTCOMES)
    need: Counter[str] = Counter()
    for line in selection.certain:
        need[line.quote.id] += line.units
    for outcome, as_told in product(product(*walked), (True, False)):
        purse = Purse(job, selection, as_told=as_told)
        purse.walk(list(outcome))
        assert purse.spent <= max(0, job.pot.remaining_minor)
        assert job.time.minutes is None or purse.minutes <= job.time.minutes
        for quote in purse.quotes.values():
            assert quote.stock is None or purse.taken[quote.id] <= quote.stock, quote
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
