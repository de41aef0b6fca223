"""Twins in the record: a check for several faults, a borrowed piece, a cure that may have been another's too."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from optimiser.diagnosis.groups import standings, unanswered
from optimiser.job_folder.fault_groups import once
from optimiser.model import events as h
from optimiser.model.evidence import Cured, FailedAttempt, Finding, Piece, Still, Works
from optimiser.model.job import Borrowed, Check, Fault, Job, Pot, Repair, Settings
from optimiser.state import Standing, stood

AT = datetime(2026, 11, 24, 19, 0, tzinfo=UTC)
SAID = {"at": AT, "source": "test"}
MONEY = SAID | {"currency": "GBP"}
CAUSES = {"fuse": 3.0, "motor": 5.0, "plug": 2.0}
REPAIRS = (
    Repair(id="fuse", cures={"fuse": 0.98}, parts={"fuse": 1}),
    Repair(id="motor", cures={"motor": 0.9}, parts={"motor": 1}),
    Repair(id="clean", chance=0.3),
)
FEED = Check(
    id="feed", title="Feed", minutes=10, cost_minor=200, results={"volts": {"fuse": 0.0, "motor": 0.9, "plug": 0.9}}
)
SWAP = Check(
    id="swap", results={"runs": {"fuse": 0.0, "motor": 0.9, "plug": 0.1}}, borrows=Borrowed(fault="left", cause="motor")
)


LIVE = Check(id="feed", results={"live": {"feed": 0.1, "horn": 1.0}}, same_as="left.feed", pairs={"live": "volts"})


def twin(name: str, *checks: Check) -> Fault:
    return Fault(
        id=name, severity="minor", twin="pair", causes=CAUSES, shared_causes=("fuse",), checks=checks, repairs=REPAIRS
    )


FAULTS, ACCESS = once([
    twin("left", FEED),
    twin("right", Check(id="again", results={"lit": {}}, same_as="left.feed", pairs={"lit": "volts"}), SWAP),
    Fault(id="horn", severity="minor", causes={"feed": 1.0, "horn": 1.0}, checks=(LIVE,)),
])  # fmt: skip
JOB = Job(
    settings=Settings(currency="GBP", today=AT.date()),
    pot=Pot(cap_minor=9000),
    faults=tuple(FAULTS),
    access=tuple(ACCESS),
)


def record(*happenings: h.Happening) -> Standing:
    return stood(JOB, h.entries(enumerate(happenings, start=1)))


def fitted(
    fault: str, repair: str, *, cured: bool, good: float = 0.9, then: str = "stays-on", number: int = 1
) -> h.Fitting:
    part = next(iter(next(r for r in REPAIRS if r.id == repair).parts), None)
    piece = {
        "part": part,
        "units": 1,
        "quote": f"bought:{number}",
        "bought": number,
        "condition": "new",
        "good_chance": good,
    }
    pieces = () if part is None else (h.FittedPiece.model_validate(piece | {"then": then}),)
    return h.Fitting(**MONEY, fault=fault, repair=repair, pieces=pieces, cured=cured)


def bought(part: str, good: float = 0.9) -> h.Purchase:
    return h.Purchase(**MONEY, part=part, supplier="cole", condition="new", packs=1, price_minor=5, good_chance=good)


def word(fault: str, *, works: bool) -> h.AfterCure:
    return h.AfterCure(**SAID, fault=fault, works=works)


CURED = (bought("fuse"), fitted("left", "fuse", cured=True))


@pytest.mark.parametrize(
    ("fault", "check", "result"), [("left", "feed", "volts"), ("right", "again", "lit"), ("horn", "feed", "live")]
)
def test_one_finding_serves_every_fault_that_lists_the_check(fault, check, result):
    """Each by its own likelihoods; it was paid for once, and what was opened for it is open."""
    job = record(h.CheckMade(**MONEY, fault=fault, check=check, result=result, cost_minor=200)).job
    assert job.seen == {
        "left": (Finding("feed", "volts"),),
        "right": (Finding("again", "lit"),),
        "horn": (Finding("feed", "live"),),
    }
    assert job.pot.recorded_minor == 200
    assert job.access[0].price_minor == 0
    after = standings(job)
    assert after["left"].chances["fuse"] == after["right"].chances["fuse"] == 0.0
    assert after["horn"].chances["feed"] == pytest.approx(0.475 * 0.1 / (0.475 * 1.1 + 0.05 * 0.5))


def test_what_does_not_fit_serves_none():
    assert record(h.CheckMade(**MONEY, fault="right", check="again", result="volts")).job.seen == {}


@pytest.mark.parametrize(
    ("before", "good"),
    [
        ((), None),
        ((bought("motor"), fitted("left", "motor", cured=True)), 1.0),
        ((bought("motor"), fitted("left", "motor", cured=False, good=0.7)), 0.7),
        ((bought("motor"), fitted("left", "motor", cured=False, then="kept")), None),
        ((bought("motor"), fitted("left", "motor", cured=False, good=0.7), fitted("left", "clean", cured=True)), 1.0),
        ((bought("motor"), fitted("left", "motor", cured=True, good=0.7), h.NewFault(**SAID, fault="left")), 0.7),
        ((bought("fuse"), fitted("left", "fuse", cured=False)), None),
    ],
)  # fmt: skip
def test_what_is_known_of_a_borrowed_piece_when_it_was_used(before, good):
    """Sound where that fault is cured; as sound as it was fitted where it was renewed; else as it came."""
    job = record(*before, h.CheckMade(**MONEY, fault="right", check="swap", result="runs")).job
    assert job.seen["right"][-1] == Finding("swap", "runs", good)


def test_after_a_cure_the_other_is_asked_for_and_taken_as_it_was():
    job = record(*CURED).job
    assert unanswered(job) == {"right": frozenset({"fuse"})}
    assert standings(job)["right"].chances == pytest.approx(
        {"fuse": 0.0, "motor": 0.475 / 0.715, "plug": 0.19 / 0.715, "something-else": 0.05 / 0.715}
    )


def test_it_works_and_is_closed():
    standing = record(*CURED, word("right", works=True))
    assert [fault.id for fault in standing.job.closed] == ["left", "right"]
    assert standing.job.seen["right"] == (Works(("fuse",)),)
    assert unanswered(standing.job) == {}
    assert standings(standing.job)["left"].chances["fuse"] == 1.0


def test_it_is_still_as_it_was():
    standing = record(*CURED, word("right", works=False))
    assert standing.job.seen["right"] == (Still(("fuse",)),)
    assert unanswered(standing.job) == {}
    assert not any(one.clash for one in standings(standing.job).values())
    assert standings(standing.job) == standings(record(*CURED).job)


def test_a_fault_that_worked_is_back():
    """What was said of it counts no more; and it is asked for again, for its twin is cured still."""
    standing = record(*CURED, word("right", works=True), h.NewFault(**SAID, fault="right"))
    assert [fault.id for fault in standing.job.faults] == ["right", "horn"]
    assert "right" not in standing.job.seen
    assert unanswered(standing.job) == {"right": frozenset({"fuse"})}


def test_a_word_that_nothing_led_to_does_not_fit():
    standing = record(bought("motor"), fitted("left", "motor", cured=True), word("right", works=True))
    assert [one.reason for one in standing.job.unfit] == [
        "no twin of right was cured by a repair that would have cured it too"
    ]
    assert "right" not in standing.job.seen


def test_a_repair_for_all_that_failed_is_tried_with_the_same_batch_on_none():
    """The fuse failed on the left: what is left of that purchase is no cure on the right either."""
    two = bought("fuse").model_copy(update={"packs": 2})
    job = record(two, fitted("left", "fuse", cured=False, then="kept")).job
    assert set(job.tried_on["left"]) == set(job.tried_on["right"]) == {"bought:1", "kept:2-1"}
    assert job.seen == {"left": (FailedAttempt("fuse", (Piece("bought:1", 0.9),)),)}
    own = record(bought("motor"), fitted("left", "motor", cured=False, then="kept")).job
    assert "right" not in own.tried_on


def test_a_cure_that_did_not_last_asks_for_nothing():
    job = record(*CURED, h.NewFault(**SAID, fault="left")).job
    assert unanswered(job) == {}
    assert not any(isinstance(entry, Cured) for entry in job.seen["left"])
