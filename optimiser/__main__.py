"""``python -m optimiser``, and the command: until all is loaded an interrupt ends the program without another word."""

import signal
import sys


def main() -> int:
    """Load the program and run it."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    from optimiser.cli import main as run  # noqa: PLC0415

    return run()


if __name__ == "__main__":
    sys.exit(main())
