"""The certificate refuses every plan that is not true: each figure is falsified by itself, then whole stories are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping
from datetime import date, timedelta
from enum import Enum
from typing import Any

import pytest

from optimiser import service
from optimiser.certificate.plan import certify
from optimiser.errors import PlanRefusedError
from optimiser.model.base import Record
from optimiser.model.job import Access, Fault, Job, LicensedSystem, Owned, Part, Pot, Repair, Time
from optimiser.model.plan import LAST, Plan
from optimiser.model.quotes import Quote, Supplier
from optimiser.model.route import Route
from tests import tiny_job
from tests.effort import FULL
from tests.tiny_job import BASE, TODAY, but


def quote(line: int, part: str, price: int, **terms: Any) -> Quote:
    given = {"supplier": "alder", "condition": "new", "good_chance": 0.98} | terms
    return Quote(id=f"quotes.csv:{line}", part=part, price_minor=price, **given)


def repair(name: str, chance: float, **terms: Any) -> tuple[Repair, ...]:
    return (Repair(id=name, chance=chance, **terms),)


RICH = but(
    BASE,
    settings=but(BASE.settings, needed_by=TODAY + timedelta(days=10), chance_step=0, safety_step=0),
    pot=Pot(cap_minor=20000, purchase_minor=5000, spent_minor=1000, hold_back_minor=1000, hour_worth_minor=500),
    time=Time(hours=5),
    access=(Access(id="dash", minutes=45, price_minor=300), Access(id="wheels", minutes=15)),
    parts=(Part(id="disc", kind="friction", renew_in=2), Part(id="motor", kind="free")),
    owned=(Owned(part="blade", units=2, condition="refurbished", good_chance=0.9),),
    faults=(
        Fault(id="brake", severity="dangerous", causes={"disc": 3.0, "pipe": 1.0}, something_else=0.1,
              repairs=repair("swap", 0.9, parts={"disc": 1}, minutes=30, access=("wheels",))),
        Fault(id="blower", severity="major", importance=1.5, sale_gain_minor=900,
              repairs=repair("motor", 0.8, parts={"motor": 1}, minutes=20, access=("dash",), price_minor=50)),
        Fault(id="wiper", severity="minor", repairs=repair("blade", 0.95, parts={"blade": 2}, minutes=5)),
        Fault(id="radio", severity="minor",
              repairs=repair("shop", 0.7, price_minor=1500, by="workshop", lead_days=4, access=("dash",))),
        Fault(id="roof", severity="minor", repairs=repair("shell", 0.9, price_minor=99999)),
    ),
    quotes=(
        quote(2, "disc", 1200, pack=4, stock=3, deposit_minor=150, lead_days=2, valid_until=TODAY, ref="D-1"),
        quote(3, "motor", 2500, supplier="birch", condition="salvage", good_chance=0.7, deposit_minor=400),
    ),
    suppliers=(
        Supplier(id="alder", postage_minor=450, free_over_minor=4000),
        Supplier(id="birch", postage_minor=600, minimum_order_minor=2000, free_over_minor=2400, trip_minutes=30),
    ),
)  # fmt: skip

Path = tuple[Any, ...]


@pytest.fixture(scope="module")
def good() -> Plan:
    return service.plan(RICH)


def leaves(record: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    """Every single value of a record with the way to it."""
    if isinstance(record, Record):
        for name in type(record).model_fields:
            yield from leaves(getattr(record, name), (*path, name))
    elif isinstance(record, Mapping):
        for name, value in record.items():
            yield from leaves(value, (*path, name))
    elif isinstance(record, tuple):
        for number, value in enumerate(record):
            yield from leaves(value, (*path, number))
    else:
        yield path, record


def put(record: Any, path: Path, value: Any) -> Any:
    """A copy with one value in another's place; a function as value is given the old one."""
    if not path:
        return value(record) if callable(value) else value
    first, *rest = path
    if isinstance(record, tuple):
        return tuple(put(one, tuple(rest), value) if number == first else one for number, one in enumerate(record))
    if isinstance(record, Mapping):
        return {**record, first: put(record[first], tuple(rest), value)}
    return record.model_copy(update={first: put(getattr(record, first), tuple(rest), value)})


