"""What every verb shares: the program's group, the options, the job's folder, tables to files, progress."""

from __future__ import annotations

import errno
import os
import shutil
import sys
from collections.abc import Callable
from contextlib import contextmanager, suppress
from datetime import UTC, date, datetime
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from optimiser import __version__, calls
from optimiser.cli import shell
from optimiser.cli.interrupts import INTERRUPTS
from optimiser.errors import EXIT_FAULT, CallError, OptimiserError, UnansweredError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from rich.console import Console

    from optimiser.model.plan import Plan
    from optimiser.show.as_xlsx import Table
    from optimiser.show.tables import Column, Row
    from optimiser.state import Moment

JOB_FILE = "job.toml"
NOWHERE_TO_WRITE = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO, errno.EBADF, errno.EPIPE)
OWN_FILES = (JOB_FILE, "quotes.csv", "suppliers.csv", "record.sqlite", "record.sqlite-journal")


class ConditionWord(click.Choice[str]):
    """A condition, or any word by which suppliers' sheets name one: "reman"."""

    def __init__(self) -> None:
        super().__init__(["new", "refurbished", "salvage"], case_sensitive=False)

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """The condition that is meant; what names none is refused as it was typed."""
        if value.casefold() not in self.choices:
            from optimiser.quote_import import row_values

            named, rest, _ = row_values.condition(value)
            value = value if named is None or rest else named
        return super().convert(value, param, ctx)


SEVERITIES = click.Choice(["minor", "major", "dangerous"], case_sensitive=False)
json_option = click.option("--json", "as_json", is_flag=True, help="Answer as JSON on standard output.")
csv_option = click.option("--csv", "csv_file", metavar="FILE", type=click.Path(path_type=Path), help="Write the table to a CSV file too.")  # noqa: E501 # fmt: skip
xlsx_option = click.option("--xlsx", "xlsx_file", metavar="FILE", type=click.Path(path_type=Path), help="Write the tables to an XLSX workbook too.")  # noqa: E501 # fmt: skip
words_argument = click.argument("words", nargs=-1, metavar="[JOB]", shell_complete=shell.words)


class Verbs(click.Group):
    """All verbs; each takes its words apart as they all do."""

    command_class = shell.Verb


@click.group(cls=Verbs, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="optimiser")
@click.option("--completion", type=click.Choice(shell.SHELLS), is_eager=True, expose_value=False, callback=shell.completion, help="Print what makes a shell complete verbs, steps and names.")  # noqa: E501 # fmt: skip
@click.option("--manual", is_flag=True, is_eager=True, expose_value=False, callback=shell.manual, help="Print a page for man, made from this help.")  # noqa: E501 # fmt: skip
def program() -> None:
    """Choose the parts, suppliers and repairs that put a tired vehicle right on a fixed pot of money.

    JOB is a folder with a job.toml; without one the current folder is the job.
    """


def job_and_words(words: Sequence[str]) -> tuple[Path, list[str]]:
    """The job folder and the other words: the first word is the job if it is a folder with a job.toml.

    Calls that are printed from here on are of that job.
    """
    named = bool(words) and (_holds_a_job(Path(words[0])) or not _holds_a_job(Path()))
    folder = Path(words[0]) if named else Path()
    calls.are_about(folder)
    return folder, list(words[named:])


def _holds_a_job(folder: Path) -> bool:
    try:
        return (folder / JOB_FILE).is_file()
    except (OSError, ValueError):
        return False


def job_alone(words: Sequence[str]) -> Path:
    """The job folder of a verb that takes no other words: one more is most often a mistyped folder."""
    folder, rest = job_and_words(words)
    if rest:
        raise CallError(f"{rest[0]!r} is no folder with a {JOB_FILE}.", "Name the job folder, or call without a name inside it.")  # noqa: E501 # fmt: skip
    return folder


def read_moment(folder: Path) -> Moment:
    """Read what the call knows, once: the folder on today's date, and what happened since."""
    from optimiser import service

    return service.moment(folder, today())


