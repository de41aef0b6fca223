"""The certificate on trees: each figure of a route falsified by itself, then stories about what its paths do."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from functools import cache
from typing import Any

import pytest

from optimiser import service
from optimiser.certificate.plan import certify
from optimiser.errors import PlanRefusedError
from optimiser.model.evidence import FailedAttempt, Finding, ItIs, ItIsNot, Piece
from optimiser.model.job import Access, Check, Fault, Job, LicensedSystem, Owned, Part, Pot, Repair, Time
from optimiser.model.plan import Plan
from optimiser.model.quotes import Supplier
from optimiser.model.route import AttemptStep, Branch, Route, Stop, figures_of
from tests import tiny_job
from tests.tiny_job import BASE, HORN, TODAY, but
from tests.unit.test_certify import JUDGED, everywhere, put, quote, unnoticed

FEED = Check(id="feed", minutes=10, cost_minor=30, access=("dash",), results={
    "spins": {"wire": 1.0, "default": 0.1}, "still": {"motor": 0.8, "wire": 0.0}, "hums": {},
})  # fmt: skip
BLOWER = Fault(
    id="blower", severity="major", importance=1.5, sale_gain_minor=9000, causes={"wire": 2.0, "motor": 3.0},
    something_else=0.1, checks=(FEED,), repairs=(
        Repair(id="mend", cures={"wire": 0.9}, parts={"plug": 1}, minutes=15, price_minor=20),
        Repair(id="motor", cures={"motor": 0.97, "wire": 0.1}, parts={"plug": 2, "motor": 1}, minutes=60,
               access=("dash",)),
    ),
)  # fmt: skip
HOB = Fault(
    id="hob", severity="dangerous", causes={"hose": 1.0, "valve": 2.0},
    checks=(Check(id="soap", minutes=5, results={"bubbles": {"hose": 0.9, "valve": 0.2}}),), repairs=(
        Repair(id="hose", cures={"hose": 0.95}, parts={"hose": 1}, minutes=20),
        Repair(id="shop", cures={"valve": 0.9}, by="workshop", price_minor=1200, lead_days=3),
    ),
)  # fmt: skip
RICH = but(
    BASE,
    settings=but(BASE.settings, fallbacks=True, needed_by=TODAY + timedelta(days=12), check_must_gain=0.0),
    pot=Pot(cap_minor=20000, spent_minor=500, hour_worth_minor=600),
    time=Time(hours=9),
    access=(Access(id="dash", minutes=45, price_minor=300),),
    owned=(Owned(part="disc", units=1, condition="refurbished", good_chance=0.7),),
    faults=(BLOWER, HOB, HORN),
    quotes=(
        quote(2, "plug", 200),
        quote(3, "motor", 2500, supplier="birch", deposit_minor=400, refund_share=0.5, lead_days=2),
        quote(4, "motor", 900, supplier="cedar", condition="salvage", good_chance=0.6, lead_days=1),
        quote(5, "hose", 700, refund_share=0.25),
        quote(6, "disc", 850, pack=2),
    ),
    suppliers=(
        Supplier(id="alder", postage_minor=450, minimum_order_minor=900, free_over_minor=5000),
        Supplier(id="birch", postage_minor=300, trip_minutes=30),
        Supplier(id="cedar", postage_minor=250, minimum_order_minor=1500, free_over_minor=2500),
    ),
)  # fmt: skip
"""Blower: a check, then a plug in every branch, or a motor too. Hob: a hose, then a workshop. Horn: the shelf first."""
LEANING = but(
    RICH, faults=(BLOWER, HORN), owned=(), pot=Pot(cap_minor=6000),
    quotes=(
        quote(2, "plug", 200, pack=3),
        quote(4, "motor", 900, supplier="cedar", condition="salvage", good_chance=0.9, lead_days=1),
        quote(6, "disc", 1600, supplier="cedar", pack=2, deposit_minor=50),
    ),
)  # fmt: skip
"""The disc is sure to reach the minimum that the motor alone would not."""
TRIED = FailedAttempt("motor", (Piece("bought:1", 0.6), Piece("bought:2", 0.9)))
AGAIN = FailedAttempt("motor", (Piece("bought:1", 0.6), Piece("bought:3", 0.8)))
SEEN = but(
    RICH,
    faults=(BLOWER, but(HOB, twin="gas-way"), but(HOB, id="hob-left", twin="gas-way")),
    seen={
        "blower": (TRIED, AGAIN, ItIsNot("wire")),
        "hob-left": (Finding("soap", "not-bubbles"), FailedAttempt("hose", (Piece("bought:4", 0.95),))),
    },
)
"""Twins, and attempts that failed with a piece in common."""
SLOW = but(
    RICH, faults=(HORN,), owned=(),
    quotes=(
        quote(2, "disc", 300, lead_days=4, good_chance=0.5),
        quote(3, "disc", 900, supplier="birch", lead_days=4, good_chance=0.5, valid_until=TODAY + timedelta(days=4)),
    ),
    suppliers=(Supplier(id="alder"), Supplier(id="birch", postage_minor=50, free_over_minor=900)),
)  # fmt: skip
"""Two discs, one after the other, four days each."""
TOPPED = but(
    SLOW,
    quotes=(*SLOW.quotes, quote(4, "plug", 100, supplier="birch")),
    suppliers=(Supplier(id="alder"), Supplier(id="birch", postage_minor=50, minimum_order_minor=1000)),
)
"""The second disc alone is below the minimum: a plug tops its order up."""
CLASHING = but(RICH, seen={"hob": (ItIs("hose"), ItIsNot("hose"))})
SHARED = tiny_job.ROUTED["shared"]
PRICED = but(
    SHARED, access=(Access(id="dash", minutes=45, price_minor=61),),
    suppliers=(Supplier(id="alder", postage_minor=451),),
    faults=tuple(but(f, repairs=tuple(but(r, access=("dash",)) for r in f.repairs)) for f in SHARED.faults),
)  # fmt: skip
"""Three faults behind one trim, whose clips cost something; a third of it is no whole amount, nor of the postage."""
AHEAD = tiny_job.ROUTED["ahead"]
WAITING = but(
    AHEAD, settings=but(AHEAD.settings, needed_by=TODAY + timedelta(days=3)), pot=Pot(cap_minor=4000),
    faults=(but(AHEAD.faults[0], repairs=(
        *AHEAD.faults[0].repairs, Repair(id="fuse", chance=0.2, parts={"fuse": 1}, minutes=90, price_minor=900),
    )),),
    quotes=(but(AHEAD.quotes[0], lead_days=2), but(AHEAD.quotes[1], lead_days=2),
            quote(4, "fuse", 900, lead_days=1, good_chance=1.0)),
)  # fmt: skip
"""A bulb on the second day, the relay with it, and a fuse that takes the day that is left."""
JOBS = {
    "waiting": WAITING,
    "rich": RICH,
    "leaning": LEANING,
    "seen": SEEN,
    "slow": SLOW,
    "topped": TOPPED,
    "clashing": CLASHING,
    "priced": PRICED,
}


@cache
def planned(name: str) -> Plan:
    return service.plan(JOBS[name]) if name in JOBS else tiny_job.routed(name)


def route(plan: Plan, fault: str) -> Route:
    found = plan.selection.route_for(fault)
    assert found is not None
    return found


def test_the_plans_that_are_falsified_below_are_good_and_rich() -> None:
    rich, leaning, seen = planned("rich"), planned("leaning"), planned("seen")
    for name in JOBS:
        certify(planned(name))
    blower = route(rich, "blower")
    assert [(line.quote.id, line.units) for line in blower.certain] == [("quotes.csv:2", 1)]
    assert [step.refund_minor for step in blower.attempts] == [0, 1250, 1250]
    assert [step.cash_minor - step.net_minor for step in blower.attempts] == [0, 400, 400]
    assert len(route(rich, "hob").attempts) == len(route(rich, "horn").attempts) == 2
    assert route(rich, "horn").attempts[1].cash_minor == 850  # the shelf's came before any order, so this rides along
    second = route(planned("topped"), "horn").attempts[1]
    assert (second.topping, second.cash_minor) == ((("quotes.csv:4", 1),), 900 + 100 + 50)
    assert [order.supplier.id for order in rich.orders] == ["alder"]  # birch is not sure to get one
    assert rich.choice("blower").postage_minor == 300
    assert route(leaning, "blower").relies_on == ("cedar",)
    assert {step.option.repair for step in route(seen, "blower").attempts} == {"motor"}
    assert seen.odds["hob"][0].now != pytest.approx(seen.odds["hob"][0].written, abs=0.01)


@pytest.mark.parametrize(("days", "needed_by"), [(3, None), (3, 20), (19, 20)])
def test_a_later_order_is_not_topped_up_with_what_may_have_lapsed(days: int, needed_by: int | None) -> None:
    """Nobody knows its day: the plug would have to last until all is done."""
    plug = but(TOPPED.quotes[2], valid_until=TODAY + timedelta(days=days))
    day = needed_by and TODAY + timedelta(days=needed_by)
    job = but(TOPPED, quotes=(*TOPPED.quotes[:2], plug), settings=but(TOPPED.settings, needed_by=day))
    assert not topped_up_later(job)
    lasting = but(plug, valid_until=TODAY + timedelta(days=20))
    assert topped_up_later(but(job, quotes=(*job.quotes[:2], lasting))) == (needed_by is not None)


def topped_up_later(job: Job) -> bool:
    return any(step.topping for step in route(service.plan(job), "horn").attempts)


@pytest.mark.parametrize("name", ["rich", "leaning", "seen", "three_results", "profit"])
def test_every_figure_falsified_by_itself_is_noticed(name: str) -> None:
    assert unnoticed(planned(name)) <= JUDGED


FIGURES_OF_A_ROUTE = {
    "chance": (1e-6, "blower: chance .* of the route is not"),
    "net_minor": (1, "blower: expected net cost .* is not"),
    "minutes": (0.1, "blower: expected minutes .* are not"),
    "cash_minor": (1, "blower: the dearest path takes"),
    "worst_minutes": (1, "blower: the longest path takes"),
}


@pytest.mark.parametrize("more", [1, -1])
@pytest.mark.parametrize("figure", FIGURES_OF_A_ROUTE)
def test_a_figure_of_a_route_that_is_wrong_wherever_it_stands_is_refused(figure: str, more: int) -> None:
    """By the route's own witness: no sum of the plan has to give it away."""
    change, words = FIGURES_OF_A_ROUTE[figure]
    plan = planned("rich")
    old = route(plan, "blower")
    told = everywhere(plan, old, put(old, (figure,), lambda value: value + more * change))
    with pytest.raises(PlanRefusedError, match=words):
        certify(told)


