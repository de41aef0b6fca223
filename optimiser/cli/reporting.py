"""The verb that makes papers: report, the card, orders to mail, parts to ask about, and the paper for the sale."""

from __future__ import annotations

from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING

import click

from optimiser.calls import call
from optimiser.cli.app import (
    answer,
    job_alone,
    json_option,
    keep,
    never_the_jobs_own,
    planned,
    program,
    progress,
    read_moment,
    words_argument,
)
from optimiser.cli.planning import USUAL_EVENING
from optimiser.errors import CallError

if TYPE_CHECKING:
    from optimiser.model.report import Report
    from optimiser.state import Moment

PAPER = click.Path(path_type=Path)


@program.command(short_help="The whole story as one HTML file; a card, orders to mail, parts to ask for, the sale.")
@words_argument
@click.option("-o", "html", metavar="FILE.html", type=PAPER, help="The report: one file to look at, print or send.")
@click.option("--card", "is_card", is_flag=True, help="With -o: one page for the garage wall instead.")
@click.option("--minutes", type=click.IntRange(min=0), default=USUAL_EVENING, show_default=True, metavar="MINUTES", help="How long the evening is.")  # noqa: E501 # fmt: skip
@click.option("--orders", "orders", metavar="DIR", type=PAPER, help="A letter and a CSV file for each order.")
@click.option("--wanted", metavar="FILE", type=PAPER, help="The parts to ask shops about; a .csv is a sheet to fill in.")  # noqa: E501 # fmt: skip
@click.option("--sale", metavar="FILE.html", type=PAPER, help="What was found and done, and what was left undone.")
@click.option("--prices", is_flag=True, help="With --sale: say what parts and work cost, too.")
@json_option
def report(
    words: tuple[str, ...],
    html: Path | None,
    is_card: bool,
    minutes: int,
    orders: Path | None,
    wanted: Path | None,
    sale: Path | None,
    prices: bool,
    as_json: bool,
) -> None:
    """Papers of a job, each a file that needs nothing beside it: no network, no script, no other file."""
    folder = job_alone(words)
    _asked_well(html, is_card, (orders, wanted, sale), sale, prices)
    now = read_moment(folder)
    known = None
    if html or orders or wanted:
        known = _planned(folder, now, minutes, with_stretch=html is not None and not is_card)
    made: dict[Path, bytes] = {}
    first: dict[str, str] = {}
    no_letter = False
    from optimiser import service
    from optimiser.show import html as pages
    from optimiser.show import order_letters, papers

    if known is not None and html is not None:
        made[html] = (pages.card if is_card else pages.report)(known).encode()
    if known is not None and orders is not None:
        letters = _letters(known, orders)
        made |= letters
        no_letter = not letters
        texts = [path for path in letters if path.suffix == ".txt"]
        first = dict(zip(map(str, texts), order_letters.before_sending(known.plan), strict=True))
    if known is not None and wanted is not None:
        made[wanted] = _wanted(known, wanted)
    if sale is not None:
        made[sale] = pages.sale(service.sale_paper(now), prices=prices).encode()
    for path in made:
        never_the_jobs_own(path, folder)
    papers.put(made)
    said = (
        now.job,
        None if known is None else known.plan.selection,
        {str(path): len(made[path]) for path in made},
        first,
    )
    answer(
        as_json,
        lambda: papers.document(*said, no_letter=no_letter),
        lambda out: papers.show(out, *said, no_letter=no_letter),
    )


def _asked_well(
    html: Path | None, is_card: bool, others: tuple[Path | None, ...], sale: Path | None, prices: bool
) -> None:
    """Refuse a call that names no file, one file twice, or an option without the one that it belongs to."""
    named = [path.resolve() for path in (html, *others) if path is not None]
    if is_card and html is None:
        raise CallError("--card needs a file.", f"Say: {call('report')} --card -o card.html")
    if prices and sale is None:
        raise CallError("--prices is for the paper of the sale.", f"Say: {call('report')} --sale sale.html --prices")
    if not named:
        raise CallError("A report is a file: say which.", f"Say: {call('report')} -o report.html")
    if len(set(named)) < len(named):
        raise CallError("Two papers cannot be one file.", "Give each a name of its own.")


def _planned(folder: Path, now: Moment, minutes: int, *, with_stretch: bool) -> Report:
    """The plan made and kept as every verb that shows one does, and all that a report tells of it."""
    from optimiser import service
    from optimiser.model.stretch import FEW

    with progress() as say:
        began = monotonic()
        best = planned(now, say)
        took = monotonic() - began
        stretch = service.stretch(now.job, (), say, FEW, best) if with_stretch else None
        known = service.report(now, best, took, minutes, say, stretch)
    keep(folder, now, best)
    return known


def _letters(known: Report, into: Path) -> dict[Path, bytes]:
    from optimiser.show import as_csv, order_letters

    plan, found = known.plan, dict[Path, bytes]()
    for name, order in zip(order_letters.file_names(plan), order_letters.sent(plan), strict=True):
        found[into / f"{name}.txt"] = order_letters.letter(plan, order).encode()
        found[into / f"{name}.csv"] = as_csv.document(order_letters.LETTER, order_letters.rows(plan, order))
    return found


def _wanted(known: Report, file: Path) -> bytes:
    from optimiser.show import as_csv, wanted_words

    job = known.plan.job
    if file.suffix.lower() == ".csv":
        return as_csv.document(wanted_words.WANTED, wanted_words.rows(job, known.wanted))
    return wanted_words.listed(known.plan, known.wanted).encode()
