"""Suppliers' sheets on their way into the job: what is told of them, what was understood, what it changes.

Plain data classes: a sheet may have a hundred thousand rows, and nothing here comes from a file unread.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from optimiser.errors import Problem
from optimiser.model import protection
from optimiser.model.job import Job
from optimiser.model.quotes import CONDITIONS, STILL_TO_BE_ASKED, Condition
from optimiser.money import Currency


class How(StrEnum):
    """How something written was understood."""

    EXACT = "exact"
    ALIAS = "alias"
    SYNONYM = "synonym"
    CLOSE = "close"
    CELLS = "cells"
    TOLD = "told"
    KEPT = "kept"
    OWN = "own"


Key = tuple[str, str, str, int, str]
"""Supplier, part, condition, pack, ref: what a newer quote must share with an older one to take its place."""


PartInState = tuple[str, Condition]
"""A part of the job in a condition."""


@dataclass(frozen=True)
class Told:
    """What a person says of a sheet where it is in doubt.

    ``columns`` names for a heading the column that it is ("ignore": none), ``decimal`` the sign before the decimals,
    ``ex_tax`` the percent to add to prices that do not have the tax in them, ``parts`` and ``suppliers`` the ids that
    the sheet's own names stand for, ``packs`` the pieces that a price under a heading, or of a name, is for. ``words``
    says in the job's words what a cell or a line of theirs means ("ignore": nothing).
    """

    columns: Mapping[str, str] = field(default_factory=dict)
    supplier: str = ""
    condition: Condition | None = None
    decimal: str = ""
    ex_tax: str = ""
    parts: Mapping[str, str] = field(default_factory=dict)
    suppliers: Mapping[str, str] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    packs: Mapping[str, str] = field(default_factory=dict)

    def over(self, kept: Told) -> Told:
        """What is said here and, where nothing is, what was kept from an earlier sheet."""
        return Told(
            columns={**kept.columns, **self.columns},
            supplier=self.supplier or kept.supplier,
            condition=self.condition or kept.condition,
            decimal=self.decimal or kept.decimal,
            ex_tax=self.ex_tax or kept.ex_tax,
            parts={**kept.parts, **self.parts},
            suppliers={**kept.suppliers, **self.suppliers},
            words={**kept.words, **self.words},
            packs={**kept.packs, **self.packs},
        )

    def without(self, said: Told) -> Told:
        """What is here and was not said in ``said``."""
        return Told(
            columns={k: v for k, v in self.columns.items() if k not in said.columns},
            condition=None if said.condition else self.condition,
            decimal="" if said.decimal else self.decimal,
            ex_tax="" if said.ex_tax else self.ex_tax,
            parts={k: v for k, v in self.parts.items() if k not in said.parts},
            suppliers={k: v for k, v in self.suppliers.items() if k not in said.suppliers},
            words={k: v for k, v in self.words.items() if k not in said.words},
            packs={k: v for k, v in self.packs.items() if k not in said.packs},
        )


@dataclass(frozen=True)
class Known:
    """What the job knows: parts and suppliers by id with their titles, its currency, the parts of open faults.

    ``own`` is what the job's own words say of any sheet.
    """

    parts: Mapping[str, str]
    suppliers: Mapping[str, str]
    currency: Currency
    wanted: tuple[str, ...] = ()
    own: Told = field(default_factory=Told)
    usual: Mapping[PartInState, tuple[int, int]] = field(default_factory=dict)
    """What a piece costs by and large, lowest and highest, in minor units: by rough prices and the job's quotes."""
    never: frozenset[PartInState] = frozenset()
    """What no repair of the job takes, for safety hangs on it."""

    @classmethod
    def of(cls, job: Job) -> Known:
        """What this job names: its part rows, the parts of its repairs, those on the shelf and those quoted."""
        wanted = tuple(dict.fromkeys(p for fault in job.faults for repair in fault.repairs for p in repair.parts))
        named = [*wanted, *(owned.part for owned in job.owned), *job.sheets.by_part]
        parts = dict.fromkeys(named, "") | {part.id: part.title for part in job.parts}
        quoted = dict.fromkeys((quote.supplier for quote in job.quotes if quote.supplier), "")
        suppliers = quoted | {supplier.id: supplier.title for supplier in job.suppliers}
        suppliers.pop(STILL_TO_BE_ASKED, None)  # nobody sends a sheet from there
        own = Told(columns=job.words.headings, words={**job.words.cells, **job.words.conditions})
        users = protection.users(job.faults)
        never = frozenset(
            (part.id, condition)
            for part in job.parts
            for condition in CONDITIONS
            if protection.never_bought(part, users.get(part.id, ()), condition)
        )
        return cls(parts, suppliers, job.currency, wanted, own, _usual(job), never)


