"""The command line: takes the words apart, calls the service, hands the answer to show."""

from __future__ import annotations

import errno
import gc
import sys
from collections.abc import Sequence
from io import TextIOWrapper

import click

from optimiser.cli import basket, comparing, diary, guide, moving, planning, recording, sheets  # noqa: F401 - the verbs put themselves on the program
from optimiser.cli.call import program
from optimiser.errors import EXIT_FAULT, EXIT_INPUT, EXIT_INTERRUPTED, CallError, OptimiserError

__all__ = ["main", "program"]

NOWHERE_TO_WRITE = (errno.ENOSPC, errno.EFBIG, errno.EIO, errno.EBADF)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the program and return its exit code: 0 answered, 2 the call or the input is wrong, 70 a fault of ours."""
    gc.set_threshold(100_000, 50, 100)  # a call's records live to its end: looking through them took a sixth of it
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