def everywhere(record: Any, old: Any, new: Any) -> Any:
    """A copy in which a record is replaced wherever it stands, in the job too: a lie told consistently."""
    if record == old and type(record) is type(old):
        return new
    if isinstance(record, Record):
        fields = {n: everywhere(getattr(record, n), old, new) for n in type(record).model_fields}
        return record.model_copy(update=fields)
    if isinstance(record, Mapping):
        return {name: everywhere(value, old, new) for name, value in record.items()}
    if isinstance(record, tuple):
        return tuple(everywhere(one, old, new) for one in record)
    return record


def falsified(value: Any) -> Any:
    if isinstance(value, bool):
        return not value
    if isinstance(value, int):
        return value + 1
    if isinstance(value, float):
        return value + 1e-5
    if isinstance(value, Enum) or value is None or isinstance(value, date):
        return value
    return value + "x"


def refused(plan: Plan) -> bool:
    try:
        certify(plan)
    except (PlanRefusedError, ValueError):  # an id of no shelf row is no number: that too keeps the plan from showing
        return True
    return False


def pattern(path: Path) -> str:
    return ".".join("*" if isinstance(step, int) else str(step) for step in path)


SAID_NOT_RECKONED = ("job", "notices", "cautions", "not_offered", "what_if")
"""The question itself, whether it is kept, and words; the outcome (proven or not) is the solver's to say."""
JUDGED = {f"choices.*.checks.*.{name}" for name in ("fixes", "saved_minor", "earned_minor", "left_out", "same_next")}
"""What a check adds, and whether that is worth its time: only another search could tell.

Where they are repeated they must be the same, and what a route makes is not left out.
"""


def figures(plan: Plan) -> Iterator[tuple[Path, Any]]:
    """What is reckoned, with the way to it: all with FULL=1, else one of each kind, now the first and now the last."""
    kinds = defaultdict(list)
    for path, value in leaves(plan):
        if not (path[0] in SAID_NOT_RECKONED or "why" in path or "outcome" in path or falsified(value) == value):
            kinds[pattern(path)].append((path, value))
    for number, alike in enumerate(kinds.values()):
        yield from alike if FULL else [alike[-(number % 2)]]


def unnoticed(plan: Plan) -> set[str]:
    return {pattern(path) for path, value in figures(plan) if not refused(put(plan, path, falsified(value)))}


@pytest.fixture(scope="module")
def missed(good: Plan) -> set[str]:
    return unnoticed(good)


def test_the_plan_that_is_falsified_below_is_good_and_rich(good: Plan) -> None:
    certify(good)
    assert [c.fault.id for c in good.choices if c.option is None] == ["roof"]
    assert {leftover.part for leftover in good.leftovers} == {"disc"}
    assert good.purse.deposits_minor > good.purse.deposits_due_minor > 0
    assert {order.postage_minor for order in good.orders} == {450, 0}
    assert set(good.selection.levels) == {"dangerous", "all-faults", "cost-and-time"}


def test_every_figure_falsified_by_itself_is_noticed(missed: set[str]) -> None:
    assert missed == set()


def old_quote(plan: Plan, number: int) -> Quote:
    return plan.job.quotes[number]


def with_quote(number: int, **changes: Any) -> Callable[[Plan], Plan]:
    return lambda plan: everywhere(plan, old_quote(plan, number), old_quote(plan, number).model_copy(update=changes))


def with_supplier(number: int, **changes: Any) -> Callable[[Plan], Plan]:
    return lambda plan: everywhere(
        plan, plan.job.suppliers[number], plan.job.suppliers[number].model_copy(update=changes)
    )


def with_job(*path: Any, value: Any) -> Callable[[Plan], Plan]:
    return lambda plan: put(plan, ("job", *path), value)


