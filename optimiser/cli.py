"""The command line: takes the words apart, calls the service, hands the answer to show."""

from __future__ import annotations

import errno
import sys
from collections.abc import Callable
from contextlib import contextmanager
from datetime import date, datetime
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING

import click

from optimiser import __version__
from optimiser.errors import CallError, InputError, OptimiserError

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from optimiser.model.job import Job
    from optimiser.tables import Column, Row

JOB_FILE = "job.toml"
NOWHERE_TO_WRITE = (errno.ENOSPC, errno.EFBIG, errno.EIO, errno.EBADF)
EXIT_INPUT, EXIT_FAULT, EXIT_INTERRUPTED = 2, 70, 130

json_option = click.option("--json", "as_json", is_flag=True, help="Answer as JSON on standard output.")
csv_option = click.option("--csv", "csv_file", metavar="FILE", type=click.Path(path_type=Path), help="Write the table to a CSV file too.")  # noqa: E501 # fmt: skip
words_argument = click.argument("words", nargs=-1, metavar="[JOB]")


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, prog_name="optimiser")
def program() -> None:
    """Choose the parts, suppliers and repairs that put a tired vehicle right on a fixed pot of money.

    JOB is a folder with a job.toml; without one the current folder is the job.
    """


@program.command()
@words_argument
@click.option("--why", "why", is_flag=True, help="Say for every fault what each other option would lose.")
@json_option
@csv_option
def plan(words: tuple[str, ...], why: bool, as_json: bool, csv_file: Path | None) -> None:
    """The best mix: what to buy, from whom, what to leave, and why."""
    folder, rest = job_and_words(words)
    no_more(rest)
    with progress() as say:
        from optimiser import service  # noqa: PLC0415 - the solver is not needed for help or for what is wrong

        job = read_job(folder)
        answer, comparisons = service.why(job, say) if why else (service.plan(job, progress=say), ())
    from optimiser import tables  # noqa: PLC0415

    write_csv(csv_file, folder, tables.PLAN, tables.plan_rows(answer))
    if as_json:
        from optimiser.show import as_json as shown  # noqa: PLC0415

        document = shown.plan(answer)
        if why:
            document["why"] = [shown.comparison(one) for one in comparisons]
        sys.stdout.write(shown.text(document))
        return
    from optimiser.show import terminal  # noqa: PLC0415

    out = terminal.console(sys.stdout)
    terminal.plan(out, answer)
    for one in comparisons:
        out.print()
        terminal.comparison(out, one)


@program.command(short_help="The options of one fault side by side, with switch points.")
@click.argument("words", nargs=-1, metavar="[JOB] FAULT")
@json_option
@csv_option
def compare(words: tuple[str, ...], as_json: bool, csv_file: Path | None) -> None:
    """The options of one fault side by side: landed cost, chance, what each would lose, switch points."""
    folder, rest = job_and_words(words)
    if len(rest) != 1:
        read_job(folder)
        raise CallError("compare takes one fault.", "Say: optimiser compare [JOB] FAULT")
    with progress() as say:
        from optimiser import service  # noqa: PLC0415

        answer = service.compare(read_job(folder), rest[0], say)
    from optimiser import tables  # noqa: PLC0415

    write_csv(csv_file, folder, tables.COMPARISON, tables.comparison_rows(answer))
    if as_json:
        from optimiser.show import as_json as shown  # noqa: PLC0415

        sys.stdout.write(shown.text(shown.comparison(answer)))
        return
    from optimiser.show import terminal  # noqa: PLC0415

    terminal.comparison(terminal.console(sys.stdout), answer)


@program.command()
@words_argument
@json_option
@csv_option
def orders(words: tuple[str, ...], as_json: bool, csv_file: Path | None) -> None:
    """One order for each supplier, to send."""
    folder, rest = job_and_words(words)
    no_more(rest)
    with progress() as say:
        from optimiser import service  # noqa: PLC0415

        answer = service.plan(read_job(folder), progress=say)
    from optimiser import tables  # noqa: PLC0415

    write_csv(csv_file, folder, tables.ORDERS, tables.orders_rows(answer))
    if as_json:
        from optimiser.show import as_json as shown  # noqa: PLC0415

        sys.stdout.write(shown.text(shown.orders(answer)))
        return
    from optimiser.show import terminal  # noqa: PLC0415

    terminal.orders(terminal.console(sys.stdout), answer)


@program.command(short_help="Every problem in the job's files, with the mend.")
@words_argument
@json_option
def verify(words: tuple[str, ...], as_json: bool) -> None:
    """Read everything and list every problem with its place and the mend; plan nothing."""
    folder, rest = job_and_words(words)
    no_more(rest)
    from optimiser import service  # noqa: PLC0415
    from optimiser.show import as_json as shown  # noqa: PLC0415

    try:
        job, said = service.verify(folder, today())
    except InputError as wrong:
        if not as_json:
            raise
        sys.stdout.write(shown.text(shown.problems(wrong)))
        raise SystemExit(EXIT_INPUT) from None
    if as_json:
        sys.stdout.write(shown.text(shown.verified(job, said)))
        return
    from optimiser.show import terminal, wording  # noqa: PLC0415

    out = terminal.console(sys.stdout)
    out.print(wording.all_well(job, len(said)))
    terminal.notices(out, job, said)


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
    own = {home / name for name in (JOB_FILE, "quotes.csv", "suppliers.csv", "record.sqlite")}
    return target in own or target.parent == home / "quotes"


def no_more(rest: Sequence[str]) -> None:
    """Refuse words that mean nothing here: most often a mistyped folder."""
    if rest:
        raise CallError(f"{rest[0]!r} is no folder with a {JOB_FILE}.", "Name the job folder, or call without a name inside it.")  # noqa: E501 # fmt: skip


def read_job(folder: Path) -> Job:
    """Read the job on today's date."""
    from optimiser import read  # noqa: PLC0415

    return read.job(folder, today())


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


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the program and return its exit code: 0 answered, 2 the call or the input is wrong, 70 a fault of ours."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):  # a terminal may lack the letters of somebody's title
            stream.reconfigure(errors="backslashreplace")
    try:
        program.main(args=None if arguments is None else list(arguments), prog_name="optimiser", standalone_mode=False)
    except SystemExit as left:
        return left.code if isinstance(left.code, int) else EXIT_FAULT
    except (click.Abort, KeyboardInterrupt):
        sys.stderr.write("stopped\n")
        return EXIT_INTERRUPTED
    except OSError as error:
        if error.errno not in NOWHERE_TO_WRITE:
            return tell(error)
        return tell(
            CallError(f"The answer could not be written: {error.strerror}.", "Make room, or send it elsewhere.")
        )
    except Exception as error:  # noqa: BLE001 - nobody but us reads a traceback
        return tell(error)
    return 0


def tell(error: Exception) -> int:
    """Say on standard error what is wrong and how to mend it, or what to report; return the exit code."""
    if isinstance(error, click.ClickException):
        error.show()
        return EXIT_INPUT
    from optimiser.show import wording  # noqa: PLC0415

    sys.stderr.write(wording.error(error))
    return error.exit_code if isinstance(error, OptimiserError) else EXIT_FAULT


if __name__ == "__main__":
    sys.exit(main())
