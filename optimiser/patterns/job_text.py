"""A pattern fitted to a place and a currency, as text for ``job.toml``: its layout and its reasons stay."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, MutableMapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from optimiser.job_folder import package_data
from optimiser.model.job import LicensedSystem, Severity
from optimiser.money import Currency
from optimiser.names import id_for, slug
from optimiser.patterns.catalogue import Pattern
from optimiser.patterns.search import systems_told

AMOUNTS = ("price", "cost", "sale_gain")
OTHER_SIDE = "other-side"
PAIR_ONLY = ("shared_causes", "twin")
SHARED = ("access", "part")
KEPT_DIGITS = 2


@dataclass(frozen=True)
class Wanted:
    """A fault as somebody wants it: the pattern, the places where it is, and what they know better than the pattern.

    ``odds`` are words or numbers by cause. ``name`` is the id that it gets, where that is not the pattern's own.
    """

    pattern: Pattern
    places: tuple[str, ...] = ()
    severity: Severity | None = None
    odds: Mapping[str, str | float] = field(default_factory=dict)
    name: str = ""

    @property
    def by(self) -> str:
        """The id of its pattern."""
        return self.pattern.id

    @property
    def made_light(self) -> bool:
        """Whether somebody said that it is less grave than its pattern, by which it is dangerous."""
        return self.severity not in (None, Severity.DANGEROUS) and self.pattern.severity == Severity.DANGEROUS

    @property
    def ids(self) -> tuple[str, ...]:
        """The ids of the faults that it stands for, one a place."""
        return tuple(self.id_at(place) for place in self.places or ("",))

    @property
    def base(self) -> str:
        """Its id, but for the place."""
        return self.name or str(self.pattern.tables["fault"][0]["id"])

    def id_at(self, place: str) -> str:
        """Its id at a place, empty for none: a name that it was given for one place is its id as it stands."""
        alone = not place or (self.name and len(self.places) == 1)
        return self.base if alone else f"{self.base}-{slug(place)}"


def fault_text(wanted: Wanted, currency: Currency, there: Mapping[str, Collection[str]]) -> str:
    """The pattern's rows for each of its places, without rows of access and parts that are ``there`` by id already."""
    known = {kind: set(there.get(kind, ())) for kind in SHARED}
    texts = [_one_place(wanted, place, currency, known) for place in wanted.places or ("",)]
    said = f"# {wanted.pattern.title}. From the pattern {wanted.pattern.id}: common practice, no published source."
    return "\n\n".join([said, *texts]) + "\n"


def plain_fault_text(
    title: str,
    severity: Severity,
    way: Mapping[str, Any],
    name: str = "",
    systems: Sequence[str] = (),
    about: str = "",
) -> str:
    """A fault that no pattern knows, of its ``systems``, else those that its words name, with one ``way`` to put it
    right: its chance, price, minutes and who does it.

    ``about`` is what else is known of the job, as ``search`` takes it.
    """
    import tomlkit  # noqa: PLC0415 - only where something is written

    systems = list(systems or systems_told(title, about))
    repair = dict(way)
    if not {system.value for system in LicensedSystem}.isdisjoint(systems):
        repair["by"] = "workshop"
    repair = {"title": "Have a workshop put it right" if "by" in repair else "Put it right"} | repair
    fault: dict[str, Any] = {"id": name or id_for(title), "title": title, "severity": severity.value}
    if systems:
        fault["system"] = systems
    return tomlkit.dumps({"fault": [fault | {"repair": [repair]}]})


def _one_place(wanted: Wanted, place: str, currency: Currency, known: Mapping[str, set[str]]) -> str:
    """One copy of the pattern's rows; what of it is shared is ``known`` afterwards."""
    import tomlkit  # noqa: PLC0415

    document = tomlkit.parse(wanted.pattern.text)
    del document["pattern"]
    paired = len(wanted.places) > 1 and bool(wanted.pattern.pair)
    renamed = _renamed(wanted, place)
    (fault,) = document["fault"]
    if paired:
        fault["twin"] = wanted.base
    else:
        _alone(fault)
    _as_known(fault, wanted)
    for kind in SHARED:
        ids = [renamed.get(row["id"], row["id"]) for row in document.get(kind, ())]
        _keep(document, kind, ids, known[kind])
    other = next((name for name in wanted.ids if name != wanted.id_at(place)), "")
    for row in _rows(document):
        _fit(row, renamed | {OTHER_SIDE: other}, place, currency)
    for repair in fault.get("repair", ()):
        if Decimal(repair.get("price", "0")):
            repair["rough"] = True
    fault["id"] = wanted.id_at(place)
    return tomlkit.dumps(document).strip()


