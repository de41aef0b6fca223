"""What to look at first, against every order there is; what is believed of the causes before and after a look."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import permutations
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.model.evidence import Finding, ItIsNot
from optimiser.model.job import Access, Check, Fault, Job, Pot, Settings
from optimiser.model.plan import CheckWorth, Choice, Grounds, Reason
from optimiser.model.route import Branch, CheckStep, Route, Stop
from optimiser.planning import looks
from tests.effort import examples
from tests.tiny_job import BASE, CHECKED, FEED, ROUTED, TODAY, but, planned, routed

POT = 10_000


def look(
    fault_id: str,
    minutes: int,
    access: Sequence[str],
    worth: float,
    saved: float = 0.0,
    severity: str = "minor",
    **more: Any,
) -> Choice:
    """A choice whose route begins with one check of this worth, in fixes, and goes on with nothing."""
    check = Check(id="look", minutes=minutes, access=tuple(access), results={"seen": {}})
    step = CheckStep(check="look", cash_minor=0, minutes=minutes,
                     then=(Branch(result="seen", chance=1.0, then=Stop()),))  # fmt: skip
    return Choice(
        fault=Fault(id=fault_id, severity=severity, checks=(check,), **more),
        route=Route.of(fault_id, step),
        parts=(), access_minor=0, postage_minor=0, own_minor=0, landed_minor=0,
        why=Grounds(reason=Reason.CHECK_FIRST),
        checks=(CheckWorth(check="look", fixes=worth, saved_minor=saved, minutes=minutes, taken=True),),
    )  # fmt: skip


def job_of(choices: Sequence[Choice], opening: dict[str, int]) -> Job:
    return Job(
        settings=Settings(currency="GBP", today=TODAY),
        pot=Pot(cap_minor=POT),
        access=tuple(Access(id=name, minutes=minutes) for name, minutes in opening.items()),
        faults=tuple(choice.fault for choice in choices),
    )


def waiting(order: Sequence[Choice], opening: dict[str, int]) -> float:
    """Worth times the minute at which it is had, summed; each access opened once, when it is first wanted."""
    clock, opened, total = 0, set[str](), 0.0
    for choice in order:
        (check,) = choice.fault.checks
        clock += check.minutes + sum(opening[name] for name in set(check.access) - opened)
        opened |= set(check.access)
        total += choice.checks[0].fixes * clock
    return total


NESTED = ((), ("dash",), ("dash", "column"), ("dash", "column", "lock"), ("wheel",), ("wheel", "hub"))
"""Of any two either one holds the other or they have nothing in common."""


@examples(150)
@given(
    st.lists(st.tuples(st.integers(1, 30), st.sampled_from(NESTED), st.integers(1, 40)), min_size=1, max_size=6),
    st.fixed_dictionaries({name: st.integers(0, 60) for name in ("dash", "column", "lock", "wheel", "hub")}),
)
def test_no_order_has_the_worth_sooner_where_accesses_are_nested_or_apart(
    rows: list[tuple[int, tuple[str, ...], int]], opening: dict[str, int]
) -> None:
    """Every order tried: that the block rule is best is Horn (1972) and Sidney (1975) on jobs behind preparations."""
    choices = [look(f"f{n}", minutes, access, worth / 100) for n, (minutes, access, worth) in enumerate(rows)]
    found = looks.first_checks(job_of(choices, opening), choices)
    by_id = {choice.fault.id: choice for choice in choices}
    order = [by_id[first.fault] for first in found]
    assert sorted(first.fault for first in found) == sorted(by_id)
    least = min(waiting(other, opening) for other in permutations(choices))
    assert waiting(order, opening) <= least * (1 + 1e-12)


def test_the_dashboard_is_opened_once() -> None:
    choices = [look("a", 5, ["dash"], 0.2), look("b", 4, ["dash"], 0.2), look("c", 20, [], 0.2)]
    found = looks.first_checks(job_of(choices, {"dash": 30}), choices)
    # together a and b are worth 0.4 in 39 minutes, c 0.2 in 20: the dashboard comes off first, once
    assert [(first.fault, first.minutes) for first in found] == [("b", 34), ("a", 5), ("c", 20)]
    alone = looks.first_checks(job_of(choices, {"dash": 30}), choices[1:])
    assert [(first.fault, first.minutes) for first in alone] == [("c", 20), ("b", 34)]


def test_behind_one_opening_the_quicker_look_need_not_wait_for_the_next_opening() -> None:
    """Dash 1 min, column behind it 2 min; looks of a minute each, worth 1 and 2: 1 x 2 + 2 x 5 beats 2 x 4 + 1 x 5."""
    choices = [look("deep", 1, ["dash", "column"], 0.2), look("near", 1, ["dash"], 0.1)]
    found = looks.first_checks(job_of(choices, {"dash": 1, "column": 2}), choices)
    assert [(first.fault, first.minutes) for first in found] == [("near", 2), ("deep", 3)]


def test_worth_is_fixes_by_importance_and_money_as_a_share_of_the_pot() -> None:
    choices = [look("a", 5, [], 0.1, saved=500.0, importance=2.0), look("b", 5, [], 0.0, saved=-100.0)]
    found = looks.first_checks(job_of(choices, {}), choices)
    assert [first.worth for first in found] == [pytest.approx(2 * 0.1 + 500 / POT), pytest.approx(-100 / POT)]
    assert (found[0].fixes, found[0].saved_minor) == (0.1, 500.0)
    broke = but(job_of(choices, {}), pot=Pot(cap_minor=0))
    assert [first.worth for first in looks.first_checks(broke, choices)] == [0.2, 0.0]


def test_the_gravest_faults_are_looked_at_first_whatever_a_look_is_worth() -> None:
    """Among equally grave ones the worth per minute decides; what was opened for a graver one stays open."""
    choices = [
        look("lamp", 1, [], 0.9), look("fan", 5, ["dash"], 0.4, severity="major"),
        look("pump", 5, [], 0.1, severity="major"), look("brake", 60, ["dash"], 0.01, severity="dangerous"),
    ]  # fmt: skip
    found = looks.first_checks(job_of(choices, {"dash": 30}), choices)
    assert [(first.fault, first.minutes) for first in found] == [("brake", 90), ("fan", 5), ("pump", 5), ("lamp", 1)]


@examples(100)
@given(
    st.lists(
        st.tuples(st.sampled_from(["minor", "major", "dangerous"]), st.sampled_from(NESTED), st.integers(1, 40)),
        max_size=6,
    )
)
def test_looks_never_go_from_the_less_grave_to_the_graver(rows: list[tuple[str, tuple[str, ...], int]]) -> None:
    choices = [look(f"f{n}", 5, access, worth / 100, severity=grave) for n, (grave, access, worth) in enumerate(rows)]
    by_id = {choice.fault.id: choice.fault for choice in choices}
    found = looks.first_checks(job_of(choices, dict.fromkeys(("dash", "column", "lock", "wheel", "hub"), 7)), choices)
    assert sorted(by_id) == sorted(first.fault for first in found)
    grave = ["dangerous", "major", "minor"]
    ranks = [grave.index(by_id[first.fault].severity) for first in found]
    assert ranks == sorted(ranks)


def test_only_checks_that_a_route_begins_with_are_done_first() -> None:
    assert routed("try_first").choice("pump").route.checks  # it checks, but after a try
    assert routed("try_first").do_first == ()
    assert planned("base").do_first == ()
    assert [(first.fault, first.check) for first in routed("check").do_first] == [("blower", "feed")]


# ---- causes


def odds(job: Job, choice: Choice) -> dict[str, tuple[float, float, dict[str, float]]]:
    return {one.cause: (one.written, one.now, dict(one.after)) for one in looks.cause_odds(job, choice)}


def test_causes_before_and_after_the_first_look() -> None:
    found = odds(CHECKED, routed("check").choice("blower"))
    assert found["wire"] == (0.5, 0.5, {"spins": 1.0, "not-spins": 0.0})
    assert found["motor"] == (0.5, 0.5, {"spins": 0.0, "not-spins": 1.0})
    assert found["something-else"] == (0.0, 0.0, {"spins": 0.0, "not-spins": 0.0})


def test_odds_by_bayes_by_hand() -> None:
    """2 : 6 with 0.2 for something else: 0.2, 0.6, 0.2; likelihoods of "spins" 0.9, 0.3 and 0.5: 0.18, 0.18, 0.1."""
    fuzzy = but(FEED, results={"spins": {"wire": 0.9, "motor": 0.3, "something-else": 0.5}})
    blower = but(CHECKED.faults[0], causes={"wire": 2.0, "motor": 6.0}, something_else=0.2, checks=(fuzzy,))
    job = but(CHECKED, faults=(blower,))
    choice = routed("check").choice("blower").model_copy(update={"fault": blower})
    found = odds(job, choice)
    assert [round(found[c][1], 12) for c in ("wire", "motor", "something-else")] == [0.2, 0.6, 0.2]
    assert found["wire"][2]["spins"] == pytest.approx(0.18 / 0.46)
    assert found["motor"][2]["not-spins"] == pytest.approx(0.42 / 0.54)
    assert sum(after["spins"] for _, _, after in found.values()) == pytest.approx(1.0)


def test_what_was_seen_moves_now_and_not_what_was_written() -> None:
    job = but(CHECKED, seen={"blower": (ItIsNot("wire"),)})
    found = odds(job, routed("check").choice("blower"))
    assert (found["wire"][:2], found["motor"][:2]) == ((0.5, 0.0), (0.5, 1.0))


def test_a_finding_on_a_twin_moves_the_odds_too() -> None:
    job = but(ROUTED["twins"], seen={"other": (Finding("feed", "spins"),)})
    found = odds(job, routed("twins").choice("blower"))
    assert found["wire"][1] == pytest.approx(0.5 * 0.5 + 0.5 * 1.0)  # (1 - t) prior + t posterior, model section 8


def test_a_fault_without_causes_has_no_odds() -> None:
    assert looks.cause_odds(BASE, planned("base").choice("lamp")) == ()
    assert routed("fallback").odds == {}
