"""An order that is written down line by line: one postage, one minimum, and nothing is left out in between."""

from __future__ import annotations

from datetime import timedelta

import pytest

from optimiser import service
from optimiser.model import events as h
from optimiser.model.job import Fault, Job, Pot, Repair, Settings
from optimiser.model.plan import Remark
from optimiser.model.quotes import Quote, Supplier
from tests.unit.state.scene import AT, MONEY, SAID, TODAY, after, bought, fitted, piece

PARTS = ("horn", "lamp", "mirror")
QUOTES = tuple(
    Quote(
        id=f"quotes.csv:{line}", part=part, supplier="yard", condition="new", price_minor=1500, good_chance=1.0
    )
    for line, part in enumerate(PARTS, start=2)
)  # fmt: skip
FAULTS = tuple(
    Fault(id=part, severity="minor", repairs=(Repair(id="swap", chance=0.9, parts={part: 1}),)) for part in PARTS
)
ONE_LINE = Job(
    settings=Settings(currency="GBP", today=TODAY),
    pot=Pot(cap_minor=5100),
    faults=FAULTS,
    quotes=QUOTES,
    suppliers=(Supplier(id="yard", postage_minor=600, minimum_order_minor=3000),),
)


def terms(happenings, job: Job = ONE_LINE, days: int = 0) -> Supplier:
    return after(happenings, job, days).job.supplier("yard")


def test_nothing_is_left_out_between_the_lines() -> None:
    """From the case "oneline", with a third line: the pot is enough for all three and one postage."""
    assert service.plan(ONE_LINE).purse.unspent_minor == 0
    lines = [bought(quote, postage_minor=0 if place else 600) for place, quote in enumerate(QUOTES)]
    for so_many in range(len(lines) + 1):
        plan = service.plan(after(lines[:so_many], ONE_LINE).job)
        assert plan.expected_fixes == pytest.approx(2.7)
        assert plan.purse.unspent_minor == 0
        joined = [notice.about for notice in plan.notices if notice.remark == Remark.JOINS_AN_ORDER]
        assert joined == ([("yard", *map(str, range(1, so_many + 1)))] if 0 < so_many < 3 else [])


def test_what_was_bought_today_counts_towards_the_minimum_and_its_postage_is_paid() -> None:
    joining = terms([bought(QUOTES[0], postage_minor=600)])
    assert (joining.postage_minor, joining.minimum_order_minor, joining.joins) == (0, 1500, (1,))
    unpaid = terms([bought(QUOTES[0], postage_minor=0)])
    assert (unpaid.postage_minor, unpaid.minimum_order_minor, unpaid.joins) == (600, 1500, (1,))


@pytest.mark.parametrize(("free_over", "left", "postage"), [(4000, 2500, 600), (1500, 0, 0)])
def test_and_towards_a_waiver(free_over, left, postage) -> None:
    yard = ONE_LINE.suppliers[0].model_copy(update={"free_over_minor": free_over})
    job = ONE_LINE.model_copy(update={"suppliers": (yard,)})
    joining = terms([bought(QUOTES[0], postage_minor=0)], job)
    assert (joining.free_over_minor, joining.postage_minor) == (left, postage)


@pytest.mark.parametrize(
    "then",
    [
        h.SentBack(**SAID, part="horn", units=1, bought=1),
        fitted("horn", "swap", piece("bought:1", of=QUOTES[0]), cured=True),
        fitted("horn", "swap", piece("bought:1", of=QUOTES[0], then="sent-back")),
    ],
)
def test_an_order_of_which_something_has_come_is_not_added_to(then) -> None:
    """What went back, and was refunded, reaches no minimum of the next order and pays no postage of it."""
    assert terms([bought(QUOTES[0]), bought(QUOTES[1]), then]) == ONE_LINE.suppliers[0]
    assert terms([bought(QUOTES[0]), then, bought(QUOTES[1])]).joins == (3,)


@pytest.mark.parametrize(("minor", "joins"), [(1500, (2,)), (1499, (1, 2))])
def test_what_was_refunded_whole_is_in_no_order(minor, joins) -> None:
    refund = h.Refund(**MONEY, amount_minor=minor, bought=1)
    assert terms([bought(QUOTES[0]), bought(QUOTES[1]), refund]).joins == joins


@pytest.mark.parametrize("why", ["tomorrow", "much later", "elsewhere", "other money"])
def test_what_is_no_part_of_today_s_order_is_not_counted(why) -> None:
    first = bought(QUOTES[0])
    if why == "tomorrow":
        assert terms([first], days=1) == ONE_LINE.suppliers[0]
    elif why == "much later":
        assert terms([first, bought(QUOTES[1], supplier="else", at=AT + timedelta(hours=13))]) == ONE_LINE.suppliers[0]
    elif why == "elsewhere":
        assert terms([bought(QUOTES[0], supplier="else")]) == ONE_LINE.suppliers[0]
    else:
        assert terms([bought(QUOTES[0], currency="EUR")]) == ONE_LINE.suppliers[0]