def _usual(job: Job) -> dict[PartInState, tuple[int, int]]:
    ends = {(part.id, state): list(ends) for part in job.parts for state, ends in part.rough_price.items()}
    for quote in job.quotes:
        if quote.supplier is not None and not quote.rough:
            ends.setdefault((quote.part, quote.condition), []).append(round(quote.price_minor / quote.pack))
    return {key: (min(each), max(each)) for key, each in ends.items()}


@dataclass(frozen=True)
class Heading:
    """A heading of the sheet and the column that it was taken for ("": left out, with the reason in ``why``)."""

    text: str
    place: str
    column: str
    how: How | None
    likeness: float = 100.0
    why: str = ""


@dataclass(frozen=True, slots=True)
class TakenRow:
    """A row understood: the fields of a quote, the place where it stands, and how its price came about.

    None and empty: the sheet does not say. ``working`` is empty where the price was taken as it stands.
    """

    sheet: str
    row: int
    part: str
    supplier: str
    condition: Condition
    price_minor: int
    pack: int = 1
    stock: int | None = None
    good_chance: float | None = None
    deposit_minor: int = 0
    refund_share: float | None = None
    lead_days: int | None = None
    warranty_months: int | None = None
    valid_until: date | None = None
    ref: str = ""
    note: str = ""
    written: str = ""
    working: str = ""

    @property
    def place(self) -> str:
        """Where it stands in the file."""
        return place_of(self.sheet, self.row)

    @property
    def key(self) -> Key:
        """What a newer quote must share to take this one's place."""
        return (self.supplier, self.part, self.condition, self.pack, self.ref)

    @property
    def content(self) -> tuple[object, ...]:
        """Everything that it says, but not where it stands."""
        rest = (self.refund_share, self.lead_days, self.warranty_months, self.valid_until, self.note)
        return (self.key, self.price_minor, self.stock, self.good_chance, self.deposit_minor, *rest)


class Why(StrEnum):
    """The kind of reason for which a row was set aside."""

    TEXT = "text"
    TOTAL = "total"
    NO_PRICE = "no price"
    PRICE = "price"
    TAX = "tax"
    PART = "part"
    CONDITION = "condition"
    SUPPLIER = "supplier"
    SHAPE = "shape"
    FIELD = "field"


@dataclass(frozen=True, slots=True)
class Aside:
    """A row set aside: where, why, and what it says.

    ``named`` is the part that it names and the job does not have; ``part`` the part of the job that it is about, and
    ``about`` the cell for which it cannot be taken; ``asked``: what settles it stands among the doubts already.
    """

    sheet: str
    row: int
    kind: Why
    reason: str
    says: str = ""
    nearest: tuple[str, ...] = ()
    named: str = ""
    part: str = ""
    about: str = ""
    asked: bool = False

    @property
    def place(self) -> str:
        """Where it stands in the file."""
        return place_of(self.sheet, self.row)


@dataclass(frozen=True, slots=True)
class NearNames:
    """The rows with the names that come nearest to a part that is wanted and are no part of the job, best first.

    ``mend`` is what a person types to say that the first of them is that part.
    """

    part: str
    rows: tuple[Aside, ...]
    mend: str


