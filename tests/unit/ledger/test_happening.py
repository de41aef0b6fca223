"""What may be recorded, what it costs, and that hostile text stays text."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta, timezone

import pytest
from pydantic import ValidationError

from optimiser.ledger import Store
from optimiser.model import events as h
from optimiser.model.quotes import Quote

from .sample import AT, note, one_of_each, purchase


def test_one_of_each_is_every_kind() -> None:
    """Else the tests below miss one; a strike is written by the store alone."""
    kinds = {type(each) for each in one_of_each()} | {h.Strike}
    assert kinds == set(h.Happening.__origin__.__args__)


def test_what_each_kind_draws_on_the_pot() -> None:
    cash = {each.kind: each.cash_minor for each in one_of_each()}
    assert {kind: amount for kind, amount in cash.items() if amount} == {
        "finding": 150,
        # three packs at 12.50, postage 4.90, six pieces with a deposit of 3.00 each
        "purchase": 3 * 1250 + 490 + 6 * 300,
        "fitting": 600,
        "refund": -1250,
        "deposit-returned": -300,
        "spend": 799,
    }


def test_a_purchase_counts_pieces() -> None:
    assert (purchase().units, purchase().deposits_minor) == (6, 1800)


def test_a_purchase_keeps_the_whole_quote() -> None:
    quote = Quote(
        id="quotes.csv:7",
        part="starter",
        supplier="north",
        condition="refurbished",
        price=9900,
        pack=2,
        good_chance=0.85,
        deposit=2500,
        refund_share=0.5,
        lead_days=6,
        warranty_months=12,
        ref="ST-4" * 1000,
    )
    bought = h.Purchase.of(quote, 3, currency="GBP", at=AT, source="bought", postage_minor=490)
    assert (bought.quote, bought.part, bought.supplier, bought.condition) == (
        quote.id,
        "starter",
        "north",
        "refurbished",
    )
    assert (bought.packs, bought.pack, bought.price_minor, bought.postage_minor, bought.deposit_minor) == (3, 2, 9900, 490, 2500)  # noqa: E501 # fmt: skip
    assert (bought.good_chance, bought.refund_share, bought.lead_days, bought.warranty_months) == (0.85, 0.5, 6, 12)
    assert bought.ref == quote.ref[: h.MOST_SIGNS]
    with pytest.raises(ValueError, match="on the shelf"):
        h.Purchase.of(
            quote.model_copy(update={"supplier": None}), 1, currency="GBP", at=AT, source="bought", postage_minor=0
        )


def test_times_are_kept_as_utc() -> None:
    there = datetime(2026, 11, 25, 1, 30, tzinfo=timezone(timedelta(hours=6)))
    kept = h.Note(at=there, source="note", text="x").at
    assert (kept, kept.tzinfo) == (AT, UTC)


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"at": datetime(2026, 11, 24, 19, 30)}, "timezone"),  # noqa: DTZ001 - that is what is refused
        ({"at": datetime(1, 1, 1, tzinfo=timezone(timedelta(hours=14)))}, "a year from 1970"),
        ({"at": datetime(9999, 12, 31, tzinfo=timezone(timedelta(hours=-12)))}, "a year from 1970"),
        ({"source": ""}, "at least 1"),
        ({"source": "\x1b[31m"}, "pattern"),
        ({"currency": "ABC"}, "ISO 4217"),
        ({"price_minor": 12.5}, "integer"),
        ({"price_minor": True}, "integer"),
        ({"price_minor": "12"}, "integer"),
        ({"price_minor": -1}, "greater than or equal to 0"),
        ({"price_minor": 10**12 + 1}, "less than or equal"),
        ({"packs": 0}, "greater than or equal to 1"),
        ({"good_chance": float("nan")}, "finite"),
        ({"good_chance": 1.01}, "less than or equal to 1"),
        ({"condition": "worn"}, "new"),
        ({"part": "a\nb"}, "printable"),
        ({"ref": "x" * (h.MOST_SIGNS + 1)}, "at most"),
        ({"ref": "\udcff"}, "unicode"),
        ({"colour": "red"}, "Extra"),
    ],
)
def test_what_may_not_be_recorded(changes, why) -> None:
    with pytest.raises(ValidationError, match=why):
        purchase(**changes)


def test_records_are_frozen() -> None:
    with pytest.raises(ValidationError, match="frozen"):
        note().text = "something else"


HOSTILE = [
    "'); DROP TABLE happenings; --",
    '"}]}\n{"number":2,"happening":{}}',
    "\0 and \x1b[2J and \x07",
    "\u202eevil\u2066\u200b\ufeff",
    "\U0001f527" * 500,
    "\r\n\u2028\u2029",
    "%s {0} ${x} `rm`",
    "",
]


def test_hostile_text_is_text(tmp_path) -> None:
    Store(tmp_path).append([note(text) for text in HOSTILE])
    assert [entry.happening.text for entry in Store(tmp_path).entries()] == HOSTILE


def test_plans_are_json() -> None:
    for text in ("{", "", "[" * 200_000):
        with pytest.raises(ValidationError):
            h.PlanMade(number=1, at=AT, after=0, text=text)
