"""Invented jobs from a seed, in the proportions of a real one: 2 to 5 faults, 2 to 5 suppliers, every kind of term.

All parts are free of protection, so that every condition may be bought by everybody.
"""

from __future__ import annotations

import math
import random
from datetime import date
from pathlib import Path

from optimiser import job_folder
from optimiser.model.job import Access, Check, Fault, Job, Owned, Part, Pot, Repair, Settings, Severity, Solve
from optimiser.model.quotes import Quote, Supplier

TODAY = date(2026, 11, 28)
SOUND = {"new": 0.98, "refurbished": 0.93, "salvage": 0.78}
DEARNESS = {"new": 1.0, "refurbished": 0.6, "salvage": 0.35}
CAUSES = ("fuse", "switch", "motor", "wiring")
IMPORTANCE = {Severity.DANGEROUS: 2.0, Severity.MAJOR: 2.0, Severity.MINOR: 1.0}
EXAMPLES = Path(__file__).parents[3] / "examples"


def example(name: str, seconds: float = 20.0) -> Job:
    """A shipped example, with a limit on each search."""
    return job_folder.job(EXAMPLES / name, TODAY).model_copy(update={"solve": Solve(seconds=seconds)})


def job_of(seed: int, *, safety_first: bool = True, seconds: float = 5.0) -> Job:
    """The job of this seed; its pot pays for a seventh to four fifths of the dearest new part of every fault."""
    dice = random.Random(f"played {seed}")
    count = dice.randint(2, 5)
    faults = [_fault(n, dice) for n in range(count)]
    if dice.random() < 0.2:
        pair = {
            "twin": "sides",
            "shared_causes": ("fuse",) if len(faults[0].causes) > 1 and dice.random() < 0.5 else (),
        }
        faults = [
            faults[0].model_copy(update=pair),
            *faults[1:4],
            faults[0].model_copy(update=pair | {"id": "other-side"}),
        ]
    parts = sorted({part for fault in faults for repair in fault.repairs for part in repair.parts})
    worth = {part: math.exp(dice.uniform(6.3, 9.3)) for part in parts}
    suppliers = tuple(_supplier(n, dice) for n in range(dice.randint(2, 5)))
    quotes = _quotes(worth, suppliers, dice)
    need = sum(max((worth.get(p, 0) * n for r in f.repairs for p, n in r.parts.items()), default=2000) for f in faults)
    return Job(
        settings=Settings(title=f"Played {seed}", currency="GBP", today=TODAY, safety_first=safety_first),
        pot=Pot(cap_minor=round(need * dice.uniform(0.15, 0.8)) + 300),
        solve=Solve(seconds=seconds),
        access=tuple(Access(id=f"off-{n}", minutes=30, price_minor=dice.choice([0, 0, 450])) for n in range(2)),
        parts=tuple(Part(id=part, kind="free", renew_in=2 if dice.random() < 0.1 else 1) for part in parts),
        owned=_owned(parts, dice),
        faults=tuple(faults),
        quotes=quotes,
        suppliers=suppliers,
    )


def _fault(number: int, dice: random.Random) -> Fault:
    causes = CAUSES[: dice.choice([1, 2, 2, 3, 3, 4])]
    opened = (f"off-{dice.randrange(2)}",) if dice.random() < 0.35 else ()
    severity = dice.choice([Severity.DANGEROUS, Severity.MAJOR, Severity.MINOR, Severity.MINOR])
    return Fault(
        id=f"fault-{number}",
        severity=severity,
        importance=IMPORTANCE[severity],
        something_else=dice.choice([0.05, 0.05, 0.1]),
        causes={cause: float(dice.randint(1, 8)) for cause in causes},
        checks=tuple(_check(n, causes, opened, dice) for n in range(dice.choice([0, 1, 1, 2]))),
        repairs=tuple(_repairs(number, causes, opened, dice)),
    )


def _repairs(number: int, causes: tuple[str, ...], opened: tuple[str, ...], dice: random.Random) -> list[Repair]:
    """One repair a cause, most with a part of its own, some that clean or mend in place, some at a workshop."""
    made = []
    for cause in causes:
        minutes = dice.randrange(10, 150, 5)
        if dice.random() < 0.2:
            made.append(Repair(id=f"mend-{cause}", cures={cause: dice.choice([0.5, 0.7, 0.9])}, minutes=minutes,
                               price_minor=dice.choice([0, 0, 300]), access=opened))  # fmt: skip
            if dice.random() < 0.5:
                continue
        part = f"clip-{dice.randrange(2)}" if dice.random() < 0.1 else f"{cause}-{number}"
        cures = {cause: dice.choice([0.97, 0.9, 0.85])}
        if dice.random() < 0.25:
            cures[dice.choice(causes)] = dice.choice([0.4, 0.9])
        made.append(Repair(id=f"renew-{cause}", cures=cures, parts={part: dice.choice([1, 1, 1, 2])}, minutes=minutes,
                           access=opened))  # fmt: skip
    if dice.random() < 0.3:
        asked = dice.randrange(4000, 20000, 500)
        made.append(Repair(id="workshop", chance=0.93, price_minor=asked, by="workshop", lead_days=dice.choice([0, 4])))
    return made


def _check(number: int, causes: tuple[str, ...], opened: tuple[str, ...], dice: random.Random) -> Check:
    meant = dice.choice(causes)
    sure = dice.choice([0.95, 0.9, 0.8])
    shown = {cause: sure if cause == meant else dice.choice([0.02, 0.05, 0.2]) for cause in causes}
    return Check(
        id=f"look-{number}",
        minutes=dice.randrange(5, 40, 5),
        cost_minor=dice.choice([0, 0, 0, 400, 1500]),
        access=opened if dice.random() < 0.4 else (),
        results={"shows": shown | {"something-else": 0.3}},
    )


