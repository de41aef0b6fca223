"""The verb that says how the plan moved: moved."""

from __future__ import annotations

from pathlib import Path

import click

from optimiser.calls import call
from optimiser.cli.app import (
    answer,
    csv_option,
    job_and_words,
    json_option,
    keep,
    program,
    progress,
    read_moment,
    write_csv,
)
from optimiser.errors import CallError
from optimiser.text import count


@program.command(short_help="The plan now against an earlier one, and why.")
@click.argument("words", nargs=-1, metavar="[JOB] [NUMBER]")
@click.option("--seconds", default=60.0, type=click.FloatRange(min=0), help="The most time for finding causes; 60 unless you say otherwise.")  # noqa: E501 # fmt: skip
@json_option
@csv_option
def moved(words: tuple[str, ...], seconds: float, as_json: bool, csv_file: Path | None) -> None:
    """The plan now against an earlier one: what moved, what brought it about, and the money.

    NUMBER is that of a kept plan; without it the last one that did not know all that is known now.
    """
    folder, rest = job_and_words(words)
    now = read_moment(folder)
    number = count(rest[0]) if rest else None
    if len(rest) > 1 or (rest and number is None):
        raise CallError("moved takes the number of a kept plan.", f"Say: {call('moved', 'NUMBER')}")
    with progress() as say:
        from optimiser import service  # noqa: PLC0415

        moves = service.moved(now, number, seconds, say)
    from optimiser.show import changes, steps  # noqa: PLC0415

    moves = moves.model_copy(update={"plan": steps.carried_on(moves.plan, now.plans.numbering)})
    write_csv(csv_file, folder, changes.MOVES, changes.rows(moves))
    keep(folder, now, moves.plan)
    answer(as_json, lambda: changes.document(moves), lambda out: changes.show(out, moves))
