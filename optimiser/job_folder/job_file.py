"""``job.toml`` into records, every table by itself, so that all its problems are found at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from optimiser.job_folder import known_names, package_data
from optimiser.job_folder.problems import Place, did_you_mean, shown
from optimiser.job_folder.row_reader import LENIENT, Row, complain_unknown_key, record
from optimiser.job_folder.sheet_words import sheet_words
from optimiser.model.base import Record
from optimiser.model.job import Access, Check, Fault, Owned, Part, Pot, Repair, Settings, SheetWords, Solve, Time
from optimiser.money import NO_CURRENCY, PLACES, SIGNS, Currency
from optimiser.names import slug

AnyRecord = TypeVar("AnyRecord", bound=Record)

_SINGLE = ("job", "money", "time", "solve", "words")
_REPEATED = ("access", "part", "owned", "fault")


@dataclass(frozen=True)
class FaultTables:
    """A fault as far as it is sound; ``causes`` are its ids as written, None where they are no table."""

    where: str
    fault: Fault | None
    causes: tuple[str, ...] | None
    checks: tuple[Check, ...]
    repairs: tuple[Repair, ...]
    parts: frozenset[str]
    """Parts that its repairs name, sound or not."""

    @property
    def complete(self) -> Fault | None:
        """The fault with its checks and repairs."""
        return self.fault and self.fault.model_copy(update={"checks": self.checks, "repairs": self.repairs})


@dataclass(frozen=True)
class JobTables:
    """``job.toml`` as far as it is sound. ``access_ids`` and ``part_ids`` are of all rows, the others' too.

    ``access_ids`` is None where the rows cannot be told apart.
    """

    settings: Settings | None
    pot: Pot | None
    time: Time | None
    solve: Solve | None
    words: SheetWords
    access: tuple[Access, ...]
    access_ids: frozenset[str] | None
    parts: tuple[Part, ...]
    part_ids: frozenset[str]
    owned: tuple[Owned, ...]
    faults: tuple[FaultTables, ...]
    currency: Currency | None
    """The job's currency, None where the job names one that does not exist."""


def job_tables(raw: Mapping[str, Any], place: Place) -> JobTables:
    """Read every table; problems are noted at ``place``, and what has one is left out."""
    for key in raw:
        if key not in (*_SINGLE, *_REPEATED):
            complain_unknown_key(key, (*_SINGLE, *_REPEATED), place)
    head = _single(raw, "job", place)
    currency = _currency(head, place.at("[job]"))
    amounts = currency or LENIENT
    access = list(_rows(raw, "access", place))
    parts = list(_rows(raw, "part", place))
    faults = list(_rows(raw, "fault", place))
    checks = _checks(faults)
    return JobTables(
        settings=_one(Settings, _with_plain_names(head), place.at("[job]"), amounts),
        pot=_one(Pot, _single(raw, "money", place), place.at("[money]"), amounts),
        time=_one(Time, _single(raw, "time", place), place.at("[time]"), amounts),
        solve=_one(Solve, _single(raw, "solve", place), place.at("[solve]"), amounts),
        words=sheet_words(_single(raw, "words", place) or {}, place.at("[words]")),
        access=_sound(record(Access, row, at, amounts) for row, at in access),
        access_ids=_ids(access) if _are_rows(raw.get("access", [])) else None,
        parts=_sound(_part(row, at, amounts) for row, at in parts),
        part_ids=_ids(parts),
        owned=_sound(record(Owned, _with_chance(row), at, amounts) for row, at in _rows(raw, "owned", place)),
        faults=tuple(_fault(row, at, amounts, checks) for row, at in faults),
        currency=currency,
    )


def _fault(row: Row, place: Place, amounts: Currency, checks: Mapping[str, Row]) -> FaultTables:
    """One fault; its checks and repairs are read apart, so that one problem hides no other."""
    within = place.at(f"{place.where},")
    repair_rows = list(_rows(row, "repair", within))
    check_rows = list(_rows(row, "check", within))
    alone = {key: value for key, value in row.items() if key not in ("check", "repair")}
    causes = row.get("causes", {})
    written = record(Fault, alone, place, amounts)
    return FaultTables(
        where=place.where,
        fault=written and known_names.fault(written, place),
        causes=tuple(causes) if isinstance(causes, dict) else None,
        checks=tuple(
            map(
                known_names.check,
                _sound(record(Check, _with_same(check, checks), at, amounts) for check, at in check_rows),
            )
        ),
        repairs=_sound(record(Repair, repair, at, amounts) for repair, at in repair_rows),
        parts=frozenset(part for repair, _ in repair_rows for part in _keys(repair.get("parts"))),
    )


def _part(row: Row, place: Place, amounts: Currency) -> Part | None:
    written = record(Part, row, place, amounts)
    return written and known_names.part(written, place)


