"""An order as a letter that can be mailed as it is, and as rows: nothing in it is said to anybody but the supplier."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from optimiser.model.job import Job
from optimiser.model.plan import Order, OrderLine, Plan
from optimiser.model.quotes import STILL_TO_BE_ASKED
from optimiser.names import slug
from optimiser.show import route_words, steps, wording
from optimiser.show.tables import Column, Row

WIDTH = 76
MOST_OF_A_FILE_NAME = 40
ENDS = (
    "Prices are as you quoted them. If a price, the postage or the stock is another now, please answer before you send"
    " anything."
)
LETTER = (
    Column("ref", "text", "the supplier's own number"),
    Column("part", "text", "the part"),
    Column("condition", "word", "new, refurbished or salvage"),
    Column("packs", "packs", "packs to order"),
    Column("pack", "pieces", "pieces in a pack"),
    Column("price", "money", "price of one pack as quoted"),
    Column("goods", "money", "packs times price"),
    Column("deposits", "money", "exchange deposits on these packs"),
)


def sent(plan: Plan) -> tuple[Order, ...]:
    """The orders that can be sent: prices that nobody has quoted are asked for first."""
    return tuple(order for order in plan.orders if order.supplier.id != STILL_TO_BE_ASKED)


def file_names(plan: Plan) -> list[str]:
    """A name without ending for each order that can be sent: its place, the supplier, the day; plain letters alone."""
    day = plan.job.settings.today
    behind = "" if day is None else f"-{day.isoformat()}"
    return [f"order-{n}{_named(order)}{behind}" for n, order in enumerate(sent(plan), start=1)]


def _named(order: Order) -> str:
    plain = slug("".join(c for c in order.supplier.id if c.isascii()))[:MOST_OF_A_FILE_NAME].strip("-")
    return f"-{plain}" if plain else ""


def before_sending(plan: Plan) -> list[str]:
    """For each order that can be sent what its sender should know first, and its supplier need not."""
    numbered = steps.numbers(plan)
    return [route_words.before_sending(plan, order, numbered) for order in sent(plan)]


def letter(plan: Plan, order: Order) -> str:
    """The order as plain text, a line a part with its reference, and what it comes to as quoted."""
    job, day = plan.job, plan.job.settings.today
    said = [
        f"To: {wording.supplier(job, order.supplier.id)}",
        *([f"Date: {day.isoformat()}"] if day is not None else ()),
        "",
        "Please send:",
        "",
        *(line for n, one in enumerate(order.lines, start=1) for line in _line(job, n, one)),
        "",
        *_belongs_to(job, order),
        *_sums(job, order),
        "",
        *textwrap.wrap(ENDS, WIDTH),
    ]
    return "\n".join(said) + "\n"


def _line(job: Job, number: int, line: OrderLine) -> Iterator[str]:
    quote, text = line.quote, job.currency.text
    packs = f"{line.packs} x" if quote.pack == 1 else f"{wording.packs(line)},"
    first = f"{number}. {packs} {wording.part(job, quote.part)}, {quote.condition}"
    yield from textwrap.wrap(first, WIDTH, subsequent_indent="   ")
    if quote.ref:
        yield from textwrap.wrap(f"ref {wording.plain(quote.ref)}", WIDTH, initial_indent="   ", subsequent_indent="   ")  # noqa: E501 # fmt: skip
    each = "" if line.packs == 1 else f" ({text(quote.price_minor)} each)"
    deposit = f", and {text(line.deposits_minor)} deposit on the old unit" if line.deposits_minor else ""
    yield f"   {text(line.goods_minor)}{each}{deposit}"


def _belongs_to(job: Job, order: Order) -> Iterator[str]:
    """What was ordered there today already, where this is counted as one order with it."""
    ordered = [row for row in job.on_order if row.bought in order.supplier.joins]
    if ordered:
        pieces = ", ".join(f"{row.units} x {wording.part(job, row.part)}" for row in ordered)
        yield from (
            *textwrap.wrap(f"This belongs to my order of today ({pieces}): please send both as one.", WIDTH),
            "",
        )


def _sums(job: Job, order: Order) -> Iterator[str]:
    rows = [("Goods", order.goods_minor), ("Postage", order.postage_minor)]
    rows += [("Deposits", order.deposits_minor)] if order.deposits_minor else []
    amounts = [job.currency.text(minor) for _, minor in rows]
    total = wording.amount(job, order.total_minor)
    wide = max(len(amount) for amount in (*amounts, job.currency.text(order.total_minor)))
    yield from (f"{name:<9}{amount:>{wide}}" for (name, _), amount in zip(rows, amounts, strict=True))
    yield f"{'In all':<9}{job.currency.text(order.total_minor):>{wide}}{total.removeprefix(job.currency.text(order.total_minor))}"  # noqa: E501 # fmt: skip


def rows(plan: Plan, order: Order) -> Iterator[Row]:
    """The order's lines; columns ``LETTER``."""
    money = plan.job.currency.decimal
    for line in order.lines:
        quote = line.quote
        yield (
            wording.plain(quote.ref), wording.part(plan.job, quote.part), quote.condition, line.packs, quote.pack,
            money(quote.price_minor), money(line.goods_minor), money(line.deposits_minor),
        )  # fmt: skip
