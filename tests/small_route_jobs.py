"""Random jobs with causes, checks and fallbacks, small enough to write out every route.

Drawn by seed: drawn value by value they come out too plain, with few faults that have a route of two steps. Chances are
short decimals, so that sums of products either differ by more than a millionth or are the same.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any

from hypothesis import strategies as st

from optimiser.model.job import Access, Check, Fault, Job, Owned, Part, Pot, Repair, Settings, Severity, Time
from optimiser.model.quotes import Quote, Supplier

TODAY = date(2026, 11, 24)
PARTS = ("pad", "motor", "hose")
SUPPLIERS = ("alder", "birch")


def jobs(**turned: Any) -> st.SearchStrategy[Job]:
    """Jobs by seed; for ``turned`` see ``job_of``."""
    return st.integers(0, 10**9).map(lambda seed: job_of(seed, **turned))


def job_of(
    seed: int, *, faults: int | None = None, refunds: bool = True, checks: bool = True, moved: Mapping[str, Any] = {}
) -> Job:
    """The job of this seed: without refunds or checks where that is said, with other ``settings`` where moved."""
    rng = random.Random(seed)
    pick = rng.choice
    number = pick([2, 2, 3]) if faults is None else faults
    profit = pick([False, False, False, True])
    settings = {
        "currency": "GBP",
        "today": TODAY,
        "needed_by": pick([None, None, TODAY + timedelta(4), TODAY + timedelta(2)]),
        "safety_first": pick([True, False]),
        "good_enough": pick([0.6, 0.8, 1.0]),
        "safety_step": pick([0.2, 0.5, 0.0]),
        "chance_step": pick([0.01, 0.02, 0.0]),
        "most_suppliers": pick([None, None, None, 1]),
        "aim": "profit" if profit else "fixes",
        "fallbacks": True,
        "most_attempts": pick([3, 2]),
        "check_must_gain": 0.0,
    }
    return Job(
        settings=Settings(**(settings | moved)),
        pot=Pot(cap_minor=pick([22, 30, 40, 50, 60, 80, 12]), spent_minor=2, hour_worth_minor=pick([0, 0, 6])),
        time=Time(hours=pick([None, None, None, 2.0, 1.0])),
        access=(
            Access(id="dash", minutes=pick([0, 15]), price_minor=pick([0, 3])),
            Access(id="wheel", minutes=5, price_minor=pick([1, 0])),
        ),
        parts=(Part(id="pad", renew_in=pick([1, 1, 2])),),
        owned=tuple(_owned(rng) for _ in range(pick([0, 0, 1]))),
        faults=tuple(_fault(rng, n, checks=checks) for n in range(number)),
        quotes=tuple(_quote(rng, n, refunds=refunds) for n in range(pick([2, 3, 4]))),
        suppliers=(
            Supplier(id="alder", postage_minor=pick([4, 6, 9, 0]), free_over_minor=pick([None, 10, 20]),
                     minimum_order_minor=pick([0, 8, 12]), trip_minutes=pick([0, 30])),
            Supplier(id="birch", postage_minor=pick([4, 0]), minimum_order_minor=pick([0, 10, 18]),
                     free_over_minor=pick([None, 15])),
        ),
    )  # fmt: skip


def _owned(rng: random.Random) -> Owned:
    return Owned(part=rng.choice(PARTS), units=rng.randint(1, 2), condition="new", good_chance=0.8)


def _quote(rng: random.Random, number: int, *, refunds: bool) -> Quote:
    pick = rng.choice
    refund = pick([0.0, 0.0, 0.5, 1.0])
    return Quote(
        id=f"quotes.csv:{number + 2}",
        part=pick(PARTS),
        supplier=pick(SUPPLIERS),
        condition=pick(["new", "refurbished"]),
        price_minor=pick([5, 3, 4, 6, 7, 9, 12, 0]),
        pack=pick([1, 1, 2, 3]),
        stock=pick([None, None, 1, 2]),
        good_chance=pick([0.5, 0.8, 0.9, 1.0]),
        deposit_minor=pick([0, 0, 2]),
        refund_share=refund if refunds else 0.0,
        lead_days=pick([0, 0, 1, 3]),
        valid_until=pick([None, None, None, TODAY, TODAY + timedelta(1)]),
    )


def _fault(rng: random.Random, number: int, *, checks: bool) -> Fault:
    pick = rng.choice
    causes = pick([(), ("fuse",), ("fuse", "motor"), ("fuse", "motor")])
    return Fault(
        id=f"fault-{number}",
        severity=pick(["minor", "major", "dangerous"]),
        importance=pick([0.5, 1.0, 1.7]),
        sale_gain_minor=pick([0, 20, 50, 90]),
        systems=pick([(), (), (), (), (), ("gas",)]),
        something_else=pick([0.0, 0.1, 0.3]),
        causes={cause: pick([1.0, 3.0]) for cause in causes},
        checks=tuple(_check(rng, n, causes) for n in range(pick([0, 1, 1, 2]) if checks else 0)),
        repairs=tuple(_repair(rng, n, causes) for n in range(pick([1, 2, 2, 3]))),
    )


def _check(rng: random.Random, number: int, causes: tuple[str, ...]) -> Check:
    pick = rng.choice
    return Check(
        id=f"look-{number}",
        minutes=pick([0, 5, 30]),
        cost_minor=pick([0, 0, 1, 3]),
        access=pick([(), (), ("dash",), ("wheel",)]),
        results={"dead": {cause: pick([0.0, 0.1, 0.9, 1.0]) for cause in (*causes, "something-else")}},
    )


def _repair(rng: random.Random, number: int, causes: tuple[str, ...]) -> Repair:
    pick = rng.choice
    own = rng.choice([*causes, "something-else"])
    cures: dict[str, Any] = {"chance": pick([0.9, 0.5, 0.3, 1.0])}
    if causes and pick([True, True, False]):
        cures = {"cures": {cause: pick([0.7, 1.0] if cause == own else [0.0, 0.0, 0.2]) for cause in causes}}
        cures["cures"][own] = pick([0.7, 0.9, 1.0])
    return Repair(
        id=f"way-{number}",
        parts=pick([{}, {"pad": 1}, {"pad": 2}, {"motor": 1}, {"motor": 2}, {"pad": 1, "motor": 1}, {"hose": 1}]),
        price_minor=pick([0, 0, 2, 9]),
        minutes=pick([0, 20, 45]),
        by=pick(["self", "self", "workshop"]),
        lead_days=pick([0, 0, 1]),
        access=pick([(), (), ("dash",), ("wheel",)]),
        **cures,
    )


def crowded_jobs() -> st.SearchStrategy[Job]:
    """Jobs of ``crowded_of`` by seed."""
    return st.integers(0, 10**9).map(crowded_of)


def crowded_of(seed: int) -> Job:
    """What ``job_of`` never draws together: one part at 4 to 12 suppliers, single pieces at suppliers with a minimum,
    profit with safety first, accesses with prices, 3 checks or more of one fault. Too large to be written out."""
    rng = random.Random(seed)
    pick = rng.choice
    job = job_of(rng.randrange(10**9), faults=2)
    kind = pick(["suppliers", "pieces", "profit", "checks"])
    names = [f"yard-{n}" for n in range(rng.randint(4, 12) if kind == "suppliers" else pick([2, 3]))]
    suppliers = tuple(
        Supplier(id=name, postage_minor=pick([0, 2, 4]), minimum_order_minor=pick([0, 0, 10]),
                 free_over_minor=pick([None, None, 12]))
        for name in names
    )  # fmt: skip
    if kind == "pieces":
        suppliers = tuple(s.model_copy(update={"minimum_order_minor": pick([10, 15, 20])}) for s in suppliers[:2])
    parts, single = ("pad",) if kind == "suppliers" else PARTS, {"stock": 1, "pack": 1} if kind == "pieces" else {}
    drawn = [_quote(rng, n, refunds=False) for n in range(len(names) if kind == "suppliers" else pick([4, 6]))]
    quotes = tuple(
        q.model_copy(update={"supplier": suppliers[n % len(suppliers)].id, "part": pick(parts),
                             "price_minor": max(q.price_minor, 1)} | single)
        for n, q in enumerate(drawn)
    )  # fmt: skip
    settings = job.settings.model_copy(
        update={"most_attempts": 2, "safety_first": True, "good_enough": 0.6, "most_suppliers": None}
        | ({"aim": "profit"} if kind == "profit" else {})
    )
    faults = tuple(_crowded_fault(rng, f, kind, parts) for f in job.faults)
    return job.model_copy(update={"settings": settings, "suppliers": suppliers, "quotes": quotes, "faults": faults})


def _crowded_fault(rng: random.Random, fault: Fault, kind: str, parts: tuple[str, ...]) -> Fault:
    fitting = dict.fromkeys(parts[: rng.choice([1, 1, len(parts)])], 1)
    buys = Repair(id="renew", chance=rng.choice([0.9, 0.7]), parts=fitting, access=rng.choice([(), ("dash",)]))
    changed: dict[str, Any] = {"repairs": (*fault.repairs[:2], buys)}
    if kind == "checks" and fault.id == "fault-0":
        changed["checks"] = tuple(_check(rng, n, tuple(fault.causes)) for n in range(rng.choice([3, 3, 4])))
    if kind == "profit" and fault.id == "fault-0":
        changed["severity"] = Severity.DANGEROUS
    return fault.model_copy(update=changed)
