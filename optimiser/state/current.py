"""The folder and the record folded into one job: what is to be planned now.

Happenings are taken in their order; what none of them names stays as the folder says. A happening that names what the
folder does not hold is kept in the record, listed as unfit, and left out of account, except that its money is gone and
its pieces are used all the same.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from optimiser.diagnosis import groups
from optimiser.model import events
from optimiser.model import evidence as seen
from optimiser.model.job import Access, Job
from optimiser.model.outstanding import Unfit
from optimiser.model.quotes import Supplier
from optimiser.state.faults import Faults
from optimiser.state.inventory import Shelf
from optimiser.state.misfit import MisfitError
from optimiser.state.orders import joined
from optimiser.state.quotes import Sheets
from optimiser.state.shelf_rows import KnownOfPiles, Tried, laid_out

CORRECTED = (events.PriceCorrected, events.WorkPriceCorrected)
"""Prices as they really are: they move no money by themselves."""


@dataclass(frozen=True)
class Standing:
    """The job as it stands: open and cured faults, what was seen, the shelf with what is on order, deposits due,
    quotes and odds as corrected, the money as it is; and what is ``believed`` of each fault.
    """

    job: Job
    believed: Mapping[str, groups.Believed]


def stood(job: Job, record: Sequence[events.Entry]) -> Standing:
    """The job of a folder after everything that its record holds; entries struck out do not count.

    The last entry's time tells which orders are still being written down.
    """
    fold = _Fold(job)
    entries = tuple(events.standing(record))
    for entry in entries:
        fold.take(entry)
    settings = job.settings
    return fold.standing(joined(job.suppliers, entries, settings.currency, settings.today, None))


class _Fold:
    """The job while happenings are worked into it."""

    def __init__(self, job: Job) -> None:
        self.job = job
        self.money_minor = 0
        self.faults = Faults(job)
        self.sheets = Sheets(job.quotes)
        self.shelf = Shelf(job)
        self.unfit: list[tuple[events.Entry, str]] = []
        self.ways: Mapping[type[events.EventHead], Callable[[int, Any], None]] = {
            events.CheckMade: lambda n, made: self.faults.found(made.fault, made.check, made.result, n),
            events.SeenToBe: self._cause,
            events.SeenNotToBe: self._cause,
            events.AfterCure: lambda n, word: self.faults.after_cure(word.fault, works=word.works, number=n),
            events.CameRight: lambda n, word: self.faults.came_right(word.fault, n),
            events.LicensedTest: lambda _, test: self.faults.tested(test.fault),
            events.Purchase: self._purchase,
            events.Fitting: self._fitting,
            events.SentBack: self._sent_back,
            events.Refund: self._refund,
            events.DepositReturned: lambda _, back: self.shelf.purchases.deposit_back(back),
            events.NewFault: lambda _, new: self.faults.appeared(new),
            events.LeftAsItIs: lambda n, left: self.faults.leave(left.fault, n),
            events.PriceCorrected: self._price,
            events.WorkPriceCorrected: self._price,
            events.OddsCorrected: lambda _, odds: self.faults.correct_odds(odds),
        }

    def take(self, entry: events.Entry) -> None:
        """Work one happening in, or note why it does not fit."""
        happening = entry.happening
        if self._foreign(happening):
            own = self.job.settings.currency
            other = getattr(happening, "currency", "")
            self.unfit.append((entry, f"its money is in {other}, not in {own}, and is not counted"))
            if isinstance(happening, (*CORRECTED, events.DepositReturned)):
                return
        else:
            self.money_minor += happening.cash_minor
        way = self.ways.get(type(happening))
        if way is not None:
            try:
                way(entry.number, happening)
            except MisfitError as misfit:
                self.unfit.append((entry, str(misfit)))

    def _foreign(self, happening: events.EventHead) -> bool:
        """Whether it moves money in another currency than the job's."""
        if getattr(happening, "currency", self.job.settings.currency) == self.job.settings.currency:
            return False
        return happening.cash_minor != 0 or isinstance(happening, CORRECTED)

    def standing(self, suppliers: tuple[Supplier, ...]) -> Standing:
        opened, closed = self.faults.parted()
        tried = self.faults.tried()
        pot = self.job.pot
        job = self.job.model_copy(
            update={
                "access": tuple(self._once_paid(row) for row in self.job.access),
                "pot": pot.model_copy(update={"recorded_minor": pot.recorded_minor + self.money_minor}),
                "faults": opened,
                "closed": closed,
                "seen": self.faults.noted,
                "quotes": self.sheets.quotes,
                "suppliers": suppliers,
                "left": dict(self.faults.left),
                "untested": dict(self.faults.untested),
                "unproven": tuple(fault.id for fault in closed if fault.id in self.faults.unproven),
                "tried_on": self._tried_on(tried),
                "on_order": self.shelf.on_order(),
                "deposits_due": self.shelf.purchases.deposits_due(),
                "renewed": self.faults.renewed,
                "unfit": tuple(Unfit(number=e.number, kind=e.happening.kind, reason=why) for e, why in self.unfit),
            }
        )
        believed = groups.standings(job)
        known = KnownOfPiles(self.sheets.quotes_of, lambda pile: self.faults.sound(pile, believed))
        owned = laid_out(tuple(self.shelf.piles.values()), job, tried, known)
        return Standing(job.model_copy(update={"owned": owned}), believed)

    def _once_paid(self, access: Access) -> Access:
        """An access price is paid once for all work that names it; its minutes count again, as covers go back on."""
        return access.model_copy(update={"price_minor": 0}) if access.id in self.faults.opened else access

    def _tried_on(self, tried: Tried) -> dict[str, tuple[str, ...]]:
        """By fault the rows of the shelf and the quotes whose pieces failed there."""
        rows: dict[str, list[str]] = {}
        for pile in self.shelf.piles.values():
            rows.setdefault(pile.origin, []).append(pile.name)
        found = {}
        for fault, origins in tried.items():
            names = [name for origin in origins for name in (*rows.get(origin, ()), *self.sheets.of(origin))]
            found[fault] = tuple(sorted(set(names)))
        return {fault: names for fault, names in found.items() if names}

    def _cause(self, number: int, look: events.SeenToBe | events.SeenNotToBe) -> None:
        kind = seen.ItIs if isinstance(look, events.SeenToBe) else seen.ItIsNot
        self.faults.looked(look.fault, kind(look.cause, number=number))

    def _purchase(self, number: int, purchase: events.Purchase) -> None:
        if self._foreign(purchase):
            purchase = purchase.model_copy(update={"deposit_minor": 0})
        self.shelf.buy(number, purchase, self.sheets.bought(number, purchase))

    def _fitting(self, number: int, fitting: events.Fitting) -> None:
        """Pieces leave the shelf whatever else does not fit; then what the attempt shows."""
        taken = self.shelf.fit(number, fitting)
        for use in taken:
            if use.origin.startswith("fitted:") and use.piece.quote:
                self.sheets.fitted(use.origin, use.piece)
        self.faults.tried_out(fitting, taken, number)
        missing = [use.piece.part for use in taken if use.short]
        if missing:
            raise MisfitError(f"more pieces of {', '.join(dict.fromkeys(missing))} than the shelf held")

    def _sent_back(self, _: int, back: events.SentBack) -> None:
        self.shelf.send_back(back)
        self._for_sale_again(back.bought)

    def _refund(self, _: int, back: events.Refund) -> None:
        if back.bought is not None:
            outcome = self.shelf.purchases.of(back.bought)
            if outcome.purchase.currency == back.currency:
                outcome.refunded_minor += back.amount_minor
                self._for_sale_again(back.bought)

    def _for_sale_again(self, number: int) -> None:
        self.sheets.back(number, self.shelf.purchases.of(number).for_sale_again())

    def _price(self, _: int, price: events.PriceCorrected | events.WorkPriceCorrected) -> None:
        """A sheet, or a job, that came since may know this correction and not the one before it: the later one settles
        both.
        """
        self.unfit = [(entry, why) for entry, why in self.unfit if not _goes_on_from(entry.happening, price)]
        if isinstance(price, events.PriceCorrected):
            self.sheets.correct(price)
        else:
            self.faults.correct_price(price)


def _goes_on_from(earlier: events.Happening, price: events.PriceCorrected | events.WorkPriceCorrected) -> bool:
    """Whether a correction begins with the price that an earlier one of the same quote, or work, ended with."""
    if not isinstance(earlier, CORRECTED) or type(earlier) is not type(price) or earlier.now_minor != price.was_minor:
        return False
    same = ("part", "supplier", "condition", "ref", "fault", "repair", "currency")
    return all(getattr(earlier, key, None) == getattr(price, key, None) for key in same)
