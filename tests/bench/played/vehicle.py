"""A job being worked on: what happened is kept as the record keeps it, and the job stands as the program folds it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta
from decimal import ROUND_HALF_UP, Decimal
from typing import Protocol

from optimiser.diagnosis.group_evidence import cured_for_all
from optimiser.model import events as h
from optimiser.model.job import Fault, Job, Owned, Repair
from optimiser.model.option import Line, Option
from optimiser.model.quotes import Quote
from optimiser.state import stood

SOURCE = "played"


class Answers(Protocol):
    """Whoever knows what is really the matter."""

    def result(self, fault: str, check: str) -> str:
        """What a check shows."""

    def cures(self, fault: str, repair: str, batches: Sequence[str]) -> bool:
        """Whether an attempt with pieces of these batches cures."""

    def works_too(self, fault: str) -> bool:
        """Whether the twins of a fault that was just cured work, too."""


@dataclass(frozen=True)
class Look:
    """Make a check."""

    fault: str
    check: str


@dataclass(frozen=True)
class Buy:
    """Place orders: packs by quote."""

    packs: tuple[tuple[Quote, int], ...]


@dataclass(frozen=True)
class Fit:
    """Try an option whose pieces are all on the shelf, or were bought by its quotes."""

    option: Option


Step = Look | Buy | Fit


@dataclass
class Vehicle:
    """The job as it was at first, and everything that happened since; ``answers`` knows the rest."""

    start: Job
    answers: Answers
    entries: list[h.Entry] = field(default_factory=list)
    days: int = 0
    minutes: int = 0
    left: dict[int, int] = field(default_factory=dict)
    batch: dict[str, str] = field(default_factory=dict)
    opened: set[str] = field(default_factory=set)
    least_minor: int = 0
    _stands: tuple[int, Job] | None = None

    def __post_init__(self) -> None:
        self.batch = {name: name for name in self.start.shelf}
        self.least_minor = self.start.pot.remaining_minor

    @property
    def job(self) -> Job:
        """The job as it stands."""
        if self._stands is None or self._stands[0] != len(self.entries):
            settings = self.start.settings.model_copy(update={"today": self._today})
            standing = stood(self.start.model_copy(update={"settings": settings}), self.entries)
            if standing.job.unfit:
                raise AssertionError(standing.job.unfit)
            self._stands = len(self.entries), standing.job
        return self._stands[1]

    @property
    def spent_minor(self) -> int:
        """What was drawn on the pot, less what came back."""
        return sum(entry.happening.cash_minor for entry in self.entries)

    def do(self, step: Step) -> None:
        """Take a step: the truth answers, and what happened is written down."""
        if isinstance(step, Look):
            self._look(step)
        elif isinstance(step, Buy):
            self._buy(step)
        else:
            self._fit(step.option)
        if self.job.pot.remaining_minor != self.start.pot.remaining_minor - self.spent_minor:
            raise AssertionError("the job as it stands counts other money than was paid")

    def own_minor(self, accesses: Sequence[str]) -> int:
        """What is still to be paid to open these."""
        return sum(access.price_minor for access in self.job.access if access.id in accesses)

    def _look(self, step: Look) -> None:
        fault = self._fault(step.fault)
        check = next(c for c in fault.checks if c.id == step.check)
        cost = check.cost_minor + self.own_minor(check.access)
        self._open(check.access, check.minutes)
        result = self.answers.result(step.fault, step.check)
        self._write(
            h.CheckMade, fault=fault.id, check=check.id, result=result, cost_minor=cost, currency=self._currency
        )

    def _buy(self, step: Buy) -> None:
        """One order to each supplier; all of it arrives, the next day at the earliest, before anything is fitted."""
        job, by_supplier = self.job, {}
        for quote, packs in step.packs:
            by_supplier.setdefault(quote.supplier, []).append((quote, packs))
        for supplier, lines in sorted(by_supplier.items()):
            goods = sum(quote.price_minor * packs for quote, packs in lines)
            terms = job.supplier(supplier)
            if goods < terms.minimum_order_minor:
                raise AssertionError(f"an order of {goods} is below the minimum of {supplier}")
            due = 0 if terms.free_over_minor is not None and goods >= terms.free_over_minor else terms.postage_minor
            self.minutes += terms.trip_minutes
            for quote, packs in lines:
                if quote.stock is not None and packs > quote.stock:
                    raise AssertionError(f"{packs} packs of {quote.id} are more than there are")
                number = self._write(h.Purchase, **self._as_bought(quote, packs, due))
                self.left[number], self.batch[f"bought:{number}"] = packs * quote.pack, quote.id
                due = 0
        self.days += max(1, *(quote.lead_days for quote, _ in step.packs))

    def _as_bought(self, quote: Quote, packs: int, postage_minor: int) -> dict[str, object]:
        made = h.Purchase.of(
            quote, packs, currency=self._currency, at=self._now, source=SOURCE, postage_minor=postage_minor
        )
        return {key: value for key, value in dict(made).items() if key not in {"at", "source", "kind"}}

    def _fit(self, option: Option) -> None:
        repair = self._repair(option)
        price = repair.price_minor + self.own_minor(repair.access)
        taken = [piece for line in option.lines for piece in self._taken(line)]
        batches = [self.batch[piece.quote] for piece in taken]
        cured = self.answers.cures(option.fault, option.repair, batches)
        if not option.by_workshop:
            self._open(repair.access, repair.minutes)
        self.days += repair.lead_days
        pieces = tuple(piece.model_copy(update={"then": self._fate(piece, cured)}) for piece in taken)
        number = self._write(h.Fitting, fault=option.fault, repair=option.repair, pieces=pieces, cured=cured,
                             price_minor=price, currency=self._currency)  # fmt: skip
        for place, (piece, batch) in enumerate(zip(pieces, batches, strict=True), start=1):
            self.batch[f"kept:{number}-{place}"] = batch
            self._money_back(piece)
        if cured:
            self._look_at_twins(option)

    def _look_at_twins(self, option: Option) -> None:
        """After the cure of what twins may share it is seen at once whether they work."""
        mended = next(fault for fault in self.start.faults if fault.id == option.fault)
        if mended.twin is None or not cured_for_all(mended, option.repair):
            return
        works = self.answers.works_too(option.fault)
        for twin in [fault.id for fault in self.job.faults if fault.twin == mended.twin]:
            self._write(h.AfterCure, fault=twin, works=works)

    def _taken(self, line: Line) -> list[h.FittedPiece]:
        """The pieces of a line from the rows that hold them: a row that stands for purchases alike is taken apart."""
        job, units, found = self.job, line.units, []
        for name, row in self._rows_of(line.quote):
            for source, bought, held in self._sources(name, row, job):
                used = min(units, held)
                if used:
                    units -= used
                    found.append(h.FittedPiece(part=row.part, units=used, quote=source, bought=bought, then="kept",
                                               condition=row.condition, good_chance=row.good_chance))  # fmt: skip
        if units:
            raise AssertionError(f"{units} pieces of {line.quote.part} are not on the shelf")
        return found

    def _rows_of(self, quote: Quote) -> list[tuple[str, Owned]]:
        shelf = self.job.shelf
        if quote.supplier is None:
            return [(quote.id, shelf[quote.id])]
        return [(name, row) for name, row in shelf.items() if row.bought and self.batch[name] == quote.id]

    def _sources(self, name: str, row: Owned, job: Job) -> list[tuple[str, int | None, int]]:
        """Pile, purchase and pieces: its own first, then those of purchases alike that are laid together with it."""
        if not name.startswith("bought:"):
            return [(name, row.bought, row.units)]
        others = [n for n, left in self.left.items() if left and n != row.bought and f"bought:{n}" not in job.shelf]
        alike = [n for n in others if self.batch[f"bought:{n}"] in {*row.came_from, self.batch[name]}]
        numbers = [n for n in (row.bought, *alike) if n is not None]
        return [(f"bought:{n}", n, self.left[n]) for n in numbers]

    def _fate(self, piece: h.FittedPiece, cured: bool) -> str:
        """What cured stays; what did not goes back where that brings money, else it is kept."""
        if cured:
            return "stays-on"
        bought = self._purchase(piece)
        return "sent-back" if bought is not None and bought.refund_share > 0 else "kept"

    def _money_back(self, piece: h.FittedPiece) -> None:
        """The deposit once the old unit is out, and the refund of what went back."""
        bought = self._purchase(piece)
        if bought is None:
            return
        self.left[piece.bought] -= piece.units
        back = {"bought": piece.bought, "currency": self._currency}
        if bought.deposit_minor:
            self._write(h.DepositReturned, amount_minor=bought.deposit_minor * piece.units, **back)
        if piece.then == "sent-back":
            goods = Decimal(bought.price_minor * piece.units) / bought.pack
            refund = (Decimal(repr(bought.refund_share)) * goods).to_integral_value(ROUND_HALF_UP)
            self._write(h.Refund, amount_minor=int(refund), **back)

    def _purchase(self, piece: h.FittedPiece) -> h.Purchase | None:
        """The purchase of a piece that was never fitted before."""
        if not piece.quote.startswith("bought:"):
            return None
        found = self.entries[piece.bought - 1].happening
        return found if isinstance(found, h.Purchase) else None

    def _open(self, accesses: Sequence[str], minutes: int) -> None:
        new = [access for access in self.start.access if access.id in accesses and access.id not in self.opened]
        self.opened.update(access.id for access in new)
        self.minutes += minutes + sum(access.minutes for access in new)

    def _write(self, kind: type[h.EventHead], **what: object) -> int:
        number = len(self.entries) + 1
        made = kind.model_validate({"at": self._now, "source": SOURCE, **what})
        self.entries.append(h.Entry(number, made))
        self.least_minor = min(self.least_minor, self.start.pot.remaining_minor - self.spent_minor)
        return number

    def _fault(self, name: str) -> Fault:
        return next(f for f in self.job.faults if f.id == name)

    def _repair(self, option: Option) -> Repair:
        return next(r for r in self._fault(option.fault).repairs if r.id == option.repair)

    @property
    def _today(self):
        return self.start.settings.today + timedelta(days=self.days)

    @property
    def _now(self) -> datetime:
        return datetime.combine(self._today, time(12), UTC)

    @property
    def _currency(self) -> str:
        return self.start.settings.currency
