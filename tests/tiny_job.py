"""One tiny job and a dozen variants of it that each switch on one feature: a failing test points at the feature.

Everything in it is invented. The base: a horn that two grades of one part would mend, and a lamp with a direct price.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from datetime import date, timedelta
from enum import Enum
from functools import cache
from json import dumps
from pathlib import Path

from optimiser import service
from optimiser.job_folder import known_names
from optimiser.job_folder.problems import Complaints, Place
from optimiser.model.base import Record
from optimiser.model.job import Access, Check, Fault, Job, Owned, Part, Pot, Repair, Settings, Time
from optimiser.model.plan import Plan
from optimiser.model.quotes import Quote, Supplier

TODAY = date(2026, 11, 24)
NOWHERE = Place(Complaints(), "job.toml")

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
    "most_suppliers": but(
        BASE, settings=but(BASE.settings, most_suppliers=1), faults=(HORN, SECOND_HORN),
        quotes=(but(NEW, stock=1), USED),
    ),
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
    "safety": but(BASE, faults=(but(HORN, severity="dangerous", systems=("wiring",)), but(LAMP, severity="major"))),
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


FEED = Check(id="feed", title="Feed it 12 V", minutes=10, results={"spins": {"wire": 1.0, "motor": 0.0}})
WIRE = Repair(id="wire", title="Mend the wire", cures={"wire": 1.0}, price_minor=100, minutes=15)
MOTOR = Repair(id="motor", title="Renew the motor", cures={"motor": 1.0}, price_minor=4000, minutes=60)
BLOWER = Fault(
    id="blower", title="Blower dead", severity="minor", causes={"wire": 1.0, "motor": 1.0}, something_else=0.0,
    checks=(FEED,), repairs=(WIRE, MOTOR),
)  # fmt: skip
"""Two causes, as likely as each other; a free check tells them apart, and each has its own sure repair."""
CHECKED = but(
    BASE,
    settings=but(BASE.settings, fallbacks=True),
    pot=Pot(cap_minor=4050),
    faults=(BLOWER,),
    quotes=(),
    suppliers=(),
)
"""The pot pays for the motor or for the wire and not for both: without the check it is one half or the other."""


def _checked(**changes: object) -> Job:
    return but(CHECKED, faults=(but(BLOWER, **changes),))


def _screen(number: int) -> Fault:
    """A fault whose free check says whether a disc is to be bought at all."""
    return but(
        BLOWER, id=f"fault-{number}",
        checks=(but(FEED, access=("dash",), minutes=number),),
        repairs=(Repair(id="swap", cures={"motor": 1.0}, parts={"disc": 1}, minutes=20), but(WIRE, price_minor=0)),
    )  # fmt: skip


PUMP = Fault(
    id="pump", title="Washer pump silent", severity="major", importance=2.0,
    causes={"fuse": 2.0, "plug": 5.0, "pump": 3.0}, something_else=0.0,
    checks=(Check(id="listen", title="Listen while somebody works the stalk", minutes=5, cost_minor=22, results={
        "hums": {"plug": 0.0, "fuse": 0.0, "pump": 1.0}, "clicks": {"plug": 1.0, "fuse": 0.0, "pump": 0.0},
        "nothing": {"plug": 0.0, "fuse": 1.0, "pump": 0.0},
    }),),
    repairs=(
        Repair(id="plug", title="Clean the plug", cures={"plug": 0.75}, price_minor=50, minutes=10),
        Repair(id="swap", title="Renew the pump", cures={"pump": 1.0, "plug": 0.25}, parts={"disc": 1}, minutes=20),
    ),
)  # fmt: skip
"""A check of three results: one leads to a part, one to an attempt with a fallback, one to leaving it."""
PUMPED = but(
    CHECKED, faults=(PUMP,), pot=Pot(cap_minor=2000), quotes=(but(NEW, price_minor=880),),
    suppliers=(Supplier(id="alder"),), parts=(Part(id="disc", title="Washer pump"),),
)  # fmt: skip
ROUTED: Mapping[str, Job] = {
    "check": CHECKED,
    "fallback": but(BASE, settings=CHECKED.settings),
    "three_results": PUMPED,
    "try_first": but(PUMPED, faults=(but(PUMP, repairs=(but(PUMP.repairs[0], price_minor=0), PUMP.repairs[1])),)),
    "idle": _checked(repairs=(Repair(id="both", title="Renew both", chance=0.9, price_minor=100),)),
    "small": but(CHECKED, settings=but(CHECKED.settings, check_must_gain=0.6)),
    "shared": but(
        CHECKED, faults=tuple(_screen(number) for number in (1, 2, 3)), pot=Pot(cap_minor=3300),
        access=(Access(id="dash", minutes=45),), quotes=(NEW,), suppliers=(Supplier(id="alder", postage_minor=450),),
    ),
    "most_attempts": but(
        BASE, settings=but(CHECKED.settings, most_attempts=2), pot=Pot(cap_minor=9000),
        faults=(but(HORN, repairs=tuple(Repair(id=f"way-{n}", chance=0.5, price_minor=100 + n) for n in range(4))),),
    ),
    "kept": but(
        BASE, settings=CHECKED.settings, faults=(HORN, SECOND_HORN),
        owned=(Owned(part="disc", condition="new", good_chance=0.9, kept_from="horn"),),
    ),
    "refund": but(BASE, settings=CHECKED.settings, quotes=(but(NEW, refund_share=0.5), USED)),
    "deposit": but(BASE, settings=CHECKED.settings, quotes=(but(NEW, deposit_minor=200), USED)),
    "postage": but(BASE, settings=CHECKED.settings, suppliers=(Supplier(id="alder", postage_minor=450),
                                                              Supplier(id="birch", minimum_order_minor=500))),
    "licensed": _checked(systems=("gas",), repairs=(but(MOTOR, by="workshop", price_minor=3000), WIRE)),
    "hours": but(CHECKED, time=Time(hours=1.0)),
    "twins": but(CHECKED, faults=(but(BLOWER, twin="pair"), but(BLOWER, id="other", twin="pair"))),
    "profit": but(
        CHECKED, settings=but(CHECKED.settings, aim="profit"),
        pot=Pot(cap_minor=4050, hour_worth_minor=600), faults=(but(BLOWER, sale_gain_minor=9000),),
    ),
    "dangerous": _checked(severity="dangerous"),
    "ahead": but(
        BASE, settings=CHECKED.settings, pot=Pot(cap_minor=1350),
        faults=(Fault(id="lamp", title="Lamp dark", severity="minor", repairs=(
            Repair(id="bulb", title="Renew the bulb", chance=0.6, parts={"bulb": 1}, minutes=5),
            Repair(id="relay", title="Renew the relay", chance=0.9, parts={"relay": 1}, minutes=10, price_minor=200),
        )),),
        quotes=(but(NEW, part="bulb", price_minor=300, good_chance=1.0, pack=1),
                but(NEW, id="quotes.csv:3", part="relay", price_minor=400, good_chance=1.0, deposit_minor=50, pack=1,
                    lead_days=3)),
        suppliers=(Supplier(id="alder", postage_minor=400),),
    ),
}  # fmt: skip
"""Variants that may fall back: each shows one thing that routes bring."""


@cache
def planned(variant: str) -> Plan:
    """The certified plan of a variant."""
    return service.plan(VARIANTS[variant])


@cache
def routed(variant: str) -> Plan:
    """The certified plan of a variant with routes."""
    return service.plan(ROUTED[variant])


def as_read(job: Job) -> Job:
    """The job with what reading adds to its records: what the words of parts and checks say."""
    parts = [*(q.part for q in job.quotes), *(p for f in job.faults for r in f.repairs for p in r.parts)]
    rows = known_names.telling([known_names.part(part, NOWHERE) for part in job.parts], parts)
    faults = [but(f, checks=tuple(map(known_names.check, f.checks))) for f in job.faults]
    return but(job, parts=rows, faults=tuple(known_names.fault(fault, NOWHERE) for fault in faults))


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
        if isinstance(field.json_schema_extra, dict):  # no key of any file
            continue
        may_go = not field.is_required() and name != "importance"  # its default depends on the severity
        if value is None or (may_go and value == field.get_default(call_default_factory=True)):
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
