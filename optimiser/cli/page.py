"""The verb that serves a job in a browser: page."""

from __future__ import annotations

import sys
from datetime import UTC, datetime

import click

from optimiser.cli.app import job_alone, program, read_moment, today, words_argument
from optimiser.errors import CallError

USUAL_PORT = 8610
MEANING = (
    "--lan: whoever is in this network can reach the page, and whoever types the code can read and write the job."
    " What is sent is not encrypted: use it in a network of your own, and stop it when you are done.\n"
)


@program.command(short_help="The report alive in a browser, on this machine only.")
@words_argument
@click.option("--port", type=click.IntRange(0, 65535), default=USUAL_PORT, show_default=True, metavar="PORT", help="Where it listens; 0: any port that is free.")  # noqa: E501 # fmt: skip
@click.option("--lan", is_flag=True, help="Let phones in this network in, each with a code that is shown here.")
def page(words: tuple[str, ...], port: int, lan: bool) -> None:
    """Serve a page: what is next with a button for each result, suppliers' sheets, what if, the diary.

    It answers on this machine alone, until Ctrl-C, and asks nothing of the internet.
    """
    folder = job_alone(words)
    read_moment(folder)
    try:
        from optimiser.page import live, serving
    except ModuleNotFoundError as missing:
        found = f"The page needs {missing.name}, which is not installed."
        raise CallError(found, "Install it with: pip install 'optimiser[page]'") from None
    if lan:
        sys.stdout.write(MEANING)
    clock = live.PageClock(today, lambda: datetime.now(UTC))
    serving.serve(folder, clock, port, _say, lan=lan)


def _say(line: str) -> None:
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()
