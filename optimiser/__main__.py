"""``python -m optimiser``, and the command: until all is loaded an interrupt ends the program without another word."""

# the part in C: the whole module loads others first, and an interrupt meanwhile would show a traceback
import _signal as signal  # type: ignore[import-not-found]
import gc
import os
import sys


def main() -> int:
    """Load the program and run it."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    from optimiser.cli import main as run  # noqa: PLC0415
    from optimiser.errors import EXIT_INTERRUPTED  # noqa: PLC0415

    code = run()
    gc.freeze()  # what is left goes with the process: looking through it once more takes time
    if code == EXIT_INTERRUPTED:
        _leave_at_once(code)
    return code


def _leave_at_once(code: int) -> None:
    """End without taking Python down: a thread that is in the solver then would abort the whole process."""
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except (OSError, ValueError):
            continue
    os._exit(code)


if __name__ == "__main__":
    sys.exit(main())
