"""The gravest comes first in every order of steps: looks, orders and their lines, and what is said to be next."""

from __future__ import annotations

from io import StringIO
from typing import Any

import pytest

from optimiser import service
from optimiser.certificate.plan import certify
from optimiser.errors import PlanRefusedError
from optimiser.model.evidence import Finding
from optimiser.model.job import Check, Job, Part, Pot, Repair
from optimiser.model.plan import Plan
from optimiser.planning import tonight
from optimiser.show import as_json, layout, order_letters, terminal, tonight_words
from tests.tiny_job import BASE, BLOWER, CHECKED, HORN, LAMP, NEW, ROUTED, but

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
    "the graver look": (LOOKS, "Next: 1. Blower dead (DANGEROUS): Feed it 12 V (10 min)."),
    "what takes no part, before an order": (
        but(BASE, settings=FALL_BACK, faults=(HORN, WIPE), pot=Pot(cap_minor=1100)),
        "Next: 2. wipe: wipe (minutes not said).",
    ),
    "the same where nothing hangs on it": (but(BASE, faults=(HORN, ALONE)), "Next: 2. lamp: wipe (minutes not said)."),
    "the order for what is dangerous, before lesser work": (
        but(BASE, faults=(but(HORN, severity="dangerous", systems=("wiring",)), ALONE)),
        "Next: order from alder (9.00 GBP), for horn (DANGEROUS). `optimiser orders` lists it.",
    ),
    "what is free and dangerous, before what is ordered": (
        but(BASE, faults=(HORN, but(ALONE, severity="dangerous"))),
        "Next: 1. lamp (DANGEROUS): wipe (minutes not said).",
    ),
    "what is free and graver than a look": (
        but(LOOKS, faults=(BLOWER, GRAVE_WIPE)), "Next: 1. grave (DANGEROUS): wipe (minutes not said).",
    ),
    "a look as grave as what is free": (
        but(LOOKS, faults=(but(BLOWER, severity="dangerous"), GRAVE_WIPE)),
        "Next: 1. Blower dead (DANGEROUS): Feed it 12 V (10 min).",
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", NEXT)
def test_next(what: str) -> None:
    job, said = NEXT[what]
    assert tonight_words.next_step(service.plan(job)) == said


def test_what_is_dangerous_is_named_where_something_else_comes_before_it() -> None:
    """What is found out on a lesser fault may add to the order for the dangerous one: so it comes first."""
    looked = but(ROUTED["shared"].faults[0], id="blower")
    grave = but(HORN, severity="dangerous", systems=("wiring",))
    job = but(ROUTED["shared"], faults=(grave, looked), pot=Pot(cap_minor=9000, hour_worth_minor=0))
    assert tonight_words.next_step(service.plan(job)) == (
        "Next: 2. Blower dead: Mend the wire (15 min). Then what is dangerous (this may add to it): order from alder"
        " (13.50 GBP), for horn."
    )


def test_an_order_says_which_looks_may_add_to_it_wherever_it_is_told() -> None:
    looked = but(ROUTED["shared"].faults[0], id="blower")
    grave = but(HORN, severity="dangerous", systems=("wiring",))
    plan = service.plan(but(ROUTED["shared"], faults=(grave, looked), pot=Pot(cap_minor=9000, hour_worth_minor=0)))
    after = "Better sent after step 2, which may add to it."
    assert order_letters.before_sending(plan) == [after]
    assert [order["better_after"] for order in as_json.orders(plan)["orders"]] == [[2]]
    assert "after step" not in order_letters.letter(plan, plan.orders[0]), "it is no word for the shop"
    terminal.orders(layout.console(told := StringIO()), plan)
    assert after in " ".join(told.getvalue().split())


def test_a_look_that_waits_for_the_dangerous_repair_holds_up_no_order() -> None:
    """Else the parts of that repair would wait for it, and it for them."""
    grave = but(HORN, severity="dangerous", systems=("wiring",))
    looked = ROUTED["three_results"].faults[0]
    driven = but(looked, checks=tuple(but(check, mind=("driven",)) for check in looked.checks))
    pot = Pot(cap_minor=9000, hour_worth_minor=0)
    plans = [service.plan(but(ROUTED["three_results"], faults=(grave, one), pot=pot)) for one in (looked, driven)]
    assert [tonight.adding(plan, "alder") for plan in plans] == [("pump",), ()]


def test_a_dangerous_fault_that_the_money_does_not_reach_says_by_how_much() -> None:
    dear = but(LAMP, id="pipe", title="Pipe weeps", severity="dangerous", repairs=(
        Repair(id="shop", chance=0.9, price_minor=20000, by="workshop"),
    ))  # fmt: skip
    plan = service.plan(but(BASE, faults=(HORN, dear), pot=Pot(cap_minor=9000, hour_worth_minor=0)))
    assert tonight_words.next_step(plan).endswith(
        " DANGEROUS and out of reach, and every other purchase makes that worse: Pipe weeps (its cheapest likely way"
        " costs 200.00 GBP, 110.00 GBP more than remains)."
    )


def test_a_dangerous_fault_for_which_only_a_long_shot_is_planned_says_what_likelier_work_lacks() -> None:
    """Its price is rough, so it is one to ask for: a shop may want less."""
    pump = Part(id="pump", rough_price={"new": (15000, 25000)})
    rough = but(NEW, id="rough", part="pump", supplier="still-to-be-asked", price_minor=20000, rough=True)
    weeps = but(LAMP, id="pipe", title="Pipe weeps", severity="dangerous", repairs=(
        Repair(id="wipe", chance=0.02), Repair(id="fit", chance=0.9, parts={"pump": 1}),
    ))  # fmt: skip
    job = but(BASE, faults=(HORN, weeps), parts=(pump,), pot=Pot(cap_minor=9000, hour_worth_minor=0))
    plan = service.plan(but(job, quotes=(*BASE.quotes, rough)))
    assert tonight_words.next_step(plan).endswith(
        " DANGEROUS and hardly planned for, and every other purchase makes that worse: Pipe weeps (2%; its cheapest"
        " likely way costs 200.00 GBP, 110.00 GBP more than remains)."
    )
    assert [one.part for one in plan.quotes_to_get] == ["pump"]
    told = {fault["id"]: fault["beyond"] for fault in as_json.plan(plan)["faults"]}
    assert told == {"horn": None, "pipe": {"repair": "fit", "by": "self", "alone": "200.00"}}
    within = service.plan(but(job, quotes=(*BASE.quotes, but(rough, price_minor=8000))))
    assert "hardly planned" not in tonight_words.next_step(within)


def test_a_dangerous_fault_that_gives_way_to_others_says_what_it_lacks() -> None:
    """It is within the money, and so not out of reach: another takes it."""
    lesser, dearer = (
        but(LAMP, id=name, title=name, severity="dangerous", repairs=(
            Repair(id="shop", chance=chance, price_minor=price, by="workshop"),
        ))
        for name, chance, price in (("pipe", 0.15, 8000), ("hose", 0.9, 8500))
    )  # fmt: skip
    said = tonight_words.next_step(service.plan(but(BASE, faults=(lesser, dearer), pot=Pot(cap_minor=9000))))
    assert said.endswith(
        " DANGEROUS and set aside, as the plan spends the money on others: pipe (its cheapest likely way costs"
        " 80.00 GBP)."
    )


def test_what_can_be_looked_at_for_nothing_is_named_where_a_dangerous_fault_is_out_of_reach() -> None:
    """What it shows may be within reach; what costs, is made already or tells nothing is not named."""
    results = {"seal": {"seal": 0.9, "default": 0.1}, "no-seal": {"default": 0.9, "seal": 0.1}}
    looks = {
        "feel": Check(id="feel", title="Feel it", minutes=5, results={"same": {"default": 0.9}}),
        "test": Check(id="test", title="Have it tested", minutes=5, cost_minor=100, results=results),
        "look": Check(id="look", title="Look at it", minutes=5, results=results),
    }
    shop = Repair(id="shop", cures={"seal": 1, "pump": 1}, price_minor=20000, by="workshop")
    dear = but(
        LAMP, id="pipe", title="Pipe weeps", severity="dangerous", causes={"seal": 1, "pump": 1}, repairs=(shop,)
    )

    def said(*names: str, **more: Any) -> str:
        fault = but(dear, checks=tuple(looks[name] for name in names))
        job = but(BASE, faults=(HORN, fault), pot=Pot(cap_minor=9000, hour_worth_minor=0), **more)
        return tonight_words.next_step(service.plan(job)).partition(" Look all the same, ")[2]

    assert said(*looks) == (
        "it is free and may show what the money does reach: Look at it (5 min); then optimiser found pipe look RESULT."
    )
    assert said("feel", "test") == ""
    assert said("look", seen={"pipe": (Finding(check="look", result="seal"),)}) == ""


def test_a_dangerous_fault_without_a_task_is_named() -> None:
    lost = but(HORN, id="pipe", title="Pipe weeps", severity="dangerous", repairs=())
    still_open = " DANGEROUS and still open, with nothing to do for it yet: Pipe weeps."
    assert tonight_words.next_step(service.plan(but(BASE, faults=(HORN, lost)))).endswith(still_open)
    left = but(BASE, faults=(HORN, lost), left={"pipe": 1})
    assert tonight_words.next_step(service.plan(left)).endswith(" DANGEROUS and left as it is: Pipe weeps.")
    nothing = tonight_words.next_step(service.plan(but(BASE, faults=(lost,))))
    assert nothing == f"Nothing is left to do for this money.{still_open}"
