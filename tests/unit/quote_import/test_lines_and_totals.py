"""Prices that stand in the totals of lines alone, and what lines of text say of deposits, sections and the tax."""

from __future__ import annotations

import pytest

from optimiser.money import Currency
from optimiser.quote_import import Told, heeding
from optimiser.quote_import.headings import meaning

ORDER = "Qty,Part,Condition,Amount\n2,Front disc,new,90.00\n1,Starter motor,used,30.00\n"
RECON = "Part,Condition,Price inc VAT,Surcharge\nStarter motor,recon,90.00,25.00\n"


def test_the_total_of_a_line_is_parted_where_the_foot_proves_it(taken):
    understood = taken(f"{ORDER},Total,,120.00\n")
    assert ([row.price_minor for row in understood.rows], understood.doubts) == ([4500, 3000], ())
    assert understood.rows[0].working == "90.00 for 2 = 45.00"


@pytest.mark.parametrize("foot", ["", ",Total,,210.00\n"])
def test_a_total_that_nothing_proves_is_no_price(taken, foot):
    assert "price" in [problem.key for problem in taken(f"{ORDER}{foot}").doubts]


def test_a_total_with_deposits_in_it_is_no_price(taken):
    sheet = "Qty,Part,Condition,Core,Amount\n2,Front disc,new,,90.00\n1,Starter motor,recon,25.00,115.00\n"
    assert taken(f"{sheet},Total,,,205.00\n").rows == ()


def test_a_total_less_the_discount_of_its_line_is_what_is_paid(taken):
    rows = "Front disc,new,2,50.00,10%,90.00\nStarter motor,used,1,40.00,5%,38.00\n"
    understood = taken(f"Part,Condition,Qty,Unit price,Discount,Amount\n{rows}")
    assert ([row.price_minor for row in understood.rows], understood.doubts) == ([4500, 3800], ())


def test_totals_and_their_sum_may_have_the_deposits_in_them(taken):
    rows = "Front disc,new,2,45.00,,90.00\nStarter motor,recon,1,60.00,25.00,85.00\n"
    understood = taken(f"Part,Condition,Qty,Price each,Surcharge,Line total\n{rows},,,,Total,175.00\n")
    assert understood.doubts == ()
    assert [(row.price_minor, row.deposit_minor) for row in understood.rows] == [(4500, 0), (6000, 2500)]


@pytest.mark.parametrize(
    ("line", "price"),
    [("The surcharge is refunded within 28 days when your old unit comes back", 9000),
     ("Surcharges come on top - no VAT on them", 9000), ("All prices include the surcharge", 6500),
     ("Surcharges are extra and are not taxed", 9000), ("Surcharges are not included in the prices", 9000),
     ("It is refunded in full when we have your old unit.", 9000)],
)  # fmt: skip
def test_what_holds_of_every_deposit_is_followed(taken, line, price):
    understood = taken(f"{RECON}{line}\n")
    assert ([row.price_minor for row in understood.rows], understood.doubts) == ([price], ())


@pytest.mark.parametrize(
    "line",
    ["Surcharge plus VAT", "The surcharge is only refunded on sound units", "Surcharge is not refunded",
     "It is not refunded without your old unit", "Half of it is refunded for your old unit",
     "Two thirds of it come back for your old unit", "Two thirds of the surcharge come back for your old unit",
     "Surcharge is not included nor refunded", "Surcharge does not include VAT",
     "Prices include fitting but the surcharge is extra", "Surcharge refunded less 10%"],
)  # fmt: skip
def test_terms_of_deposits_are_asked_about(taken, line):
    understood = taken(f"{RECON}{line}\n")
    assert [row.price_minor for row in understood.rows] == [9000]
    assert understood.doubts
    assert not any("deposit 28" in problem.mend or "--ex-tax" in problem.mend for problem in understood.doubts)


NOTE = "Oddlode Rebuilds\n\nAs agreed, all reconditioned, prices include VAT:\n\n"
NOTE += "Starter motor      £110.00\nFront disc   £72.00\n\n"


def test_a_letter_that_says_the_deposit_in_each_price(taken):
    line = "Each price already includes a £20.00 deposit, which you get back when you return your old unit."
    understood = taken(f"{NOTE}{line}\n", name="reply.txt")
    assert [(row.price_minor, row.deposit_minor) for row in understood.rows] == [(9000, 2000), (5200, 2000)]
    assert understood.doubts == ()


