"""Answers as JSON: money as decimal strings in the currency's places, chances as numbers, ids as in the job."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

from optimiser.errors import InputError
from optimiser.model.job import Job
from optimiser.model.option import Line, NotOffered
from optimiser.model.plan import (
    PROFIT,
    Beyond,
    Choice,
    Comparison,
    FirstCheck,
    Forced,
    Notice,
    Odds,
    Order,
    OrderLine,
    Plan,
    QuoteToGet,
    Selection,
    per_minor,
)
from optimiser.model.quotes import Quote
from optimiser.model.route import AttemptStep, CheckStep, Stop
from optimiser.money import half_up
from optimiser.planning import sending
from optimiser.show import dangers, outcome_words, rough_words, route_words, steps, tables, wording

FORMAT = 1


def text(answer: Any) -> str:
    """The JSON document of an answer, with a line's end; in ASCII, so that nothing in it can steer a terminal."""
    document = json.dumps(answer, indent=2, ensure_ascii=True, allow_nan=False)
    return document.replace("\x7f", "\\u007f") + "\n"


def pieces(answer: Any) -> Iterator[str]:
    """The same document bit by bit, for an answer with very many rows: an iterator in it is a list, one row a line."""
    if isinstance(answer, Mapping) and answer:
        for place, (key, value) in enumerate(answer.items()):
            yield f"{',' if place else '{'}\n{_bare(key)}: "
            yield from pieces(value)
        yield "\n}"
    elif isinstance(answer, Iterator | list | tuple):
        yield "["
        for place, each in enumerate(answer):
            yield ",\n" if place else "\n"
            yield from pieces(each) if isinstance(each, Mapping) and _holds_rows(each) else [_bare(each)]
        yield "\n]"
    else:
        yield _bare(answer)


def _holds_rows(answer: Mapping[str, Any]) -> bool:
    return any(isinstance(value, Iterator) for value in answer.values())


def _bare(answer: Any) -> str:
    return json.dumps(answer, ensure_ascii=True, allow_nan=False).replace("\x7f", "\\u007f")


def head(job: Job, selection: Selection | None = None) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "job": {"title": job.settings.title, "currency": job.settings.currency},
        **dangers.document(job, selection),
    }


def plan(answer: Plan) -> dict[str, Any]:
    """The plan in the shape that the formats page fixes; ``bound`` is the best that any mix could reach.

    Where a stage was not closed ``bound_stage`` names it, and the bound is that stage's.
    """
    job, money = answer.job, answer.job.currency.text
    numbered = steps.numbers(answer)
    return {
        "format": FORMAT,
        "job": {"title": job.settings.title, "currency": job.settings.currency},
        "money": {name: money(getattr(answer.purse, f"{name}_minor")) for name in tables.AMOUNTS},
        **_value(answer),
        **outcome_words.document(answer),
        **dangers.document(job, answer.selection),
        "do_first": [_first_check(job, look, numbered) for look in answer.do_first],
        "faults": [fault(job, choice, numbered) for choice in answer.choices],
        "orders": _orders(answer, numbered),
        "quotes_to_get": [_to_get(job, one) for one in answer.quotes_to_get],
        "rough_work": rough_words.work(answer),
        "leftovers": [{"part": left.part, "units": left.units} for left in answer.leftovers],
        "closed": [cured.id for cured in job.closed],
        "on_order": [some.model_dump() for some in job.on_order],
        "deposits_due_back": [
            due.model_dump(exclude={"money_minor", "each_minor", "fitted"}) | {"money": money(due.money_minor)}
            for due in answer.deposits_back
        ],
        "access": [access.id for access in answer.access],
        "minutes": answer.minutes,
        "expected_minutes": answer.expected_minutes,
        "minutes_not_said": [f"{fault}/{repair}" for fault, repair in answer.minutes_unsaid],
        "net_cost": money(answer.purse.net_minor),
        "odds": {name: [odds(one) for one in found] for name, found in answer.odds.items()},
        "not_offered": [not_offered(job, barred) for barred in answer.not_offered],
        "cautions": [
            *dangers.lines(job, answer.selection),
            *(wording.notice(job, said) for said in answer.notices),
            *(f"{system}: {line}" for system, lines in answer.cautions.items() for line in lines),
        ],
    }


def not_offered(job: Job, barred: NotOffered) -> dict[str, Any]:
    return {"kind": barred.kind, "id": barred.id, "reason": wording.because(job, barred)}


def _to_get(job: Job, one: QuoteToGet) -> dict[str, Any]:
    """A part with a rough price only."""
    money = job.currency.text
    return {
        "part": one.part,
        "conditions": list(one.conditions),
        "low": money(one.low_minor),
        "high": money(one.high_minor),
        "pieces": one.pieces,
        "in_doubt": money(one.doubt_minor),
    }


