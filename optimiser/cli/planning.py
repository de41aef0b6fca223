"""The verbs that plan: plan, orders, tonight; and verify."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from optimiser.calls import call
from optimiser.cli import shell
from optimiser.cli.app import (
    JOB_FILE,
    answer,
    csv_option,
    job_and_words,
    json_option,
    keep,
    no_more,
    program,
    progress,
    read_moment,
    today,
    words_argument,
    write_csv,
)
from optimiser.errors import EXIT_INPUT, CallError, InputError, UnknownNameError

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
        from optimiser import service  # noqa: PLC0415 - the solver is not needed for help or for what is wrong

        last = service.last(now)
        best, comparisons = service.why(now.job, last, say, fault) if why else (service.plan(now.job, last, say), ())
    from optimiser.show import steps, tables  # noqa: PLC0415

    best = steps.carried_on(best, now.plans.numbering)
    if name and fault is None:
        fault = _fault_of_step(best, name)
        comparisons = tuple(one for one in comparisons if one.fault.id == fault)
    write_csv(csv_file, folder, tables.PLAN, tables.plan_rows(best))
    keep(folder, now, best)
    known = None if fault is None else service.fault_in_full(best, fault)

    def document() -> dict[str, Any]:
        from optimiser.show import as_json as shown  # noqa: PLC0415
        from optimiser.show import one_fault  # noqa: PLC0415

        reasons = {"why": [shown.comparison(one) for one in comparisons]} if why else {}
        return (shown.plan(best) if known is None else one_fault.document(known)) | reasons

    def show(out: Console) -> None:
        from optimiser.show import one_fault, short_plan, terminal  # noqa: PLC0415

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
    from optimiser import service  # noqa: PLC0415
    from optimiser.entries import step_numbers  # noqa: PLC0415

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
    from optimiser.entries import step_numbers  # noqa: PLC0415
    from optimiser.show import steps  # noqa: PLC0415

    served = steps.serves(best, step_numbers.said(number))
    if len(served) == 1:
        return served[0]
    if served:
        raise CallError(f"Step {number} is for {len(served)} faults.", f"Name one of them: {', '.join(served)}.")
    raise CallError(f"No fault has a step {number}.", f"Name a fault, or one of the numbers that {call('plan')} shows.")


def _planned(words: tuple[str, ...]) -> tuple[Path, Moment, Plan]:
    """The job that words name, what is known of it, and its plan with the step numbers that were given before."""
    folder, rest = job_and_words(words)
    no_more(rest)
    with progress() as say:
        from optimiser import service  # noqa: PLC0415

        now = read_moment(folder)
        best = service.plan(now.job, service.last(now), say)
    from optimiser.show import steps  # noqa: PLC0415

    return folder, now, steps.carried_on(best, now.plans.numbering)


@program.command()
@words_argument
@json_option
@csv_option
def orders(words: tuple[str, ...], as_json: bool, csv_file: Path | None) -> None:
    """One order for each supplier, to send."""
    folder, now, best = _planned(words)
    from optimiser.show import tables  # noqa: PLC0415

    write_csv(csv_file, folder, tables.ORDERS, tables.orders_rows(best))
    keep(folder, now, best)

    def document() -> dict[str, Any]:
        from optimiser.show import as_json as shown  # noqa: PLC0415

        return shown.orders(best)

    def show(out: Console) -> None:
        from optimiser.show import terminal  # noqa: PLC0415

        terminal.orders(out, best)

    answer(as_json, document, show)


@program.command(short_help="What to do next, in an evening of so many minutes.")
@words_argument
@click.option("--minutes", type=click.IntRange(min=0), default=USUAL_EVENING, show_default=True, metavar="MINUTES", help="How long the evening is.")  # noqa: E501 # fmt: skip
@json_option
def tonight(words: tuple[str, ...], minutes: int, as_json: bool) -> None:
    """What to do next: looks, work that needs no buying, parts that are here, orders, workshops, and last days."""
    folder, now, best = _planned(words)
    from optimiser import service  # noqa: PLC0415
    from optimiser.show import tonight as shown  # noqa: PLC0415

    keep(folder, now, best)
    known = service.tonight(best, minutes)
    answer(as_json, lambda: shown.document(known), lambda out: shown.show(out, known))


@program.command(short_help="Every problem in the job's files, with the mend.")
@words_argument
@json_option
def verify(words: tuple[str, ...], as_json: bool) -> None:
    """Read everything and list every problem with its place and the mend; plan nothing."""
    folder, rest = job_and_words(words)
    no_more(rest)
    from optimiser import service  # noqa: PLC0415
    from optimiser.show import as_json as shown  # noqa: PLC0415

    try:
        job, said = service.verify(folder, today())
    except InputError as wrong:
        if not as_json:
            raise
        sys.stdout.write(shown.text(shown.problems(wrong)))
        raise SystemExit(EXIT_INPUT) from None
    if as_json:
        sys.stdout.write(shown.text(shown.verified(job, said)))
        return
    from optimiser.show import dangers, layout, terminal, wording  # noqa: PLC0415

    out = layout.console(sys.stdout)
    dangers.show(out, job)
    out.print(wording.all_well(job, len(said)))
    terminal.notices(out, job, said)
