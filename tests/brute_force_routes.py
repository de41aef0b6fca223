"""Mixes of routes by plain enumeration, written from the model page, section 6: every tree of every fault, every mix.

Trees are built from the leaves up; a tree is kept unless another is as good in every figure and shares no more. Nothing
here comes from the program's search or formulation. What a mix shares is reckoned from the records alone.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import timedelta
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from functools import cache
from itertools import combinations, product
from typing import NamedTuple

from optimiser.model.job import Check, Fault, Job
from optimiser.model.quotes import Quote
from tests.brute_force import Way, down_to_steps, half_up, in_steps, offered, plain, ways

NEAR = 1e-11
Units = tuple[tuple[str, int], ...]


class Tree(NamedTuple):
    """A tree from some state on; chance, net and expected are weighted with the chance of the state.

    ``marks`` is what it may share, a bit each: an order, an access, one pack of a short quote, a minimum of others.
    ``used`` are the lines bought ahead that some attempt of it wants in full, a bit each.
    """

    marks: int
    cash: int
    minutes: int
    chance: float
    net: float
    expected: float
    used: int = 0


class Proposal(NamedTuple):
    """A whole route as the mix sees it; ``rides`` are suppliers of whom it is sure to buy one line, ahead."""

    fault: str
    certain: Units
    marks: frozenset
    tree: Tree
    rides: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Taken(Way):
    """A way with some of its lines there already, bought ahead."""

    free: frozenset[str] = frozenset()

    @property
    def bought(self) -> list[tuple[Quote, int]]:
        return [(q, n) for q, n in self.lines if q.id not in self.free]

    @property
    def there(self) -> list[tuple[Quote, int]]:
        return [(q, n) for q, n in self.lines if q.id in self.free]


class Mix(NamedTuple):
    """The best mix: the stages' values, its last stage (net cost, or that and time in sixtieths), and the routes."""

    values: tuple[int, ...]
    net: int
    taken: tuple[Proposal | None, ...]


STOP = Tree(0, 0, 0, 0.0, 0.0, 0.0)


class TooManyTreesError(Exception):
    """A job has more trees, or mixes of them, than are to be enumerated."""


