"""The corpus of suppliers' sheets: none is read wrong, and what is printed to settle a doubt settles it when typed."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.sheets import corpus
from tests.sheets.corpus import Sheet

LOTS = sorted(path.stem for path in Path(corpus.__file__).parent.glob("*.toml"))


@pytest.mark.parametrize("lot", LOTS)
def test_none_of_a_lot_is_wrong_and_many_are_right(lot: str, tmp_path: Path) -> None:
    """Over all lots more than half are right at once; of one lot it may be less, for whoever wrote it may have put
    postage below every order.
    """
    sheets = corpus.sheets(lot)
    assert all(bool(sheet.truth) != bool(sheet.asks) for sheet in sheets)
    scores = {sheet.name: corpus.score(sheet, *corpus.read(sheet, tmp_path)) for sheet in sheets}
    assert [name for name, score in scores.items() if score == "wrong"] == []
    readable = sum(bool(sheet.truth) and not sheet.by_hand for sheet in sheets)
    assert 5 * sum(score == "right" for score in scores.values()) >= 2 * readable


@pytest.mark.long
@pytest.mark.parametrize("lot", LOTS)
def test_every_mend_that_is_printed_works_as_printed(lot: str, tmp_path: Path) -> None:
    """All that is asked of a sheet at once, for most of it is read once then."""
    seen = {sheet.name: wrong_with_mends(sheet, tmp_path) for sheet in corpus.sheets(lot)}
    assert {name: wrong for name, wrong in seen.items() if wrong} == {}


def wrong_with_mends(sheet: Sheet, folder: Path) -> list[str]:
    """All that is wrong with what is printed of a sheet when it is typed."""
    understood, problems = first = corpus.read(sheet, folder)
    if not problems and understood is not None and understood.rows:
        return []
    rounds, (then, left) = corpus.settled(sheet, folder, first)
    wrong = [f"not settled: {left}"] if rounds > 2 and not sheet.by_hand else []
    misled = sheet.truth and not sheet.by_hand and rounds == 1 and corpus.score(sheet, then, left) == "wrong"
    wrong += ["the first mends lead to what is wrong"] if misled else []
    return wrong + [f"settles nothing: {way}" for way in corpus.unsettled(sheet, problems, folder)]


def test_the_corpus_is_whole() -> None:
    assert sum(len(corpus.sheets(lot)) for lot in LOTS) >= 700
