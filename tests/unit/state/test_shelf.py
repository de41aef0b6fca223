"""What lies on the shelf: what is on order is there, what was fitted is gone, what was kept serves others."""

from datetime import timedelta

import pytest

from optimiser.model import events as h
from optimiser.model.job import Owned

from .scene import AT, DISC, JOB, MOTOR, NEW, OWN, SAID, TODAY, after, bought, fitted, piece, shelf, strike


def test_what_was_bought_is_owned_and_on_order() -> None:
    job = after([bought(packs=2)]).job
    row = job.shelf["bought:1"]
    assert (row.part, row.units, row.condition, row.good_chance) == ("motor", 2, "refurbished", 0.8)
    assert (row.bought, row.came_from, row.kept_from) == (1, ("quotes.csv:2",), None)
    (on_its_way,) = job.on_order
    assert on_its_way.model_dump() == {"bought": 1, "part": "motor", "supplier": "cole", "units": 2, "days": 5}


@pytest.mark.parametrize(
    "then",
    [
        fitted("blower", "motor", piece("bought:1", then="stays-on"), cured=True),
        fitted("blower", "motor", piece("bought:1", then="sent-back")),
        h.SentBack(**SAID, part="motor", units=1, bought=1),
    ],
)
def test_what_was_fitted_or_went_back_has_come_and_the_rest_of_its_purchase_with_it(then) -> None:
    job = after([bought(packs=2), bought(DISC, lead_days=4), then]).job
    assert [(some.bought, some.units, some.days) for some in job.on_order] == [(1, 1, 0), (2, 1, 4)]
    assert job.shelf["bought:1"].lead_days == 0


@pytest.mark.parametrize(("days", "left"), [(0, 5), (3, 2), (5, 0), (30, 0), (-2, 5)])
def test_it_is_on_its_way_as_long_as_the_supplier_takes(days, left) -> None:
    job = after([bought()], days=days).job
    assert (job.shelf["bought:1"].lead_days, job.on_order[0].days) == (left, left)


def test_packs_hold_so_many_pieces() -> None:
    assert shelf(after([bought(DISC, 3, pack=2)]))["bought:1"] == 6


def test_the_quotes_stock_goes_down_and_not_below_nothing() -> None:
    assert [q.stock for q in after([bought(packs=3)]).job.quotes] == [1, None, None]
    assert after([bought(packs=3), bought(packs=3)]).job.quotes[0].stock == 0


def test_stock_counts_packs_not_pieces() -> None:
    pairs = MOTOR.model_copy(update={"pack": 2})
    standing = after([bought(pairs, 3)], JOB.model_copy(update={"quotes": (pairs,)})).job
    assert (standing.quotes[0].stock, standing.shelf["bought:1"].units) == (1, 6)


def test_it_is_that_quotes_stock_whatever_line_it_stands_on_by_now() -> None:
    """Told by part, supplier, condition, reference and pack; of several the one at the price paid."""
    moved = [MOTOR.model_copy(update={"id": "quotes.csv:9"}), NEW.model_copy(update={"id": "quotes.csv:2"})]
    dearer = MOTOR.model_copy(update={"id": "quotes.csv:5", "price_minor": 7000})
    job = JOB.model_copy(update={"quotes": (dearer, *moved)})
    standing = after([bought()], job).job
    assert [q.stock for q in standing.quotes] == [4, 3, None]
    assert standing.shelf["bought:1"].came_from == ("quotes.csv:9",)


@pytest.mark.parametrize(("stock", "left", "sources"), [(4, [4, 3], (8,)), (None, [None, None], (2, 8))])
def test_rows_alike_in_everything_are_one_quote_only_where_none_runs_out(stock, left, sources) -> None:
    first = MOTOR.model_copy(update={"stock": stock})
    again = first.model_copy(update={"id": "quotes.csv:8"})
    standing = after([bought(again)], JOB.model_copy(update={"quotes": (first, again)})).job
    assert [q.stock for q in standing.quotes] == left
    assert standing.shelf["bought:1"].came_from == tuple(f"quotes.csv:{line}" for line in sources)


def test_a_purchase_that_no_sheet_holds_is_owned_all_the_same() -> None:
    standing = after([bought(supplier="stranger").model_copy(update={"quote": ""})])
    assert standing.job.unfit == ()
    assert standing.job.shelf["bought:1"].came_from == ()
    assert standing.job.quotes == JOB.quotes