def _with_plain_names(head: Row | None) -> Row | None:
    """The head with the everyday names of licensed systems as their plain ones, where it lists such."""
    listed = head.get("licensed") if head is not None else None
    if head is None or not isinstance(listed, list):
        return head
    plain = [known_names.plain_name(word, package_data.systems) if isinstance(word, str) else None for word in listed]
    return {**head, "licensed": [name or word for name, word in zip(plain, listed, strict=True)]}


def _currency(head: Row | None, place: Place) -> Currency | None:
    """The job's currency: ISO 4217's "none" where it names none, None where what it names does not exist."""
    code = None if head is None else head.get("currency", NO_CURRENCY)
    if isinstance(code, str) and code in PLACES:
        return Currency.of(code)
    if isinstance(code, str):
        signed = SIGNS.get(code.strip())
        mend = (
            f'write "{signed}"'
            if signed
            else did_you_mean(code.upper(), PLACES, "write the three letters of the currency, such as GBP")
        )
        place.complain("currency", found=shown(code), expected="a currency code of ISO 4217", mend=mend)
    return None


def _single(raw: Mapping[str, Any], key: str, place: Place) -> Row | None:
    """A table that stands once; empty where it is missing, None where it is no table."""
    table = raw.get(key, {})
    if isinstance(table, dict):
        return table
    found = f"[[{key}]]" if table and _are_rows(table) else shown(table)
    place.at(f"[{key}]").complain("", found=found, expected="one table", mend=f"write [{key}] with its keys below it")
    return None


def _rows(raw: Mapping[str, Any], key: str, place: Place) -> Iterator[tuple[Row, Place]]:
    """The rows of a table that may stand often, each with its id and with its place by that id or its number."""
    inner = bool(place.where)
    name = key if inner else f"[[{key}]]"
    full = f"[[fault.{key}]]" if inner else name
    rows = raw.get(key, [])
    if not _are_rows(rows):
        found = f"[{full[2:-2]}]" if isinstance(rows, dict) else shown(rows)
        mend = f"write {full}, in double brackets, above each row"
        place.at(f"{place.where} {name}".strip()).complain("", found=found, expected=f"rows of {full}", mend=mend)
        return
    for number, row in enumerate(rows, start=1):
        named = row if key == "owned" else _named(row)
        told = named.get("part" if key == "owned" else "id")
        label = shown(told)[1:-1] if isinstance(told, str) and told.strip() else f"number {number}"
        yield named, place.at(f"{place.where} {name} {label}".lstrip())


def _named(row: Row) -> Row:
    """The row with its id, which its title stands for where none is written."""
    title = row.get("title")
    if "id" in row or title is None:
        return row
    # a title that is no text is reported for itself, and the id that it lacks is no second problem
    name = slug(title) if isinstance(title, str) else "untitled"
    return {"id": name, **row} if name else row


def _with_chance(row: Row) -> Row:
    """An owned row with the chance of its condition, where it states none."""
    if "good_chance" in row:
        return row
    # a condition that does not exist is reported for itself, so its chance may be anything
    return {**row, "good_chance": package_data.conditions().get(str(row.get("condition")), 1.0)}


def _checks(faults: Iterable[tuple[Row, Place]]) -> dict[str, Row]:
    """The rows of all checks, sound or not, by fault and check."""
    found = {}
    for fault, _ in faults:
        rows = fault.get("check", [])
        for check in rows if isinstance(rows, list) else ():
            if isinstance(check, dict):
                named = _named(check)
                found[f"{fault.get('id')}.{named.get('id')}"] = named
    return found


def _with_same(row: Row, checks: Mapping[str, Row]) -> Row:
    """A check that is another fault's: what it does not say of itself is as it is said there."""
    same = row.get("same_as")
    if not isinstance(same, str):
        return row
    # one that does not exist is reported for itself, and results that it lacks are no second problem
    there = checks.get(same, {"results": {"seen": {}}})
    return {key: there[key] for key in ("title", "minutes", "cost", "access", "results") if key in there} | dict(row)


def _one(kind: type[AnyRecord], row: Row | None, place: Place, amounts: Currency) -> AnyRecord | None:
    return None if row is None else record(kind, row, place, amounts)


def _sound(records: Iterator[AnyRecord | None]) -> tuple[AnyRecord, ...]:
    return tuple(each for each in records if each is not None)


def _ids(rows: list[tuple[Row, Place]]) -> frozenset[str]:
    return frozenset(name for row, _ in rows if isinstance(name := row.get("id"), str))


def _keys(value: object) -> tuple[str, ...]:
    return tuple(value) if isinstance(value, dict) else ()


def _are_rows(value: object) -> bool:
    return isinstance(value, list) and all(isinstance(each, dict) for each in value)
