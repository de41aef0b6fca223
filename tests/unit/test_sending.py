"""Which orders may wait for an answer: nothing may be lost by it, and the gravest fault's is sent now."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from optimiser import service
from optimiser.model.job import Access, Job, Pot, Repair
from optimiser.model.plan import Plan
from optimiser.model.quotes import Supplier
from optimiser.planning.sending import Waiting, answers_first, freed_minor, waiting
from optimiser.show import as_json, route_words, steps, tonight_words
from tests.tiny_job import BASE, HORN, NEW, but

FIT = Repair(id="fit", chance=0.9)
FREE = (Supplier(id="alder"), Supplier(id="birch"))
DEAR = 9000


def job(supplier: str = "alder", access: tuple[str, ...] = (), severity: str = "dangerous", **quote: Any) -> Job:
    """A minor fault that needs a disc and a graver one that needs a pin, from suppliers without terms.

    Both have another way that nobody has a part for: more may be tried if the first does not cure.
    """
    disc, pin = but(NEW, **quote), but(NEW, id="quotes.csv:4", part="pin", supplier=supplier)
    another = Repair(id="rebuild", chance=0.5, parts={"kit": 1})
    faults = [
        but(HORN, id=part, severity=how, repairs=(but(FIT, parts={part: 1}, access=access), another))
        for part, how in (("disc", "minor"), ("pin", severity))
    ]
    return but(BASE, faults=tuple(faults), quotes=(disc, pin), suppliers=FREE, pot=Pot(cap_minor=DEAR))


def waits(asked: Job) -> Waiting:
    return waiting(service.plan(asked))


WAITS = "may wait until step 1 is answered: nothing is lost by it, and the answer may free its money or change it."
LATER = Waiting(frozenset({NEW.id}), ("pin",))


def test_the_less_grave_fault_waits_for_the_answer_of_the_gravest() -> None:
    assert waits(job()) == waits(job("birch")) == LATER


def test_of_faults_as_grave_the_first_waits_for_nothing() -> None:
    assert waits(job(severity="minor")) == Waiting(frozenset({"quotes.csv:4"}), ("disc",))


def test_what_is_dangerous_waits_for_nothing() -> None:
    asked = job("birch")
    grave = tuple(but(fault, severity="dangerous") for fault in asked.faults)
    assert waits(but(asked, faults=grave)) == Waiting()


@pytest.mark.parametrize("pin", [{"repairs": (but(FIT, parts={"pin": 1}),)}, {"repairs": (but(FIT, parts={"pin": 1}, chance=0.99), but(FIT, id="rebuild", parts={"kit": 1}))}])  # noqa: E501 # fmt: skip
def test_an_answer_that_changes_nothing_is_not_waited_for(pin: dict[str, Any]) -> None:
    """Nothing else could be tried after it, or it is next to sure to cure; and no money is kept for it."""
    asked = but(job("birch"), quotes=(NEW, but(NEW, id="quotes.csv:4", part="pin", supplier="birch", good_chance=1.0)))
    assert waits(asked) == LATER
    disc = but(asked.faults[0], repairs=asked.faults[0].repairs[:1])
    assert waits(but(asked, faults=(disc, but(asked.faults[1], **pin)))) == Waiting()


@pytest.mark.parametrize(
    "terms", [{"postage_minor": 1}, {"minimum_order_minor": 1}, {"trip_minutes": 5}, {"joins": (1,)}]
)
def test_terms_tie_an_order_together(terms: dict[str, Any]) -> None:
    tied = FREE[0].model_copy(update=terms)
    assert waits(but(job(), suppliers=(tied, FREE[1]))) == Waiting()
    assert waits(but(job("birch"), suppliers=(tied, FREE[1]))) == LATER


@pytest.mark.parametrize("quote", [{"stock": 3}, {"valid_until": BASE.settings.today + timedelta(days=90)}])
def test_what_may_be_gone_does_not_wait(quote: dict[str, Any]) -> None:
    assert waits(job(**quote)) == Waiting()


@pytest.mark.parametrize("own", [{"postage_minor": 350}, {"minimum_order_minor": 2000}])
def test_what_rides_on_a_purchase_of_today_does_not_wait(own: dict[str, Any]) -> None:
    """From tomorrow on it is an order of its own, with its own postage and minimum."""
    joining = FREE[0].model_copy(update={"joins": (1,), "own": FREE[0].model_copy(update=own)})
    assert waits(but(job("birch"), suppliers=(joining, FREE[1]))) == Waiting()
    nothing_spared = FREE[0].model_copy(update={"joins": (1,), "own": FREE[0]})
    assert waits(but(job("birch"), suppliers=(nothing_spared, FREE[1]))) == LATER


def test_what_the_same_cover_hides_does_not_wait() -> None:
    covered = but(job(access=("dash",)), access=(Access(id="dash", minutes=5),))
    assert waits(covered) == Waiting()


def test_what_one_fault_needs_of_two_suppliers_is_sent_together() -> None:
    asked = job("birch")
    both = but(asked.faults[1], repairs=(Repair(id="fit", chance=0.9, parts={"disc": 1, "pin": 1}),))
    assert waits(but(asked, faults=(asked.faults[0], both))) == Waiting()


@pytest.mark.parametrize(("days", "late"), [(4, False), (3, True)])
def test_a_last_day_leaves_time_for_one_after_another(days: int, late: bool) -> None:
    due = but(BASE.settings, needed_by=BASE.settings.today + timedelta(days=days))
    pin = but(NEW, id="quotes.csv:4", part="pin", lead_days=2)
    asked = but(job(), settings=due, quotes=(but(NEW, lead_days=2), pin))
    assert waits(asked) == (Waiting() if late else LATER)


def said(plan: Plan) -> list[str]:
    return [route_words.may_wait(plan, order, steps.numbers(plan)) for order in plan.orders]


def test_the_advice_is_said_and_given_as_json() -> None:
    plan = service.plan(job("birch"))
    assert said(plan) == [
        "",
        f"This order {WAITS}",
    ]
    assert said(service.plan(job()))[0].startswith("Line 4 may wait until step 1 is answered")
    assert [line["waits_for"] for order in as_json.orders(plan)["orders"] for line in order["lines"]] == [[], [1]]
    assert tonight_words.next_step(plan).endswith("`optimiser orders` lists it, and says what may wait.")
    assert tonight_words.next_step(plan).count("GBP") == 1


def test_of_steps_that_cost_the_gravest_then_the_most_freed_comes_first() -> None:
    grave, slight = (choice.fault for choice in service.plan(job()).choices)
    assert sorted([(slight, 900.0), (grave, 0.0), (grave, 5.0)], key=lambda x: answers_first(*x)) == [
        (grave, 5.0), (grave, 0.0), (slight, 900.0),
    ]  # fmt: skip


def test_a_refund_is_money_that_an_answer_may_free() -> None:
    plan = service.plan(job(refund_share=0.5))
    disc = plan.choice("disc")
    assert disc.route is not None
    assert freed_minor(plan.choice("pin")) == 0
    assert freed_minor(disc) == pytest.approx((1 - disc.route.first.chance) * disc.route.first.refund_minor)
