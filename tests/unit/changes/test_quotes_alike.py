"""A plan whose choice moved to another quote of the same shop, condition and reference is told as a move."""

from __future__ import annotations

import pytest

from optimiser.model import events as h
from optimiser.model.job import Fault, Job, Pot, Repair, Settings
from optimiser.model.moves import Turn
from optimiser.model.quotes import Quote
from tests.unit.changes.stories import SAID, moved
from tests.unit.state.scene import TODAY

HORN = Quote(id="quotes.csv:2", part="horn", supplier="yard", condition="salvage", price_minor=500, good_chance=0.9)
ROWS = (HORN, HORN.model_copy(update={"id": "quotes.csv:3", "price_minor": 600, "good_chance": 0.8}))
JOB = Job(
    settings=Settings(currency="GBP", today=TODAY, fallbacks=False),
    pot=Pot(cap_minor=3600),
    faults=(Fault(id="horn", severity="minor", repairs=(Repair(id="swap", chance=0.9, parts={"horn": 1}),)),),
    quotes=ROWS,
)


def turn(now: Job, *happenings: h.Happening) -> Turn:
    (move,) = moved(JOB, *happenings, now=now).moves
    return move.turn


@pytest.mark.parametrize("left", [(ROWS[1],), (ROWS[0].model_copy(update={"stock": 0}), ROWS[1])])
def test_the_other_row_is_another_choice(left) -> None:
    assert turn(JOB.model_copy(update={"quotes": left})) == Turn.NEW_CHOICE


def test_what_was_bought_is_the_row_that_it_was_bought_from() -> None:
    bought = h.Purchase.of(ROWS[0], 1, currency="GBP", postage_minor=0, **SAID)
    assert turn(JOB, bought) == Turn.KEPT


def test_a_row_on_another_line_is_the_same() -> None:
    moved_down = tuple(row.model_copy(update={"id": f"quotes.csv:{n}"}) for n, row in enumerate(ROWS, start=7))
    assert turn(JOB.model_copy(update={"quotes": moved_down})) == Turn.KEPT


def test_the_only_row_at_another_price_is_the_same_choice() -> None:
    alone = JOB.model_copy(update={"quotes": ROWS[:1]})
    dearer = ROWS[0].model_copy(update={"price_minor": 700})
    (move,) = moved(alone, now=alone.model_copy(update={"quotes": (dearer,)})).moves
    assert move.turn == Turn.KEPT


def test_one_of_two_rows_at_another_price_is_the_same_choice() -> None:
    """The row that asked 5.00 asks 5.50, and is taken as before; at 9.00 it is the other one that is taken."""
    prices = ((550, Turn.KEPT), (900, Turn.NEW_CHOICE))
    for price, expected in prices:
        other = ROWS[0].model_copy(update={"price_minor": price, "good_chance": 0.9 if price == 550 else 0.5})
        assert turn(JOB.model_copy(update={"quotes": (other, ROWS[1])})) == expected
