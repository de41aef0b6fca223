"""Frontiers against every policy written out, and against plain recursion over beliefs at every budget.

The oracles share no code with the sweep: they walk histories, take beliefs from ``posterior`` and money from the rules
of the page on the model, section 6.
"""

import random
from datetime import date, timedelta
from itertools import chain, combinations, pairwise, product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.diagnosis.belief import likelihoods
from optimiser.diagnosis.case import Case
from optimiser.model.evidence import FailedAttempt, Finding, Piece
from optimiser.model.job import Access, Check, Fault, Repair
from optimiser.model.option import Line, Option
from optimiser.model.quotes import Quote
from optimiser.model.route import AttemptStep, Stop
from optimiser.orders import AttemptCost
from tests.effort import examples
from tests.frontier import frontier, profit
from tests.one_fault import posterior

CAUSES = ("a", "b", "something-else")
TODAY = date(2026, 11, 24)
ACCESS = {"dash": Access(id="dash", minutes=7, price_minor=3), "seat": Access(id="seat", minutes=4)}


def cash_of(option, tried):
    """Goods, one postage of 4 a supplier, deposits that come back, half of the goods back where the quote says so."""
    goods = sum(line.quote.price_minor for line in option.lines)
    known = {s for other in tried for s in other.suppliers}
    postage = 4 * len(option.suppliers - known)
    deposits = sum(line.quote.deposit_minor for line in option.lines)
    refund = sum(round(line.quote.refund_share * line.quote.price_minor) for line in option.lines)
    cash = option.direct_minor + goods + postage + deposits
    return AttemptCost(cash, cash - deposits, refund, trip_minutes=5 * len(option.suppliers - known))


def cases(most_checks, most_options, most_minutes=None):
    """Cases by seed: drawing value by value makes them too plain to have more than a point or two."""
    return st.integers(0, 10**9).map(lambda seed: _case(random.Random(seed), most_checks, most_options, most_minutes))


def _case(rng, most_checks, most_options, most_minutes):
    checks = tuple(
        Check(
            id=f"k{i}", minutes=rng.randint(0, 9), cost_minor=rng.randint(0, 3), access=_access(rng),
            results={"r": {c: rng.choice([0.0, 0.05, 0.3, 0.8, 1.0]) for c in CAUSES}},
        )
        for i in range(rng.randint(most_checks - 1, most_checks))
    )  # fmt: skip
    cures = [{c: rng.choice([0.7, 0.9, 1.0] if c == own else [0, 0, 0.2, 0.6]) for c in CAUSES} for own in "ab"]
    repairs = tuple(Repair(id=f"r{i}", cures=row) for i, row in enumerate(cures))
    fault = Fault(id="f", severity="minor", causes={"a": 2, "b": 3}, check=checks, repair=repairs)
    quotes = [_quote(rng, n) for n in range(6)]
    options = [_option(rng, quotes) for _ in range(rng.randint(max(1, most_options - 1), most_options))]
    return Case(
        fault, posterior(fault).chances, options, checks, cash_of, access=ACCESS, today=TODAY,
        needed_by=TODAY + timedelta(6), minutes=None if most_minutes is None else rng.randint(0, most_minutes),
    )  # fmt: skip


def _access(rng):
    return rng.choice([(), (), ("dash",), ("seat",)])


def _quote(rng, n):
    return Quote(
        id=f"q:{n}", part=f"p{n % 2}", supplier=f"s{n % 2}", condition="salvage", price_minor=rng.randint(5, 40),
        good_chance=rng.choice([0.5, 0.8, 0.9, 1.0]), deposit_minor=rng.randint(0, 3),
        refund_share=rng.choice([0, 0.5]), valid_until=rng.choice([None, None, TODAY + timedelta(2)]),
    )  # fmt: skip


def _option(rng, quotes):
    lines = tuple(Line(quote=q, units=1, wanted=1) for q in rng.sample(quotes, rng.choice([0, 1, 1, 2])))
    return Option(
        fault="f", repair=rng.choice(["r0", "r1"]), by_workshop=rng.random() < 0.3, lines=lines,
        direct_minor=rng.randint(0, 20), minutes=rng.randint(0, 9), access=_access(rng), chance=0.5,
        days=rng.choice([0, 1, 2, 4]),
    )  # fmt: skip


