"""The verbs that write down what happened: found, bought, fitted, left, refunded, returned, spent, noted, corrected."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from optimiser.cli import shell
from optimiser.cli.app import SEVERITIES, ConditionWord, job_and_words, json_option, program, read_moment, today
from optimiser.cli.interrupts import INTERRUPTS
from optimiser.cli.writing import entry_option, on_disk, show_moves, suppose_option, take, tell

if TYPE_CHECKING:
    from optimiser.state import Moment

COUNT = click.IntRange(min=1, max=10**6)
condition_option = click.option(
    "--condition", type=ConditionWord(), help="Its condition, where more than one is quoted."
)
ref_option = click.option("--ref", metavar="TEXT", help="The supplier's reference, where more than one is quoted.")
fault_option = click.option("--fault", metavar="FAULT", help="The fault that it is about.")


@program.command(short_help="Write down what a check showed, a cause seen, a fault new or back.")
@click.argument("words", nargs=-1, metavar="[JOB] STEP RESULT", shell_complete=shell.words)
@click.option("--cost", metavar="AMOUNT", help="What the check cost, if not what the job says.")
@click.option("--severity", type=SEVERITIES, help="How grave a new fault is.")
@suppose_option
@json_option
def found(words: tuple[str, ...], cost: str | None, severity: str | None, suppose: bool, as_json: bool) -> None:
    """Write down what was found, then say how the plan moves.

    Also: FAULT CHECK RESULT, FAULT is CAUSE, FAULT is-not CAUSE, FAULT is-back, FAULT works (by itself, or after a
    twin was cured), FAULT still (after that), FAULT tested (by somebody licensed, once it is cured), new "what is
    wrong".
    """
    from optimiser import entries, starting
    from optimiser.model.job import Severity

    grave = None if severity is None else Severity(severity)
    said = partial(entries.found, cost=cost, severity=grave, hear=starting.heard_as)
    take(words, said, suppose, as_json)


@program.command(short_help="Write down what was bought: lines of the plan, or a part.")
@click.argument("words", nargs=-1, metavar="[JOB] STEP...", shell_complete=shell.words)
@click.option("--packs", type=COUNT, help="How many packs.")
@click.option("--pack", type=COUNT, help="Pieces in a pack.")
@click.option("--price", metavar="AMOUNT", help="What was paid for a pack.")
@click.option("--postage", metavar="AMOUNT", help="What was paid for postage, all of it.")
@click.option("--deposit", metavar="AMOUNT", help="The exchange deposit for a piece.")
@condition_option
@ref_option
@suppose_option
@json_option
def bought(words: tuple[str, ...], suppose: bool, as_json: bool, **said: Any) -> None:
    """Write down what was bought, then say how the plan moves; what is not said is as the plan and the quote have it.

    Also: SUPPLIER for its whole order in the plan, PART or STEP from SUPPLIER.
    """
    from optimiser import entries

    take(words, partial(entries.bought, deal=entries.Deal(**said)), suppose, as_json)


@program.command(short_help="Write down what was fitted, and whether it cured.")
@click.argument("words", nargs=-1, metavar="[JOB] STEP cured|not-cured", shell_complete=shell.words)
@click.option("--kept", "then", flag_value="kept", help="It did not cure, and the parts are kept.")
@click.option("--sent-back", "then", flag_value="sent-back", help="It did not cure, and the parts go back.")
@click.option("--stays-on", "then", flag_value="stays-on", help="It did not cure, and the parts stay on.")
@click.option("--cost", metavar="AMOUNT", help="What fitting cost beside the parts, if not what the job says.")
@entry_option
@suppose_option
@json_option
def fitted(
    words: tuple[str, ...], then: Any, cost: str | None, entry: int | None, suppose: bool, as_json: bool
) -> None:
    """Write down what was fitted, then say how the plan moves. Also: FAULT REPAIR cured|not-cured."""
    from optimiser import entries

    take(words, partial(entries.fitted, then=then, cost=cost, entry=entry), suppose, as_json)


@program.command(short_help="Write down that a fault is left as it is.")
@click.argument("words", nargs=-1, metavar="[JOB] FAULT", shell_complete=shell.words)
@click.option("--why", "text", metavar="TEXT", default="", help="Why, in a few words.")
@suppose_option
@json_option
def left(words: tuple[str, ...], text: str, suppose: bool, as_json: bool) -> None:
    """Write down that you leave a fault as it is, then say how the plan moves: none works on it any more.

    A dangerous one is named in every answer all the same. `strike` takes it up again.
    """
    from optimiser import entries

    take(words, partial(entries.left, text=text), suppose, as_json)


@program.command(short_help="Write down money that came back.")
@click.argument("words", nargs=-1, metavar="[JOB] [STEP|PART|SUPPLIER] AMOUNT", shell_complete=shell.words)
@click.option("--deposit", is_flag=True, help="It is an exchange deposit that came back.")
@click.option("--why", "text", metavar="TEXT", default="", help="What for, in a few words.")
@entry_option
@suppose_option
@json_option
def refunded(words: tuple[str, ...], deposit: bool, text: str, entry: int | None, suppose: bool, as_json: bool) -> None:
    """Write down money that came back, for a part, from a supplier or from whoever sold the vehicle."""
    from optimiser import entries

    take(words, partial(entries.refunded, deposit=deposit, entry=entry, text=text), suppose, as_json)


@program.command(short_help="Write down parts that went back without being fitted.")
@click.argument("words", nargs=-1, metavar="[JOB] STEP|PART|SUPPLIER", shell_complete=shell.words)
@click.option("--units", type=COUNT, help="How many pieces, if not all.")
@entry_option
@suppose_option
@json_option
def returned(words: tuple[str, ...], units: int | None, entry: int | None, suppose: bool, as_json: bool) -> None:
    """Write down parts that went back without being fitted; the money is `refunded` once it is here."""
    from optimiser import entries

    take(words, partial(entries.returned, units=units, entry=entry), suppose, as_json)


@program.command(short_help="Write down money spent on sundries.")
@click.argument("words", nargs=-1, metavar='[JOB] AMOUNT "WHAT FOR"')
@fault_option
@suppose_option
@json_option
def spent(words: tuple[str, ...], fault: str | None, suppose: bool, as_json: bool) -> None:
    """Write down money spent on what is neither a part nor a fitting, then say how the plan moves."""
    from optimiser import entries

    take(words, partial(entries.spent, fault=fault), suppose, as_json)


@program.command(short_help="Write down a word to remember.")
@click.argument("words", nargs=-1, metavar='[JOB] "TEXT"')
@fault_option
@suppose_option
@json_option
def noted(words: tuple[str, ...], fault: str | None, suppose: bool, as_json: bool) -> None:
    """Write down a word to remember: it moves nothing."""
    from optimiser import entries

    take(words, partial(entries.noted, fault=fault), suppose, as_json, moves=False)


@program.command(short_help="Write down what a price or the odds of a cause really are.")
@click.argument("words", nargs=-1, metavar="[JOB] STEP PRICE", shell_complete=shell.words)
@condition_option
@ref_option
@suppose_option
@json_option
def corrected(words: tuple[str, ...], condition: Any, ref: str | None, suppose: bool, as_json: bool) -> None:
    """Write down what a price or the odds of a cause really are; your files stay as they are.

    Also: PART from SUPPLIER PRICE, FAULT CAUSE ODDS. pot AMOUNT writes another whole pot into job.toml.
    """
    folder, rest = job_and_words(words)
    from optimiser import entries

    if rest and rest[0].lower() == "pot":
        now = read_moment(folder)
        amount = entries.pot(now.job, rest, condition, ref)
        if amount is not None:
            _change_pot(folder, now, amount, suppose, as_json)
            return
    take(words, partial(entries.corrected, condition=condition, ref=ref), suppose, as_json)


def _change_pot(folder: Path, now: Moment, cap_minor: int, suppose: bool, as_json: bool) -> None:
    """Write another whole pot into ``job.toml``, or suppose it, and show how the plan moves."""
    from optimiser import bookkeeping, starting
    from optimiser.show import after_entry, diary_words

    was_minor = now.folder.pot.cap_minor
    with INTERRUPTS.held():
        then = starting.change_pot(folder, now, cap_minor, today(), supposed=suppose)
        tell(diary_words.pot(now.job, was_minor, cap_minor, supposed=suppose), as_json)
    with on_disk("Nothing is written down" if suppose else "The pot stands as written"):
        also = after_entry.pot(now.job, was_minor, cap_minor)
        show_moves(folder, bookkeeping.Written(then, ()), (), as_json, supposed=suppose, also=also)
