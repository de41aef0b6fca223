"""How the plan moved, on a terminal, as JSON and as rows of a table."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from rich.console import Console
from rich.text import Text

from optimiser.model.moves import Cause, Move, Moves, Side
from optimiser.model.route import Route
from optimiser.show import cause_words, change_words, dangers, layout
from optimiser.show.change_words import ITEM
from optimiser.show.tables import Column, Row

FORMAT = 1
MOVES = (
    Column("fault", "id", "the fault"),
    Column("severity", "word", "minor, major or dangerous (Directive 2014/45/EU)"),
    Column("turn", "word", "what became of it"),
    Column("first_before", "id", "what came first then: a check or a repair; empty where it was left"),
    Column("first_now", "id", "what comes first now"),
    Column("chance_before", "0..1", "chance of cure then"),
    Column("chance_now", "0..1", "chance of cure now"),
    Column("landed_before", "money", "share of the expected net cost then"),
    Column("landed_now", "money", "share of the expected net cost now"),
    Column("paid", "money", "paid on it since"),
    Column("freed", "money", "what it held of the pot, less what was paid and what it holds now"),
    Column("found", "word", "how it is explained: alone, each, enough, together, nothing, open"),
    Column("causes", "text", "what brought it about"),
)


def rows(moves: Moves) -> Iterator[Row]:
    """One row a fault, unmoved ones too; columns ``MOVES``."""
    job = moves.plan.job
    money = job.currency.decimal
    for one in moves.moves:
        sides, freed = (one.before, one.after), one.freed_minor
        landed = [None if side is None else side.landed_minor for side in sides]
        yield (
            one.fault.id,
            one.fault.severity.value,
            one.turn.value,
            *(None if side is None else _first(side.route) for side in sides),
            *(None if side is None else side.chance for side in sides),
            *(None if minor is None else money(minor) for minor in landed),
            money(one.paid_minor),
            None if freed is None else money(freed),
            one.found.value if one.moved else "",
            "; ".join(cause_words.cause(job, moves.causes[n]) for n in one.causes),
        )


def document(moves: Moves) -> dict[str, Any]:
    """The moves as JSON: money as decimal strings, chances as numbers, causes by their place in the list."""
    job = moves.plan.job
    money = job.currency.text
    before = moves.before
    return {
        "format": FORMAT,
        "job": {"title": job.settings.title, "currency": job.settings.currency},
        "against": {"plan": moves.number, "at": moves.at.isoformat(), "folder_known": moves.folder_known},
        **dangers.document(job, moves.plan.selection),
        "moves": [_move(moves, one) for one in moves.moves],
        "causes": [_cause(moves, one) for one in moves.causes],
        "fixes": {"before": None if before is None else before.fixes, "now": moves.now.fixes},
        "remaining": {
            "before": None if before is None else money(before.remaining_minor),
            "now": money(moves.now.remaining_minor),
        },
        "unspent": {
            "before": None if before is None else money(before.unspent_minor),
            "now": money(moves.now.unspent_minor),
        },
        "spent_since": money(moves.spent_minor),
        "switching": _switching(moves),
    }


def show(out: Console, moves: Moves) -> None:
    out.print(Text(change_words.heading(moves), style="heading"))
    dangers.show(out, moves.plan.job, moves.plan.selection)
    lines(out, change_words.long(moves))


def short(out: Console, moves: Moves) -> None:
    lines(out, change_words.short(moves))


def lines(out: Console, said: Iterable[str]) -> None:
    """Lines as they come; an item's further lines stand under its first word."""
    for line in said:
        out.print(layout.bullet(line.removeprefix(ITEM)) if line.startswith(ITEM) else Text(line))


def _first(route: Route | None) -> str | None:
    return None if route is None else route.first_step[-1] if route.option is None else route.option.repair


def _move(moves: Moves, one: Move) -> dict[str, Any]:
    money, freed = moves.plan.job.currency.text, one.freed_minor
    return {
        "fault": one.fault.id,
        "severity": one.fault.severity.value,
        "turn": one.turn.value,
        "before": _side(moves, one.before),
        "now": _side(moves, one.after),
        "foreseen": _first(one.foreseen),
        "paid": money(one.paid_minor),
        "bought": list(one.bought),
        "freed": None if freed is None else money(freed),
        "found": one.found.value if one.moved else None,
        "causes": list(one.causes),
    }


def _side(moves: Moves, side: Side | None) -> dict[str, Any] | None:
    if side is None:
        return None
    money, route = moves.plan.job.currency.text, side.route
    return {
        "check": route.first_step[-1] if route is not None and route.option is None else None,
        "repair": None if route is None or route.option is None else route.option.repair,
        "quotes": [] if route is None or route.option is None else [line.quote.id for line in route.option.lines],
        "chance": side.chance,
        "fixes": side.fixes,
        "landed": None if side.landed_minor is None else money(side.landed_minor),
        "most": None if side.most_minor is None else money(side.most_minor),
    }


def _cause(moves: Moves, one: Cause) -> dict[str, Any]:
    return {
        "what": one.what.value,
        "entry": None if one.supposed else one.number,
        "said": cause_words.cause(moves.plan.job, one),
        "quotes": [pair.quote.id for pair in one.quotes],
        "place": list(one.place),
        "moved": list(one.moved),
        "enough_for": list(one.enough_for),
        "checked": one.checked,
    }


def _switching(moves: Moves) -> dict[str, Any] | None:
    margin, money = moves.margin, moves.plan.job.currency.text
    if margin is None:
        return None
    amounts: tuple[Any, Any] = (margin.better, margin.small_below)
    if margin.unit == "money":
        amounts = (money(round(margin.better)), money(round(margin.small_below)))
    return {"unit": margin.unit, "better": amounts[0], "small_below": amounts[1], "small": margin.small}
