"""What the record draws on the pot, and deposits that are to come back: to the unit."""

import pytest

from optimiser import service
from optimiser.model import events as h
from optimiser.model.job import Fault, Job, Pot, Repair, Settings
from optimiser.model.quotes import Quote

from .scene import JOB, MONEY, SAID, TODAY, after, back, bought, fitted, found, piece, strike

BOUGHT_TWO = 2 * 6000 + 400 + 2 * 1000


@pytest.mark.parametrize(
    ("happened", "drawn"),
    [
        (bought(packs=2), BOUGHT_TWO),
        (found(cost_minor=250), 250),
        (fitted("blower", "wire", price_minor=310), 310),
        (h.Spend(**MONEY, amount_minor=75, text="grease"), 75),
        (h.Refund(**MONEY, amount_minor=600), -600),
        (back(1000), -1000),
        (h.Note(**SAID, text="ring Cole"), 0),
    ],
)
def test_each_happening_draws_what_it_says(happened, drawn) -> None:
    pot = after([happened]).job.pot
    assert pot.recorded_minor == drawn
    assert pot.committed_minor == 10000 + 500 + drawn
    assert pot.remaining_minor == 60000 - 10500 - drawn - 1000


def test_what_is_struck_out_draws_nothing() -> None:
    standing = after([bought(), strike(1)])
    assert standing.job.pot.recorded_minor == 0
    assert standing.job.deposits_due == ()
    assert (standing.job.quotes, standing.job.unfit) == (JOB.quotes, ())


def test_another_currencys_money_is_not_counted_and_that_is_said() -> None:
    standing = after([bought(currency="EUR"), back(500, 1).model_copy(update={"currency": "EUR"})])
    assert standing.job.pot.recorded_minor == 0
    assert [(u.number, u.kind) for u in standing.job.unfit] == [(1, "purchase"), (2, "deposit-returned")]
    assert "EUR, not in GBP" in standing.job.unfit[0].reason
    assert standing.job.shelf["bought:1"].units == 1, "the piece is there all the same"
    assert standing.job.deposits_due == ()


def test_another_currency_is_no_matter_where_there_is_no_money() -> None:
    standing = after([found(currency="EUR")])
    assert standing.job.unfit == ()
    assert len(standing.job.seen["blower"]) == 1


def test_a_refund_of_what_was_never_bought_counts_and_is_told() -> None:
    standing = after([h.Refund(**MONEY, amount_minor=600, bought=7)])
    assert standing.job.pot.recorded_minor == -600
    assert "number 7 of the record is no purchase" in standing.job.unfit[0].reason


def due(*happenings: h.Happening) -> list[tuple[int, int, int]]:
    return [(d.bought, d.pieces, d.money_minor) for d in after(happenings).job.deposits_due]


def test_deposits_are_due_on_every_piece_bought() -> None:
    (one,) = after([bought(packs=2)]).job.deposits_due
    assert (one.bought, one.part, one.supplier, one.pieces, one.money_minor) == (1, "motor", "cole", 2, 2000)


def test_a_deposit_that_came_back_is_no_more_due() -> None:
    assert due(bought(packs=2), back(1000, 1)) == [(1, 2, 1000)]
    assert due(bought(packs=2), back(2000, 1)) == []
    assert due(bought(packs=2), back(2500, 1)) == []


def test_one_of_no_purchase_is_the_oldest_ones() -> None:
    assert due(bought(), bought(packs=2), back(1500)) == [(2, 2, 1500)]
    assert due(bought(), bought(), back(400), back(800)) == [(2, 1, 800)]


def test_nothing_is_due_on_pieces_sent_back_whole() -> None:
    sent = h.SentBack(**SAID, part="motor", units=1, bought=1)
    assert due(bought(packs=2), sent) == [(1, 1, 1000)]
    assert due(bought(), fitted("blower", "motor", piece("bought:1", then="sent-back"))) == []


@pytest.mark.parametrize("then", ["kept", "stays-on"])
def test_what_is_kept_or_fitted_still_has_its_deposit_due(then) -> None:
    assert due(bought(), fitted("blower", "motor", piece("bought:1", then=then))) == [(1, 1, 1000)]


def test_an_access_price_is_paid_once() -> None:
    prices = {row.id: (row.price_minor, row.minutes) for row in after([found()]).job.access}
    assert prices == {"cover": (0, 20), "wheel": (50, 5)}
    assert after([fitted("blower", "motor")]).job.access[0].price_minor == 0
    assert after([fitted("blower", "wire"), found(), strike(2)]).job.access == JOB.access


HORN = Quote(
    id="quotes.csv:2", part="horn", supplier="yard", condition="new", price_minor=500, deposit_minor=200, pack=4,
    good_chance=1.0,
)  # fmt: skip
PACK = Job(
    settings=Settings(currency="GBP", today=TODAY),
    pot=Pot(cap_minor=3000),
    faults=(Fault(id="horn", severity="minor", repairs=(Repair(id="swap", chance=1.0, parts={"horn": 1}),)),),
    quotes=(HORN,),
)


def test_surplus_pieces_lose_their_deposit_before_and_after_they_are_bought() -> None:
    """From the case "deposit_pack": four in a pack and one needed, so one deposit comes back."""
    assert service.plan(PACK).purse.deposits_due_minor == 200
    swap = fitted("horn", "swap", piece("bought:1", of=HORN, then="stays-on"), cured=True)
    for happened in ([bought(HORN)], [bought(HORN), swap]):
        (due,) = service.plan(after(happened, PACK).job).deposits_back
        assert (due.bought, due.pieces, due.money_minor) == (1, 1, 200)
    back_already = service.plan(after([bought(HORN), swap, back(200, 1)], PACK).job)
    assert back_already.deposits_back == ()


def test_one_row_for_several_purchases_has_the_deposits_of_all_its_pieces() -> None:
    single = HORN.model_copy(update={"pack": 1})
    two = Fault(id="horn", severity="minor", repairs=(Repair(id="swap", chance=1.0, parts={"horn": 2}),))
    job = PACK.model_copy(update={"faults": (two,), "quotes": ()})
    plan = service.plan(after([bought(single), bought(single), bought(single)], job).job)
    assert [(due.bought, due.money_minor) for due in plan.deposits_back] == [(1, 200), (2, 200)]


def test_what_went_back_after_it_was_tried_has_no_old_unit() -> None:
    tried = fitted("horn", "swap", piece("bought:1", of=HORN))
    sent = h.SentBack(**SAID, part="horn", units=4, bought=1)
    (due,) = after([bought(HORN), tried], PACK).job.deposits_due
    assert (due.fitted, due.pieces) == (1, 4)
    assert after([bought(HORN), tried, sent], PACK).job.deposits_due == ()