@dataclass(frozen=True)
class Understood:
    """What was understood of one file. It enters the job by ``accept`` alone, and never while there are ``doubts``.

    ``remarks`` say how the file was read, ``cautions`` what to look at, ``doubts`` what only a person can settle;
    ``near`` is worked out only where the names of very many rows are no part of the job.
    """

    file: str
    headings: tuple[Heading, ...] = ()
    rows: tuple[TakenRow, ...] = ()
    aside: tuple[Aside, ...] = ()
    remarks: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    doubts: tuple[Problem, ...] = ()
    more_doubts: int = 0
    told: Told = field(default_factory=Told)
    suppliers: tuple[str, ...] = ()
    near: tuple[NearNames, ...] = ()
    by_file: str = ""
    """The supplier, where nothing but the file's name says whose sheet it is."""
    postage: Mapping[str, int] = field(default_factory=dict)
    """What an order costs, by supplier, where a person said that the sheet says so; in minor units."""
    free_over: Mapping[str, int] = field(default_factory=dict)
    """The goods from which on it costs nothing, likewise."""
    minimum_order: Mapping[str, int] = field(default_factory=dict)
    """The least that an order comes to, likewise."""

    @property
    def strangers(self) -> tuple[Aside, ...]:
        """The rows that name something and are set aside because it is no part of the job."""
        return tuple(row for row in self.aside if row.kind is Why.PART and row.named)


class Happened(StrEnum):
    """What became of a quote."""

    NEW = "new"
    CHANGED = "changed"
    SAME = "same"
    GONE = "gone"


@dataclass(frozen=True, slots=True)
class Change:
    """One quote before and after. ``ended``: the older row got its last day; ``yours``: it stands in your own file."""

    what: Happened
    key: Key
    before_minor: int | None = None
    after_minor: int | None = None
    sheet: str = ""
    ended: bool = False
    yours: bool = False
    rest: tuple[tuple[str, str, str], ...] = ()
    """What else is not as it was: column, before, now."""

    @property
    def percent(self) -> float | None:
        """By how much the price went up (below 0: down), in percent of what it was."""
        if not self.before_minor or self.after_minor is None:
            return None
        return 100 * (self.after_minor - self.before_minor) / self.before_minor


@dataclass(frozen=True)
class Accepted:
    """The clean sheet that was written, as a path within the job, and every change."""

    sheet: str
    rows: int
    changes: tuple[Change, ...]


@dataclass(frozen=True)
class Arrived:
    """One file: what was understood, or None with the ``problems`` for which it cannot be read.

    ``problems`` hold the open doubts too. ``changes`` are what taking it in changes among the quotes of the job, and
    ``sheet`` is the clean sheet within the job once it has been taken in.
    """

    file: str
    understood: Understood | None = None
    problems: tuple[Problem, ...] = ()
    more_problems: int = 0
    changes: tuple[Change, ...] = ()
    sheet: str = ""
    terms: tuple[str, ...] = ()
    """What taking it in changes among the suppliers' terms, a sentence for each supplier."""


@dataclass(frozen=True)
class TakenIn:
    """The clean sheets that one call took in, as paths within the job, and whose they are; whether they stand."""

    sheets: tuple[str, ...]
    suppliers: tuple[str, ...]
    stands: bool


@dataclass(frozen=True)
class TurnedBack:
    """The clean sheets that were taken out again, or ``put_back``; ``stay`` are suppliers of whose sheets something
    else was settled since, which stays. ``still``: they had been accepted before, and are there still.
    """

    sheets: tuple[str, ...]
    put_back: bool
    stay: tuple[str, ...] = ()
    still: bool = False


def place_of(sheet: str, row: int) -> str:
    """A row's place in words."""
    return f"sheet {sheet}, row {row}" if sheet else f"row {row}"
