"""Money as people write it: what is read, and what is never guessed. The spellings are common practice, no source."""

from __future__ import annotations

from decimal import Decimal

import pytest

from optimiser.money import Currency
from optimiser.quote_import import Told, numbers, prices
from optimiser.quote_import.prices import AsWritten, NoPrice
from optimiser.sheet_files import currencies
from optimiser.sheet_files.grid import Marked, UnfitCell

READ = [
    ("12", "12", "", "", None, ""),
    ("£12.50", "12.50", "", "£", None, ""),
    ("£ 12.50", "12.50", "", "£", None, ""),
    ("12,50 €", "12.50", "", "€", None, ""),
    ("12,50€", "12.50", "", "€", None, ""),
    ("GBP 12.5", "12.5", "", "GBP", None, ""),
    ("12.5 gbp", "12.5", "", "gbp", None, ""),
    ("US$ 12.50", "12.50", "", "US$", None, ""),
    ("1.234,00", "1234.00", "", "", None, ""),
    ("1,234.00", "1234.00", "", "", None, ""),
    ("1.234.567", "1234567", "", "", None, ""),
    ("1 234,50", "1234.50", "", "", None, ""),
    ("1\N{NO-BREAK SPACE}234,50", "1234.50", "", "", None, ""),
    ("1\N{NARROW NO-BREAK SPACE}234", "1234", "", "", None, ""),
    ("1'234.50", "1234.50", "", "", None, ""),
    ("1\N{RIGHT SINGLE QUOTATION MARK}234.50", "1234.50", "", "", None, ""),
    ("12,34,567.00", "1234567.00", "", "", None, ""),
    ("0.999", "0.999", "", "", None, ""),
    ("1234.567", "1234.567", "", "", None, ""),
    (".50", "0.50", "", "", None, ""),
    ("12,-", "12", "", "", None, ""),
    ("12.– €", "12", "", "€", None, ""),
    ("12€50", "12.50", "", "€", None, ""),
    ("12.50 each", "12.50", "each", "", None, ""),
    ("12.50 ea.", "12.50", "each", "", None, ""),
    ("£12.50/ea", "12.50", "each", "£", None, ""),
    ("12.50 / piece", "12.50", "each", "", None, ""),
    ("2 for 30", "30", "pack", "", 2, ""),
    ("2 for £30.00", "30.00", "pack", "£", 2, ""),
    ("£30 for 2", "30", "pack", "£", 2, ""),
    ("12.50 for 4", "12.50", "pack", "", 4, ""),
    ("10 for £5", "5", "pack", "£", 10, ""),
    ("30/pr", "30", "pack", "", 2, ""),
    ("30 per pair", "30", "pack", "", 2, ""),
    ("30 the pair", "30", "pack", "", 2, ""),
    ("pair £30", "30", "pack", "£", 2, ""),
    ("9.60/doz", "9.60", "pack", "", 12, ""),
    ("9.60 per 10", "9.60", "pack", "", 10, ""),
    ("9.60 per box of 10", "9.60", "pack", "", 10, ""),
    ("box of 10: £9.60", "9.60", "pack", "£", 10, ""),
    ("30/set", "30", "pack", "", None, ""),
    ("12.50 + VAT", "12.50", "", "", None, "without"),
    ("£12.50 plus VAT", "12.50", "", "£", None, "without"),
    ("12.50 ex VAT", "12.50", "", "", None, "without"),
    ("12.50 (excl. VAT)", "12.50", "", "", None, "without"),
    ("12.50 inc. VAT", "12.50", "", "", None, "with"),
    ("12.50 inc", "12.50", "", "", None, "with"),
    ("12,50 brutto", "12.50", "", "", None, "with"),
    ("12.50 net", "12.50", "", "", None, "without"),
    ("£6.25 each + VAT", "6.25", "each", "£", None, "without"),
    ("free of charge", "0", "free", "", None, ""),
]


@pytest.mark.parametrize(("cell", "amount", "per", "currency", "pack", "tax"), READ)
def test_read(cell, amount, per, currency, pack, tax):
    read = prices.price(cell)
    assert isinstance(read, AsWritten), read
    assert read.amount.value == Decimal(amount)
    assert (read.per, read.currency, read.pack, read.tax) == (per, currency, pack, tax)


NO_PRICE = ["POA", "p.o.a.", "Price on application", "TBC", "n/a", "-", "--", "call", "sold out", "?", "auf Anfrage"]


@pytest.mark.parametrize("cell", [*NO_PRICE, None])
def test_no_price_yet(cell):
    read = prices.price(cell)
    assert isinstance(read, NoPrice)
    assert not read.asked


