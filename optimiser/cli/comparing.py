"""The verb that puts things side by side: compare, for the options of a fault and for the quotes of parts."""

from __future__ import annotations

import sys
from contextlib import nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from optimiser.calls import call
from optimiser.cli.app import (
    answer,
    csv_option,
    job_and_words,
    json_option,
    never_the_jobs_own,
    program,
    progress,
    read_moment,
    write_csv,
    write_xlsx,
    xlsx_option,
)
from optimiser.cli.writing import on_disk
from optimiser.errors import CallError

if TYPE_CHECKING:
    from collections.abc import Callable

    from rich.console import Console

    from optimiser.model.job import Job
    from optimiser.show.as_xlsx import Table
    from optimiser.state import Moment


@program.command(short_help="The quotes of every part side by side, or the options of one fault.")
@click.argument("words", nargs=-1, metavar="[JOB] [FAULT or PART]")
@click.option("--part", "is_part", is_flag=True, help="The name is a part's, where a fault is called the same.")
@click.option("--alone", is_flag=True, help="Quotes by themselves: make no plan to hold them against.")
@click.option("--matrix", "as_matrix", is_flag=True, help="Price each, parts by suppliers.")
@click.option("--explain", is_flag=True, help="Say what the columns mean.")
@json_option
@csv_option
@xlsx_option
def compare(
    words: tuple[str, ...],
    is_part: bool,
    alone: bool,
    as_matrix: bool,
    explain: bool,
    as_json: bool,
    csv_file: Path | None,
    xlsx_file: Path | None,
) -> None:
    """What quotes really cost, part by part, and which wins on what; or the options of one fault with switch points."""
    folder, rest = job_and_words(words)
    _may_be_written(folder, csv_file, xlsx_file)
    now = read_moment(folder)
    job = now.job
    if len(rest) > 1:
        raise CallError(
            "compare takes one fault or one part, or no name for every part.",
            f"Say: {call('compare', '[FAULT or PART]')}",
        )
    if as_matrix:
        if rest or alone or is_part:
            raise CallError("--matrix shows every part and makes no plan.", "Leave out the name and the other options.")
        tables, document, show = _matrix(job)
    else:
        fault, part = _named(now, rest[0], is_part) if rest else (None, None)
        if fault is not None and alone:
            raise CallError(f"--alone is for quotes; {fault} is a fault.", "Leave it out, or say --part for a part.")
        tables, document, show = (
            _quotes(now, part, alone=alone, explain=explain) if fault is None else _options(now, fault)
        )
    _write(folder, csv_file, xlsx_file, tables)
    answer(as_json, document, show, row_by_row=True)


Answer = tuple["Callable[[], list[Table]]", "Callable[[], dict[str, Any]]", "Callable[[Console], None]"]
"""Its tables, made when they are wanted, the first of which goes into a CSV file; as JSON; and onto a terminal."""


def _may_be_written(folder: Path, csv_file: Path | None, xlsx_file: Path | None) -> None:
    """Raises ``CallError``, before anything is worked out, where a file that was named is not one to write."""
    if csv_file is not None and xlsx_file is not None and csv_file.resolve() == xlsx_file.resolve():
        raise CallError(f"--csv and --xlsx both name {csv_file}.", "Give them two names.")
    for file in filter(None, (csv_file, xlsx_file)):
        never_the_jobs_own(file, folder)


def _write(folder: Path, csv_file: Path | None, xlsx_file: Path | None, tables: Callable[[], list[Table]]) -> None:
    """The tables to the files that were named."""
    if csv_file is not None:
        first = tables()[0]
        write_csv(csv_file, folder, first.columns, iter(first.rows))
    with on_disk(f"{csv_file} is written") if csv_file is not None and xlsx_file is not None else nullcontext():
        write_xlsx(xlsx_file, folder, tables() if xlsx_file is not None else ())


def _named(now: Moment, name: str, is_part: bool) -> tuple[str | None, str | None]:
    """The fault, by its name or the number of one of its steps, or else the part that is named; where a part is called
    like the fault that is said.
    """
    from optimiser.entries import step_numbers
    from optimiser.planning import quote_comparison

    known = {fault.id for fault in now.job.faults} | now.job.titles_of_parts.keys()
    if name.isdecimal() and name not in known and not is_part:
        name = step_numbers.fault_of(step_numbers.said(name), now.plans) or name
    fault, part = quote_comparison.named(now.job, name, part_only=is_part)
    if fault is not None and part is not None:
        sys.stderr.write(f"{name} is a fault and a part; this is the fault. For the part say --part.\n")
    return fault, None if fault is not None else part


def _options(now: Moment, fault: str) -> Answer:
    with progress() as say:
        from optimiser import service

        found = service.compare(now.job, fault, service.last(now), say)
    from optimiser.show import as_json as shown
    from optimiser.show import steps, tables, terminal
    from optimiser.show.as_xlsx import Table

    found = found.model_copy(update={"plan": steps.as_what_if(found.plan, now.plans.numbering)})
    return (
        lambda: [Table("options", tables.COMPARISON, tables.comparison_rows(found))],
        lambda: shown.compared(found),
        lambda out: terminal.compared(out, found),
    )


def _quotes(now: Moment, part: str | None, *, alone: bool, explain: bool) -> Answer:
    from optimiser import service
    from optimiser.planning import quote_comparison

    job = now.job
    with progress() as say:
        last = None if alone else service.last(now)
        found = service.compare_quotes(job, part, last, say, alone=alone)
    from optimiser.show import quotes, tables
    from optimiser.show.as_xlsx import Table

    def sheets() -> list[Table]:
        made = [Table("quotes", tables.QUOTED, tables.quoted_rows(found))]
        if part is None:
            matrix = quote_comparison.matrix(job)
            made.append(Table("matrix", tables.matrix_columns(matrix), tables.matrix_rows(matrix)))
        return made

    return sheets, lambda: quotes.document(found), lambda out: quotes.show(out, found, explain=explain)


def _matrix(job: Job) -> Answer:
    from optimiser.planning import quote_comparison
    from optimiser.show import quotes, tables
    from optimiser.show.as_xlsx import Table

    found = quote_comparison.matrix(job)
    return (
        lambda: [Table("matrix", tables.matrix_columns(found), tables.matrix_rows(found))],
        lambda: quotes.matrix_document(found),
        lambda out: quotes.show_matrix(out, found),
    )
