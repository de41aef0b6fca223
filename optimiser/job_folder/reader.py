"""The job folder into one complete job, or one error that holds all its problems."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

from optimiser.errors import CallError
from optimiser.job_folder import broken_toml, fault_groups, known_names, opening, quote_sheets, rough_prices
from optimiser.job_folder import checks as consistency
from optimiser.job_folder.job_file import JobTables, job_tables
from optimiser.job_folder.opening import UnfitError
from optimiser.job_folder.problems import Complaints, Place, shown
from optimiser.job_folder.quote_sheets import SheetText
from optimiser.model.job import Job, Settings
from optimiser.model.quotes import STILL_TO_BE_ASKED, Quote, Supplier
from optimiser.money import Currency

JOB_FILE = "job.toml"
QUOTES_FILE = "quotes.csv"
QUOTES_FOLDER = "quotes"
SUPPLIERS_FILE = "suppliers.csv"
BEGIN = (
    'start one: optimiser begin FOLDER --pot 1600 --purchase 1100 --fault "blower dead" --fault "front brakes grind"'
)
"""What to type where there is no job yet."""
MOST_JOB_BYTES = 4_000_000
"""Bytes of a job file: some 4,000 faults."""


def job(folder: Path, today: date, written: str | None = None) -> Job:
    """Read the folder. ``today`` serves where the job names no day of its own, ``written`` in place of ``job.toml``.

    Raises ``CallError`` where there is no job folder, ``InputError`` with all problems of all its files.
    """
    if written is None:
        must_be_job_folder(folder)
    complaints = Complaints()
    place = Place(complaints, JOB_FILE)
    tables = _tables(folder, place, written)
    currency = tables.currency if tables else None
    suppliers = _suppliers(folder, complaints, currency)
    before = complaints.count
    terms = {supplier.id: supplier for supplier in suppliers}
    quotes = tuple(quote_sheets.quotes(_pages(folder, complaints), terms, currency))
    for quote in quotes:
        if quote.supplier == STILL_TO_BE_ASKED:
            file, line = quote.line
            quote_sheets.complain_nobodys(Place(complaints, file).at(f"row {line}"))
    if tables is not None:
        quoted = frozenset(quote.part for quote in quotes) if complaints.count == before else None
        consistency.examine(tables, quoted, place)
    if tables is None or complaints.count:
        raise complaints.error()
    return _complete(tables, quotes, suppliers, folder, today)


def must_be_job_folder(folder: Path) -> None:
    """Raises ``CallError`` where there is no folder with a job file."""
    name = shown(str(folder), longest=1000)
    try:
        folder.stat()
        if not folder.is_dir():
            raise CallError(f"{name} is no folder.", f"Name the folder that holds the {JOB_FILE}, or {BEGIN}")
        (folder / JOB_FILE).lstat()
    except FileNotFoundError:
        found = f"There is no {JOB_FILE} in {name}." if folder.is_dir() else f"There is no folder {name}."
        raise CallError(found, f"Name a folder that holds a {JOB_FILE}, or {BEGIN}") from None
    except PermissionError:
        raise CallError(f"There is no permission to look into {name}.", "Allow reading it.") from None
    except (OSError, ValueError) as error:
        told = getattr(error, "strerror", None) or "no such name can exist"
        raise CallError(f"{name} cannot be opened: {told}.", f"Name a folder that holds a {JOB_FILE}.") from None


def _tables(folder: Path, place: Place, written: str | None) -> JobTables | None:
    """The tables of the job file, None where it is no TOML at all."""
    path = folder / JOB_FILE
    try:
        if written is None:
            opening.is_there(path, place)
            written = opening.text(opening.content(path, place, MOST_JOB_BYTES), place)
        return job_tables(broken_toml.tables(written, place), place)
    except UnfitError:
        return None


def _suppliers(folder: Path, complaints: Complaints, currency: Currency | None) -> tuple[Supplier, ...]:
    place = Place(complaints, SUPPLIERS_FILE)
    path = folder / SUPPLIERS_FILE
    try:
        if not opening.is_there(path, place):
            return ()
        return quote_sheets.suppliers(quote_sheets.sheet(path, place, quote_sheets.MOST_LINES), currency)
    except UnfitError:
        return ()


def _pages(folder: Path, complaints: Complaints) -> Iterator[SheetText]:
    """The sheets of quotes, one in memory at a time; they share one greatest number of lines."""
    lines_left = quote_sheets.MOST_LINES
    for name in (QUOTES_FILE, *_sheets_in_folder(folder, complaints)):
        place = Place(complaints, shown(name)[1:-1])
        if not name.isprintable():
            mend = "rename the file"
            place.complain("", found="a file name with signs that cannot be seen", expected="a plain name", mend=mend)
            continue
        try:
            if opening.is_there(folder / name, place):
                page = quote_sheets.sheet(folder / name, place, lines_left)
                lines_left -= page.lines
                yield page
        except UnfitError:
            continue


def _sheets_in_folder(folder: Path, complaints: Complaints) -> list[str]:
    """The names of ``quotes/*.csv``, sorted. Hidden files are left alone: systems and spreadsheets put them there."""
    quotes = folder / QUOTES_FOLDER
    place = Place(complaints, QUOTES_FOLDER)
    try:
        with opening.noting(place):
            if not quotes.is_symlink() and not quotes.exists():
                return []
            quotes.stat()
            if quotes.is_dir():
                names = [each.name for each in quotes.iterdir()]
                sheet_names = [n for n in names if n.lower().endswith(".csv") and not n.startswith(".")]
                return [f"{QUOTES_FOLDER}/{name}" for name in sorted(sheet_names)]
    except UnfitError:
        return []
    mend = f"make it a folder, or name the sheet {QUOTES_FILE}"
    place.complain("", found="a file", expected="a folder with sheets of quotes", mend=mend)
    return []


def _complete(
    tables: JobTables, quotes: tuple[Quote, ...], suppliers: tuple[Supplier, ...], folder: Path, today: date
) -> Job:
    """The job with no default left open. Nothing in ``tables`` is missing once no problem was found."""
    settings = tables.settings or Settings()
    settings = settings.model_copy(
        update={
            "title": settings.title or shown(folder.resolve().name)[1:-1],
            "today": settings.today or today,
        }
    )
    named = {*(quote.part for quote in quotes), *(part for each in tables.faults for part in each.parts)}
    named |= {owned.part for owned in tables.owned}
    faults, checks = fault_groups.once([fault for each in tables.faults if (fault := each.complete) is not None])
    rough = tuple(rough_prices.rough_quotes(tables.parts, quotes, faults, settings.today or today))
    return Job.model_validate(
        {
            "job": settings,
            "money": tables.pot,
            "time": tables.time,
            "solve": tables.solve,
            "words": tables.words,
            "access": (*tables.access, *checks),
            "part": known_names.telling(tables.parts, named),
            "owned": tables.owned,
            "fault": faults,
            "quotes": (*quotes, *rough),
            "suppliers": (*suppliers, rough_prices.NOBODY_YET) if rough else suppliers,
        }
    )
