"""Quotes side by side, part by part: the cost of each alone, within the plan and until one works, and the winners."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import lru_cache
from typing import Any, NamedTuple

from optimiser import names
from optimiser.errors import CallError
from optimiser.model.job import Job
from optimiser.model.option import Bar, NotOffered
from optimiser.model.plan import Plan
from optimiser.model.quote_comparison import (
    Again,
    Landed,
    Matrix,
    MatrixRow,
    Merit,
    Quoted,
    QuotesCompared,
    QuotesOfPart,
)
from optimiser.model.quotes import Quote, Supplier
from optimiser.orders import refund
from optimiser.planning import options
from optimiser.planning.landed_cost import Shop

LEAST_CHANCE = 1e-6
"""Below it a part is as good as never sound, and no money is enough."""
Progress = Callable[[str], None]


def named(job: Job, name: str, *, part_only: bool = False) -> tuple[str | None, str | None]:
    """The fault and the part that a name means, each None where it means none: both only where it means both as surely.

    Raises ``CallError`` with those that it may mean where it means neither, or has both as a fragment.
    """
    faults = {fault.id: fault.title for fault in (*job.faults, *job.closed)}
    parts = job.titles_of_parts
    of_fault, of_part = names.meant(name, faults), names.meant(name, parts)
    if part_only and of_fault.name is not None:  # it is no part, and may be offered all the same
        of_fault = names.Meant(None, names.Nearness.NOT, (of_fault.name,))
    surest = min(of_fault.how, of_part.how)
    fault, part = (found.name if found.how == surest else None for found in (of_fault, of_part))
    either, several = [*of_fault.offered, *of_part.offered], [*of_fault.several, *of_part.several]
    if fault is not None and part is not None and surest == names.Nearness.FRAGMENT:
        several, fault, part = [fault, part], None, None
    if fault is None and part is None:
        mend = names.mend(list(dict.fromkeys(either)), dict.fromkeys((*faults, *parts)))
        nothing = f"the job has no {'' if part_only else 'fault and no '}part {name!r}."
        raise CallError(*names.unclear(name, several, nothing, mend))
    return fault, part


def compared(
    job: Job, plan: Plan | None = None, part: str | None = None, progress: Progress = lambda _: None
) -> QuotesCompared:
    """All quotes of every part that is quoted or needed, or of one part, held against a plan if one is given."""
    market = _Market(job, plan)
    names = [part] if part is not None else market.names
    found = []
    for done, name in enumerate(names):
        if done % 50 == 0:
            progress(f"part {done + 1} of {len(names)}")
        found.append(market.side_by_side(name))
    return QuotesCompared(job=job, plan=plan, parts=tuple(found))


def matrix(job: Job) -> Matrix:
    """The lowest price each of every part and condition, supplier by supplier; what is barred is not in it."""
    cells: dict[tuple[str, str], dict[str, Quote]] = defaultdict(dict)
    for quote in options.on_offer(job)[0]:
        row, supplier = cells[quote.part, quote.condition], quote.supplier or ""
        if supplier not in row or quote.each < row[supplier].each:
            row[supplier] = quote
    rows = tuple(MatrixRow(part=part, condition=kind, cells=cells[part, kind]) for part, kind in sorted(cells))
    return Matrix(job=job, suppliers=tuple(sorted({s for row in rows for s in row.cells})), rows=rows)


@dataclass(frozen=True)
class _OrderWithout:
    """A supplier's order as the plan places it, without one of the parts: goods, packs by quote, its total."""

    goods_minor: int = 0
    packs: Mapping[str, int] = field(default_factory=dict)
    total_minor: int = 0


NO_ORDER = _OrderWithout()
NOTHING: frozenset[Merit] = frozenset()


class _Figures(NamedTuple):
    """A quote with its figures, None where there are none."""

    quote: Quote
    barred: NotOffered | None
    alone: Landed | None = None
    in_plan: Landed | None = None
    until_sound: Again | None = None


