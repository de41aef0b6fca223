"""The plan in two screens: the money as one bar, a line a fault, a line a supplier, and where to read the rest."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby
from typing import NamedTuple

from rich.console import Console
from rich.table import Table
from rich.text import Text

from optimiser.calls import call
from optimiser.model.job import Job, Severity
from optimiser.model.limits import LIMITS
from optimiser.model.plan import Choice, Order, Plan, Reason
from optimiser.planning import sending
from optimiser.show import (
    dangers,
    layout,
    money_bar,
    outcome_words,
    remarks,
    rough_words,
    steps,
    tonight_words,
    wording,
)

TWO_LINES_BELOW = 72
"""Columns below which a fault takes two lines: side by side neither it nor what is done could be made out."""
LEAST = 8
"""Columns that a fault gets on the narrowest screen."""
LEFT_BECAUSE = {limit.reason: limit.in_brief for limit in LIMITS} | {
    Reason.NOTHING_OFFERED: "nothing offered",
    Reason.LEFT_AS_IT_IS: "as you wrote",
    Reason.TOO_DEAR: "costs more than remains",
    Reason.NOT_WORTH_IT: "costs more than it adds",
    Reason.OTHERS_FIRST: "does more elsewhere",
}


class Widths(NamedTuple):
    """Columns of a fault's line: number, fault, what is done (0: on a line below), chance, cost."""

    number: int
    fault: int
    deed: int
    chance: int
    cost: int


def show(out: Console, answer: Plan) -> None:
    job = answer.job
    out.print(Text(wording.title(job), style="heading"))
    out.print(Text(wording.headline(answer)))
    if answer.profit_minor is not None:
        out.print(Text(wording.gain(answer)))
    out.print(Text(wording.outcome(answer), style="detail" if answer.outcome.proven else ""))
    dangers.show(out, job, answer.selection, listed=True)
    layout.lines(out, remarks.grave(answer), "danger")
    out.print()
    money_bar.show(out, answer)
    layout.lines(out, filter(None, (outcome_words.time(answer), outcome_words.at_the_sale_in_short(answer))))
    if (cost := outcome_words.safety(answer)) is not None:
        out.print(Text(cost))
    if answer.choices:
        out.print()
        _faults(out, answer)
    if answer.orders:
        out.print()
        _orders(out, answer)
    rough = rough_words.in_short(answer)
    layout.lines(out, [*([rough] if rough else []), *(f"! {said}" for said in remarks.in_short(answer))])
    out.print()
    layout.lines(out, _below(answer))


def _faults(out: Console, answer: Plan) -> None:
    """A line a fault, the gravest first, under the word for how grave; the costs sum to the last line."""
    numbered, widths = steps.numbers(answer), _widths(out, answer)
    number, *names = "#", "What is done first", "Chance", "Cost"
    for severity, some in groupby(answer.choices, key=lambda choice: choice.fault.severity):
        out.print(_line((number, wording.SEVERITY_MARK[severity], *names), widths, "heading"))
        number, *names = "", "", "", ""
        style = "danger" if severity == Severity.DANGEROUS else ""
        for choice in some:
            step, cost = numbered.faults.get(choice.fault.id), answer.job.currency.text(choice.landed_minor)
            fault = layout.shortened(wording.fault(choice), widths.fault, layout.signs(out).cut)
            deed = _deed(out, answer.job, choice, widths.deed or widths.fault)
            taken = choice.route is not None
            figures = (wording.chance(choice.chance), cost) if taken else ("", "")
            out.print(_line((str(step or "-"), fault, deed, *figures), widths, style))
    net = answer.job.currency.text(answer.purse.net_minor)
    out.print(_line(("", "Net cost in all", "", "", net), widths, "heading"))


def _widths(out: Console, answer: Plan) -> Widths:
    """What the figures leave is shared between the fault and what is done, a little more of it for the fault."""
    text = answer.job.currency.text
    number = max((len(str(n)) for n in steps.numbers(answer).faults.values()), default=1)
    figures = [answer.purse.net_minor, *(choice.landed_minor for choice in answer.choices)]
    cost = max(len("Cost"), *(len(text(minor)) for minor in figures))
    chance = max(len("Chance"), *(len(wording.chance(choice.chance)) for choice in answer.choices))
    rest = max(out.width - (1 + number + 2) - (2 + chance) - (2 + cost), LEAST)
    if out.width < TWO_LINES_BELOW:
        return Widths(number, rest, 0, chance, cost)
    deed = (rest - 2) * 48 // 100
    return Widths(number, rest - 2 - deed, deed, chance, cost)


