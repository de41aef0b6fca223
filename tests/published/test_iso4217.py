"""Codes and decimal places of ISO 4217 against the package ``iso4217``, which carries the standard's list one."""

from __future__ import annotations

import iso4217

from optimiser.money import NO_CURRENCY, PLACES

LISTED = {currency.code: currency.exponent for currency in iso4217.Currency}


def test_every_code_that_is_listed_with_places_is_known_with_these():
    places = {code: number for code, number in LISTED.items() if number is not None}
    assert {code: number for code, number in PLACES.items() if code != NO_CURRENCY} == places


def test_no_currency_is_a_code_of_the_standard_without_places():
    assert LISTED[NO_CURRENCY] is None
    assert PLACES[NO_CURRENCY] == 2
