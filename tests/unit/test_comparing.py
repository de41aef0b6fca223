"""What-ifs with fallbacks: what is tried first is forced, all that follows is open."""

from __future__ import annotations

from dataclasses import replace

import pytest

from optimiser import service
from optimiser.model.job import Job, Pot, Repair, Time
from optimiser.model.option import Option
from optimiser.model.plan import NET_COST, PROFIT, Comparison, Plan, Selection, SwitchPoints
from optimiser.planning import choose, compare, switch_points
from optimiser.planning.choose import Chosen
from optimiser.planning.draw_up import drawn_up
from optimiser.show import compare_words, tables
from optimiser.solver import solve
from optimiser.solver.what_if import WhatIf
from tests.tiny_job import BASE, BLOWER, CHECKED, HORN, LAMP, ROUTED, but, routed


def worth(plan: Plan) -> tuple[int, ...]:
    """The stages' values in their order, then how little it costs."""
    *stages, last = plan.selection.levels.values()
    return (*stages, -last)


def compared(variant: str) -> list[Comparison]:
    return [service.compare(ROUTED[variant], fault.id) for fault in ROUTED[variant].faults]


@pytest.mark.long
@pytest.mark.parametrize("variant", ROUTED)
def test_no_forced_plan_is_better_than_the_plan_and_only_what_is_tried_first_has_switch_points(variant: str) -> None:
    best = routed(variant)
    for answer in compared(variant):
        for row in answer.rows:
            assert row.known
            if row.plan is not None:
                assert worth(row.plan) <= worth(best)
                assert row.plan.selection.route_for(row.option.fault).first_step == row.option.key
                assert row.plan.purse.unspent_minor >= 0
            if best.takes(row.option):
                assert row.plan is not None
                assert worth(row.plan) == worth(best)
            assert (tables.value_if_forced(row) is None) == (row.plan is None)
            assert (row.switch is not None) <= answer.plan.takes(row.option)
        if answer.plan.choice(answer.fault.id).option is None:
            assert not [row for row in answer.rows if row.switch is not None]


def test_every_option_of_a_checked_fault_is_forced_first() -> None:
    """Without the check in front each is worth one half: the pot does not pay for both."""
    (answer,) = compared("check")
    assert {row.option.repair: tables.value_if_forced(row) for row in answer.rows} == {"wire": 0.5, "motor": 0.5}


def test_forcing_an_option_first_leaves_open_what_follows_it() -> None:
    """New first and then rebuilt cures as often as rebuilt first and then new: 1 - 0.1 x 0.3."""
    starter = but(HORN, id="starter", repairs=(NEW, REBUILT))
    answer = service.compare(but(CHECKED, faults=(starter,), pot=Pot(cap_minor=5000)), "starter")
    values = {row.option.repair: tables.value_if_forced(row) for row in answer.rows}
    assert values == {"new": pytest.approx(0.97), "rebuilt": pytest.approx(0.97)}


def test_what_another_fault_loses_by_it() -> None:
    """Of 10.00 the used disc at 3.00 leaves enough for the lamp at 2.50; the new one at 9.00 does not."""
    job = but(ROUTED["fallback"], pot=Pot(cap_minor=1000))
    answer = service.compare(job, "horn")
    loses = {row.option.lines[0].quote.condition: row.loses for row in answer.rows}
    assert loses == {"new": ("lamp",), "salvage": ()}
    (said,) = (compare_words.loses(answer.plan, row) for row in answer.rows if row.loses)
    assert "lamp" in said


def test_a_what_if_keeps_the_hours_too() -> None:
    """Both discs one after the other and the lamp take 50 minutes: in 45 each option is forced on its own."""
    job = but(ROUTED["fallback"], time=Time(hours=45 / 60))
    limited = [row.plan for row in service.compare(job, "horn").rows]
    assert all(plan is not None and plan.minutes <= 45 for plan in limited)
    free = [row.plan for row in service.compare(ROUTED["fallback"], "horn").rows]
    assert max(plan.minutes for plan in free if plan is not None) == 50


@pytest.mark.parametrize("faults", [1, 2])
def test_all_questions_together_take_no_more_than_the_time_once(faults: int) -> None:
    job = but(ROUTED["fallback"], pot=Pot(cap_minor=1000))
    pick = choose.chosen(job, None, lambda _: None)
    pick = replace(pick, job=but(pick.job, solve=but(pick.job.solve, seconds=1e-9)))
    for answer in compare.compared(pick, job.faults[:faults], drawn_up, lambda _: None):
        (taken,) = [row for row in answer.rows if answer.plan.takes(row.option)] or [None]
        others = [row for row in answer.rows if row is not taken]
        assert not any(row.known for row in others)
        assert all(compare_words.loses(answer.plan, row) == "was not settled in the time allowed" for row in others)
        assert taken is None or taken.switch is None or taken.switch.surcharge_minor is None


