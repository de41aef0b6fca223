"""The verb that takes in suppliers' sheets as they come: quotes."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Mapping, Sequence
from contextlib import ExitStack, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from optimiser.calls import call
from optimiser.cli import settling
from optimiser.cli.app import (
    ConditionWord,
    answer,
    csv_option,
    job_and_words,
    json_option,
    never_the_jobs_own,
    program,
    progress,
    read_moment,
    today,
    write_csv,
)
from optimiser.cli.interrupts import INTERRUPTS
from optimiser.cli.writing import on_disk
from optimiser.errors import EXIT_INPUT, CallError, Problem

if TYPE_CHECKING:
    from optimiser.model.imports import Arrived
    from optimiser.model.job import Job


@program.command(short_help="Take in suppliers' sheets as they come.")
@click.argument("words", nargs=-1, metavar="[JOB] FILE...")
@click.option("--accept", is_flag=True, help="Write what was understood into the job, as a clean sheet in quotes/.")
@click.option("--map", "maps", multiple=True, metavar="HEADING=COLUMN", help='What a heading of theirs means: "Their heading=price"; "Their heading=ignore" leaves it out.')  # noqa: E501 # fmt: skip
@click.option("--ex-tax", default="", metavar="PERCENT", help="The tax to add to prices that do not have it in them.")
@click.option("--supplier", "suppliers", multiple=True, metavar="ID", help='Whose sheet it is; "Their name=id" for a supplier named in the rows.')  # noqa: E501 # fmt: skip
@click.option("--condition", type=ConditionWord(), help="The condition of rows that name none.")
@click.option("--decimal", default="", metavar="SIGN", help='The sign before the decimals: "." or ",".')
@click.option("--part", "parts", multiple=True, metavar="NAME=ID", help='The part that a name of theirs stands for: "Their name=id".')  # noqa: E501 # fmt: skip
@click.option("--word", "heard", multiple=True, metavar="THEIRS=MEANING", help='What a cell or a line of theirs means: "Neuteil=new", "TBC=0"; "Their line=ignore" leaves it out.')  # noqa: E501 # fmt: skip
@click.option("--pack", "packs", multiple=True, metavar="NAME=N", help="How many pieces a price under a heading, or of a name of theirs, is for.")  # noqa: E501 # fmt: skip
@click.option("--all", "everything", is_flag=True, help="Show how each heading, price and row was read, not a line a quote alone.")  # noqa: E501 # fmt: skip
@click.option("--whole", is_flag=True, help="This is all that its suppliers offer now: older quotes of theirs end.")
@click.option("--this-once", is_flag=True, help="Do not keep what you settle here for the supplier's next sheet.")
@click.option("--take-out", is_flag=True, help="Take what was accepted last out of the job again, or the clean sheet that FILE names.")  # noqa: E501 # fmt: skip
@click.option("--put-back", is_flag=True, help="Put back what was taken out last, or the clean sheet that FILE names.")
@json_option
@csv_option
def quotes(
    words: tuple[str, ...],
    accept: bool,
    whole: bool,
    this_once: bool,
    take_out: bool,
    put_back: bool,
    everything: bool,
    as_json: bool,
    csv_file: Path | None,
    **said: Any,
) -> None:
    """Read suppliers' sheets as they come (CSV, TSV, semicolons, XLSX, ODS) and show what was understood.

    Nothing enters the job until --accept, and nothing while anything about money is in doubt. The files that you name
    are never changed. What was accepted can be taken out again: then all stands as it did before.
    """
    folder, files = job_and_words(words)
    if take_out or put_back:
        others = (take_out and put_back, accept, whole, this_once, everything, csv_file, *said.values())
        _turn_back(folder, files, as_json, put_back=put_back, alone=not any(others))
        return
    if not files:
        raise CallError("quotes takes the suppliers' sheets.", f"Say: {call('quotes', 'FILE...')}")
    from optimiser.quote_import import telling

    told = telling.told(**said)
    if csv_file is not None:
        _must_be_writable(csv_file, folder, files)
    with ExitStack() as held:
        with progress() as say:
            from optimiser import service

            paths = [Path(file) for file in files]
            job, arrived = service.take_in(
                folder, paths, told, today(), say, accept=accept, whole=whole, keep=not this_once,
                before_writing=lambda: held.enter_context(INTERRUPTS.held()),
            )  # fmt: skip
        taken = [each.sheet for each in arrived if each.sheet]
        problems = [problem for each in arrived for problem in each.problems]
        if problems:
            from optimiser.show import import_words

            sys.stderr.write(f"{import_words.to_settle(arrived)}\n")
            sys.stderr.flush()
        with on_disk(f"{' and '.join(taken)}: taken in") if taken else nullcontext():
            held.close()
            _answer(folder, job, arrived, csv_file, as_json=as_json, everything=everything)
    if problems:
        if settling.at_terminal(as_json=as_json):
            sys.stdout.flush()
            flags = {"accept": accept, "whole": whole, "this-once": this_once, "all": everything}
            _again(_call(words, flags, csv_file, said), problems)
        raise SystemExit(EXIT_INPUT)


def _must_be_writable(csv_file: Path, folder: Path, files: Sequence[str]) -> None:
    never_the_jobs_own(csv_file, folder)
    if any(_same(csv_file, Path(file)) for file in files):
        raise CallError(f"{csv_file} is one of the sheets to read.", "Name another file for the table.")
    if csv_file.is_dir() or not csv_file.parent.is_dir():
        raise CallError(
            f"{csv_file} cannot be written: nothing was taken in.", "Name a file in a folder that is there."
        )


def _turn_back(folder: Path, sheets: Sequence[str], as_json: bool, *, put_back: bool, alone: bool) -> None:
    """Take out what was accepted, or put it back."""
    if not alone or len(sheets) > 1:
        usage = f"{call('quotes', '--take-out')}; or --put-back; for another than the last with its clean sheet"
        raise CallError("--take-out and --put-back go by themselves.", f"Say: {usage}.")
    from optimiser import service
    from optimiser.show import import_words, imports

    with ExitStack() as held:
        turned = service.take_out(
            folder, next(iter(sheets), None), lambda: held.enter_context(INTERRUPTS.held()), put_back=put_back
        )
        with on_disk(import_words.turned(turned)):
            held.close()
            job = read_moment(folder).job
            answer(
                as_json, lambda: imports.turned_document(job, turned), lambda out: imports.show_turned(out, job, turned)
            )


def _answer(
    folder: Path, job: Job, arrived: Sequence[Arrived], csv_file: Path | None, *, as_json: bool, everything: bool
) -> None:
    from optimiser.show import imports

    day = job.settings.today or today()
    if not any(each.problems for each in arrived):
        write_csv(csv_file, folder, imports.SHEETS, imports.rows(job, arrived, day))
    answer(
        as_json,
        lambda: imports.document(job, arrived, day),
        lambda out: imports.show(out, job, arrived, day, everything=everything),
        row_by_row=True,
    )


def _again(call: Sequence[str], problems: Sequence[Problem]) -> None:
    """Ask about each doubt, then answer the same call with what was chosen, which is printed."""
    chosen = settling.ask(problems)
    if chosen:
        words = [*call, *chosen]
        click.echo(f"\nThe same without asking: optimiser quotes {shlex.join(words)}\n")
        quotes.main(words, prog_name="optimiser quotes", standalone_mode=False)
        raise SystemExit(0)


def _call(words: Sequence[str], flags: Mapping[str, bool], csv_file: Path | None, said: Mapping[str, Any]) -> list[str]:
    call = [*words, *(f"--{flag}" for flag, is_set in flags.items() if is_set)]
    call += [] if csv_file is None else ["--csv", str(csv_file)]
    several = {"map": "maps", "supplier": "suppliers", "part": "parts", "word": "heard", "pack": "packs"}
    call += [word for option, name in several.items() for value in said[name] for word in (f"--{option}", value)]
    one = {"ex-tax": "ex_tax", "condition": "condition", "decimal": "decimal"}
    return call + [word for option, name in one.items() if said[name] for word in (f"--{option}", said[name])]


def _same(one: Path, other: Path) -> bool:
    return one.resolve() == other.resolve() or (one.exists() and other.exists() and one.samefile(other))
