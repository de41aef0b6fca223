"""The sheets of one call, understood together: either all of them may enter the job, or none does."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from optimiser import files
from optimiser.errors import InputError, Problem
from optimiser.model.imports import Arrived, Known, Told, Understood
from optimiser.model.job import Job
from optimiser.quote_import import lexicon, postage, register
from optimiser.quote_import.accept import accept as put_in
from optimiser.quote_import.accept import changes as changes_by
from optimiser.quote_import.accept import stem
from optimiser.quote_import.importer import understand
from optimiser.quote_import.register import Register
from optimiser.quote_import.rows import SOLD
from optimiser.text import in_shell, typed

Progress = Callable[[str], None]


def take_in(
    folder: Path,
    files: Sequence[Path],
    job: Job,
    told: Told,
    today: date,
    progress: Progress,
    *,
    accept: bool = False,
    whole: bool = False,
    keep: bool = True,
    before_writing: Callable[[], object] = tuple,
) -> tuple[Arrived, ...]:
    """Understand every file; with ``accept``, and if none is in doubt, write their clean sheets into the job.

    Nothing is written while any file has a problem. Raises ``InputError`` where what was kept of earlier sheets is
    broken, ``CallError`` where a clean sheet cannot be written.
    """
    known, kept = Known.of(job), register.read(folder)
    settled = kept.suppliers
    read = [_read(path, known, told, settled, progress) for path in files]
    absent = [_absent(each, told) for each in read]
    nowhere = set.intersection(*absent) if absent else set()
    arrived = []
    for path, each, lacking in zip(files, read, absent, strict=True):
        if elsewhere := lacking - nowhere:
            own = {heading: column for heading, column in told.columns.items() if heading not in elsewhere}
            each = _read(path, known, replace(told, columns=own), settled, progress)  # noqa: PLW2901
        arrived.append(each)
    arrived = _of_one_shop(arrived, kept, {supplier.id for supplier in job.suppliers})
    well = [each.understood for each in arrived if each.understood is not None and not each.problems]
    progress("what they change")
    terms = iter([postage.changes(folder, each, job.currency) for each in well])
    arrived = [each if each.problems else replace(each, terms=next(terms)) for each in arrived]
    if accept and len(well) == len(arrived):
        taken = put_in(folder, well, job.currency, today, before_writing, whole=whole, keep=keep)
        return tuple(replace(a, changes=t.changes, sheet=t.sheet) for a, t in zip(arrived, taken, strict=True))
    changes = iter(changes_by(folder, well, job.currency, today, whole=whole))
    return tuple(each if each.problems else replace(each, changes=next(changes)) for each in arrived)


def _read(path: Path, known: Known, told: Told, settled: Mapping[str, Told], progress: Progress) -> Arrived:
    name = files.name_of(path)
    progress(name)
    try:
        understood = understand(path, known, told, settled, lambda what: progress(f"{name}: {what}"))
    except InputError as error:
        return Arrived(name, None, error.problems, error.left_out)
    if understood.rows or understood.doubts:
        return Arrived(name, understood, understood.doubts, understood.more_doubts)
    return Arrived(name, understood, (_nothing(name, understood),))


def _of_one_shop(arrived: Sequence[Arrived], kept: Register, listed: Collection[str]) -> list[Arrived]:
    """Sheets of one name, of which only the name says whose they are, may be two shops': each is asked about.

    A supplier on the job's own list is known by its name.
    """
    before = {stem(sheet.original) for sheet in kept.sheets.values()}
    told = []
    for each in arrived:
        supplier = each.understood.by_file if each.understood is not None else ""
        if supplier and supplier not in listed and stem(each.file) in before:
            mend = f"if it is the same shop, --supplier {in_shell(supplier)}; if not, --supplier THEIR-NAME"
            found = "a sheet of this name was taken in before, and nothing in it says whose it is"
            asked = Problem(each.file, "", "supplier", found, "whose offers these are", mend)
            each = replace(each, problems=(*each.problems, asked))  # noqa: PLW2901
        before.add(stem(each.file))
        told.append(each)
    return told


def _absent(arrived: Arrived, told: Told) -> set[str]:
    """Headings that were told of and that this sheet does not have."""
    if arrived.understood is None:
        return set(told.columns)
    present = {lexicon.plain(heading.text) for heading in arrived.understood.headings}
    return {heading for heading in told.columns if lexicon.plain(heading) not in present}


def _nothing(file: str, understood: Understood) -> Problem:
    """No row is a quote: either another sheet, or one that calls the parts by names of its own."""
    named = next((row for row in understood.aside if row.named and row.nearest), None)
    mend = "name a sheet that has parts of the job in it, or name the parts in it as the job does"
    if any(row.part and row.reason == SOLD for row in understood.aside):
        mend = "what it has for the job is sold: ask the supplier what else there is"
    elif named is not None:
        mend = (
            f"say which part of the job a name stands for, with yours: {typed('part', named.named, named.nearest[0])}"
        )
    expected = "at least one row that is a quote for a part of the job"
    return Problem(file, "", "", "no row that was understood as a quote", expected, mend)
