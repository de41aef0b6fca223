"""Routes of one small fault, feature by feature."""

from dataclasses import replace
from datetime import date

import pytest

from optimiser.diagnosis.belief import prior
from optimiser.diagnosis.case import Case
from optimiser.model.evidence import FailedAttempt, Finding, Piece
from optimiser.model.job import Access, Check, Fault, Repair
from optimiser.model.option import Line, Option
from optimiser.model.quotes import Quote, Supplier
from optimiser.model.route import Stop
from optimiser.orders import OwnLanded
from tests.frontier import frontier
from tests.one_fault import posterior

FEED = Check(id="feed", minutes=15, results={"spins": {"resistor": 1.0, "motor": 0.0, "something-else": 0.5}})
BLOWER = Fault(
    id="blower",
    severity="minor",
    causes={"resistor": 1, "motor": 1},
    something_else=0.0,
    check=(FEED,),
    repair=(Repair(id="motor", cures={"motor": 1.0}), Repair(id="resistor", cures={"resistor": 1.0})),
)


def option(repair, price, good=1.0, n=1, **more):
    quote = Quote(
        id=f"{repair}.csv:{n}", part=repair, supplier="s", condition="new", price_minor=price, good_chance=good,
        **{k: more.pop(k) for k in ("refund_share", "valid_until") if k in more},
    )  # fmt: skip
    fields = {"by_workshop": False, "direct_minor": 0, "minutes": 10, "access": (), "chance": 0.5, "days": 1} | more
    return Option(fault="blower", repair=repair, lines=(Line(quote=quote, units=1, wanted=1),), **fields)


MOTOR, RESISTOR = option("motor", 6000), option("resistor", 1500)
PLAIN = Case(BLOWER, prior(BLOWER), [MOTOR, RESISTOR], [FEED], OwnLanded({}))


def points(case):
    return [(p.cash_minor, round(p.chance, 9), round(p.net_minor, 6)) for p in frontier(case).points]


def test_a_free_check_saves_the_dear_part():
    # resistor first and motor after would risk 7500; the check finds out at no cost and risks 6000
    assert points(PLAIN) == [(0, 0, 0), (1500, 0.5, 750), (6000, 1, 3750)]
    assert points(replace(PLAIN, checks=[])) == [(0, 0, 0), (1500, 0.5, 1500), (7500, 1, 4500)]


def test_a_pointless_check_is_never_in_a_route():
    blind = FEED.model_copy(update={"minutes": 0, "results": {"hums": {}}})
    found = frontier(replace(PLAIN, checks=[blind]))
    assert all(found.route(p).first.do != "check" for p in found.points)


def test_the_tree_reads_as_it_is_done():
    found = frontier(PLAIN)
    route = found.route(found.points[-1])
    assert (route.first.do, route.first.check, route.first.minutes) == ("check", "feed", 15)
    spins, still = route.first.then
    assert (spins.result, spins.then.option, spins.chance) == ("spins", RESISTOR, pytest.approx(0.5))
    assert (still.result, still.then.option) == ("not-spins", MOTOR)
    assert [branch.then for branch in spins.then.then] == [Stop()]
    assert route.first_attempts == (spins.then, still.then)
    assert (route.worst_minutes, route.minutes) == (25, pytest.approx(25))


def test_a_second_shops_part_helps_only_as_far_as_the_first_may_have_been_bad():
    two = [option("motor", 100, good=0.5, n=1), option("motor", 100, good=0.5, n=2)]
    assert points(replace(PLAIN, options=two, checks=[])) == [(0, 0, 0), (100, 0.25, 100), (200, 0.375, 175)]


def test_the_same_quote_is_not_tried_twice():
    again = MOTOR.model_copy(update={"repair": "resistor"})
    assert points(replace(PLAIN, options=[MOTOR, again], checks=[]))[-1][:2] == (6000, 0.5)


def test_a_repair_without_parts_is_tried_once():
    bare = MOTOR.model_copy(update={"lines": (), "direct_minor": 100})
    cheaper = bare.model_copy(update={"direct_minor": 90})
    assert points(replace(PLAIN, options=[bare, cheaper], checks=[])) == [(0, 0, 0), (90, 0.5, 90)]


