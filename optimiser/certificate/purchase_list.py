"""The witness on a basket: every way to buy the list added up again in whole numbers, and held against the others."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from optimiser.certificate.options import quote_barred, used_barred
from optimiser.errors import PlanRefusedError
from optimiser.model.plan import Order
from optimiser.model.purchase_list import Basket, Buying


def certify_basket(basket: Basket) -> None:
    """Raise ``PlanRefusedError`` with everything that does not hold."""
    wrong = list(basket_wrong(basket))
    if wrong:
        raise PlanRefusedError("; ".join(wrong))


def basket_wrong(basket: Basket) -> Iterator[str]:
    """Everything in a basket that is not as the job and the list have it."""
    for buying in (basket.best, basket.one_by_one, *([] if basket.single is None else [basket.single])):
        yield from _list_wrong(basket, buying)
        for order in buying.orders:
            yield from _order_wrong(basket, order)
        yield from _sums_wrong(buying)
        if buying is not basket.one_by_one:
            yield from _deposits_wrong(buying)
    if basket.single is not None and len(basket.single.orders) != 1:
        yield "one shop alone is not one order"
    yield from _rivals_wrong(basket)


def _list_wrong(basket: Basket, buying: Buying) -> Iterator[str]:
    """The list is filled to the piece, by one order a supplier and one line a quote."""
    got: Counter[str] = Counter()
    for line in (line for order in buying.orders for line in order.lines):
        got[line.quote.part] += line.fitted
    if {part: count for part, count in got.items() if count} != dict(basket.wanted):
        yield f"the pieces {dict(got)} are not {dict(basket.wanted)}"
    quotes = [line.quote.id for order in buying.orders for line in order.lines]
    suppliers = [order.supplier.id for order in buying.orders]
    if len(set(quotes)) != len(quotes) or len(set(suppliers)) != len(suppliers):
        yield "a quote or a supplier stands twice"


def _order_wrong(basket: Basket, order: Order) -> Iterator[str]:
    """Packs that are to be had, goods and postage by the supplier's own terms."""
    job = basket.job
    known = job.sheets.by_id
    terms = [supplier for supplier in job.suppliers if supplier.id == order.supplier.id]
    if order.supplier != (terms[0] if terms else type(order.supplier)(id=order.supplier.id)):
        yield f"{order.supplier.id}: its terms are not the job's"
    for line in order.lines:
        quote = line.quote
        yield from quote_barred(job, quote, known)
        yield from (
            f"{quote.id} is {what}, for a fault that uses it" for what in used_barred(job, quote).values() if what
        )
        if quote.supplier != order.supplier.id:
            yield f"{quote.id} is not from {order.supplier.id}"
        if basket.conditions and quote.condition not in basket.conditions:
            yield f"{quote.id} is {quote.condition}, which was not asked for"
        if line.packs < 1 or (quote.stock is not None and line.packs > quote.stock):
            yield f"{line.packs} packs of {quote.id} are not to be had"
        if not 0 <= line.fitted <= line.packs * quote.pack:
            yield f"{line.fitted} pieces of {quote.id} are not in its packs"
    goods = sum(line.packs * line.quote.price_minor for line in order.lines)
    waived = order.supplier.free_over_minor is not None and goods >= order.supplier.free_over_minor
    postage = 0 if waived else order.supplier.postage_minor
    deposits = sum(line.packs * line.quote.pack * line.quote.deposit_minor for line in order.lines)
    if not order.lines or goods < order.supplier.minimum_order_minor:
        yield f"{order.supplier.id}: below its minimum order"
    if (order.goods_minor, order.postage_minor, order.deposits_minor) != (goods, postage, deposits):
        yield f"{order.supplier.id}: goods, postage or deposits do not add up"


def _sums_wrong(buying: Buying) -> Iterator[str]:
    """What is paid and what comes back."""
    cash = sum(order.goods_minor + order.postage_minor + order.deposits_minor for order in buying.orders)
    lines = [line for order in buying.orders for line in order.lines]
    back = sum(line.fitted * line.quote.deposit_minor for line in lines)
    if (buying.cash_minor, buying.net_minor) != (cash, cash - back):
        yield f"cash {buying.cash_minor} and net cost {buying.net_minor} are not {cash} and {cash - back}"


def _deposits_wrong(buying: Buying) -> Iterator[str]:
    """On each part the pieces with the highest deposit are the ones used."""
    lines = [line for order in buying.orders for line in order.lines]
    for line in lines:
        for other in lines:
            spare = other.quote.part == line.quote.part and other.fitted < other.packs * other.quote.pack
            if spare and line.fitted and other.quote.deposit_minor > line.quote.deposit_minor:
                yield f"{line.quote.part}: a higher deposit could come back"


def _rivals_wrong(basket: Basket) -> Iterator[str]:
    """A cheapest basket is no dearer than any other that is known."""
    if not basket.outcome.proven:
        return
    for name, rival in (("one shop alone", basket.single), ("part by part", basket.one_by_one)):
        if rival is not None and rival.net_minor < basket.best.net_minor:
            yield f"{name} comes cheaper"
