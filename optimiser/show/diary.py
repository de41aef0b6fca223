"""The diary: all happenings in order, those struck out too, and the money, on a terminal, as JSON and as a table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from rich.console import Console
from rich.table import Table
from rich.text import Text

from optimiser.model import events
from optimiser.model.job import Job
from optimiser.show import dangers, diary_words, wording
from optimiser.show.tables import Column, Row

FORMAT = 1
NARROW = 64
"""Columns of a terminal below which the hour is left out."""
PAGE = 500
"""Entries that are laid out, and shown, at a time."""
DIARY = (
    Column("number", "count", "the entry's number"),
    Column("at", "date", "when it was written down, ISO 8601, UTC"),
    Column("kind", "word", "what kind of happening it is"),
    Column("said", "text", "what happened"),
    Column("struck_by", "count", "the entry that struck it out; empty where it counts"),
    Column("money", "money", "what it took from the pot; below zero what came back"),
    Column("left", "money", "what is left to plan with after it"),
)


class EntryWithMoney(NamedTuple):
    """An entry with the money: what it moved (0 where it does not count), and what is left of the pot after it."""

    entry: events.Entry
    money_minor: int
    left_minor: int


def written(job: Job, entries: Sequence[events.Entry]) -> Iterator[EntryWithMoney]:
    """The entries with the money. What is in another currency than the job's moves none."""
    left = job.pot.remaining_minor + job.pot.recorded_minor
    for entry in entries:
        own = getattr(entry.happening, "currency", job.settings.currency) == job.settings.currency
        money = entry.happening.cash_minor if entry.stands and own else 0
        left -= money
        yield EntryWithMoney(entry, money, left)


def rows(job: Job, entries: Sequence[events.Entry]) -> Iterator[Row]:
    """One row an entry; columns ``DIARY``."""
    money = job.currency.decimal
    for entry, moved, left in written(job, entries):
        what = entry.happening
        said = diary_words.said(job, what)
        yield (entry.number, what.at.isoformat(), what.kind, said, entry.struck_by, money(moved), money(left))


def document(job: Job, entries: Sequence[events.Entry]) -> dict[str, Any]:
    money = job.currency.text
    return {
        "format": FORMAT,
        "job": {"title": job.settings.title, "currency": job.settings.currency},
        "entries": [
            {
                "number": entry.number,
                "at": entry.happening.at.isoformat(),
                "kind": entry.happening.kind,
                "said": diary_words.said(job, entry.happening),
                "struck_by": entry.struck_by,
                "counts": entry.stands,
                "money": money(moved),
                "left": money(left),
                "happening": fields(job, entry.happening),
            }
            for entry, moved, left in written(job, entries)
        ],
        "money": _sums(job),
        **dangers.document(job),
    }


def fields(job: Job, what: events.EventHead) -> dict[str, Any]:
    """What a happening holds, money as decimal strings of the job's currency."""
    held = what.model_dump(mode="json")
    return {
        name.removesuffix("_minor"): job.currency.text(value) if name.endswith("_minor") else value
        for name, value in held.items()
    }


def _sums(job: Job) -> dict[str, str]:
    money, pot = job.currency.text, job.pot
    return {
        "cap": money(pot.cap_minor),
        "before": money(pot.purchase_minor + pot.spent_minor),
        "recorded": money(pot.recorded_minor),
        "hold_back": money(pot.hold_back_minor),
        "remaining": money(pot.remaining_minor),
    }


def show(out: Console, job: Job, entries: Sequence[events.Entry]) -> None:
    """The diary on a terminal; times are those of the clock where the person is."""
    dangers.show(out, job)
    if not entries:
        out.print(Text(f"{wording.title(job)}: nothing is written down yet."))
        return
    out.print(Text(f"{wording.title(job)}: what happened", style="heading"))
    all_of_it = list(written(job, entries))
    for start in range(0, len(all_of_it), PAGE):
        out.print(_page(out, job, all_of_it[start : start + PAGE], among_others=len(all_of_it) > PAGE))
    out.print(Text(summed(job)))


def _page(out: Console, job: Job, entries: Sequence[EntryWithMoney], *, among_others: bool) -> Table:
    """So many entries as can be laid out while somebody waits; of several pages all are as wide as the screen."""
    table = Table(box=None, show_edge=False, pad_edge=False, padding=(0, 1), expand=among_others)
    table.add_column("#", justify="right", no_wrap=True)
    table.add_column("When", no_wrap=True)
    table.add_column("What", overflow="fold", ratio=1 if among_others else None)
    table.add_column("Money", justify="right", no_wrap=True)
    table.add_column("Left", justify="right", no_wrap=True)
    for entry, moved, left in entries:
        table.add_row(
            str(entry.number),
            f"{entry.happening.at.astimezone():{'%d %b %H:%M' if out.width >= NARROW else '%d %b'}}",
            _said(job, entry),
            job.currency.text(-moved) if moved else "",
            job.currency.text(left) if moved else "",
        )
    return table


def _said(job: Job, entry: events.Entry) -> Text:
    said = diary_words.said(job, entry.happening)
    if entry.struck_by is None:
        return Text(said)
    return Text(f"STRUCK OUT by {entry.struck_by}: ").append(said, style="struck")


def summed(job: Job) -> str:
    money, pot = job.currency.text, job.pot
    before = money(pot.purchase_minor + pot.spent_minor)
    return (
        f"The pot {money(pot.cap_minor)}, less {before} before the diary, less {money(pot.recorded_minor)} in it,"
        f" less {money(pot.hold_back_minor)} held back: {wording.amount(job, pot.remaining_minor)} left to plan with."
    )
