"""The faults after what happened: cured and closed, back again, new; what was seen, what clashes, what does not fit."""

import pytest

from optimiser import service
from optimiser.diagnosis.groups import standings
from optimiser.model import events as h
from optimiser.model.evidence import Cured, FailedAttempt, Finding, ItIs, ItIsNot, Piece
from optimiser.model.job import Severity
from optimiser.model.option import Bar
from optimiser.model.plan import Remark
from optimiser.planning import notices
from tests.one_fault import kept_sound

from .scene import JOB, MONEY, NEW, SAID, after, bought, fitted, found, is_back, piece, strike

CURE = fitted("blower", "motor", piece("bought:1", then="stays-on"), cured=True)


def ids(faults) -> list[str]:
    return [fault.id for fault in faults]


def chance(standing, fault: str, cause: str) -> float:
    return standings(standing.job)[fault].chances[cause]


def test_what_was_seen_is_evidence_in_its_order() -> None:
    seen = [
        found(),
        h.SeenToBe(**SAID, fault="blower", cause="wire"),
        h.SeenNotToBe(**SAID, fault="rear", cause="something-else"),
        found("rear", result="not-spins"),
    ]
    assert after(seen).job.seen == {
        "blower": (Finding("feed", "spins"), ItIs("wire")),
        "rear": (ItIsNot("something-else"), Finding("feed", "not-spins")),
    }


def test_a_cure_closes_the_fault() -> None:
    standing = after([bought(), CURE])
    assert ids(standing.job.faults) == ["rear", "brake"]
    assert ids(standing.job.closed) == ids(standing.job.closed) == ["blower"]
    assert standing.job.seen == {"blower": (Cured("motor", (Piece("bought:1", 0.8),)),)}
    assert standing.job.tried_on == {}, "nothing is planned there any more"


def test_a_cure_by_what_the_folder_does_not_know_closes_it_too() -> None:
    standing = after([fitted("blower", "magic", cured=True)])
    assert ids(standing.job.closed) == ["blower"]
    assert standing.job.unfit[0].reason == "blower has no repair magic"
    assert "blower" not in standing.job.seen


LEFT = h.LeftAsItIs(**SAID, fault="blower")


def test_a_fault_that_is_left_stays_open_until_that_is_struck_out_or_it_is_cured() -> None:
    left = after([found(), LEFT])
    assert (left.job.left, ids(left.job.faults)) == ({"blower": 2}, ids(JOB.faults))
    plan = service.plan(left.job)
    assert plan.selection.route_for("blower") is None
    assert ("blower", Bar.LEFT, "2") in {(b.id, b.bar, b.detail) for b in plan.not_offered}
    assert after([found(), LEFT, strike(2)]).job == after([found()]).job
    assert after([bought(), LEFT, CURE]).job.left == {}
    assert after([bought(), LEFT, CURE, is_back("blower")]).job.left == {}


def test_what_is_cured_or_unknown_is_not_left() -> None:
    assert after([bought(), CURE, LEFT]).job.unfit[0].reason == "blower is cured"
    assert after([h.LeftAsItIs(**SAID, fault="rudder")]).job.unfit[0].reason == "the job has no fault rudder"


def test_struck_out_it_is_open_again() -> None:
    standing = after([bought(), CURE, strike(2)])
    assert standing.job.closed == ()
    assert standing.job.seen == {}


def test_seen_again_it_is_open_and_the_cure_was_none() -> None:
    standing = after([bought(), CURE, is_back()])
    assert standing.job.closed == ()
    assert ids(standing.job.faults) == ids(JOB.faults)
    assert standing.job.seen["blower"] == (FailedAttempt("motor", (Piece("bought:1", 0.8),)),)
    assert standing.job.tried_on == {"blower": ("bought:1", "quotes.csv:2")}