def test_one_fitted_is_gone_whether_it_cured_or_stays_on() -> None:
    for cured in (True, False):
        standing = after([bought(), fitted("blower", "motor", piece("bought:1", then="stays-on"), cured=cured)])
        assert shelf(standing) == OWN
        assert standing.job.on_order == ()
        assert standing.job.unfit == ()


def test_of_several_the_rest_stays_on_order() -> None:
    standing = after([bought(packs=3), fitted("blower", "motor", piece("bought:1", then="stays-on"))])
    assert shelf(standing) == OWN | {"bought:1": 2}
    assert standing.job.on_order[0].units == 2


def test_one_kept_is_owned_for_other_faults_and_not_on_order() -> None:
    standing = after([bought(), fitted("blower", "motor", piece("bought:1"))])
    row = standing.job.shelf["kept:2-1"]
    assert (row.part, row.units, row.kept_from, row.bought, row.lead_days) == ("motor", 1, "blower", 1, 0)
    assert row.came_from == ("quotes.csv:2", "bought:1")
    assert standing.job.on_order == ()
    assert standing.job.tried_on == {"blower": ("bought:1", "kept:2-1", "quotes.csv:2")}


def test_one_kept_after_a_cure_was_not_needed_and_stays_where_it_lay() -> None:
    standing = after([bought(), fitted("blower", "motor", piece("bought:1"), cured=True)])
    assert shelf(standing) == OWN | {"bought:1": 1}


def test_one_sent_back_is_gone() -> None:
    tried = fitted("blower", "motor", piece("bought:1", then="sent-back"))
    assert shelf(after([bought(), tried])) == OWN
    back = h.SentBack(**SAID, part="motor", units=1, bought=1)
    assert shelf(after([bought(packs=2), back])) == OWN | {"bought:1": 1}


def test_of_what_goes_back_what_was_never_tried_goes_first() -> None:
    back = h.SentBack(**SAID, part="motor", units=2, bought=1)
    standing = after([bought(packs=2), fitted("blower", "motor", piece("bought:1")), back])
    assert (shelf(standing), standing.job.unfit) == (OWN, ())
    one = back.model_copy(update={"units": 1})
    standing = after([bought(packs=2), fitted("blower", "motor", piece("bought:1")), one])
    assert shelf(standing) == OWN | {"kept:2-1": 1}


@pytest.mark.parametrize(
    ("back", "told"),
    [
        (h.SentBack(**SAID, part="motor", units=2, bought=1), "more pieces of motor than the shelf held"),
        (h.SentBack(**SAID, part="disc", units=1, bought=1), "number 1 of the record is no purchase of disc"),
        (h.SentBack(**SAID, part="motor", units=1, bought=2), "number 2 of the record is no purchase"),
    ],
)
def test_what_cannot_have_gone_back_is_told(back, told) -> None:
    standing = after([bought(), back])
    assert [u.number for u in standing.job.unfit] == [2]
    assert told in standing.job.unfit[0].reason


def test_a_row_of_the_folder_is_used_up() -> None:
    standing = after([fitted("blower", "motor", piece("owned:2", condition="salvage", good_chance=0.5))])
    assert shelf(standing) == {"owned:1": 1, "kept:1-1": 1}
    assert standing.job.tried_on["blower"] == ("kept:1-1", "owned:2")


@pytest.mark.parametrize("named", ["owned:2", "owned:1", "owned:7"])
def test_a_row_of_the_folder_is_found_where_it_stands_by_now(named) -> None:
    """Rows were put before it or taken out since: it is told by part and condition."""
    tried = fitted("blower", "motor", piece(named, condition="salvage", then="stays-on"))
    standing = after([tried])
    assert (shelf(standing), standing.job.unfit) == ({"owned:1": 1}, ())
    rows = (JOB.owned[1].model_copy(update={"condition": "new"}), *JOB.owned)
    standing = after([tried], JOB.model_copy(update={"owned": rows}))
    assert (shelf(standing), standing.job.unfit) == ({"owned:1": 1, "owned:2": 1}, ())


def test_more_than_the_shelf_held_is_told_and_what_was_there_is_gone() -> None:
    standing = after([bought(), fitted("blower", "motor", piece("bought:1", 3, then="stays-on"))])
    assert shelf(standing) == OWN
    assert standing.job.unfit[0].reason == "more pieces of motor than the shelf held"


