"""Routes put forward, chosen and judged: the hours, the attempts, the checks that go, the money that holds."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from optimiser import service
from optimiser.diagnosis import candidates
from optimiser.model.job import Access, Fault, Job, LicensedSystem, Pot, Repair, Time
from optimiser.model.option import Bar
from optimiser.model.plan import Plan, Remark, Selection
from optimiser.model.quotes import Quote
from optimiser.model.route import AttemptStep, CheckStep, Node, Stop
from optimiser.planning import choose, options
from optimiser.planning.choose import Chosen
from optimiser.planning.totals import step_access
from optimiser.solver import exact_solve, solve
from tests.tiny_job import BASE, BLOWER, CHECKED, FEED, HORN, LAMP, MOTOR, ROUTED, VARIANTS, WIRE, but, planned, routed


def chosen(job: Job) -> Chosen:
    return choose.chosen(job, None, lambda _: None)


def paths(node: Node) -> Iterator[tuple[CheckStep | AttemptStep, ...]]:
    """Every way through a tree, from its root to a stop."""
    if isinstance(node, Stop):
        yield ()
        return
    for branch in node.then:
        for rest in paths(branch.then):
            yield (node, *rest)


def longest(job: Job, selection: Selection) -> int:
    """The owner's minutes if every fault takes its longest path: each access opened once in all."""
    opened: set[str] = set()
    total = 0
    for route in selection.routes:
        total += max(sum(step.minutes for step in path) for path in paths(route.first))
        for path in paths(route.first):
            opened |= {name for step in path for name in step_access(job, route.fault, step)}
    return total + sum(access.minutes for access in job.access if access.id in opened)


# ---- the money


@pytest.mark.parametrize("variant", ROUTED)
def test_the_money_adds_up_with_routes(variant: str) -> None:
    purse = routed(variant).purse
    spent = purse.orders_minor + purse.direct_minor + purse.deposits_minor + purse.fallbacks_minor
    assert spent + purse.unspent_minor == purse.remaining_minor
    assert purse.fallbacks_minor >= 0
    assert purse.unspent_minor >= 0
    assert sum(choice.landed_minor for choice in routed(variant).choices) == purse.net_minor
    for choice in routed(variant).choices:
        parts = sum(part.landed_minor for part in choice.parts)
        assert choice.landed_minor == choice.own_minor + choice.access_minor + choice.postage_minor + parts
    assert purse.net_minor <= purse.cash_minor


@pytest.mark.parametrize("variant", ["check", "three_results", "fallback", "deposit", "most_attempts"])
def test_the_dearest_path_of_one_fault_is_what_the_plan_sets_aside(variant: str) -> None:
    """Where nothing is shared the dearest ways through all trees, with what is sure to be ordered, are the cash."""
    plan = routed(variant)
    dearest = sum(max(sum(s.cash_minor for s in p) for p in paths(r.first)) for r in plan.selection.routes)
    ordered = sum(order.total_minor for order in plan.orders)
    assert plan.purse.cash_minor == dearest + ordered


def test_three_faults_that_may_share_an_order_pay_its_postage_once() -> None:
    """Issue 3: 3 x 9.00 for the discs and 4.50 once is 31.50; paid three times it would be 40.50, over the pot."""
    plan = routed("shared")
    assert plan.purse.cash_minor == 3 * 900 + 450
    assert [choice.postage_minor for choice in plan.choices] == [150, 150, 150]
    assert plan.orders == ()  # whether a disc is wanted at all is not known before the checks
    assert plan.expected_count == pytest.approx(3 * (0.5 + 0.5 * 0.98))
    assert plan.purse.net_minor == 3 * 450 + 450
    tight = service.plan(but(ROUTED["shared"], pot=Pot(cap_minor=3149)))
    assert tight.expected_count < plan.expected_count - 0.1


def test_a_refund_lowers_what_is_expected_and_not_the_worst_case() -> None:
    """Half of 9.00 comes back in the 0.28 x (1 - 0.63) where neither disc helps."""
    plain, back = routed("fallback"), routed("refund")
    assert (plain.purse.cash_minor, back.purse.cash_minor) == (1450, 1450)
    neither = 1 - plain.choice("horn").chance
    assert plain.purse.net_minor - back.purse.net_minor == round(450 * neither)


# ---- the hours


def test_hours_that_bind_hold_along_every_path() -> None:
    """Check and motor take 70 minutes: an hour has room for the check and the wire, or for the motor alone."""
    pick = chosen(ROUTED["hours"])
    assert (pick.hours_limited, pick.hours_free) == (True, False)
    assert longest(pick.job, pick.selection) <= 60
    assert routed("hours").minutes == longest(pick.job, pick.selection)
    assert routed("hours").expected_count == pytest.approx(0.5)
    room = service.plan(but(CHECKED, time=Time(hours=70 / 60)))
    assert (room.minutes, room.expected_count) == (70, 1.0)