@pytest.mark.parametrize(
    "line",
    ["Each price includes a £20.00 deposit unless it is new", "Each price includes a $20.00 deposit",
     "Each price includes a £20.00 deposit plus VAT",
     "Each price does not include the £20.00 deposit", "Each price includes a deposit of £20.00 or £30.00"],
)  # fmt: skip
def test_a_deposit_in_each_price_with_more_said_of_it_is_asked_about(taken, line):
    assert taken(f"{NOTE}{line}\n", name="reply.txt").doubts


def test_no_number_of_days_is_proposed_as_a_deposit(taken):
    (problem,) = taken(f"{RECON}Surcharge is only refunded within 28 days\n").doubts
    assert "deposit 28" not in problem.mend


def test_a_deposit_before_tax_has_it_added(taken):
    sheet = "Part,Condition,Price ex VAT,Surcharge ex VAT\nStarter motor,recon,100.00,20.00\n"
    (row,) = taken(f"{sheet}VAT at 20% is added to all prices\n").rows
    assert (row.price_minor, row.deposit_minor) == (12000, 2400)
    (problem,) = taken(sheet).doubts
    assert problem.key == "price"


def test_sections_of_two_suppliers_one_of_whom_adds_no_tax(taken):
    first = "Supplier: Oddlode Rebuilds\nAll reconditioned. Add VAT at 25% to these\nPart,Price\nStarter motor,80.00\n"
    second = (
        "Supplier: Mossback Yard\nAll used. No VAT on these - he is not registered\nPart,Price\nStarter motor,40.00\n"
    )
    understood = taken(f"{first}\n{second}", name="ring round.csv")
    assert understood.doubts == ()
    assert [(row.supplier, row.condition, row.price_minor) for row in understood.rows] == [
        ("oddlode", "refurbished", 10000),
        ("mossback", "salvage", 4000),
    ]


@pytest.mark.parametrize(
    ("section", "condition"),
    [("USED - all tested before removal", "salvage"), ("New: old shop stock", "new"), ("NEW - Ford Transit", None)],
)
def test_a_section_may_say_more_of_its_goods_in_common_words(taken, section, condition):
    rows = taken(f"Part,Price inc VAT\n{section}\nFront disc,40.00\n").rows
    assert [row.condition for row in rows] == [condition] * bool(condition)


def test_a_condition_of_whatever_says_none_itself(taken):
    rows = "Front disc,40.00,\nStarter motor,30.00,used\n"
    understood = taken(f"Part,Price inc VAT,Remarks\n{rows}Parts are new unless the remarks say used\n")
    assert ([row.condition for row in understood.rows], understood.doubts) == (["new", "salvage"], ())


@pytest.mark.parametrize(
    ("line", "is_settled"),
    [("I am a private seller", True), ("There is no VAT to add", True), ("VAT is already in the prices", True),
     ("No VAT on exports", False), ("There is no VAT in the prices", False)],
)  # fmt: skip
def test_what_is_in_the_price_and_what_may_not_be(taken, line, is_settled):
    understood = taken(f"Part,Condition,Price\nFront disc,new,40.00\n{line}\n")
    assert (understood.doubts == ()) is is_settled
    assert [row.price_minor for row in understood.rows] == [4000]


@pytest.mark.parametrize(
    ("heading", "column", "kind"),
    [("Precio antes", "ignore", "references"), ("Preis jetzt", "price", ""), ("List price new", "ignore", "references"),
     ("Price per box", "price", ""), ("Pris pr. pakke ekskl. moms", "price", ""), ("Unit inc VAT", "unit_price", ""),
     ("PU net TTC", "unit_price", ""), ("Surcharge in price", "deposit", "")],
)  # fmt: skip
def test_words_beside_the_word_for_a_price(heading, column, kind):
    found = meaning(heading, Currency.of("EUR"))
    assert (found.column, found.kind) == (column, kind)


def test_a_price_per_carton_of_unknown_size_is_asked_about(taken):
    sheet = "Part,Condition,Price per carton inc VAT\nFront disc,new,40.00\n"
    (problem,) = taken(sheet).doubts
    assert problem.key == "pack"
    (row,) = taken(sheet, Told(packs={"Price per carton inc VAT": "4"})).rows
    assert (row.price_minor, row.pack) == (4000, 4)