def with_fault(number: int, *path: Any, value: Any) -> Callable[[Plan], Plan]:
    """A fault other than the plan was made for, told consistently in the job and in the choice."""
    return lambda plan: everywhere(plan, plan.job.faults[number], put(plan.job.faults[number], path, value))


def with_chance(plan: Plan) -> Plan:
    """One route's chance raised wherever it stands, sums included."""
    route = plan.choices[0].route
    assert route is not None
    assert route.option is not None
    option = route.option.model_copy(update={"chance": route.chance + 0.01})
    raised = everywhere(plan, route, Route.once(option))
    fixes = {"expected_fixes": plan.expected_fixes + 0.02, "expected_count": plan.expected_count + 0.01}
    levels = {name: value + 20_000 * (name not in LAST) for name, value in plan.selection.levels.items()}
    return put(raised.model_copy(update=fixes), ("selection", "levels"), levels)


def with_two_routes(plan: Plan) -> Plan:
    again = {"choices": (*plan.choices, plan.choices[0])}
    route = plan.choices[0].route
    return put(plan.model_copy(update=again), ("selection", "routes"), lambda routes: (*routes, route))


def with_less_in_the_pot(plan: Plan) -> Plan:
    """A cap too low by a penny, with a money table that admits it."""
    short = plan.purse.unspent_minor + 1
    poorer = put(plan, ("job", "pot", "cap_minor"), lambda cap: cap - short)
    purse = poorer.purse.model_copy(
        update={"remaining_minor": poorer.purse.remaining_minor - short, "unspent_minor": -1}
    )
    return poorer.model_copy(update={"purse": purse})


def shifted_shares(plan: Plan) -> Plan:
    """A penny of cost moved from one fault's total to another's: the sum still holds."""
    moved = put(plan, ("choices", 0, "landed_minor"), lambda minor: minor + 1)
    return put(moved, ("choices", 1, "landed_minor"), lambda minor: minor - 1)


def without_an_order(plan: Plan) -> Plan:
    return plan.model_copy(update={"orders": plan.orders[1:]})


def with_order_twice(plan: Plan) -> Plan:
    return plan.model_copy(update={"orders": (plan.orders[0], *plan.orders)})


def with_line_twice(plan: Plan) -> Plan:
    return put(plan, ("orders", 0, "lines"), lambda lines: (lines[0], *lines))


def without_a_fault(plan: Plan) -> Plan:
    return plan.model_copy(update={"choices": plan.choices[:-1]})


def fewer_packs(plan: Plan) -> Plan:
    """An order line of no packs at all, sums of that order put to match."""
    order = plan.orders[0]
    line = order.lines[0].model_copy(update={"packs": 0})
    less = {"goods_minor": 0, "deposits_minor": 0, "lines": (line,)}
    emptied = put(plan, ("orders", 0), order.model_copy(update=less))
    return put(emptied, ("selection", "packs", line.quote.id), 0)


