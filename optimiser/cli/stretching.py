"""The verb that asks what more or less money would do: stretch."""

from __future__ import annotations

from pathlib import Path

import click

from optimiser import money
from optimiser.cli.app import (
    answer,
    csv_option,
    job_and_words,
    json_option,
    no_more,
    program,
    progress,
    read_moment,
    words_argument,
    write_csv,
)


@program.command(short_help="What more or less money would bring, from nothing to all that can be mended.")
@words_argument
@click.option("--more", "wanted", metavar="AMOUNT", multiple=True, help="Say what so much more would bring; may be said again. Else about 20, 50 and 100, in round figures of the currency.")  # noqa: E501 # fmt: skip
@click.option("--all", "whole", is_flag=True, help="Look for every point, as long as [solve] seconds allows.")
@json_option
@csv_option
def stretch(words: tuple[str, ...], wanted: tuple[str, ...], whole: bool, as_json: bool, csv_file: Path | None) -> None:
    """The plan as a function of the pot: from which money on it does more, and what it does then.

    Every point is proven: with a little less money that much cannot be had. Nothing is written down.
    """
    folder, rest = job_and_words(words)
    no_more(rest)
    now = read_moment(folder)
    job = now.job
    with progress() as say:
        from optimiser import service  # noqa: PLC0415 - the solver is not needed for help or for what is wrong
        from optimiser.model.stretch import MANY  # noqa: PLC0415

        amounts = [money.given(said, job.currency) for said in wanted]
        best = service.plan(job, service.last(now), say)
        known = service.stretch(job, amounts, say, None if whole else MANY, best)
    from optimiser.show import stretch as shown  # noqa: PLC0415

    write_csv(csv_file, folder, shown.STRETCH, shown.rows(known))
    answer(as_json, lambda: shown.document(known), lambda out: shown.show(out, known), paged=True)
