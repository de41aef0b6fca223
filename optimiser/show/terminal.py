"""Answers on a terminal: plain tables that fit 80 columns. Weight and words carry the meaning, colour nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import count, product
from string import ascii_lowercase

from rich.console import Console, Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from optimiser.model.job import Job
from optimiser.model.plan import Comparison, Forced, Notice, Order, Plan
from optimiser.money import half_up
from optimiser.show import (
    compare_words,
    dangers,
    faults,
    layout,
    outcome_words,
    remarks,
    rough_words,
    route_words,
    steps,
    tables,
    wording,
)


def plan(out: Console, answer: Plan) -> None:
    """The whole plan: the work fault by fault, the orders, the money, the cautions."""
    narrow, out.width = out.width, max(out.width, layout.OF_A_PLAN)
    job = answer.job
    out.print(Text(wording.title(job), style="heading"))
    out.print(Text(wording.headline(answer)))
    if answer.profit_minor is not None:
        out.print(Text(wording.gain(answer)))
    out.print(Text(wording.outcome(answer)))
    dangers.show(out, job, answer.selection)
    if (cost := outcome_words.safety(answer)) is not None:
        out.print(Text(cost))
    layout.lines(out, remarks.grave(answer), "danger")
    if answer.do_first:
        layout.section(out, "Look first, the gravest first, then the most telling for its minutes", _do_first(answer))
    if answer.choices:
        made, net = faults.table(answer, answer.choices), job.currency.text(answer.purse.net_minor)
        made.add_row("", Text("Net cost in all", style="heading"), "", net, "")
        layout.section(out, "What to do, the gravest first", made)
    for order in answer.orders:
        layout.section(out, f"Order to {wording.supplier(job, order.supplier.id)}", _order(answer, order))
    if answer.access:
        layout.section(out, "Opening up, once each", faults.opening(answer, answer.access))
    layout.section(out, "The money", _money(answer))
    looked = [c for c in answer.choices if any(odds.after for odds in answer.odds.get(c.fault.id, ()))]
    if looked:
        body = Group(*faults.odds(answer, looked, narrow))
        layout.section(out, "What may be behind it, before and after the first look", body)
    _lists(out, answer)


def orders(out: Console, answer: Plan) -> None:
    out.width = max(out.width, layout.OF_A_PLAN)
    dangers.show(out, answer.job, answer.selection)
    if not answer.orders:
        out.print(Text("Nothing to order."))
    for order in answer.orders:
        title = wording.supplier(answer.job, order.supplier.id)
        layout.section(out, f"Order to {title}", _order(answer, order))


def comparison(out: Console, answer: Comparison) -> None:
    """The options of one fault side by side, then each in words, with the losses if it were taken instead."""
    out.width = max(out.width, layout.OF_A_PLAN)
    job = answer.plan.job
    choice = answer.plan.choice(answer.fault.id)
    out.print(Text(f"{wording.fault(choice)} ({wording.SEVERITY_MARK[answer.fault.severity]})", style="heading"))
    cheapest_first = sorted(answer.rows, key=lambda row: (row.alone_minor, -row.option.chance))
    lettered = list(zip(letters(), cheapest_first, strict=False))
    if lettered:
        out.print(_side_by_side(answer, lettered))
        out.print(Text(compare_words.key(answer), style="remark"))
        for letter, row in lettered:
            out.print(layout.bullet(_in_words(answer, row), f"{letter} "))
    if choice.option is None:
        out.print()
        out.print(faults.what_to_do(job, choice, steps.numbers(answer.plan)))


def compared(out: Console, answer: Comparison) -> None:
    out.width = max(out.width, layout.OF_A_PLAN)
    dangers.show(out, answer.plan.job, answer.plan.selection)
    comparison(out, answer)


def verified(out: Console, job: Job, said: Sequence[Notice]) -> None:
    dangers.show(out, job)
    out.print(wording.all_well(job, len(said)))
    for one in said:
        out.print(Text(f"- {wording.notice(job, one)}"))


def _do_first(answer: Plan) -> Table:
    job, text = answer.job, answer.job.currency.text
    profit = job.settings.aim == "profit"
    columns = ("Chance", "Money", *(["Profit"] * profit))
    table = layout.table(("#", "right"), ("Check", "wrap"), ("Min", "right"), *((name, "right") for name in columns))
    numbered = steps.numbers(answer)
    for look in answer.do_first:
        said = Text(f"{wording.fault(answer.choice(look.fault))}: ", style="heading")
        table.add_row(
            str(numbered.faults[look.fault]),
            said.append(route_words.look(job, look.fault, look.check, look.also), style="not bold"),
            str(look.minutes),
            _signed(round(look.fixes * 1000), "adds", lambda tenths: f"{tenths / 10:.1f} pts"),
            _signed(half_up(look.saved_minor), "saves", text),
            *([_signed(half_up(look.earned_minor), "earns", text)] * profit),
        )
    return table


def _signed(value: int, more: str, figure: Callable[[int], str]) -> str:
    """A figure behind the word for its sign; a dash where it is nothing."""
    return f"{more if value > 0 else 'costs'} {figure(abs(value))}" if value else "-"


def _order(answer: Plan, order: Order) -> RenderableType:
    job, currency = answer.job, answer.job.currency
    numbered = steps.numbers(answer)
    table = layout.table(
        ("#", "right"), ("Part", "wrap"), ("Condition", "left"), ("Packs", "right"), ("Price", "money"),
        ("Goods", "money"), ("Ref", "wrap"),
    )  # fmt: skip
    for line in order.lines:
        table.add_row(
            str(numbered.lines[line.quote.id]),
            Text(wording.part(job, line.quote.part)),
            line.quote.condition,
            wording.packs(line),
            currency.text(line.quote.price_minor),
            currency.text(line.goods_minor),
            Text(wording.plain(line.quote.ref)),
        )
    said = " ".join(filter(None, (wording.order_sums(job, order), route_words.before_sending(answer, order, numbered))))
    return Group(table, Padding(Text(said), (0, 0, 0, 2)))


def _money(answer: Plan) -> RenderableType:
    text, purse = answer.job.currency.text, answer.purse
    table = Table(box=None, pad_edge=True, show_header=False, padding=(0, 1))
    table.add_column(no_wrap=False)
    table.add_column(justify="right", no_wrap=True, style="money")
    table.add_row("The whole pot", text(purse.cap_minor))
    table.add_row("less the purchase and what is spent", text(-purse.committed_minor))
    table.add_row("less what is held back", text(-purse.hold_back_minor))
    table.add_row(Text("Remaining for this plan", style="heading"), Text(text(purse.remaining_minor), style="heading"))
    table.add_row("less orders, goods and postage", text(-purse.orders_minor))
    table.add_row("less direct prices, hire and consumables", text(-purse.direct_minor))
    table.add_row("less deposits paid now", text(-purse.deposits_minor))
    if purse.fallbacks_minor:
        table.add_row("less what is kept for later steps and fallbacks", text(-purse.fallbacks_minor))
    table.add_row(Text("Unspent", style="heading"), Text(text(purse.unspent_minor), style="heading"))
    if purse.deposits_due_minor:
        table.add_row("to come back with the old units", text(purse.deposits_due_minor))
    time = Text(outcome_words.time(answer, worth=True))
    sold = outcome_words.at_the_sale(answer)
    return Group(table, *(Padding(said, (0, 0, 0, 1)) for said in (time, Text(sold or "")) if said))


def _lists(out: Console, answer: Plan) -> None:
    job = answer.job
    lists = (
        ("Cured", [wording.named(cured) for cured in job.closed]),
        ("Bought and not fitted yet", [wording.on_order(job, some) for some in job.on_order]),
        (
            "Deposits due back, once the old units are returned",
            [wording.deposit_due(job, d) for d in answer.deposits_back],
        ),
        ("Quotes to get first: these prices are rough", rough_words.lines(answer)),
        ("Work whose price is rough: ask before it is begun", rough_words.work(answer)),
        ("Left over", [f"{o.units} x {wording.part(job, o.part)}" for o in answer.leftovers]),
        (
            "Checks not worth their time",
            [route_words.worth(job, c, w) for c in answer.choices for w in c.checks if w.left_out],
        ),
        ("Not offered", [wording.not_offered(job, barred) for barred in answer.not_offered]),
        ("Mind", remarks.in_full(answer)),
        ("Cautions", [f"{system}: {' '.join(said)}" for system, said in answer.cautions.items()]),
    )
    layout.listed(out, lists)


def letters() -> Iterator[str]:
    """A to z, then aa, ab, ..."""
    for length in count(1):
        yield from ("".join(letters) for letters in product(ascii_lowercase, repeat=length))


def _side_by_side(answer: Comparison, lettered: Iterable[tuple[str, Forced]]) -> Table:
    text = answer.plan.job.currency.text
    worth = "Profit" if answer.plan.job.settings.aim == "profit" else "Fixes"
    table = layout.table(
        ("", "right"), ("Condition", "wrap"), ("Alone", "money"), ("Landed", "money"), ("Chance", "right"),
        ("Per fix", "right"), ("Days", "right"), ("Warranty", "right"), (worth, "right"),
    )  # fmt: skip
    table.collapse_padding = True
    for letter, row in lettered:
        landed = tables.landed_if_forced(answer, row)
        warranty, per_fix = tables.shortest_warranty(row), tables.cost_per_fix(row, landed)
        table.add_row(
            f"=> {letter}" if answer.plan.takes(row.option) else letter,
            compare_words.conditions(row.option),
            text(row.alone_minor),
            "-" if landed is None else text(landed),
            compare_words.chance(row),
            "-" if per_fix is None else text(per_fix),
            str(row.option.days),
            "-" if warranty is None else f"{warranty} mth",
            "-" if row.plan is None else _worth(row.plan),
        )
    return table


def _worth(plan: Plan) -> str:
    profit = plan.profit_minor
    return f"{plan.expected_fixes:.3f}" if profit is None else plan.job.currency.text(profit)


def _in_words(answer: Comparison, row: Forced) -> Text:
    job = answer.plan.job
    said = Text(f"{wording.repair(job, row.option)}: {wording.sources(job, row.option)}. ")
    landed = tables.landed_if_forced(answer, row)
    if not answer.plan.takes(row.option) or landed is None:
        return said.append(f"Taken instead, it {compare_words.loses(answer.plan, row)}.", style="remark")
    said.append("The plan's choice. ", style="heading").append(wording.why(job, answer.plan.choice(answer.fault.id)))
    return said.append("\n").append("\n".join(compare_words.switch(job, row)))
