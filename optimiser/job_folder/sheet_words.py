"""The table ``[words]``: a person's own words for suppliers' sheets, for the whole job."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, get_args

from optimiser.job_folder.problems import Place, did_you_mean, listed, shown
from optimiser.job_folder.quote_sheets import IGNORE, SHEET_COLUMNS
from optimiser.job_folder.row_reader import complain_unknown_key, keys_of
from optimiser.model.job import SheetWords
from optimiser.model.quotes import Condition


def sheet_words(table: Mapping[str, Any], place: Place) -> SheetWords:
    """The words as far as they are sound; whatever is wrong with them is noted at ``place``."""
    for key in table.keys() - set(keys_of(SheetWords)):
        complain_unknown_key(key, keys_of(SheetWords), place)
    return SheetWords(
        headings=dict(_pairs(table, "headings", (*SHEET_COLUMNS, IGNORE), place)),
        conditions=dict(_pairs(table, "conditions", get_args(Condition), place)),
        cells=dict(_pairs(table, "cells", (), place)),
    )


def _pairs(table: Mapping[str, Any], key: str, meanings: tuple[str, ...], place: Place) -> Iterator[tuple[str, str]]:
    """Each of their words with what it means: one of ``meanings``, or any text where there are none."""
    written = table.get(key, {})
    if not isinstance(written, dict):
        mend = f'write a table such as {key} = {{ "Their word" = "{meanings[0] if meanings else "0"}" }}'
        place.complain(key, found=shown(written), expected="a table of their words and what each means", mend=mend)
        return
    seen: dict[str, str] = {}
    for word, means in written.items():
        where = f"{key}.{shown(word)}"
        other = seen.setdefault(" ".join(word.casefold().split()), word)
        if not word.strip():
            place.complain(where, found="a word without a letter", expected="a word of theirs", mend="take it out")
        elif other != word:
            found = f"{shown(other)} and {shown(word)}, which are the same word"
            place.complain(where, found=found, expected="each word once", mend="take one of them out")
        elif not isinstance(means, str) or (meanings and means not in meanings) or not means.strip():
            expected = f"one of {listed(meanings)}" if meanings else f'text: a number, a word of the job, or "{IGNORE}"'
            otherwise = "write one of these words" if meanings else "write it between quotation marks"
            place.complain(where, found=shown(means), expected=expected, mend=did_you_mean(means, meanings, otherwise))
        else:
            yield word, means
