"""Sentences around the rows that say of everything what it is, or only seem to; letters, and how they wrap."""

from __future__ import annotations

from datetime import date

import pytest

from optimiser.money import Currency
from optimiser.quote_import import Known, Told, general_condition, heeding
from tests.unit.quote_import.conftest import KNOWN

ROWS = "Part,Price inc VAT\nFront disc,40.00\n"
OF_ODDLODE = Told(supplier="oddlode")


def quoted(line: str) -> str:
    return f'"{line}"\n{ROWS}'


@pytest.mark.parametrize(
    ("line", "condition"),
    [
        ("Alle deler er nye.", "new"),
        ("Listino ricambi nuovi", "new"),
        ("Oferta nº 318 - recambio nuevo", "new"),
        ("Repasované díly", "refurbished"),
        ("Všechny díly jsou použité", "salvage"),
        ("Vi har disse brugte dele liggende til din bil", "salvage"),
        ("Segue o preço das peças usadas que temos em armazém", "salvage"),
        ("Hier unsere Preise für die gebrauchten Teile", "salvage"),
        ("These are the second hand parts we have for your van", "salvage"),
        ("Everything is used but was working", "salvage"),
        ("Alles gebraucht, aber funktioniert", "salvage"),
        ("Parts off scrapped cars", "salvage"),
        ("All second hand obviously", "salvage"),
        ("All parts used. No refunds except where the law says so", "salvage"),
    ],
)
def test_a_sentence_says_of_everything_what_it_is(taken, line, condition):
    understood = taken(quoted(line), OF_ODDLODE)
    assert understood.doubts == ()
    assert [row.condition for row in understood.rows] == [condition]


@pytest.mark.parametrize(
    "line",
    [
        "Here are our prices, we also sell new parts",
        "Fin de stock : pièces neuves et d'occasion mélangées",
        "All used but the alternator",
        "All used but for the starter",
        "We have used parts for most makes",
        "These are mostly used parts we have",
        "Here is our new price list",
        "Here we have some used parts",
        "We buy used parts, see below what we have",
        "These used parts we have could be new ones",
        "We do not have these used parts, others follow",
        "Here we have new parts or used parts",
        "Diese Preise gelten auch für gebrauchte Teile",
        "Vi har også brugte dele her",
        "Ricambi nuovo listino",
        "Parts new price list",
        "Here is our new parts list with prices",
        "All parts are used, except the alternator",
        "Alle Teile sind gebraucht, außer dem Anlasser",
        "Here is our offer for your enquiry about used parts",
    ],
)
def test_a_sentence_that_is_not_of_everything_leaves_the_condition_open(taken, line):
    understood = taken(quoted(line), OF_ODDLODE)
    assert understood.rows == ()
    assert "condition" in {problem.key for problem in understood.doubts}


def test_a_sentence_that_a_letter_wraps_is_read_as_one(taken):
    letter = (
        "From: Kelder Bike Breakers\n\nHiya Col,\n\n"
        "Had a look along the shelves and this is what we've got, off one that came in with a bent frame. All second\n"
        "hand obviously. Prices have the VAT in them.\n\n"
        "Front disc .... £48.00\nStarter motor .... £65.00\n\nCheers\nKelder Bike Breakers\n"
    )
    understood = taken(letter, name="re bits.txt")
    assert understood.doubts == ()
    assert [(row.supplier, row.condition) for row in understood.rows] == [("kelder-bike-breakers", "salvage")] * 2


def test_a_row_below_a_long_line_is_no_part_of_it(taken):
    long = "here is everything that we have got for you from the old van that we had here last year"
    understood = taken(
        f"From: Kelder Breakers\nAll parts used\n\n{long}\nfront disc £48.00\nstarter motor £65.00\n",
        name="re bits.txt",
    )
    assert len(understood.rows) == 2


@pytest.mark.parametrize(
    ("line", "asked"),
    [("All used, off my own one before she went for scrap", ""),
     ("All used, off one before it was sold, negotiable", "sale"),
     ("All used, off my van before she goes for scrap to you", "sale")],
)  # fmt: skip
def test_what_became_of_the_vehicle_is_no_sale_of_a_part(line, asked):
    assert heeding.kind(line) == asked


@pytest.mark.parametrize("line", ["Hej Bent", "Hiya Col,", "Dobrý den", "Dear Mr Bent,", "Good morning Bent"])
def test_whom_a_letter_speaks_to_is_no_sale(line):
    assert heeding.kind(line) == ""


@pytest.mark.parametrize(
    "line", ["Hello, one is bent", "Bent", "Hi Bent, £40 deposit", "God Rabatt", "Mirror off a van, bent"]
)
def test_more_than_that_is_heeded(line):
    assert heeding.kind(line) != ""