class Told:
    """A history: what was done in order. Everything below is reckoned from it afresh."""

    def __init__(self, case, results=(), tried=()):
        self.case, self.results, self.tried = case, results, tried

    def entries(self):
        failed = [
            FailedAttempt(o.repair, tuple(Piece(x.quote.id, x.quote.good_chance) for x in o.lines)) for o in self.tried
        ]
        return [Finding(*r) for r in self.results] + failed

    def belief(self):
        standing = posterior(self.case.fault, self.entries())
        assert not standing.clash
        return standing.chances

    def access(self, action, own):
        mades = [c for c in self.case.checks if c.id in dict(self.results)] + [
            o for o in self.tried if not own or not o.by_workshop
        ]
        return set(action.access) - {a for made in mades for a in made.access}

    def checks(self):
        """Each open check with cash, minutes and its results: chance and the history that follows."""
        for check in self.case.checks:
            if check.id in dict(self.results):
                continue
            cash = check.cost_minor + sum(ACCESS[a].price_minor for a in self.access(check, own=False))
            minutes = check.minutes + sum(ACCESS[a].minutes for a in self.access(check, own=True))
            belief = self.belief()
            table = likelihoods(check, CAUSES)
            outcomes = [
                (sum(belief[c] * row[c] for c in CAUSES), Told(self.case, (*self.results, (check.id, r)), self.tried))
                for r, row in table.items()
            ]
            yield cash, minutes, [(p, t) for p, t in outcomes if p > 0]

    def attempts(self):
        """Each open option with its cost, minutes, chance of cure and the history after failing."""
        days = sum(o.days for o in self.tried)
        for option in self.case.options:
            quotes = {x.quote.id for x in option.lines}
            closed = any(
                quotes & {x.quote.id for x in o.lines} or (o.repair == option.repair and not o.lines and not quotes)
                for o in self.tried
            )
            lapsed = any(x.quote.valid_until and TODAY + timedelta(days) > x.quote.valid_until for x in option.lines)
            if closed or lapsed or TODAY + timedelta(days + option.days) > self.case.needed_by:
                continue
            cost = cash_of(option, self.tried)
            price = sum(ACCESS[a].price_minor for a in self.access(option, own=False))
            minutes = option.minutes + cost.trip_minutes
            if not option.by_workshop:
                minutes += sum(ACCESS[a].minutes for a in self.access(option, own=True))
            after = Told(self.case, self.results, (*self.tried, option))
            yield cost, price, minutes, self._cures(after), after

    def _cures(self, after):
        """1 - P(not cured, with it | c) / P(not cured so far | c), over the belief."""
        belief, cured = self.belief(), 0.0
        for cause in CAUSES:
            if belief[cause] == 0:
                continue
            so_far = _failing(self.case.fault, self.entries(), cause)
            cured += belief[cause] * (1 - _failing(self.case.fault, after.entries(), cause) / so_far)
        return cured


def _failing(fault, entries, cause):
    """Chance under one cause that all attempts failed; sets never share pieces here."""
    chance = 1.0
    for repair in fault.repairs:
        sets = [e.pieces for e in entries if isinstance(e, FailedAttempt) and e.repair == repair.id]
        unsound = 1.0
        for pieces in sets:
            sound = 1.0
            for piece in pieces:
                sound *= piece.good
            unsound *= 1 - sound
        chance *= 1 - repair.cures[cause] * (1 - unsound)
    return chance


def policies(told):
    """(worst cash, worst minutes, chance, net cost, minutes) of every tree there is."""
    yield 0, 0, 0.0, 0.0, 0.0
    for cash, minutes, outcomes in told.checks():
        for below in product(*(list(policies(after)) for _, after in outcomes)):
            yield (
                cash + max(b[0] for b in below), minutes + max(b[1] for b in below),
                *(
                    extra + sum(p * b[i] for (p, _), b in zip(outcomes, below, strict=True))
                    for i, extra in ((2, 0), (3, cash), (4, minutes))
                ),
            )  # fmt: skip
    for cost, price, minutes, p, after in told.attempts():
        net = cost.net_minor + price - (1 - p) * cost.refund_minor
        rest = list(policies(after)) if p < 1 - 1e-12 else [(0, 0, 0.0, 0.0, 0.0)]
        for w, h, chance, e, m in rest:
            yield (
                cost.cash_minor + price + w, minutes + h, p + (1 - p) * chance, net + (1 - p) * e, minutes + (1 - p) * m
            )  # fmt: skip


