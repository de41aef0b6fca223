"""A fixed list of parts and the suppliers that fill it: the cheapest way, and what to hold beside it."""

from __future__ import annotations

from collections.abc import Mapping

from optimiser.model.base import Record
from optimiser.model.job import Job
from optimiser.model.option import NotOffered
from optimiser.model.plan import Notice, Order, Outcome
from optimiser.model.quotes import Condition, Quote


class PacksBought(Record):
    """The bare answer of the mix: whole packs by quote, and what they come to in minor units.

    ``net_minor`` is what is paid now, ``cash_minor``, less the deposits that come back with the old units.
    """

    packs: Mapping[str, int]
    net_minor: int
    cash_minor: int
    outcome: Outcome


class Buying(Record):
    """One way to get everything on the list: an order to each supplier, and what they come to.

    The ``fitted`` pieces of an order's lines are those that the list takes; deposits on the others do not come back.
    """

    orders: tuple[Order, ...]
    net_minor: int
    cash_minor: int

    @property
    def goods_minor(self) -> int:
        """What the packs cost, deposits apart."""
        return sum(order.goods_minor for order in self.orders)

    @property
    def postage_minor(self) -> int:
        """Postage of all orders."""
        return sum(order.postage_minor for order in self.orders)

    @property
    def deposits_minor(self) -> int:
        """Deposits paid now."""
        return sum(order.deposits_minor for order in self.orders)

    @property
    def back_minor(self) -> int:
        """Deposits that come back."""
        return self.cash_minor - self.net_minor


class Basket(Record):
    """The whole answer for a list of parts.

    ``wanted`` are pieces by part id, ``conditions`` the only ones asked for (none: all). ``single`` is the best that
    one shop alone can do, None where none has everything; ``one_by_one`` takes each part where its own price is
    lowest. ``left_out`` are quotes of the listed parts in other conditions, ``sold_out``
    those that are out of stock, ``unreachable`` suppliers whose minimum
    order all that they offer does not come to, ``added_up`` parts that the list named more than once.
    """

    job: Job
    wanted: Mapping[str, int]
    conditions: tuple[Condition, ...]
    best: Buying
    outcome: Outcome
    single: Buying | None
    one_by_one: Buying
    not_offered: tuple[NotOffered, ...] = ()
    left_out: tuple[Quote, ...] = ()
    sold_out: tuple[Quote, ...] = ()
    unreachable: tuple[str, ...] = ()
    added_up: tuple[str, ...] = ()
    notices: tuple[Notice, ...] = ()
