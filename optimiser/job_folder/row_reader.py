"""One row of a table or sheet into one record, with every complaint in plain words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from functools import cache
from typing import TypeVar

from pydantic import ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from optimiser.job_folder import expected as wanted
from optimiser.job_folder.expected import Want
from optimiser.job_folder.problems import Place, did_you_mean, listed, shown
from optimiser.model.base import Record
from optimiser.model.job import Borrowed
from optimiser.money import NO_CURRENCY, Currency

Row = Mapping[str, object]
AnyRecord = TypeVar("AnyRecord", bound=Record)

LENIENT = Currency(NO_CURRENCY, 4)
"""Reads amounts where the job's currency is unknown, so that its places cause no problems of their own."""
_MISFIT = object()
"""Stands in for a value that pydantic would bend into shape (a date from a bare number, a chance from true)."""


def keys_of(kind: type[Record]) -> list[str]:
    """The keys of a record as they are written in files."""
    return [field.alias or name for name, field in kind.model_fields.items() if not _keyless(field)]


@cache
def _keyless_of(kind: type[Record]) -> frozenset[str]:
    return frozenset(name for name, field in kind.model_fields.items() if _keyless(field))


def _keyless(field: FieldInfo) -> bool:
    """Whether the field is filled from the record and no key of any file."""
    return isinstance(field.json_schema_extra, dict) and "no_key" in field.json_schema_extra


def record(kind: type[AnyRecord], row: Row, place: Place, currency: Currency) -> AnyRecord | None:
    """The record that the row stands for, amounts in minor units; None once its problems have been noted."""
    keyless = _keyless_of(kind)
    values = {key: fitting(key, value) for key, value in row.items() if key not in keyless}
    for key in keyless & row.keys():
        complain_unknown_key(key, keys_of(kind), place)
    try:
        return kind.model_validate(values, context={"currency": currency}, by_alias=True, by_name=False)
    except ValidationError as error:
        for detail in error.errors(include_url=False, include_input=False):
            _complain(detail, kind, row, place)
        return None


def fitting(key: str, value: object) -> object:
    """The value as it is handed to pydantic: dates as dates, true and false only where they belong."""
    if key in wanted.DATES:
        return _date(value)
    if isinstance(value, bool) != (key in wanted.YES_NOS):
        return _MISFIT
    return value


def _date(value: object) -> object:
    if isinstance(value, str):
        try:
            return date.fromisoformat(value)
        except ValueError:
            return _MISFIT
    return value if isinstance(value, date) and not isinstance(value, datetime) else _MISFIT


def _complain(detail: ErrorDetails, kind: type[Record], row: Row, place: Place) -> None:
    """Pydantic's finding as a problem; of its words none are kept but those of this package's own checks."""
    path = detail["loc"]
    key = ".".join(shown(step)[1:-1] for step in path if isinstance(step, str) and step != "[key]")
    if detail["type"] == "extra_forbidden":
        known = keys_of(kind) if len(path) == 1 else keys_of(Borrowed)
        complain_unknown_key(str(path[-1]), known, place)
        return
    want = _want(path)
    if detail["type"] == "missing":
        add = "add a title, or an id" if key == "id" else f"add {key}: {want.mend}"
        place.complain(key, found="nothing", expected=want.expected, mend=add)
        return
    value = _at(row, path)
    own = detail["ctx"]["error"] if detail["type"] == "value_error" else None
    expected = f"{want.expected} ({own})" if own and want is not wanted.ID else want.expected
    mend = did_you_mean(value, want.choices, want.mend) if want.choices else _as_share(value, want) or want.mend
    place.complain(key, found=shown(value), expected=expected, mend=mend)


def _as_share(value: object, want: Want) -> str:
    """The mend for a chance that was written in hundredths; empty for anything else."""
    if want not in (wanted.CHANCE, wanted.SHARE_BELOW_ONE) or isinstance(value, bool):
        return ""
    if not isinstance(value, int | float) or not 1 < value <= 100:
        return ""
    return f"write {value / 100:g} for {value}%, else {want.mend.removeprefix('write ')}"


def complain_unknown_key(key: str, known: Sequence[str], place: Place) -> None:
    """Note a key that its table does not have."""
    mend = did_you_mean(key, known, "take it out")
    place.complain(shown(key)[1:-1], found="an unknown key", expected=f"one of {listed(known)}", mend=mend)


def _want(path: Sequence[int | str]) -> Want:
    outer = str(path[0])
    if outer == "rough_price" and path[-1] == "[key]":
        return wanted.CONDITION
    if path[-1] == "[key]":
        return wanted.ID
    if outer == "results" and len(path) == 2:
        return wanted.CHANCES
    return wanted.BY_KEY[outer] if len(path) == 1 else wanted.INSIDE[outer]


def _at(row: Row, path: Sequence[int | str]) -> object:
    """The value as written, before anything was done to it; the key itself where that is at fault."""
    if path[-1] == "[key]":
        return path[-2]
    value: object = row
    for step in path:
        if not isinstance(value, Mapping | list):
            break
        value = value[step]  # type: ignore[index]  # the path comes from walking this very row
    return value
