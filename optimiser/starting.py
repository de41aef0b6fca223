"""A part of the service: a new job folder from fault patterns, and one more fault into a job."""

from __future__ import annotations

from codecs import BOM_UTF8
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from optimiser import files, job_folder
from optimiser.calls import call
from optimiser.errors import CallError, OptimiserError, RecordInUseError
from optimiser.model.heard import Heard
from optimiser.model.job import Job, Severity
from optimiser.money import Currency
from optimiser.names import id_for
from optimiser.patterns import Pattern, Wanted, catalogue, fault_text, grave_systems, own_folder, plain_fault_text
from optimiser.patterns import said as heard
from optimiser.state import Moment

SHEETS = {
    "quotes.csv": "part,supplier,condition,price",
    "suppliers.csv": "supplier,title,postage,free_over",
}
"""The sheets of a new job, with the headings that most need; the guide tells the others."""
WAIT_SECONDS = 5.0
"""How long a call waits for another one that adds."""
HEAD = """# The money, the faults and what could mend them; every key is explained by: optimiser guide job
# Rough prices are guesses. Write what shops ask into quotes.csv, or take their sheets in with: optimiser quotes FILE

[job]
title = {title}
currency = "{currency}"

[money]
cap = "{pot}"        # the whole pot, the purchase included
purchase = "{purchase}"

"""
HOURS = """[time]
hours = {hours}

"""


@dataclass(frozen=True)
class NewJob:
    """What a new job says beside its faults; amounts are in minor units, None for hours: as many as it takes."""

    title: str
    currency: Currency
    pot_minor: int
    purchase_minor: int = 0
    hours: float | None = None


@dataclass(frozen=True)
class Plain:
    """A fault that no pattern knows: one way to put it right, with its chance and its price in minor units.

    Where no ``systems`` are named, its own words name them.
    """

    title: str
    severity: Severity
    chance: float
    price_minor: int
    name: str = ""
    by_workshop: bool = False
    minutes: int = 0
    systems: tuple[str, ...] = ()

    @property
    def ids(self) -> tuple[str, ...]:
        """The id of the fault."""
        return (self.name or id_for(self.title),)

    @property
    def by(self) -> str:
        """The id of its pattern: none."""
        return ""

    @property
    def made_light(self) -> bool:
        """Whether it is less grave than its pattern: it has none."""
        return False


@dataclass(frozen=True)
class Way:
    """A way to put a fault of the job right, such as a workshop's price: in minor units, with one's own minutes."""

    title: str
    chance: float
    price_minor: int
    minutes: int = 0
    by_workshop: bool = False

    def row(self, currency: Currency) -> dict[str, Any]:
        """What ``job.toml`` says of it."""
        return {"id": id_for(self.title), "title": self.title, **self.terms(currency)}

    def terms(self, currency: Currency) -> dict[str, Any]:
        """What that says beside its name."""
        terms: dict[str, Any] = {"chance": self.chance, "price": currency.text(self.price_minor)}
        return (
            terms
            | ({"minutes": self.minutes} if self.minutes else {})
            | ({"by": "workshop"} if self.by_workshop else {})
        )


def patterns() -> dict[str, Pattern]:
    """All fault patterns by id, a person's own among them. Raises ``InputError`` for what is wrong with those."""
    return catalogue(own_folder())


def heard_as(words: str, about: str) -> Heard:
    """What words for a fault mean: the pattern that they surely mean, else the likeliest, with the grave systems named.

    ``about`` is what else is known of the job.
    """
    near: tuple[tuple[str, str], ...] = ()
    with suppress(OptimiserError):  # a pattern of the person's own is wrong: beginning with it would say so
        told = heard(words, patterns(), about)
        if told.surely is not None:
            return Heard(told.surely.title, told.severity or Severity(told.surely.severity))
        near = tuple((found.pattern.id, found.pattern.title) for found in told.found)
    return Heard("", gravity_of(words), near)


def gravity_of(words: str) -> Severity | None:
    """Dangerous where the words name a grave system; None: they do not say."""
    return Severity.DANGEROUS if grave_systems(words) else None


def currency_of(folder: Path, today: date) -> Currency:
    """The currency of a job. Raises ``CallError`` and ``InputError`` for the folder."""
    return job_folder.job(folder, today).currency


def about(folder: Path, today: date) -> str:
    """The words that a job is called by, and its faults. Raises as ``currency_of``."""
    return job_folder.job(folder, today).called_by


def begin(folder: Path, said: NewJob, faults: Sequence[Wanted | Plain], today: date) -> tuple[Job, tuple[str, ...]]:
    """A new job folder; the job that is read from it, and the names of the files that were written.

    Raises ``CallError`` where a job is there already, ``InputError`` for faults that do not go together.
    """
    if job_folder.is_taken(folder):
        raise CallError(
            f"There is a {job_folder.JOB_FILE} in {folder} already.",
            f"Add a fault with: {call('add', 'WORDS')}; or name another folder.",
        )
    text = head(said)
    job = job_folder.job(folder, today, written=text)
    for fault in faults:
        text += _text(fault, job) + "\n"
        job = job_folder.job(folder, today, written=text)
    sheets = {name: f"{headings}\n" for name, headings in SHEETS.items() if not (folder / name).exists()}
    texts = {job_folder.JOB_FILE: text, **sheets}
    job_folder.put(folder, {name: written.encode() for name, written in texts.items()})
    return job, tuple(texts)


