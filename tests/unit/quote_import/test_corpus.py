"""The corpus of suppliers' sheets: none is read wrong, and what is printed to settle a doubt settles it when typed."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.sheets import corpus
from tests.sheets.corpus import Sheet

LOTS = sorted(path.stem for path in Path(corpus.__file__).parent.glob("*.toml"))


@pytest.mark.parametrize("lot", LOTS)
def test_none_of_a_lot_is_wrong_many_are_right_and_every_mend_works_as_printed(lot: str, tmp_path: Path) -> None:
    """All that is asked of a sheet at once, for most of it is read once then. Over all lots more than half are right at
    once; of one lot it may be less, for whoever wrote it may have put postage below every order.
    """
    sheets = corpus.sheets(lot)
    assert all(bool(sheet.truth) != bool(sheet.asks) for sheet in sheets)
    seen = {sheet.name: looked_at(sheet, tmp_path) for sheet in sheets}
    assert {name: wrong for name, (_, wrong) in seen.items() if wrong} == {}
    readable = sum(bool(sheet.truth) and not sheet.by_hand for sheet in sheets)
    assert 5 * sum(score == "right" for score, _ in seen.values()) >= 2 * readable


def looked_at(sheet: Sheet, folder: Path) -> tuple[str, list[str]]:
    """How the sheet is read at first, and all that is wrong with that or with what is printed then."""
    understood, problems = first = corpus.read(sheet, folder)
    score = corpus.score(sheet, understood, problems)
    wrong = ["read wrong"] if score == "wrong" else []
    if problems or understood is None or not understood.rows:
        rounds, (then, left) = corpus.settled(sheet, folder, first)
        wrong += [f"not settled: {left}"] if rounds > 2 and not sheet.by_hand else []
        misled = sheet.truth and not sheet.by_hand and rounds == 1 and corpus.score(sheet, then, left) == "wrong"
        wrong += ["the first mends lead to what is wrong"] if misled else []
        wrong += [f"settles nothing: {way}" for way in corpus.unsettled(sheet, problems, folder)]
    return score, wrong


def test_the_corpus_is_whole() -> None:
    assert sum(len(corpus.sheets(lot)) for lot in LOTS) >= 700