Lie = Callable[[Plan], Plan]


def with_job(*path: Any, value: Any) -> Lie:
    return lambda plan: put(plan, ("job", *path), value)


def with_fault(number: int, *path: Any, value: Any) -> Lie:
    """A fault other than the plan was made for, told consistently in the job and in the choice."""
    return lambda plan: everywhere(plan, plan.job.faults[number], put(plan.job.faults[number], path, value))


def with_quote(number: int, **changes: Any) -> Lie:
    return lambda plan: everywhere(plan, plan.job.quotes[number], plan.job.quotes[number].model_copy(update=changes))


def with_supplier(number: int, **changes: Any) -> Lie:
    return lambda plan: everywhere(
        plan, plan.job.suppliers[number], plan.job.suppliers[number].model_copy(update=changes)
    )


def with_route(fault: str, *path: Any, value: Any) -> Lie:
    """Something else in a fault's route, wherever that stands; its own figures added up again from the tree."""

    def told(plan: Plan) -> Plan:
        old = route(plan, fault)
        new = put(old, path, value)
        return everywhere(plan, old, new.model_copy(update=figures_of(new.first)._asdict()))

    return told


def both(*lies: Lie) -> Lie:
    def told(plan: Plan) -> Plan:
        for lie in lies:
            plan = lie(plan)
        return plan

    return told


