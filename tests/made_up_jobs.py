"""Invented jobs of the size that people have, 8 to 15 faults and 40 to 60 quotes, every feature on somewhere."""

from __future__ import annotations

import random
from datetime import timedelta

from optimiser.model.job import Access, Fault, Job, Owned, Part, Pot, Repair, Settings, Time
from optimiser.model.quotes import Quote, Supplier
from tests.published.mapping import TODAY

CONDITIONS = {"new": (1.0, 0.99), "refurbished": (0.6, 0.9), "salvage": (0.3, 0.75)}
"""Share of the new price, and chance that the part is sound."""
KINDS = ["free"] * 6 + ["friction", "restraint"]
NUMBER_OF_PARTS = 9
ACCESSES = ("dash", "wheel", "sump")


def made_up(seed: int) -> Job:
    """The job of this number, always the same; every third aims at profit, every fourth has safety first off."""
    rng = random.Random(seed)
    parts = [
        Part(id=f"part-{n:02}", kind=rng.choice(KINDS), renew_in=rng.choice([1, 1, 1, 2]))
        for n in range(NUMBER_OF_PARTS)
    ]
    suppliers = [_supplier(rng, n) for n in range(4)]
    quotes = [_quote(rng, n, parts, suppliers) for n in range(rng.randint(32, 45))]
    quotes += [_dearer_but_to_be_had(rng, q, n) for n, q in enumerate(rng.sample(quotes, 12), start=len(quotes))]
    return Job(
        settings=Settings(
            currency="GBP",
            today=TODAY,
            needed_by=TODAY + timedelta(days=12) if seed % 2 else None,
            safety_first=seed % 4 != 3,
            aim="profit" if seed % 3 == 2 else "fixes",
            licensed=("gas",) if seed % 2 else (),
            fallbacks=False,
        ),
        pot=Pot(cap_minor=rng.randint(30_000, 70_000), purchase_minor=4_000, hour_worth_minor=rng.choice([433, 733])),
        time=Time(hours=rng.choice([None, 3.5, 6.25])),
        access=tuple(Access(id=a, minutes=rng.choice([25, 60]), price_minor=rng.choice([0, 450])) for a in ACCESSES),
        parts=tuple(parts),
        owned=(Owned(part="part-00", units=2, condition="salvage", good_chance=0.7),),
        faults=tuple(_fault(rng, n) for n in range(rng.randint(8, 15))),
        quotes=tuple(quotes),
        suppliers=tuple(suppliers),
    )


def _supplier(rng: random.Random, number: int) -> Supplier:
    """Every other one has nothing to reach by buying more, so that offers of its own can be pointless."""
    reaches = number % 2 == 1
    return Supplier(
        id=f"supplier-{number}",
        postage_minor=rng.choice([0, 495, 850, 1200]),
        free_over_minor=rng.choice([6_000, 12_000]) if reaches else None,
        minimum_order_minor=rng.choice([0, 1_500]) if reaches else 0,
        trip_minutes=rng.choice([0, 0, 40]),
    )


def _quote(rng: random.Random, number: int, parts: list[Part], suppliers: list[Supplier]) -> Quote:
    condition = rng.choice(list(CONDITIONS))
    share, sound = CONDITIONS[condition]
    part = parts[number % len(parts)]
    pack = rng.choice([1, 1, 1, 2, 4])
    new_minor = 600 + 1_100 * (number % len(parts))
    return Quote(
        id=f"quotes.csv:{number + 2}",
        part=part.id,
        supplier=rng.choice(suppliers).id,
        condition=condition,
        price_minor=round(new_minor * share * pack * rng.uniform(0.75, 1.25)),
        pack=pack,
        stock=rng.choice([None, None, 1, 2]),
        good_chance=sound,
        deposit_minor=1_500 if condition == "refurbished" and rng.random() < 0.4 else 0,
        lead_days=rng.choice([0, 5, 10, 11, 14]),
        valid_until=rng.choice([None, None, None, TODAY, TODAY - timedelta(days=3)]),
    )


def _dearer_but_to_be_had(rng: random.Random, quote: Quote, number: int) -> Quote:
    """The same supplier's other offer, pointless only where the cheap one never runs out or comes too late."""
    return quote.model_copy(
        update={
            "id": f"quotes.csv:{number + 2}",
            "price_minor": round(quote.price_minor / quote.pack * rng.uniform(1.02, 1.3)) + 1,
            "pack": 1,
            "stock": None,
            "lead_days": max(0, quote.lead_days - 3),
        }
    )


def _fault(rng: random.Random, number: int) -> Fault:
    causes = {"worn": 3.0, "broken": 1.0, "corroded": 0.5} if rng.random() < 0.5 else {}
    return Fault(
        id=f"fault-{number:02}",
        severity=rng.choice(["minor", "minor", "major", "dangerous"]),
        importance=rng.choice([0.4, 0.7, 1.0, 1.3, 2.0]),
        sale_gain_minor=rng.randint(0, 14_000),
        systems=("gas",) if rng.random() < 0.1 else (),
        causes=causes,
        repairs=tuple(_repair(rng, n, list(causes)) for n in range(rng.randint(1, 3))),
    )


def _repair(rng: random.Random, number: int, causes: list[str]) -> Repair:
    cures = {cause: rng.choice([0.95, 0.8, 0.3]) for cause in causes}
    chosen = rng.sample(range(NUMBER_OF_PARTS), rng.choice([1, 1, 2]))
    return Repair(
        id=f"way-{number}",
        parts={f"part-{n:02}": rng.choice([1, 1, 2]) for n in chosen},
        price_minor=rng.choice([0, 0, 300, 4_000]),
        minutes=rng.choice([15, 40, 90, 150]),
        lead_days=rng.choice([0, 0, 2]),
        by=rng.choice(["self", "self", "workshop"]),
        access=tuple(rng.sample(ACCESSES, rng.choice([0, 1, 1]))),
        cures=cures or None,
        chance=None if cures else rng.choice([0.9, 0.97]),
    )