STORIES: dict[str, tuple[Callable[[Plan], Plan], str]] = {
    "a chance raised everywhere": (with_chance, r"brake: chance .* is not"),
    "two routes for one fault": (with_two_routes, "not exactly one choice for every fault"),
    "a fault left out": (without_a_fault, "not exactly one choice for every fault"),
    "over the pot by a penny": (with_less_in_the_pot, "over the pot by 1 minor units"),
    "a penny from share to share": (shifted_shares, "its share does not add up"),
    "an order forgotten": (without_an_order, "fitted but not ordered"),
    "an order twice": (with_order_twice, "two orders"),
    "a line twice": (with_line_twice, "a quote stands twice in the orders"),
    "no packs": (fewer_packs, "too few packs|packs outside the stock"),
    "a lapsed quote": (with_quote(0, valid_until=TODAY - timedelta(days=1)), "quotes.csv:2 has lapsed"),
    "an empty shop": (with_quote(0, stock=0), "quotes.csv:2: packs outside the stock"),
    "smaller packs": (with_quote(0, pack=1), "too few packs"),
    "a dearer quote": (with_quote(0, price_minor=1201), "goods or postage do not add up"),
    "a greater deposit": (with_quote(0, deposit_minor=151), "deposits do not add up"),
    "a poorer part": (with_quote(0, good_chance=0.9), "chance .* is not"),
    "a quote of another supplier": (with_quote(0, supplier="birch"), "another supplier's"),
    "a slow supplier": (with_quote(0, lead_days=11), "done too late"),
    "salvage friction": (with_quote(0, condition="salvage"), "quotes.csv:2 is salvage"),
    "a used restraint": (with_job("parts", 1, "kind", value="restraint"), "quotes.csv:3 is not new"),
    "salvage of a barred part": (with_job("parts", 1, "never_salvage", value=True), "quotes.csv:3 is salvage"),
    "a quote that nobody gave": (with_job("quotes", value=lambda quotes: quotes[1:]), "no quote quotes.csv:2"),
    "a set of three": (with_job("parts", 0, "renew_in", value=3), "whole sets"),
    "a part more": (with_fault(0, "repairs", 0, "parts", value={"disc": 1, "pad": 1}), "parts are not"),
    "a repair that is none": (with_fault(0, "repairs", 0, "id", value="pray"), "no repair swap"),
    "a dearer repair": (with_fault(1, "repairs", 0, "price_minor", value=60), "price, minutes or access"),
    "a longer repair": (with_fault(1, "repairs", 0, "minutes", value=21), "price, minutes or access"),
    "work of another": (with_fault(1, "repairs", 0, "by", value="workshop"), "price, minutes or access"),
    "a slow workshop": (with_fault(3, "repairs", 0, "lead_days", value=11), "radio: done too late"),
    "work on gas": (with_fault(1, "systems", value=(LicensedSystem.GAS.value,)), "blower: licensed work"),
    "other odds": (with_fault(0, "repairs", 0, "chance", value=0.8), "brake: chance .* is not"),
    "another importance": (with_fault(1, "importance", value=1.6), "all faults: .* millionths are not"),
    "another severity": (with_fault(1, "severity", value="dangerous"), "stage dangerous"),
    "stricter safety": (with_job("settings", "good_enough", value=0.1), "stage dangerous"),
    "coarser safety": (with_job("settings", "safety_step", value=0.5), "stage dangerous"),
    "coarser chances": (with_job("settings", "chance_step", value=0.2), "all faults: .* millionths are not"),
    "dearer hours": (with_job("pot", "hour_worth_minor", value=501), "cost and time .* sixtieths"),
    "fewer orders": (with_job("settings", "most_suppliers", value=1), "orders to 2 suppliers where 1 are allowed"),
    "a minimum order": (with_supplier(0, minimum_order_minor=1201), "order to alder: below the minimum order"),
    "dearer postage": (with_supplier(0, postage_minor=451), "goods or postage do not add up"),
    "postage waived too soon": (with_supplier(1, free_over_minor=2501), "goods or postage do not add up"),
    "postage asked too long": (with_supplier(0, free_over_minor=1200), "goods or postage do not add up"),
    "terms of nobody": (with_job("suppliers", value=()), "not that supplier's terms"),
    "a longer trip": (with_supplier(1, trip_minutes=31), "minutes are not"),
    "longer opening up": (with_job("access", 0, "minutes", value=46), "minutes are not"),
    "dearer opening up": (with_job("access", 0, "price_minor", value=301), "money table does not add up"),
    "fewer hours": (with_job("time", "hours", value=2.4), "145 minutes do not fit 144"),
    "work on what the person leaves": (
        lambda plan: with_job("left", value={plan.selection.routes[0].fault: 1})(plan),
        "worked on, though the person",
    ),
    "a bare shelf": (with_job("owned", 0, "units", value=1), "only 1 x blade on the shelf"),
}


@pytest.mark.parametrize("story", STORIES)
def test_a_plan_that_tells_a_story_is_refused_in_plain_words(good: Plan, story: str) -> None:
    lie, words = STORIES[story]
    told = lie(good)
    assert told != good
    with pytest.raises(PlanRefusedError, match=words):
        certify(told)


