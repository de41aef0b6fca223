"""Plans as tables: declared columns, one record a row, and pandas frames of them for whoever wants to reckon on.

Rows are plain tuples, so that a terminal or a CSV file never waits for pandas; a frame is a view and nothing reads it
back into a decision. Money is ``decimal.Decimal`` in the job's currency (exact; ``frame.attrs["currency"]`` says
which), chances are floats, time is whole minutes or days.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from optimiser.model import plan as model
from optimiser.model.job import Job
from optimiser.model.quote_comparison import Matrix, Merit, QuotesCompared

if TYPE_CHECKING:
    import pandas as pd

LEAST_CHANCE = 1e-6
Cell = str | int | float | Decimal | None
Row = tuple[Cell, ...]


@dataclass(frozen=True)
class Column:
    """A column's name, its unit, and what it says."""

    name: str
    unit: str
    meaning: str


PLAN = (
    Column("fault", "id", "the fault"),
    Column("severity", "word", "minor, major or dangerous (Directive 2014/45/EU)"),
    Column("importance", "weight", "the fault's weight in expected fixes"),
    Column("repair", "id", "the repair tried first; empty where a check comes first or the fault is left"),
    Column("by", "word", "self or workshop"),
    Column("condition", "words", "condition of each part, joined by +"),
    Column("supplier", "ids", "supplier of each part, joined by +; shelf for owned parts"),
    Column("chance", "0..1", "chance of cure"),
    Column("landed", "money", "share of the net cost, postage included; sums to the plan's net cost"),
    Column("minutes", "minutes", "the owner's own time on the longest path, opening up apart"),
    Column("why", "word", "the short reason"),
)
PARTS = (
    Column("fault", "id", "the fault that the part is for"),
    Column("part", "id", "the part"),
    Column("units", "pieces", "pieces fitted, rounded up to whole sets"),
    Column("supplier", "id", "supplier; empty for parts on the shelf"),
    Column("condition", "word", "new, refurbished or salvage"),
    Column("quote", "file:line", "where the quote stands"),
    Column("ref", "text", "the supplier's own number"),
    Column("landed", "money", "share of the order that brings it"),
    Column("source", "word", "order or owned"),
)
ORDERS = (
    Column("supplier", "id", "whom the order goes to"),
    Column("part", "id", "the part"),
    Column("condition", "word", "new, refurbished or salvage"),
    Column("ref", "text", "the supplier's own number"),
    Column("packs", "packs", "packs to order"),
    Column("pack", "pieces", "pieces in a pack"),
    Column("price", "money", "price of one pack"),
    Column("goods", "money", "packs times price"),
    Column("deposits", "money", "deposits paid now on these packs"),
    Column("fitted", "pieces", "pieces that the plan fits"),
    Column("quote", "file:line", "where the quote stands"),
)
MONEY = (
    Column("line", "word", "what the amount is"),
    Column("amount", "money", "the amount"),
)
AMOUNTS = (
    *("cap", "committed", "hold_back", "remaining", "orders", "direct", "deposits", "deposits_due", "fallbacks"),
    "unspent",
)
NOT_OFFERED = (
    Column("kind", "word", "quote, owned, repair or fault"),
    Column("id", "id", "which one"),
    Column("reason", "word", "what bars it"),
    Column("detail", "text", "the date, part or system that does"),
)
QUOTES = (
    Column("quote", "file:line", "where the quote stands"),
    Column("part", "id", "the part"),
    Column("supplier", "id", "who asks"),
    Column("condition", "word", "new, refurbished or salvage"),
    Column("price", "money", "price of one pack, tax included"),
    Column("pack", "pieces", "pieces in a pack"),
    Column("price_each", "money", "price of one piece, rounded half up to the minor unit"),
    Column("deposit", "money", "exchange deposit a piece"),
    Column("postage", "money", "the supplier's postage, once an order"),
    Column("good_chance", "0..1", "chance that the part is sound"),
    Column("lead_days", "days", "days until it arrives"),
    Column("warranty_months", "months", "warranty, where stated"),
    Column("valid_until", "date", "last day of the quote, where stated"),
)
QUOTED = (
    *QUOTES[:4],
    Column("ref", "text", "the supplier's own number"),
    *QUOTES[4:7],
    Column("units", "pieces", "pieces that the landed costs are for"),
    Column("alone", "money", "landed cost bought by itself; empty where it cannot be"),
    Column("in_plan", "money", "landed cost on top of the plan's other orders; empty without a plan"),
    Column("until_one_works", "money", "expected landed cost until one is sound; empty where there is no such figure"),
    *QUOTES[-4:],
    Column("in_plan_orders", "yes/no", "whether the plan's orders hold it"),
    Column("wins", "words", "what it is the best at, joined by +"),
    Column("not_offered", "word", "what bars it; empty where it may be bought"),
)
COMPARISON = (
    Column("fault", "id", "the fault"),
    Column("repair", "id", "the repair"),
    Column("by", "word", "self or workshop"),
    Column("condition", "words", "condition of each part, joined by +"),
    Column("supplier", "ids", "supplier of each part, joined by +"),
    Column("quote", "file:lines", "quote of each part, joined by +"),
    Column("chosen", "yes/no", "whether the plan takes it"),
    Column("alone", "money", "net cost bought by itself"),
    Column("landed", "money", "share of the net cost in the best plan that takes it; empty where none does"),
    Column("chance", "0..1", "chance of cure"),
    Column("chance_in_all", "0..1", "chance of cure of all that this plan does about the fault; empty as landed"),
    Column("cost_per_fix", "money", "landed cost for one expected fix: landed divided by chance_in_all"),
    Column("days", "days", "until it can be done"),
    Column("warranty_months", "months", "the shortest warranty among its parts; empty where none is stated"),
    Column("value_if_forced", "fixes", "expected fixes of the best plan that takes it; money for aim profit"),
    Column("loses", "ids", "faults that stand a smaller chance in that plan"),
    Column("price_up_to", "money", "price alone up to which the choice stays (chosen option only)"),
    Column("chance_down_to", "0..1", "chance down to which the choice stays (chosen option only)"),
)