def recursion(told, cash, minutes):
    """The best (chance, -net cost) within these worst cases, by plain recursion."""
    best = (0.0, 0.0, 0.0)
    for price, spent, outcomes in told.checks():
        if price <= cash and spent <= minutes:
            below = [(p, recursion(after, cash - price, minutes - spent)) for p, after in outcomes]
            best = _more(best, tuple(sum(p * b[i] for p, b in below) - (0, price, spent)[i] for i in range(3)))
    for cost, price, spent, p, after in told.attempts():
        left = cash - cost.cash_minor - price
        if left >= 0 and spent <= minutes:
            rest = recursion(after, left, minutes - spent) if p < 1 - 1e-12 else (0.0, 0.0, 0.0)
            net = cost.net_minor + price - (1 - p) * cost.refund_minor
            best = _more(best, (p + (1 - p) * rest[0], (1 - p) * rest[1] - net, (1 - p) * rest[2] - spent))
    return best


def _more(one, other):
    for x, y in zip(one, other, strict=True):
        if abs(x - y) > 1e-11:
            return one if x > y else other
    return one


@examples(60)
@given(st.one_of(cases(2, 2), cases(1, 3)))
def test_the_frontier_is_that_of_all_policies(case):
    everything = sorted(policies(Told(case)))
    points = frontier(case).points
    for cash in sorted({p[0] for p in everything}):
        within = [p for p in everything if p[0] <= cash]
        chance = max(p[2] for p in within)
        net = min(p[3] for p in within if p[2] >= chance - 1e-11)
        point = [p for p in points if p.cash_minor <= cash][-1]
        assert (point.chance, point.net_minor) == (pytest.approx(chance, abs=1e-10), pytest.approx(net, abs=1e-7))
    for before, after in pairwise(points):
        assert before.cash_minor < after.cash_minor
        assert after.chance > before.chance + 1e-13 or after.net_minor < before.net_minor


@examples(20)
@given(st.one_of(cases(2, 2, 40), cases(1, 3, 40)))
def test_with_minutes_limited_every_pair_of_limits_has_its_best_policy(case):
    everything = list(policies(Told(case)))
    found = frontier(case)
    for cash, minutes in product(sorted({p[0] for p in everything}), sorted({p[1] for p in everything})):
        if minutes > case.minutes:
            continue
        within = [p for p in everything if p[0] <= cash and p[1] <= minutes]
        chance = max(p[2] for p in within)
        net = min(p[3] for p in within if p[2] >= chance - 1e-11)
        point = found.at(cash, minutes)
        assert (point.chance, point.net_minor) == (pytest.approx(chance, abs=1e-10), pytest.approx(net, abs=1e-7))
    for one, other in combinations(found.points, 2):
        alike = other.cash_minor >= one.cash_minor and other.worst_minutes >= one.worst_minutes
        rises = other.chance > one.chance + 1e-13
        assert rises or not alike or (other.chance > one.chance - 1e-11 and other.net_minor < one.net_minor)


@examples(8)
@given(cases(3, 3), st.lists(st.integers(0, 80), min_size=3, max_size=3))
def test_larger_faults_agree_with_plain_recursion(case, budgets):
    found = frontier(case)
    for cash in budgets:
        best = recursion(Told(case), cash, 10**6)
        point = found.at(cash)
        assert (point.chance, -point.net_minor) == (pytest.approx(best[0], abs=1e-10), pytest.approx(best[1], abs=1e-7))
        assert point.minutes == pytest.approx(-best[2], abs=1e-7)


@examples(40)
@given(st.one_of(cases(3, 4), cases(3, 4, 60)))
def test_every_point_is_a_tree_with_those_figures(case):
    found = frontier(case)
    for point in found.points:
        route = found.route(point)
        assert route.chance == pytest.approx(point.chance, abs=1e-10)
        assert route.net_minor == pytest.approx(point.net_minor, abs=1e-7)
        assert route.minutes == pytest.approx(point.minutes, abs=1e-7)
        assert route.cash_minor == point.cash_minor
        assert case.minutes is None or route.worst_minutes == point.worst_minutes <= case.minutes
        _only_steps_that_can_matter(route.first)


