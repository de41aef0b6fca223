"""The totals of a selection: sure orders, each fault's share of all that is shared, the money, the minutes."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from optimiser import money
from optimiser.model.job import Access, Check, Job
from optimiser.model.plan import Leftover, Order, OrderLine, PartChoice, Purse, Selection
from optimiser.model.quotes import Quote
from optimiser.model.route import AttemptStep, CheckStep, Route, steps


@dataclass(frozen=True)
class Reckoned:
    """A selection with all its sums; shares of one cost sum to it exactly."""

    job: Job
    selection: Selection
    quotes: Mapping[str, Quote]

    @cached_property
    def orders(self) -> tuple[Order, ...]:
        """The orders that are sure to be placed, by supplier."""
        fitted = self.fitted
        by_supplier: dict[str, list[OrderLine]] = defaultdict(list)
        for quote_id, packs in self.selection.packs.items():
            quote = self.quotes[quote_id]
            by_supplier[quote.supplier or ""].append(OrderLine(quote=quote, packs=packs, fitted=fitted[quote_id]))
        return tuple(order_to(self.job, supplier, lines) for supplier, lines in sorted(by_supplier.items()))

    @cached_property
    def fitted(self) -> Counter[str]:
        """Pieces that are sure to be fitted, by quote."""
        fitted: Counter[str] = Counter()
        for line in self.selection.certain:
            fitted[line.quote.id] += line.units
        return fitted

    @cached_property
    def unsure_suppliers(self) -> dict[str, list[str]]:
        """Suppliers of first orders that are not sure to be placed, with the faults that may want one."""
        sure = {order.supplier.id for order in self.orders}
        users: dict[str, list[str]] = defaultdict(list)
        for route in self.selection.routes:
            for supplier in sorted(route.suppliers - sure):
                users[supplier].append(route.fault)
        return users

    @cached_property
    def access(self) -> tuple[Access, ...]:
        """Everything that may be opened up."""
        return tuple(a for a in self.job.access if a.id in self.opened)

    @cached_property
    def opened(self) -> dict[str, list[str]]:
        """Accesses that work may need, with the faults that name them."""
        return self._users_of_access(own_work=False)

    @cached_property
    def opened_by_owner(self) -> dict[str, list[str]]:
        """Accesses that the owner's own work may need, with the faults that name them."""
        return self._users_of_access(own_work=True)

    @cached_property
    def purse(self) -> Purse:
        """Where the pot goes."""
        pot, routes = self.job.pot, self.selection.routes
        ordered = sum(o.goods_minor + o.postage_minor for o in self.orders)
        deposits = sum(o.deposits_minor for o in self.orders)
        back = sum(line.quote.deposit_minor * line.fitted for o in self.orders for line in o.lines)
        access = sum(a.price_minor for a in self.access)
        direct = access + sum(route.sure_minor for route in routes)
        unsure = sum(self.job.supplier(s).postage_minor for s in self.unsure_suppliers)
        fallbacks = unsure + sum(route.cash_minor - route.sure_minor for route in routes)
        own = sum(money.half_up(route.net_minor) for route in routes)
        return Purse(
            cap_minor=pot.cap_minor,
            committed_minor=pot.committed_minor,
            hold_back_minor=pot.hold_back_minor,
            remaining_minor=pot.remaining_minor,
            orders_minor=ordered,
            direct_minor=direct,
            deposits_minor=deposits,
            deposits_due_minor=back,
            fallbacks_minor=fallbacks,
            unspent_minor=pot.remaining_minor - ordered - direct - deposits - fallbacks,
            net_minor=ordered + deposits - back + unsure + access + own,
        )

    @cached_property
    def shared_minutes(self) -> int:
        """Opening up by the owner and trips for first orders, once each."""
        trips = [order.supplier.trip_minutes for order in self.orders]
        trips += [self.job.supplier(s).trip_minutes for s in self.unsure_suppliers]
        return sum(trips) + sum(a.minutes for a in self.job.access if a.id in self.opened_by_owner)

    @cached_property
    def minutes(self) -> int:
        """The owner's minutes at the most."""
        return self.shared_minutes + sum(route.worst_minutes for route in self.selection.routes)

    @cached_property
    def expected_minutes(self) -> float:
        """The owner's minutes as they are expected, everything shared counted in full."""
        return self.shared_minutes + sum(route.minutes for route in self.selection.routes)

    @cached_property
    def part_shares(self) -> dict[tuple[str, str], int]:
        """Each fault's certain quote with its share of the order that brings it.

        A line's goods and lost deposits are shared by pieces; what no piece of the plan stands for (postage, topping
        up) is shared by those shares.
        """
        users_of: dict[str, list[tuple[str, int]]] = defaultdict(list)
        for route in self.selection.routes:
            for used in route.certain:
                users_of[used.quote.id].append((route.fault, used.units))
        shares: dict[tuple[str, str], int] = {}
        for order in self.orders:
            order_shares: dict[tuple[str, str], int] = {}
            common = order.postage_minor
            for line in order.lines:
                cost = line.goods_minor + line.deposits_minor - line.quote.deposit_minor * line.fitted
                users = users_of[line.quote.id]
                if not users:
                    common += cost
                    continue
                split = money.share(cost, [units for _, units in users])
                order_shares |= {(fault, line.quote.id): share for (fault, _), share in zip(users, split, strict=True)}
            for key, extra in zip(order_shares, money.share(common, list(order_shares.values())), strict=True):
                shares[key] = order_shares[key] + extra
        return shares

    @cached_property
    def access_shares(self) -> dict[str, int]:
        """Access prices in equal shares for the faults that may need them open."""
        prices = {access.id: access.price_minor for access in self.access}
        return _equal_shares(self.opened, prices)

    @cached_property
    def postage_shares(self) -> dict[str, int]:
        """Postage of first orders that are not sure, in equal shares for the faults that may want one."""
        return _equal_shares(
            self.unsure_suppliers, {s: self.job.supplier(s).postage_minor for s in self.unsure_suppliers}
        )

    @cached_property
    def leftovers(self) -> tuple[Leftover, ...]:
        """Pieces in the sure orders that are not fitted."""
        over: Counter[str] = Counter()
        for order in self.orders:
            for line in order.lines:
                over[line.quote.part] += line.pieces - line.fitted
        return tuple(Leftover(part=part, units=units) for part, units in sorted(over.items()) if units)

    def parts(self, route: Route) -> tuple[PartChoice, ...]:
        """The certain lines of a route with their shares, or the shelf's pieces that it begins with."""
        return tuple(
            PartChoice(
                part=line.quote.part,
                units=line.units,
                wanted=line.wanted,
                quote=line.quote,
                landed_minor=self.part_shares.get((route.fault, line.quote.id), 0),
                ahead=line.quote.id in route.ahead,
            )
            for line in route.sure_lines
        )

    def _users_of_access(self, *, own_work: bool) -> dict[str, list[str]]:
        users: dict[str, list[str]] = defaultdict(list)
        for route in self.selection.routes:
            named = dict.fromkeys(
                access
                for step in steps(route.first)
                if not (own_work and isinstance(step, AttemptStep) and step.option.by_workshop)
                for access in step_access(self.job, route.fault, step)
            )
            for access in named:
                users[access].append(route.fault)
        return users


