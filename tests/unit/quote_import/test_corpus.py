"""The corpus of suppliers' sheets: none is read wrong, and what is printed to settle a doubt settles it when typed."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.sheets import corpus
from tests.sheets.corpus import Sheet

HALVES = (
    "open",
    "set_aside",
    "open_2",
    "set_aside_2",
    "open_3",
    "set_aside_3",
    "open_4",
    "open_5",
    "set_aside_5",
    "open_6",
)
SHEETS = [sheet for half in HALVES for sheet in corpus.sheets(half)]


def test_the_corpus_is_whole():
    assert len(SHEETS) >= 80
    assert all(bool(sheet.truth) != bool(sheet.asks) for sheet in SHEETS)


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)
def test_none_is_wrong_and_every_printed_mend_works_as_printed(sheet: Sheet, tmp_path: Path):
    """All that is asked of a sheet in one test, for most of it is read once then."""
    understood, problems = corpus.read(sheet, tmp_path)
    assert corpus.score(sheet, understood, problems) != "wrong"
    if problems or understood is None or not understood.rows:
        rounds, left = corpus.settled(sheet, tmp_path)
        assert rounds <= 2 or sheet.by_hand, left
        assert corpus.unsettled(sheet, problems, tmp_path) == []


def test_most_that_need_no_question_are_right(tmp_path: Path):
    plain = [sheet for sheet in SHEETS if sheet.truth]
    right = [sheet for sheet in plain if corpus.score(sheet, *corpus.read(sheet, tmp_path)) == "right"]
    assert 2 * len(right) >= len(plain)
