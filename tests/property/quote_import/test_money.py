"""Prices in the locales of the world, written by Babel from the CLDR (Unicode's common locale data), read by us.

An outside check: what Babel writes is either read to the same amount, or can be read two ways and is left open, or
is set aside. It is never another amount.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from babel.numbers import format_currency, format_decimal
from hypothesis import given
from hypothesis import strategies as st

from optimiser.money import Currency
from optimiser.quote_import import numbers, prices
from optimiser.quote_import.prices import AsWritten
from optimiser.sheet_files import currencies, grid
from tests.effort import examples

LATIN = [
    "en_GB",
    "en_US",
    "en_IN",
    "en_ZA",
    "de_DE",
    "de_AT",
    "de_CH",
    "fr_FR",
    "fr_CH",
    "fr_CA",
    "es_ES",
    "es_MX",
    "it_IT",
    "nl_NL",
    "nl_BE",
    "pt_PT",
    "pt_BR",
    "sv_SE",
    "nb_NO",
    "da_DK",
    "fi_FI",
    "is_IS",
    "pl_PL",
    "cs_CZ",
    "sk_SK",
    "hu_HU",
    "ro_RO",
    "bg_BG",
    "el_GR",
    "tr_TR",
    "ru_RU",
    "uk_UA",
    "et_EE",
    "lv_LV",
    "lt_LT",
    "hr_HR",
    "sl_SI",
    "ga_IE",
    "mt_MT",
    "ja_JP",
    "zh_CN",
    "ko_KR",
    "he_IL",
    "id_ID",
    "vi_VN",
    "th_TH",
    "af_ZA",
]
AMOUNTS = st.integers(1, 10**9).map(lambda minor: Decimal(minor).scaleb(-2))
CODES = st.sampled_from(["GBP", "EUR", "USD", "CHF", "SEK", "PLN", "INR", "ZAR"])


@examples(400)
@given(AMOUNTS, st.sampled_from(LATIN), CODES)
def test_money_of_every_locale(amount, locale, code):
    cell = grid.text(format_currency(amount, code, locale=locale))
    read = prices.price(cell)
    if not isinstance(read, AsWritten):
        assert read.asked
        assert code not in ("GBP", "EUR"), (cell, locale)  # signs known everywhere; other names are set aside at worst
        return
    assert read.amount.value == amount, (cell, locale)
    assert read.pack is None
    assert currencies.fits(read.currency, Currency.of(code)), (cell, locale)


@examples(400)
@given(st.integers(0, 10**8), st.integers(0, 4), st.sampled_from(LATIN))
def test_numbers_of_every_locale(units, places, locale):
    amount = Decimal(units).scaleb(-places)
    cell = grid.text(format_decimal(amount, format=None, locale=locale, decimal_quantization=False))
    read = prices.price(cell)
    assert isinstance(read, AsWritten), (cell, locale)
    if read.amount.value is None:
        assert amount in (read.amount.grouped, read.amount.parted)
    else:
        assert read.amount.value == amount, (cell, locale)


@examples(150)
@given(st.lists(AMOUNTS, min_size=1, max_size=12), st.sampled_from(LATIN))
def test_a_column_in_one_locale_is_read_in_it(amounts, locale):
    """However few amounts of a column settle the sign, what they settle is what was written."""
    cells = [format_decimal(amount, format="#,##0.00##", locale=locale) for amount in amounts]
    cells += [format_decimal(Decimal("1234"), locale=locale)]
    read = [prices.price(cell) for cell in cells]
    decimal, _ = numbers.told_by(each.amount for each in read if isinstance(each, AsWritten))
    assert decimal in (".", ",")
    for each, amount in zip(read, [*amounts, Decimal(1234)], strict=True):
        assert isinstance(each, AsWritten)
        assert each.amount.under(decimal) == amount


@examples(500)
@given(st.text(alphabet="0123456789.,' £€-/()xp@+%", max_size=14))
def test_digits_are_never_made_up(cell):
    """Whatever is read has the digits that were written, in their order."""
    read = prices.price(cell)
    if isinstance(read, AsWritten):
        for value in (read.amount.value, read.amount.grouped, read.amount.parted):
            if value:
                wanted = "".join(sign for sign in cell if sign.isdigit())
                assert f"{value:f}".replace(".", "").strip("0") in wanted


@pytest.mark.parametrize("locale", LATIN)
def test_the_list_of_locales_has_both_signs_in_it(locale):
    assert format_decimal(Decimal("1.5"), locale=locale)[1] in ".,"