def test_what_fails_after_a_cure_opens_it_too_and_the_last_cure_counts() -> None:
    failed = fitted("blower", "wire")
    standing = after([bought(), CURE, failed])
    assert standing.job.closed == ()
    again = fitted("blower", "wire", cured=True)
    standing = after([bought(), CURE, is_back(), again])
    assert ids(standing.job.closed) == ["blower"]
    assert standing.job.seen["blower"] == (FailedAttempt("motor", (Piece("bought:1", 0.8),)), Cured("wire"))


def test_a_closed_fault_tells_of_its_twin() -> None:
    """Cured by the motor: it was the motor, and the twin's odds go up; struck out they are as they were."""
    before = chance(after([]), "rear", "motor")
    standing = after([bought(), CURE])
    assert chance(standing, "blower", "motor") == 1.0
    assert chance(standing, "rear", "motor") == pytest.approx(0.5 * before + 0.5)
    assert chance(after([bought(), CURE, strike(2)]), "rear", "motor") == before


def test_a_failed_attempt_and_a_finding_move_the_odds() -> None:
    tried = after([bought(), fitted("blower", "motor", piece("bought:1"))])
    # 0.2 wire, 0.6 motor of which 0.9 * 0.8 were cured, 0.2 something else
    left = 0.6 * (1 - 0.72)
    assert chance(tried, "blower", "motor") == pytest.approx(left / (0.4 + left))
    assert chance(after([found()]), "blower", "motor") == 0.0


def test_the_piece_kept_is_sound_as_far_as_it_was_not_to_blame() -> None:
    """Just after the failure g(1-m)/(1-g·m), m the chance that the attempt would have cured had it been sound."""
    events = [bought(), fitted("blower", "motor", piece("bought:1"))]
    m = 0.6 * 0.9
    assert after(events).job.shelf["kept:2-1"].good_chance == pytest.approx(0.8 * (1 - m) / (1 - 0.8 * m))


@pytest.mark.parametrize(("result", "sound"), [("spins", 0.8), ("not-spins", None)])
def test_what_is_found_later_tells_more_of_the_piece(result, sound) -> None:
    """Found not to be the motor: the piece was not to blame, and is what it was when new."""
    standing = after([bought(), fitted("blower", "motor", piece("bought:1")), found(result=result)])
    at_once = after([bought(), fitted("blower", "motor", piece("bought:1"))]).job.shelf["kept:2-1"].good_chance
    now = standing.job.shelf["kept:2-1"].good_chance
    assert now == pytest.approx(sound) if sound else now < at_once


def test_a_lasting_cure_by_another_piece_tells_of_the_one_kept() -> None:
    """The same repair cured with another piece: so the first one was bad."""
    standing = after(
        [
            bought(),
            fitted("blower", "motor", piece("bought:1")),
            bought(NEW),
            fitted("blower", "motor", piece("bought:3", of=NEW, then="stays-on"), cured=True),
        ]
    )
    assert standing.job.shelf["kept:2-1"].good_chance == 0.0


def test_a_piece_that_cures_elsewhere_was_sound_where_it_failed() -> None:
    """Kept from one fault it cured another: there it was not to blame, as long as that cure lasts."""
    kept = after([bought(), fitted("blower", "motor", piece("bought:1"))]).job.shelf["kept:2-1"]
    moved = piece("kept:2-1", bought=1, good_chance=kept.good_chance, then="stays-on")
    events = [bought(), fitted("blower", "motor", piece("bought:1")), fitted("rear", "motor", moved, cured=True)]
    standing = after(events)
    assert standing.job.seen["blower"] == (FailedAttempt("motor", (Piece("bought:1", 1.0),)),)
    assert standing.job.seen["rear"] == (Cured("motor", (Piece("bought:1", kept.good_chance),)),)
    back = after([*events, is_back("rear")])
    assert back.job.seen["blower"] == (FailedAttempt("motor", (Piece("bought:1", 0.8),)),)


