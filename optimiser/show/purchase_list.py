"""A basket on a terminal, as JSON and as rows of a table."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rich.box import SIMPLE_HEAD
from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from optimiser.model.job import Job
from optimiser.model.plan import Order
from optimiser.model.purchase_list import Basket, Buying
from optimiser.show import as_json, dangers, layout, purchase_list_words, tables, wording
from optimiser.show.tables import Column, Row

BASKET = (
    *tables.ORDERS[:-2],
    Column("used", "pieces", "pieces that the list takes; the rest is over"),
    tables.ORDERS[-1],
)

TIGHT_BELOW = 44
"""Columns below which columns stand closer and their headings in two lines."""


def rows(basket: Basket) -> Iterator[Row]:
    """One row a line of an order; columns ``BASKET``."""
    return tables.order_lines(basket.job, basket.best.orders)


def document(basket: Basket) -> dict[str, Any]:
    """The basket as JSON: money as decimal strings; ``bound`` is the least that any way to buy the list could cost."""
    job, best = basket.job, basket.best
    return {
        **as_json.head(job),
        "list": [{"part": part, "units": units} for part, units in basket.wanted.items()],
        "conditions": list(basket.conditions),
        "proven": basket.outcome.proven,
        "bound": job.currency.text(best.net_minor - basket.outcome.better_at_most),
        "bound_unit": "money",
        **_way(job, best),
        "leftovers": [{"part": part, "units": units} for part, units in purchase_list_words.over(basket)],
        "single_shop": None if basket.single is None else _way(job, basket.single),
        "one_by_one": _way(job, basket.one_by_one),
        "not_offered": [
            *(as_json.not_offered(job, barred) for barred in basket.not_offered),
            *({"kind": "quote", "id": q.id, "reason": f"{q.condition} was not asked for"} for q in basket.left_out),
            *({"kind": "quote", "id": q.id, "reason": purchase_list_words.OUT_OF_STOCK} for q in basket.sold_out),
            *({"kind": "supplier", "id": s, "reason": purchase_list_words.SHORT} for s in basket.unreachable),
        ],
        "cautions": [
            *(said.removeprefix("! ") for said in purchase_list_words.warnings(basket)),
            *purchase_list_words.added_up(basket),
            *purchase_list_words.mind(basket),
        ],
    }


def _way(job: Job, buying: Buying) -> dict[str, Any]:
    money = job.currency.text
    return {
        "money": {
            "goods": money(buying.goods_minor),
            "postage": money(buying.postage_minor),
            "deposits": money(buying.deposits_minor),
            "total": money(buying.cash_minor),
            "deposits_due": money(buying.back_minor),
            "net_cost": money(buying.net_minor),
        },
        "orders": [_order_document(job, order) for order in buying.orders],
    }


def _order_document(job: Job, order: Order) -> dict[str, Any]:
    money = job.currency.text
    return {
        "supplier": order.supplier.id,
        "lines": [as_json.order_line(job, line) | {"used": line.fitted} for line in order.lines],
        "goods": money(order.goods_minor),
        "postage": money(order.postage_minor),
        "deposits": money(order.deposits_minor),
        "total": money(order.total_minor),
    }


def show(out: Console, basket: Basket) -> None:
    job, tight = basket.job, out.width < TIGHT_BELOW
    out.print(Text(wording.title(job), style="heading"))
    dangers.show(out, job)
    for said in (
        purchase_list_words.headline(basket),
        purchase_list_words.outcome(basket),
        purchase_list_words.asked(basket),
    ):
        if said is not None:
            out.print(Text(said))
    if (over := purchase_list_words.over_the_pot(basket)) is not None:
        out.print(Text(over, style="heading"))
    for warning in purchase_list_words.warnings(basket):
        out.print(Text(warning, style="danger"))
    for order in basket.best.orders:
        layout.section(out, f"Order to {wording.supplier(job, order.supplier.id)}", _order(job, order, tight))
    judged = (Padding(Text(said), (0, 0, 0, 2)) for said in purchase_list_words.judgement(basket))
    layout.section(out, "The basket, and what to hold beside it", Group(_ways(basket, tight), *judged))
    pieces = [f"{units} x {wording.part(job, part)}" for part, units in purchase_list_words.over(basket)]
    lists = (
        ("Over", pieces),
        ("Left out", purchase_list_words.not_offered(basket)),
        ("Mind", purchase_list_words.mind(basket)),
    )
    layout.listed(out, lists)


def _table(tight: bool, first: str, *others: str) -> Table:
    table = Table(
        box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1), collapse_padding=tight, expand=False, header_style="heading"
    )
    table.add_column(first, no_wrap=False, overflow="fold")
    for name in others:
        table.add_column(name.replace(" ", "\n") if tight else name, justify="right", no_wrap=True)
    return table


def _order(job: Job, order: Order, tight: bool) -> RenderableType:
    money = job.currency.text
    table = _table(tight, "Part", "Packs", "Price", "Goods")
    for line in order.lines:
        quote = line.quote
        ref = f", ref {wording.plain(quote.ref)}" if quote.ref else ""
        spare = line.pieces - line.fitted
        over = "; to top up the order" if not line.fitted else f"; {spare} over" if spare else ""
        table.add_row(
            Text(f"{wording.part(job, quote.part)}, {quote.condition}{ref}{over}"),
            wording.packs(line),
            money(quote.price_minor),
            money(line.goods_minor),
        )
    return Group(table, Padding(Text(wording.order_sums(job, order)), (0, 0, 0, 2)))


def _ways(basket: Basket, tight: bool) -> Table:
    """The ways side by side; without deposits anywhere, what is paid is what it costs."""
    money = basket.job.currency.text
    ways = list(purchase_list_words.ways(basket))
    deposits = any(way.deposits_minor for _, way in ways)
    table = _table(tight, "", *(["To pay now", "Comes back"] if deposits else ["Goods", "Postage"]), "Cost")
    for name, way in ways:
        makes_up = (way.cash_minor, way.back_minor) if deposits else (way.goods_minor, way.postage_minor)
        best = way is basket.best
        table.add_row(
            Text(name, style="heading" if best else ""),
            *(money(minor) for minor in makes_up),
            Text(money(way.net_minor), style="heading" if best else ""),
        )
    return table
