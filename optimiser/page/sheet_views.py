"""A supplier's sheet as it was understood, as plain data for the templates."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from optimiser.model.imports import Arrived, TakenIn, TurnedBack
from optimiser.model.job import Job
from optimiser.quote_import import telling
from optimiser.show import import_words
from optimiser.show.html import marks
from optimiser.show.wording import plain

MOST_ROWS, MOST_LISTED = 200, 100
NO_NAME = "THEIR-NAME"
"""What stands in a printed option for a name that only a person knows."""
WHOSE = "write above whose it is"


@dataclass(frozen=True)
class QuoteLine:
    row: str
    what: str
    figures: str
    price: str


@dataclass(frozen=True)
class HeadingLine:
    """A heading of theirs, what it was taken for, and why."""

    text: str
    column: str
    because: str


@dataclass(frozen=True)
class Doubt:
    """Something that only a person can settle, and the ways that are offered, each with its words.

    ``place`` counts them from 0; ``named`` is what of theirs may be a part; ``is_open``: it can be settled here.
    """

    place: int
    where: str
    found: str
    expected: str
    mend: str
    ways: tuple[tuple[str, str], ...]
    named: str
    is_open: bool

    @property
    def wants_rate(self) -> bool:
        """Whether a tax is to be added of which only a person knows the rate."""
        return "--ex-tax" in self.mend


@dataclass(frozen=True)
class SheetShown:
    file: str
    headline: str
    remarks: tuple[str, ...]
    headings: tuple[HeadingLine, ...]
    rows: tuple[QuoteLine, ...]
    more: int
    aside: tuple[str, ...]
    cautions: tuple[str, ...]
    changes: tuple[str, ...]


@dataclass(frozen=True)
class TakenInShown:
    """An acceptance: what it is called, whose it is, whether it stands or was taken out, and the sheet to name."""

    said: str
    whose: str
    stands: bool
    sheet: str


def taken_in(known: Iterable[TakenIn]) -> tuple[TakenInShown, ...]:
    """What was accepted, the latest first."""
    return tuple(
        TakenInShown(_listed(each.sheets), _listed(each.suppliers), each.stands, each.sheets[0]) for each in known
    )


@dataclass(frozen=True)
class JustTurned:
    """Sheets that were just taken in, or ``out``; ``undo`` is the one to name to undo it, empty where it cannot be."""

    heading: str
    said: tuple[str, ...]
    undo: str
    out: bool


def just_turned(known: Sequence[TakenIn], sheets: tuple[str, ...], stay: tuple[str, ...], *, out: bool) -> JustTurned:
    can_be = any(each.stands is not out and sheets[0] in each.sheets for each in known)
    still = len(standing(known, sheets)) == len(sheets)
    said = import_words.turned_lines(TurnedBack(sheets, False, stay, still)) if out else [f"{_listed(sheets)}."]
    return JustTurned("Taken out" if out else "Taken in", _few(said), sheets[0] if can_be else "", out)


def standing(known: Iterable[TakenIn], sheets: tuple[str, ...]) -> tuple[str, ...]:
    """Those of these sheets that were taken in and not taken out again."""
    there = {sheet for each in known if each.stands for sheet in each.sheets}
    return tuple(sheet for sheet in sheets if sheet in there)


def _listed(names: Sequence[str]) -> str:
    return _cut(", ".join(map(plain, names)))


def sheets(job: Job, arrived: Sequence[Arrived], today: date) -> tuple[SheetShown, ...]:
    """Every file of a batch."""
    return tuple(_sheet(job, each, today) for each in arrived)


def _sheet(job: Job, each: Arrived, today: date) -> SheetShown:
    read = each.understood
    rows = () if read is None else read.rows
    return SheetShown(
        file=each.file,
        headline=import_words.headline(each),
        remarks=() if read is None else _few(map(plain, read.remarks)),
        headings=() if read is None else tuple(
            HeadingLine(marks.short(plain(one.text)), import_words.taken_for(one), import_words.how(one))
            for one in read.headings[:MOST_LISTED]
        ),
        rows=tuple(
            QuoteLine(
                str(row.row), _cut(import_words.quote(row)), _cut(import_words.figures(job, row, today)),
                job.currency.text(row.price_minor),
            )
            for row in rows[:MOST_ROWS]
        ),
        more=max(0, len(rows) - MOST_ROWS),
        aside=() if read is None else _few(map(import_words.aside, read.aside)),
        cautions=_few(line.replace(f"say --supplier {NO_NAME}", WHOSE) for line in import_words.cautions(each, today)),
        changes=_few(import_words.changes(job, each)),
    )  # fmt: skip


def doubts(job: Job, arrived: Sequence[Arrived]) -> tuple[Doubt, ...]:
    """Everything that stands in the way of taking the sheets in."""
    problems = [(problem, each.understood is not None) for each in arrived for problem in each.problems]
    return tuple(
        Doubt(
            place=place,
            where=_cut(plain(", ".join(filter(None, (one.file, one.where, one.key))))),
            found=_cut(plain(one.found)),
            expected=_cut(plain(one.expected)),
            mend=_cut(plain(one.mend)),
            ways=tuple(
                (way, _cut(import_words.way(job, telling.meant(way))))
                for way in telling.ways(one)
                if NO_NAME not in way  # whose sheet it is has a field of its own
            ),
            named=next((name for way in telling.ways(one) for name in telling.meant(way).parts), ""),
            is_open=is_read,
        )
        for place, (one, is_read) in enumerate(problems)
    )


def settled(job: Job, told: Sequence[str]) -> str:
    return import_words.way(job, telling.told_by(told))


def strangers(arrived: Sequence[Arrived], asked: Sequence[Doubt]) -> tuple[str, ...]:
    """Names of theirs that are no part of the job and that nothing is ``asked`` about, each once."""
    every = (row.named for each in arrived if each.understood is not None for row in each.understood.strangers)
    settled = {one.named for one in asked}
    return tuple(dict.fromkeys(name for name in every if name not in settled))[:MOST_LISTED]


def _few(every: Iterable[str]) -> tuple[str, ...]:
    found = [_cut(line) for line in every]
    more = len(found) - MOST_LISTED
    return (*found[:MOST_LISTED], *([f"and {more} more"] if more > 0 else ()))


def _cut(text: str) -> str:
    return marks.short(text, marks.MOST_OF_A_NAME)