def planned(now: Moment, say: Callable[[str], None]) -> Plan:
    """The plan of what is known, near to the last kept one; its steps keep the numbers that they were given before."""
    from optimiser import service
    from optimiser.show import steps

    return steps.carried_on(service.plan(now.job, service.last(now), say), now.plans.numbering)


def keep(folder: Path, now: Moment, plan: Plan) -> None:
    """Keep a plan that is shown, for later ones to be compared with; say so where it cannot be kept.

    It is shown all the same: the folder may be gone since it was read.
    """
    from optimiser import service
    from optimiser.show import steps, wording

    try:
        service.keep(folder, now, steps.carried_on(plan, plan.numbering), datetime.now(UTC))
    except OptimiserError as trouble:
        if trouble.exit_code == EXIT_FAULT:
            raise
        complain(f"This plan was not kept, so no later one can be compared with it:\n{wording.error(trouble, written=True)}")  # noqa: E501 # fmt: skip


def unanswered(error: Exception) -> UnansweredError | None:
    """An error of the standard output as a person can use it, None for any other; what it still holds is let go."""
    if not isinstance(error, OSError) or error.errno not in NOWHERE_TO_WRITE:
        return None
    try:
        sys.stdout.flush()
    except (OSError, ValueError):
        with suppress(OSError, ValueError), Path(os.devnull).open("w") as nowhere:
            os.dup2(nowhere.fileno(), sys.stdout.fileno())
    return UnansweredError(f"The answer could not be written: {error.strerror}.", "Make room, or send it elsewhere.")


def complain(words: str) -> None:
    """Say something on standard error, if it takes it."""
    with suppress(OSError, ValueError):
        sys.stderr.write(words)
        sys.stderr.flush()


def today() -> date:
    """The clock's date where the user is."""
    return datetime.now().astimezone().date()


def write_csv(path: Path | None, folder: Path, columns: Sequence[Column], rows: Iterator[Row]) -> None:
    """Write the table if a file was named; never over what the person wrote."""
    if path is not None:
        never_the_jobs_own(path, folder)
        from optimiser.show import as_csv

        as_csv.write(path, columns, rows)


def write_xlsx(path: Path | None, folder: Path, tables: Sequence[Table]) -> None:
    """Write the tables as one workbook if a file was named; never over what the person wrote."""
    if path is not None:
        never_the_jobs_own(path, folder)
        from optimiser.show import as_xlsx

        as_xlsx.write_xlsx(path, tables)


def never_the_jobs_own(path: Path, folder: Path) -> None:
    """Raises ``CallError`` where a file to write is, or would be, one that the job is read from."""
    target, home = path.resolve(), folder.resolve()
    if target in {home / name for name in OWN_FILES} or target.parent == home / "quotes":
        raise CallError(f"{path} is a file of the job itself.", "Name another file: the job is read, never changed.")


def answer(
    as_json: bool,
    document: Callable[[], Any],
    show: Callable[[Console], None],
    *,
    row_by_row: bool = False,
    paged: bool = False,
) -> None:
    """The answer on standard output: as JSON, written row by row where there may be very many, or for a person.

    ``paged``: on a terminal that it is too long for, page by page.
    """
    if as_json:
        from optimiser.show import as_json as shown

        sys.stdout.writelines(chain(shown.pieces(document()), "\n") if row_by_row else [shown.text(document())])
        return
    from optimiser.show import layout

    out = layout.console(sys.stdout)
    if not (paged and sys.stdout.isatty()):
        show(out)
        return
    with out.capture() as held:
        show(out)
    _page(held.get())


def _page(text: str) -> None:
    """A long answer page by page; in a pager Ctrl-C is the pager's, and no reason to leave the terminal as it is."""
    if text.count("\n") < shutil.get_terminal_size().lines:
        sys.stdout.write(text)
        return
    with INTERRUPTS.held():
        click.echo_via_pager(text)


@contextmanager
def progress() -> Iterator[Callable[[str], None]]:
    """Say on a terminal's standard error what is being worked on; say nothing into a file or a pipe."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return

    def say(what: str) -> None:
        sys.stderr.write(f"\r\x1b[Kworking: {what}")
        sys.stderr.flush()

    try:
        yield say
    finally:
        sys.stderr.write("\r\x1b[K")
        sys.stderr.flush()
