"""A sheet a fault, the gravest first: cautions, its route as steps to tick, its options, what would change it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from optimiser.calls import call
from optimiser.model.job import Job
from optimiser.model.plan import Choice, FaultInFull, Plan, Reason
from optimiser.model.report import OptionBeside, OptionsBeside, Report, Turns
from optimiser.show import compare_words, one_fault, remarks, route_words, steps, wording
from optimiser.show.html import marks, pictures
from optimiser.show.html.marks import Caution, CautionsTold, Grave
from optimiser.show.html.pictures import OddsPicture, OptionsPicture
from optimiser.text import in_shell

MOST_BARRED = 12
"""What could not be taken for a fault: more is counted."""


@dataclass(frozen=True)
class RouteNode:
    """A line of a route with those that stand under it; ``number`` is empty for a result."""

    number: str
    said: str
    then: tuple[RouteNode, ...] = ()


@dataclass(frozen=True)
class OptionRow:
    """An option beside the others, by the letter that the picture has."""

    letter: str
    shape: str
    what: str
    condition: str
    net: str
    chance: str
    days: str
    place: str
    taken: bool


@dataclass(frozen=True)
class Options:
    rows: tuple[OptionRow, ...]
    picture: OptionsPicture | None
    more: str


@dataclass(frozen=True)
class FaultSheet:
    """All that is told of one fault."""

    anchor: str
    number: str
    title: str
    grave: Grave
    left: bool
    first: str
    chance: str
    cost: str
    money: str
    cautions: tuple[Caution, ...]
    route: tuple[RouteNode, ...]
    why: str
    options: Options
    change: str
    odds: OddsPicture | None
    ordered: tuple[str, ...]
    mind: tuple[str, ...]
    checks_left: tuple[str, ...]
    barred: tuple[str, ...]


def sheets(known: Report, told: CautionsTold, anchors: dict[str, str]) -> tuple[FaultSheet, ...]:
    numbered = steps.numbers(known.plan)
    return tuple(_sheet(known, choice, told, anchors, numbered) for choice in known.plan.choices)


def anchors(plan: Plan) -> dict[str, str]:
    """By fault its place in the page."""
    return {choice.fault.id: f"fault-{place}" for place, choice in enumerate(plan.choices, start=1)}


def _sheet(
    known: Report, choice: Choice, told: CautionsTold, anchors: dict[str, str], numbered: steps.Numbers
) -> FaultSheet:
    plan, job, fault = known.plan, known.plan.job, choice.fault
    taken = choice.route is not None
    beside = known.beside.get(fault.id, OptionsBeside())
    full = FaultInFull(plan=plan, fault=fault.id, cautions=known.cautions.get(fault.id, {}))
    return FaultSheet(
        anchor=anchors[fault.id],
        number=str(numbered.faults.get(fault.id, "")),
        title=marks.short(wording.fault(choice), marks.MOST_OF_A_NAME),
        grave=marks.SIGNS[fault.severity],
        left=not taken,
        first=_first(job, choice),
        chance=wording.chance(choice.chance) if taken else "",
        cost=job.currency.text(choice.landed_minor) if taken else "",
        money=_money(job, choice) if taken else "",
        cautions=told.tell(full.cautions),
        route=_route(job, choice, numbered),
        why=wording.why(job, choice),
        options=_options(plan, choice, beside),
        change=_what_would_change(known, choice, beside),
        odds=pictures.odds(plan, choice),
        ordered=tuple(_ordered(full)),
        mind=tuple(remarks.of_fault(plan, fault.id)),
        checks_left=tuple(route_words.worth(job, choice, worth) for worth in choice.checks if worth.left_out),
        barred=_barred(full),
    )


def _first(job: Job, choice: Choice) -> str:
    if choice.route is None:
        return "Left"
    if choice.option is None:
        return f"Look: {_step(wording.check(job, choice.fault.id, choice.route.first_step[-1]))}"
    return _step(wording.repair(job, choice.option))


def _step(text: str) -> str:
    """Nearly always whole: what is cut off may be what keeps fingers clear."""
    return marks.short(text, 3 * marks.SHORT_NAME)


def _money(job: Job, choice: Choice) -> str:
    """Its share of the cost, the most that it may take, and the time."""
    said = f"{wording.amount(job, choice.landed_minor)} on the average"
    if choice.most_minor != choice.landed_minor:
        said += f", {wording.amount(job, choice.most_minor)} at the most"
    minutes = 0 if choice.route is None else choice.route.worst_minutes
    return f"{said}; {wording.hours(minutes)} of your time at the most" if minutes else said


def _route(job: Job, choice: Choice, numbered: steps.Numbers) -> tuple[RouteNode, ...]:
    """The route's lines, each with those that stand deeper under it."""
    if choice.route is None:
        return ()
    return _nested(list(route_words.followed(job, choice, numbered.trees[choice.fault.id])))


