"""What every verb shares: the program's group, the options, the job's folder, tables to files, progress."""

from __future__ import annotations

import sys
from collections.abc import Callable
from contextlib import contextmanager
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from optimiser import __version__
from optimiser.errors import CallError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from optimiser.model.job import Job
    from optimiser.tables import Column, Row

JOB_FILE = "job.toml"
OWN_FILES = (JOB_FILE, "quotes.csv", "suppliers.csv", "record.sqlite", "record.sqlite-journal")

json_option = click.option("--json", "as_json", is_flag=True, help="Answer as JSON on standard output.")
csv_option = click.option("--csv", "csv_file", metavar="FILE", type=click.Path(path_type=Path), help="Write the table to a CSV file too.")  # noqa: E501 # fmt: skip
words_argument = click.argument("words", nargs=-1, metavar="[JOB]")


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="optimiser")
def program() -> None:
    """Choose the parts, suppliers and repairs that put a tired vehicle right on a fixed pot of money.

    JOB is a folder with a job.toml; without one the current folder is the job.
    """


def job_and_words(words: Sequence[str]) -> tuple[Path, list[str]]:
    """The job folder and the other words: the first word is the job if it is a folder with a job.toml."""
    if words and _holds_a_job(Path(words[0])):
        return Path(words[0]), list(words[1:])
    if words and not _holds_a_job(Path()):
        return Path(words[0]), list(words[1:])
    return Path(), list(words)


def _holds_a_job(folder: Path) -> bool:
    try:
        return (folder / JOB_FILE).is_file()
    except (OSError, ValueError):
        return False


def _belongs_to(folder: Path, path: Path) -> bool:
    target, home = path.resolve(), folder.resolve()
    return target in {home / name for name in OWN_FILES} or target.parent == home / "quotes"


def no_more(rest: Sequence[str]) -> None:
    """Refuse words that mean nothing here: most often a mistyped folder."""
    if rest:
        raise CallError(f"{rest[0]!r} is no folder with a {JOB_FILE}.", "Name the job folder, or call without a name inside it.")  # noqa: E501 # fmt: skip


def read_job(folder: Path) -> Job:
    """Read the job as it stands on today's date: the folder, and what happened since."""
    from optimiser import service  # noqa: PLC0415

    return service.standing(folder, today()).job


def today() -> date:
    """The clock's date where the user is."""
    return datetime.now().astimezone().date()


def write_csv(path: Path | None, folder: Path, columns: Sequence[Column], rows: Iterator[Row]) -> None:
    """Write the table if a file was named; never over what the person wrote."""
    if path is not None:
        if _belongs_to(folder, path):
            raise CallError(
                f"{path} is a file of the job itself.", "Name another file: the job is read, never changed."
            )
        from optimiser.show import as_csv  # noqa: PLC0415

        as_csv.write(path, columns, rows)


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