class Scene:
    """A job with what all faults have in common; no more than ``most`` trees are weighed against each other."""

    def __init__(self, job: Job, most: float = math.inf) -> None:
        self.job, self.most, self.weighed = job, most, 0
        self.quotes = {q.id: q for q in offered(job)}
        self.access = {a.id: a for a in job.access}
        self.budget = max(0, job.pot.remaining_minor)
        self.profit = job.settings.aim == "profit"
        self.timed = job.time.minutes is not None
        self.time_counts = self.timed or job.hour_worth_minor > 0
        self.names: list[tuple] = []
        self.unlimited = cache(self._unlimited)
        self.top_ups = cache(self._top_ups)

    def bit(self, *name: object) -> int:
        if name not in self.names:
            self.names.append(name)
        return 1 << self.names.index(name)

    def marked(self, marks: int) -> frozenset:
        return frozenset(name for n, name in enumerate(self.names) if marks >> n & 1)

    def order_bit(self, supplier: str) -> int:
        terms = self.job.supplier(supplier)
        counts = terms.postage_minor or (terms.trip_minutes and self.time_counts) or self.job.settings.most_suppliers
        return self.bit("order", supplier) if counts else 0

    def opening(self, action: Check | Way) -> int:
        marks, own = 0, not isinstance(action, Way) or action.own
        for name in action.access:
            marks |= self.bit("access", name) if self.access[name].price_minor else 0
            marks |= self.bit("own-access", name) if own and self.time_counts and self.access[name].minutes else 0
        return marks

    def packs_bits(self, quote: Quote, packs: int) -> int:
        return sum(self.bit("stock", quote.id, n) for n in range(packs)) if quote.stock is not None else 0

    def lasts(self, quote: Quote) -> bool:
        """It is sure to hold whenever a later order is placed."""
        last = self.job.settings.needed_by
        return quote.valid_until is None or (last is not None and quote.valid_until >= last)

    def _unlimited(self, supplier: str, short: int, later: bool) -> int | None:
        """Least outlay for at least this much more goods, of quotes without a stock limit."""
        if short <= 0:
            return 0
        outlays = [
            q.price_minor + q.deposit_minor * q.pack + rest
            for q in self.quotes.values()
            if q.supplier == supplier and q.stock is None and q.price_minor > 0 and (self.lasts(q) or not later)
            for rest in [self.unlimited(supplier, short - q.price_minor, later)]
            if rest is not None
        ]
        return min(outlays, default=None)

    def _top_ups(self, supplier: str, short: int, taken: tuple, later: bool) -> list[tuple[int, Counter]]:
        """Every outlay for at least this much more goods, with the packs in short stock that it takes."""
        if short <= 0:
            return [(0, Counter())]
        own = [q for q in self.quotes.values() if q.supplier == supplier and q.stock is not None and q.price_minor]
        own = [q for q in own if self.lasts(q) or not later]
        ranges = [range(max(0, q.stock - dict(taken).get(q.id, 0)) + 1) for q in own]
        found = []
        for counts in product(*ranges):
            paid = sum(n * (q.price_minor + q.deposit_minor * q.pack) for n, q in zip(counts, own))
            rest = self.unlimited(supplier, short - sum(n * q.price_minor for n, q in zip(counts, own)), later)
            if rest is not None:
                found.append((paid + rest, Counter({q.id: n for n, q in zip(counts, own) if n})))
        return [
            (paid, packs)
            for paid, packs in found
            if not any(p <= paid and some <= packs and (p, some) != (paid, packs) for p, some in found)
        ]

    def paid(
        self, supplier: str, goods: int, levels: list[tuple[int, int]], lines: list, *, later: bool
    ) -> list[tuple[int, Counter]]:
        """What an order of these goods may come to, and the packs in short stock that top it up."""
        taken = tuple((q.id, q.packs_for(n)) for q, n in lines if q.supplier == supplier)
        ways = [
            (up + due, packs)
            for level, due in levels
            for up, packs in self.top_ups(supplier, level - goods, taken, later)
        ]
        return [(goods + more, packs) for more, packs in ways]

    def stock_bits(self, lines: Iterable[tuple[Quote, int]], topping: Iterable[Counter]) -> int:
        packs = sum(topping, Counter({q.id: q.packs_for(n) for q, n in lines if n > 0}))
        return sum(self.packs_bits(self.quotes[q], n) for q, n in packs.items())

    def landed(self, way: Taken) -> Iterator[tuple[int, int, int, int, int]]:
        """Cash, net, refund, minutes and marks of a later attempt: an order of its own to each supplier."""
        own = way.direct + sum(q.deposit_minor * q.packs_for(n) * q.pack for q, n in way.bought)
        suppliers = sorted({q.supplier for q, _ in way.bought} - {None})
        orders, minutes = [], way.minutes
        for supplier in suppliers:
            terms = self.job.supplier(supplier)
            goods = sum(q.price_minor * q.packs_for(n) for q, n in way.bought if q.supplier == supplier)
            levels = [(terms.minimum_order_minor, terms.postage_minor)]
            if terms.free_over_minor is not None:
                levels.append((max(terms.minimum_order_minor, terms.free_over_minor), 0))
            orders.append(self.paid(supplier, goods, levels, way.bought, later=True))
            minutes += terms.trip_minutes
        back = sum(q.deposit_minor * n for q, n in way.lines)
        refunds = sum(refund(q, n, 0) for q, n in way.bought) + sum(refund(q, n, n) for q, n in way.there)
        for some in product(*orders):
            cash = own + sum(paid for paid, _ in some)
            yield cash, cash - back, refunds, minutes, self.stock_bits(way.bought, [packs for _, packs in some])

    def first(
        self, way: Taken, certain: Mapping[str, int], ahead: Mapping[str, int], reached: frozenset[str]
    ) -> Iterator[tuple[int, int, int, int, int]]:
        """Cash, net, refund, minutes and marks of a first attempt beside its certain lines."""
        rest = [(q, n - certain.get(q.id, 0)) for q, n in way.bought]
        own = way.direct + sum(q.deposit_minor * q.packs_for(n) * q.pack for q, n in rest)
        orders, marks = [], 0
        sure = {self.quotes[q].supplier for q in (*certain, *ahead)}
        for supplier in sorted({q.supplier for q, n in rest if n > 0} - {None}):
            goods = sum(q.price_minor * q.packs_for(n) for q, n in rest if q.supplier == supplier)
            minimum = self.job.supplier(supplier).minimum_order_minor
            level = 0 if supplier in sure | reached else minimum
            orders.append(self.paid(supplier, goods, [(level, 0)], rest, later=False))
            if goods < minimum and supplier in reached - sure:
                marks |= self.bit("relies", supplier)
            marks |= 0 if supplier in sure else self.order_bit(supplier)
        back = sum(q.deposit_minor * n for q, n in (*rest, *way.there))
        refunds = sum(refund(q, n, n) for q, n in way.lines)
        for some in product(*orders):
            cash = own + sum(paid for paid, _ in some)
            stock = self.stock_bits(rest, [packs for _, packs in some])
            yield cash, cash - back, refunds, way.minutes, marks | stock

    def beats(self, one: Tree, other: Tree, gain: int | None) -> bool:
        """Whether nothing is lost by taking the first for the second."""
        if (
            other.used & ~one.used
            or one.marks & ~other.marks
            or one.cash > other.cash
            or (self.timed and one.minutes > other.minutes)
        ):
            return False
        hour = self.job.hour_worth_minor / 60
        cost = [t.net + hour * t.expected - (gain or 0) * t.chance for t in (one, other)]
        return one.chance >= other.chance - NEAR and cost[0] <= cost[1] + NEAR

    def kept(self, trees: Iterable[Tree], gain: int | None) -> list[Tree]:
        best: list[Tree] = []
        fitting = {t for t in trees if t.cash <= self.budget and (not self.timed or t.minutes <= self.job.time.minutes)}
        self.weighed += len(fitting)
        if self.weighed > self.most:
            raise TooManyTreesError
        for tree in sorted(fitting, key=lambda t: (t.cash, t.marks.bit_count(), t.minutes, -t.chance, t.net, t.marks)):
            if not any(self.beats(other, tree, gain) for other in best):
                best = [other for other in best if not self.beats(tree, other, gain)]
                best.append(tree)
        return best


