"""Jobs of any size from a seed, every feature of the mix switched on: all invented, in the proportions of a real job.

About twice as many suppliers as the root of the number of faults, most of them with postage waived or a minimum order,
parts in packs that several faults share, exchange deposits, short stocks, axle sets, accesses that several repairs
open, work of one's own against a workshop's, and a pot and evenings that do for about half. From the command line:
``python -m tests.bench.generate FAULTS QUOTES FOLDER`` writes a job folder.
"""

from __future__ import annotations

import csv
import json
import math
import random
import sys
from datetime import date, timedelta
from pathlib import Path

from optimiser.model.job import Access, Check, Fault, Job, Owned, Part, Pot, Repair, Settings, Solve, Time
from optimiser.model.quotes import Quote, Supplier

TODAY = date(2026, 11, 24)
SEVERITIES = ("dangerous", "major", "major", "minor", "minor", "minor")
SOUND = {"new": 0.98, "refurbished": 0.92, "salvage": 0.75}
DEARNESS = {"new": 1.0, "refurbished": 0.6, "salvage": 0.35}
FAULTS_A_CONSUMABLE = 12
SHARE_PAID_FOR = 0.5


def job(faults: int, quotes: int, seed: int = 1, seconds: float = 60.0, solver: str = "auto") -> Job:
    """A job of so many faults and quotes; the same seed gives the same job. ``seconds`` is the time limit."""
    dice = random.Random(seed)
    access = _access(faults, dice)
    consumables = tuple(f"clip-{n}" for n in range(max(1, faults // FAULTS_A_CONSUMABLE)))
    listed = tuple(_fault(n, access, consumables, dice) for n in range(faults))
    worth = {part: math.exp(dice.uniform(6.5, 10)) for fault in listed for r in fault.repairs for part in r.parts}
    worth |= dict.fromkeys(consumables, 120.0)
    suppliers = _suppliers(faults, dice)
    offered = _quotes(quotes, worth, consumables, suppliers, dice)
    return Job(
        settings=Settings(
            title=f"Invented job of {faults} faults",
            currency="GBP",
            today=TODAY,
            needed_by=TODAY + timedelta(days=20),
            fallbacks=False,
        ),
        pot=Pot(cap_minor=int(SHARE_PAID_FOR * sum(_mid_cost(f, offered) for f in listed)), spent_minor=0),
        time=Time(hours=round(SHARE_PAID_FOR * sum(f.repairs[0].minutes + 20 for f in listed) / 60, 2)),
        solve=Solve(seconds=seconds, solver=solver),
        access=access,
        parts=tuple(Part(id=part, renew_in=2) for part in list(worth)[::9] if part not in consumables),
        owned=(Owned(part=consumables[0], units=2, condition="new", good_chance=0.98),),
        faults=listed,
        quotes=offered,
        suppliers=suppliers,
    )


def with_checks(plain: Job, seed: int = 1) -> Job:
    """The same job with a check or two for every other fault, fallbacks, and no limit on the evenings."""
    dice = random.Random(seed)
    faults = tuple(
        fault if n % 2 else fault.model_copy(update={"checks": _checks(fault, dice)})
        for n, fault in enumerate(plain.faults)
    )
    settings = plain.settings.model_copy(update={"fallbacks": True})
    return plain.model_copy(update={"faults": faults, "settings": settings, "time": Time()})


def _checks(fault: Fault, dice: random.Random) -> tuple[Check, ...]:
    return tuple(
        Check(
            id=f"look-{n}",
            minutes=dice.randrange(5, 40, 5),
            cost_minor=dice.choice([0, 0, 0, 400]),
            access=fault.repairs[0].access if dice.random() < 0.3 else (),
            results={"leaks": {"leaking": dice.uniform(0.7, 0.98), "worn": dice.uniform(0.02, 0.3)}},
        )
        for n in range(dice.randint(1, 2))
    )


def _access(faults: int, dice: random.Random) -> tuple[Access, ...]:
    return tuple(
        Access(id=f"off-{n}", minutes=dice.choice([15, 30, 45]), price_minor=dice.choice([0, 0, 450, 1200]))
        for n in range(max(2, faults // 5))
    )


def _fault(number: int, access: tuple[Access, ...], consumables: tuple[str, ...], dice: random.Random) -> Fault:
    part = f"part-{number}"
    opened = (dice.choice(access).id,) if dice.random() < 0.5 else ()
    needs = {part: dice.choice([1, 1, 2])}
    if dice.random() < 0.25:
        needs[dice.choice(consumables)] = dice.randint(1, 4)
    minutes = dice.randrange(20, 180, 5)
    repairs = [Repair(id="fit", cures={"worn": 0.97, "leaking": 0.9}, parts=needs, minutes=minutes, access=opened)]
    if dice.random() < 0.4:
        kit = {f"kit-{number}": 1}
        repairs.append(Repair(id="reseal", cures={"leaking": 0.9}, parts=kit, minutes=minutes + 30, access=opened,
                              price_minor=dice.choice([0, 300])))  # fmt: skip
    if dice.random() < 0.35:
        asked = dice.randrange(4000, 30000, 500)
        repairs.append(Repair(id="workshop", chance=0.96, price_minor=asked, by="workshop", lead_days=4))
    return Fault(
        id=f"fault-{number}",
        severity=dice.choice(SEVERITIES),
        importance=dice.choice([0.5, 0.8, 1.0, 1.3, 1.7]),
        sale_gain_minor=dice.randrange(2000, 20000, 500),
        causes={"worn": dice.randint(1, 8), "leaking": dice.randint(1, 8)},
        repairs=tuple(repairs),
    )


def _suppliers(faults: int, dice: random.Random) -> tuple[Supplier, ...]:
    return tuple(
        Supplier(
            id=f"shop-{n}",
            postage_minor=dice.choice([0, 395, 595, 950]),
            free_over_minor=dice.choice([None, 5000, 7500, 15000]),
            minimum_order_minor=dice.choice([0, 0, 0, 1000]),
            lead_days=dice.randint(0, 5),
            trip_minutes=dice.choice([0, 0, 0, 40]),
        )
        for n in range(max(3, round(2 * math.sqrt(faults))))
    )


def _quotes(
    count: int, worth: dict[str, float], consumables: tuple[str, ...], suppliers: tuple[Supplier, ...],
    dice: random.Random,
) -> tuple[Quote, ...]:  # fmt: skip
    """Every part is quoted at least once; the rest fall where they fall."""
    parts = list(worth)
    wanted = parts + dice.choices(parts, k=max(0, count - len(parts)))
    return tuple(_quote(n, part, worth[part], part in consumables, suppliers, dice) for n, part in enumerate(wanted))


def _quote(
    number: int, part: str, worth: float, small: bool, suppliers: tuple[Supplier, ...], dice: random.Random
) -> Quote:
    condition = "new" if small else dice.choice(list(SOUND))
    pack = dice.choice([5, 10, 25]) if small else dice.choice([1, 1, 1, 1, 2])
    shop = dice.choice(suppliers)
    return Quote(
        id=f"quotes.csv:{number + 2}",
        part=part,
        supplier=shop.id,
        condition=condition,
        price_minor=max(1, round(worth * DEARNESS[condition] * pack**0.8 * dice.uniform(0.8, 1.3))),
        pack=pack,
        stock=dice.choice([2, 3, 6]) if condition == "salvage" or dice.random() < 0.1 else None,
        good_chance=round(SOUND[condition] * dice.uniform(0.9, 1.0), 3),
        deposit_minor=round(worth * 0.2) if condition == "refurbished" and dice.random() < 0.4 else 0,
        lead_days=shop.lead_days,
    )


def _mid_cost(fault: Fault, offered: tuple[Quote, ...]) -> float:
    """What the fault's first part costs at the middle of its quotes."""
    part, units = next(iter(fault.repairs[0].parts.items()))
    prices = sorted(q.price_minor / q.pack for q in offered if q.part == part)
    return units * prices[len(prices) // 2]


def write(job: Job, folder: Path) -> None:
    """Write the job as a folder that the program reads back as the same job."""
    places = job.currency.places
    (folder / "job.toml").write_text("\n".join(_toml(job, places)) + "\n", encoding="utf-8")
    quotes = [quote.model_dump(by_alias=True, exclude={"id", "came_from", "rough"}) for quote in job.quotes]
    _sheet(folder / "quotes.csv", quotes, places)
    suppliers = [supplier.model_dump(by_alias=True, exclude={"joins", "own"}) for supplier in job.suppliers]
    _sheet(folder / "suppliers.csv", suppliers, places)


MONEY_KEYS = frozenset(
    {"cap", "purchase", "spent", "hold_back", "sale_as_it_stands", "hour_worth", "price", "deposit", "sale_gain",
     "postage", "free_over", "minimum_order"}
)  # fmt: skip


def _sheet(path: Path, rows: list[dict[str, object]], places: int) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows({key: _amount(key, value, places) for key, value in row.items()} for row in rows)


def _amount(key: str, value: object, places: int) -> object:
    return f"{value / 10**places:.{places}f}" if key in MONEY_KEYS and isinstance(value, int) else value


def _toml(job: Job, places: int) -> list[str]:
    written = job.model_dump(
        by_alias=True, exclude_none=True, exclude_defaults=True, exclude={"quotes", "suppliers"}, mode="json"
    )
    lines: list[str] = []
    for name in ("job", "money", "time", "solve"):
        lines += [f"[{name}]", *_keys(written.get(name, {}), places)]
    for name in ("access", "part", "owned"):
        for row in written.get(name, []):
            lines += [f"[[{name}]]", *_keys(row, places)]
    for told, fault in zip(job.faults, written["fault"], strict=True):
        repairs = fault.pop("repair")
        fault["importance"] = told.importance  # left out it would follow the severity
        lines += ["[[fault]]", *_keys(fault, places)]
        for repair in repairs:
            lines += ["[[fault.repair]]", *_keys(repair, places)]
    return lines


def _keys(table: dict[str, object], places: int) -> list[str]:
    return [f"{key} = {_value(key, _amount(key, value, places))}" for key, value in table.items()]


def _value(key: str, value: object) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {_value('', v)}" for k, v in value.items()) + " }"
    return str(value) if key in {"today", "needed_by"} else json.dumps(value)


if __name__ == "__main__":
    target = Path(sys.argv[3])
    target.mkdir(parents=True, exist_ok=True)
    write(job(int(sys.argv[1]), int(sys.argv[2])), target)