def test_kept_twice_it_is_as_sound_as_the_last_fault_says() -> None:
    once = [bought(), fitted("blower", "motor", piece("bought:1"))]
    good = after(once).job.shelf["kept:2-1"].good_chance
    standing = after([*once, fitted("rear", "motor", piece("kept:2-1", bought=1, good_chance=good))])
    row = standing.job.shelf["kept:3-1"]
    assert (row.kept_from, row.units, "kept:2-1" in standing.job.shelf) == ("rear", 1, False)
    assert row.good_chance < good
    seen = standing.job.seen["rear"]
    rear = next(fault for fault in standing.job.faults if fault.id == "rear")
    believed = standings(standing.job)["rear"].chances
    assert row.good_chance == pytest.approx(kept_sound(rear, believed, seen, "motor", Piece("bought:1", good)))
    assert {"kept:3-1", "quotes.csv:2"} <= set(standing.job.tried_on["blower"]) & set(standing.job.tried_on["rear"])


def test_a_piece_that_failed_twice_and_cured_in_the_end_was_sound_both_times() -> None:
    third = JOB.faults[0].model_copy(update={"id": "third", "twin": None})
    events = [
        bought(),
        fitted("blower", "motor", piece("bought:1")),
        fitted("rear", "motor", piece("kept:2-1", bought=1)),
        fitted("third", "motor", piece("kept:3-1", bought=1, then="stays-on"), cured=True),
    ]
    seen = after(events, JOB.model_copy(update={"faults": (*JOB.faults, third)})).job.seen
    assert [seen[fault][0].pieces[0].good for fault in ("blower", "rear")] == [1.0, 1.0]


def test_what_cures_in_the_end_was_sound_on_every_fault_that_it_was_kept_from() -> None:
    third = JOB.faults[0].model_copy(update={"id": "cab", "twin": None})
    moved = [piece("kept:2-1", bought=1), piece("kept:3-1", bought=1, then="stays-on")]
    events = [
        bought(),
        fitted("blower", "motor", piece("bought:1")),
        fitted("rear", "motor", moved[0]),
        fitted("cab", "motor", moved[1], cured=True),
    ]
    seen = after(events, JOB.model_copy(update={"faults": (*JOB.faults, third)})).job.seen
    assert seen["blower"] == seen["rear"] == (FailedAttempt("motor", (Piece("bought:1", 1.0),)),)


def test_a_new_fault_has_no_repairs_and_is_shown_with_nothing_offered() -> None:
    standing = after([is_back("leak", title="Heater leaks", severity="minor")])
    fault = standing.job.faults[-1]
    assert (fault.id, fault.title, fault.severity, fault.repairs) == ("leak", "Heater leaks", Severity.MINOR, ())
    plan = service.plan(standing.job.model_copy(update={"faults": (fault,)}))
    assert plan.choice("leak").route is None
    assert [(b.id, b.bar) for b in plan.not_offered if b.kind == "fault"] == [("leak", Bar.NO_REPAIR)]


def test_a_new_fault_is_major_unless_said_and_can_be_closed() -> None:
    assert after([is_back("leak")]).job.faults[-1].severity == Severity.MAJOR
    assert ids(after([is_back("leak"), fitted("leak", "sealed", cured=True)]).job.closed) == ["leak"]


def test_one_that_the_folder_lists_stays_as_it_lists_it() -> None:
    assert after([is_back("brake", title="other", severity="minor")]).job.faults == JOB.faults


def test_corrected_odds_count_for_twins_each_in_its_own_scale() -> None:
    odds = h.OddsCorrected(**SAID, fault="blower", cause="wire", was=1, now=5)
    blower, rear, _ = after([odds]).job.faults
    assert (dict(blower.causes), dict(rear.causes)) == ({"wire": 5, "motor": 3}, {"wire": 10, "motor": 6})
    other = h.OddsCorrected(**SAID, fault="rear", cause="motor", was=6, now=2)
    blower, rear, _ = after([odds, other]).job.faults
    assert (dict(blower.causes), dict(rear.causes)) == ({"wire": 5, "motor": 1}, {"wire": 10, "motor": 2})


def work_price(was: int, now: int, **changes: str) -> h.WorkPriceCorrected:
    said = {"fault": "blower", "repair": "motor", "currency": "GBP"} | changes
    return h.WorkPriceCorrected(**SAID, **said, was_minor=was, now_minor=now)


