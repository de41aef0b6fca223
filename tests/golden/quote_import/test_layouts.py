"""Sheets as suppliers lay them out, and what is understood of each."""

from __future__ import annotations

import pytest

from optimiser.money import Currency
from optimiser.quote_import import Known, Understood, understand

from . import layouts_of_money, layouts_of_rows
from .layout import PARTS, SHOPS

LAYOUTS = [*layouts_of_money.LAYOUTS, *layouts_of_rows.LAYOUTS]


def reading(understood: Understood, currency: Currency) -> str:
    said = []
    for row in understood.rows:
        words = [str(row.row), row.part, row.supplier, row.condition, currency.text(row.price_minor), f"/{row.pack}"]
        words += [row.ref, row.note]
        words += ["deposit", currency.text(row.deposit_minor)] if row.deposit_minor else []
        named = {
            "stock": row.stock,
            "days": row.lead_days,
            "months": row.warranty_months,
            "until": row.valid_until,
            "back": row.refund_share,
        }
        words += [f"{name} {value}" for name, value in named.items() if value is not None]
        said.append(" ".join(word for word in words if word))
    return "; ".join(said)


@pytest.mark.parametrize("layout", LAYOUTS, ids=lambda each: each.name)
def test_what_is_understood(layout, tmp_path):
    path = tmp_path / layout.file
    path.write_bytes(layout.data)
    currency = Currency.of(layout.currency)
    understood = understand(path, Known(PARTS, SHOPS, currency), layout.told)
    assert reading(understood, currency).replace(";", "; ").split() == layout.rows.replace(";", "; ").split()
    assert "; ".join(f"{each.row} {each.kind}" for each in understood.aside) == layout.aside
    doubts = [f"{each.key} {each.where}: {each.found}, {each.expected}" for each in understood.doubts]
    wanted = [each for each in layout.doubts.split("; ") if each]
    assert len(doubts) == len(wanted), doubts
    for said, words in zip(doubts, wanted):
        head, _, rest = words.partition(": ")
        assert said.startswith(head.strip()), said
        assert rest in said
    told = "\n".join((*understood.cautions, *understood.remarks))
    for words in layout.cautions:
        assert words in told
    assert path.read_bytes() == layout.data


def test_there_are_enough_of_them():
    assert len({layout.name for layout in LAYOUTS if not layout.name.startswith("the same")}) >= 25
