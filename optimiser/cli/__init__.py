"""The command line: takes the words apart, calls the service, hands the answer to show."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence
from contextvars import copy_context
from io import TextIOWrapper

import click

from optimiser.cli import (  # the verbs put themselves on the program
    beginning,
    comparing,
    diary,
    guide,
    page,
    planning,
    recording,
    reporting,
    sheets,
)
from optimiser.cli.app import complain, program, unanswered
from optimiser.cli.interrupts import INTERRUPTS, STOPPED
from optimiser.errors import EXIT_FAULT, EXIT_INPUT, EXIT_INTERRUPTED, OptimiserError

__all__ = ["main", "program"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the program and return its exit code; the README lists them."""
    gc.set_threshold(100_000, 50, 100)  # a call's records live to its end: looking through them took a sixth of it
    _open_streams()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):  # a terminal may lack the letters of somebody's title
            stream.reconfigure(errors="backslashreplace")
    with INTERRUPTS.watching():
        return copy_context().run(_answered, arguments)


def _open_streams() -> None:
    """Put something in the place of streams that are closed, so that no file of ours is opened in it.

    What stands in for the standard output takes nothing: then nobody has the answer, and that is said.
    """
    if sys.stdin is None:
        sys.stdin = os.fdopen(os.open(os.devnull, os.O_RDONLY), "r", encoding="utf-8")
    if sys.stdout is None:
        sys.stdout = os.fdopen(os.open(os.devnull, os.O_RDONLY), "w", encoding="utf-8")
    if sys.stderr is None:
        sys.stderr = os.fdopen(os.open(os.devnull, os.O_WRONLY), "w", encoding="utf-8")


def _answered(arguments: Sequence[str] | None) -> int:
    words = None if arguments is None else list(arguments)
    try:
        try:
            program.main(args=words, prog_name="optimiser", standalone_mode=False)
            code = 0
        except SystemExit as left:
            code = left.code if isinstance(left.code, int) else EXIT_FAULT
        sys.stdout.flush()
        return code
    except (click.Abort, KeyboardInterrupt):
        INTERRUPTS.say(STOPPED)
        return EXIT_INTERRUPTED
    except Exception as error:  # noqa: BLE001 - nobody but us reads a traceback
        if INTERRUPTS.asked and not isinstance(error, OptimiserError):  # libraries turn an interrupt into their own
            INTERRUPTS.say(STOPPED)
            return EXIT_INTERRUPTED
        return tell(error)


def tell(error: Exception) -> int:
    """Say on standard error what is wrong and how to mend it, or what to report; return the exit code."""
    if isinstance(error, click.ClickException):
        error.show()
        return EXIT_INPUT
    from optimiser.show import wording

    error = unanswered(error) or error
    complain(wording.error(error))
    return error.exit_code if isinstance(error, OptimiserError) else EXIT_FAULT