def kept_for_nothing(plan: Plan) -> Plan:
    """Money set aside for fallbacks that nobody plans."""
    purse = plan.purse
    kept = {"fallbacks_minor": 100, "unspent_minor": purse.unspent_minor - 100}
    return plan.model_copy(update={"purse": purse.model_copy(update=kept)})


def a_sounder_shelf(plan: Plan) -> Plan:
    """The owner's part said to be better than the job says, with every sum put to match."""
    choice = plan.choice("wiper")
    assert choice.option is not None
    assert choice.route is not None
    line = choice.option.lines[0]
    sound = line.model_copy(update={"quote": line.quote.model_copy(update={"good_chance": 1.0})})
    option = choice.option.model_copy(update={"lines": (sound,), "chance": 0.95})
    better = everywhere(plan, choice.route, Route.once(option))
    better = everywhere(better, line.quote, sound.quote)
    rise = 0.95 - choice.chance
    better = better.model_copy(
        update={"expected_fixes": plan.expected_fixes + rise, "expected_count": plan.expected_count + rise}
    )
    return put(better, ("selection", "levels", "all-faults"), lambda v: v + round(rise * 1e6))


def a_stage_dropped(plan: Plan) -> Plan:
    levels = {name: value for name, value in plan.selection.levels.items() if name != "dangerous"}
    return put(plan, ("selection", "levels"), levels)


def late_top_up(plan: Plan) -> Plan:
    """A line that only fills the order up, from a quote that arrives too late to be offered."""
    late = quote(9, "disc", 0, lead_days=99)
    line = plan.orders[0].lines[0].model_copy(update={"quote": late, "packs": 1, "fitted": 0})
    more = put(plan, ("job", "quotes"), lambda quotes: (*quotes, late))
    more = put(more, ("orders", 0, "lines"), lambda lines: (*lines, line))
    more = put(more, ("leftovers", 0, "units"), lambda units: units + 1)
    return put(more, ("selection", "packs"), lambda packs: {**packs, late.id: 1})


SUBTLER: list[tuple[Callable[[Plan], Plan], str]] = [
    (kept_for_nothing, "100 kept for fallbacks is not 0 minor units"),
    (a_sounder_shelf, "wiper: no quote owned:1"),
    (a_stage_dropped, "stage dangerous is missing"),
    (late_top_up, "quotes.csv:9 comes too late"),
]


@pytest.mark.parametrize(("lie", "words"), SUBTLER)
def test_subtler_stories_are_refused_too(good: Plan, lie: Callable[[Plan], Plan], words: str) -> None:
    """Each holds together but for one thing: nothing else is wrong with it."""
    with pytest.raises(PlanRefusedError, match=rf"^the plan failed its certificate: {words}$"):
        certify(lie(good))


@pytest.mark.parametrize("variant", tiny_job.VARIANTS)
def test_a_plan_for_another_job_is_refused(variant: str) -> None:
    """The same choices under a fault more: nobody can pass one job's plan off as another's."""
    plan = tiny_job.planned(variant)
    certify(plan)
    more = but(plan.job, faults=(*plan.job.faults, Fault(id="other", severity="minor")))
    assert refused(plan.model_copy(update={"job": more}))


def test_aim_profit_is_recomputed() -> None:
    plan = tiny_job.planned("profit")
    certify(plan)
    richer: Job = put(plan.job, ("faults", 0, "sale_gain_minor"), 2100)
    with pytest.raises(PlanRefusedError, match="profit"):
        certify(plan.model_copy(update={"job": richer}))


def test_all_that_is_wrong_is_said_at_once(good: Plan) -> None:
    lie = put(put(good, ("minutes",), 1), ("expected_count",), 9.0)
    with pytest.raises(PlanRefusedError, match=r"1 minutes are not \d+.*expected fixes do not add up"):
        certify(lie)