def then(*numbers: int) -> tuple[Any, ...]:
    """The way down a tree by the numbers of its branches."""
    return ("first", *(step for number in numbers for step in ("then", number, "then")))


def tree(name: str, fault: str, *numbers: int) -> Any:
    node: Any = route(planned(name), fault).first
    for number in numbers:
        node = node.then[number].then
    return node


def cheaper(step: AttemptStep) -> AttemptStep:
    return step.model_copy(update={"cash_minor": step.cash_minor - 1, "net_minor": step.net_minor - 1})


def surer(branches: tuple[Branch, ...]) -> tuple[Branch, ...]:
    """A little of the first branch's chance more, of the second's less."""
    first, second, *others = branches
    return (
        first.model_copy(update={"chance": first.chance + 1e-6}),
        second.model_copy(update={"chance": second.chance - 1e-6}),
        *others,
    )


WHAT_THE_JOB_SAYS: dict[str, tuple[str, Lie, str]] = {
    "a dearer check": ("rich", with_fault(0, "checks", 0, "cost_minor", value=31), "feed: cost or minutes are not"),
    "a longer check": ("rich", with_fault(0, "checks", 0, "minutes", value=11), "feed: cost or minutes are not"),
    "a check behind more": ("rich", with_fault(0, "checks", 0, "access", value=()), "10 for feed|for feed are not 10"),
    "another check": ("rich", with_fault(0, "checks", 0, "id", value="prod"), "no check feed"),
    "other results": (
        "rich", with_fault(0, "checks", 0, "results", "still", "motor", value=0.7), "feed: chance of still is not"
    ),
    "a check on gas": ("rich", with_fault(0, "systems", value=(LicensedSystem.GAS.value,)), "feed: licensed work"),
    "another cure": ("rich", with_fault(1, "repairs", 1, "cures", "valve", value=0.8), "shop: chance of cured is not"),
    "other odds": ("rich", with_fault(1, "causes", "hose", value=2.0), "hob: odds of hose are not 0.475"),
    "more unknown": ("rich", with_fault(1, "something_else", value=0.1), "hob: odds of something-else are not 0.1"),
    "a finding unheard": ("rich", with_job("seen", value={"hob": (ItIsNot("valve"),)}), "hob: odds of valve are not 0"),
    "a finding made up": ("seen", with_job("seen", "hob-left", value=()), "hob: odds of hose are not"),
    "a failure unheard": ("seen", with_job("seen", "blower", value=(TRIED, ItIsNot("wire"))), "motor: chance of cured"),
    "less in common": ("seen", with_job("settings", "twin_strength", value=0.4), "hob: odds of hose are not"),
    "no twins": ("seen", with_fault(2, "twin", value=None), "hob: odds of hose are not"),
    "a check made": (
        "rich", with_job("seen", value={"blower": (Finding("feed", "still"),)}), "check feed is made twice"
    ),
    "a disc that failed": (
        "rich", with_job("seen", value={"horn": (FailedAttempt("swap", (Piece("owned:1", 0.7),)),)}),
        "horn: swap: a quote or piece that did not help before",
    ),
    "a disc kept": ("rich", with_job("owned", 0, "kept_from", value="horn"), "horn: swap: a quote or piece that did"),
    "a shop that failed": (
        "rich", with_job("seen", value={"hob": (FailedAttempt("shop"),)}), "shop: tried before without parts"
    ),
    "one attempt": ("rich", with_job("settings", "most_attempts", value=1), "shop: more than 1 attempts"),
    "no fallbacks": ("rich", with_job("settings", "fallbacks", value=False), "though the job allows no fallbacks"),
    "no fallbacks, and no look": ("slow", with_job("settings", "fallbacks", value=False), "horn: more than one"),
    "a slow workshop later": ("rich", both(
        with_fault(1, "repairs", 1, "lead_days", value=6), with_job("settings", "needed_by", value=TODAY + timedelta(5))
    ), "shop: done too late after what was tried before"),
    "needed sooner": ("slow", with_job("settings", "needed_by", value=TODAY + timedelta(days=7)), "late after what"),
    "lapsed by then": ("slow", with_quote(1, valid_until=TODAY + timedelta(days=3)), "quotes.csv:3 has lapsed"),
    "a top-up lapsed": ("topped", with_quote(2, valid_until=TODAY + timedelta(days=3)), "quotes.csv:4 has lapsed"),
    "postage later": ("slow", with_supplier(1, free_over_minor=901), "swap: cash 900 is not 950"),
    "a trip later": ("slow", with_supplier(1, trip_minutes=5), "swap: 20 minutes are not 25"),
    "a minimum within reach": ("slow", with_supplier(1, minimum_order_minor=950), "the order to birch is below its"),
    "a greater refund": ("rich", with_quote(1, refund_share=0.6), "motor: refund 1250 is not 1500"),
    "a refund by the piece": ("rich", with_quote(3, refund_share=0.3), "hose: refund 175 is not 210"),
    "a greater deposit": ("rich", with_quote(1, deposit_minor=401), "motor: .* less the 401 that come back"),
    "a deposit on what tops up": ("topped", with_quote(2, deposit_minor=30), "swap: cash 1050 is not 1080"),
    "salvage on top": ("topped", both(
        with_quote(2, condition="salvage"),
        lambda plan: put(plan, ("job", "parts"), (*plan.job.parts, Part(id=plan.job.quotes[2].part, kind="restraint"))),
    ), "horn: swap: quotes.csv:4 is salvage|horn: swap: quotes.csv:4 is not new"),
    "too few to top up": ("topped", with_quote(2, stock=0), "quotes.csv:4: only 0 packs, where 1 may be taken"),
    "a refund of one of two": ("leaning", with_quote(2, refund_share=0.5), "swap: refund 0 is not 400"),
    "a refund of its piece": ("rich", with_quote(4, refund_share=0.5), "swap: refund 0 is not 213"),
    "a refund of a pack of its own": ("slow", with_quote(1, refund_share=0.5), "swap: refund 0 is not 450"),
    "a dearer part": ("rich", with_quote(1, price_minor=2501), "motor: cash 3100 is not 3101"),
    "a poorer part": ("rich", with_quote(1, good_chance=0.97), "motor: chance of cured is not"),
    "too few for all": ("rich", with_quote(0, stock=1), "quotes.csv:2: only 1 packs, where 2 may be taken"),
    "dearer postage": ("rich", with_supplier(1, postage_minor=301), "5450 kept for fallbacks is not 5451"),
    "a longer trip": ("rich", with_supplier(1, trip_minutes=31), "minutes are not"),
    "a higher minimum": ("topped", with_supplier(1, minimum_order_minor=1100), "the order to birch is below its"),
    "nothing spared ahead": ("ahead", with_supplier(0, postage_minor=0), "but nothing is spared by it"),
    "ahead comes late": ("waiting", with_quote(1, lead_days=3), "fuse: done too late after what was tried before"),
    "another gain": ("profit", with_fault(0, "sale_gain_minor", value=9001), "profit .* is not"),
    "dearer hours": ("profit", with_job("pot", "hour_worth_minor", value=700), "profit .* is not"),
}  # fmt: skip