@pytest.mark.parametrize(
    ("currency", "until", "asked"),
    [("GBP", date(2027, 4, 3), False), ("USD", date(2027, 3, 4), False), ("CAD", None, True)],
)
def test_days_and_months_stand_in_the_order_of_the_country(taken, currency, until, asked):
    known = Known(KNOWN.parts, KNOWN.suppliers, Currency.of(currency))
    sheet = "Used parts. Prices good until 03/04/2027.\nPart,Price inc tax\nFront disc,40.00\n"
    understood = taken(sheet, known=known)
    assert [problem.key for problem in understood.doubts] == ["valid"] * asked
    if asked:
        assert "2027-04-03" in understood.doubts[0].mend
        assert "2027-03-04" in understood.doubts[0].mend
    else:
        assert [row.valid_until for row in understood.rows] == [until]


def test_days_stand_first_in_other_languages(taken):
    known = Known(KNOWN.parts, KNOWN.suppliers, Currency.of("USD"))
    sheet = "Piezas usadas. Precios válidos hasta 03/04/2027.\nPart,Precio con IVA\nFront disc,40.00\n"
    assert [row.valid_until for row in taken(sheet, known=known).rows] == [date(2027, 4, 3)]


def test_another_day_of_the_sheet_tells_the_order(taken):
    known = Known(KNOWN.parts, KNOWN.suppliers, Currency.of("CAD"))
    sheet = "Used parts, quote of 25/03/2027\nPrices good until 03/04/2027\nPart,Price inc tax\nFront disc,40.00\n"
    assert [row.valid_until for row in taken(sheet, known=known).rows] == [date(2027, 4, 3)]


@pytest.mark.parametrize(
    ("heading", "cells", "column"),
    [("Stock #", ("C4471", "C4480"), "ref"), ("Stock #", ("104471", "104480"), "ref"), ("Stock #", ("4", "2"), "stock"),
     ("Stock #", ("4 left", "2"), "stock"), ("Stock #", ("120", "200"), "stock"),
     ("Stock", ("4471", "2"), "stock")],
)  # fmt: skip
def test_codes_below_a_number_of_stock_count_nothing(taken, heading, cells, column):
    rows = f"Front disc,new,40.00,{cells[0]}\nStarter motor,new,60.00,{cells[1]}\n"
    understood = taken(f"Part,Condition,Price inc VAT,{heading}\n{rows}")
    assert understood.doubts == ()
    assert next(each.column for each in understood.headings if each.text == heading) == column


@pytest.mark.parametrize(
    ("line", "asked"),
    [
        ("Landed prices to your door, import duty and VAT included", []),
        ("Landed prices to your door, VAT included, import duty extra", ["money"]),
        ("Prices with VAT included, without customs duty", ["money"]),
        ("Landed prices without import duty and VAT included", ["money"]),
    ],
)
def test_duty_that_is_in_the_prices_says_nothing_new(taken, line, asked):
    understood = taken(f'"{line}"\nPart,Condition,Landed price GBP\nFront disc,new,40.00\n', OF_ODDLODE)
    assert [problem.key for problem in understood.doubts] == asked


@pytest.mark.parametrize(("note", "asked"), [("pair", []), ("set of 4", ["pack"]), ("pair of 4", ["pack"])])
def test_a_remark_of_the_pack_of_its_row_says_nothing_new(taken, note, asked):
    understood = taken(f"Part,Condition,Price inc VAT,Pack,Note\nFront disc,new,40.00,2,{note}\n")
    assert [problem.key for problem in understood.doubts] == asked


def test_a_single_one_stands_beside_packs(taken):
    understood = taken("Part,Condition,Single,Pack of 4\nFront disc,new,£1.70,£6.20\nRear shoe,new,£7.40,\n")
    assert understood.doubts == ()
    assert [(row.price_minor, row.pack) for row in understood.rows] == [(170, 1), (620, 4), (740, 1)]


def test_a_key_of_letters_for_the_tax_may_stand_in_one_line(taken):
    key = '"S = VAT at 20% to be added to the price. M = second-hand margin scheme, no VAT to add."\n'
    understood = taken(f"Part,Cond.,£,VAT\nFront disc,New,32.00,S\nStarter motor,Used,35.00,M\n{key}")
    assert understood.doubts == ()
    assert [row.price_minor for row in understood.rows] == [3840, 3500]


@pytest.mark.parametrize(
    ("line", "condition"),
    [
        ("Used parts, tested", "salvage"),
        ("Used parts, except the starter", None),
        ("Gebrauchtteile, außer Anlasser", None),
    ],
)
def test_a_section_that_excepts_something_is_of_no_condition(line, condition):
    assert general_condition.of_section(line) == condition