def _value(answer: Plan) -> dict[str, Any]:
    """The value of the plan, and how well that is known."""
    bound, unit = _bound(answer)
    money = answer.job.currency.text
    return {
        "expected_fixes": answer.expected_fixes,
        "expected_count": answer.expected_count,
        **({} if answer.profit_minor is None else {"expected_profit": money(answer.profit_minor)}),
        "proven": answer.outcome.proven,
        "cheapest": answer.outcome.cheapest,
        "bound": bound,
        "bound_unit": unit,
        "bound_stage": answer.outcome.stage or None,
        "budget_rule": "never-over",
        "safety_first": answer.job.settings.safety_first,
    }


def orders(answer: Plan) -> dict[str, Any]:
    return head(answer.job, answer.selection) | {"orders": _orders(answer, steps.numbers(answer))}


def comparison(answer: Comparison) -> dict[str, Any]:
    return {"fault": answer.fault.id, "options": [_forced(answer, row) for row in answer.rows]}


def compared(answer: Comparison) -> dict[str, Any]:
    return dangers.document(answer.plan.job, answer.plan.selection) | comparison(answer)


def problems(wrong: InputError) -> dict[str, Any]:
    """Everything wrong with the job as written."""
    fields = ("file", "where", "key", "found", "expected", "mend")
    listed = [{name: getattr(problem, name) for name in fields} for problem in wrong.problems]
    return {"format": FORMAT, "problems": listed, "left_out": wrong.left_out, "cautions": []}


def verified(job: Job, said: list[Notice]) -> dict[str, Any]:
    return {
        "format": FORMAT,
        "problems": [],
        "left_out": 0,
        **dangers.document(job),
        "cautions": [wording.notice(job, one) for one in said],
    }


def _bound(answer: Plan) -> tuple[float, str]:
    """The best that any mix could reach in the stage that was not closed; in the last stage where all were."""
    known, levels = answer.outcome, answer.selection.levels
    stage = known.stage or (PROFIT if PROFIT in levels else "")
    if stage == "":
        return answer.expected_fixes, "fixes"
    if known.unit == "fixes" and stage != PROFIT:
        return (levels[stage] + known.better_at_most) / 1_000_000, "fixes"
    sign = 1 if stage == PROFIT else -1
    reached = levels[stage] // per_minor(stage)
    return float(answer.job.currency.decimal(reached + sign * known.better_at_most)), "money"


def fault(job: Job, choice: Choice, numbered: steps.Numbers) -> dict[str, Any]:
    """One fault of a plan, its whole route in it."""
    money, option = job.currency.text, choice.option
    return {
        "id": choice.fault.id,
        "step": numbered.faults.get(choice.fault.id),
        "severity": choice.fault.severity.value,
        "chance": choice.chance,
        "repair": option.repair if option else None,
        "by": None if option is None else "workshop" if option.by_workshop else "self",
        "why": wording.why(job, choice),
        "parts": [
            _part(job, p.quote, p.units) | {"landed": money(p.landed_minor), "ahead": p.ahead} for p in choice.parts
        ],
        "direct_price": money(option.direct_minor if option else 0),
        "access_share": money(choice.access_minor),
        "landed": money(choice.landed_minor),
        "minutes": choice.route.worst_minutes if choice.route else 0,
        "checks": [
            {
                "check": worth.check,
                "gains": worth.fixes,
                "saves": money(half_up(worth.saved_minor)),
                "earns": _earned(job, worth.earned_minor),
                "minutes": worth.minutes,
                "taken": worth.taken,
                "left_out": worth.left_out,
                "same_next": worth.same_next,
            }
            for worth in choice.checks
        ],
        "beyond": _beyond(job, choice.beyond),
        "route": _route(job, choice, numbered),
    }


def _beyond(job: Job, beyond: Beyond | None) -> dict[str, Any] | None:
    """The cheapest likely repair of a dangerous fault, where the plan does without."""
    if beyond is None:
        return None
    by_workshop, cost = beyond.option.by_workshop, job.currency.text(beyond.cost_minor)
    return {"repair": beyond.option.repair, "by": "workshop" if by_workshop else "self", "alone": cost}


def _part(job: Job, quote: Quote, units: int) -> dict[str, Any]:
    return {
        "part": quote.part,
        "units": units,
        "supplier": quote.supplier,
        "condition": quote.condition,
        "quote": quote.id,
        "ref": quote.ref,
        "price": job.currency.text(quote.price_minor),
        "source": "order" if quote.supplier else "owned",
    }


def _route(job: Job, choice: Choice, numbered: steps.Numbers) -> dict[str, Any] | None:
    if choice.route is None or not job.settings.fallbacks:
        return None
    return _node(job, steps.numbered(choice.route.first, numbered.trees[choice.fault.id]))


