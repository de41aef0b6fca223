"""The quotes of a job looked up: as plainly picked out of them, and of the very job that is asked."""

from __future__ import annotations

from collections import Counter
from functools import partial

from hypothesis import given
from hypothesis import strategies as st

from optimiser.model.quotes import Quote, looked_up, origin
from optimiser.state.quotes import Sheets
from tests.tiny_job import BASE, NEW, USED, but

WRITTEN = st.lists(
    st.builds(
        partial(but, NEW),
        id=st.integers(2, 999).map("quotes.csv:{}".format),
        part=st.sampled_from(["disc", "pad"]),
        supplier=st.sampled_from(["alder", "birch"]),
        condition=st.sampled_from(["new", "salvage"]),
        price_minor=st.integers(1, 3),
        pack=st.integers(1, 2),
    ),
    max_size=12,
    unique_by=lambda quote: quote.id,
).map(tuple)


@given(WRITTEN)
def test_what_is_looked_up_is_what_stands_there(quotes: tuple[Quote, ...]) -> None:
    index = looked_up(quotes)
    assert dict(index.by_id) == {quote.id: quote for quote in quotes}
    assert list(index.of(["pad", "none"])) == [quote for quote in quotes if quote.part == "pad"]
    times = Counter(origin(quote) for quote in quotes if quote.part == "disc")
    assert index.shared_origins(["disc"]) == {each for each, rows in times.items() if rows > 1}


def test_a_job_with_other_quotes_has_another_index() -> None:
    assert list(BASE.sheets.of(["disc"])) == [NEW, USED]
    dearer = but(NEW, price_minor=NEW.price_minor + 1)
    assert list(but(BASE, quotes=(dearer,)).sheets.of(["disc"])) == [dearer]
    assert list(BASE.sheets.of(["disc"])) == [NEW, USED]


def test_sheets_that_nothing_changed_are_the_ones_that_were_read() -> None:
    assert Sheets(BASE.quotes).quotes is BASE.quotes
