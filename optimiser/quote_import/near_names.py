"""A catalogue holds thousands of names that are no part of the job: those nearest to each part that is wanted."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from optimiser.model.imports import Aside, Known, NearNames, Why
from optimiser.quote_import.columns import typed
from optimiser.quote_import.lexicon import plain

FEW = 12
"""So many rows with a strange name are simply listed."""
MOST_NEAR = 10
_LIKE = 65.0
"""Likeness in percent from which a name is shown: words in common, the letters of the others. Our own figure."""
_MOST_COMPARED = 5_000
_SHORTEST = 3


def near_names(known: Known, aside: Sequence[Aside]) -> tuple[NearNames, ...]:
    """For every wanted part the rows with the ten nearest names; nothing where few rows have a strange name."""
    strange = {row.named: row for row in reversed(aside) if row.kind is Why.PART and row.named}
    if sum(row.kind is Why.PART and bool(row.named) for row in aside) <= FEW:
        return ()
    by_word: dict[str, list[str]] = defaultdict(list)
    for name in reversed(strange):
        for word in set(_words(name)):
            by_word[word].append(name)
    near = []
    for part in known.wanted or tuple(known.parts):
        rows = _nearest(known.parts.get(part) or part, by_word, strange)
        if rows:
            near.append(NearNames(part, rows, typed("part", rows[0].named, part)))
    return tuple(near)


def _nearest(title: str, by_word: dict[str, list[str]], strange: dict[str, Aside]) -> tuple[Aside, ...]:
    """Names that share a word with the title, or, where none does, any: the nearest of them."""
    from rapidfuzz import fuzz, process  # noqa: PLC0415 - wanted only for catalogues

    sharing = dict.fromkeys(name for word in _words(title) for name in by_word.get(word, ()))
    among = list(sharing or strange)[:_MOST_COMPARED]
    likely = process.extract(
        plain(title), among, scorer=fuzz.token_set_ratio, processor=plain, limit=MOST_NEAR, score_cutoff=_LIKE
    )
    return tuple(strange[name] for name, _, _ in likely)


def _words(text: str) -> Iterator[str]:
    return (word for word in plain(text).split() if len(word) >= _SHORTEST)
