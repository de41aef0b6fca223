"""Sheets that hold the same rows are the same sheet, whatever order the rows stand in."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from optimiser.model.quotes import Quote, in_order
from tests.effort import examples

ROWS = st.builds(
    lambda name, price, note, day: Quote(
        id=f"sheet.csv:{name}",
        part="pad",
        supplier="shop",
        condition="new",
        price_minor=price,
        good_chance=0.9,
        lead_days=day,
        note=note,
    ),
    st.integers(2, 9),
    st.sampled_from([100, 200]),
    st.sampled_from(["", "last one"]),
    st.integers(0, 1),
)


@given(
    st.lists(ROWS, max_size=8, unique_by=lambda quote: quote.id).flatmap(
        lambda q: st.tuples(st.just(q), st.permutations(q))
    )
)
@examples(60)
def test_rows_have_an_order_of_their_own(sheets: tuple[list[Quote], list[Quote]]) -> None:
    """Also where several begin alike and differ at the end, or in their line alone."""
    one, other = sheets
    found = list(in_order(one))
    assert found == list(in_order(other))
    assert sorted(quote.id for quote in found) == sorted(quote.id for quote in one)
