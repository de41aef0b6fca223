"""The verbs about the record itself: diary, strike, undo."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from optimiser.calls import call
from optimiser.cli import shell
from optimiser.cli.app import (
    answer,
    csv_option,
    job_alone,
    job_and_words,
    json_option,
    never_the_jobs_own,
    program,
    read_moment,
    words_argument,
    write_csv,
)
from optimiser.cli.interrupts import INTERRUPTS
from optimiser.cli.writing import acknowledge, clock, entered, on_disk, show_moves, suppose_option, tell
from optimiser.errors import CallError
from optimiser.text import count

if TYPE_CHECKING:
    from optimiser.ledger import Recorded


@program.command(short_help="Strike out the latest entry of the diary, or that of a number.")
@click.argument("words", nargs=-1, metavar="[JOB] [NUMBER]", shell_complete=shell.words)
@click.option("--why", "text", metavar="TEXT", default="", help="Why, in a few words.")
@suppose_option
@json_option
def strike(words: tuple[str, ...], text: str, suppose: bool, as_json: bool) -> None:
    """Strike out the latest entry of the diary, or that of a number: it stays there, and counts no more."""
    folder, rest = job_and_words(words)
    _strike(folder, _number(rest), text, suppose, as_json)


@program.command(short_help="Strike out the latest entry that counts.")
@words_argument
@suppose_option
@json_option
def undo(words: tuple[str, ...], suppose: bool, as_json: bool) -> None:
    """Strike out the latest entry that counts, and say which it was; the diary keeps it, struck out."""
    folder = job_alone(words)
    _strike(folder, None, "", suppose, as_json)


def _strike(folder: Path, number: int | None, text: str, suppose: bool, as_json: bool) -> None:
    from optimiser import service
    from optimiser.model.events import MOST_SIGNS

    if len(text) > MOST_SIGNS:
        raise CallError(f"--why takes {MOST_SIGNS} signs at most.", "Say it in fewer.")
    from optimiser.show import diary_words

    before = read_moment(folder)
    with ExitStack() as held:
        if not suppose:
            held.enter_context(INTERRUPTS.held())
        entry, written = service.strike(folder, before, clock(), number, text, supposed=suppose)
        with entered(written):
            if suppose:
                acknowledge(before.job, written, (), as_json)
            else:
                tell(diary_words.struck(before.job, entry), as_json)
            held.close()
            show_moves(folder, written, (), as_json)


def _number(rest: list[str]) -> int | None:
    number = count(rest[0]) if rest else None
    if len(rest) > 1 or (rest and number is None):
        raise CallError("strike takes the number of one entry.", f"Say: {call('strike', 'NUMBER')}")
    return number


@program.command(short_help="What happened, in order, with the money.")
@click.argument("words", nargs=-1, metavar="[JOB]", shell_complete=shell.words)
@click.option("--export", "export_to", metavar="FILE", type=click.Path(path_type=Path), help="Write the whole record into a new file of JSON lines.")  # noqa: E501 # fmt: skip
@click.option("--import", "import_from", metavar="FILE", type=click.Path(path_type=Path), help="Take such a file in where there is no record yet.")  # noqa: E501 # fmt: skip
@click.option("--rescue", "rescue_to", metavar="FILE", type=click.Path(path_type=Path), help="Write what is whole in a damaged record into such a file.")  # noqa: E501 # fmt: skip
@json_option
@csv_option
def diary(
    words: tuple[str, ...],
    export_to: Path | None,
    import_from: Path | None,
    rescue_to: Path | None,
    as_json: bool,
    csv_file: Path | None,
) -> None:
    """What happened, in order, what was struck out, and the money after each entry."""
    folder = job_alone(words)
    asked = [way for way in (export_to, import_from, rescue_to) if way is not None]
    if len(asked) > 1 or (asked and (as_json or csv_file is not None)):
        raise CallError("--export, --import and --rescue go by themselves.", "Say one of them.")
    for file in filter(None, (export_to, rescue_to)):
        never_the_jobs_own(file, folder)
    if export_to is not None:
        _export(folder, export_to)
    elif import_from is not None:
        _take_in(folder, import_from)
    elif rescue_to is not None:
        _rescue(folder, rescue_to)
    else:
        _show(folder, as_json, csv_file)


def _show(folder: Path, as_json: bool, csv_file: Path | None) -> None:
    from optimiser.show import diary as diary_shown

    now = read_moment(folder)
    write_csv(csv_file, folder, diary_shown.DIARY, diary_shown.rows(now.job, now.record))
    answer(as_json, lambda: diary_shown.document(now.job, now.record), lambda out: diary_shown.show(out, now.job, now.record))  # noqa: E501 # fmt: skip


def _export(folder: Path, file: Path) -> None:
    from optimiser import service
    from optimiser.show import diary_words, wording

    with INTERRUPTS.held():
        recorded = service.export(folder, file)
        with on_disk(f"{wording.plain(str(file))} is written"):
            sys.stdout.write(diary_words.exported(*_counts(recorded), str(file)))


def _take_in(folder: Path, file: Path) -> None:
    from optimiser import service
    from optimiser.show import dangers, diary_words

    before = read_moment(folder)
    with INTERRUPTS.held():
        recorded = service.take_back(folder, file)
        with on_disk("The record is taken in"):
            now = replace(before, record=recorded.entries)
            sys.stdout.writelines(f"{line}\n" for line in dangers.lines(now.job))
            sys.stdout.write(diary_words.imported(*_counts(recorded), str(file)))


def _rescue(folder: Path, file: Path) -> None:
    from optimiser import service
    from optimiser.show import diary_words, wording

    with INTERRUPTS.held():
        saved = service.save(folder, file, clock())
        if saved is not None:
            with on_disk(f"{wording.plain(str(file))} is written"):
                sys.stdout.write(diary_words.rescued(saved.entries, saved.lost, saved.plans, str(file)))
    if saved is None:
        sys.stdout.write(diary_words.not_damaged())


def _counts(recorded: Recorded) -> tuple[int, int]:
    return len(recorded.entries), len(recorded.plans)
