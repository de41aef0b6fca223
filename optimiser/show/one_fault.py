"""One fault of a plan in full, on a terminal and as JSON: its route, odds, checks not worth it, why, and cautions."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rich.console import Console, Group

from optimiser.model.job import needed_parts
from optimiser.model.option import NotOffered
from optimiser.model.plan import FaultInFull, Order, OrderLine
from optimiser.model.route import steps as route_steps
from optimiser.planning.sending import needs
from optimiser.planning.totals import step_access
from optimiser.show import as_json, dangers, faults, layout, remarks, route_words, steps, wording


def show(out: Console, known: FaultInFull) -> None:
    """Everything that a plan says of the fault, and its cautions in full."""
    plan, choice = known.plan, known.choice
    narrow, out.width = out.width, max(out.width, layout.OF_A_PLAN)
    dangers.show(out, plan.job, plan.selection)
    layout.lines(out, remarks.grave(plan), "danger")
    out.print(faults.table(plan, [choice]))
    if choice.route is not None:
        layout.lines(out, _money(known))
    if any(odds.after for odds in plan.odds.get(known.fault, ())):
        body = Group(*faults.odds(plan, [choice], narrow))
        layout.section(out, "What may be behind it, before and after the first look", body)
    opened = [access for access in plan.access if access.id in _opened(known)]
    if opened:
        layout.section(out, "Opening up, once each", faults.opening(plan, opened))
    job = plan.job
    lists = (
        ("Its parts in the orders", [ordered(known, order, line) for order, line in order_lines(known)]),
        ("Checks not worth their time", [route_words.worth(job, choice, w) for w in choice.checks if w.left_out]),
        ("Not offered", [wording.not_offered(job, barred) for barred in barred_for(known)]),
        ("Mind", remarks.of_fault(plan, known.fault)),
        ("Cautions", [f"{title}: {' '.join(said)}" for title, said in known.cautions.items()]),
    )
    layout.listed(out, lists)


def _money(known: FaultInFull) -> Iterator[str]:
    job, choice = known.plan.job, known.choice
    said = f"Its share of the plan's cost: {wording.amount(job, choice.landed_minor)}"
    more = choice.most_minor != choice.landed_minor
    yield f"{said} on the average, {wording.amount(job, choice.most_minor)} at the most." if more else f"{said}."


def _opened(known: FaultInFull) -> set[str]:
    """The accesses that its route may need open."""
    route = known.choice.route
    found = () if route is None else route_steps(route.first)
    return {access for step in found for access in step_access(known.plan.job, known.fault, step)}


def order_lines(known: FaultInFull) -> list[tuple[Order, OrderLine]]:
    """The lines of the plan's orders that it needs."""
    wanted = needs(known.choice)
    return [(order, line) for order in known.plan.orders for line in order.lines if line.quote.id in wanted]


def ordered(known: FaultInFull, order: Order, line: OrderLine) -> str:
    number = steps.numbers(known.plan).lines[line.quote.id]
    return f"step {number}, {wording.order_line(known.plan.job, order.supplier.id, line)}"


def barred_for(known: FaultInFull) -> list[NotOffered]:
    """What could not be taken for it: its own checks and repairs, and what is quoted or lies there of its parts."""
    fault, job = known.choice.fault, known.plan.job
    parts = needed_parts([fault])
    quotes = {quote.id for quote in job.sheets.of(parts)}
    quotes |= {name for name, row in job.shelf.items() if row.part in parts}
    return [
        barred
        for barred in known.plan.not_offered
        if barred.id == fault.id
        or barred.id.startswith(f"{fault.id}/")
        or (barred.id in quotes and (not barred.faults or fault.id in barred.faults))
    ]


def document(known: FaultInFull) -> dict[str, Any]:
    plan, job = known.plan, known.plan.job
    numbered = steps.numbers(plan)
    return {
        **as_json.head(job, plan.selection),
        "fault": as_json.fault(job, known.choice, numbered) | {"most": job.currency.text(known.choice.most_minor)},
        "odds": [as_json.odds(one) for one in plan.odds.get(known.fault, ())],
        "orders": [
            {"supplier": order.supplier.id, "step": numbered.lines[line.quote.id]} | as_json.order_line(job, line)
            for order, line in order_lines(known)
        ],
        "not_offered": [as_json.not_offered(job, barred) for barred in barred_for(known)],
        "remarks": remarks.of_fault(plan, known.fault),
        "cautions": {title: list(said) for title, said in known.cautions.items()},
    }
