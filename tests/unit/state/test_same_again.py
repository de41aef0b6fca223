"""A repair that did not help and cured when it was made again: with the same piece, with another of its batch, bare."""

from __future__ import annotations

import pytest

from optimiser import service
from optimiser.diagnosis.groups import standings
from optimiser.model import events as h
from optimiser.model.evidence import Cured, FailedAttempt, Piece
from optimiser.model.job import Repair
from optimiser.model.plan import Remark

from .scene import JOB, MOTOR, after, bought, fitted, is_back, piece

FAILED = fitted("blower", "motor", piece("bought:1"))
SAME = fitted("blower", "motor", piece("kept:2-1", bought=1, then="stays-on"), cured=True)
OTHER = fitted("blower", "motor", piece("bought:1", then="stays-on"), cured=True)
WIRE = fitted("blower", "wire")


def motors(standing, fault: str = "rear") -> float:
    return standings(standing.job)[fault].chances["motor"]


def test_the_same_piece_fitted_once_more_cured() -> None:
    """The first try was no true one: what is known is what a cure at once would have told."""
    at_once = after([bought(), OTHER])
    standing = after([bought(), FAILED, SAME])
    assert standing.job.seen == {"blower": (Cured("motor", (Piece("bought:1", 1.0),)),)}
    assert motors(standing) == pytest.approx(motors(at_once))


def test_a_repair_without_parts_that_cured_the_second_time() -> None:
    standing = after([WIRE, fitted("blower", "wire", cured=True)])
    assert standing.job.seen == {"blower": (Cured("wire"),)}
    assert standings(standing.job)["blower"].chances["wire"] == 1.0


def test_a_cure_that_did_not_last_and_was_made_again() -> None:
    cured = fitted("blower", "wire", cured=True)
    standing = after([cured, is_back(), cured])
    assert standing.job.seen == {"blower": (Cured("wire"),)}
    assert [fault.id for fault in standing.job.closed] == ["blower"]


def test_while_it_is_open_the_try_counts() -> None:
    seen = after([WIRE, fitted("blower", "wire", cured=True), is_back()]).job.seen["blower"]
    assert set(seen) == {FailedAttempt("wire")}


def test_another_of_the_same_batch_cured_so_the_first_was_bad() -> None:
    """Two bought at once: one did not help and was kept, the other cured. They are not alike after all."""
    standing = after([bought(packs=2), FAILED, OTHER])
    assert standing.job.shelf["kept:2-1"].good_chance == 0.0
    assert [type(entry) for entry in standing.job.seen["blower"]] == [FailedAttempt, Cured]
    believed = standings(standing.job)
    assert believed["blower"].clash == ()
    assert believed["blower"].chances["motor"] == 1.0
    open_again = after([bought(packs=2), FAILED, OTHER, is_back()]).job.seen["blower"]
    assert set(open_again) == {FailedAttempt("motor", (Piece("bought:1", 0.8),))}, "while it is open they are one batch"


@pytest.mark.parametrize("events", [[bought(), FAILED, SAME], [bought(packs=2), FAILED, OTHER], [WIRE, SAME, WIRE]])
def test_the_twin_is_planned_without_a_clash(events: list[h.Happening]) -> None:
    plan = service.plan(after(events, JOB.model_copy(update={"faults": JOB.faults[:2]})).job)
    assert plan.choice("rear").route is not None
    assert Remark.ENTRIES_CLASH not in {notice.remark for notice in plan.notices}


def test_attempts_that_cannot_all_be_true_clash_and_the_rest_is_planned() -> None:
    """A part beyond doubt failed, and the same repair cured with it and a second one elsewhere: told, and planned."""
    sure = MOTOR.model_copy(update={"good_chance": 1.0})
    failed = fitted("blower", "motor", piece("bought:1", of=sure))
    cured = fitted("blower", "motor", piece("bought:3", of=sure, then="stays-on"), cured=True)
    events = [bought(sure), failed, bought(sure), cured]
    standing = after(events)
    believed = standings(standing.job)
    assert len(believed["blower"].clash) == 2
    for fault in ("blower", "rear"):
        assert sum(believed[fault].chances.values()) == pytest.approx(1)
    plan = service.plan(standing.job)
    assert [notice.about[0] for notice in plan.notices if notice.remark == Remark.ENTRIES_CLASH] == ["blower"]
    assert plan.choice("rear").route is not None


def test_by_another_repair_it_failed_too_and_is_the_worse_for_it() -> None:
    """The piece kept from the first repair goes into the second with the chance that it had left by then."""
    bench = Repair(id="motor-and-plug", cures={"motor": 0.5, "wire": 0.4}, parts={"motor": 1})
    fault = JOB.faults[0].model_copy(update={"repairs": (*JOB.faults[0].repairs, bench)})
    job = JOB.model_copy(update={"faults": (fault, *JOB.faults[1:])})
    left = after([bought(), FAILED], job).job.shelf["kept:2-1"].good_chance
    again = fitted("blower", "motor-and-plug", piece("kept:2-1", bought=1, good_chance=left))
    standing = after([bought(), FAILED, again], job).job
    assert standing.seen["blower"] == (
        FailedAttempt("motor", (Piece("bought:1", 0.8),)),
        FailedAttempt("motor-and-plug", (Piece("bought:1", left),)),
    )
    assert standing.shelf["kept:3-1"].good_chance < left < 0.8