# ---- switch points of what is tried first

NEW = Repair(id="new", chance=0.9, price_minor=3000)
REBUILT = Repair(id="rebuilt", chance=0.7, price_minor=1000)


def first_choice(job: Job, fault: str) -> tuple[Chosen, Option, SwitchPoints]:
    pick = choose.chosen(job, None, lambda _: None)
    (of,) = (f for f in job.faults if f.id == fault)
    points = switch_points.points(pick, of, lambda _: True)
    assert points is not None
    return pick, pick.selection.route_for(fault).option, points


def still_first(pick: Chosen, option: Option) -> bool:
    """Whether a mix as good as the best tries the option first, as it is given here wherever it stands."""
    search = pick.search.faults[option.fault]
    offer = pick.search.asked(option.fault, [option, *(o for o in search.options if o.key != option.key)])
    best = solve.best(pick.solved, offer)
    forced = WhatIf(pick.solved, offer, search.fault, best).forced(option).selection
    return forced is not None and _values(forced) == _values(best)


def _values(mix: Selection) -> list[int]:
    """What the stages reach; at equal profit net cost is no matter."""
    return [value for name, value in mix.levels.items() if PROFIT not in mix.levels or name != NET_COST]


def as_they_are(job: Job) -> Job:
    """Chances count as they are, and money alone decides among equals."""
    exact = but(job.settings, chance_step=0, safety_step=0)
    return but(job, settings=exact, pot=but(job.pot, hour_worth_minor=0))


SWITCHED = {
    "a fallback behind it": (ROUTED["fallback"], "horn"),
    "a poorer pot": (but(ROUTED["fallback"], pot=Pot(cap_minor=1100)), "horn"),
    "postage": (ROUTED["postage"], "horn"),
    "four ways": (ROUTED["most_attempts"], "horn"),
    "a check behind it": (ROUTED["try_first"], "pump"),
    "two faults at odds": (
        but(CHECKED, pot=Pot(cap_minor=4400), faults=(but(HORN, id="starter", repairs=(NEW, REBUILT)), LAMP)),
        "starter",
    ),
    "safety first": (but(ROUTED["fallback"], faults=(but(HORN, severity="dangerous"), LAMP)), "horn"),
    "profit": (
        but(ROUTED["fallback"], settings=but(CHECKED.settings, aim="profit"),
            faults=(but(HORN, sale_gain_minor=3000), but(LAMP, sale_gain_minor=1500))),
        "horn",
    ),
}  # fmt: skip
SWITCHED = {what: (as_they_are(job), fault) for what, (job, fault) in SWITCHED.items()}


@pytest.mark.long
@pytest.mark.parametrize("what", SWITCHED)
def test_a_first_attempt_stays_up_to_its_price_point_and_goes_beyond_it(what: str) -> None:
    pick, option, points = first_choice(*SWITCHED[what])
    assert still_first(pick, option.dearer(points.surcharge_minor))
    assert not still_first(pick, option.dearer(points.surcharge_minor + 1))


@pytest.mark.parametrize("what", SWITCHED)
def test_a_first_attempt_stays_down_to_its_chance_point_and_goes_below_it(what: str) -> None:
    pick, option, points = first_choice(*SWITCHED[what])
    assert points.chance <= option.chance
    assert still_first(pick, option.less_sure(max(points.chance, 1e-4)))
    if points.chance > 0:
        assert not still_first(pick, option.less_sure(points.chance - 1.01e-4))


def test_raising_the_price_as_written_keeps_it_up_to_the_point_and_loses_it_one_above() -> None:
    """A used disc at 3.00 first, then the new one at 9.00: the other way round costs 9.00 + 0.118 x 3.00 expected.

    The used one at d more: 3.00 + d + 0.28 x 9.00 is 5.52 + d against 9.354 + 0.118 d, so up to d = 4.34,
    and at 4.35 both come to 9.87.
    """
    fallback = as_they_are(ROUTED["fallback"])
    _, _, points = first_choice(fallback, "horn")

    def first_with(price_minor: int) -> str:
        quotes = (BASE.quotes[0], but(BASE.quotes[1], price_minor=price_minor))
        plan = service.plan(but(fallback, quotes=quotes))
        return plan.choice("horn").option.lines[0].quote.condition

    assert points.surcharge_minor == 435
    assert first_with(300 + 434) == "salvage"
    assert first_with(300 + 436) == "new"


def test_nothing_is_said_where_a_check_comes_first() -> None:
    pick = choose.chosen(CHECKED, None, lambda _: None)
    assert switch_points.points(pick, BLOWER, lambda _: True) is None