def refund(quote: Quote, units: int, shared: int) -> int:
    """What a failed attempt gives back: of packs of its own all, of shared ones by the piece."""
    goods = quote.price_minor * quote.packs_for(units - shared) + Decimal(quote.price_minor * shared) / quote.pack
    return int((Decimal(str(quote.refund_share)) * goods).to_integral_value(ROUND_HALF_UP))


def lines_of(way: Way) -> dict[str, int]:
    return {q.id: n for q, n in way.lines}


def meets(chosen: Iterable[Way]) -> set[Units]:
    """What any of these have in common, and nothing at all."""
    found: set[Units] = {()}
    for one in (lines_of(way) for way in chosen):
        found |= {tuple(sorted(one.items()))} | {
            tuple(sorted((q, min(n, one[q])) for q, n in other if q in one)) for other in found
        }
    return found


def may_ride(scene: Scene, fault: Fault, quote: Quote, units: int) -> bool:
    """It takes no more than its own order would beside it, or may be pieces of a pack that another fault has over."""
    job, goods = scene.job, quote.price_minor * quote.packs_for(units)
    if quote.supplier is None:
        return False
    terms = job.supplier(quote.supplier)
    spared = terms.postage_minor + Fraction(terms.trip_minutes * job.hour_worth_minor, 60)
    spared += max(0, terms.minimum_order_minor - goods)
    wanted = {(f.id, q.id): q.supplier for f in job.faults for way in ways(job, f) for q, _ in way.lines}
    others = [key for key, supplier in wanted.items() if supplier == quote.supplier and key != (fault.id, quote.id)]
    return (0 < spared >= goods and bool(others)) or (
        units % quote.pack != 0 and any(name == quote.id for _, name in others)
    )


def sets_ahead(scene: Scene, fault: Fault) -> Iterator[Units]:
    """Everything that may be bought ahead: nothing, a line, two lines."""
    lines = {(q.id, n) for way in ways(scene.job, fault) for q, n in way.lines if may_ride(scene, fault, q, n)}
    yield ()
    yield from ((line,) for line in sorted(lines))
    yield from (pair for pair in combinations(sorted(lines), 2) if pair[0][0] != pair[1][0])


