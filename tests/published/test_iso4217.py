"""Codes and decimal places of ISO 4217 against the package ``iso4217``, which carries the standard's list one."""

from __future__ import annotations

import iso4217
import pytest

from optimiser.money import NO_CURRENCY, PLACES

LISTED = {currency.code: currency.exponent for currency in iso4217.Currency}


def test_every_code_that_is_listed_with_places_is_known():
    assert {code for code, places in LISTED.items() if places is not None} == set(PLACES) - {NO_CURRENCY}


@pytest.mark.parametrize("code", sorted(set(PLACES) - {NO_CURRENCY}))
def test_places(code):
    assert PLACES[code] == LISTED[code]


def test_no_currency_is_a_code_of_the_standard_without_places():
    assert LISTED[NO_CURRENCY] is None
    assert PLACES[NO_CURRENCY] == 2