@pytest.mark.parametrize("story", WHAT_THE_JOB_SAYS)
def test_a_route_for_another_job_is_refused(story: str) -> None:
    name, lie, words = WHAT_THE_JOB_SAYS[story]
    told = lie(planned(name))
    assert told != planned(name)
    with pytest.raises(PlanRefusedError, match=words):
        certify(told)


def tried_again(plan: Plan) -> Plan:
    """The disc of the shelf once more, after both discs have failed."""
    again = tree("rich", "horn").model_copy(update={"then": (Branch(result="cured", chance=1.0, then=Stop()),)})
    return with_route("horn", *then(1, 1), value=again)(plan)


def workshop_again(plan: Plan) -> Plan:
    shop = tree("rich", "hob", 1)
    return with_route("hob", *then(1, 1), value=shop)(plan)


def looked_again(plan: Plan) -> Plan:
    look = tree("rich", "blower")
    return with_route("blower", *then(2), value=look)(plan)


def three_ahead(plan: Plan) -> Plan:
    """The two lines of the first order and a third, all said to be bought ahead."""
    first, second = route(plan, "lamp").certain
    third = put(second, ("quote", "id"), "quotes.csv:9")
    lie = both(
        with_route("lamp", "certain", value=(first, second, third)),
        with_route("lamp", "ahead", value=("quotes.csv:2", "quotes.csv:3", "quotes.csv:9")),
    )
    return lie(plan)


