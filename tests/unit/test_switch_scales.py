"""Where a choice would change, marked on scales; the points are those of ``test_switching``, reckoned by hand there."""

from __future__ import annotations

import pytest

from optimiser import service
from optimiser.model.evidence import FailedAttempt
from optimiser.model.job import Job
from optimiser.model.plan import Comparison, SwitchPoints
from optimiser.show.html.switch_scales import SwitchScales, switch_scales
from tests.tiny_job import but
from tests.unit.test_switching import CHEAP, DEAR, MOTOR, job, quote


def compared(of: Job) -> Comparison:
    return service.compare(of, "horn")


def with_points(known: Comparison, points: SwitchPoints | None) -> SwitchScales:
    rows = (row.model_copy(update={"switch": points}) if row.switch is not None else row for row in known.rows)
    return switch_scales(known.model_copy(update={"rows": tuple(rows)}))


def test_the_points_stand_on_their_scales_with_what_is_now() -> None:
    """10.00 stays up to 21.42, on a scale to 26.78; the chance of 0.5 down to 0.2334."""
    scales = switch_scales(compared(job(CHEAP, DEAR)))
    (price,), (chance,) = scales.prices, scales.chances
    assert (price.low, price.high) == ("0.00", "26.78 GBP")
    assert (price.now.x, price.now.said) == ("37.34%", "now 10.00")
    assert (price.turn.x, price.turn.said) == ("79.99%", "changes above 21.42")
    assert (price.stays_from, price.stays_to) == ("0%", price.turn.x)
    assert "up to a price of 21.42 GBP alone" in price.reading
    assert (chance.now.x, chance.turn.x) == ("50.00%", "23.34%")
    assert (chance.stays_from, chance.stays_to) == (chance.turn.x, "100%")
    assert "down to a chance of 0.2334" in chance.reading


def test_a_pack_has_a_scale_of_its_own_and_the_chance_is_told_as_it_is_typed() -> None:
    """Its own parts are sound at 0.8: a chance of 0.36 is one of 0.45 with sound parts, where 0.9 is typed."""
    known = compared(job(MOTOR, quotes=(but(quote(2, "motor", 2000), good_chance=0.8),)))
    scales = with_points(known, SwitchPoints(surcharge_minor=500, chance=0.36, pack_minor=2500))
    assert [one.title for one in scales.prices] == ["Its price, bought alone", "Its quoted price, a pack"]
    assert "a pack" in scales.prices[1].reading
    (chance,) = scales.chances
    assert chance.now.said == "now 72%"
    assert chance.reading.endswith("With sound parts, as it is typed above, that is 0.45.")
    tried = known.plan.job.model_copy(update={"seen": {"horn": (FailedAttempt("other", ()),)}})
    after = known.model_copy(update={"plan": known.plan.model_copy(update={"job": tried})})
    (chance,) = with_points(after, SwitchPoints(surcharge_minor=None, chance=0.36)).chances
    assert "as it is typed" not in chance.reading


@pytest.mark.parametrize(
    ("points", "prices", "turn"),
    [
        (None, 0, None),
        (SwitchPoints(surcharge_minor=None, chance=None), 0, None),
        (SwitchPoints(surcharge_minor=0, chance=0.0), 1, None),
        (SwitchPoints(surcharge_minor=None, chance=None, any_fall_loses=True), 0, "changes below 50%"),
    ],
)
def test_what_is_not_settled_or_nowhere_is_not_marked(
    points: SwitchPoints | None, prices: int, turn: str | None
) -> None:
    scales = with_points(compared(job(CHEAP, DEAR)), points)
    assert len(scales.prices) == prices
    assert [one.turn.said for one in scales.chances if one.turn] == ([turn] if turn else [])


def test_a_price_of_nothing_has_a_scale_too() -> None:
    free = compared(job(but(CHEAP, price_minor=0)))
    (price,) = with_points(free, SwitchPoints(surcharge_minor=0, chance=None)).prices
    assert (price.now.x, price.turn.x) == ("0.00%", "0.00%")