class FaultTrees:
    """Every tree of one fault with these lines bought ahead.

    A state is the results seen (None: not checked) and the ways tried.
    """

    def __init__(self, scene: Scene, fault: Fault, ahead: Units = ()) -> None:
        self.scene, self.fault, self.job, self.ahead = scene, fault, scene.job, dict(ahead)
        self.ways = [Taken(**vars(way), free=free) for way in ways(self.job, fault) for free in self.frees(way)]
        quotes = [q for way in self.ways for q, _ in way.lines]
        self.dated = self.job.settings.needed_by is not None or any(q.valid_until is not None for q in quotes)
        licensed = {s.value for s in self.job.settings.licensed}
        barred = set(fault.systems) & ({"airbags-and-belts", "high-voltage", "gas", "refrigerant"} - licensed)
        self.checks = () if barred else fault.checks
        self.causes = [*fault.causes, "something-else"]
        rest = fault.something_else if fault.causes else 1.0
        odds = sum(fault.causes.values())
        self.prior = [(1 - rest) * o / odds for o in fault.causes.values()] + [rest]
        self.after = cache(self._after)
        self.mass = cache(self._mass)
        self.gain = fault.sale_gain_minor if scene.profit else None

    def frees(self, way: Way) -> Iterator[frozenset[str]]:
        able = [q.id for q, n in way.lines if n <= self.ahead.get(q.id, 0) and may_ride(self.scene, self.fault, q, n)]
        yield from (frozenset(some) for k in range(len(able) + 1) for some in combinations(able, k))

    def days(self, way: Taken) -> int:
        repair = next(r for r in self.fault.repairs if r.id == way.repair)
        return max((q.lead_days for q, _ in way.bought), default=0) + repair.lead_days

    def _mass(self, seen: tuple[int | None, ...], tried: frozenset[int]) -> tuple[float, ...]:
        """The chance of each cause together with these results and all these attempts failing."""
        mass = []
        for cause, before in zip(self.causes, self.prior):
            chance = before
            for check, result in zip(self.checks, seen):
                (row,) = check.results.values()
                if result is not None:
                    dead = row.get(cause, row.get("default", 0.5))
                    chance *= dead if result == 0 else 1 - dead
            for repair in self.fault.repairs:
                none_sound = math.prod(
                    1 - math.prod(q.good_chance for q, _ in self.ways[n].lines)
                    for n in tried
                    if self.ways[n].repair == repair.id
                )
                if any(self.ways[n].repair == repair.id for n in tried):
                    chance *= 1 - repair.cure(cause) * (1 - none_sound)
            mass.append(chance)
        return tuple(mass)

    def weight(self, seen: tuple[int | None, ...], tried: frozenset[int]) -> float:
        return sum(self.mass(seen, tried))

    def looks(self, seen: tuple[int | None, ...]) -> Iterator[tuple[Check, tuple[tuple[int | None, ...], ...]]]:
        for n, check in enumerate(self.checks):
            if seen[n] is None:
                yield check, tuple((*seen[:n], result, *seen[n + 1 :]) for result in (0, 1))

    def open(self, tried: frozenset[int]) -> Iterator[tuple[int, Way]]:
        settings = self.job.settings
        if len(tried) >= settings.most_attempts:
            return
        days = sum(self.days(self.ways[n]) for n in tried)
        day = settings.today + timedelta(days)
        for n, way in enumerate(self.ways):
            closed = any(
                set(lines_of(way)) & set(lines_of(self.ways[m]))
                or (way.repair == self.ways[m].repair and not way.lines and not self.ways[m].lines)
                for m in tried
            )
            lapsed = any(q.valid_until is not None and q.valid_until < day for q, _ in way.bought)
            to_come = self.dated and any(q.lead_days > days for q, _ in way.there)
            late = settings.needed_by is not None and day + timedelta(self.days(way)) > settings.needed_by
            if not (closed or lapsed or late or to_come):
                yield n, way

    def joined(self, check: Check, nexts: Iterable[list[Tree]], weight: float) -> Iterator[Tree]:
        """A check and all ways to go on by its result."""
        opening = self.scene.opening(check)
        joint = [STOP]
        for trees in nexts:
            joint = self.scene.kept(
                (
                    Tree(a.marks | b.marks, max(a.cash, b.cash), max(a.minutes, b.minutes), a.chance + b.chance,
                         a.net + b.net, a.expected + b.expected, a.used | b.used)
                    for a, b in product(joint, trees)
                ), self.gain,
            )  # fmt: skip
        for t in joint:
            yield Tree(t.marks | opening, t.cash + check.cost_minor, t.minutes + check.minutes, t.chance,
                       t.net + weight * check.cost_minor, t.expected + weight * check.minutes, t.used)  # fmt: skip

    def leads(self, way: Way) -> bool:
        """It buys nothing and waits for nothing."""
        return self.days(way) == 0 and all(q.supplier is None for q, _ in way.lines)

    def attempted(
        self, n: int, seen: tuple, tried: frozenset[int], cost: tuple[int, int, int, int, int], then: list[Tree]
    ) -> Iterator[Tree]:
        """An attempt and all ways to go on where it fails; no pack in short stock is taken twice on a path.

        What cannot cure is no attempt.
        """
        cash, net, back, minutes, marks = cost
        before, failed = self.weight(seen, tried), self.weight(seen, tried | {n})
        if before - failed < 1e-12 * before:
            return
        stock = sum(1 << bit for bit, name in enumerate(self.scene.names) if name[0] == "stock")
        opening = self.scene.opening(self.ways[n])
        there = {(q.id, k) for q, k in self.ways[n].there}
        used = sum(1 << k for k, line in enumerate(self.ahead.items()) if line in there)
        for t in then:
            if not t.marks & marks & stock:
                yield Tree(t.marks | marks | opening, t.cash + cash, t.minutes + minutes,
                           t.chance + before - failed, t.net + net * before - back * failed,
                           t.expected + minutes * before, t.used | used)  # fmt: skip

    def _after(self, seen: tuple[int | None, ...], tried: frozenset[int]) -> list[Tree]:
        """Trees of a state in which something was bought or waited for."""
        found = [STOP]
        for check, states in self.looks(seen):
            nexts = [self.after(state, tried) for state in states if self.weight(state, tried) > 1e-15]
            found += self.joined(check, nexts, self.weight(seen, tried))
        for n, way in self.open(tried):
            for cost in self.scene.landed(way):
                found += self.attempted(n, seen, tried, cost, self.failed(seen, tried | {n}))
        return self.scene.kept(found, self.gain)

    def failed(self, seen: tuple, tried: frozenset[int]) -> list[Tree]:
        return self.after(seen, tried) if self.weight(seen, tried) > 1e-15 else [STOP]

    def first_attempts(
        self, seen: tuple, tried: frozenset[int], certain: Units, reached: frozenset[str]
    ) -> Iterator[Tree]:
        for n, way in self.open(tried):
            if not self.leads(way) and all(lines_of(way).get(q, 0) >= units for q, units in certain):
                for cost in self.scene.first(way, dict(certain), self.ahead, reached):
                    yield from self.attempted(n, seen, tried, cost, self.failed(seen, tried | {n}))

    def leading(
        self, seen: tuple, tried: frozenset[int], certain: Units, reached: frozenset[str], *, root: bool = False
    ) -> list[Tree]:
        """Trees of a state in which nothing was bought or waited for; the root begins with a leading step."""
        found = [STOP] if not certain and not root else []
        for check, states in self.looks(seen):
            nexts = [self.leading(s, tried, certain, reached) for s in states if self.weight(s, tried) > 1e-15]
            found += self.joined(check, nexts, self.weight(seen, tried))
        for n, way in self.open(tried) if not certain else ():
            if self.leads(way):
                more = tried | {n}
                then = self.leading(seen, more, (), reached) if self.weight(seen, more) > 1e-15 else [STOP]
                cost = (way.direct, way.direct, 0, way.minutes, self.scene.stock_bits(way.lines, []))
                found += self.attempted(n, seen, tried, cost, then)
        if not root:
            found += self.first_attempts(seen, tried, certain, reached)
        return self.scene.kept(found, self.gain)

    def begun_with(self, n: int, way: Way) -> Iterator[Tree]:
        """Trees that begin by ordering for this way, which brings all its lines for certain."""
        cost = (way.direct, way.direct, sum(refund(q, k, k) for q, k in way.lines), way.minutes, 0)
        unseen = (None,) * len(self.checks)
        return self.attempted(n, unseen, frozenset(), cost, self.failed(unseen, frozenset({n})))

    def led_by(self, n: int, way: Way, reached: frozenset[str]) -> Iterator[Tree]:
        """Trees that begin with this way, which buys and waits for nothing."""
        unseen, more = (None,) * len(self.checks), frozenset({n})
        then = self.leading(unseen, more, (), reached) if self.weight(unseen, more) > 1e-15 else [STOP]
        cost = (way.direct, way.direct, 0, way.minutes, self.scene.stock_bits(way.lines, []))
        return self.attempted(n, unseen, frozenset(), cost, then)

    def relied(self) -> list[frozenset[str]]:
        """The sets of suppliers whose minimum may be left to others."""
        minimums = [s.id for s in self.job.suppliers if s.minimum_order_minor]
        return [frozenset(some) for n in range(len(minimums) + 1) for some in combinations(minimums, n)]

    def proposals(self) -> list[Proposal]:
        unseen, nothing = (None,) * len(self.checks), frozenset[int]()
        by_lines: dict[Units, list[Tree]] = {}
        for n, way in self.open(nothing):
            if not self.leads(way) and not self.ahead.keys() & lines_of(way).keys():
                by_lines.setdefault(tuple(sorted(lines_of(way).items())), []).extend(self.begun_with(n, way))
        sure = meets(self.ways) if self.checks else {()}
        for certain in (some for some in sure if not self.ahead.keys() & dict(some).keys()):
            for some in self.relied():
                trees = self.leading(unseen, nothing, certain, some, root=True)
                by_lines.setdefault(certain, []).extend(trees)
        return self.proposed({certain: self.scene.kept(trees, self.gain) for certain, trees in by_lines.items()})

    def proposed(self, by_lines: Mapping[Units, list[Tree]]) -> list[Proposal]:
        """Trees by what their first attempts are sure to buy, with what is bought ahead: all of it is wanted."""
        whole = 2 ** len(self.ahead) - 1
        return [
            self._proposal((*certain, *self.ahead.items()), t)
            for certain, trees in by_lines.items()
            for t in trees
            if t.chance > 0 and t.used == whole
        ]

    def _proposal(self, certain: Units, tree: Tree) -> Proposal:
        quotes = self.scene.quotes
        lost = sum(quotes[q].deposit_minor * n for q, n in self.ahead.items())
        bought = Counter(quotes[q].supplier for q, _ in certain)
        rides = frozenset(quotes[q].supplier for q in self.ahead if bought[quotes[q].supplier] == 1)
        whole = tree._replace(net=tree.net + lost)
        return Proposal(self.fault.id, certain, self.scene.marked(tree.marks), whole, rides)


