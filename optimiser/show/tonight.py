"""The next tasks, on a terminal and as JSON, row for row from the same list."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from optimiser.calls import call
from optimiser.model.plan import Plan
from optimiser.model.tonight import Task, Tonight
from optimiser.planning.tonight import days_left
from optimiser.show import as_json, dangers, layout, remarks, steps, tonight_words, wording
from optimiser.text import counted

DANGEROUS_FIRST = "Dangerous first"
WITH_WHAT_ADDS = "Dangerous first, and what may add to an order for it"


def show(out: Console, known: Tonight) -> None:
    plan = known.plan
    out.print(Text(tonight_words.evening(known), style="heading"))
    dangers.show(out, plan.job, plan.selection)
    layout.lines(out, remarks.at_once(plan), "heading")
    if known.urgent:
        out.print(Text("Cannot wait", style="heading"))
        for task in known.urgent:
            out.print(layout.bullet(tonight_words.cannot_wait(plan, task)))
    if not known.tasks:
        out.print(Text(tonight_words.nothing(known)))
    for heading, tasks in headed(known.tasks):
        out.print(Text(heading, style="heading"))
        out.print(_tasks(plan, tasks))
    if known.tasks and (left := tonight_words.still_open(known)):
        out.print(Text(left.strip(), style="danger"))
    layout.lines(out, _below(known))


def headed(tasks: Sequence[Task]) -> Iterator[tuple[str, Sequence[Task]]]:
    """The tasks by heading, each of them once: what is dangerous, with what comes before it, has one of its own."""
    first = [place for place, task in enumerate(tasks) if task.dangerous and not task.held and not task.long_shot]
    ahead = max(first, default=-1) + 1
    if ahead:
        yield DANGEROUS_FIRST if len(first) == ahead else WITH_WHAT_ADDS, tasks[:ahead]
    for heading, some in groupby(tasks[ahead:], key=tonight_words.heading):
        yield heading, list(some)


def _tasks(plan: Plan, tasks: Sequence[Task]) -> Table:
    grid = Table.grid(padding=(0, 1), expand=True)
    grid.add_column(justify="right", no_wrap=True, min_width=4)
    grid.add_column(ratio=1)
    grid.add_column(justify="right", no_wrap=True)
    for task in tasks:
        number, title, deed = tonight_words.told(plan, task)
        said = Text().append(title, style="danger" if task.dangerous else "heading")
        said.append(" ".join((f": {deed}", *tonight_words.beside(plan, task))))
        if commands := tonight_words.said_typed(tonight_words.typed(plan, task)):
            said.append(f"\n> {commands}")
        grid.add_row(number, said, wording.hours(task.minutes) if task.minutes else "")
    return grid


def _below(known: Tonight) -> Iterator[str]:
    """The tasks left for another evening, the parts on their way, and the cautions."""
    plan = known.plan
    yield from tonight_words.another_evening(known)
    yield from tonight_words.on_the_way(plan)
    if known.coming:
        fits = (f"step {tonight_words.numbers(plan, task)} ({counted(task.days, 'day')})" for task in known.coming)
        yield f"To be fitted once it is here: {'; '.join(fits)}."
    yield from tonight_words.needed_by(plan)
    if known.cautions:
        titles = tonight_words.caution_titles(tuple(known.cautions))
        yield f"Cautions, to be read first ({call('plan', 'STEP')}): {titles}."


def document(known: Tonight) -> dict[str, Any]:
    """The same as JSON: tasks with what to type, money as decimal strings, faults and covers by id."""
    plan, job = known.plan, known.plan.job
    by = job.settings.needed_by
    return {
        **as_json.head(job, plan.selection),
        "next": tonight_words.next_step(plan),
        "minutes": {"limit": known.limit, "filled": known.minutes},
        "tasks": [_task(plan, task) for task in known.tasks],
        "left": [_task(plan, task) for task in known.left],
        "cannot_wait": [tonight_words.cannot_wait(plan, task) for task in known.urgent],
        "once_here": [_task(plan, task) for task in known.coming],
        "on_the_way": [
            {"entry": some.bought, "part": some.part, "supplier": some.supplier, "units": some.units, "days": some.days}
            for some in job.on_order
            if some.days
        ],
        "needed_by": None if by is None else by.isoformat(),
        "days_left": None if by is None else days_left(plan, by),
        "cautions": {title: list(said) for title, said in known.cautions.items()},
        "for_nothing": dict(known.for_nothing),
        "remarks": remarks.at_once(plan),
    }


def _task(plan: Plan, task: Task) -> dict[str, Any]:
    numbered, option, last = steps.numbers(plan), task.option, task.last_day
    return {
        "doing": task.doing.value,
        "steps": tonight_words.numbers_of(plan, task),
        "faults": list(task.faults),
        "severity": None if task.severity is None else task.severity.value,
        "said": tonight_words.in_short(plan, task),
        "check": task.check or None,
        "repair": None if option is None else option.repair,
        "supplier": task.supplier or None,
        "quotes": list(task.lines) if option is None else [line.quote.id for line in option.lines],
        "may_wait": [numbered.lines[quote] for quote in task.later],
        "pay": plan.job.currency.text(task.pay_minor),
        "minutes": task.minutes,
        "minutes_not_said": task.minutes_unsaid,
        "long_shot": task.long_shot,
        "opens": list(task.opens),
        "after": [numbered.faults[name] for name in task.after],
        "days": task.days,
        "last_day": None if last is None else {"day": last.day.isoformat(), "why": last.why.value},
        "type": tonight_words.typed(plan, task),
    }
