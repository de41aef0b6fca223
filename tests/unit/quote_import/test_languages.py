"""Czech, Norwegian and Finnish sheets, and words for the same that other languages lacked."""

from __future__ import annotations

from datetime import date

import pytest

from optimiser.money import Currency
from optimiser.quote_import import Known, row_values, taxes
from optimiser.quote_import.headings import meaning

PARTS = {"alternator": "Alternator", "heater-motor": "Heater motor", "spark-plug": "Spark plug"}


def in_money(code: str) -> Known:
    return Known(PARTS, {"oddlode": "Oddlode Rebuilds"}, Currency.of(code))


def test_a_czech_list_with_deposits(taken):
    sheet = (
        "Repasované díly, ceny v Kč včetně DPH;;;\n"
        "Záloha za starý díl se připočítává k ceně a vrací se po jeho dodání.;;;\n"
        "Díl;Cena;Záloha;Skladem\nAlternátor;2 350,00;600,00;3\nMotorek topení;780,00;200,00;1\n"
    )
    understood = taken(sheet, known=in_money("CZK"))
    assert understood.doubts == ()
    assert [(row.part, row.condition, row.price_minor, row.deposit_minor, row.stock) for row in understood.rows] == [
        ("alternator", "refurbished", 235000, 60000, 3), ("heater-motor", "refurbished", 78000, 20000, 1),
    ]  # fmt: skip


def test_a_norwegian_list_with_the_tax_on_top(taken):
    sheet = (
        "Alle deler er nye. Prisene er eks. mva., 25 % kommer i tillegg.\n\n"
        "Varenr.\tBetegnelse\tPris kr\tPå lager\tLeveringstid\n"
        "F-1\tTennplugg\t72,00\t48\t3 dager\nF-2\tDynamo\t2 480,00\t1\t10 dager\n"
    )
    understood = taken(sheet, known=in_money("NOK"), name="oddlode.tsv")
    assert understood.doubts == ()
    assert [(row.part, row.price_minor, row.lead_days) for row in understood.rows] == [
        ("spark-plug", 9000, 3), ("alternator", 310000, 10),
    ]  # fmt: skip


def test_a_finnish_list(taken):
    sheet = (
        "Tuotenro;Tuote;Kunto;Hinta (sis. alv 25,5 %);Varastossa\n"
        "K-1;Laturi;uusi;219,00;1\nK-2;Sytytystulpat;uusi;6,90;36\nK-3;Sytytystulppa vasen;uusi;6,90;36\n"
    )
    understood = taken(sheet, known=in_money("EUR"))
    assert [(row.part, row.price_minor, row.stock) for row in understood.rows] == [
        ("alternator", 21900, 1), ("spark-plug", 690, 36),
    ]  # fmt: skip


def test_a_dutch_rebuilder_of_exchange_parts(taken):
    sheet = "Gereviseerde ruildelen\nOnderdeelnr.;Omschrijving;Prijs incl. btw\nR-1;Kachelmotor;95,00\n"
    understood = taken(sheet, known=in_money("EUR"))
    assert understood.doubts == ()
    assert [(row.part, row.condition, row.ref) for row in understood.rows] == [("heater-motor", "refurbished", "R-1")]


@pytest.mark.parametrize(("dash", "minor"), [("-", 115000), ("\N{EN DASH}", 115000)])
def test_thousands_that_stand_apart_behind_a_dash(taken, dash, minor):
    mail = "Ärende: Delar till bilen\n\nMoms ingår i alla priser.\n\n"
    mail += f"Tändstift, nya - 149 kr\nAlternator, ny {dash} 1 150 kr\n"
    understood = taken(mail, known=in_money("SEK"), name="oddlode.txt")
    assert understood.doubts == ()
    assert [row.price_minor for row in understood.rows] == [14900, minor]


@pytest.mark.parametrize("currency", ["GBP", "EUR"])
def test_a_dynamo_is_an_alternator_in_norwegian_alone(taken, currency):
    (problem,) = taken("Part,Condition,Price\nDynamo,new,40.00\nSpark plug,new,4.00\n", known=in_money(currency)).doubts
    assert problem.key == "part"


@pytest.mark.parametrize(
    ("line", "mark"),
    [
        ("Cena s DPH", "with"), ("Ceny bez DPH", "without"), ("Ceny včetně DPH 21 %", "with"), ("s/ IVA", "without"),
        ("Prisene er eks. mva.", "without"), ("Prisene er inkl. mva.", "with"),
        ("25 % mva. kommer i tillegg", "without"),
    ],
)  # fmt: skip
def test_what_a_line_says_of_the_tax(line, mark):
    assert taxes.in_line(line) == mark


@pytest.mark.parametrize(
    ("written", "read"),
    [("3 června 2027", date(2027, 6, 3)), ("3 červenec 2027", date(2027, 7, 3)), ("3 červen 2027", date(2027, 6, 3)),
     ("3 čer 2027", None), ("3 desember 2027", date(2027, 12, 3))],
)  # fmt: skip
def test_the_months(written, read):
    assert row_values.day(written, day_first=None)[0] == read


@pytest.mark.parametrize(
    ("heading", "column", "kind"),
    [("Ilość (szt.)", "ignore", "quantities"), ("Množství", "ignore", "quantities"), ("Antall", "ignore", "quantities"),
     ("Days to you", "lead_days", ""), ("Landed price EUR", "price", ""), ("Číslo dílu", "ref", ""),
     ("Stück je VPE", "pack", ""), ("Termin (dni)", "lead_days", ""), ("Single", "price_each", ""),
     ("Celkem", "ignore", "totals")],
)  # fmt: skip
def test_headings(heading, column, kind):
    found = meaning(heading, Currency.of("EUR"))
    assert (found.column, found.kind) == (column, kind)


@pytest.mark.parametrize("label", ["Zahlbetrag", "Celkem k úhradě", "Å betale", "Totalbeløp"])
def test_a_sum_to_pay_that_is_that_of_the_rows_says_nothing_new(taken, label):
    sheet = f"Part,Condition,Price inc VAT\nAlternator,new,40.00\nSpark plug,new,4.00\n{label},,44.00\n"
    understood = taken(sheet, known=in_money("EUR"))
    assert understood.doubts == ()
    assert len(understood.rows) == 2