def _supplier(number: int, dice: random.Random) -> Supplier:
    return Supplier(
        id=f"shop-{number}",
        postage_minor=dice.choice([0, 395, 595, 950]),
        free_over_minor=dice.choice([None, None, 5000, 10000]),
        minimum_order_minor=dice.choice([0, 0, 0, 1500]),
        trip_minutes=dice.choice([0, 0, 0, 40]),
    )


def _quotes(worth: dict[str, float], suppliers: tuple[Supplier, ...], dice: random.Random) -> tuple[Quote, ...]:
    rows = [(part, dice.choice(list(SOUND))) for part in worth for _ in range(dice.choice([1, 2, 2, 3]))]
    return tuple(_quote(n, part, condition, worth[part], suppliers, dice) for n, (part, condition) in enumerate(rows))


def _quote(
    number: int, part: str, condition: str, worth: float, suppliers: tuple[Supplier, ...], dice: random.Random
) -> Quote:
    pack = dice.choice([1, 1, 1, 1, 1, 2])
    asked = worth * DEARNESS[condition] * pack**0.8 * dice.uniform(0.8, 1.25)
    return Quote(
        id=f"quotes.csv:{number + 2}",
        part=part,
        supplier=dice.choice(suppliers).id,
        condition=condition,
        price_minor=max(1, round(asked)),
        pack=pack,
        stock=dice.choice([2, 3]) if condition == "salvage" else None,
        good_chance=round(SOUND[condition] * dice.uniform(0.92, 1.0), 2),
        deposit_minor=round(worth * 0.2) if condition == "refurbished" and dice.random() < 0.4 else 0,
        refund_share=dice.choice([0.0, 0.5, 0.9]) if dice.random() < 0.4 else 0.0,
        lead_days=dice.choice([0, 1, 3]),
        ref=f"R{number}",
    )


def _owned(parts: list[str], dice: random.Random) -> tuple[Owned, ...]:
    if not parts or dice.random() < 0.7:
        return ()
    return (Owned(part=dice.choice(parts), units=1, condition="salvage", good_chance=0.8),)


def tiny(seed: int, seconds: float = 5.0) -> Job:
    """Two faults, four to six quotes, a check or two: small enough to try every policy. Safety first is off."""
    dice = random.Random(f"tiny {seed}")
    suppliers = tuple(
        Supplier(id=f"shop-{n}", postage_minor=dice.choice([0, 0, 395, 595]), free_over_minor=dice.choice([None, 4000]))
        for n in range(2)
    )
    faults = tuple(_tiny_fault(n, dice) for n in range(2))
    parts = [part for fault in faults for repair in fault.repairs for part in repair.parts]
    rows = [*parts, *dice.choices(parts, k=max(0, dice.choice([4, 5, 5, 6]) - len(parts)))]
    quotes = tuple(_tiny_quote(n, part, suppliers, dice) for n, part in enumerate(rows))
    return Job(
        settings=Settings(title=f"Tiny {seed}", currency="GBP", today=TODAY, safety_first=False),
        pot=Pot(cap_minor=round(sum(q.price_minor for q in quotes) * dice.uniform(0.15, 0.6)) + 400),
        solve=Solve(seconds=seconds),
        parts=tuple(Part(id=part, kind="free") for part in parts),
        faults=faults,
        quotes=quotes,
        suppliers=suppliers,
    )


def _tiny_fault(number: int, dice: random.Random) -> Fault:
    causes = CAUSES[: dice.choice([1, 2, 2])]
    repairs = [
        Repair(
            id=f"renew-{cause}",
            cures={cause: dice.choice([0.97, 0.85])} | ({dice.choice(causes): 0.9} if dice.random() < 0.2 else {}),
            parts={f"{cause}-{number}": 1},
            minutes=30,
        )
        for cause in causes
    ]
    if dice.random() < 0.4:
        repairs.append(Repair(id="mend", cures={dice.choice(causes): dice.choice([0.5, 0.7])}, minutes=20,
                              price_minor=dice.choice([0, 300])))  # fmt: skip
    looks = dice.choice([0, 1, 1])
    return Fault(
        id=f"fault-{number}",
        severity=dice.choice(list(Severity)),
        importance=dice.choice([1.0, 2.0]),
        something_else=0.05,
        causes={cause: float(dice.randint(1, 8)) for cause in causes},
        checks=tuple(_tiny_check(n, causes, dice) for n in range(looks)),
        repairs=tuple(repairs),
    )


def _tiny_check(number: int, causes: tuple[str, ...], dice: random.Random) -> Check:
    shown = {cause: dice.choice([0.95, 0.1] if place else [0.9, 0.05]) for place, cause in enumerate(causes)}
    shown["something-else"] = 0.3
    return Check(
        id=f"look-{number}",
        minutes=10,
        cost_minor=dice.choice([0, 0, 200]),
        results={"shows": shown, "nothing": {cause: 1 - chance for cause, chance in shown.items()}},
    )


def _tiny_quote(number: int, part: str, suppliers: tuple[Supplier, ...], dice: random.Random) -> Quote:
    condition = dice.choice(list(SOUND))
    return Quote(
        id=f"quotes.csv:{number + 2}",
        part=part,
        supplier=dice.choice(suppliers).id,
        condition=condition,
        price_minor=round(math.exp(dice.uniform(6.3, 8.0)) * DEARNESS[condition]),
        good_chance=round(SOUND[condition] * dice.uniform(0.92, 1.0), 2),
        refund_share=dice.choice([0.0, 0.0, 0.5]),
        ref=f"R{number}",
    )