class Basket(NamedTuple):
    cash: int
    net: int
    minutes: int


def shared_cost(scene: Scene, chosen: list[Proposal]) -> Basket | None:
    """Orders that are sure, topped up in the best way, postage, access and trips once each; None where it cannot be."""
    job, need, used, marks = scene.job, Counter(), Counter(), set()
    for proposal in chosen:
        others = {scene.quotes[q].supplier for p in chosen if p is not proposal for q, _ in p.certain}
        if not proposal.rides <= others:
            return None
        need.update(dict(proposal.certain))
        used.update(name[1] for name in proposal.marks if name[0] == "stock")
        marks |= proposal.marks
    for q_id in {*need, *used}:
        q = scene.quotes[q_id]
        if q.stock is not None and q.packs_for(need[q_id]) + used[q_id] > q.stock:
            return None
    sure = {scene.quotes[q].supplier for q in need} - {None}
    firsts = sure | {name[1] for name in marks if name[0] == "order"}
    if job.settings.most_suppliers is not None and len(firsts) > job.settings.most_suppliers:
        return None
    if any(name[0] == "relies" and name[1] not in sure for name in marks):
        return None
    cash = sum(a.price_minor for a in job.access if ("access", a.id) in marks)
    minutes = sum(a.minutes for a in job.access if ("own-access", a.id) in marks)
    for supplier in sorted(sure):
        paid = _order(scene, supplier, need, used)
        if paid is None:
            return None
        cash += paid
        minutes += job.supplier(supplier).trip_minutes
    for supplier in {name[1] for name in marks if name[0] == "order"} - sure:
        cash += job.supplier(supplier).postage_minor
        minutes += job.supplier(supplier).trip_minutes
    return Basket(cash, cash - sum(scene.quotes[q].deposit_minor * n for q, n in need.items()), minutes)


