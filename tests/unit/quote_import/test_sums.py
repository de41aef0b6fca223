"""The foot of an order: what follows from prices, quantities and tax is passed over, anything else is asked about."""

from __future__ import annotations

import pytest

from optimiser.quote_import import row_values

ORDER = """Part,Condition,Qty,Unit price inc VAT,Amount
front disc,new,2,36.00,72.00
rear shoe,new,4,3.00,12.00
"""


@pytest.mark.parametrize(
    "foot",
    [
        "Goods total,,,,84.00\n",
        ",,,Total inc VAT,84.00\n",
        "Subtotal,,,,70.00\nVAT @20%,,,,14.00\nTotal,,,,84.00\n",
        "Carriage,,,,Free\nTotal to pay,,,,84.00\n",
    ],
)
def test_what_follows_from_the_prices_is_no_news(taken, foot):
    understood = taken(ORDER + foot)
    assert understood.doubts == ()
    assert [row.price_minor for row in understood.rows] == [3600, 300]


@pytest.mark.parametrize(
    ("foot", "keys"),
    [
        ("Less trade discount,,,,-7.00\n", ["discount"]),
        ("Discount,,,,-7.00\n", ["discount"]),
        ("Less trade discount,,,,14.00\nTotal inc VAT,,,,70.00\n", ["discount"]),
        ("Discount,,,,16.80\nTotal inc VAT,,,,67.20\n", ["discount"]),
        ("VAT,,,,16.80\nTotal,,,,100.80\n", ["money"]),
        ("Carriage,,,,5.00\nTotal,,,,89.00\n", ["postage"]),
        ("Carriage,,,,5.00\nTotal,,,,92.00\n", ["postage", "money"]),
        ("Total,,,,83.00\n", ["money"]),
    ],
)
def test_anything_else_is_asked(taken, foot, keys):
    assert [problem.key for problem in taken(ORDER + foot).doubts] == keys


def test_the_rate_that_the_foot_may_name_is_printed(taken):
    bare = ORDER.replace(" inc VAT", "") + "Subtotal,,,,84.00\nMwSt,,,,15.96\n"
    (problem,) = taken(bare).doubts
    assert "--ex-tax 19" in problem.mend


@pytest.mark.parametrize(
    ("said", "condition"),
    [("comme neuf", "salvage"), ("remis à neuf", "refurbished"), ("neuwertig", "salvage"), ("neuf", "new"),
     ("jak nowy", "salvage"), ("como novo", "salvage"), ("nicht neu", None)],
)  # fmt: skip
def test_as_new_is_used_and_made_new_is_refurbished(said, condition):
    assert row_values.condition(said)[0] == condition
