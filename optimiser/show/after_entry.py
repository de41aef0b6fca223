"""How the plan moves once something was written down: a few lines, or JSON; and the numbers of steps that are new."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from optimiser.calls import call
from optimiser.model import events, route
from optimiser.model.job import Job
from optimiser.model.moves import Moves
from optimiser.model.plan import Plan
from optimiser.model.route import AttemptStep, CheckStep
from optimiser.show import (
    cause_words,
    change_words,
    changes,
    dangers,
    diary,
    diary_words,
    remarks,
    steps,
    tonight_words,
    wording,
)

FORMAT = 1
MOST_NEW = 8


def show(out: Console, plan: Plan, moves: Moves | None, before: Mapping[str, int] | None) -> None:
    """What moved and why, the money, what to do next, and the step numbers not given ``before``.

    None where no number of this plan will count, as nobody keeps it.
    """
    dangers.show(out, plan.job, plan.selection)
    for line in remarks.at_once(plan):
        out.print(Text(line))
    if moves is None:
        out.print(Text(f"No earlier plan is kept to compare with: {call('plan')} shows this one in full."))
        out.print(Text(change_words.left(plan)))
        out.print(Text(tonight_words.next_step(plan)))
        return
    changes.short(out, moves)
    if before is not None:
        _numbers(out, plan, before)


def _numbers(out: Console, plan: Plan, before: Mapping[str, int]) -> None:
    told = _told(plan)
    found = [(number, said) for number, said in new_steps(plan, before) if number in told]
    if not found:
        return
    out.print(Text("Steps keep the numbers they had. New steps:" if before else "Steps have new numbers:"))
    table = Table.grid(padding=(0, 1))
    table.add_column(justify="right")
    for number, said in found[:MOST_NEW]:
        table.add_row(str(number), Text(said))
    out.print(Padding(table, (0, 0, 0, 2)))
    if len(found) > MOST_NEW:
        out.print(Text(f"and {len(found) - MOST_NEW} more: {call('plan')} --full shows them."))


def new_steps(plan: Plan, before: Mapping[str, int]) -> Iterator[tuple[int, str]]:
    """The steps whose numbers were not given before, in words."""
    known, numbered = set(before.values()), steps.numbers(plan)
    for choice in plan.choices:
        nodes = () if choice.route is None else route.steps(choice.route.first)
        for number, node in zip(numbered.trees.get(choice.fault.id, ()), nodes, strict=True):
            if number is not None and number not in known:
                yield number, f"{wording.fault(choice)}: {_step(plan, choice.fault.id, node)}"
    for order in plan.orders:
        for line in order.lines:
            number = numbered.lines.get(line.quote.id)
            if number is not None and number not in known:
                yield number, f"order {wording.order_line(plan.job, order.supplier.id, line)}"


def _told(plan: Plan) -> set[int]:
    """The steps that a plan in words names: what is seldom come to has its number, and is not told of."""
    numbered = steps.numbers(plan)
    trees = (
        steps.numbered(choice.route.first, numbered.trees[choice.fault.id])
        for choice in plan.choices
        if choice.route is not None
    )
    return {*numbered.lines.values(), *(number for tree in trees for number in steps.told(tree))}


def _step(plan: Plan, fault: str, node: CheckStep | AttemptStep) -> str:
    if isinstance(node, CheckStep):
        return f"look, {wording.check(plan.job, fault, node.check)}"
    sources = f", {wording.sources(plan.job, node.option)}" if node.option.lines else ""
    return f"{wording.repair(plan.job, node.option)}{sources}"


def entries(job: Job, written: Sequence[tuple[int | None, events.EventHead]]) -> list[dict[str, Any]]:
    """The entries written down, or supposed (number None), as JSON."""
    return [
        {"number": number, **diary.fields(job, what), "said": diary_words.said(job, what)} for number, what in written
    ]


def written_alone(
    job: Job, written: Sequence[tuple[int | None, events.EventHead]], notes: Sequence[str], supposed: bool
) -> dict[str, Any]:
    """The entries written down, where they can move nothing."""
    return {
        "format": FORMAT,
        "supposed": supposed,
        **dangers.document(job),
        "entries": entries(job, written),
        "notes": list(notes),
    }


def pot(job: Job, was_minor: int, now_minor: int) -> dict[str, Any]:
    """Another whole pot as a key of a JSON answer."""
    return {"pot": {"was": job.currency.text(was_minor), "now": job.currency.text(now_minor)}}


def document(
    plan: Plan,
    moves: Moves | None,
    written: Sequence[tuple[int | None, events.EventHead]],
    notes: Sequence[str],
    before: Mapping[str, int],
    supposed: bool,
) -> dict[str, Any]:
    """The entries written down and how the plan moves; ``moves`` is null where no earlier plan is kept."""
    money, purse = plan.job.currency.text, plan.purse
    return {
        **written_alone(plan.job, written, notes, supposed),
        **dangers.document(plan.job, plan.selection),
        "moves": None if moves is None else changes.document(moves),
        "expected_fixes": plan.expected_fixes,
        "money": {name: money(getattr(purse, f"{name}_minor")) for name in ("committed", "remaining", "unspent")},
        "new_steps": [{"step": number, "said": said} for number, said in new_steps(plan, before)],
        "cautions": remarks.at_once(plan),
        "next": tonight_words.next_step(plan),
        "cured": [cause_words.fault_title(plan.job, fault.id) for fault in plan.job.closed],
    }