def _nested(lines: Sequence[route_words.RouteLine]) -> tuple[RouteNode, ...]:
    found, place = list[RouteNode](), 0
    while place < len(lines):
        first, end = lines[place], place + 1
        while end < len(lines) and lines[end].depth > first.depth:
            end += 1
        number = "" if first.step is None else str(first.step)
        said = first.said.removeprefix(f"{number}. ") if number else first.said
        found.append(RouteNode(number, said, _nested(lines[place + 1 : end])))
        place = end
    return tuple(found)


def _ordered(full: FaultInFull) -> Iterable[str]:
    for order, line in one_fault.order_lines(full):
        said = one_fault.ordered(full, order, line)
        yield f"{said[:1].upper()}{said[1:]}"


def _options(plan: Plan, choice: Choice, beside: OptionsBeside) -> Options:
    rows = tuple(_row(plan.job, letter, row) for letter, row in zip(marks.letters(), beside.options, strict=False))
    more = f"{beside.left_out} more, each dearer than a surer one, are not listed." if beside.left_out else ""
    return Options(rows, pictures.options(plan, choice, beside), more)


def _row(job: Job, letter: str, row: OptionBeside) -> OptionRow:
    sources = wording.sources(job, row.option)
    return OptionRow(
        letter=letter,
        shape=pictures.shape(row),
        what=f"{wording.repair(job, row.option)}{f': {sources}' if row.option.lines else ''}",
        condition=compare_words.conditions(row.option),
        net=job.currency.text(row.net_minor),
        chance=wording.chance(row.option.chance),
        days=str(row.option.days),
        place=_place(row),
        taken=row.turn != Turns.NEVER,
    )


def _place(row: OptionBeside) -> str:
    """What the plan does with it, and whether it is one of the best for its money."""
    plan = {Turns.FIRST: "tried first", Turns.LATER: "later in the route", Turns.NEVER: ""}[row.turn]
    return ", ".join(filter(None, (plan, "best for its money" if row.efficient else "")))


def _what_would_change(known: Report, choice: Choice, beside: OptionsBeside) -> str:
    """A sentence on what would change the choice, from facts at hand; where the exact points are to be had."""
    exact = f"The exact points: {call('compare', in_shell(choice.fault.id))}."
    if choice.route is None:
        return " ".join(filter(None, (_if_left(known.plan, choice), exact if beside.options else "")))
    if choice.option is None:
        return f"What the look shows decides what is tried. {exact}"
    if len(beside.options) < 2:
        return "There is nothing beside it: only another quote, another way to mend it or a finding would change it."
    first = beside.first
    gaps = [] if first is None else list(_gaps(known.plan.job, beside, first))
    if not gaps:
        return f"No other way is surer, nor cheaper bought alone. {exact}"
    return f"{' '.join(gaps)} A price that closes a gap, or a finding, may change the choice. {exact}"


def _if_left(plan: Plan, choice: Choice) -> str:
    """What is missing for a fault that is left."""
    short = choice.why.cost_minor - max(0, plan.purse.unspent_minor)
    if choice.why.reason == Reason.NO_MONEY and short > 0:
        return f"With {wording.amount(plan.job, short)} more in the pot it could be paid on top of the plan."
    if choice.why.reason == Reason.NOTHING_OFFERED:
        return "A quote for its parts that may be used would change that."
    return ""


def _gaps(job: Job, beside: OptionsBeside, first: OptionBeside) -> Iterable[str]:
    """The next surer and the next cheaper option, with what parts them from the choice."""
    letter = dict(zip((row.option.key for row in beside.options), marks.letters(), strict=False))
    surer = [row for row in beside.options if row.option.chance > first.option.chance + 5e-4]
    next_surer = min(surer, key=lambda one: (one.net_minor, -one.option.chance), default=None)
    cheaper = [row for row in beside.options if row.net_minor < first.net_minor and row is not next_surer]
    if next_surer is not None:
        surer_by = f"{(next_surer.option.chance - first.option.chance) * 100:.1f} points surer"
        yield f"{letter[next_surer.option.key]} is {surer_by} {_apart(job, next_surer.net_minor - first.net_minor)}."
    if cheaper:
        row = max(cheaper, key=lambda one: (one.option.chance, -one.net_minor))
        saves = wording.amount(job, first.net_minor - row.net_minor)
        points = (first.option.chance - row.option.chance) * 100
        gives = f"gives up {points:.1f} points of chance" if points >= 0.05 else "gives up no chance, bought alone"
        yield f"{letter[row.option.key]} saves {saves} and {gives}."


def _apart(job: Job, more_minor: int) -> str:
    if more_minor == 0:
        return "for the same money"
    return f"for {wording.amount(job, abs(more_minor))} {'more' if more_minor > 0 else 'less'}, each bought alone"


def _barred(full: FaultInFull) -> tuple[str, ...]:
    """What could not be taken for it: the first of them in words, and how many more."""
    found = one_fault.barred_for(full)
    said = [wording.not_offered(full.plan.job, barred) for barred in found[:MOST_BARRED]]
    more = len(found) - len(said)
    return (*said, *([f"and {more} more"] if more else ()))
