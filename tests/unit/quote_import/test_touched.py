"""What was settled on an earlier sheet is named with the rows that it touched."""

from __future__ import annotations

import pytest

from optimiser.model.imports import Told
from optimiser.quote_import import understand
from optimiser.quote_import.remarks import rows_in_words
from tests.unit.quote_import.conftest import KNOWN

SHEET = """Part,Condition,Kol,Price,Notes
front disc,new,4,5.00,
rear shoe,,,8.00,Neuteil
Bremse,B-Ware,2,6.00,
"""
KEPT = Told(
    columns={"Kol": "stock"},
    condition="salvage",
    ex_tax="20",
    parts={"Bremse": "front-disc"},
    words={"B-Ware": "refurbished", "Neuteil": "ignore"},
    packs={"rear shoe": "2"},
)


def test_each_setting_is_named_with_its_rows(tmp_path):
    path = tmp_path / "oddlode.csv"
    path.write_text(SHEET, encoding="utf-8")
    (supplier,) = understand(path, KNOWN, KEPT).suppliers
    again = understand(path, KNOWN, kept={supplier: KEPT})
    (said,) = [each for each in again.cautions if "used again" in each]
    for wanted in (
        '"Kol" is stock (rows 2, 4)', "the tax to add is 20 (rows 2 to 4)", "the condition is salvage (row 3)",
        '"Bremse" is front-disc (row 4)', '"B-Ware" is refurbished (row 4)', '"Neuteil" is ignore (row 3)',
        '"rear shoe" is a pack of 2 (row 3)',
    ):  # fmt: skip
        assert wanted in said


@pytest.mark.parametrize(
    ("numbers", "said"),
    [
        ((), ""),
        ((3,), "row 3"),
        ((2, 3, 4, 9), "rows 2 to 4, 9"),
        (range(2, 40, 2), "rows 2, 4, 6, 8, 10, 12, and more"),
    ],
)
def test_rows_are_said_briefly(numbers, said):
    assert rows_in_words(numbers) == said
