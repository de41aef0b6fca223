"""One tiny job and a dozen variants of it that each switch on one feature: a failing test points at the feature.

Everything in it is invented. The base: a horn that two grades of one part would mend, and a lamp with a direct price.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from datetime import date, timedelta
from enum import Enum
from json import dumps
from pathlib import Path

from optimiser import service
from optimiser.model.job import Access, Fault, Job, Owned, Part, Pot, Repair, Settings, Time
from optimiser.model.plan import Plan
from optimiser.model.quotes import Quote, Supplier
from optimiser.model.record import Record

TODAY = date(2026, 11, 24)

HORN = Fault(id="horn", severity="minor", repairs=(Repair(id="swap", chance=0.9, parts={"disc": 1}, minutes=20),))
LAMP = Fault(id="lamp", severity="minor", repairs=(Repair(id="clean", chance=0.6, price_minor=250, minutes=10),))
NEW = Quote(id="quotes.csv:2", part="disc", supplier="alder", condition="new", price_minor=900, good_chance=0.98)
USED = Quote(id="quotes.csv:3", part="disc", supplier="birch", condition="salvage", price_minor=300, good_chance=0.8)

BASE = Job(
    settings=Settings(title="Tiny", currency="GBP", today=TODAY, fallbacks=False),
    pot=Pot(cap_minor=2000),
    faults=(HORN, LAMP),
    quotes=(NEW, USED),
    suppliers=(Supplier(id="alder"), Supplier(id="birch")),
)


def but(record: Record, **changes: object) -> Record:
    """A copy with some fields changed, checked again as a new record is."""
    return type(record).model_validate({name: getattr(record, name) for name in type(record).model_fields} | changes)


def _terms(**terms: object) -> Job:
    return but(BASE, suppliers=(Supplier(id="alder", **terms), Supplier(id="birch")))


def _quoted(**changes: object) -> Job:
    return but(BASE, quotes=(but(NEW, **changes), USED))


SECOND_HORN = but(HORN, id="second-horn")
VARIANTS: Mapping[str, Job] = {
    "base": BASE,
    "postage": _terms(postage_minor=450),
    "free_over": _terms(postage_minor=450, free_over_minor=1000),
    "minimum_order": _terms(minimum_order_minor=1500),
    "trip": _terms(trip_minutes=30),
    "packs": but(
        BASE,
        faults=(HORN, SECOND_HORN),
        quotes=(but(NEW, pack=4), USED),
    ),
    "stock": but(BASE, faults=(HORN, SECOND_HORN), quotes=(but(NEW, stock=1), USED)),
    "deposit": _quoted(deposit_minor=200, pack=2),
    "set": but(BASE, parts=(Part(id="disc", kind="friction", renew_in=2),)),
    "owned": but(BASE, owned=(Owned(part="disc", units=1, condition="new", good_chance=0.98),)),
    "access": but(
        BASE,
        access=(Access(id="dash", minutes=45, price_minor=300),),
        faults=tuple(but(f, repairs=(but(f.repairs[0], access=("dash",)),)) for f in (HORN, LAMP)),
    ),
    "hours": but(BASE, time=Time(hours=0.5)),
    "workshop": but(
        BASE, faults=(but(HORN, repairs=(*HORN.repairs, Repair(id="shop", chance=0.95, price_minor=1700,
                                                               by="workshop"))), LAMP)
    ),
    "causes": but(
        BASE,
        faults=(
            but(HORN, causes={"disc": 3.0, "wire": 1.0},
                repairs=(Repair(id="swap", cures={"disc": 0.97}, parts={"disc": 1}, minutes=20),)),
            LAMP,
        ),
    ),
    "safety": but(BASE, faults=(but(HORN, severity="dangerous"), but(LAMP, severity="major"))),
    "profit": but(
        BASE,
        settings=but(BASE.settings, aim="profit"),
        pot=Pot(cap_minor=2000, hour_worth_minor=600),
        faults=(but(HORN, sale_gain_minor=2000), but(LAMP, sale_gain_minor=1500)),
    ),
    "lapsed": _quoted(valid_until=TODAY - timedelta(days=1)),
    "late": but(_quoted(lead_days=9), settings=but(BASE.settings, needed_by=TODAY + timedelta(days=5))),
    "overdrawn": but(BASE, pot=Pot(cap_minor=2000, spent_minor=2555)),
    "empty": but(BASE, faults=(), quotes=(), suppliers=()),
}  # fmt: skip


def planned(variant: str) -> Plan:
    """The certified plan of a variant."""
    return service.plan(VARIANTS[variant])


def write(job: Job, folder: Path) -> Path:
    """Write the job as a folder that reads back as the same job; quotes must carry the ids quotes.csv:2, 3, ..."""
    folder.mkdir(parents=True, exist_ok=True)
    tables = {key: row for key, row in _written(job).items() if key not in ("quotes", "suppliers")}
    (folder / "job.toml").write_text("\n".join(_toml(tables)) + "\n", encoding="utf-8")
    _sheet(folder / "quotes.csv", [_written(quote) for quote in job.quotes])
    _sheet(folder / "suppliers.csv", [_written(supplier) for supplier in job.suppliers])
    return folder


def _written(record: Record, places: int = 2) -> dict[str, object]:
    """The record under its file's keys, defaults left out, amounts as decimals (all tiny jobs are in GBP)."""
    row: dict[str, object] = {}
    for name, field in type(record).model_fields.items():
        value = getattr(record, name)
        if value is None or (not field.is_required() and value == field.get_default(call_default_factory=True)):
            continue
        if name.endswith("_minor"):
            value = f"{value / 10**places:.{places}f}"
        elif isinstance(value, Record):
            value = _written(value)
        elif isinstance(value, tuple):
            value = [_written(one) if isinstance(one, Record) else one for one in value]
        row[field.alias or name] = value
    if isinstance(record, Quote):
        del row["id"]
    return row


def _toml(tables: Mapping[str, object]) -> list[str]:
    lines = []
    for key, value in tables.items():
        if isinstance(value, list):
            for row in value:
                lines += [f"[[{key}]]", *(f"{dumps(k)} = {_value(v)}" for k, v in row.items())]
        else:
            lines += [f"[{key}]", *(f"{dumps(k)} = {_value(v)}" for k, v in value.items())]
    return lines


def _value(value: object) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{dumps(k)} = {_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, list):
        return "[" + ", ".join(_value(one) for one in value) + "]"
    if isinstance(value, date):
        return value.isoformat()
    return dumps(value.value if isinstance(value, Enum) else value)


def _sheet(path: Path, rows: list[dict[str, object]]) -> None:
    if rows:
        with path.open("w", encoding="utf-8", newline="") as file:
            sheet = csv.DictWriter(file, list(dict.fromkeys(key for row in rows for key in row)))
            sheet.writeheader()
            sheet.writerows(rows)