def _node(job: Job, at: steps.Numbered) -> dict[str, Any]:
    """A step and what follows each of its results; ``cash`` is what it takes beside the orders that are sure."""
    node, lines, ahead = at.node, tuple[Line, ...](), tuple[str, ...]()
    if isinstance(node, AttemptStep):
        lines, ahead = node.option.lines, node.option.ahead
    name = node.check if isinstance(node, CheckStep) else node.option.repair if isinstance(node, AttemptStep) else None
    return {
        "do": node.do,
        "step": at.number,
        "id": name,
        "parts": [
            _part(job, x.quote, x.units)
            | {
                "landed": job.currency.text(x.quote.price_minor * x.quote.packs_for(x.units)),
                "ahead": x.quote.id in ahead,
            }
            for x in lines
        ],
        "cash": job.currency.text(0 if isinstance(node, Stop) else node.cash_minor),
        "minutes": 0 if isinstance(node, Stop) else node.minutes,
        "chances": {result: chance for result, chance, _ in at.then},
        "then": {result: _node(job, after) for result, _, after in at.then},
    }


def _first_check(job: Job, look: FirstCheck, numbered: steps.Numbers) -> dict[str, Any]:
    return {
        "step": numbered.faults[look.fault],
        "fault": look.fault,
        "check": look.check,
        "serves": [look.fault, *look.also],
        "minutes": look.minutes,
        "worth": look.worth,
        "gains": look.fixes,
        "saves": job.currency.text(half_up(look.saved_minor)),
        "earns": _earned(job, look.earned_minor),
    }


def _earned(job: Job, minor: float) -> str | None:
    """What a check adds to the profit, below zero what it takes; null where the job does not aim at one."""
    return job.currency.text(half_up(minor)) if job.settings.aim == "profit" else None


def odds(known: Odds) -> dict[str, Any]:
    return {"cause": known.cause, "as_written": known.written, "now": known.now, "after": dict(known.after)}


def _orders(answer: Plan, numbered: steps.Numbers) -> list[dict[str, Any]]:
    """Every order; ``better_after`` are the steps that may add to it, ``waits_for`` of a line those before whose
    answers it need not be sent.
    """
    waits = sending.waiting(answer)
    until = [numbered.faults[fault] for fault in waits.until]

    def line(one: OrderLine) -> dict[str, Any]:
        known = {"step": numbered.lines[one.quote.id], "waits_for": until if one.quote.id in waits.lines else []}
        return known | order_line(answer.job, one)

    return [
        _order(answer.job, order, [line(one) for one in order.lines])
        | {"better_after": route_words.better_after(answer, order, numbered)}
        for order in answer.orders
    ]


def _order(job: Job, order: Order, lines: list[dict[str, Any]]) -> dict[str, Any]:
    money = job.currency.text
    return {
        "supplier": order.supplier.id,
        "lines": lines,
        "goods": money(order.goods_minor),
        "postage": money(order.postage_minor),
        "free_postage_from": None if order.to_waive_minor is None else money(order.goods_minor + order.to_waive_minor),
        "deposits": money(order.deposits_minor),
        "total": money(order.total_minor),
    }


def order_line(job: Job, line: OrderLine) -> dict[str, Any]:
    """Packs of a quote in an order."""
    return {
        "part": line.quote.part,
        "condition": line.quote.condition,
        "quote": line.quote.id,
        "ref": line.quote.ref,
        "packs": line.packs,
        "pack": line.quote.pack,
        "price": job.currency.text(line.quote.price_minor),
        "deposit": job.currency.text(line.quote.deposit_minor),
    }


def _forced(answer: Comparison, row: Forced) -> dict[str, Any]:
    money = answer.plan.job.currency.text
    landed = tables.landed_if_forced(answer, row)
    up_to, per_fix = tables.price_up_to(row), tables.cost_per_fix(row, landed)
    pack = None if row.switch is None else row.switch.pack_minor
    return {
        "repair": row.option.repair,
        "by": "workshop" if row.option.by_workshop else "self",
        "chosen": answer.plan.takes(row.option),
        "parts": [
            {
                "part": line.quote.part,
                "units": line.units,
                "supplier": line.quote.supplier,
                "condition": line.quote.condition,
                "quote": line.quote.id,
                "ref": line.quote.ref,
            }
            for line in row.option.lines
        ],
        "alone": money(row.alone_minor),
        "landed": None if landed is None else money(landed),
        "chance": row.option.chance,
        "chance_in_all": tables.chance_if_forced(row),
        "cost_per_fix": None if per_fix is None else money(per_fix),
        "days": row.option.days,
        "warranty_months": tables.shortest_warranty(row),
        "value_if_forced": tables.value_if_forced(row),
        "loses": list(row.loses),
        "price_up_to": None if up_to is None else money(up_to),
        "pack_price_up_to": None if pack is None else money(pack),
        "chance_down_to": None if row.switch is None else row.switch.chance,
    }
