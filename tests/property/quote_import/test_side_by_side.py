"""Shops side by side in one table say what each would say in a sheet of its own; sums of columns need no name."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given
from hypothesis import strategies as st

from optimiser.money import Currency
from optimiser.quote_import import Known, Told, Understood, understand
from tests.effort import examples

PARTS = {"disc": "Front disc", "starter": "Starter motor", "relay": "Relay"}
SHOPS = {"oddlode": "Oddlode Rebuilds", "mossback": "Mossback Yard", "kelder": "Kelder Stores"}
KNOWN = Known(PARTS, SHOPS, Currency.of("GBP"))
CONDITIONS = {"new": "new", "recon": "refurbished", "used": "salvage"}
PRICE = st.integers(1, 10**6)
OFFER = st.none() | st.tuples(PRICE, st.integers(0, 30))
ROW = st.tuples(st.sampled_from(sorted(PARTS)), st.sampled_from(sorted(CONDITIONS)))
TABLE = st.dictionaries(ROW, st.tuples(OFFER, OFFER, OFFER), min_size=1, max_size=6)


def read(text: str, told: Told = Told()) -> Understood:  # noqa: B008 - frozen
    with TemporaryDirectory() as room:
        path = Path(room) / "table.csv"
        path.write_text(text, encoding="utf-8")
        return understand(path, KNOWN, told)


def pounds(minor: int) -> str:
    return f"{minor // 100}.{minor % 100:02}"


@given(TABLE, st.booleans(), st.permutations(sorted(SHOPS)))
@examples(60)
def test_a_table_of_shops_is_a_sheet_of_each(table: dict, with_days: bool, order: list[str]) -> None:
    """Also where the shops stand above a price and a time each."""
    wanted = {
        (part, shop, CONDITIONS[condition], offer[0], offer[1] if with_days else None)
        for (part, condition), offers in table.items()
        for shop, offer in zip(order, offers, strict=True)
        if offer is not None
    }
    if not all(any(offers[place] for offers in table.values()) for place in range(3)):
        return  # a column without a price is no shop's
    names = [SHOPS[shop] for shop in order]
    if with_days:
        lines = [
            ",".join(("", "", *(each for name in names for each in (name, "")))),
            "Part,Condition" + ",Price,Days" * 3,
        ]
    else:
        lines = [",".join(("Part", "Condition", *names))]
    for (part, condition), offers in table.items():
        cells = [PARTS[part], condition]
        for offer in offers:
            price, days = ("", "") if offer is None else (pounds(offer[0]), str(offer[1]))
            cells += [price, days] if with_days else [price]
        lines.append(",".join(cells))
    understood = read("\n".join(lines) + "\n")
    assert understood.doubts == ()
    assert {(r.part, r.supplier, r.condition, r.price_minor, r.lead_days) for r in understood.rows} == wanted


ORDERED = st.lists(st.tuples(st.sampled_from(sorted(PARTS)), PRICE, st.integers(1, 9)), min_size=1, max_size=5)


@given(ORDERED, st.integers(1, 99))
@examples(60)
def test_a_column_that_is_price_times_quantity_is_the_total(rows: list[tuple[str, int, int]], off: int) -> None:
    """Whatever it is called, as some quantity is not one; where it is off in one row it is asked about."""
    rows = [(part, price, count + (place == 0)) for place, (part, price, count) in enumerate(rows)]
    head = "Part,Condition,Qty,Price,Wobble\n"
    lines = [f"{PARTS[part]},new,{count},{pounds(price)},{pounds(price * count)}\n" for part, price, count in rows]
    whole = read(head + "".join(lines), Told(supplier="oddlode"))
    assert whole.doubts == ()
    part, price, count = rows[-1]
    lines[-1] = f"{PARTS[part]},new,{count},{pounds(price)},{pounds(price * count + off + 1)}\n"
    assert read(head + "".join(lines), Told(supplier="oddlode")).doubts


@given(st.lists(st.tuples(st.sampled_from(sorted(PARTS)), PRICE, PRICE), min_size=1, max_size=5), st.integers(2, 99))
@examples(60)
def test_a_price_that_is_another_plus_the_tax_has_the_tax_in_it(rows: list[tuple[str, int, int]], off: int) -> None:
    head = "Part,Condition,Price ex VAT,VAT,Cost\n"
    lines = [f"{PARTS[part]},new,{pounds(net)},{pounds(tax)},{pounds(net + tax)}\n" for part, net, tax in rows]
    whole = read(head + "".join(lines), Told(supplier="oddlode"))
    assert [row.price_minor for row in whole.rows] == [net + tax for _, net, tax in rows]
    part, net, tax = rows[0]
    lines[0] = f"{PARTS[part]},new,{pounds(net)},{pounds(tax)},{pounds(net + tax + off)}\n"
    assert read(head + "".join(lines), Told(supplier="oddlode")).doubts