class _Market:
    """Everything that bears on the cost of a quote, looked up once."""

    def __init__(self, job: Job, plan: Plan | None) -> None:
        self.job, self.plan = job, plan
        offered, barred = options.on_offer(job)
        self.barred = {one.id: one for one in barred if not one.faults}
        self.sets = {part.id: part.renew_in for part in job.parts}
        self.terms = {supplier.id: supplier for supplier in job.suppliers}
        by_supplier: dict[str, list[Quote]] = defaultdict(list)
        for quote in offered:
            by_supplier[quote.supplier or ""].append(quote)
        self.shops = {s: Shop(self._terms(s), by_supplier[s]) for s in {q.supplier or "" for q in job.quotes}}
        self.quotes = job.sheets.by_part
        self.users: dict[str, dict[str, int]] = defaultdict(dict)
        self.faults: dict[str, set[str]] = defaultdict(set)
        for fault in job.faults:
            for repair in fault.repairs:
                for part, units in repair.parts.items():
                    self.users[part][f"{fault.id}/{repair.id}"] = self._whole_sets(part, units)
                    self.faults[part].add(fault.id)
        self.rests: dict[tuple[str, str], _OrderWithout] = {}

    @property
    def names(self) -> list[str]:
        """Parts that are needed or quoted, those that no open fault needs last."""
        return sorted({*self.users, *self.quotes}, key=lambda part: (part not in self.users, part))

    def side_by_side(self, part: str) -> QuotesOfPart:
        """Every quote of the part with its figures and the columns that it wins."""
        users = self.users.get(part, {})
        units = max(users.values(), default=self.sets.get(part, 1))
        figures = [self._figures(quote, units) for quote in self.quotes.get(part, ())]
        wins = _wins(figures)
        rows = [
            Quoted(
                quote=f.quote,
                terms=self.shops[f.quote.supplier or ""].terms,
                barred=f.barred,
                alone=f.alone,
                in_plan=f.in_plan,
                until_sound=f.until_sound,
                planned=self.plan is not None and f.quote.id in self.plan.selection.packs,
                wins=wins.get(f.quote.id, NOTHING),
            )
            for f in sorted(figures, key=_cheapest_first)
        ]
        owned = sum(piece.units for piece in self.job.owned if piece.part == part)
        return QuotesOfPart(part=part, units=units, repairs=tuple(users), on_shelf=owned, rows=tuple(rows))

    def _figures(self, quote: Quote, units: int) -> _Figures:
        barred = self._bar(quote, units)
        if barred is not None:
            return _Figures(quote, barred)
        shop = self.shops[quote.supplier or ""]
        alone = _landed(shop, quote, units, NO_ORDER)
        in_plan = None if self.plan is None else _landed(shop, quote, units, self._rest(shop, quote.part))
        tries = None if alone is None else _until_sound(quote, shop.terms, alone)
        return _Figures(quote, None, alone, in_plan, tries)

    def _bar(self, quote: Quote, units: int) -> NotOffered | None:
        """Why the quote cannot cover the need: the rules of the plan, too few pieces, or tried everywhere."""
        if quote.id in self.barred:
            return self.barred[quote.id]
        bar: Bar | None = None
        if quote.stock is not None and quote.stock * quote.pack < units:
            bar = Bar.TOO_FEW
        faults = self.faults.get(quote.part, ())
        if faults and all(quote.id in self.job.tried_on.get(fault, ()) for fault in faults):
            bar = Bar.TRIED
        return None if bar is None else NotOffered(kind="quote", id=quote.id, bar=bar, detail=quote.part)

    def _rest(self, shop: Shop, part: str) -> _OrderWithout:
        """The plan's order to the shop without its lines of the part and without its top-ups."""
        key = shop.terms.id, part
        if key not in self.rests:
            self.rests[key] = self._reckoned_rest(shop, part)
        return self.rests[key]

    def _reckoned_rest(self, shop: Shop, part: str) -> _OrderWithout:
        orders = () if self.plan is None else self.plan.orders
        lines = (line for order in orders if order.supplier.id == shop.terms.id for line in order.lines)
        used = [line for line in lines if line.fitted and line.quote.part != part]
        if not used:
            return NO_ORDER
        packs = {line.quote.id: line.quote.packs_for(line.fitted) for line in used}
        goods = sum(packs[line.quote.id] * line.quote.price_minor for line in used)
        order = shop.order(goods, packs)
        # where it cannot be made it cannot be with the part either, which is there to top it up: the sum is never used
        return _OrderWithout(goods, packs, 0 if order is None else order.total_minor)

    def _terms(self, supplier: str) -> Supplier:
        return self.terms.get(supplier) or Supplier(id=supplier)

    def _whole_sets(self, part: str, units: int) -> int:
        in_set = self.sets.get(part, 1)
        return -(-units // in_set) * in_set


def _landed(shop: Shop, quote: Quote, units: int, rest: _OrderWithout) -> Landed | None:
    """The price of adding these pieces to an order that holds the rest; None where the order cannot be made."""
    packs = quote.packs_for(units)
    goods = packs * quote.price_minor
    order = shop.order(rest.goods_minor + goods, {**rest.packs, quote.id: packs})
    if order is None:
        return None
    return Landed(
        packs=packs,
        goods_minor=goods,
        top_up_minor=order.top_up_minor,
        postage_minor=order.postage_minor,
        order_minor=order.total_minor,
        before_minor=rest.total_minor,
        lost_minor=(packs * quote.pack - units) * quote.deposit_minor,
    )


def _until_sound(quote: Quote, terms: Supplier, alone: Landed) -> Again | None:
    """What all tries together are expected to take, as if more could be had for ever: a geometric number of them.

    Each try is sound with the same chance g, whatever came before, so (1 - g)/g of them fail on the average (the mean
    of the geometric distribution: Feller, An Introduction to Probability Theory and Its Applications I, 1968, XI.2).
    Each failure takes one more order less what is given back, or under warranty the postage of a free replacement,
    whichever is less (common practice, no published source). Where the stock is enough for one try only nothing is
    there to replace it with, and it is reckoned as if another like it were bought, and marked. None where it is as good
    as never sound.
    """
    if quote.good_chance < LEAST_CHANCE:
        return None
    one_try = quote.good_chance < 1 and quote.stock is not None and quote.stock < 2 * alone.packs
    back = refund(quote, alone.goods_minor)
    bought_again = alone.total_minor - back
    replaced = not one_try and bool(quote.warranty_months) and terms.postage_minor < bought_again
    again = terms.postage_minor if replaced else bought_again
    failed, out_of = failures(quote.good_chance).as_integer_ratio()
    expected = (2 * (alone.total_minor * out_of + again * failed) + out_of) // (2 * out_of)
    return Again(expected, again, 0 if replaced else back, replaced=replaced, one_try=one_try)


@lru_cache(maxsize=4096)
def failures(good_chance: float) -> Fraction:
    """How many tries fail on the average before one is sound, exactly for the chance as it is written."""
    good = Fraction(repr(good_chance))
    return (1 - good) / good


def _wins(figures: Iterable[_Figures]) -> dict[str, frozenset[Merit]]:
    """By quote what it is the best at, of those that may be bought; those that tie all win."""
    won: dict[str, set[Merit]] = defaultdict(set)
    running = [each for each in figures if each.barred is None and (each.alone or each.in_plan)]
    for merit, measure in MEASURES.items():
        measured = [(each.quote.id, value) for each in running if (value := measure(each)) is not None]
        best = min((value for _, value in measured), default=None)
        for name, value in measured:
            if value == best:
                won[name].add(merit)
    return {name: frozenset(merits) for name, merits in won.items()}


MEASURES: Mapping[Merit, Callable[[_Figures], Any]] = {
    Merit.EACH: lambda each: each.quote.each,
    Merit.ALONE: lambda each: each.alone and each.alone.total_minor,
    Merit.IN_PLAN: lambda each: each.in_plan and each.in_plan.total_minor,
    Merit.UNTIL_SOUND: lambda each: each.until_sound and each.until_sound.expected_minor,
    Merit.SOONEST: lambda each: each.quote.lead_days,
    Merit.WARRANTY: lambda each: -each.quote.warranty_months if each.quote.warranty_months else None,
}
"""The least wins; None takes no part."""


def _cheapest_first(each: _Figures) -> tuple[Any, ...]:
    """Quotes that may be bought, by landed cost alone and then price each; the others after them."""
    alone = 0 if each.alone is None else each.alone.total_minor
    return (each.barred is not None, each.alone is None, alone, each.quote.each, each.quote.content, each.quote.line)
