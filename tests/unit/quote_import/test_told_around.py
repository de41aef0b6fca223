"""What a sheet says around its rows: whose it is, footnotes, days, conditions of everything, shops above the prices."""

from __future__ import annotations

from datetime import date

import pytest

from optimiser.quote_import import Told
from optimiser.quote_import.naming import of_file_name

ROWS = "Part,Condition,Price inc VAT\nFront disc,new,40.00\n"
UNSAID = "Part,Price inc VAT\nFront disc,40.00\n"


@pytest.mark.parametrize(
    ("line", "supplier"),
    [("Prices from Kelder Motor Spares", "kelder-motor-spares"), ("Kelder Parts", "kelder-parts"),
     ("Your quote from Jory", "jory"), ("Brake parts", "sheet"), ("Boat Parts", "sheet"),
     ("Price list from January", "sheet"), ("Offers from Monday", "sheet")],
)  # fmt: skip
def test_whose_a_sheet_is_by_the_line_above(taken, line, supplier):
    (row,) = taken(f"{line}\n{ROWS}", name="sheet.csv", told=Told(supplier="" if supplier != "sheet" else "sheet")).rows
    assert row.supplier == supplier


def test_a_title_that_names_nobody_leaves_the_supplier_open(taken):
    (problem,) = taken(f"Boat Parts\n{ROWS}", name="price list.csv").doubts
    assert problem.key == "supplier"


def test_a_name_above_that_is_not_the_files_is_asked_about(taken):
    (problem,) = taken(f"Kelder Bits and Bobs\n{ROWS}", name="denzil.csv").doubts
    assert problem.mend == "say which: --supplier kelder-bits-and-bobs or --supplier denzil"
    assert taken(f"Kelder Bits and Bobs\n{ROWS}", Told(supplier="denzil"), "denzil.csv").doubts == ()


def test_a_file_called_by_ordinary_words_names_no_supplier(taken):
    (row,) = taken(f"Kelder Bits and Bobs\n{ROWS}", name="used brakes.csv").rows
    assert row.supplier == "kelder-bits-and-bobs"


@pytest.mark.parametrize(
    ("name", "firm"),
    [("kelder-parts.csv", "kelder parts"), ("kelder parts list.csv", "kelder"),
     ("KELDER SPARES PRICE LIST.xlsx", "kelder spares"), ("used parts.csv", ""), ("spare parts.csv", "")],
)  # fmt: skip
def test_goods_in_a_files_name(name, firm):
    assert of_file_name(name) == firm


def test_a_file_called_by_goods_and_a_condition_names_nobody(taken):
    (problem,) = taken(ROWS, name="pieces occasion.csv").doubts
    assert problem.mend.endswith("--supplier THEIR-NAME")


def test_a_name_in_the_line_above_is_put_forward(taken):
    (problem,) = taken(f"from Bertram at the allotments\n{ROWS}", name="quote.csv").doubts
    assert problem.mend.endswith("--supplier bertram-at-the-allotments")


def test_two_firms_in_one_line_are_the_name_of_none(taken):
    rows = "Part,Condition,Price per 10,Price each\nFront disc,new,300,40\n"
    (problem, *_) = taken(f",,Kelder Motors,Jory Yard\n{rows}", name="quote.csv").doubts
    assert problem.key == "supplier"


@pytest.mark.parametrize("mark", ["(1)", "[1]", "1)", "\N{SUPERSCRIPT ONE}"])
def test_the_mark_of_a_footnote_is_no_pack(taken, mark):
    understood = taken(f"Part,Condition,Price\nFront disc {mark},new,40.00\n{mark} priced each\n")
    assert understood.doubts == ()
    assert [(row.part, row.pack) for row in understood.rows] == [("front-disc", 1)]


def test_what_a_footnote_says_of_money_is_asked_about(taken):
    (problem,) = taken("Part,Condition,Price\nFront disc (1),new,40.00\n(1) plus £5 surcharge\n").doubts
    assert problem.found == '"plus £5 surcharge"'


@pytest.mark.parametrize(
    ("above", "until"),
    [("Quote date 20/11/2026\nValid for 30 days", date(2026, 12, 20)),
     ("Quote date,20/11/2026\nValid for,2 weeks", date(2026, 12, 4)),
     ("Offer valid until,24 December 2026", date(2026, 12, 24))],
)  # fmt: skip
def test_the_last_day_counts_from_the_day_it_was_written(taken, above, until):
    (row,) = taken(f"{above}\n{ROWS}").rows
    assert row.valid_until == until


@pytest.mark.parametrize("above", ["Valid for 30 days", "Delivery on 20/11/2026\nValid for 30 days"])
def test_a_span_from_no_known_day_is_asked_about(taken, above):
    assert "valid" in [problem.key for problem in taken(f"{above}\n{ROWS}").doubts]


@pytest.mark.parametrize("said", ["All units fully reconditioned in our own workshop", "Alle Teile überholt"])
def test_a_line_below_may_say_it_of_everything(taken, said):
    (row,) = taken(f"{UNSAID}{said}\n").rows
    assert row.condition == "refurbished"


@pytest.mark.parametrize("said", ["USED PARTS", "All parts are used. Grade A: tested", "Some parts are used"])
def test_a_line_below_that_says_something_else_is_no_condition_of_everything(taken, said):
    assert taken(f"{UNSAID}{said}\n").rows == ()


