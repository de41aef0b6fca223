"""What the routes of several faults share, which the mix counts once: orders, access, minimums, scarce quotes."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from optimiser.diagnosis.payments import Payments
from optimiser.model.job import Access, Check, Job
from optimiser.model.option import Line, Option
from optimiser.model.quotes import Quote, Supplier


class Share(NamedTuple):
    """Something that the mix counts once: an order to a supplier, an access, a supplier's minimum, a scarce quote.

    Of a scarce quote ``packs`` says the how-manieth pack it is, of one bought ahead the how-manieth piece.
    """

    kind: str
    name: str
    packs: int = 0


ORDER, PRICE, OWN_ACCESS, MINIMUM, STOCK, AHEAD = "order", "access", "own-access", "minimum", "stock", "ahead"


class Marks:
    """Shares as bits, given out as they are first asked for."""

    def __init__(self, shares: Iterable[Share] = ()) -> None:
        self._bits: dict[Share, int] = {share: bit for bit, share in enumerate(shares)}

    @property
    def in_turn(self) -> list[Share]:
        """All shares by their bits."""
        return list(self._bits)

    def of(self, shares: Iterable[Share]) -> int:
        """These shares as one number."""
        marks = 0
        for share in shares:
            marks |= 1 << self._bits.setdefault(share, len(self._bits))
        return marks

    def named(self, marks: int) -> frozenset[Share]:
        """The shares that a number stands for."""
        return frozenset(share for share, bit in self._bits.items() if marks >> bit & 1)

    def of_kind(self, kind: str) -> int:
        """The bits of all shares of one kind."""
        return sum(1 << bit for share, bit in self._bits.items() if share.kind == kind)

    @property
    def bought_ahead(self) -> int:
        """The bits that say that a quote is bought ahead, one each."""
        return sum(1 << bit for share, bit in self._bits.items() if share.kind == AHEAD and not share.packs)

    def __len__(self) -> int:
        return len(self._bits)


@dataclass(frozen=True)
class Scene:
    """What the routes of all faults have in common.

    ``scarce`` are quotes of which there is too little for all that want them: of these every route says what it takes.
    ``timed`` says whether the owner's hours limit the routes. ``lines`` are all that may be ordered, by fault, supplier
    and quote.
    """

    job: Job
    scarce: frozenset[str]
    payments: Payments
    timed: bool
    lines: frozenset[tuple[str, str, str]] = frozenset()

    @classmethod
    def of(
        cls, job: Job, options: Sequence[Option], quotes: Sequence[Quote], scarce: frozenset[str], *, timed: bool
    ) -> Scene:
        """The scene of a job whose faults may take these options."""
        suppliers = {supplier.id: supplier for supplier in job.suppliers}
        ordered = frozenset[str]().union(*(option.suppliers for option in options))
        thresholds = {s.id for s in job.suppliers if s.has_threshold and s.id in ordered}
        topping = [q for q in quotes if q.supplier in thresholds]
        lines = {(o.fault, x.quote.supplier, x.quote.id) for o in options for x in o.lines if x.quote.supplier}
        return cls(job, scarce, Payments(suppliers, topping, scarce, job.settings.needed_by), timed, frozenset(lines))

    def may_ride(self, fault: str, line: Line) -> bool:
        """Whether a line may be bought ahead for a fault: it takes no more than its own order would take beside it.

        That is postage, the trip and what is short of the minimum; and there is something else to ride with. Or another
        fault may want the same quote, and have pieces of a pack over.
        """
        quote, supplier = line.quote, line.quote.supplier
        if supplier is None:
            return False
        terms, goods = self.job.supplier(supplier), quote.price_minor * quote.packs_for(line.units)
        trip_minor = terms.trip_minutes * self.job.hour_worth_minor / 60
        spared = terms.postage_minor + trip_minor + max(0, terms.minimum_order_minor - goods)
        there = self._lines_of[supplier]
        over = line.units % quote.pack > 0 and bool(there.get(quote.id, set()) - {fault})
        alone = sum(map(len, there.values())) <= (fault in there.get(quote.id, ()))
        return over or (0 < spared >= goods and not alone)

    @cached_property
    def _lines_of(self) -> Mapping[str, Mapping[str, set[str]]]:
        """By supplier and quote the faults that may order it."""
        found: dict[str, dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))
        for fault, supplier, quote in self.lines:
            found[supplier][quote].add(fault)
        return found

    def terms(self, supplier: str) -> Supplier:
        """A supplier's terms, found at once however often they are asked for."""
        if supplier not in self._terms:
            self._terms[supplier] = self.job.supplier(supplier)
        return self._terms[supplier]

    @cached_property
    def _terms(self) -> dict[str, Supplier]:
        return {}

    @cached_property
    def time_counts(self) -> bool:
        """Whether minutes decide anything but ties."""
        return self.timed or self.job.hour_worth_minor > 0

    def digests(self, suppliers: Collection[str], access: Collection[str]) -> Iterator[bytes]:
        """Of these suppliers and accesses, and of the quotes that may top up an order to them."""
        for supplier in sorted(suppliers):
            yield from self._by_supplier.get(supplier, ())
        yield from (_digest(self.access[name]) for name in sorted(access))

    @cached_property
    def _by_supplier(self) -> Mapping[str, Sequence[bytes]]:
        told = {supplier.id: [_digest(supplier)] for supplier in self.job.suppliers}
        for quote in self.payments.quotes:
            told[quote.supplier or ""].append(_digest(quote))
        return told

    @cached_property
    def access(self) -> Mapping[str, Access]:
        """Every access by its id."""
        return {access.id: access for access in self.job.access}

    def order_counts(self, supplier: str) -> bool:
        """Whether an order to the supplier costs anything beside its goods, or counts toward a limit."""
        terms = self.job.supplier(supplier)
        trip = self.time_counts and terms.trip_minutes > 0
        return terms.postage_minor > 0 or trip or self.job.settings.most_suppliers is not None

    def opening(self, action: Check | Option) -> frozenset[Share]:
        """The accesses that an action opens, as far as they cost money, or the owner's minutes where those count."""
        own = not (isinstance(action, Option) and action.by_workshop)
        named = [self.access[name] for name in action.access]
        prices = {Share(PRICE, a.id) for a in named if a.price_minor}
        minutes = {Share(OWN_ACCESS, a.id) for a in named if own and a.minutes and self.time_counts}
        return frozenset(prices | minutes)

    def toll(self, share: Share) -> tuple[int, int]:
        """What an order or an access takes once: minor units and the owner's minutes."""
        if share.kind == ORDER:
            terms = self.job.supplier(share.name)
            return terms.postage_minor, terms.trip_minutes
        access = self.access[share.name]
        return (access.price_minor, 0) if share.kind == PRICE else (0, access.minutes)

    def stock(self, option: Option, certain: Mapping[str, int], topping: Iterable[tuple[str, int]]) -> set[Share]:
        """The packs of scarce quotes that an attempt takes, beside the certain lines."""
        packs = dict(topping)
        for line in option.ordered:
            units = max(0, line.units - certain.get(line.quote.id, 0))
            packs[line.quote.id] = packs.get(line.quote.id, 0) + line.quote.packs_for(units)
        return {Share(STOCK, name, n) for name, most in packs.items() if name in self.scarce for n in range(most)}