def _line(cells: tuple[str, ...], widths: Widths, style: str) -> Table:
    number, fault, deed, chance, cost = cells
    grid = Table.grid(padding=(0, 2, 0, 0))
    grid.add_column(justify="right", width=widths.number + 1, no_wrap=True)
    grid.add_column(width=widths.fault, no_wrap=True)
    if widths.deed:
        grid.add_column(width=widths.deed, no_wrap=True)
    grid.add_column(justify="right", width=widths.chance, no_wrap=True)
    grid.add_column(justify="right", width=widths.cost, no_wrap=True)
    heading = style == "heading"
    first = [Text(number, style=style), Text(fault, style=style)]
    figures = [Text(chance, style=style if heading else ""), Text(cost, style=style if heading else "money")]
    said = Text(deed, style=style if heading else "")
    grid.add_row(*first, *([said] if widths.deed else []), *figures)
    if not widths.deed and deed:
        grid.add_row("", said, "", "")
    return grid


def _deed(out: Console, job: Job, choice: Choice, width: int) -> str:
    """What is done first, cut to fit, and behind it what must not be cut off: the condition, or who does it."""
    cut = layout.signs(out).cut
    if choice.route is None:
        return layout.shortened(f"left: {LEFT_BECAUSE.get(choice.why.reason, 'does more elsewhere')}", width, cut)
    if choice.option is None:
        return layout.shortened(f"look: {wording.check(job, choice.fault.id, choice.route.first_step[-1])}", width, cut)
    option = choice.option
    kinds: list[str] = [*dict.fromkeys(line.quote.condition for line in option.lines)]
    if option.by_workshop:
        kinds = ["workshop"]
    elif option.lines and all(line.quote.supplier is None for line in option.lines):
        kinds.append("here" if not option.days else "on its way")
    behind = f" ({', '.join(kinds)})" if kinds else ""
    return layout.shortened(wording.repair(job, option), width - len(behind), cut) + behind


def _orders(out: Console, answer: Plan) -> None:
    """A line a supplier with what is paid to it now, under their sum."""
    job, numbered, waits = answer.job, steps.numbers(answer), sending.waiting(answer)
    total = sum(order.total_minor for order in answer.orders)
    deposits = sum(order.deposits_minor for order in answer.orders)
    inside = f", {job.currency.text(deposits)} of it deposits" if deposits else ""
    out.print(Text(f"Orders, postage in them: {wording.amount(job, total)} in all{inside}", style="heading"))
    grid = Table.grid(padding=(0, 2, 0, 0), expand=True)
    grid.add_column(ratio=1)
    grid.add_column(justify="right", no_wrap=True, style="money")
    for order in answer.orders:
        grid.add_row(Text(f" {_order(answer, order, numbered, waits)}"), job.currency.text(order.total_minor))
    out.print(grid)


def _order(answer: Plan, order: Order, numbered: steps.Numbers, waits: sending.Waiting) -> str:
    """A supplier, the steps that its lines are, and which of them may wait."""
    lines = [numbered.lines[line.quote.id] for line in order.lines]
    later = [numbered.lines[line.quote.id] for line in order.lines if line.quote.id in waits.lines]
    held = (
        "" if not later else "; may wait" if len(later) == len(lines) else f"; {tonight_words.ranges(later)} may wait"
    )
    return f"{wording.supplier(answer.job, order.supplier.id)}: {tonight_words.stepped(lines)}{held}"


def _below(answer: Plan) -> Iterator[str]:
    """The next step, the cautions by title, and a count of all that is not shown here."""
    plan = call("plan")
    yield tonight_words.next_step(answer)
    if answer.cautions:
        titles = tonight_words.caution_titles(tuple(answer.cautions))
        yield f"Cautions to read first ({plan} STEP, or --full): {titles}."
    else:
        yield f"One fault in full: {plan} STEP."
    more = ", ".join(_elsewhere(answer))
    yield f"All of it: {plan} --full{f'; in it also {more}' if more else ''}."


def _elsewhere(answer: Plan) -> Iterator[str]:
    """A count of the remarks that only the whole plan makes."""
    job = answer.job
    checks = sum(worth.left_out for choice in answer.choices for worth in choice.checks)
    counted = (
        (len(job.closed), "cured"),
        (len(job.on_order), "bought and not fitted"),
        (len(answer.deposits_back), "deposit{s} due back"),
        (len(answer.leftovers), "left over"),
        (checks, "check{s} not worth the time"),
        (len(answer.not_offered), "not offered"),
        (sum(said.remark in remarks.DETAIL for said in answer.notices), "remark{s}"),
    )
    yield from (f"{many} {what.format(s='' if many == 1 else 's')}" for many, what in counted if many)