@pytest.mark.parametrize(
    ("heading", "condition"), [("Rebuilt unit", "refurbished"), ("Gebrauchte Teile", "salvage"), ("Part", None)]
)
def test_the_heading_of_the_parts_may_name_their_condition(taken, heading, condition):
    rows = taken(f"{heading},Price inc VAT\nFront disc,40.00\n").rows
    assert [row.condition for row in rows] == ([condition] if condition else [])


@pytest.mark.parametrize(
    ("sheet", "stock"),
    [("Part,Condition,Price,Qty\nFront disc,used,40,2\nRear shoe,used,9,1\n", [2, 1]),
     ("Part,Condition,Price,Qty\nFront disc,used,40,2\nRear shoe,new,9,1\n", [None, None]),
     ("Our order\nPart,Condition,Price,Qty\nFront disc,used,40,2\nRear shoe,used,9,1\n", [None, None])],
)  # fmt: skip
def test_quantities_of_used_parts_are_what_is_to_be_had(taken, sheet, stock):
    understood = taken(sheet)
    assert [row.stock for row in understood.rows] == stock
    assert bool(understood.doubts) == (stock == [None, None])


def test_the_retail_price_is_the_price_where_no_other_is(taken):
    (row,) = taken("Part,Condition,Retail price\nFront disc,new,40.00\n").rows
    assert row.price_minor == 4000
    (row,) = taken("Part,Condition,Retail price,Price\nFront disc,new,50.00,40.00\n").rows
    assert row.price_minor == 4000
    assert taken("Part,Condition,Retail price,Discount\nFront disc,new,50.00,20%\n").doubts


@pytest.mark.parametrize(
    ("heading", "taken_so"), [("What they want for it", True), ("Fitted", False), ("Hire a week", False)]
)
def test_sums_of_money_under_a_persons_own_heading(taken, heading, taken_so):
    understood = taken(f"Part,Condition,{heading}\nFront disc,new,£40\n")
    assert bool(understood.rows) == taken_so
    assert bool(understood.doubts) != taken_so


def test_firms_under_a_persons_own_heading_are_suppliers_unless_the_sheet_is_a_firms(taken):
    sheet = "Part,Where I saw it,Condition,Price\nFront disc,Kelder Stores,new,40\n"
    assert [row.supplier for row in taken(sheet).rows] == ["kelder-stores"]
    (problem,) = taken(f"Hendra Motors\n{sheet}").doubts
    assert problem.mend == 'say which: --map "Where I saw it=supplier" or --map "Where I saw it=ignore"'


SHOPS = "Part,Condition,Kelder Stores,Hendra Motors,Cheapest\nFront disc,new,40.00,39.00,Hendra Motors\n"


def test_shops_that_nobody_knows_are_asked_about_all_at_once(taken):
    (problem,) = taken(SHOPS).doubts
    assert '--supplier "Kelder Stores=kelder-stores" --supplier "Hendra Motors=hendra-motors"' in problem.mend
    told = Told(suppliers={"Kelder Stores": "kelder-stores", "Hendra Motors": "hendra"})
    understood = taken(SHOPS, told)
    assert understood.doubts == ()
    assert [(row.supplier, row.price_minor) for row in understood.rows] == [("kelder-stores", 4000), ("hendra", 3900)]
    assert any("stand side by side" in said for said in understood.cautions)


@pytest.mark.parametrize(
    "told", [Told(columns={"Kelder Stores": "price", "Hendra Motors": "ignore"}), Told(supplier="kelder")]
)
def test_shops_are_no_shops_where_a_person_says_so(taken, told):
    understood = taken(SHOPS, told)
    assert {row.supplier for row in understood.rows} <= {"oddlode", "kelder"}


def test_a_total_below_each_shop_is_passed_over_only_if_it_is_one(taken):
    known = "Part,Condition,Oddlode Rebuilds,Mossback Yard\nFront disc,new,40.00,39.00\nRear shoe,new,9.00,\n"
    known += "Total,,49.00,{}\n"
    assert taken(known.format("39.00")).doubts == ()
    assert taken(known.format("36.00")).doubts


def test_other_money_beside_the_jobs_is_left_out(taken):
    understood = taken("Part,Condition,Price GBP,Price EUR\nFront disc,new,40.00,46.00\n")
    assert understood.doubts == ()
    assert [row.price_minor for row in understood.rows] == [4000]


@pytest.mark.parametrize(
    ("line", "asked"), [("Open Monday to Friday 8.30 to 5.30, Saturday 9-1", False), ("Saturday 8.30 extra", True)]
)
def test_the_hours_of_a_shop_are_no_money(taken, line, asked):
    assert bool(taken(f"{line}\n{ROWS}").doubts) == asked


def test_the_sum_of_a_section_is_no_news(taken):
    rows = "Part,Condition,Qty,Price each inc VAT,Total\nFront disc,new,2,40.00,80.00\nSection total,,,,{}\n"
    rows += "Rear shoe,new,1,9.00,9.00\n"
    assert taken(rows.format("80.00") + "Total,,,,89.00\n").doubts == ()
    assert taken(rows.format("81.00") + "Total,,,,89.00\n").doubts


@pytest.mark.parametrize(
    ("unit", "price"), [("Unit", "Price per unit"), ("VPE", "Preis/VPE"), ("Einheit", "Preis pro Einheit")]
)
def test_a_price_per_unit_is_that_of_the_unit_beside_it(taken, unit, price):
    (row,) = taken(f"Part,Condition,{unit},{price}\nFront disc,new,box of 20,30.00\n").rows
    assert (row.price_minor, row.pack) == (3000, 20)