def _order(scene: Scene, supplier: str, need: Counter[str], used: Counter[str]) -> int | None:
    """The cheapest order that brings what is needed; what routes may take beside it is not there to top up."""
    terms = scene.job.supplier(supplier)
    asked = max(terms.minimum_order_minor, terms.free_over_minor or 0)
    own = [q for q in scene.quotes.values() if q.supplier == supplier]
    counts = []
    for q in own:
        low = q.packs_for(need[q.id])
        high = max(low, math.ceil(asked / q.price_minor) if q.price_minor else low)
        counts.append(range(low, (high if q.stock is None else min(high, q.stock - used[q.id])) + 1))
    best = None
    for n in product(*counts):
        goods = sum(k * q.price_minor for k, q in zip(n, own))
        if goods >= terms.minimum_order_minor:
            free = terms.free_over_minor is not None and goods >= terms.free_over_minor
            paid = goods + (0 if free else terms.postage_minor)
            paid += sum(k * q.pack * q.deposit_minor for k, q in zip(n, own))
            best = paid if best is None else min(best, paid)
    return best


def grave(job: Job) -> set[str]:
    """The faults that the stage of safety counts, if there is one."""
    return {f.id for f in job.faults if f.severity == "dangerous"} if job.settings.safety_first else set()


@dataclass
class Search:
    """All mixes, the most promising first, until none that is left could be better."""

    scene: Scene
    by_fault: list[list[Proposal]]

    @property
    def size(self) -> int:
        return math.prod(len(found) + 1 for found in self.by_fault)

    def promise(self, p: Proposal) -> tuple[int, ...]:
        """What a route adds to each stage, and its own part of the last one, negative."""
        job, s = self.scene.job, self.scene.job.settings
        fault = next(f for f in job.faults if f.id == p.fault)
        chance, net = in_steps(Fraction(p.tree.chance), s.chance_step), half_up(p.tree.net)
        safe = down_to_steps(min(chance, plain(s.good_enough)), s.safety_step)
        importance = Fraction(fault.importance)
        values = [half_up(importance * safe * 10**6) if p.fault in grave(job) else 0] if grave(job) else []
        if self.scene.profit:
            return (*values, half_up(fault.sale_gain_minor * p.tree.chance - p.tree.net), -net)
        worth = job.hour_worth_minor
        last = half_up(60 * p.tree.net + worth * p.tree.expected) if worth else 60 * net
        return (*values, half_up(importance * chance * 10**6), -last)

    def best(self) -> Mix:
        if self.size > self.scene.most:
            raise TooManyTreesError
        job, width = self.scene.job, 3 if grave(self.scene.job) else 2
        choices = [[(None, (0,) * width, 0), *((p, self.promise(p), p.tree.cash) for p in f)] for f in self.by_fault]
        mixes = [
            (tuple(map(sum, zip(*(c[1] for c in combo)))), combo)
            for combo in product(*choices)
            if sum(c[2] for c in combo) <= self.scene.budget
        ]
        found: Mix | None = None
        cost = cache(lambda *chosen: shared_cost(self.scene, [p for p in chosen if p is not None]))
        for promised, combo in sorted(mixes, key=lambda m: m[0], reverse=True):
            if found is not None and promised <= (*found.values, -found.net):
                break
            chosen = [c[0] for c in combo]
            shared = cost(*(p and p._replace(tree=STOP) for p in chosen))
            if shared is None or sum(c[2] for c in combo) + shared.cash > self.scene.budget:
                continue
            trees = [p.tree for p in chosen if p is not None]
            limit = job.time.minutes
            if limit is not None and shared.minutes + sum(t.minutes for t in trees) > limit:
                continue
            values = list(promised[:-1])
            last = 60 * shared.net + job.hour_worth_minor * shared.minutes - promised[-1]
            if self.scene.profit:
                tenths = 10 * shared.minutes + sum(half_up(10 * t.expected) for t in trees)
                worth = math.ceil((job.hour_worth_minor * tenths - 299) / 600) if job.hour_worth_minor else 0
                values[-1] -= shared.net + worth
                last = shared.net - promised[-1]
            mix = Mix(tuple(values), last, tuple(chosen))
            if found is None or (mix.values, -mix.net) > (found.values, -found.net):
                found = mix
        assert found is not None
        return found


def search(job: Job, most: float = math.inf) -> Search:
    """Raises ``TooManyTreesError`` where there is more to enumerate than ``most``."""
    scene = Scene(job, most)
    faults = sorted(job.faults, key=lambda f: f.id)
    return Search(
        scene,
        [[p for ahead in sets_ahead(scene, f) for p in FaultTrees(scene, f, ahead).proposals()] for f in faults],
    )


def best(job: Job, most: float = math.inf) -> Mix:
    """The best mix; raises as ``search`` does."""
    return search(job, most).best()
