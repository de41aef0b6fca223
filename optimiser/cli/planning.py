"""The verbs that plan: plan, orders, verify."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from optimiser.cli.app import (
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
from optimiser.errors import EXIT_INPUT, InputError

if TYPE_CHECKING:
    from rich.console import Console


@program.command()
@words_argument
@click.option("--why", "why", is_flag=True, help="Say for every fault what each other option would lose.")
@json_option
@csv_option
def plan(words: tuple[str, ...], why: bool, as_json: bool, csv_file: Path | None) -> None:
    """The best mix: what to buy, from whom, what to leave, and why."""
    folder, rest = job_and_words(words)
    no_more(rest)
    with progress() as say:
        from optimiser import service  # noqa: PLC0415 - the solver is not needed for help or for what is wrong

        now = read_moment(folder)
        last = service.last(now)
        best, comparisons = service.why(now.job, last, say) if why else (service.plan(now.job, last, say), ())
    from optimiser.show import steps, tables  # noqa: PLC0415

    best = steps.carried_on(best, now.plans.numbering)
    write_csv(csv_file, folder, tables.PLAN, tables.plan_rows(best))
    keep(folder, now, best)

    def document() -> dict[str, Any]:
        from optimiser.show import as_json as shown  # noqa: PLC0415

        reasons = {"why": [shown.comparison(one) for one in comparisons]} if why else {}
        return shown.plan(best) | reasons

    def show(out: Console) -> None:
        from optimiser.show import terminal  # noqa: PLC0415

        terminal.plan(out, best)
        for one in comparisons:
            out.print()
            terminal.comparison(out, one)

    answer(as_json, document, show)


@program.command()
@words_argument
@json_option
@csv_option
def orders(words: tuple[str, ...], as_json: bool, csv_file: Path | None) -> None:
    """One order for each supplier, to send."""
    folder, rest = job_and_words(words)
    no_more(rest)
    with progress() as say:
        from optimiser import service  # noqa: PLC0415

        now = read_moment(folder)
        best = service.plan(now.job, service.last(now), say)
    from optimiser.show import steps, tables  # noqa: PLC0415

    best = steps.carried_on(best, now.plans.numbering)
    write_csv(csv_file, folder, tables.ORDERS, tables.orders_rows(best))
    keep(folder, now, best)

    def document() -> dict[str, Any]:
        from optimiser.show import as_json as shown  # noqa: PLC0415

        return shown.orders(best)

    def show(out: Console) -> None:
        from optimiser.show import terminal  # noqa: PLC0415

        terminal.orders(out, best)

    answer(as_json, document, show)


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
    from optimiser.show import dangers, terminal, wording  # noqa: PLC0415

    out = terminal.console(sys.stdout)
    dangers.show(out, job)
    out.print(wording.all_well(job, len(said)))
    terminal.notices(out, job, said)