def _digest(record: Supplier | Access | Quote) -> bytes:
    return hashlib.sha256(record.model_dump_json().encode()).digest()


def units_of(lines: Iterable[Line]) -> tuple[tuple[str, int], ...]:
    """Pieces by quote id, as a sort key."""
    return tuple(sorted((line.quote.id, line.units) for line in lines))


def covers(option: Option, units: Mapping[str, int]) -> bool:
    """Whether an option buys at least these pieces."""
    own = dict(units_of(option.lines))
    return all(own.get(quote, 0) >= needed for quote, needed in units.items())


def meets(options: Sequence[Option]) -> list[tuple[Line, ...]]:
    """What two options or more both order, every such set of lines once."""
    known: dict[tuple[tuple[str, int], ...], tuple[Line, ...]] = {}
    ordered = [tuple(line for line in option.lines if line.quote.supplier is not None) for option in options]
    pending = [_meet(one, other) for n, one in enumerate(ordered) for other in ordered[:n]]
    for shared in pending:
        if shared and units_of(shared) not in known:
            known[units_of(shared)] = shared
            pending += [_meet(shared, lines) for lines in ordered]
    return list(known.values())


def _meet(one: Sequence[Line], other: Sequence[Line]) -> tuple[Line, ...]:
    units = dict(units_of(other))
    shared = ((line, min(line.units, units.get(line.quote.id, 0))) for line in one)
    return tuple(Line(quote=x.quote, units=n, wanted=min(x.wanted, n)) for x, n in shared if n)