def plan_rows(plan: model.Plan) -> Iterator[Row]:
    """One row a fault, the gravest first; columns ``PLAN``."""
    for choice in plan.choices:
        option = choice.option
        yield (
            choice.fault.id,
            choice.fault.severity.value,
            choice.fault.importance,
            option.repair if option else "",
            "" if option is None else "workshop" if option.by_workshop else "self",
            " + ".join(part.quote.condition for part in choice.parts),
            " + ".join(part.quote.supplier or "shelf" for part in choice.parts),
            choice.chance,
            plan.job.currency.decimal(choice.landed_minor),
            choice.route.worst_minutes if choice.route else 0,
            choice.why.reason.value,
        )


def parts_rows(plan: model.Plan) -> Iterator[Row]:
    """One row a part that is fitted; columns ``PARTS``."""
    for choice in plan.choices:
        for part in choice.parts:
            yield (
                choice.fault.id,
                part.part,
                part.units,
                part.quote.supplier,
                part.quote.condition,
                part.quote.id,
                part.quote.ref,
                plan.job.currency.decimal(part.landed_minor),
                "order" if part.quote.supplier else "owned",
            )


def orders_rows(plan: model.Plan) -> Iterator[Row]:
    """One row a line of an order; columns ``ORDERS``."""
    return order_lines(plan.job, plan.orders)


def order_lines(job: Job, orders: Iterable[model.Order]) -> Iterator[Row]:
    """One row a line of these orders: as ``ORDERS`` has it, whatever the pieces are for."""
    money = job.currency.decimal
    for order in orders:
        for line in order.lines:
            quote = line.quote
            yield (
                order.supplier.id,
                quote.part,
                quote.condition,
                quote.ref,
                line.packs,
                quote.pack,
                money(quote.price_minor),
                money(line.goods_minor),
                money(line.deposits_minor),
                line.fitted,
                quote.id,
            )


def money_rows(plan: model.Plan) -> Iterator[Row]:
    """The way from the cap to what is unspent; columns ``MONEY``."""
    for name in AMOUNTS:
        yield name, plan.job.currency.decimal(getattr(plan.purse, f"{name}_minor"))


def not_offered_rows(plan: model.Plan) -> Iterator[Row]:
    """What the mix could not take and why; columns ``NOT_OFFERED``."""
    for barred in plan.not_offered:
        yield barred.kind, barred.id, barred.bar.value, barred.detail


def quotes_rows(job: Job) -> Iterator[Row]:
    """One row a quote, as read, in the order of parts and prices each; columns ``QUOTES``."""
    money = job.currency.decimal
    for quote in sorted(job.quotes, key=lambda q: (q.part, q.price_minor / q.pack, q.line)):
        yield (
            quote.id,
            quote.part,
            quote.supplier,
            quote.condition,
            money(quote.price_minor),
            quote.pack,
            money(quote.each_minor),
            money(quote.deposit_minor),
            money(job.supplier(quote.supplier or "-").postage_minor),
            quote.good_chance,
            quote.lead_days,
            quote.warranty_months,
            None if quote.valid_until is None else quote.valid_until.isoformat(),
        )


def quoted_rows(answer: QuotesCompared) -> Iterator[Row]:
    """One row a quote, part by part, the cheapest alone first; columns ``QUOTED``."""
    money = answer.job.currency.decimal
    for part in answer.parts:
        for row in part.rows:
            quote = row.quote
            yield (
                quote.id,
                part.part,
                quote.supplier,
                quote.condition,
                quote.ref,
                money(quote.price_minor),
                quote.pack,
                money(quote.each_minor),
                part.units,
                None if row.alone is None else money(row.alone.total_minor),
                None if row.in_plan is None else money(row.in_plan.total_minor),
                None if row.until_sound is None else money(row.until_sound.expected_minor),
                quote.good_chance,
                quote.lead_days,
                quote.warranty_months,
                None if quote.valid_until is None else quote.valid_until.isoformat(),
                "yes" if row.planned else "no",
                " + ".join(merit for merit in Merit if merit in row.wins),
                "" if row.barred is None else row.barred.bar.value,
            )


