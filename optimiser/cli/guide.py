"""The verb that shows the pages of the guide: guide."""

from __future__ import annotations

import sys

import click

from optimiser.cli.app import program
from optimiser.cli.writing import ask


@program.command(short_help="How things are done and written, topic by topic.")
@click.argument("words", nargs=-1, metavar="[TOPIC]")
def guide(words: tuple[str, ...]) -> None:
    """The page of the guide about a topic; without one all topics, one line each."""
    from optimiser import service
    from optimiser.show import guide_shown, layout

    topic = " ".join(words).strip()
    pages, out = service.guide(topic, ask), layout.console(sys.stdout)
    if topic:
        guide_shown.page(out, *pages.values())
    else:
        guide_shown.topics(out, pages)
