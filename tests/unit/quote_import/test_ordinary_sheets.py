"""What suppliers ordinarily send: terms, measures, lists and sums that were once passed over or asked about."""

from __future__ import annotations

from dataclasses import replace

import pytest

from optimiser.money import Currency
from optimiser.quote_import import Told
from tests.unit.quote_import.conftest import KNOWN

HOSE = replace(KNOWN, parts={"coolant-hose": "Coolant hose", "alternator": "Alternator"})
ROWS = "Part,Condition,Price\nStarter motor,used,40\nFront brake disc,new,33\n"


def asked(understood) -> list[str]:
    return [problem.key for problem in understood.doubts]


@pytest.mark.parametrize(
    ("line", "about"),
    [
        ("Port dû", "postage"),
        ("All prices ex works", "postage"),
        ("Preise ab Werk", "postage"),
        ("Alle Preise unfrei", "postage"),
        ("Prices are last year's", "outdated"),
        ("Vorjahrespreise", "outdated"),
    ],
)
def test_terms_around_the_rows_are_asked_about(taken, line, about):
    assert asked(taken(f"{line}\n{ROWS}")) == [about]
    assert asked(taken(f"{ROWS}{line}\n")) == [about]


def test_what_was_fitted_last_year_says_nothing_of_its_price(taken):
    assert asked(taken("Part,Condition,Price,Notes\nStarter motor,used,40,fitted last year\n")) == []


@pytest.mark.parametrize(
    "title",
    ["Trade counter list - November 2026", "Price list 2026", "Estimate 311 - front brakes", "Precio para coche"],
)
def test_titles_say_nothing_of_money(taken, title):
    assert asked(taken(f"{title}\n{ROWS}")) == []


def test_whole_numbers_below_prices_in_pence_are_pence(taken):
    understood = taken(f"All prices in pence\n{ROWS}")
    assert [row.price_minor for row in understood.rows] == [40, 33]
    assert "the prices are in the smallest coin, as the sheet says" in understood.cautions
    assert asked(taken(f"All prices in pence\n{ROWS.replace('33', '33.50')}")) == ["currency"]


@pytest.mark.parametrize("cell", ["4.50/m", "£4.50 per metre", "4.50 pro Meter", "£4.50 a metre"])
def test_a_price_by_the_metre_says_so_in_its_mend(taken, cell):
    (problem,) = taken(f"Part,Condition,Price\nCoolant hose,new,{cell}\n", known=HOSE).doubts
    assert "if you will pay that for all that you need, and not for one m" in problem.mend.lower()


def test_a_heading_by_the_metre_says_so_in_its_mend(taken):
    (problem,) = taken("Part,Condition,Price per m\nCoolant hose,new,4.50\n", known=HOSE).doubts
    assert "if you need one m," in problem.mend
    assert problem.mend.endswith('--map "Price per m=price"')


def test_a_name_by_the_metre_is_asked_about(taken):
    told = Told(parts={"Coolant hose, le mètre": "coolant-hose"})
    understood = taken('Part,Condition,Price\n"Coolant hose, le mètre",new,4.50\n', told, known=HOSE)
    assert asked(understood) == ["pack"]


def test_a_measure_is_no_supplier(taken):
    understood = taken("Part,Condition,Price,Sold by\nCoolant hose,new,4.50,metre\n", known=HOSE)
    assert [row.supplier for row in understood.rows] == ["oddlode"]
    assert asked(understood) == ["pack"]


@pytest.mark.parametrize(("heading", "days"), [("Weeks", 14), ("Wochen", 14), ("Days", 2)])
def test_a_unit_of_time_alone_is_a_heading(taken, heading, days):
    (row,) = taken(f"Part,Condition,Price,{heading}\nStarter motor,used,40,2\n").rows
    assert row.lead_days == days


@pytest.mark.parametrize(
    "text",
    [
        "1, Front brake disc, 24.00\n2, Starter motor, 31.00\n",
        "1. Front brake disc, 24.00\n2. Starter motor, 31.00\n",
        "Front brake disc £24.00\nStarter motor £31.00\n",
    ],
)
def test_a_typed_list_is_read(taken, text):
    understood = taken(text, Told(condition="salvage"))
    assert [(row.part, row.price_minor) for row in understood.rows] == [("front-disc", 2400), ("starter-motor", 3100)]
    assert asked(understood) == []


def test_a_sentence_before_an_amount_is_no_name(taken):
    text = "Starter motor - used - £40\nIf both of them are taken together the price is £60\n"
    assert [row.part for row in taken(text).rows] == ["starter-motor"]
    assert asked(taken(text)) == ["discount"]


def test_a_chat_is_to_be_typed_off(refused):
    chat = "[12:04] Me: have you a starter motor?\n[12:09] Jory: starter motor used £30\n[12:15] Me: £25?\n"
    assert refused(chat).mend == "type its prices into a sheet with the columns part, condition, price"


@pytest.mark.parametrize(("cell", "likely"), [("thirty or forty pounds", "40"), ("a couple of quid", "not on offer")])
def test_an_amount_in_words_is_never_proposed_as_one(taken, cell, likely):
    (problem,) = taken(f"Part,Condition,Price\nStarter motor,used,{cell}\n").doubts
    assert f'--word "{cell}={likely}"' in problem.mend
    assert "=1" not in problem.mend