def add(folder: Path, fault: Wanted | Plain, today: date) -> Job:
    """One more fault at the end of ``job.toml``; nothing that stands there is touched.

    The folder is held meanwhile, so that no other call's fault is lost. Raises ``CallError`` and ``InputError`` for
    the folder, and where the fault does not go with what is there, ``RecordInUseError`` where another call adds.
    """
    with _held(folder):
        return _added(folder, fault, job_folder.job(folder, today), today)


def take_out(folder: Path, added: bytes, today: date) -> None:
    """Take what ``add`` put into ``job.toml`` out again; all else stays as it stands.

    Raises ``CallError`` where it is not there as it was added, ``InputError`` where something else needs it, and as
    ``add`` does.
    """
    with _held(folder):
        before = job_folder.job_bytes(folder)
        if before.count(added) != 1:
            mend = "Take it out of job.toml by hand, or write down that it is left as it is."
            raise CallError("It does not stand in job.toml as it was put in.", mend)
        after = before.replace(added, b"")
        job_folder.job(folder, today, written=after.decode("utf-8-sig"))
        job_folder.put(folder, {job_folder.JOB_FILE: after})


def change_pot(folder: Path, before: Moment, cap_minor: int, today: date, *, supposed: bool = False) -> Moment:
    """The moment with another whole pot, in minor units, once ``job.toml`` says so, or only as if it did.

    All else stays there as it is. Raises as ``add`` does, ``CallError`` where it is the pot already or is not to be
    found there, and ``InputError`` where the job cannot be read with it.
    """
    amount = before.job.currency.text(cap_minor)
    if cap_minor == before.folder.pot.cap_minor:
        raise CallError(f"The pot is {amount} already.", "Nothing is to be corrected.")
    if not supposed:
        with _held(folder):
            _rewrite(folder, lambda text: job_folder.with_cap(text, amount), today)
    return before.with_pot(cap_minor)


def add_way(folder: Path, fault: str, way: Way, today: date) -> Job:
    """One more way to put right a fault, given by its id, behind those that ``job.toml`` has for it.

    All else stays as it is. Raises as ``change_pot`` does, and ``CallError`` where the fault stands in the record alone
    or has such a way already.
    """
    with _held(folder):
        job = job_folder.job(folder, today)
        place = next((n for n, known in enumerate(job.faults) if known.id == fault), None)
        if place is None:
            raise CallError(
                f"{fault} is written down in the diary, and not in job.toml.",
                "Put it there as a fault of its own, or write its ways there by hand.",
            )
        if not id_for(way.title):
            raise CallError(f"{way.title!r} does not say what is done.", "Say it in words, with letters or figures.")
        if id_for(way.title) in {repair.id for repair in job.faults[place].repairs}:
            raise CallError(f"{fault} has a way {id_for(way.title)} already.", "Say in other words what is done.")
        row = way.row(job.currency)
        return _rewrite(folder, lambda text: job_folder.with_repair(text, place, row), today)


def _rewrite(folder: Path, change: Callable[[str], str], today: date) -> Job:
    """Change the text of ``job.toml``, once the job can be read with it."""
    before = job_folder.job_bytes(folder)
    mark = BOM_UTF8 if before.startswith(BOM_UTF8) else b""
    after = change(before.decode("utf-8-sig"))
    job = job_folder.job(folder, today, written=after)
    job_folder.put(folder, {job_folder.JOB_FILE: mark + after.encode()})
    return job


@contextmanager
def _held(folder: Path) -> Iterator[None]:
    """A job folder of which nobody else rewrites ``job.toml`` meanwhile."""
    job_folder.must_be_job_folder(folder)
    try:
        with files.held(folder, WAIT_SECONDS):
            yield
    except files.HeldError:
        found = f"Another program has been adding a fault for {WAIT_SECONDS:g} seconds or longer."
        raise RecordInUseError(job_folder.JOB_FILE, found, "Nothing was written: try again when it is done.") from None


def _added(folder: Path, fault: Wanted | Plain, job: Job, today: date) -> Job:
    taken = {*fault.ids} & {each.id for each in job.faults}
    if taken:
        raise CallError(
            f"The job has a fault {', '.join(sorted(taken))} already.", "Say where this one is (--place), or --as NAME."
        )
    before = job_folder.job_bytes(folder)
    added = "\n" + _text(fault, job)
    newline = "\r\n" if b"\r\n" in before else "\n"
    between = b"" if before.endswith(b"\n") or not before else newline.encode()
    after = before + between + added.replace("\n", newline).encode()
    found = job_folder.job(folder, today, written=after.decode("utf-8-sig"))
    job_folder.put(folder, {job_folder.JOB_FILE: after})
    return found


def head(said: NewJob) -> str:
    """The head of a new ``job.toml``: all but its faults."""
    import tomlkit  # noqa: PLC0415 - only where something is written

    money = said.currency.text
    text = HEAD.format(
        title=tomlkit.item(said.title).as_string(),
        currency=said.currency.code,
        pot=money(said.pot_minor),
        purchase=money(said.purchase_minor),
    )
    return text if said.hours is None else text + HOURS.format(hours=said.hours)


def _text(fault: Wanted | Plain, job: Job) -> str:
    """The fault's rows, without those that the job has already."""
    if isinstance(fault, Plain):
        way = Way(fault.title, fault.chance, fault.price_minor, fault.minutes, fault.by_workshop).terms(job.currency)
        return plain_fault_text(fault.title, fault.severity, way, fault.name, fault.systems, job.called_by)
    # a part without a row of its own has one with no title here, where its id tells something
    there = {"access": {row.id for row in job.access}, "part": {row.id for row in job.parts if row.title}}
    return fault_text(fault, job.currency, there)