def test_refunds_count_in_what_is_expected_and_not_in_the_worst_case():
    back = option("resistor", 1500, refund_share=0.8)
    assert points(replace(PLAIN, options=[back], checks=[])) == [(0, 0, 0), (1500, 0.5, 1500 - 0.5 * 1200)]


def test_access_is_opened_once():
    dash = {"dash": Access(id="dash", minutes=45, price_minor=700)}
    opened = [o.model_copy(update={"access": ("dash",)}) for o in (MOTOR, RESISTOR)]
    found = frontier(replace(PLAIN, options=opened, checks=[], access=dash))
    route = found.route(found.points[-1])
    assert (route.cash_minor, route.worst_minutes) == (7500 + 700, 45 + 20)
    assert frontier(replace(PLAIN, options=opened, checks=[])).points[-1].cash_minor == 7500


def test_a_workshops_access_is_paid_for_but_takes_none_of_the_owners_minutes():
    dash = {"dash": Access(id="dash", minutes=45, price_minor=700)}
    shop = RESISTOR.model_copy(update={"access": ("dash",), "by_workshop": True, "minutes": 0})
    own = MOTOR.model_copy(update={"access": ("dash",)})
    found = frontier(replace(PLAIN, options=[shop, own], checks=[], access=dash))
    route = found.route(found.points[-1])
    assert route.first.option == shop
    assert (route.cash_minor, route.worst_minutes) == (7500 + 700, 45 + 10)


def test_postage_is_in_the_worst_case():
    posted = OwnLanded({"s": Supplier(id="s", postage_minor=395)})
    assert points(replace(PLAIN, cash_of=posted))[1][0] == 1895


def test_days_add_up_over_attempts():
    week = replace(PLAIN, checks=[], today=date(2026, 11, 24), needed_by=date(2026, 11, 26))
    slow = [o.model_copy(update={"days": 1}) for o in (MOTOR, RESISTOR)]
    assert points(replace(week, options=slow))[-1][1] == 1.0
    slower = [o.model_copy(update={"days": 2}) for o in (MOTOR, RESISTOR)]
    assert points(replace(week, options=slower))[-1][1] == 0.5


def test_a_quote_that_has_lapsed_after_the_first_wait_is_closed():
    day = date(2026, 11, 24)
    soon = option("motor", 6000, valid_until=day)
    routes = frontier(replace(PLAIN, options=[soon, RESISTOR], checks=[], today=day))
    # it must come first, though the cheap one first would be less in expectation
    assert routes.route(routes.points[-1]).first.option == soon
    assert routes.points[-1].net_minor == pytest.approx(6750)


def test_the_owners_minutes_are_a_limit_along_every_path():
    found = frontier(replace(PLAIN, minutes=20))
    assert [(p.cash_minor, p.worst_minutes, p.chance) for p in found.points] == [
        (0, 0, 0), (1500, 10, 0.5), (7500, 20, pytest.approx(1)),
    ]  # fmt: skip
    assert found.at(7500, 10).chance == 0.5


def test_the_pot_bounds_the_points():
    assert points(replace(PLAIN, cash_minor=5999))[-1][0] == 1500
    assert points(replace(PLAIN, cash_minor=-1)) == [(0, 0, 0)]


def test_what_was_seen_before_closes_and_counts():
    half = option("motor", 100, good=0.5, n=1)
    other = option("motor", 100, good=0.5, n=2)
    seen = [FailedAttempt("motor", (Piece("motor.csv:1", 0.5),)), Finding("feed", "not-spins")]
    case = replace(PLAIN, options=[half, other], seen=seen, belief=posterior(BLOWER, seen).chances)
    assert case.belief["motor"] == 1.0
    found = frontier(case)
    # sound or not was the only question left: 1 - 0.25 / 0.5
    assert [(p.cash_minor, p.chance) for p in found.points] == [(0, 0), (100, pytest.approx(0.5))]
    assert found.route(found.points[-1]).first.option == other


def test_an_attempt_without_a_cost_is_closed():
    def first_only(option, tried):
        return None if tried else OwnLanded({})(option, tried)

    assert points(replace(PLAIN, cash_of=first_only, checks=[])) == [(0, 0, 0), (1500, 0.5, 1500)]


def test_nothing_that_can_be_done():
    found = frontier(replace(PLAIN, options=[], checks=[]))
    assert points(replace(PLAIN, options=[])) == [(0, 0, 0)]
    assert found.route(found.points[0]).first == Stop()
