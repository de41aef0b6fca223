"""Random jobs, small enough to try everything, with every feature of the model switched on somewhere."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import strategies as st

from optimiser.model.job import Access, Fault, Job, Owned, Part, Pot, Repair, Settings, Time
from optimiser.model.quotes import Quote, Supplier

TODAY = date(2026, 11, 24)
PARTS = ("pad", "motor", "hose")
SUPPLIERS = ("alder", "birch")
CONDITIONS = ("new", "refurbished", "salvage")
chances = st.sampled_from([0.9, 0.5, 0.75, 0.95, 0.97, 1.0, 0.3, 0.0])
amounts = st.sampled_from([4, 6, 9, 12, 0])


@st.composite
def quotes(draw, number: int) -> Quote:
    return Quote(
        id=f"quotes.csv:{number + 2}",
        part=draw(st.sampled_from(PARTS)),
        supplier=draw(st.sampled_from(SUPPLIERS)),
        condition=draw(st.sampled_from(CONDITIONS)),
        price_minor=draw(st.sampled_from([5, 3, 4, 6, 7, 9, 12, 0])),
        pack=draw(st.sampled_from([1, 1, 2, 1, 3])),
        stock=draw(st.sampled_from([None, None, None, 1, 2])),
        good_chance=draw(st.sampled_from([0.5, 0.8, 0.9, 1.0])),
        deposit_minor=draw(st.sampled_from([0, 0, 0, 2])),
        lead_days=draw(st.sampled_from([0, 0, 0, 3])),
        valid_until=draw(st.sampled_from([None, None, None, None, TODAY, TODAY - timedelta(days=1)])),
    )


@st.composite
def repairs(draw, number: int, causes: tuple[str, ...]) -> Repair:
    cures = (
        {"cures": {c: draw(chances) for c in causes}} if causes and draw(st.booleans()) else {"chance": draw(chances)}
    )
    least = draw(st.sampled_from([1, 1, 1, 0]))
    parts = draw(st.dictionaries(st.sampled_from(PARTS), st.integers(1, 2), min_size=least, max_size=2))
    return Repair(
        id=f"way-{number}",
        parts=parts,
        price_minor=draw(st.sampled_from([0, 0, 2, 11])),
        minutes=draw(st.sampled_from([0, 20, 45])),
        by=draw(st.sampled_from(["self", "self", "workshop"])),
        lead_days=draw(st.sampled_from([0, 0, 2])),
        access=tuple(draw(st.lists(st.sampled_from(["dash", "wheel"]), max_size=1))),
        **cures,
    )


@st.composite
def faults(draw, number: int) -> Fault:
    causes = draw(st.sampled_from([(), ("fuse", "motor")]))
    return Fault(
        id=f"fault-{number}",
        severity=draw(st.sampled_from(["minor", "major", "dangerous"])),
        importance=draw(st.sampled_from([0.5, 1.0, 1.7])),
        sale_gain_minor=draw(st.integers(0, 30)),
        system=draw(st.sampled_from(["", "", "", "", "gas"])),
        something_else=draw(st.sampled_from([0.0, 0.05, 0.3])),
        causes={c: draw(st.sampled_from([1.0, 3.0])) for c in causes},
        repairs=tuple(draw(repairs(i, causes)) for i in range(draw(st.integers(1, 2)))),
    )


@st.composite
def jobs(draw, most_faults: int = 3, most_quotes: int = 6) -> Job:
    return Job(
        settings=Settings(
            currency="GBP",
            today=TODAY,
            needed_by=draw(st.sampled_from([None, None, TODAY + timedelta(days=4), TODAY + timedelta(days=2)])),
            safety_first=draw(st.sampled_from([True, True, False])),
            good_enough=draw(st.sampled_from([0.6, 0.8, 1.0])),
            chance_step=draw(st.sampled_from([0, 0.01, 0.2])),
            safety_step=draw(st.sampled_from([0, 0.2, 0.5])),
            most_suppliers=draw(st.sampled_from([None, None, 1, 2])),
            aim=draw(st.sampled_from(["fixes", "fixes", "profit"])),
            licensed=draw(st.sampled_from([(), ("gas",)])),
            fallbacks=False,
        ),
        pot=Pot(
            cap_minor=draw(st.sampled_from([20, 25, 30, 35, 40, 50, 60, 12, 0])),
            spent_minor=2,
            hour_worth_minor=draw(st.sampled_from([0, 7])),
        ),
        time=Time(hours=draw(st.sampled_from([None, None, 2.5, 1.0]))),
        access=(
            Access(id="dash", minutes=15, price_minor=draw(st.sampled_from([0, 3]))),
            Access(id="wheel", minutes=5, price_minor=1),
        ),
        parts=(
            Part(id="pad", kind="friction", renew_in=2),
            Part(id="motor", kind=draw(st.sampled_from(["free", "free", "free", "restraint"]))),
        ),
        owned=tuple(
            Owned(part=draw(st.sampled_from(PARTS)), units=draw(st.integers(1, 2)), condition="new", good_chance=0.8)
            for _ in range(draw(st.integers(0, 1)))
        ),
        faults=tuple(draw(faults(i)) for i in range(draw(st.integers(min(2, most_faults), most_faults)))),
        quotes=tuple(draw(quotes(i)) for i in range(draw(st.sampled_from([4, 5, 5, most_quotes, 0])))),
        suppliers=(
            Supplier(id="alder", postage_minor=draw(amounts), free_over_minor=draw(st.sampled_from([10, 20, None])),
                     trip_minutes=draw(st.sampled_from([0, 30]))),
            Supplier(id="birch", postage_minor=draw(amounts), minimum_order_minor=draw(st.sampled_from([10, 18, 0])),
                     free_over_minor=draw(st.sampled_from([None, 15]))),
        ),
    )  # fmt: skip
