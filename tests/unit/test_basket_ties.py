"""What is taken among baskets of the same cost: less to pay now, fewer suppliers, then the first by content."""

from __future__ import annotations

from itertools import permutations

import pytest

from optimiser.model.job import Job, Pot, Settings
from optimiser.model.quotes import Quote, Supplier
from optimiser.planning import purchase_list
from optimiser.solver import ties
from tests.small_jobs import TODAY


@pytest.fixture(autouse=True, params=[ties.WIDEST_OBJECTIVE, 1], ids=["all at once", "one at a time"])
def widest(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """So many ties as one objective keeps apart are settled together: the answer is the same for any number."""
    monkeypatch.setattr(ties, "WIDEST_OBJECTIVE", request.param)


def quote(line: int, part: str, supplier: str, price_minor: int, **rest: object) -> Quote:
    fixed = {"condition": "new", "good_chance": 0.9} | rest
    return Quote(id=f"quotes.csv:{line}", part=part, supplier=supplier, price_minor=price_minor, **fixed)


def taken(quotes: tuple[Quote, ...], wanted: dict[str, int], *suppliers: Supplier) -> list[tuple[str, int]]:
    """Quotes bought with their packs, whatever the order of rows."""
    answers = set()
    for rows in permutations(quotes):
        job = Job(
            settings=Settings(currency="GBP", today=TODAY), pot=Pot(cap_minor=1_000), quotes=rows, suppliers=suppliers
        )
        best = purchase_list.filled(job, purchase_list.Listed(wanted)).best
        answers.add(tuple((line.quote.id, line.packs) for order in best.orders for line in order.lines))
    assert len(answers) == 1
    return list(answers.pop())


def test_less_to_pay_now() -> None:
    quotes = (quote(2, "pad", "alder", 10, deposit_minor=5), quote(3, "pad", "birch", 10))
    assert taken(quotes, {"pad": 1}) == [("quotes.csv:3", 1)]


def test_fewer_suppliers() -> None:
    quotes = (quote(2, "hose", "alder", 7), quote(3, "pad", "birch", 10), quote(4, "hose", "birch", 7))
    assert taken(quotes, {"pad": 1, "hose": 1}) == [("quotes.csv:4", 1), ("quotes.csv:3", 1)]


def test_the_first_by_content() -> None:
    """Supplier before condition; the quotes that come last by content are bought least."""
    quotes = (
        quote(2, "pad", "birch", 10),
        quote(3, "pad", "alder", 10, condition="refurbished"),
        quote(4, "pad", "alder", 10, condition="new", stock=1),
    )
    assert taken(quotes, {"pad": 2}) == [("quotes.csv:4", 1), ("quotes.csv:3", 1)]


def test_topping_up_with_the_first_by_content() -> None:
    """Eight more are wanted: two of the clips at 4, one hose at 8 or one lead at 8; the clips come first by name."""
    quotes = (
        quote(2, "pad", "alder", 10, stock=1),
        quote(3, "clip", "alder", 4, stock=2),
        quote(4, "hose", "alder", 8, stock=1),
        quote(5, "lead", "alder", 8, stock=1),
    )
    terms = Supplier(id="alder", minimum_order_minor=18)
    assert taken(quotes, {"pad": 1}, terms) == [("quotes.csv:3", 2), ("quotes.csv:2", 1)]
