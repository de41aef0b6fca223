"""Rows that are no parts, deposits in rows of their own, grades by their key, and which way is printed first."""

from __future__ import annotations

import pytest

from optimiser.quote_import import Told, heeding

HEAD = "Type,Part,Condition,Price inc VAT\n"
GRADES = "Part,Grade,Price inc VAT\nFront disc,A,45.00\nStarter motor,C,30.00\n"


def prices(understood) -> list[tuple[str, int]]:
    return [(row.part, row.price_minor) for row in understood.rows]


@pytest.mark.parametrize(
    "row",
    [
        "Labour,Starter motor,,48.00",
        "Arbeit,Starter motor,,48.00",
        ",Fit starter motor,,48.00",
        ",Montaje del starter motor,,48.00",
    ],
)
def test_work_is_no_part_and_is_told_of(taken, row):
    understood = taken(f"{HEAD}Part,Front disc,new,45.00\n{row}\n")
    assert (prices(understood), understood.doubts) == ([("front-disc", 4500)], ())
    assert "left out as work, or what is lent, and no part: row 3" in understood.cautions


def test_what_is_lent_stands_below_its_line(taken):
    rows = "Front disc,new,45.00\nTOOL HIRE,,\nStarter motor,,8.00\nSPARES,,\nStarter motor,used,30.00\n"
    understood = taken(f"Part,Condition,Price inc VAT\n{rows}")
    assert prices(understood) == [("front-disc", 4500), ("starter-motor", 3000)]


def test_a_part_called_like_work_is_one(taken):
    understood = taken("Part,Condition,Price inc VAT\nFront disc,new,45.00\nFitting kit,new,9.00\n")
    assert [row.named for row in understood.strangers] == ["Fitting kit"]


@pytest.mark.parametrize("name", ["Starter motor deposit", '"Starter motor, deposit on old unit (refunded)"'])
def test_a_deposit_in_a_row_of_its_own_is_that_of_the_part_above(taken, name):
    understood = taken(f"Part,Condition,Price inc VAT\nStarter motor,recon,90.00\n{name},,25.00\n")
    assert [(row.price_minor, row.deposit_minor) for row in understood.rows] == [(9000, 2500)]
    assert understood.doubts == ()


def test_a_deposit_without_its_part_above_is_asked_about(taken):
    assert taken("Part,Condition,Price inc VAT\nFront disc,new,45.00\nStarter motor deposit,,25.00\n").doubts


def test_grades_are_read_by_their_key(taken):
    understood = taken(f"{GRADES}A = new in its box\nC = used\n")
    assert [row.condition for row in understood.rows] == ["new", "salvage"]
    assert understood.doubts == ()


def test_a_grade_whose_key_says_that_it_does_not_work_is_asked_about(taken):
    understood = taken(f"{GRADES}A = new\nC = used, not working\n", Told(condition="salvage"))
    assert [row.part for row in understood.rows] == ["front-disc"]
    assert [doubt.key for doubt in understood.doubts] == ["condition"]


@pytest.mark.parametrize("key", ["", "A = new\n", "A = new\nC = the third shelf\n"])
def test_grades_without_a_whole_key_are_asked_about(taken, key):
    assert taken(f"{GRADES}{key}").doubts


def test_a_discount_off_all_prices_is_taken_off_on_a_word(taken):
    line = "10% discount on all prices, for everybody"
    sheet = f'Part,Condition,Price inc VAT\nFront disc,new,45.00\n"{line}"\n'
    (doubt,) = taken(sheet).doubts
    assert f'--word "{line}=discount 10"' in doubt.mend.split("; ")[0]
    understood = taken(sheet, Told(words={line: "discount 10"}))
    assert ([row.price_minor for row in understood.rows], understood.doubts) == ([4050], ())
    assert "45.00 - 10 %" in understood.rows[0].working


@pytest.mark.parametrize(
    ("line", "first"),
    [("Everything here is second-hand as far as I know", "all salvage"), ("Prices for used ones are as seen", "ignore"),
     ("Offer ends soon", "ignore")],
)  # fmt: skip
def test_a_way_that_sets_a_value_comes_first_only_where_the_text_says_so(taken, line, first):
    doubts = [doubt for doubt in taken(f"{line}\nPart,Price inc VAT\nFront disc,45.00\n").doubts if line in doubt.found]
    assert [doubt.mend.split('"')[1] for doubt in doubts] == [f"{line}={first}"]


@pytest.mark.parametrize("line", ["(came with a bracket)", "The bonnet catch is stiff."])
def test_a_remark_between_rows_is_no_supplier(taken, line):
    rows = f"Front disc,new,45.00\n{line},,\nFront disc,new,46.00\n"
    assert "supplier" not in [doubt.key for doubt in taken(f"Part,Condition,Price inc VAT\n{rows}").doubts]


@pytest.mark.parametrize(
    ("text", "kind"),
    [("All goods sold new", ""), ("12 Nov 2026 Till 2", ""), ("Grazie per la richiesta", ""),
     ("Prices per axle", "pack"), ("La consigne est hors champ de TVA", "tax"), ("Sold", "sale")],
)  # fmt: skip
def test_what_lines_are_about(text, kind):
    assert heeding.kind(text) == kind


def test_the_day_that_a_receipt_was_written_is_no_last_day(taken):
    understood = taken("12 Nov 2026,Till 2\nPart,Condition,Price inc VAT\nFront disc,new,45.00\n")
    assert ([row.valid_until for row in understood.rows], understood.doubts) == ([None], ())


@pytest.mark.parametrize(
    ("note", "asked"), [("only 4 at a time", True), ("suits 1998 to 2004", False), ("box 4", False)]
)
def test_a_small_number_of_things_in_a_remark_is_asked_about(taken, note, asked):
    understood = taken(f"Part,Condition,Price inc VAT,Notes\nFront disc,new,9.60,{note}\n")
    assert ("pack" in [doubt.key for doubt in understood.doubts]) is asked


@pytest.mark.parametrize(
    ("line", "sold"),
    [("Front disc SOLD", True), ("Front disc £40 - just sold", True), ("All parts sold", False)],
)  # fmt: skip
def test_a_line_that_says_that_its_part_is_sold_is_one(taken, line, sold):
    understood = taken(f"Starter motor - used - £30\n{line}\n", name="oddlode.txt")
    assert [row.reason for row in understood.aside if row.part == "front-disc"] == ["it is sold"] * sold


@pytest.mark.parametrize(
    ("state", "sold"),
    [("Sold 3 Nov", True), ("Sold on 3/11", True), ("Sold 3", False), ("Sold as seen", False), ("Now", False)],
)
def test_since_when_it_is_sold_is_no_more(taken, state, sold):
    sheet = f"Part,Condition,Price inc VAT,Status\nFront disc,new,45.00,{state}\nStarter motor,used,30.00,\n"
    assert (len(taken(sheet).rows) == 1) is sold


def test_what_does_not_work_is_left_out_first(taken):
    (doubt,) = taken("Part,Condition,Price inc VAT\nFront disc,not working,45.00\n").doubts
    assert doubt.mend.split('"')[1] == "not working=not on offer"
