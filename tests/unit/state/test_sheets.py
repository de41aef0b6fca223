"""The suppliers' sheets after what was bought: which of several quotes it was."""

from __future__ import annotations

from .scene import JOB, MOTOR, after, bought

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
