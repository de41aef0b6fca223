"""The verbs that plan: plan, orders, tonight, stretch, moved, basket; and verify."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from optimiser import money
from optimiser.calls import call
from optimiser.cli import shell
from optimiser.cli.app import (
    JOB_FILE,
    answer,
    csv_option,
    job_alone,
    job_and_words,
    json_option,
    keep,
    planned,
    program,
    progress,
    read_moment,
    today,
    words_argument,
    write_csv,
)
from optimiser.errors import EXIT_INPUT, CallError, InputError, UnknownNameError
from optimiser.text import count

if TYPE_CHECKING:
    from rich.console import Console

    from optimiser.model.plan import Plan
    from optimiser.state import Moment

USUAL_EVENING = 120
"""Minutes of an evening, where nothing is said (common practice, no published source)."""


@program.command()
@click.argument("words", nargs=-1, metavar="[JOB] [FAULT or STEP]", shell_complete=shell.words)
@click.option("--full", is_flag=True, help="Everything: all routes, odds, orders line by line, all cautions in full.")
@click.option("--why", "why", is_flag=True, help="Say for every fault what each other option would lose.")
@json_option
@csv_option
def plan(words: tuple[str, ...], full: bool, why: bool, as_json: bool, csv_file: Path | None) -> None:
    """The best mix in short: what to do first, what to order, what to leave; or one fault in full.

    FAULT is its title, its id, a fragment that begins a word of it alone, or the number of one of its steps.
    """
    folder, rest = job_and_words(words)
    now = read_moment(folder)
    name = " ".join(rest)
    fault = _fault_named(now, name) if name else None
    with progress() as say:
        from optimiser import service

        last = service.last(now)
        best, comparisons = service.why(now.job, last, say, fault) if why else (service.plan(now.job, last, say), ())
    from optimiser.show import as_json as shown
    from optimiser.show import one_fault, short_plan, steps, tables, terminal

    best = steps.carried_on(best, now.plans.numbering)
    if name and fault is None:
        fault = _fault_of_step(best, name)
        comparisons = tuple(one for one in comparisons if one.fault.id == fault)
    write_csv(csv_file, folder, tables.PLAN, tables.plan_rows(best))
    keep(folder, now, best)
    known = None if fault is None else service.fault_in_full(best, fault)

    def document() -> dict[str, Any]:
        reasons = {"why": [shown.comparison(one) for one in comparisons]} if why else {}
        return (shown.plan(best) if known is None else one_fault.document(known)) | reasons

    def show(out: Console) -> None:
        if known is not None:
            one_fault.show(out, known)
        elif full:
            terminal.plan(out, best)
        else:
            short_plan.show(out, best)
        for one in comparisons:
            out.print()
            terminal.comparison(out, one)

    answer(as_json, document, show, paged=full or why or known is not None)


def _fault_named(now: Moment, name: str) -> str | None:
    """The fault that a name or a step number means; None for a number that no kept plan gives to a fault."""
    from optimiser import service
    from optimiser.entries import step_numbers

    known = {fault.id for fault in (*now.job.faults, *now.job.closed)}
    if name.isdecimal() and name not in known:
        name = step_numbers.fault_of(step_numbers.said(name), now.plans)
        if name not in known:
            return None
    try:
        return service.find_fault(now.job, name).id
    except UnknownNameError as unknown:
        raise CallError(f"{name!r} is no fault of this job, and no folder with a {JOB_FILE}.", unknown.mend) from None


def _fault_of_step(best: Plan, number: str) -> str:
    """The one fault that a step of this plan is for."""
    from optimiser.entries import step_numbers
    from optimiser.show import steps

    served = steps.serves(best, step_numbers.said(number))
    if len(served) == 1:
        return served[0]
    if served:
        raise CallError(f"Step {number} is for {len(served)} faults.", f"Name one of them: {', '.join(served)}.")
    raise CallError(f"No fault has a step {number}.", f"Name a fault, or one of the numbers that {call('plan')} shows.")


def _planned(words: tuple[str, ...]) -> tuple[Path, Moment, Plan]:
    """The job that words name, what is known of it, and its plan with the step numbers that were given before."""
    folder = job_alone(words)
    with progress() as say:
        now = read_moment(folder)
        return folder, now, planned(now, say)


@program.command()
@words_argument
@json_option
@csv_option
def orders(words: tuple[str, ...], as_json: bool, csv_file: Path | None) -> None:
    """One order for each supplier, to send."""
    folder, now, best = _planned(words)
    from optimiser.show import as_json as shown
    from optimiser.show import tables, terminal

    write_csv(csv_file, folder, tables.ORDERS, tables.orders_rows(best))
    keep(folder, now, best)
    answer(as_json, lambda: shown.orders(best), lambda out: terminal.orders(out, best))


@program.command(short_help="What to do next, in an evening of so many minutes.")
@words_argument
@click.option("--minutes", type=click.IntRange(min=0), default=USUAL_EVENING, show_default=True, metavar="MINUTES", help="How long the evening is.")  # noqa: E501 # fmt: skip
@json_option
def tonight(words: tuple[str, ...], minutes: int, as_json: bool) -> None:
    """What to do next: looks, work that needs no buying, parts that are here, orders, workshops, and last days."""
    folder, now, best = _planned(words)
    from optimiser import service
    from optimiser.show import tonight as shown

    keep(folder, now, best)
    known = service.tonight(best, minutes)
    answer(as_json, lambda: shown.document(known), lambda out: shown.show(out, known))


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
    folder = job_alone(words)
    now = read_moment(folder)
    job = now.job
    with progress() as say:
        from optimiser import service
        from optimiser.model.stretch import MANY

        amounts = [money.given(said, job.currency) for said in wanted]
        best = service.plan(job, service.last(now), say)
        known = service.stretch(job, amounts, say, None if whole else MANY, best)
    from optimiser.show import stretch as shown

    write_csv(csv_file, folder, shown.STRETCH, shown.rows(known))
    answer(as_json, lambda: shown.document(known), lambda out: shown.show(out, known), paged=True)


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
        from optimiser import service

        moves = service.moved(now, number, seconds, say)
    from optimiser.show import changes, steps

    moves = moves.model_copy(update={"plan": steps.carried_on(moves.plan, now.plans.numbering)})
    write_csv(csv_file, folder, changes.MOVES, changes.rows(moves))
    keep(folder, now, moves.plan)
    answer(as_json, lambda: changes.document(moves), lambda out: changes.show(out, moves))


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
        from optimiser import service

        filled = service.basket(read_moment(folder).job, rest, conditions, say)
    from optimiser.show import purchase_list, purchase_list_words

    for said in purchase_list_words.added_up(filled):
        sys.stderr.write(f"{said}\n")
    write_csv(csv_file, folder, purchase_list.BASKET, purchase_list.rows(filled))
    answer(as_json, lambda: purchase_list.document(filled), lambda out: purchase_list.show(out, filled))


@program.command(short_help="Every problem in the job's files, with the mend.")
@words_argument
@json_option
def verify(words: tuple[str, ...], as_json: bool) -> None:
    """Read everything and list every problem with its place and the mend; plan nothing."""
    folder = job_alone(words)
    from optimiser import service
    from optimiser.show import as_json as shown
    from optimiser.show import terminal

    try:
        job, said = service.verify(folder, today())
    except InputError as wrong:
        if not as_json:
            raise
        sys.stdout.write(shown.text(shown.problems(wrong)))
        raise SystemExit(EXIT_INPUT) from None
    answer(as_json, lambda: shown.verified(job, said), lambda out: terminal.verified(out, job, said))