def _only_steps_that_can_matter(node):
    if isinstance(node, Stop):
        return
    assert sum(b.chance for b in node.then) == pytest.approx(1)
    assert len(node.then) > 1 or isinstance(node, AttemptStep)
    assert not isinstance(node, AttemptStep) or node.chance > 0
    for branch in node.then:
        _only_steps_that_can_matter(branch.then)


@examples(25)
@given(cases(2, 2), st.integers(0, 60), st.integers(0, 30))
def test_for_profit_the_best_policy_is_that_of_greatest_profit(case, gain, hour_worth):
    everything = list(policies(Told(case)))
    found = frontier(case, profit(gain, hour_worth))

    def made(chance, net, minutes):
        return gain * chance - net - hour_worth * minutes / 60

    for cash in sorted({p[0] for p in everything}):
        best = max(made(*p[2:]) for p in everything if p[0] <= cash)
        point = found.at(cash)
        assert made(point.chance, point.net_minor, point.minutes) == pytest.approx(best, abs=1e-7)


@examples(25)
@given(cases(2, 3), st.integers(0, 60))
def test_a_check_is_never_worth_less_than_nothing_in_fixes(case, cash):
    for check in case.checks:
        fewer = Case(**{**vars(case), "checks": [c for c in case.checks if c.id != check.id]})
        assert frontier(case).at(cash).chance > frontier(fewer).at(cash).chance - 1e-11


@examples(15)
@given(cases(2, 3), st.data())
def test_what_was_done_before_is_not_offered_again_and_counts(case, data):
    """Planning on after a failed attempt is the rest of the route: no fresh luck for the repair that did not suit."""
    told = Told(case)
    options = [(cost, p, after) for cost, _, _, p, after in told.attempts() if p < 1 - 1e-9]
    if not options:
        return
    _, _, after = data.draw(st.sampled_from(options))
    option = after.tried[0]
    later = Case(**{
        **vars(case), "seen": after.entries(), "belief": after.belief(), "today": TODAY + timedelta(option.days),
        "cash_of": lambda o, tried: cash_of(o, (option, *tried)),
        "access": {n: a for n, a in ACCESS.items() if n not in option.access or option.by_workshop},
    })  # fmt: skip
    if option.by_workshop:
        return
    for cash in (5, 20, 60):
        best = recursion(after, cash, 10**6)
        assert frontier(later).at(cash).chance == pytest.approx(best[0], abs=1e-10)


def test_the_sums_of_costs_are_all_there_is():
    """Three repairs that each cure their own cause: every subset is a point."""
    causes = {"a": 1, "b": 2, "c": 4}
    repairs = tuple(Repair(id=c, cures={c: 1.0}) for c in causes)
    fault = Fault(id="f", severity="minor", causes=causes, something_else=0, repair=repairs)
    options = [
        Option(fault="f", repair=c, by_workshop=False, lines=(), direct_minor=d, minutes=0, access=(), chance=0, days=0)
        for c, d in zip(causes, (1, 2, 4), strict=True)
    ]
    case = Case(fault, posterior(fault).chances, options, (), cash_of)
    sums = sorted(sum(s) for s in chain.from_iterable(combinations((1, 2, 4), n) for n in range(4)))
    assert [p.cash_minor for p in frontier(case).points] == sums
    assert [p.chance for p in frontier(case).points] == pytest.approx([s / 7 for s in sums])


@examples(40)
@given(cases(3, 4), st.integers(1, 40))
def test_a_cut_depth_says_so_and_its_ceiling_holds(case, most_moves):
    whole, cut = frontier(case), frontier(case, most_moves=most_moves)
    for point in whole.points:
        assert cut.at(point.cash_minor).chance <= point.chance + 1e-12
        reached = [chance for cash, chance in cut.ceiling if cash <= point.cash_minor]
        assert point.chance <= max(reached) + 1e-12
    for point in cut.points:
        route = cut.route(point)
        assert (route.chance, route.cash_minor) == (pytest.approx(point.chance, abs=1e-10), point.cash_minor)
    assert not cut.exact or cut.points == whole.points
    assert whole.exact