def test_what_was_bought_does_not_stand_in_for_a_row_of_the_folder() -> None:
    """Alike or not: the folder's own pieces are told by their row."""
    disc = bought(DISC, good_chance=0.9)
    standing = after([disc, fitted("brake", "discs", piece("owned:1", 2, of=DISC, good_chance=0.9, then="stays-on"))])
    assert shelf(standing) == {"owned:2": 1, "bought:1": 1}
    assert standing.job.unfit[0].reason == "more pieces of disc than the shelf held"


def test_a_piece_whose_purchase_is_struck_out_is_told() -> None:
    standing = after([bought(), fitted("blower", "motor", piece("bought:1")), strike(1)])
    assert [u.number for u in standing.job.unfit] == [2]
    assert shelf(standing) == OWN | {"kept:2-1": 1}


def test_a_piece_bought_in_the_same_breath_is_found_by_its_quote() -> None:
    """``fitted`` writes the purchase down too where somebody says so; it cannot know its number yet."""
    standing = after([bought(), fitted("blower", "motor", piece("quotes.csv:2", then="stays-on"))])
    assert (shelf(standing), standing.job.unfit) == (OWN, ())


def test_a_piece_that_nobody_wrote_down_as_bought_closes_its_quote() -> None:
    standing = after([fitted("blower", "motor", piece("quotes.csv:2", then="stays-on"))])
    assert standing.job.unfit == ()
    assert standing.job.tried_on == {"blower": ("quotes.csv:2",)}


def test_kept_and_fitted_again_it_is_still_of_that_quote() -> None:
    first = fitted("blower", "motor", piece("quotes.csv:2"))
    again = fitted("rear", "motor", piece("kept:1-1"))
    tried = after([first, again]).job.tried_on
    assert "quotes.csv:2" in tried["blower"]
    assert "quotes.csv:2" in tried["rear"]


def test_purchases_alike_are_laid_together_where_no_one_of_them_would_do() -> None:
    """A set of two, bought one by one: planned as one row, here once the last is, fitted as one."""
    two = [bought(DISC, lead_days=2, at=AT - timedelta(days=1)), bought(DISC, lead_days=9)]
    standing = after(two)
    assert shelf(standing) == OWN | {"bought:1": 2}
    assert standing.job.shelf["bought:1"].lead_days == 9
    assert [some.units for some in standing.job.on_order] == [1, 1]
    tried = fitted("brake", "discs", piece("bought:1", 2, of=DISC, then="stays-on"), cured=True)
    standing = after([*two, tried])
    assert (shelf(standing), standing.job.unfit, standing.job.on_order) == (OWN, (), ())


def test_three_small_purchases_are_used_up_one_after_the_other() -> None:
    three = [bought(DISC), bought(DISC), bought(DISC)]
    tried = fitted("brake", "discs", piece("bought:1", 3, of=DISC, then="stays-on"))
    standing = after([*three, tried])
    assert (shelf(standing), standing.job.unfit) == (OWN, ())


@pytest.mark.parametrize(
    "other",
    [bought(DISC, good_chance=0.9), bought(DISC, condition="refurbished"), bought(DISC, 2), bought(MOTOR)],
)
def test_purchases_not_alike_and_such_as_do_alone_stay_apart(other) -> None:
    assert set(shelf(after([bought(DISC), other]))) == {"owned:1", "owned:2", "bought:1", "bought:2"}


def test_a_batch_that_failed_on_a_fault_is_not_laid_with_one_that_did_not() -> None:
    standing = after(
        [
            bought(DISC, 2),
            fitted("brake", "discs", piece("bought:1", of=DISC, then="stays-on")),
            bought(DISC, ref="D-9"),
        ]
    )
    assert shelf(standing) == OWN | {"bought:1": 1, "bought:3": 1}
    assert standing.job.tried_on["brake"] == ("bought:1", "quotes.csv:4")


def test_a_row_kept_from_a_fault_in_the_folder_stays_so() -> None:
    kept = Owned(part="motor", condition="new", good_chance=0.7, kept_from="blower", lead_days=3)
    (row,) = after([], JOB.model_copy(update={"owned": (kept,)})).job.owned
    assert (row.kept_from, row.lead_days, row.good_chance) == ("blower", 3, 0.7)


def test_the_day_of_the_job_counts_not_the_clock() -> None:
    assert AT.date() == TODAY
    assert after([bought(at=AT - timedelta(days=2))]).job.on_order[0].days == 3
