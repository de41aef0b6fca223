"""The drawn bar: as wide as it is to be, a cell at least for whatever is not nothing, none for what is nothing."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from optimiser.show.money_bar import cells
from tests.effort import examples


@examples(300)
@given(st.lists(st.integers(0, 10**9), min_size=5, max_size=5).filter(any), st.integers(5, 120))
def test_the_cells_of_a_bar(amounts: list[int], width: int) -> None:
    found = cells(amounts, width)
    assert sum(found) == width
    assert [many > 0 for many in found] == [amount > 0 for amount in amounts]
    small = sum(0 < amount * width < sum(amounts) for amount in amounts)
    for amount, many in zip(amounts, found, strict=True):
        assert abs(many - amount * width / sum(amounts)) < 1 + small
    by_amount = [found[n] for n in sorted(range(5), key=lambda n: (amounts[n], found[n]))]
    assert by_amount == sorted(found), "more money is no fewer cells"