def test_hours_that_do_not_bind_change_nothing() -> None:
    pick, free = chosen(but(CHECKED, time=Time(hours=2.0))), chosen(CHECKED)
    assert (pick.hours_limited, pick.hours_free) == (True, True)
    assert pick.selection == free.selection
    assert (free.hours_limited, free.hours_free) == (False, False)


@pytest.mark.parametrize("minutes", [30, 60, 75, 100, 130, 200])
def test_hours_are_kept_over_all_faults_and_openings(minutes: int) -> None:
    """Blower and horn behind one dash: whatever the hours, no path is longer, and more hours are never worth less."""
    checks = (but(FEED, access=("dash",)),)
    job = but(
        CHECKED,
        access=(Access(id="dash", minutes=20),),
        faults=(but(BLOWER, checks=checks), but(HORN, repairs=(but(HORN.repairs[0], access=("dash",)),)), LAMP),
        quotes=BASE.quotes,
        suppliers=BASE.suppliers,
        pot=Pot(cap_minor=9000),
        time=Time(hours=minutes / 60),
    )
    pick = chosen(job)
    assert longest(job, pick.selection) <= minutes
    assert not choose.too_long(pick)
    wider = chosen(but(job, time=Time(hours=minutes / 60 + 0.5)))
    assert wider.selection.levels["all-faults"] >= pick.selection.levels["all-faults"]


# ---- the attempts


@pytest.mark.parametrize("most", [1, 2, 3, 4])
def test_no_path_tries_more_than_the_job_allows(most: int) -> None:
    job = ROUTED["most_attempts"]
    plan = service.plan(but(job, settings=but(job.settings, most_attempts=most)))
    tries = [sum(isinstance(step, AttemptStep) for step in path) for path in paths(plan.choice("horn").route.first)]
    assert max(tries) == most
    assert plan.choice("horn").chance == pytest.approx(1 - 0.5**most)


def test_a_search_that_was_cut_says_so_with_a_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    """Repairs that wait for a day: what neither waits nor buys is never cut, so it would hide the cut."""
    bare = ROUTED["most_attempts"]
    waits = but(bare.faults[0], repairs=tuple(but(repair, lead_days=1) for repair in bare.faults[0].repairs))
    job = but(bare, faults=(waits,), settings=but(CHECKED.settings, most_attempts=4))
    whole = service.plan(job).selection.levels["all-faults"]
    monkeypatch.setattr(candidates, "MOST_MOVES", 1)
    pick = chosen(job)
    outcome, reached = pick.selection.outcome, pick.selection.levels["all-faults"]
    assert [(said.remark, said.about[0]) for said in pick.cut] == [(Remark.ROUTES_CUT, "horn")]
    assert (outcome.proven, outcome.stage, outcome.unit) == (False, "all-faults", "fixes")
    assert reached < whole <= reached + outcome.better_at_most


# ---- licensed work


def test_the_owner_is_not_sent_to_check_what_is_for_the_licensed() -> None:
    plan = routed("licensed")
    assert ("blower/feed", Bar.LICENSED) in {(barred.id, barred.bar) for barred in plan.not_offered}
    assert [route.checks for route in plan.selection.routes] == [()]
    assert plan.do_first == ()
    claimed = but(ROUTED["licensed"].settings, licensed=(LicensedSystem.GAS,))
    plan = service.plan(but(ROUTED["licensed"], settings=claimed))
    assert [first.check for first in plan.do_first] == ["feed"]


# ---- checks that are not worth their time


def repairs(plan: Plan) -> list[str]:
    return [step.option.repair for route in plan.selection.routes for step in route.attempts]


def test_a_check_that_is_not_worth_its_time_is_dropped_and_the_job_planned_again() -> None:
    """It gains half a fix; a job that asks for more than that plans without it, and the plan is the best without."""
    small = ROUTED["small"]
    assert chosen(but(small, settings=CHECKED.settings)).selection.routes[0].checks
    pick = chosen(small)
    assert pick.selection.routes[0].checks == ()
    (worth,) = pick.verdicts["blower"].checks
    assert (worth.taken, worth.left_out, worth.fixes) == (False, True, pytest.approx(0.5))
    without = chosen(but(small, faults=(but(BLOWER, checks=()),)))
    assert pick.selection == without.selection
    assert repairs(routed("small")) == ["wire"]


