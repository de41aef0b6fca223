"""Money: read exactly, written in the currency's places, shared without losing a unit."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.money import GREATEST_MINOR, PLACES, Currency, parse, share, spoken, sums_with

GBP, JPY, KWD, CLF = (Currency.of(code) for code in ("GBP", "JPY", "KWD", "CLF"))
CURRENCIES = st.sampled_from(sorted(PLACES)).map(Currency.of)
AMOUNTS = st.integers(-GREATEST_MINOR, GREATEST_MINOR)


@pytest.mark.parametrize(
    ("value", "currency", "minor"),
    [
        ("12.50", GBP, 1250),
        ("12.5", GBP, 1250),
        (" 12.50 ", GBP, 1250),
        ("0.01", GBP, 1),
        ("-0.01", GBP, -1),
        ("-0", GBP, 0),
        ("1e2", GBP, 10000),
        (12, GBP, 1200),
        (Decimal("0.29"), GBP, 29),
        ("1.100", GBP, 110),
        ("1600", JPY, 1600),
        ("1600.0", JPY, 1600),
        ("1.234", KWD, 1234),
        ("1.2345", CLF, 12345),
        ("10000000000", GBP, GREATEST_MINOR),
        ("1." + "0" * 60, GBP, 100),
        ("0e-99999", GBP, 0),
        ("0e99999", GBP, 0),
    ],
)
def test_parse(value, currency, minor):
    assert parse(value, currency) == minor


@pytest.mark.parametrize(
    ("value", "currency", "told"),
    [
        ("", GBP, "an amount such as"),
        ("free", GBP, "an amount such as"),
        ("£5", GBP, "an amount such as"),
        ("1,000.00", GBP, "an amount such as"),
        ("12.5.0", GBP, "an amount such as"),
        (12.5, GBP, "an amount such as"),
        (True, GBP, "an amount such as"),
        (None, GBP, "an amount such as"),
        ([1], GBP, "an amount such as"),
        ("nan", GBP, "finite"),
        ("sNaN", GBP, "finite"),
        ("-inf", GBP, "finite"),
        (Decimal("Infinity"), GBP, "finite"),
        ("1.005", GBP, "2 decimal places"),
        ("0.5", JPY, "0 decimal places"),
        ("1.2345", KWD, "3 decimal places"),
        ("10000000000.01", GBP, "larger"),
        ("1e12", GBP, "larger"),
        (10**400, GBP, "larger"),
        ("1e9999999", GBP, "larger"),
        ("-1e9999999", GBP, "larger"),
        ("1e-9999999", GBP, "decimal places"),
        ("1." + "0" * 60 + "1", GBP, "decimal places"),
    ],
)
def test_what_is_no_amount(value, currency, told):
    with pytest.raises(ValueError, match=told):
        parse(value, currency)


@pytest.mark.parametrize(
    ("minor", "currency", "text"),
    [(1250, GBP, "12.50"), (5, GBP, "0.05"), (-5, GBP, "-0.05"), (-1250, GBP, "-12.50"), (0, GBP, "0.00"),
     (1600, JPY, "1600"), (-3, JPY, "-3"), (1234, KWD, "1.234"), (1, CLF, "0.0001")],
)  # fmt: skip
def test_text(minor, currency, text):
    assert currency.text(minor) == text
    assert currency.decimal(minor) == Decimal(text)


@given(AMOUNTS, CURRENCIES)
def test_what_is_written_is_read_back(minor, currency):
    assert parse(currency.text(minor), currency) == minor
    assert parse(currency.decimal(minor), currency) == minor


@pytest.mark.parametrize("code", ["gbp", "GBX", "", "XAU", "£"])
def test_what_is_no_currency(code):
    with pytest.raises(ValueError, match="no currency code"):
        Currency.of(code)


@pytest.mark.parametrize(
    ("total", "weights", "shares"),
    [
        (10, [1, 1, 1], [4, 3, 3]),
        (11, [1, 1, 1], [4, 4, 3]),
        (10, [0, 0, 0], [4, 3, 3]),
        (10, [0, 5, 5], [0, 5, 5]),
        (100, [1, 2], [33, 67]),
        (0, [3, 4], [0, 0]),
        (7, [9], [7]),
        (-10, [1, 1, 1], [-3, -3, -4]),
    ],
)
def test_share(total, weights, shares):
    assert share(total, weights) == shares


@given(AMOUNTS, st.lists(st.integers(0, 10**9), min_size=1, max_size=30))
def test_shares_sum_to_the_total_and_are_fair(total, weights):
    shares = share(total, weights)
    assert sum(shares) == total
    scale = sum(weights)
    if scale:
        assert all(abs(got * scale - total * weight) < scale for got, weight in zip(shares, weights, strict=True))


@pytest.mark.parametrize(
    ("said", "currency", "minor"),
    [
        ("£4.50", GBP, 450), ("4,50", GBP, 450), ("4.5", GBP, 450), (" £ 7 ", GBP, 700), ("12 GBP", GBP, 1200),
        ("1,250.00", GBP, 125000), ("1.250,00", GBP, 125000), ("1,250,000", GBP, 125000000), (",50", GBP, 50),
        ("1,25,000.00", GBP, 12500000), ("1,250", JPY, 1250), ("¥1250", JPY, 1250), ("1.250", KWD, 1250),
        ("-3", GBP, -300),
    ],
)  # fmt: skip
def test_amounts_as_people_type_them(said: str, currency: Currency, minor: int) -> None:
    assert spoken(said, currency) == minor


@pytest.mark.parametrize(
    "said", ["1,250", "4.505", "$4", "1.2.3", "1,2,3.00", "", "£", "abc", "4 5", "٣", "1_0", "1e9999", "1e3", "£2E-2"]
)
def test_what_may_mean_two_amounts_is_refused(said: str) -> None:
    with pytest.raises(ValueError, match=r"amount|may mean|places|exponent"):
        spoken(said, GBP)


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("1,250", r"it may mean 1250\.00 or 1\.25: write the one that is meant"),
        ("1.250", r"it may mean 1250\.00 or 1\.25: write the one that is meant"),
        ("1,255", r"GBP has 2 decimal places: for 1255\.00 leave out the comma"),
        ("1.255", r"GBP has 2 decimal places: for 1255\.00 leave out the point"),
    ],
)
def test_a_sign_that_may_mean_two_things_is_told_in_the_places_of_the_currency(said: str, told: str) -> None:
    with pytest.raises(ValueError, match=f"{told}$"):
        spoken(said, GBP)


@given(CURRENCIES, st.integers(0, 10**9))
def test_what_is_written_is_read_back_as_it_is_said(currency: Currency, minor: int) -> None:
    """From memory: the plain decimal string is one way of saying an amount, in every currency."""
    assert spoken(currency.text(minor), currency) == minor


@given(st.lists(st.tuples(st.integers(0, 12), st.none() | st.integers(0, 5)), max_size=4), st.integers(0, 60))
def test_sums_with_are_all_sums_of_so_many_pieces(prices: list[tuple[int, int | None]], greatest: int) -> None:
    sums, there = 1, {0}
    for price, pieces in prices:
        sums = sums_with(sums, price, greatest, pieces)
        most = greatest if pieces is None else pieces
        there = {one + n * price for one in there for n in range(most + 1) if one + n * price <= greatest}
    assert {amount for amount in range(sums.bit_length()) if sums >> amount & 1} == there