@pytest.mark.parametrize(("saved", "asked"), [("20%", []), ("50%", ["discount"])])
def test_savings_in_percent_follow_from_an_earlier_price(taken, saved, asked):
    sheet = f"Part,Condition,RRP,Was,Price inc VAT,You save\nFront disc,new,24.95,21.00,16.80,{saved}\n"
    assert [problem.key for problem in taken(sheet).doubts] == asked


def test_headings_that_a_line_explains(taken):
    sheet = "Qty,Part,Condition,Price inc VAT\n3,Front disc,new,40.00\n"
    assert taken(sheet).doubts
    understood = taken(f"{sheet}Qty is what is in stock\n")
    assert ([row.stock for row in understood.rows], understood.doubts) == ([3], ())


def test_remarks_that_are_all_packs(taken):
    sheet = "Part,Condition,Price inc VAT,Notes\nFront disc,new,40.00,the pair\nStarter motor,new,30.00,each\n"
    assert [row.pack for row in taken(sheet).rows] == [2, 1]


def test_a_reconditioned_part_that_was_never_fitted(taken):
    (row,) = taken("Part,Condition,Price inc VAT\nFront disc,reconditioned and never fitted,40.00\n").rows
    assert row.condition == "refurbished"


def test_a_comma_in_a_sentence_parts_no_columns(taken):
    understood = taken("Piezas usadas, precios con IVA incluido\nFront disc;48,00\nStarter motor;30,00\n")
    assert [row.price_minor for row in understood.rows] == [4800, 3000]


def test_a_trade_price_beside_the_retail_price_is_told(taken):
    understood = taken("Part,Condition,Trade,Retail\nFront disc,new,40.00,52.00\n")
    assert [row.price_minor for row in understood.rows] == [4000]
    assert 'the price is the one under "Trade", and not the one under "Retail"' in understood.cautions


def test_papers_and_single_sales_are_passed_over():
    assert [heeding.kind(text) for text in ("Delivery note 2207", "sold singly", "sold")] == ["", "", "sale"]


@pytest.mark.parametrize("line", ["Front disc 40 to 45 quid", "Front disc 2 for £5", "Front disc from 40 quid"])
def test_a_sum_that_is_no_price_by_itself_parts_no_typed_line(taken, line):
    understood = taken(f"All used, prices inc VAT\nStarter motor 30 quid\n{line}\n", name="oddlode.txt")
    assert [row.part for row in understood.rows] == ["starter-motor"]
    assert [problem.found for problem in understood.doubts] == [f'"{line}"']


def test_duty_and_deposits_of_unknown_height_are_not_guessed(taken):
    sheet = "Part,Condition,Price\nStarter motor,recon,90.00\n"
    (duty,) = taken(f"{sheet}Duty and VAT for buyer's account\n").doubts
    assert "--ex-tax" not in duty.mend
    line = "Units plus surcharge, amount on request"
    told = Told(words={line.replace(",", " -"): "deposit 40"})
    understood = taken(f"{sheet}{line.replace(',', ' -')}\n", told)
    assert ([row.deposit_minor for row in understood.rows], understood.doubts) == ([4000], ())


def test_what_is_to_pay_for_a_line_with_its_tax_is_parted(taken):
    """Own arithmetic: 2 x 32.00 and 12.80 of tax are 76.80, so 38.40 each."""
    rows = "Front disc,new,2,32.00,64.00,12.80,76.80\nStarter motor,used,1,45.00,45.00,9.00,54.00\n"
    understood = taken(f"Part,Condition,Qty,Unit net,Net,VAT 20%,Gross\n{rows}")
    assert ([row.price_minor for row in understood.rows], understood.doubts) == ([3840, 5400], ())


def test_a_heading_that_speaks_of_a_deposit_is_proposed_as_one(taken):
    heading = "Core returned against your old unit"
    (doubt,) = taken(f"Part,Condition,Price inc VAT,{heading}\nStarter motor,recon,90.00,25\n").doubts
    assert f'if it comes on top of each exchange part, --map "{heading}=deposit"' in doubt.mend
