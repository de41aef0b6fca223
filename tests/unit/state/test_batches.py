"""One quote, one batch, however often it was bought; another reference or another row of its own is another batch."""

from __future__ import annotations

import pytest

from optimiser import service
from optimiser.model.evidence import FailedAttempt, Piece
from optimiser.model.quotes import Quote
from optimiser.planning.options import build
from tests.unit.state.scene import BLOWER, JOB, MOTOR, NEW, after, bought, fitted, piece

FAILED = fitted("blower", "motor", piece("bought:1"))
ONE_FAULT = JOB.model_copy(update={"faults": (BLOWER,), "quotes": (MOTOR,), "owned": ()})
YARD = tuple(
    Quote(id=name, part="motor", supplier="yard", condition="salvage", price_minor=500, stock=1, good_chance=0.6)
    for name in ("quotes.csv:2", "quotes.csv:3")
)  # fmt: skip
AT_THE_YARD = ONE_FAULT.model_copy(update={"quotes": YARD})


def offered(job, fault: str = "blower") -> set[str]:
    return {line.quote.id for option in build(job).options if option.fault == fault for line in option.lines}


@pytest.mark.parametrize("happenings", [[bought(), bought(), FAILED], [bought(), FAILED, bought()]])
def test_the_second_purchase_of_a_quote_is_closed_with_the_first(happenings) -> None:
    job = after(happenings, ONE_FAULT).job
    assert offered(job) == set()
    assert {"bought:1", "quotes.csv:2"} < set(job.tried_on["blower"])


def motors(plan, fault: str = "blower") -> int:
    """How many motors the plan may try."""
    (route,) = (route for route in plan.selection.routes if route.fault == fault)
    return len([step for step in route.attempts if step.option.repair == "motor"])


def test_another_reference_is_another_batch() -> None:
    job = after([bought(), bought(ref="M-2"), FAILED], ONE_FAULT).job
    assert offered(job) == {"bought:2"}


@pytest.mark.parametrize("quotes", [(MOTOR,), ()])
def test_a_plan_does_not_try_both(quotes) -> None:
    """Whether the sheets still hold the quote or not."""
    job = after([bought(), bought()], ONE_FAULT.model_copy(update={"quotes": quotes})).job
    assert motors(service.plan(job)) == 1
    apart = after([bought(), bought(ref="M-2")], ONE_FAULT.model_copy(update={"quotes": quotes})).job
    assert motors(service.plan(apart)) == 2


def test_two_pieces_of_one_batch_are_one_draw() -> None:
    again = fitted("blower", "motor", piece("bought:2"))
    seen = after([bought(), bought(), FAILED, again]).job.seen["blower"]
    assert set(seen) == {FailedAttempt("motor", (Piece("bought:1", 0.8),))}
    apart = after([bought(), bought(ref="M-2"), FAILED, again]).job.seen["blower"]
    assert [entry.pieces[0].name for entry in apart] == ["bought:1", "bought:2"]


def test_purchases_that_nobody_quoted_are_batches_of_their_own() -> None:
    found = MOTOR.model_copy(update={"supplier": "fair", "id": ""})
    job = after([bought(found), bought(found), FAILED], ONE_FAULT).job
    assert "bought:2" in offered(job)


def test_pieces_of_one_shelf_row_are_one_batch_on_another_fault_too() -> None:
    """Kept from the blower and still lying as they were bought: for the rear blower they are one try."""
    job = after([bought(packs=2), FAILED], JOB.model_copy(update={"quotes": (), "owned": ()})).job
    assert motors(service.plan(job), "rear") == 1


def test_rows_alike_that_are_single_pieces_agree_before_and_after_one_is_bought() -> None:
    """From the case "alike": two pieces at the yard, the second tried after the first, whichever is bought already."""
    before = service.plan(AT_THE_YARD)
    assert motors(before) == 2
    for first in YARD:
        plan = service.plan(after([bought(first, postage_minor=0)], AT_THE_YARD).job)
        assert plan.expected_fixes == pytest.approx(before.expected_fixes)
        assert [q.stock for q in plan.job.quotes] == [0 if row is first else 1 for row in YARD]
    both = service.plan(after([bought(YARD[0]), bought(YARD[0])], AT_THE_YARD).job)
    assert both.expected_fixes == pytest.approx(before.expected_fixes), "the second is from the row that has one left"
    tried = after([bought(YARD[0]), fitted("blower", "motor", piece("bought:1", of=YARD[0]))], AT_THE_YARD).job
    assert offered(tried) == {YARD[1].id}


def test_another_quote_of_the_same_shop_is_another_batch() -> None:
    job = after([bought(), FAILED], ONE_FAULT.model_copy(update={"quotes": (MOTOR, NEW)})).job
    assert offered(job) == {NEW.id}