def surer_option(plan: Plan) -> Plan:
    """The workshop's work, wherever it is named; what its branches say stays."""
    option = tree("rich", "hob", 1).option
    return everywhere(plan, option, option.model_copy(update={"chance": 0.95}))


OF_BLOWER = ("blower", "first", "then")
WHAT_THE_TREE_SAYS: dict[str, tuple[str, Lie, str]] = {
    "a check twice": ("rich", looked_again, "blower: check feed is made twice"),
    "an unknown result": ("rich", with_route(*OF_BLOWER, 0, "result", value="smokes"), "feed: branches are not its"),
    "a result twice": ("rich", with_route(*OF_BLOWER, 0, "result", value="still"), "feed: branches are not its"),
    "a result forgotten": ("rich", with_route(*OF_BLOWER, value=lambda them: them[:2]), "chance of hums is not 0.099"),
    "a likelier result": ("rich", with_route(*OF_BLOWER, value=surer), "feed: chance of spins is not 0.424"),
    "a likelier cure": ("rich", with_route("hob", *then(1), "then", value=surer), "shop: chance of cured is not"),
    "a failure forgotten": ("rich", with_route("hob", *then(1), "then", value=lambda b: b[:1]), "chance of not-cured"),
    "work after the cure": ("rich", with_route("hob", *then(0), value=tree("rich", "hob", 1)), "done after the cure"),
    "the same disc again": ("rich", tried_again, "horn: swap: a quote or piece that did not help before"),
    "no part again": ("rich", workshop_again, "hob: shop: tried before without parts"),
    "a cheaper first": ("rich", with_route("blower", *then(1), value=cheaper), "motor: cash 3099 is not 3100"),
    "a cheaper order": ("rich", with_route("horn", *then(1), value=cheaper), "swap: cash 849 is not 850"),
    "nothing on top": ("topped", with_route("horn", *then(1), "topping", value=()), "the order to birch is below its"),
    "topped up elsewhere": (
        "topped", with_route("horn", *then(1), "topping", value=(("quotes.csv:2", 4),)), "quotes.csv:2 cannot top the"
    ),
    "a first order topped up twice": (
        "topped", with_route("horn", "first", "topping", value=(("quotes.csv:4", 1),) * 2), "a quote tops up twice"
    ),
    "topped up twice": (
        "topped", with_route("horn", *then(1), "topping", value=lambda packs: packs * 2), "a quote tops up twice"
    ),
    "a refund more": ("rich", with_route("hob", "first", "refund_minor", value=176), "hose: refund 176 is not 175"),
    "a minute less": ("rich", with_route("hob", "first", "minutes", value=19), "hose: 19 minutes are not 20"),
    "more for certain": ("rich", with_route("blower", "certain", 0, "units", value=2), "mend does not buy what is"),
    "certain and stopping": ("rich", with_route("blower", *then(2), value=Stop()), "stops without the certain lines"),
    "none wanted": ("rich", with_route("blower", "certain", 0, "wanted", value=0), "not what a repair wants"),
    "twice for certain": (
        "rich", with_route("blower", "certain", value=lambda lines: lines * 2), "twice in the certain lines"
    ),
    "less for certain": ("rich", with_route("blower", "certain", value=()), "the order to alder is below its"),
    "leaning on nobody": ("rich", with_route("blower", "relies_on", value=("birch",)), "relies on the minimum of a"),
    "leaning unsaid": ("leaning", with_route("blower", "relies_on", value=()), "the order to cedar is below its"),
    "ahead and not sure": (
        "ahead", with_route("lamp", "ahead", value=("quotes.csv:3", "quotes.csv:9")), "bought ahead, or some that are"
    ),
    "three ahead": ("ahead", three_ahead, "more than 2 lines are bought ahead"),
    "an option said to be surer": ("rich", surer_option, "chance 0.95 of shop is not"),
    "ahead unsaid": ("ahead", with_route("lamp", "ahead", value=()), "takes more than what is bought ahead"),
    "a use unsaid": ("ahead", with_route("lamp", *then(1), "option", "ahead", value=()), "no attempt wants all of it"),
    "ahead for less": ("ahead", with_route("lamp", *then(1), value=cheaper), "relay: cash 199 is not 200"),
    "more ahead": ("ahead", with_route("lamp", "certain", 1, "units", value=2), "but no attempt wants all of it"),
    "alone ahead": ("ahead", with_route("lamp", "certain", value=lambda them: them[1:]), "in an order of its own"),
    "a deposit kept": ("ahead", with_route("lamp", "relies_on", value=("alder",)), "net cost 60.0 is not 110.0"),
    "another's route": ("rich", with_route("hob", "fault", value="horn"), "the route is another fault's"),
}  # fmt: skip