def step_access(job: Job, fault: str, step: CheckStep | AttemptStep) -> tuple[str, ...]:
    """The accesses that a step names."""
    return step.option.access if isinstance(step, AttemptStep) else check_of(job, fault, step.check).access


def check_of(job: Job, fault: str, check: str) -> Check:
    """A check by its fault and id. Raises ``KeyError`` for one that the job does not have."""
    for known in job.faults:
        if known.id == fault:
            for found in known.checks:
                if found.id == check:
                    return found
    raise KeyError(f"{fault}/{check}")


def order_to(job: Job, supplier_id: str, lines: Sequence[OrderLine]) -> Order:
    """An order of these lines with its sums: goods, postage or its waiver, deposits."""
    terms = job.supplier(supplier_id)
    goods = sum(line.goods_minor for line in lines)
    waived = terms.free_over_minor is not None and goods >= terms.free_over_minor
    postage = 0 if waived else terms.postage_minor
    return Order(
        supplier=terms,
        lines=tuple(sorted(lines, key=lambda line: (line.quote.content, line.quote.line))),
        goods_minor=goods,
        postage_minor=postage,
        deposits_minor=sum(line.deposits_minor for line in lines),
        to_waive_minor=terms.free_over_minor - goods if postage and terms.free_over_minor is not None else None,
    )


def _equal_shares(users_of: Mapping[str, Sequence[str]], amounts: Mapping[str, int]) -> dict[str, int]:
    shares: dict[str, int] = defaultdict(int)
    for name, amount in amounts.items():
        users = users_of[name]
        for fault, share in zip(users, money.share(amount, [1] * len(users)), strict=True):
            shares[fault] += share
    return shares