def test_tables_side_by_side_are_taken_apart(taken):
    text = (
        "Oddlode Rebuilds,,,,Mossback Yard,,\n"
        "Part,Condition,Price,,Part,Condition,Price\n"
        "Starter motor,used,40,,Front brake disc,new,33\n"
        "Front brake disc,new,35,,,,\n"
    )
    rows = [(row.part, row.supplier, row.price_minor) for row in taken(text, name="both.csv").rows]
    assert rows == [
        ("starter-motor", "oddlode", 4000),
        ("front-disc", "oddlode", 3500),
        ("front-disc", "mossback", 3300),
    ]


ROWS_OF_ORDER = "Front brake disc,new,2,30.00,60.00\nStarter motor,used,1,10.00,10.00\n"
ORDER = f"Order 88\nPart,Condition,Qty,Price,Total\n{ROWS_OF_ORDER}"


@pytest.mark.parametrize(
    ("foot", "prices", "about"),
    [
        (",,,Net,70.00\n,,,VAT,14.00\n,,,Total,84.00\n", [3600, 1200], []),
        (",,,Goods,70.00\n,,,Carriage,10.00\n,,,VAT,16.00\n,,,Total due,96.00\n", [3600, 1200], ["postage"]),
        (",,,of which VAT,12.00\n,,,Total,70.00\n", [3000, 1000], ["tax"]),  # no whole percentage
        (",,,VAT,14.00\n,,,Total,70.00\n", [3000, 1000], ["tax"]),
        (",,,of which VAT 25 %,14.00\n,,,Total,70.00\n", [3000, 1000], []),
        (",,,Net total,70.00\n,,,VAT 25 %,14.00\n", [3000, 1000], ["tax"]),
        (",,,Discount,-14.00\n,,,VAT 25 %,14.00\n,,,Total,70.00\n", [3000, 1000], ["discount", "tax"]),
    ],
)
def test_sums_at_the_foot_prove_whether_the_tax_is_in_the_prices(taken, foot, prices, about):
    understood = taken(ORDER + foot)
    assert [row.price_minor for row in understood.rows] == prices
    assert asked(understood) == about


def test_a_unit_price_is_known_by_the_totals(taken):
    text = f"Part,Condition,Qty,Unit,Total\n{ROWS_OF_ORDER}"
    assert [row.price_minor for row in taken(text).rows] == [3000, 1000]


def test_a_name_is_sure_in_its_language(taken):
    swedish = taken("Del;Skick;Pris\nGenerator;begagnad;600\n", known=replace(HOSE, currency=Currency.of("SEK")))
    assert [row.part for row in swedish.rows] == ["alternator"]
    assert asked(taken("Part;Condition;Price\nGenerator;used;600\n", known=HOSE)) == ["part"]


def test_postage_in_a_row_is_settled_by_its_own_words(taken):
    text = "Shop,Part,Condition,Price\nOkel Motors,Starter motor,used,40\nOkel Motors,Standard delivery,,5.95\n"
    (problem,) = taken(text).doubts
    assert '--word "Standard delivery=postage 5.95"' in problem.mend


@pytest.mark.parametrize(
    ("text", "name", "supplier"),
    [
        (f"Two Valleys Mowers - order 55120\n{ROWS}", "order 55120.csv", "two-valleys-mowers"),
        (f"Winkel: Zandpad\n{ROWS}", "lijst.csv", "zandpad"),
        (ROWS, "Autumn offers - Pellow Parts.csv", "pellow-parts"),
    ],
)
def test_whose_an_ordinary_sheet_is(taken, text, name, supplier):
    assert {row.supplier for row in taken(text, name=name).rows} == {supplier}


def test_used_parts_from_somebody_are_used(taken):
    understood = taken("Used parts from Jory, all tested\nPart,Price\nStarter motor,40\n")
    assert [row.condition for row in understood.rows] == ["salvage"]
    assert asked(understood) == []


def test_postage_below_prices_in_pence_is_in_pence(taken):
    text = "All prices in pence\nPart,Condition,Price,P&P\nStarter motor,used,4000,250\n"
    assert dict(taken(text, Told(columns={"P&P": "postage"})).postage) == {"oddlode": 250}


@pytest.mark.parametrize(
    ("heading", "minor"), [("P&P (p)", 250), ("Postage (pence)", 250), ("P&P", 25000), ("P+P", 25000)]
)
def test_the_coin_of_postage_is_that_of_its_own_heading(taken, heading, minor):
    text = f"Part,Condition,Price (p),{heading}\nStarter motor,used,4000,250\n"
    assert dict(taken(text, Told(columns={heading: "postage"})).postage) == {"oddlode": minor}


def test_a_line_of_two_sentences_in_a_typed_list_stays_one(taken):
    understood = taken("Starter motor  £18\nFront brake disc  £45\nAll used. Postage £4 on both\n")
    assert [row.condition for row in understood.rows] == ["salvage", "salvage"]
    assert asked(understood) == ["postage"]


def test_the_rating_of_a_seller_says_nothing_of_money(taken):
    assert asked(taken("Part,Condition,Price,Rating\nStarter motor,used,40,99.8%\nFront brake disc,new,33,98%\n")) == []
    assert asked(taken("Part,Condition,Price,Handling\nStarter motor,used,40,5%\n")) != []
