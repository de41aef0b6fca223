"""Parts that were planned by a rough price: whoever sells them, they are the pieces that the steps want."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from optimiser import entries
from optimiser.entries import Deal
from optimiser.errors import WordsError
from optimiser.model import events as h
from tests.unit.entries import shed

JOB = """
[job]
title = "Teasel, a tired trailer"
currency = "GBP"
today = 2026-11-24

[money]
cap = "400.00"

[[part]]
id = "tyre"
renew_in = 2
kind = "tyre"
rough_price = { new = ["50.00", "70.00"] }

[[fault]]
id = "axle"
title = "Tyres perished"
severity = "dangerous"

  [[fault.repair]]
  id = "pair"
  chance = 0.9
  parts = { tyre = 2 }
"""


@pytest.fixture
def trailer(tmp_path: Path) -> Path:
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    shed.plan(tmp_path)
    return tmp_path


def bought(folder: Path, *words: str, **said: Any) -> tuple[h.Happening, ...]:
    return entries.bought(shed.desk(folder, "bought"), words, Deal(**said))


def test_the_hint_of_a_rough_price_names_all_the_packs_that_the_step_wants(trailer: Path) -> None:
    with pytest.raises(WordsError) as caught:
        bought(trailer, shed.number(trailer, "order", "tyre"))
    assert "from SHOP --packs 2 --price AMOUNT --condition new" in caught.value.problems[0][1]


@pytest.mark.parametrize(("kind", "name"), [("order", "tyre"), ("attempt", "pair")])
def test_a_step_is_bought_from_whoever_sold_it(trailer: Path, kind: str, name: str) -> None:
    step = shed.number(trailer, kind, name)
    (one,) = bought(trailer, step, "from", "Oak Tyres", price="58.50")
    assert isinstance(one, h.Purchase)
    assert (one.part, one.supplier, one.condition, one.packs, one.price_minor) == ("tyre", "Oak Tyres", "new", 2, 5850)
    (single,) = bought(trailer, step, "from", "Oak Tyres", price="58.50", packs=1)
    assert isinstance(single, h.Purchase)
    assert single.packs == 1


def test_pieces_bought_one_by_one_are_fitted_by_the_step_that_wanted_both(trailer: Path) -> None:
    step, order = shed.number(trailer, "attempt", "pair"), shed.number(trailer, "order", "tyre")
    for shop in ("Oak Tyres", "Ash Tyres"):
        shed.add(trailer, *bought(trailer, order, "from", shop, price="58.50", packs=1))
        shed.plan(trailer, carried=True)
    (fitting,) = entries.fitted(shed.desk(trailer, "fitted"), (step, "cured"))
    assert isinstance(fitting, h.Fitting)
    assert sum(piece.units for piece in fitting.pieces) == 2
    assert all(piece.bought for piece in fitting.pieces)
    shed.add(trailer, fitting)
    assert not shed.desk(trailer).job.shelf
