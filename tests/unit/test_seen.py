"""What was seen so far, and the plan that follows: chances move, what failed is closed, clashes are said."""

from __future__ import annotations

from typing import Any

import pytest

from optimiser import service
from optimiser.model.evidence import Evidence, FailedAttempt, Finding, ItIs, ItIsNot, Piece
from optimiser.model.job import Job
from optimiser.model.option import Bar
from optimiser.model.plan import Plan, Remark
from optimiser.planning import notices
from optimiser.show import wording
from tests.tiny_job import BASE, BLOWER, CHECKED, HORN, LAMP, MOTOR, ROUTED, SECOND_HORN, WIRE, but, routed


def after(job: Job, fault: str, *entries: Evidence) -> Plan:
    return service.plan(but(job, seen={fault: entries}))


def bars(plan: Plan) -> set[tuple[str, Bar]]:
    return {(barred.id, barred.bar) for barred in plan.not_offered}


def test_a_finding_settles_what_to_do() -> None:
    plan = after(CHECKED, "blower", Finding("feed", "spins"))
    choice = plan.choice("blower")
    assert choice.option is not None
    assert (choice.option.repair, choice.chance, plan.do_first) == ("wire", 1.0, ())
    assert ("blower/motor", Bar.NO_CURE) in bars(plan)


def test_a_check_that_was_made_is_not_made_again() -> None:
    fuzzy = but(BLOWER.checks[0], results={"spins": {"wire": 0.9, "motor": 0.2}})
    plan = after(but(CHECKED, faults=(but(BLOWER, checks=(fuzzy,)),)), "blower", Finding("feed", "spins"))
    assert plan.choice("blower").chance == pytest.approx(0.9 / 1.1)
    assert not plan.choice("blower").route.checks
    assert plan.choice("blower").checks == ()


@pytest.mark.parametrize("entry", [ItIs("motor"), ItIsNot("wire")])
def test_a_cause_that_was_seen_or_ruled_out(entry: Evidence) -> None:
    choice = after(CHECKED, "blower", entry).choice("blower")
    assert choice.option is not None
    assert (choice.option.repair, choice.chance) == ("motor", 1.0)


def test_a_failed_attempt_moves_the_odds_and_is_not_repeated_without_parts() -> None:
    """Half the wires are mended well: 0.5 x 0.5 still stands beside the motor's 0.5."""
    half = but(CHECKED, faults=(but(BLOWER, repairs=(but(WIRE, cures={"wire": 0.5}), MOTOR)),))
    plan = after(half, "blower", FailedAttempt("wire"))
    assert ("blower/wire", Bar.TRIED) in bars(plan)
    assert plan.choice("blower").chance == pytest.approx(0.5 / 0.75)
    assert {step.option.repair for step in plan.choice("blower").route.attempts} == {"motor"}
    once = service.plan(but(half, settings=BASE.settings, seen={"blower": (FailedAttempt("wire"),)}))
    assert ("blower/wire", Bar.TRIED) in bars(once)
    assert once.choice("blower").chance == pytest.approx(0.5 / 0.75)


@pytest.mark.parametrize("job", [BASE, ROUTED["fallback"]], ids=["once", "routes"])
def test_a_quote_that_did_not_help_is_closed_here_and_open_elsewhere(job: Job) -> None:
    """1 - (1 - 0.9 x 0.996) / (1 - 0.9 x 0.98): a second part helps as far as the first may have been bad."""
    two = but(job, faults=(HORN, SECOND_HORN))
    plan = after(two, "horn", FailedAttempt("swap", (Piece("quotes.csv:2", 0.98),)))
    tried = [line.quote.id for step in plan.choice("horn").route.attempts for line in step.option.lines]
    assert tried == ["quotes.csv:3"]
    assert plan.choice("horn").chance == pytest.approx(1 - (1 - 0.9 * 0.996) / (1 - 0.9 * 0.98))
    elsewhere = [line.quote.id for step in plan.choice("second-horn").route.attempts for line in step.option.lines]
    assert "quotes.csv:2" in elsewhere


def test_with_every_quote_tried_the_fault_says_why_it_is_left() -> None:
    entries = [FailedAttempt("swap", (Piece(f"quotes.csv:{n}", 0.9),)) for n in (2, 3)]
    plan = after(ROUTED["fallback"], "horn", *entries)
    assert plan.choice("horn").route is None
    assert ("horn/swap", Bar.TRIED) in bars(plan)
    assert plan.choice("lamp").route is not None


def test_a_piece_kept_from_a_fault_is_offered_to_the_others_alone() -> None:
    plan = routed("kept")
    sources = {
        fault: {line.quote.id for step in plan.choice(fault).route.attempts for line in step.option.lines}
        for fault in ("horn", "second-horn")
    }
    assert "owned:1" not in sources["horn"]
    assert "owned:1" in sources["second-horn"]
    only = service.plan(but(ROUTED["kept"], faults=(HORN,), quotes=()))
    assert only.choice("horn").route is None
    assert ("horn/swap", Bar.TRIED) in bars(only)


CLASH = (ItIs("wire"), Finding("feed", "not-spins"))


@pytest.mark.parametrize("settings", [CHECKED.settings, BASE.settings], ids=["routes", "once"])
def test_entries_that_clash_are_said_and_the_rest_is_planned(settings: Any) -> None:
    job = but(CHECKED, settings=settings, faults=(BLOWER, LAMP))
    plan = after(job, "blower", *CLASH)
    (notice,) = [notice for notice in plan.notices if notice.remark == Remark.ENTRIES_CLASH]
    assert notice.about == ("blower", "blower: it is wire", "blower: feed showed not-spins")
    said = wording.notice(plan.job, notice)
    assert said.startswith("What was seen on Blower dead cannot all be true: blower: it is wire, blower: feed showed")
    assert plan.choice("lamp").route is not None
    assert plan.choice("blower").route is not None  # zeros are read as 0.01, and it is planned with care
    # 0.5 x 1 x 0.01 for the wire against 0.5 x 0.01 x 1 for the motor
    assert {one.cause: one.now for one in plan.odds["blower"]}["wire"] == pytest.approx(0.5)


def test_a_clash_is_said_by_verify_too_and_no_clash_is_not() -> None:
    job = but(CHECKED, seen={"blower": CLASH})
    assert [n.remark for n in notices.of_job(job)] == [Remark.ENTRIES_CLASH]
    assert notices.of_job(but(CHECKED, seen={"blower": CLASH[:1]})) == []
    assert Remark.ENTRIES_CLASH not in [n.remark for n in routed("check").notices]


def test_what_was_seen_on_a_twin_moves_the_chance() -> None:
    plan = after(ROUTED["twins"], "other", ItIs("wire"))
    wire = next(odds for odds in plan.odds["blower"] if odds.cause == "wire")
    assert wire.now == pytest.approx(0.75)
