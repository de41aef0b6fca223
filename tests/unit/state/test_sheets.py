"""The suppliers' sheets after what was bought: which of several quotes it was."""

from __future__ import annotations

import pytest

from optimiser.model import events as h

from .scene import JOB, MONEY, MOTOR, SAID, after, bought, fitted, piece

PAIR = MOTOR.model_copy(update={"id": "quotes.csv:7", "pack": 2})
"""Alike in all but the pack, at the same price."""


def test_another_pack_is_another_quote() -> None:
    standing = after([bought(PAIR)], JOB.model_copy(update={"quotes": (MOTOR, PAIR)})).job
    assert [quote.stock for quote in standing.quotes] == [4, 3]
    assert (standing.shelf["bought:1"].units, standing.shelf["bought:1"].came_from) == (2, ("quotes.csv:7",))


def test_on_another_line_it_is_still_the_one_of_that_pack() -> None:
    """The sheet was sorted anew since: the line of the pair is now the single one's, and the other way about."""
    swapped = (MOTOR.model_copy(update={"id": PAIR.id}), PAIR.model_copy(update={"id": MOTOR.id}))
    standing = after([bought(PAIR)], JOB.model_copy(update={"quotes": swapped})).job
    assert [quote.stock for quote in standing.quotes] == [4, 3]
    assert standing.shelf["bought:1"].came_from == (MOTOR.id,)


def test_bought_for_another_price_than_asked_it_is_the_one_named() -> None:
    dearer = MOTOR.model_copy(update={"id": "quotes.csv:9", "price_minor": 8000})
    job = JOB.model_copy(update={"quotes": (dearer, MOTOR)})
    assert [quote.stock for quote in after([bought(price_minor=5500)], job).job.quotes] == [4, 3]
    assert [quote.stock for quote in after([bought(price_minor=8000)], job).job.quotes] == [3, 4]
    gone = after([bought(MOTOR.model_copy(update={"id": "quotes.csv:40"}), price_minor=5500)], job).job
    assert [quote.stock for quote in gone.quotes] == [4, 4]
    assert gone.shelf["bought:1"].came_from == ()


def sent_back(units: int = 1, number: int = 1) -> h.SentBack:
    return h.SentBack(**SAID, part="motor", units=units, bought=number)


def refund(amount: int, number: int | None = 1) -> h.Refund:
    return h.Refund(**MONEY, amount_minor=amount, bought=number)


@pytest.mark.parametrize(
    ("happened", "left"),
    [
        ((sent_back(), refund(7000)), 3),
        ((refund(7000), sent_back()), 3),
        ((sent_back(), refund(5000), refund(2000)), 3),
        ((sent_back(2), refund(14000)), 4),
        ((sent_back(), refund(7000), sent_back()), 3),
        ((sent_back(2), refund(7000)), 2),
        ((sent_back(),), 2),
        ((refund(7000),), 2),
        ((sent_back(), refund(6999)), 2),
        ((sent_back(), refund(7000, None)), 2),
        ((fitted("blower", "motor", piece("bought:1", then="sent-back")), refund(7000)), 2),
        ((fitted("blower", "motor", piece("bought:1")), sent_back(2), refund(14000)), 3),
        ((sent_back(2), refund(14000), bought(packs=4)), 0),
    ],
)
def test_what_went_back_unfitted_is_on_offer_again_once_it_is_refunded_in_full(
    happened: tuple[h.Happening, ...], left: int
) -> None:
    """Of four motors two are bought, at 60.00 and 10.00 of deposit each. One that was tried stays away."""
    assert after([bought(packs=2), *happened]).job.quotes[0].stock == left


def test_packs_come_back_whole() -> None:
    job = JOB.model_copy(update={"quotes": (PAIR,)})
    assert after([bought(PAIR), sent_back(), refund(8000)], job).job.quotes[0].stock == 3
    assert after([bought(PAIR), sent_back(2), refund(8000)], job).job.quotes[0].stock == 4


def test_no_more_comes_back_than_the_sheet_had() -> None:
    job = JOB.model_copy(update={"quotes": (MOTOR.model_copy(update={"stock": 1}),)})
    assert after([bought(packs=2), sent_back(2), refund(14000)], job).job.quotes[0].stock == 1