@pytest.mark.parametrize("story", WHAT_THE_TREE_SAYS)
def test_a_tree_that_tells_a_story_is_refused_in_plain_words(story: str) -> None:
    name, lie, words = WHAT_THE_TREE_SAYS[story]
    told = lie(planned(name))
    assert told != planned(name)
    with pytest.raises(PlanRefusedError, match=words):
        certify(told)


def raised(plan: Plan, number: int, share: str, by: int = 1) -> Plan:
    """A fault's share, and with it what the fault comes to."""
    for name in (share, "landed_minor"):
        plan = put(plan, ("choices", number, name), lambda minor: minor + by)
    return plan


def moved(plan: Plan, share: str) -> Plan:
    """Ten of one fault's share put on another's, every total as before."""
    return raised(raised(plan, 0, share, 10), 1, share, -10)


WHAT_THE_PLAN_SAYS: dict[str, tuple[str, Lie, str]] = {
    "a look forgotten": ("rich", lambda plan: put(plan, ("do_first",), ()), "what to look at first is not what"),
    "a look twice": ("rich", lambda plan: put(plan, ("do_first",), lambda looks: looks * 2), "look at first is not"),
    "a shorter look": ("rich", lambda plan: put(plan, ("do_first", 0, "minutes"), 10), "10 minutes for feed are not"),
    "a worthier look": (
        "rich", lambda plan: put(plan, ("do_first", 0, "fixes"), lambda fixes: fixes + 0.1), "what feed is worth is not"
    ),
    "a check left out and made": (
        "rich", lambda plan: put(plan, ("choices", 1, "checks", 0, "left_out"), True), "feed is not shown as it is"
    ),
    "a share of postage moved": (
        "shared",
        lambda plan: moved(plan, "postage_minor"),
        "fault-1: its share of postage does not add up; fault-2: its share of postage does not add up$",
    ),
    "a share of opening up moved": (
        "priced",
        lambda plan: moved(plan, "access_minor"),
        "fault-1: its share of opening up does not add up; fault-2: its share of opening up does not add up$",
    ),
    "opening up rounded up for two of three": (
        "priced", lambda plan: raised(plan, 1, "access_minor"), "the shares of opening up do not sum to it"
    ),
    "postage rounded up for two of three": (
        "priced", lambda plan: raised(plan, 1, "postage_minor"), "the shares of postage do not sum to it"
    ),
    "a share more than all": (
        "priced", lambda plan: raised(plan, 1, "own_minor"), "the shares do not sum to the net cost"
    ),
    "odds unsaid": ("rich", lambda plan: put(plan, ("odds",), {}), "blower: odds are not over its causes"),
    "odds after nothing": ("rich", lambda plan: put(plan, ("odds", "blower", 0, "after"), {}), "not given after each"),
    "odds not as written": (
        "rich", lambda plan: put(plan, ("odds", "blower", 0, "written"), lambda odds: odds + 0.1), "of wire are not"
    ),
    "odds after a result moved": (
        "rich", lambda plan: put(put(plan, ("odds", "blower", 1, "after", "still"), lambda after: after - 0.05),
                                 ("odds", "blower", 2, "after", "still"), lambda after: after + 0.05),
        "odds of motor after still are not 0.9056.*; blower: odds of something-else after still are not 0.0943",
    ),
    "odds after a result too great": (
        "rich", lambda plan: put(plan, ("odds", "blower", 0, "after", "hums"), lambda after: after + 0.05),
        "odds after hums do not sum to 1$",
    ),
    "clashing odds too great": (
        "clashing", lambda plan: put(plan, ("odds", "hob", 0, "now"), lambda now: now + 0.1), "hob: odds do not sum"
    ),
    "clashing odds moved": (
        "clashing", lambda plan: put(put(plan, ("odds", "hob", 0, "now"), lambda now: now + 0.1),
                                     ("odds", "hob", 1, "now"), lambda now: now - 0.1), "hob: hose: chance of cured",
    ),
}  # fmt: skip