def test_what_work_really_costs_stands_in_the_place_of_what_the_job_says() -> None:
    def costs(*happenings: h.EventHead) -> int:
        (blower,) = (fault for fault in after(list(happenings)).job.faults if fault.id == "blower")
        return next(repair.price_minor for repair in blower.repairs if repair.id == "motor")

    was = costs()
    first, second = work_price(was, was + 100), work_price(was + 100, was + 250)
    assert (costs(first), costs(first, second)) == (was + 100, was + 250)
    assert costs(work_price(was + 7, was)) == was, "the job says so already"
    foreign = after([work_price(was, was + 100, currency="SEK")])
    assert (len(foreign.job.unfit), costs(work_price(was, was + 100, currency="SEK"))) == (1, was)


def test_odds_of_something_else_are_beside_those_listed() -> None:
    odds = h.OddsCorrected(**SAID, fault="blower", cause="something-else", was=1, now=12)
    standing = after([odds])
    assert [f.something_else for f in standing.job.faults[:2]] == [0.75, 0.75]
    assert chance(standing, "rear", "something-else") == pytest.approx(0.75)


@pytest.mark.parametrize("now", [1e-9, 5e-324, 1e9])
@pytest.mark.parametrize("cause", ["wire", "motor", "something-else"])
def test_the_oddest_odds_can_be_planned_with(now, cause) -> None:
    both = [h.OddsCorrected(**SAID, fault=fault, cause=cause, was=1, now=now) for fault in ("rear", "blower")]
    standing = after(both)
    for fault in standing.job.faults[:2]:
        assert 0 <= fault.something_else < 1
        assert all(odds > 0 for odds in fault.causes.values())
        assert sum(standings(standing.job)[fault.id].chances.values()) == pytest.approx(1)


def test_a_corrected_price_is_what_the_plan_reckons_with() -> None:
    price = h.PriceCorrected(**MONEY, quote="quotes.csv:2", part="motor", supplier="cole", condition="refurbished",
                             ref="M-1", was_minor=6000, now_minor=7000)  # fmt: skip
    assert [q.price_minor for q in after([price]).job.quotes] == [7000, 9000, 1500]
    moved = JOB.quotes[0].model_copy(update={"id": "quotes.csv:9"})
    assert after([price], JOB.model_copy(update={"quotes": (NEW, moved)})).job.quotes[1].price_minor == 7000
    mended = JOB.quotes[0].model_copy(update={"price_minor": 7000})
    standing = after([price], JOB.model_copy(update={"quotes": (mended,)}))
    assert (standing.job.quotes, standing.job.unfit) == ((mended,), ())
    other = JOB.quotes[0].model_copy(update={"price_minor": 5000})
    standing = after([price], JOB.model_copy(update={"quotes": (other,)}))
    assert (standing.job.quotes, standing.job.unfit[0].reason) == (
        (other,), "the quote of cole for motor now asks another price",
    )  # fmt: skip
    gone = after([price], JOB.model_copy(update={"quotes": ()}))
    assert gone.job.unfit[0].reason == "the quote of cole for motor is no longer in the sheets"
    assert after([price.model_copy(update={"currency": "EUR"})]).job.quotes == JOB.quotes


def test_a_sheet_that_knows_the_last_of_several_corrections_is_right() -> None:
    """70 to 75, then 75 to 72, and the supplier's new sheet says 72: nothing is left to tell."""
    told = {"quote": "quotes.csv:2", "part": "motor", "supplier": "cole", "condition": "refurbished", "ref": "M-1"}
    first = h.PriceCorrected(**MONEY, **told, was_minor=7000, now_minor=7500)
    second = h.PriceCorrected(**MONEY, **told, was_minor=7500, now_minor=7200)
    new_sheet = JOB.model_copy(update={"quotes": (JOB.quotes[0].model_copy(update={"price_minor": 7200}),)})
    apart = second.model_copy(update={"was_minor": 7400})
    for events, told_of in (([first, second], []), ([first], [1]), ([second, first], [2]), ([first, apart], [1])):
        standing = after(events, new_sheet)
        assert [one.number for one in standing.job.unfit] == told_of
        assert standing.job.quotes[0].price_minor == 7200
    stray = first.model_copy(update={"was_minor": 100, "now_minor": 200})
    assert [one.number for one in after([stray, second], new_sheet).job.unfit] == [1]
    other = second.model_copy(update={"ref": "M-2"})
    assert [one.number for one in after([first, other], new_sheet).job.unfit] == [1, 2]


