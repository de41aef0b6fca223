"""Rows that leave out the name of their part because it stands in the row above."""

from __future__ import annotations

import pytest

from optimiser.quote_import import Told
from tests.sheets.corpus import told_of, typed

HEAD = "Part,Condition,Price inc VAT\nStarter motor,Used,40.00\n"
BOTH = [("starter-motor", "salvage", 4000), ("starter-motor", "new", 9000)]


def quotes(understood):
    return [(row.part, row.condition, row.price_minor) for row in understood.rows]


@pytest.mark.parametrize("name", ["ditto", "Do.", "as above", "dito", '""""', ""])
def test_the_part_above_is_taken_where_a_row_says_so_or_differs_in_its_condition(taken, name):
    read = taken(f"{HEAD}{name},New,90.00\n")
    assert (read.doubts, quotes(read)) == ((), BOTH)
    assert "taken to be about the part of the row above it: row 3" in read.cautions


@pytest.mark.parametrize("mark", ["idem", "Ditto", "dito", "idem.", '""""'])
def test_a_mark_repeats_the_cell_above_but_no_price(taken, mark):
    head = "Part,Condition,Price ex VAT,VAT rate,Lead time\nStarter motor,Used,40.00,20%,3 days\n"
    read = taken(f"{head}Front brake disc,{mark},20.00,{mark},{mark}\n")
    assert (read.doubts, quotes(read)[1:]) == ((), [("front-disc", "salvage", 2400)])
    assert [row.lead_days for row in read.rows] == [3, 3]
    assert len(taken(f"{head}Front brake disc,{mark},{mark},{mark},{mark}\n").rows) == 1


@pytest.mark.parametrize("rows", ["or,New,90.00\n", "\n,New,90.00\n"], ids=["or", "below a gap"])
def test_what_may_be_of_another_part_is_asked_and_settled_by_either_mend(taken, rows):
    read = taken(HEAD + rows)
    assert [doubt.key for doubt in read.doubts] == ["part"]
    above = told_of({name: [value] for name, value in typed(read.doubts)})
    assert len(taken(HEAD + rows, above).rows) == 2
    out = Told(words=dict.fromkeys(above.words, "ignore"))
    assert (taken(HEAD + rows, out).doubts, len(taken(HEAD + rows, out).rows)) == ((), 1)


def test_a_name_in_a_line_of_its_own_is_that_of_the_rows_below_it(taken):
    read = taken("Part,Condition,Price inc VAT\nStarter motor,,\n,Used,40.00\n,New,90.00\n")
    assert (read.doubts, quotes(read)) == ((), BOTH)


def test_a_row_of_nothing_but_a_price_is_held_against_the_sum_of_the_prices(taken):
    assert taken(f"{HEAD}Front brake disc,New,20.00\n,,60.00\n").doubts == ()
    assert [doubt.key for doubt in taken(f"{HEAD}Front brake disc,New,20.00\n,,55.00\n").doubts] == ["money"]
