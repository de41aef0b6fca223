"""The verb that fills a fixed list of parts: basket."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from optimiser.cli.app import answer, csv_option, job_and_words, json_option, program, progress, read_moment, write_csv


@program.command(short_help="The cheapest suppliers for a fixed list of parts.")
@click.argument("words", nargs=-1, metavar="[JOB] PART=2 PART=1 ...")
@click.option("--condition", "conditions", multiple=True, metavar="WORDS", help="Only parts in these conditions: new, refurbished, salvage, with commas between; may be said again.")  # noqa: E501 # fmt: skip
@json_option
@csv_option
def basket(words: tuple[str, ...], conditions: tuple[str, ...], as_json: bool, csv_file: Path | None) -> None:
    """The cheapest suppliers for a fixed list of parts, beside one shop for all and each part where it is cheapest.

    PART is a part's id or, in quotation marks, its title: "Cutter disc=2"; the number says how many pieces. Whole
    packs, stock, postage, minimum orders and deposits count as in a plan.
    """
    folder, rest = job_and_words(words)
    with progress() as say:
        from optimiser import service  # noqa: PLC0415

        filled = service.basket(read_moment(folder).job, rest, conditions, say)
    from optimiser.show import purchase_list, purchase_list_words  # noqa: PLC0415

    for said in purchase_list_words.added_up(filled):
        sys.stderr.write(f"{said}\n")
    write_csv(csv_file, folder, purchase_list.BASKET, purchase_list.rows(filled))
    answer(as_json, lambda: purchase_list.document(filled), lambda out: purchase_list.show(out, filled))
