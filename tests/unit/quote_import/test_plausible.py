"""Prices in a currency that may be another, far from what a part costs, or of what is never used; lists as typed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from optimiser.model.imports import Known
from optimiser.quote_import import Told
from tests.unit.quote_import.conftest import GBP, KNOWN

HEAD = "Part,Condition,Price inc VAT\n"
GERMAN = "Teil;Zustand;Preis\nFront disc;neu;{price}\n{line}\n"
PARTS = Known(
    dict(KNOWN.parts),
    dict(KNOWN.suppliers),
    GBP,
    usual={("front-disc", "new"): (3000, 6500), ("starter-motor", "salvage"): (2000, 5000)},
    never=frozenset({("front-disc", "salvage")}),
)


@pytest.mark.parametrize(
    ("price", "line"), [("45,00", "Alle Preise inkl. 19 % MwSt."), ("45,00", "")], ids=["tax", "headings"]
)
def test_a_sheet_from_elsewhere_without_a_sign_is_asked_for_its_currency(taken, price, line):
    sheet = GERMAN.format(price=price, line=line)
    (doubt,) = taken(sheet).doubts
    assert (doubt.key, "in which currency" in doubt.expected) == ("currency", True)
    told = Told(words={"prices without a currency": "GBP"})
    understood = taken(sheet, told)
    assert ([row.price_minor for row in understood.rows], understood.doubts) == ([4500], ())
    assert understood.told.words == told.words


@pytest.mark.parametrize(
    "sheet",
    [GERMAN.format(price="45,00 GBP", line="inkl. MwSt."), GERMAN.format(price="45,00", line="Alle Preise in GBP"),
     f"{HEAD}Front disc,new,45.00\n"],
)  # fmt: skip
def test_a_sheet_that_names_the_currency_or_is_from_here_is_not(taken, sheet):
    assert "currency" not in [doubt.key for doubt in taken(sheet).doubts]


@pytest.mark.parametrize(
    ("part", "price"), [("Front disc,new", "1235.70"), ("Front disc,new", "5.90"), ("Starter motor,new", "251")]
)
def test_a_price_far_from_what_the_part_costs_is_confirmed_once(taken, part, price):
    (doubt,) = taken(f"{HEAD}{part},{price}\n", known=PARTS).doubts
    assert "common practice, no published source" in doubt.expected
    about = doubt.mend.split('"')[1].removesuffix("=as it stands")
    told = Told(words={about: "as it stands"})
    again = taken(f"{HEAD}{part},{price}\n", told, known=PARTS)
    assert (len(again.rows), again.doubts, again.told.words) == (1, (), told.words)


@pytest.mark.parametrize(
    "row",
    ["Front disc,new,15.00", "Front disc,new,180.00", "Front disc set of 10,new,450.00", "Starter motor,new,99.00"],
)
def test_ordinary_spreads_are_not_asked_about(taken, row):
    assert taken(f"{HEAD}{row}\n", known=PARTS).doubts == ()


def test_what_is_never_bought_used_is_said(taken):
    understood = taken(f"{HEAD}Front disc,used,45.00\n", known=PARTS)
    assert any("front-disc cannot be bought used" in each for each in understood.cautions)


def test_parts_and_suppliers_are_told_by_their_titles(taken):
    told = Told(parts={"Stopping plate": "Front BRAKE disc"}, suppliers={"O. Rebuilds": "oddlode rebuilds"})
    (row,) = taken("Part,Supplier,Condition,Price inc VAT\nStopping plate,O. Rebuilds,new,45\n", told).rows
    assert (row.part, row.supplier) == ("front-disc", "oddlode")


def test_several_amounts_of_postage_are_settled_by_what_an_order_costs(taken):
    sheet = (
        "Part,Condition,Price inc VAT,Postage\nFront disc,new,45,4.95\nStarter motor,new,60,9.95\nRear shoe,new,9,0\n"
    )
    (doubt,) = taken(sheet).doubts
    assert '--map "Postage=postage" --word "postage of oddlode=9.95"' in doubt.mend
    assert '"postage of oddlode=9.95"' in taken(sheet, Told(columns={"Postage": "postage"})).doubts[0].mend
    understood = taken(sheet, Told(columns={"Postage": "postage"}, words={"postage of oddlode": "9.95"}))
    assert (understood.postage, understood.doubts) == ({"oddlode": 995}, ())


YARD = """Ned's van parts - what I got

front disc off a van - used - 20 quid
starter motor £8
rear shoe, new old stock £19
shoes - pair - 22
wheel bolt 40 (was 55)
rear shoe 25 ono
rear shoe SOLD
"""


def test_a_yards_list_that_mixes_lines_and_columns_is_read(taken):
    known = replace(KNOWN, parts={**KNOWN.parts, "shoes": "Shoes", "wheel-bolt": "Wheel bolt"})
    understood = taken(YARD, Told(condition="salvage"), "mossback.txt", known)
    rows = [(row.row, row.part, row.condition, row.price_minor) for row in understood.rows]
    assert rows == [
        (3, "front-disc", "salvage", 2000), (4, "starter-motor", "salvage", 800), (5, "rear-shoe", "new", 1900),
        (6, "shoes", "salvage", 2200), (7, "wheel-bolt", "salvage", 4000),
    ]  # fmt: skip
    mends = [doubt.mend for doubt in understood.doubts]
    assert [mend.split('"')[1] for mend in mends] == ["pair=pack of 2", "25 ono=25"]


@pytest.mark.parametrize("name", ["oddlode.csv", "oddlode.txt"])
def test_blocks_are_read_as_rows(taken, name):
    parts = [("Front disc", "new", "45.00", ""), ("Starter motor", "recon", "90.00", "25.00")]
    sign = ", " if name.endswith("csv") else " "
    text = "\n\n".join(
        f"Part:{sign}{p}\nCondition:{sign}{c}\nPrice inc VAT:{sign}{m}\nDeposit:{sign}{d or '0'}"
        for p, c, m, d in parts
    )
    understood = taken(text, name=name)
    assert [(row.price_minor, row.deposit_minor) for row in understood.rows] == [(4500, 0), (9000, 2500)]
    assert understood.doubts == ()


def test_a_sheet_on_its_side_is_turned(taken):
    understood = taken("All inc VAT\n,Front disc,Starter motor\nCondition,new,used\nPrice,45.00,30.00\nStock,2,1\n")
    assert [(row.part, row.condition, row.price_minor, row.stock) for row in understood.rows] == [
        ("front-disc", "new", 4500, 2), ("starter-motor", "salvage", 3000, 1)
    ]  # fmt: skip
    assert any("on its side" in each for each in understood.cautions)