@pytest.mark.parametrize("story", WHAT_THE_PLAN_SAYS)
def test_a_plan_that_says_otherwise_than_its_trees_is_refused(story: str) -> None:
    name, lie, words = WHAT_THE_PLAN_SAYS[story]
    with pytest.raises(PlanRefusedError, match=words):
        certify(lie(planned(name)))


def test_parts_of_a_single_attempt_are_all_certain() -> None:
    plan = tiny_job.planned("base")
    with pytest.raises(PlanRefusedError, match="horn: parts of a single attempt are not all certain"):
        certify(with_route("horn", "certain", value=())(plan))


def test_an_order_of_which_nothing_is_sure_to_be_fitted_is_refused() -> None:
    """Packs that are bought for nobody, so that another fault may lean on the supplier's minimum."""
    plan = planned("leaning")
    old = route(plan, "horn")
    told = put(everywhere(plan, old, old.model_copy(update={"certain": ()})), ("orders", 0, "lines", 0, "fitted"), 0)
    with pytest.raises(PlanRefusedError, match="order to cedar: nothing in it is sure to be fitted"):
        certify(told)


def test_what_a_workshop_opens_takes_none_of_the_owners_minutes() -> None:
    shop = Repair(id="shop", chance=0.9, price_minor=100, by="workshop", access=("dash",))
    job = but(RICH, faults=(but(HORN, repairs=(shop,)),), owned=())
    plan = service.plan(job)
    certify(plan)
    assert (plan.minutes, [access.id for access in plan.access]) == (0, ["dash"])


@pytest.mark.parametrize("worth_minor", [1, 2, 7, 13, 19])
def test_what_hours_are_worth_is_rounded_half_up(worth_minor: int) -> None:
    """Whatever the fraction of a minor unit: the plan and its witness round alike."""
    job = tiny_job.ROUTED["profit"]
    plan = service.plan(but(job, pot=but(job.pot, hour_worth_minor=worth_minor)))
    certify(plan)
    gained = sum(c.fault.sale_gain_minor * c.chance for c in plan.choices) - plan.purse.net_minor
    assert plan.profit_minor == gained - int(plan.expected_minutes * worth_minor / 60 + 0.5)