def matrix_columns(matrix: Matrix) -> tuple[Column, ...]:
    """Part and condition, then a column a supplier."""
    prices = (Column(name, "money", "lowest price each; empty where there is none") for name in matrix.suppliers)
    return (*QUOTES[1:4:2], *prices)


def matrix_rows(matrix: Matrix) -> Iterator[Row]:
    """One row a part and condition; columns ``matrix_columns``."""
    money = matrix.job.currency.decimal
    for row in matrix.rows:
        prices = (row.cells.get(supplier) for supplier in matrix.suppliers)
        yield row.part, row.condition, *(None if quote is None else money(quote.each_minor) for quote in prices)


def comparison_rows(comparison: model.Comparison) -> Iterator[Row]:
    """One row an option of the fault; columns ``COMPARISON``."""
    job = comparison.plan.job
    money = job.currency.decimal
    for row in comparison.rows:
        quotes = [line.quote for line in row.option.lines]
        landed = landed_if_forced(comparison, row)
        up_to = price_up_to(row)
        per_fix = cost_per_fix(row, landed)
        yield (
            comparison.fault.id,
            row.option.repair,
            "workshop" if row.option.by_workshop else "self",
            " + ".join(q.condition for q in quotes),
            " + ".join(q.supplier or "shelf" for q in quotes),
            " + ".join(q.id for q in quotes),
            "yes" if comparison.plan.takes(row.option) else "no",
            money(row.alone_minor),
            None if landed is None else money(landed),
            row.option.chance,
            chance_if_forced(row),
            None if per_fix is None else money(per_fix),
            row.option.days,
            shortest_warranty(row),
            value_if_forced(row),
            " + ".join(row.loses),
            None if up_to is None else money(up_to),
            None if row.switch is None else row.switch.chance,
        )


def landed_if_forced(comparison: model.Comparison, row: model.Forced) -> int | None:
    """The option's share of the net cost, in minor units, in the best plan that takes it."""
    return None if row.plan is None else row.plan.choice(comparison.fault.id).landed_minor


def chance_if_forced(row: model.Forced) -> float | None:
    """The chance of all that the best plan that takes the option does about the fault."""
    return None if row.plan is None else row.plan.choice(row.option.fault).chance


def value_if_forced(row: model.Forced) -> float | None:
    """What the best plan that takes the option is worth: expected fixes, or for aim profit money of the currency."""
    if row.plan is None:
        return None
    profit = row.plan.profit_minor
    return row.plan.expected_fixes if profit is None else float(row.plan.job.currency.decimal(profit))


def price_up_to(row: model.Forced) -> int | None:
    """Price alone in minor units up to which the chosen option stays the choice; None for the others."""
    if row.switch is None or row.switch.surcharge_minor is None:
        return None
    return row.alone_minor + row.switch.surcharge_minor


def cost_per_fix(row: model.Forced, landed_minor: int | None) -> int | None:
    """Landed cost divided by the chance, in minor units, rounded; None where nothing is landed or hardly cured.

    The chance is that of all that the plan does about the fault, as the cost is.
    """
    chance = chance_if_forced(row)
    return None if landed_minor is None or not chance or chance < LEAST_CHANCE else round(landed_minor / chance)


def shortest_warranty(row: model.Forced) -> int | None:
    """Months of warranty on the option's parts, the least of them; None where a part states none."""
    months = [line.quote.warranty_months for line in row.option.lines]
    return None if not months or None in months else min(m for m in months if m is not None)


def plan(plan: model.Plan) -> pd.DataFrame:
    return _frame(plan.job, PLAN, plan_rows(plan))


def parts(plan: model.Plan) -> pd.DataFrame:
    return _frame(plan.job, PARTS, parts_rows(plan))


def orders(plan: model.Plan) -> pd.DataFrame:
    return _frame(plan.job, ORDERS, orders_rows(plan))


def money(plan: model.Plan) -> pd.DataFrame:
    return _frame(plan.job, MONEY, money_rows(plan))


def not_offered(plan: model.Plan) -> pd.DataFrame:
    return _frame(plan.job, NOT_OFFERED, not_offered_rows(plan))


def quotes(job: Job) -> pd.DataFrame:
    return _frame(job, QUOTES, quotes_rows(job))


def quoted(answer: QuotesCompared) -> pd.DataFrame:
    return _frame(answer.job, QUOTED, quoted_rows(answer))


def matrix(matrix: Matrix) -> pd.DataFrame:
    return _frame(matrix.job, matrix_columns(matrix), matrix_rows(matrix))


def comparison(comparison: model.Comparison) -> pd.DataFrame:
    return _frame(comparison.plan.job, COMPARISON, comparison_rows(comparison))


def _frame(job: Job, columns: Sequence[Column], rows: Iterable[Row]) -> pd.DataFrame:
    import pandas as pd  # noqa: PLC0415 - heavier than the whole plan of a small job

    frame = pd.DataFrame.from_records(list(rows), columns=[column.name for column in columns])
    frame.attrs["currency"] = job.settings.currency
    frame.attrs["columns"] = {column.name: f"{column.unit}: {column.meaning}" for column in columns}
    return frame
