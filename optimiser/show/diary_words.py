"""Happenings in words: as entries of the diary, and as the first answer once they are on disk."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Sequence

from optimiser.calls import call
from optimiser.model import events
from optimiser.model.job import Job
from optimiser.show import cause_words, wording
from optimiser.text import counted, in_shell

FATES = {"stays-on": "stays on", "kept": "kept", "sent-back": "sent back"}


def said(job: Job, what: events.EventHead) -> str:
    """A happening in one line, with its cost and the fate of its pieces."""
    if isinstance(what, events.Strike):
        return f"entry {what.strikes} struck out{_text(what.text)}"
    if isinstance(what, events.Lost):
        return "what stood here could not be read any more when the record was rescued"
    told = cause_words.happening(job, what)
    if isinstance(what, events.NewFault) and not what.back:
        title = wording.plain(what.title or what.fault)
        return f"seen: {title} ({what.severity or 'taken as major'})"
    if isinstance(what, events.CheckMade | events.Fitting) and what.cash_minor:
        told += f", {wording.amount(job, what.cash_minor)}"
    if isinstance(what, events.Fitting):
        told += "".join(_piece(job, piece, cured=what.cured) for piece in what.pieces)
    if isinstance(what, events.Purchase):
        told += _paid(job, what)
    if isinstance(what, events.MoneyBack | events.SentBack) and what.bought is not None:
        told += f" (entry {what.bought})"
    if isinstance(what, events.MoneyBack | events.LeftAsItIs):
        told += _text(what.text)
    if isinstance(what, events.Note | events.Spend) and what.fault is not None:
        told += f" ({cause_words.fault_title(job, what.fault)})"
    return told


def _text(text: str) -> str:
    return f": {wording.plain(text)}" if text else ""


def _piece(job: Job, piece: events.FittedPiece, *, cured: bool) -> str:
    """A piece of a fitting, and its fate where that is news."""
    fate = "" if cured and piece.then == "stays-on" else f" {FATES[piece.then]}"
    source = f" (entry {piece.bought})" if piece.bought is not None else ""
    return f"; {piece.units} x {wording.part(job, piece.part)}{source}{fate}"


def _paid(job: Job, what: events.Purchase) -> str:
    """The items of a purchase's sum, where it is not the goods alone."""
    money = job.currency.text
    parts = [f"postage {money(what.postage_minor)}"] if what.postage_minor else []
    parts += [f"deposits {money(what.deposits_minor)}"] if what.deposits_minor else []
    return f" ({what.condition}; {' and '.join(parts)} in it)" if parts else f" ({what.condition})"


def written(job: Job, entries: Sequence[tuple[int, events.EventHead]]) -> str:
    return "".join(wrapped(f"Written down as entry {number}: {said(job, what)}.") for number, what in entries)


def supposed(job: Job, happenings: Sequence[events.EventHead]) -> str:
    listed = "".join(wrapped(f"Suppose: {said(job, what)}.") for what in happenings)
    return f"{listed}Nothing is written down.\n"


def pot(job: Job, was_minor: int, now_minor: int, *, supposed: bool) -> str:
    """Another whole pot, and how to take it back."""
    was, now = (wording.amount(job, minor) for minor in (was_minor, now_minor))
    if supposed:
        return f"{wrapped(f'Suppose: the pot is {now}, not {was}.')}Nothing is written down.\n"
    back = call("corrected", "pot", job.currency.text(was_minor))
    said = f"The pot is {now} now; it was {was}. All else in job.toml stays as it was. The diary has no entry of it, so undo does not take it back."  # noqa: E501
    return wrapped(said) + f"To take it back: {back}\n"


def struck(job: Job, entry: events.Entry) -> str:
    return wrapped(
        f"Struck out entry {entry.number}: {said(job, entry.happening)}. It stays in the diary and counts no more."
    )


def stands(entries: Sequence[int]) -> str:
    """What is said first where the answer could not be given after something was written down."""
    return f"{cause_words.entries(entries).capitalize()} {'stands' if len(entries) == 1 else 'stand'} as written"


def note(text: str) -> str:
    """What the person should know though nothing is wrong."""
    return wrapped(f"Mind: {wording.plain(text)}")


def wrapped(line: str) -> str:
    """A line as wide as the terminal, with its end; it is printed before anything heavy is loaded to lay it out."""
    width = max(20, shutil.get_terminal_size().columns)
    return textwrap.fill(line, width, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False) + "\n"


def exported(count: int, plans: int, file: str) -> str:
    return f"{counted(count, 'entry', 'entries')} and {counted(plans, 'plan')} are in {wording.plain(file)}.\n"


def imported(count: int, plans: int, file: str) -> str:
    counts = f"{counted(count, 'entry', 'entries')} and {counted(plans, 'plan')}"
    return f"Taken in from {wording.plain(file)}: {counts}.\n"


def rescued(whole: int, lost: Sequence[int], plans: int, file: str) -> str:
    gone = f" {cause_words.entries(lost).capitalize()} cannot be read any more; write it down again." if lost else " None is missing among them."  # noqa: E501 # fmt: skip
    return (
        f"{counted(whole, 'entry is', 'entries are')} whole, and {counted(plans, 'plan')};"
        f" they are in {wording.plain(file)}.{gone}\n"
        "The damaged record was left as it is. Move it out of the folder, then say:"
        f" {call('diary', '--import', in_shell(wording.plain(file)))}\n"
    )


def not_damaged() -> str:
    return "The record is whole: there is nothing to rescue. --export writes it out.\n"
