"""Switch points of what is tried first, on jobs small enough to reckon by hand."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from optimiser import service
from optimiser.model.job import Fault, Job, Pot, Repair, Settings
from optimiser.model.plan import Forced
from optimiser.model.quotes import Quote
from optimiser.show import as_json, compare_words
from tests.tiny_job import but

TODAY = date(2026, 11, 24)


def job(*repairs: Repair, quotes: tuple[Quote, ...] = (), **told: Any) -> Job:
    return Job(
        settings=Settings(**({"currency": "GBP", "today": TODAY, "chance_step": 0.0} | told)),
        pot=Pot(cap_minor=10_000),
        faults=(Fault(id="horn", severity="minor", repairs=repairs),),
        quotes=quotes,
    )


def quote(number: int, part: str, price: int, **more: Any) -> Quote:
    return Quote(
        id=f"quotes.csv:{number}", part=part, supplier="yard", condition="new", price_minor=price, good_chance=1.0,
        **more,
    )  # fmt: skip


def chosen(of: Job) -> Forced:
    (row,) = (row for row in service.compare(of, "horn").rows if row.switch is not None)
    return row


CHEAP = Repair(id="cheap", chance=0.5, price_minor=1000)
DEAR = Repair(id="dear", chance=0.7, price_minor=3000)
MOTOR = Repair(id="self", chance=0.9, parts={"motor": 1})


def test_a_rival_that_falls_back_on_the_option_pays_its_surcharge_too() -> None:
    """10.00 + d first, then 30.00 with 0.5, is no dearer than 30.00 first, then 10.00 + d with 0.3, up to d = 11.42.

    At a chance p: 10.00 + (1 - p) 30.00 against 33.00, so down to p = 7/30.
    """
    row = chosen(job(CHEAP, DEAR))
    assert row.option.repair == "cheap"
    assert (row.switch.surcharge_minor, row.switch.chance) == (1142, 0.2334)
    said = " ".join(compare_words.switch(job(), row))
    assert "up to a price of 21.42 GBP alone (now 10.00 GBP)" in said
    assert "down to a chance of 0.2334 (now 0.5000)" in said


def test_the_point_is_a_step_of_chance_where_chances_count_in_steps() -> None:
    assert chosen(job(CHEAP, DEAR, chance_step=0.01)).switch.chance == 0.23


def test_the_chance_is_the_options_own_and_never_above_it() -> None:
    """The offer of today first and then the one that takes three days; the other way round there is one attempt."""
    relay = Repair(id="relay", chance=0.3, parts={"relay": 1})
    horn = Repair(id="horn", chance=0.6, parts={"horn": 1})
    quotes = (quote(2, "relay", 200, valid_until=TODAY), quote(3, "horn", 1200, lead_days=3))
    row = chosen(job(relay, horn, quotes=quotes))
    assert row.option.repair == "relay"
    assert row.switch.chance == 0.0
    steps = chosen(job(relay, horn, quotes=quotes, chance_step=0.01)).switch
    assert steps.chance == 0.01  # 0.60 + 0.40 x 0.0125 counts as 0.61


def test_a_fall_that_another_repair_makes_good_loses_nothing() -> None:
    """Two alike: at the least fall the other comes first, and it at once as a fallback."""
    row = chosen(job(CHEAP, but(CHEAP, id="other")))
    assert row.switch.any_fall_loses
    assert row.switch.surcharge_minor == 0


@pytest.mark.parametrize("fallbacks", [True, False])
def test_a_pack_that_two_options_may_buy_has_no_price_of_its_own(fallbacks: bool) -> None:
    fitted = but(MOTOR, id="shop", by="workshop", price_minor=2500)
    answer = service.compare(job(MOTOR, fitted, quotes=(quote(2, "motor", 1200),), fallbacks=fallbacks), "horn")
    (option,) = (o for o in as_json.comparison(answer)["options"] if o["chosen"])
    assert (option["price_up_to"], option["pack_price_up_to"]) == ("37.00", None)


@pytest.mark.parametrize("fallbacks", [True, False])
def test_a_pack_that_one_option_alone_may_buy_has_a_price(fallbacks: bool) -> None:
    fitted = Repair(id="shop", by="workshop", chance=0.9, price_minor=3700)
    row = chosen(job(but(MOTOR, parts={"motor": 2}), fitted, quotes=(quote(2, "motor", 1200),), fallbacks=fallbacks))
    assert row.switch.pack_minor == 1200 + row.switch.surcharge_minor // 2
    refunded = (quote(2, "motor", 1200, refund_share=0.5),)
    row = chosen(job(but(MOTOR, parts={"motor": 2}), fitted, quotes=refunded, fallbacks=fallbacks))
    assert (row.switch.pack_minor is None) == fallbacks


def test_a_point_that_the_time_did_not_allow_is_not_guessed() -> None:
    row = chosen(job(CHEAP, DEAR))
    late = row.model_copy(update={"switch": row.switch.model_copy(update={"surcharge_minor": None, "chance": None})})
    price, chance, _ = compare_words.switch(job(), late)
    assert "not settled in the time allowed" in price
    assert "not settled in the time allowed" in chance