def _renamed(wanted: Wanted, place: str) -> dict[str, str]:
    """By id of an access or a part the one that it has at this place."""
    tables = wanted.pattern.tables
    ids = (row["id"] for kind in SHARED for row in tables.get(kind, ()))
    return {each: f"{each}-{slug(place)}" for each in ids if place and each not in wanted.pattern.common}


def _alone(fault: MutableMapping[str, Any]) -> None:
    """Without what only two places have: shared causes, and checks that borrow a piece of the other side."""
    for key in PAIR_ONLY:
        fault.pop(key, None)
    checks = fault.get("check", [])
    for number in reversed(range(len(checks))):
        if "borrows" in checks[number]:
            del checks[number]
    if "check" in fault and not checks:
        del fault["check"]


def _as_known(fault: MutableMapping[str, Any], wanted: Wanted) -> None:
    if wanted.severity is not None:
        fault["severity"] = wanted.severity.value
    for cause, odds in wanted.odds.items():
        fault["causes"][cause] = odds


def _keep(document: MutableMapping[str, Any], kind: str, ids: Sequence[str], known: set[str]) -> None:
    """Keep the rows whose ids nobody has yet."""
    listed = document.get(kind, [])
    for number in reversed(range(len(listed))):
        if ids[number] in known:
            del listed[number]
    if kind in document and not listed:
        del document[kind]
    known.update(ids)


def _rows(document: Mapping[str, Any]) -> Iterator[MutableMapping[str, Any]]:
    """Every row: of access, parts, the fault, its checks and its repairs."""
    for kind in SHARED:
        yield from document.get(kind, ())
    for fault in document["fault"]:
        yield fault
        yield from fault.get("check", ())
        yield from fault.get("repair", ())


def _fit(row: MutableMapping[str, Any], renamed: Mapping[str, str], place: str, currency: Currency) -> None:
    """A row with the ids of its place, its title saying so, and its amounts in the currency."""
    if row.get("id") in renamed:
        row["id"] = renamed[row["id"]]
        row["title"] = f"{row.get('title', row['id'])}, {place}"
    elif "severity" in row and place:
        row["title"] = f"{row['title']}, {place}"
    if "access" in row:
        row["access"] = [renamed.get(each, each) for each in row["access"]]
    if "parts" in row:
        row["parts"] = _inline({renamed.get(each, each): units for each, units in row["parts"].items()})
    if "borrows" in row:
        row["borrows"] = _inline({**row["borrows"], "fault": renamed.get(OTHER_SIDE, "")})
    for key in AMOUNTS:
        if key in row:
            row[key] = in_currency(row[key], currency)
    if "rough_price" in row:
        row["rough_price"] = _inline({c: _rough(amounts, currency) for c, amounts in row["rough_price"].items()})


def _inline(values: Mapping[str, Any]) -> Any:
    import tomlkit  # noqa: PLC0415

    table = tomlkit.inline_table()
    table.update(values)
    return table


def _rough(amounts: str | Sequence[str], currency: Currency) -> str | list[str]:
    return in_currency(amounts, currency) if isinstance(amounts, str) else [in_currency(a, currency) for a in amounts]


def in_currency(neutral: object, currency: Currency) -> str:
    """A neutral amount in a currency, rounded to two digits where it is scaled: it is rough, and looks it."""
    factor = package_data.rough_scale().get(currency.code, Decimal(1))
    amount = Decimal(str(neutral)) * factor
    if factor != 1 and amount:
        amount = round(amount, KEPT_DIGITS - 1 - amount.adjusted())
    return f"{amount:.{currency.places}f}"
