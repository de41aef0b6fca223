"""Orders of repairs constructed here, with no published source: small enough to reckon every order by hand."""

import pytest

from optimiser.model.job import Access
from tests.one_fault import case, order


def test_overlapping_cures_where_chance_over_cost_fails():
    # greedy does B first for 8.0, A then C costs 6.9
    three = case({"one": 6, "two": 3, "three": 1}, {
        "A": (6, {"one": 1.0, "three": 1.0}), "B": (8, {"one": 1.0, "two": 1.0, "three": 1.0}), "C": (3, {"two": 1.0}),
    })  # fmt: skip
    names, route = order(three)
    assert names == ["A", "C"]
    assert route.net_minor == pytest.approx(6.9, abs=1e-12)


def test_a_cover_is_opened_for_what_lies_under_it_together():
    # Constructed after Ottosen & Jensen, The cost of troubleshooting cost clusters with inside information, UAI 2010:
    # 9.2 by the cluster rule, 11.1 by plain chance over cost
    cover = {"cover": Access(id="cover", price_minor=9)}
    clustered = case(
        {"a": 3, "b": 5, "c": 2},
        {"a": (2, {"a": 1.0}), "b": (1, {"b": 1.0}, "cover"), "c": (1, {"c": 1.0}, "cover")},
        access=cover,
    )
    names, route = order(clustered)
    assert names == ["a", "b", "c"]
    assert route.net_minor == pytest.approx(9.2, abs=1e-12)
