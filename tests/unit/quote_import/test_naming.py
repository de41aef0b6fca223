"""Which part, supplier and condition are meant."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from optimiser.model.imports import How, Told
from optimiser.money import Currency
from optimiser.quote_import import Known, row_values
from optimiser.quote_import.matching import CLOSE, Names
from optimiser.quote_import.naming import of_file_name

PARTS = {
    "front-disc": "Front brake disc",
    "rear-disc": "Rear brake disc",
    "headlamp-ns": "Headlamp n/s",
    "headlamp-os": "Headlamp o/s",
    "bulb-h4": "Bulb H4",
    "bulb-h7": "Bulb H7",
    "hose-a": "Coolant hose",
    "hose-b": "Coolant hose",
}


@pytest.mark.parametrize(
    ("written", "part", "how"),
    [
        ("front-disc", "front-disc", How.EXACT),
        ("FRONT DISC", "front-disc", How.EXACT),
        ("Front  Brake Disc", "front-disc", How.EXACT),
        ("Front brake disk", "front-disc", How.CLOSE),
        ("brake disc, front", "front-disc", How.CLOSE),
        ("Front brake discs", "front-disc", How.CLOSE),
        ("Rear brake disk", "rear-disc", How.CLOSE),
        ("brake disc", None, None),
        ("middle brake disc", None, None),
        ("Headlamp N/S", "headlamp-ns", How.EXACT),
        ("headlamps o/s", "headlamp-os", How.CLOSE),
        ("bulb h1", None, None),
        ("bulbs h7", "bulb-h7", How.CLOSE),
        ("coolant hose", None, None),
        ("hose-a", "hose-a", How.EXACT),
        ("DX-77", "rear-disc", How.ALIAS),
        ("???", None, None),
        ("", None, None),
        ("x" * 5000, None, None),
    ],
)
def test_parts(written, part, how):
    match = Names(PARTS, {"dx 77": "rear-disc"}).find(written)
    assert (match and match.id) == part
    assert (match and match.how) == how
    if match and how is How.CLOSE:
        assert match.likeness >= CLOSE


def test_between_two_that_are_as_near_there_is_no_choice():
    seals = Names({"valve-seal": "Valve seals", "valve-seat": "Valve seats"}, {})
    assert seals.find("Valve sealt") is None
    assert seals.find("Valve sealss").id == "valve-seal"


def test_the_nearest_three():
    assert Names(PARTS, {}).nearest("front brake pad")[0] == "front-disc"
    assert len(Names(PARTS, {}).nearest("brake")) <= 3


def test_an_unknown_part_is_shown_with_the_nearest(taken):
    (aside,) = taken("part,condition,price\nFront brake pads,new,5\n").aside
    assert aside.nearest[0] == "front-disc"
    assert len(aside.nearest) == 3


def test_two_parts_in_one_row(taken):
    (aside,) = taken("part,description,condition,price\nfront-disc,Starter motor,new,5\n").aside
    assert aside.kind == "part"
    assert "two parts" in aside.reason


def test_a_second_column_names_the_part_where_the_first_does_not(taken):
    (row,) = taken("part,description,condition,price\nXK-7,Starter motor,new,5\n").rows
    assert (row.part, row.note) == ("starter-motor", "XK-7")


@pytest.mark.parametrize(
    ("written", "supplier"),
    [
        ("oddlode", "oddlode"), ("Oddlode Rebuilds Ltd", "oddlode"), ("The ODDLODE REBUILDS Co.", "oddlode"),
        ("Odlode Rebuilds", "oddlode"), ("Oddlode", "oddlode"), ("Oddlode Rebuilds Northern Branch", "oddlode"),
        ("Mossback", "mossback"), ("Thripple Ltd", "thripple"),
    ],
)  # fmt: skip
def test_suppliers(taken, written, supplier):
    (row,) = taken(f"part,supplier,condition,price\nfront disc,{written},new,5\n").rows
    assert row.supplier == supplier


@pytest.mark.parametrize(
    ("name", "firm"),
    [("oddlode-rebuilds 2026-11-20.xlsx", "oddlode rebuilds"), ("Price list Mossback.csv", "mossback"),
     ("quotes (3).csv", ""), ("Book1.xlsx", ""), ("2026.csv", ""), ("x.csv", "")],
)  # fmt: skip
def test_a_firm_in_a_files_name(name, firm):
    assert of_file_name(name) == firm


def test_the_sheets_supplier_told_above_or_by_name(taken):
    sheet = "part,condition,price\nfront disc,new,5\n"
    assert taken(sheet, Told(supplier="mossback")).rows[0].supplier == "mossback"
    assert taken(sheet, name="Mossback prices.csv").rows[0].supplier == "mossback"
    assert taken("From: Mossback Yard;;\n" + sheet.replace(",", ";"), name="q.csv").rows[0].supplier == "mossback"


@pytest.mark.parametrize(
    ("written", "condition"),
    [
        ("new", "new"), ("Brand New", "new"), ("NOS", "new"), ("recon", "refurbished"), ("Re-built", "refurbished"),
        ("Service exchange", "refurbished"), ("used", "salvage"), ("S/H", "salvage"), ("2nd hand", "salvage"),
        ("breaker's", "salvage"), ("breaker\N{RIGHT SINGLE QUOTATION MARK}s", "salvage"), ("as new", "salvage"),
        ("pattern", "new"), ("OEM", "new"), ("genuine used", "salvage"), ("used - grade A", "salvage"),
        ("new and used", None), ("spares or repair", None), ("faulty, used", None), ("blue", None), ("", None),
    ],
)  # fmt: skip
def test_conditions(written, condition):
    assert row_values.condition(written)[0] == condition


def test_a_weak_word_says_nothing_in_the_name_of_a_part():
    assert row_values.condition("Genuine starter motor", strong_only=True)[0] is None


@pytest.mark.parametrize(
    ("cell", "count"),
    [("4", 4), ("4 pcs", 4), ("set of 4", 4), ("pair", 2), ("each", 1), (Decimal(3), 3), (Decimal("1.5"), None),
     ("1.5", None),
     ("2-3", None), ("-2", None), ("many", None), ("1234567890", None), (None, None), (date(2026, 1, 1), None)],
)  # fmt: skip
def test_counts(cell, count):
    assert row_values.count(cell) == count


@pytest.mark.parametrize(
    ("cell", "stock"),
    [("10", (True, 10)), ("10+", (True, 10)), (">5", (True, 5)), ("yes", (True, None)), ("In stock", (True, None)),
     ("no", (True, 0)), ("low", (False, None)), (Decimal(2), (True, 2))],
)  # fmt: skip
def test_stock(cell, stock):
    assert row_values.stock(cell) == stock


@pytest.mark.parametrize(
    ("cell", "times", "days"),
    [("3", 1, 3), ("3 days", 1, 3), ("2-3 days", 1, 3), ("1 week", 1, 7), ("2", 7, 14), ("2 days", 7, 2),
     ("next day", 1, 1),
     ("same day", 1, 0), ("48 hours", 1, 2), ("5 working days", 1, 5), ("a fortnight", 1, 14), ("soon", 1, None),
     (Decimal(4), 1, 4), ("", 1, None)],
)  # fmt: skip
def test_days(cell, times, days):
    assert row_values.days(cell, times) == days


@pytest.mark.parametrize(
    ("cell", "times", "months"),
    [("12", 1, 12), ("12 months", 1, 12), ("1 year", 1, 12), ("2", 12, 24), ("90 days", 1, 3), ("none", 1, 0),
     ("lifetime", 1, None), ("6 mths", 1, 6)],
)  # fmt: skip
def test_months(cell, times, months):
    assert row_values.months(cell, times) == months


@pytest.mark.parametrize(
    ("cell", "share"),
    [("0.9", 0.9), ("90%", 0.9), ("90", 0.9), ("full", 1.0), ("1", 1.0), ("no", 0.0), ("0", 0.0), ("maybe", None),
     (Decimal("0.7"), 0.7), ("100 %", 1.0), ("1%", 0.01)],
)  # fmt: skip
def test_shares(cell, share):
    assert row_values.share(cell) == share


@pytest.mark.parametrize(
    ("cell", "first", "day", "either"),
    [
        ("2026-12-31", None, date(2026, 12, 31), False),
        ("31/12/2026", None, date(2026, 12, 31), False),
        ("12/31/2026", None, date(2026, 12, 31), False),
        ("31.12.26", None, date(2026, 12, 31), False),
        ("5 Jan 2027", None, date(2027, 1, 5), False),
        ("5th January, 2027", None, date(2027, 1, 5), False),
        ("03/04/2026", None, date(2026, 3, 4), True),
        ("03/04/2026", True, date(2026, 4, 3), False),
        ("03/04/2026", False, date(2026, 3, 4), False),
        ("04/04/2026", None, date(2026, 4, 4), False),
        ("31/02/2026", None, None, False),
        ("soon", None, None, False),
        (date(2026, 1, 2), None, date(2026, 1, 2), False),
        (Decimal(5), None, None, False),
    ],
)
def test_dates(cell, first, day, either):
    assert row_values.day(cell, day_first=first) == (day, either)


@pytest.mark.parametrize(
    ("cells", "order"),
    [
        (["03/04/2026", "31/12/2026"], True),
        (["12/31/2026"], False),
        (["03/04/2026"], None),
        (["31/12/2026", "12/31/2026"], None),
    ],
)
def test_the_order_of_a_column_of_dates(cells, order):
    assert row_values.dates(cells) is order


SIDED = {"tail-lamp": "Rear lamp, nearside", "lamp-right": "Tail lamp right", "lamp-left": "Tail lamp left"}


@pytest.mark.parametrize(
    ("written", "part"),
    [
        ("Rear lamp N/S", "tail-lamp"),
        ("Rr lamp near side", "tail-lamp"),
        ("Lamp, back, NS", "tail-lamp"),
        ("Tail lamp R/H", "lamp-right"),
        ("Rear lamp O/S", None),
        ("Front lamp N/S", None),
        ("Tail lamp R", None),  # right, or rear
    ],
)
def test_the_words_for_a_side_mean_the_same_and_a_single_letter_means_none(written: str, part: str | None) -> None:
    match = Names(SIDED, {}).find(written)
    assert (match.id if match else None) == part
    assert match is None or match.how is How.CLOSE, "it is said how the name was read"


@pytest.mark.parametrize(
    ("sheet", "conditions"),
    [
        ("part,Off what,price\nfront disc,used,5\nrear shoe,new old stock,6\n", ["salvage", "new"]),
        ("part,Off what,price\nfront disc,used,5\nrear shoe,,6\n", ["salvage"]),
        ("part,Off what,price\nfront disc,used,5\nrear shoe,lorry,6\n", []),
        ("part,Off what,Come from,price\nfront disc,used,used,5\nrear shoe,new,new,6\n", []),
        ("part,Off what,condition,price\nfront disc,used,new,5\n", ["new"]),
    ],
)
def test_the_one_column_of_which_every_cell_is_a_condition_is_that_of_the_conditions(taken, sheet, conditions) -> None:
    understood = taken(sheet)
    assert [row.condition for row in understood.rows] == conditions
    hows = {heading.column: heading.how for heading in understood.headings}
    assert hows.get("condition") == {0: None}.get(len(conditions), How.EXACT if "condition" in sheet else How.CELLS)


def test_what_a_person_says_of_the_whole_sheet_goes_before_what_its_cells_look_like(taken) -> None:
    (row,) = taken("part,Off what,price\nfront disc,used,5\n", Told(condition="new")).rows
    assert row.condition == "new"


@pytest.mark.parametrize(
    "line", ["Your quote from Greenlow Mowers Ltd", "Prices by Greenlow Mowers Ltd", "Greenlow Mowers Ltd"]
)
def test_a_letterhead_is_the_firm_s_name_alone_and_said(taken, line):
    understood = taken(f"{line}\nPart,Condition,Price inc VAT\nStarter motor,New,40.00\n")
    assert [row.supplier for row in understood.rows] == ["greenlow-mowers"]
    assert any("Greenlow Mowers Ltd" in said and "supplier's name" in said for said in understood.cautions)


@pytest.mark.parametrize(
    ("title", "name", "asked"),
    [("Tyre 195/70 R15C", "Tyre 195/70 R15C 104R", 0), ("Tyre 195/70 R15C", "Tyre 205/70 R15C 104R", 1),
     ("Tyre 195/70 R15C 104R", "Tyre 195/70 R15C 98Q", 1), ("Tyre valve", "Tyre valve (rubber)", 0),
     ("Tyre valve (metal)", "Tyre valve (rubber)", 1), ("Tyre valve", "Tyre valve (rear)", 1),
     ("Bumper", "Rubber bumper", 1)],
)  # fmt: skip
def test_what_a_tyre_bears_and_a_material_in_brackets_name_no_other_part(taken, title, name, asked):
    known = Known({"it": title}, {}, Currency.of("GBP"))
    understood = taken(f"Part,Condition,Price inc VAT\n{name},new,20.00\n", known=known)
    assert (len(understood.doubts), len(understood.rows)) == (asked, 1 - asked)
