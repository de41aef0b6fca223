"""The gravest comes first in every order of steps: looks, orders and their lines, and what is said to be next."""

from __future__ import annotations

import pytest

from optimiser import service
from optimiser.certificate.plan import certify
from optimiser.errors import PlanRefusedError
from optimiser.model.job import Job, Pot, Repair
from optimiser.model.plan import Plan
from optimiser.show import change_words
from tests.tiny_job import BASE, BLOWER, CHECKED, HORN, LAMP, NEW, USED, but

LOOKS = but(
    CHECKED, faults=(but(BLOWER, id="cheap", title="Lamp"), but(BLOWER, id="grave", severity="dangerous")),
    pot=Pot(cap_minor=9000, hour_worth_minor=0),
)  # fmt: skip


def test_a_plan_that_looks_at_what_is_less_grave_first_is_refused() -> None:
    plan = service.plan(LOOKS)
    assert [look.fault for look in plan.do_first] == ["grave", "cheap"]
    with pytest.raises(PlanRefusedError, match="not the gravest first"):
        certify(plan.model_copy(update={"do_first": plan.do_first[::-1]}))


def ordered(*severities: str) -> Plan:
    """Two faults of these severities; alder sells the part of the first and of the second, birch that of the third."""
    pin, cap = (but(NEW, id=f"quotes.csv:{n}", part=part, supplier=s) for n, part, s in ((4, "pin", "alder"), (5, "cap", "birch")))  # noqa: E501 # fmt: skip
    faults = [
        but(HORN, id=part, severity=severity, repairs=(Repair(id="fit", chance=0.9, parts={part: 1}),))
        for part, severity in zip(("disc", "pin", "cap"), severities, strict=True)
    ]
    return service.plan(but(BASE, faults=tuple(faults), quotes=(NEW, pin, cap), pot=Pot(cap_minor=9000)))


@pytest.mark.parametrize(
    ("severities", "lines"),
    [
        (("minor", "minor", "minor"), [["disc", "pin"], ["cap"]]),
        (("minor", "minor", "dangerous"), [["cap"], ["disc", "pin"]]),
        (("minor", "major", "dangerous"), [["cap"], ["pin", "disc"]]),
        (("minor", "dangerous", "major"), [["pin", "disc"], ["cap"]]),
    ],
)
def test_orders_and_their_lines_begin_with_the_gravest_fault(severities: tuple[str, ...], lines: list[str]) -> None:
    assert [[line.quote.part for line in order.lines] for order in ordered(*severities).orders] == lines


FALL_BACK = but(BASE.settings, fallbacks=True)
WIPE = but(LAMP, id="wipe", repairs=(Repair(id="wipe", chance=0.5), Repair(id="bulb", chance=0.4, price_minor=100)))
GRAVE_WIPE = but(WIPE, id="grave", severity="dangerous")
ALONE = but(LAMP, repairs=(Repair(id="wipe", chance=0.5),))
NEXT: dict[str, tuple[Job, str]] = {
    "the graver look": (LOOKS, "Next: 1. Feed it 12 V (10 min)."),
    "what is free and may fail, before an order": (
        but(BASE, settings=FALL_BACK, faults=(HORN, WIPE), pot=Pot(cap_minor=1100)), '"wipe".',
    ),
    "an order before what nothing hangs on": (but(BASE, faults=(HORN, ALONE)), "order from"),
    "what is free and graver than what is ordered": (
        but(BASE, faults=(HORN, but(ALONE, severity="dangerous"))), 'Next: 1. "wipe".',
    ),
    "what is free and graver than a look": (
        but(LOOKS, faults=(BLOWER, GRAVE_WIPE)), 'Next: 1. "wipe".',
    ),
    "a look as grave as what is free": (
        but(LOOKS, faults=(but(BLOWER, severity="dangerous"), GRAVE_WIPE)), "Feed it 12 V (10 min).",
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", NEXT)
def test_next(what: str) -> None:
    job, said = NEXT[what]
    assert said in change_words.next_step(service.plan(job))


def test_a_part_on_order_waits() -> None:
    """With nothing free and nothing to order the gravest fault's own step is next."""
    plan = service.plan(but(BASE, faults=(LAMP, but(HORN, severity="major")), quotes=(USED,)))
    assert change_words.next_step(plan).startswith("Next: order from birch")