UNFIT = {
    "blower has no check smell": found(check="smell"),
    "check feed of blower has no result green": found(result="green"),
    "the job has no fault radio": found("radio"),
    "blower has no cause moth": h.SeenToBe(**SAID, fault="blower", cause="moth"),
    "rear has no cause moth": h.OddsCorrected(**SAID, fault="rear", cause="moth", was=1, now=2),
    "brake has no cause something-else": h.OddsCorrected(**SAID, fault="brake", cause="something-else", was=1, now=2),
    "blower has no repair pray": fitted("blower", "pray"),
    "blower has no repair hope": work_price(1, 2, repair="hope"),
    "motor of blower now has another price": work_price(900_001, 900_002),
}


@pytest.mark.parametrize("reason", UNFIT)
def test_what_does_not_fit_is_told_and_left_out_but_for_its_money(reason) -> None:
    happened = UNFIT[reason]
    paid = {"cost_minor": 70} if isinstance(happened, h.CheckMade) else {}
    standing = after([h.Note(**SAID, text="first"), happened.model_copy(update=paid)])
    (unfit,) = standing.job.unfit
    assert (unfit.number, unfit.kind, unfit.reason) == (2, happened.kind, reason)
    assert [(one.number, one.reason) for one in standing.job.unfit] == [(2, reason)]
    assert standing.job.seen == {}
    assert standing.job.faults == JOB.faults
    assert standing.job.pot.recorded_minor == sum(paid.values())
    (said,) = [n for n in notices.of_job(standing.job) if n.remark == Remark.ENTRY_MISFITS]
    assert said.about == ("2", happened.kind, reason)


def test_a_clash_is_shown_and_the_rest_still_planned() -> None:
    """It spins, so it is not the motor; seen to be the motor. Accepted, told, and planned with care."""
    events = [found(), h.SeenToBe(**SAID, fault="blower", cause="motor")]
    standing = after(events)
    assert standing.job.unfit == ()
    plan = service.plan(standing.job)
    (said,) = [n for n in plan.notices if n.remark == Remark.ENTRIES_CLASH]
    assert said.about == ("blower", "blower: feed showed spins (entry 1)", "blower: it is motor (entry 2)")
    assert [choice.fault.id for choice in plan.choices if choice.route is not None] == ["brake", "blower", "rear"]
    assert Remark.ENTRIES_CLASH not in {n.remark for n in service.plan(after([*events, strike(2)]).job).notices}


def test_a_clash_on_a_cured_fault_is_told_where_a_twin_depends_on_it() -> None:
    events = [found(), bought(), CURE]
    standing = after(events)
    assert [n.about[0] for n in notices.of_job(standing.job) if n.remark == Remark.ENTRIES_CLASH] == ["blower"]
    alone = JOB.model_copy(update={"faults": (JOB.faults[0].model_copy(update={"twin": None}), *JOB.faults[2:])})
    assert Remark.ENTRIES_CLASH not in {n.remark for n in notices.of_job(after(events, alone).job)}


def test_nothing_recorded_is_the_folder_as_it_is() -> None:
    standing = after([])
    assert standing.job.unfit == ()
    named = tuple(row.model_copy(update={"name": name}) for name, row in JOB.shelf.items())
    assert standing.job == JOB.model_copy(update={"owned": named})


def test_notes_strikes_and_lost_entries_move_nothing() -> None:
    events = [h.Note(**SAID, text="a word"), h.Lost(**SAID), h.Note(**SAID, text="b"), strike(3)]
    assert after(events).job == after([]).job
