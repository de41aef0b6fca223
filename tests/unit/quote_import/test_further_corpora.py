"""Further lots of suppliers' sheets, one test each: none is read wrong, and printed mends settle doubts."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.sheets import corpus


@pytest.mark.parametrize(
    "lot",
    [
        "open_7",
        "open_8",
        "set_aside_7",
        "set_aside_8",
        "set_aside_9",
        "set_aside_10",
        "set_aside_11",
        "set_aside_12",
        "set_aside_13",
        "set_aside_14",
        "set_aside_15",
        "set_aside_16",
        "set_aside_17",
        "set_aside_18",
        "set_aside_19",
        "set_aside_20",
        "set_aside_21",
        "set_aside_22",
        "set_aside_23",
        "set_aside_24",
    ],
)
def test_none_of_a_lot_is_wrong_and_every_mend_works_as_printed(lot: str, tmp_path: Path):
    right = 0
    sheets = corpus.sheets(lot)
    assert all(bool(sheet.truth) != bool(sheet.asks) for sheet in sheets)
    for sheet in sheets:
        understood, problems = corpus.read(sheet, tmp_path)
        score = corpus.score(sheet, understood, problems)
        right += score == "right"
        assert score != "wrong", sheet.name
        if not sheet.by_hand:
            rounds, left = corpus.settled(sheet, tmp_path)
            assert rounds <= 2, (sheet.name, left)
            assert corpus.unsettled(sheet, problems, tmp_path) == [], sheet.name
    assert 2 * right >= sum(bool(sheet.truth) for sheet in sheets)
