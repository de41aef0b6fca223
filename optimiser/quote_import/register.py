"""What the job folder keeps of sheets taken in: ``quotes/intake.toml``, beside the clean sheets.

For each supplier what a person settled about its sheets, and for each clean sheet that the tool wrote its digest: a
sheet that is not listed here, or was changed since, is the person's own and is never written to.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Container, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import Any, get_args

from optimiser import files
from optimiser.errors import CallError, InputError, RecordInUseError
from optimiser.job_folder import opening, quote_sheets
from optimiser.job_folder.problems import Complaints, Place
from optimiser.model.imports import Told
from optimiser.model.quotes import Condition

FILE = "intake.toml"
FOLDER = "quotes"
BEFORE = "before"
"""The folder beside the clean sheets with what stood before each acceptance."""
PLACE = f"{FOLDER}/{FILE}"
WAIT_SECONDS = 5.0
"""How long a call waits for another that takes sheets into the same job, or out of it."""
NOT_THE_TOOLS = (tomllib.TOMLDecodeError, RecursionError, TypeError, AttributeError, KeyError, ValueError)
"""What reading a text raises that the tool did not write so."""
_MOST_BYTES = 4_000_000
_HEAD = """# Kept by optimiser when suppliers' sheets are taken in.
# [supplier.ID]: what was settled about its sheets; change or delete it freely, it holds for the next sheet.
# [sheet."NAME"]: a clean sheet that the tool wrote; it is only ever changed while its digest is one of these.
"""
_TABLES = ("columns", "parts", "suppliers", "words", "packs")
_WORDS = ("condition", "decimal", "ex_tax")


@dataclass(frozen=True)
class CleanSheet:
    """A clean sheet of ours: where it came from, when, and the digests that its content may have."""

    original: str
    taken: date
    digests: tuple[str, ...]


@dataclass(frozen=True)
class Register:
    """The whole file."""

    suppliers: Mapping[str, Told] = field(default_factory=dict)
    sheets: Mapping[str, CleanSheet] = field(default_factory=dict)

    def is_ours(self, path: Path) -> bool:
        """Whether the tool wrote this sheet and nobody has changed it since."""
        sheet = self.sheets.get(path.name)
        try:
            return (
                sheet is not None
                and not path.is_symlink()
                and digest(files.content(path, quote_sheets.MOST_BYTES)) in sheet.digests
            )
        except OSError:
            return False

    def with_sheet(self, name: str, sheet: CleanSheet) -> Register:
        """With one more clean sheet, or another state of one."""
        return replace(self, sheets={**self.sheets, name: sheet})

    def only(self, sheets: Container[str], suppliers: Container[str]) -> Register:
        """What is kept of these alone."""
        return Register(
            {name: told for name, told in self.suppliers.items() if name in suppliers},
            {name: sheet for name, sheet in self.sheets.items() if name in sheets},
        )

    def with_told(self, suppliers: Iterable[str], told: Told) -> Register:
        """With what was settled on a sheet, for each of its suppliers."""
        kept = replace(told, supplier="")
        settled = {name: kept.over(self.suppliers.get(name, Told())) for name in suppliers}
        return self if kept == Told() else replace(self, suppliers={**self.suppliers, **settled})


def digest(data: bytes) -> str:
    """The digest of a sheet's content: SHA-256 (FIPS 180-4)."""
    return hashlib.sha256(data).hexdigest()


def read(folder: Path) -> Register:
    """What the job folder keeps; nothing where there is no such file. Raises ``InputError`` where it is broken."""
    complaints = Complaints()
    place = Place(complaints, PLACE)
    path = folder / FOLDER / FILE
    try:
        if not opening.is_there(path, place):
            return Register()
        return parsed(opening.text(opening.content(path, place, _MOST_BYTES), place))
    except NOT_THE_TOOLS:
        mend = "mend it by hand, or move it away: then the clean sheets count as your own"
        place.complain("", found="what the tool did not write so", expected="the file as it was kept", mend=mend)
    except opening.UnfitError:
        pass
    raise InputError(complaints.error().problems)


def parsed(written: str) -> Register:
    """What such a text says. Raises one of ``NOT_THE_TOOLS``."""
    raw = tomllib.loads(written)
    return Register(
        {str(name): _told(table) for name, table in raw.get("supplier", {}).items()},
        {str(name): _sheet(table) for name, table in raw.get("sheet", {}).items()},
    )


@contextmanager
def held(folder: Path) -> Iterator[None]:
    """The sheets of a job of which nobody else takes any in or out meanwhile.

    Raises ``CallError`` where they cannot be written, or a link would have us write somewhere else (a folder may come
    by mail), ``RecordInUseError`` where another call takes too long.
    """
    home = folder / FOLDER
    try:
        home.mkdir(exist_ok=True)
        for path in (home, home / FILE, home / BEFORE):
            if files.leads_outside(path, folder):
                found = f"{path} is a link that leads out of the job's folder: nothing was written."
                raise CallError(found, "Put a folder, or a file, in its place.")
        with files.held(home, WAIT_SECONDS):
            yield
    except files.HeldError:
        found = f"Another program has been taking sheets in for {WAIT_SECONDS:g} seconds or longer."
        raise RecordInUseError(FOLDER, found, "Nothing was written: try again when it is done.") from None
    except OSError as error:
        found = f"The clean sheet cannot be written in {home}: {error.strerror}."
        raise CallError(found, "Make room, or allow writing there.") from None


def _told(table: Mapping[str, Any]) -> Told:
    condition = table.get("condition")
    if condition is not None and condition not in get_args(Condition):
        raise ValueError(condition)
    columns, parts, suppliers, words, packs = (
        {str(k): str(v) for k, v in table.get(key, {}).items()} for key in _TABLES
    )
    return Told(
        columns=columns,
        condition=condition,
        decimal=str(table.get("decimal", "")),
        ex_tax=str(table.get("ex_tax", "")),
        parts=parts,
        suppliers=suppliers,
        words=words,
        packs=packs,
    )


def _sheet(table: Mapping[str, Any]) -> CleanSheet:
    return CleanSheet(str(table["original"]), date.fromisoformat(str(table["taken"])), tuple(map(str, table["sha256"])))


def text(kept: Register) -> str:
    """The file's text, in order of names."""
    import tomlkit  # noqa: PLC0415 - only where something is written

    document = tomlkit.document()
    suppliers, sheets = tomlkit.table(is_super_table=True), tomlkit.table(is_super_table=True)
    for name, told in sorted(kept.suppliers.items()):
        suppliers.append(name, _table_of(told))
    for name, sheet in sorted(kept.sheets.items()):
        table = tomlkit.table()
        table.update({"original": sheet.original, "taken": sheet.taken.isoformat(), "sha256": list(sheet.digests)})
        sheets.append(name, table)
    document.append("supplier", suppliers)
    document.append("sheet", sheets)
    return _HEAD + "\n" + tomlkit.dumps(document)


def _table_of(told: Told) -> Any:
    import tomlkit  # noqa: PLC0415

    table = tomlkit.table()
    table.update({key: getattr(told, key) for key in _WORDS if getattr(told, key)})
    for key in _TABLES:
        if getattr(told, key):
            inner = tomlkit.table()
            inner.update(dict(getattr(told, key)))
            table.append(key, inner)
    return table