def test_idle_checks_go_one_at_a_time_and_what_is_left_is_judged_anew() -> None:
    """Of two checks that tell the same each is worth nothing beside the other; only one of them may go."""
    twice = but(BLOWER, checks=(FEED, but(FEED, id="meter")))
    pick = chosen(but(CHECKED, faults=(twice,)))
    verdicts = {worth.check: worth for worth in pick.verdicts["blower"].checks}
    assert sorted(worth.left_out for worth in verdicts.values()) == [False, True]
    assert pick.selection.routes[0].chance == 1.0
    kept = next(worth for worth in verdicts.values() if not worth.left_out)
    assert (kept.taken, kept.fixes) == (True, pytest.approx(0.5))


def test_a_check_that_can_change_nothing_goes_even_where_nothing_must_be_gained() -> None:
    pick = chosen(but(ROUTED["idle"], settings=but(CHECKED.settings, check_must_gain=0.0)))
    assert [(worth.check, worth.left_out) for worth in pick.verdicts["blower"].checks] == [("feed", True)]


def test_sorting_the_routes_by_a_relaxation_first_changes_no_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    """Large jobs begin with a core of promising routes; the plan they end with is proven over all."""
    monkeypatch.setattr(exact_solve, "WORTH_RELAXING", 0)
    monkeypatch.setattr(exact_solve, "CORE", 1)
    monkeypatch.setattr(solve, "WORTH_RELAXING", 0)
    for variant, job in ROUTED.items():
        found = chosen(job).selection
        assert found.outcome.proven
        assert found.levels == routed(variant).selection.levels


# ---- without fallbacks


@pytest.mark.parametrize("variant", VARIANTS)
def test_without_fallbacks_each_option_is_tried_once(variant: str) -> None:
    pick = chosen(VARIANTS[variant])
    assert (pick.offer, pick.verdicts, pick.cut) == (options.build(VARIANTS[variant]), {}, ())
    assert all(route.only_option is not None for route in pick.selection.routes)
    assert planned(variant).purse.fallbacks_minor == 0


@pytest.mark.parametrize("variant", ["base", "postage", "free_over", "minimum_order", "packs", "stock", "access",
                                     "deposit", "trip", "safety", "workshop", "causes"])  # fmt: skip
def test_fallbacks_are_never_worth_less_than_one_attempt(variant: str) -> None:
    """Every single attempt is a route too."""
    job = VARIANTS[variant]
    more = service.plan(but(job, settings=but(job.settings, fallbacks=True)))
    once, routes = planned(variant).selection.levels, more.selection.levels
    stages = [name for name in once if name != "net-cost"]
    assert [routes[name] for name in stages] >= [once[name] for name in stages]


def test_one_attempt_a_fault_with_routes_is_the_mix_of_options() -> None:
    """``most_attempts = 1`` and no checks leave what the first issue chose from."""
    job = but(BASE, settings=but(BASE.settings, fallbacks=True, most_attempts=1))
    assert service.plan(job).selection.levels == planned("base").selection.levels


def test_the_same_plan_whatever_the_order_in_which_the_job_is_written() -> None:
    other = Repair(id="other", chance=0.3, price_minor=70)
    job = but(CHECKED, faults=(but(BLOWER, repairs=(WIRE, MOTOR, other)), LAMP))
    turned = but(job, faults=(LAMP, but(BLOWER, repairs=(other, MOTOR, WIRE), causes={"motor": 1.0, "wire": 1.0})))
    one, two = chosen(job).selection, chosen(turned).selection
    assert {r.fault: r.first for r in one.routes} == {r.fault: r.first for r in two.routes}
    assert one.levels == two.levels


# ---- one quote, one batch


@pytest.mark.parametrize(("coolants", "attempts"), [(1, 1), (2, 2)])
def test_one_quote_serves_one_attempt_of_a_fault_whatever_the_repair(coolants: int, attempts: int) -> None:
    """Model section 6. Both repairs want coolant: a second line of it, under its own reference, frees the other."""
    ways = [Repair(id=part, chance=0.5, parts={part: 1, "coolant": 1}) for part in ("pump", "thermostat")]
    new = {"supplier": "alder", "condition": "new", "price_minor": 100, "good_chance": 0.99}
    quotes = [Quote(id=f"quotes.csv:{n}", part=part, **new) for n, part in enumerate(("pump", "thermostat"), start=2)]
    quotes += [Quote(id=f"quotes.csv:{n}", part="coolant", ref=str(n), **new) for n in range(4, 4 + coolants)]
    fault = Fault(id="overheats", severity="minor", repairs=tuple(ways))
    plan = service.plan(but(BASE, settings=but(BASE.settings, fallbacks=True), faults=(fault,), quotes=tuple(quotes)))
    assert max(len(path) for path in paths(plan.selection.routes[0].first)) == attempts