NEVER_GUESSED = [
    "12-15", "12 - 15", "from 12", "c. 12", "~12", "12?", "12*", "12.50 13.50", "2 @ 15", "2 x 15", "2x15", "15 x 2",
    "10 for 5", "2 for", "for 30", "0 for 30", "2 for 30 for 4", "-12", "12-", "12.50-", "(12.50)", "12%", "1e5",
    "0x12",
    "1.2.3", "1,23,4", "1.234,5.6", "1,234,56", "12.50 GBP EUR", "£12 €14", "12.50 VAT", "12.50 inc 20% VAT", "12 50",
    "½", "twelve", "£", "price", "12.50 per metre", "12.50 weekly", "3+ 12.50", "buy 2 get 1", "12.50 of which VAT",
    "12.50 incl excl VAT", "p", "1" * 30, "9" * 200, "free postage",
]  # fmt: skip


@pytest.mark.parametrize("cell", [*NEVER_GUESSED, UnfitCell("a formula without a stored result"), Decimal(-1)])
def test_never_guessed(cell):
    read = prices.price(cell)
    assert isinstance(read, NoPrice), read
    assert read.reason


@pytest.mark.parametrize(
    ("cell", "grouped", "parted"),
    [("1.234", "1234", "1.234"), ("12,345", "12345", "12.345"), ("£999.999", "999999", "999.999")],
)
def test_read_two_ways(cell, grouped, parted):
    read = prices.price(cell)
    assert isinstance(read, AsWritten)
    assert read.amount.value is None
    assert (read.amount.grouped, read.amount.parted) == (Decimal(grouped), Decimal(parted))
    sign = "." if "." in cell else ","
    other = "," if sign == "." else "."
    assert read.amount.under("") is None
    assert read.amount.under(sign) == Decimal(parted)
    assert read.amount.under(other) == Decimal(grouped)


@pytest.mark.parametrize(
    ("cells", "sign"),
    [
        (["1.234", "12.5"], "."),
        (["1.234", "12,5"], ","),
        (["1.234", "1.234.567"], ","),
        (["1,234", "1,234.5"], "."),
        (["1.234", "20", "7"], ""),
        (["12.5", "12,5"], "both"),
        (["12.5678"], "."),
        (["0,123"], ","),
    ],
)
def test_what_tells_the_sign(cells, sign):
    read = [prices.price(cell) for cell in cells]
    assert numbers.told_by(each.amount for each in read if isinstance(each, AsWritten))[0] == sign


def test_small_coins():
    read = prices.price("95p")
    assert isinstance(read, AsWritten)
    assert (read.small, read.currency, read.amount.value) == (True, "GBP", Decimal(95))


def test_a_spreadsheets_own_number():
    assert prices.price(Decimal("1.234")) == AsWritten(numbers.Digits(Decimal("1.234")), exact=True)
    marked = prices.price(Marked(Decimal("1.5"), "EUR"))
    assert isinstance(marked, AsWritten)
    assert marked.currency == "EUR"


@pytest.mark.parametrize(
    ("mark", "code", "fits"),
    [
        ("£", "GBP", True), ("£", "EUR", False), ("gbp", "GBP", True), ("$", "AUD", True), ("A$", "AUD", True),
        ("US$", "AUD", False), ("kr", "SEK", True), ("€", "XXX", False), ("XXX", "XXX", False), ("Fr.", "CHF", True),
    ],
)  # fmt: skip
def test_which_currency_a_sign_can_mean(mark, code, fits):
    assert currencies.fits(mark, Currency.of(code)) is fits


@pytest.mark.parametrize(
    ("amount", "code", "minor"),
    [("0.005", "GBP", 1), ("0.0049999", "GBP", 0), ("2.675", "GBP", 268), ("1.5", "JPY", 2), ("1.2345", "KWD", 1235)],
)
def test_rounded_half_up(amount, code, minor):
    assert prices.to_minor(Decimal(amount), Currency.of(code)) == minor


@pytest.mark.parametrize("amount", ["1E20", "99999999999999"])
def test_too_large_an_amount(amount):
    with pytest.raises(ValueError, match="larger"):
        prices.to_minor(Decimal(amount), Currency.of("GBP"))


@pytest.mark.parametrize(
    ("written", "percent"),
    [("20", "20"), ("20 %", "20"), ("17,5%", "17.5"), (Decimal("0.2"), "20"), (Decimal(20), "20"), ("0.5%", "0.5"),
     ("0", "0"), ("101", None), ("-5", None), ("T1", None), ("", None), ("1.234", None)],
)  # fmt: skip
def test_rates(written, percent):
    assert numbers.percent(written) == (None if percent is None else Decimal(percent))


@pytest.mark.parametrize(
    ("line", "price"),
    [
        ("Prices include VAT", 1000),
        ("VAT is included", 1000),
        ("All prices including tax", 1000),
        ("Prices do not include VAT", 1200),
        ("VAT is not included", 1200),
        ("Prices are plus 20 % VAT", 1200),
        ("Prices exclude VAT", 1200),
        ("Come and see us", 1200),
    ],
)
def test_a_line_of_text_says_of_all_prices_whether_the_tax_is_in_them(taken, line: str, price: int) -> None:
    """And what it says goes before a rate that a person names for a whole sheet."""
    (row,) = taken(f"{line}\npart,condition,price\nfront-disc,new,10.00\n", Told(ex_tax="20")).rows
    assert row.price_minor == price
