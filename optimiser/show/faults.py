"""Faults on a terminal: the work on them and why, the odds of their causes, the covers that come off first."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from rich.box import SIMPLE_HEAD
from rich.cells import cell_len
from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from optimiser.model.job import Access, Job, Severity
from optimiser.model.plan import Choice, Plan
from optimiser.model.route import AttemptStep
from optimiser.model.route import steps as route_steps
from optimiser.planning import long_shots
from optimiser.planning.totals import step_access
from optimiser.show import layout, route_words, steps, wording


def table(answer: Plan, some: Iterable[Choice]) -> Table:
    """Faults with the work on them and why, their chances, costs and the longest minutes."""
    made = Table(box=SIMPLE_HEAD, pad_edge=False, padding=(0, 1), expand=True, header_style="heading")
    made.add_column("#", justify="right", no_wrap=True)
    made.add_column("Fault, what to do, and why", ratio=1)
    for name in ("Chance", "Cost", "Min"):
        made.add_column(name, justify="right", no_wrap=True, style="money" if name == "Cost" else "")
    numbered = steps.numbers(answer)
    for choice in some:
        route = choice.route
        made.add_row(
            str(numbered.faults.get(choice.fault.id, "-")),
            what_to_do(answer.job, choice, numbered),
            wording.chance(choice.chance) if route else "",
            answer.job.currency.text(choice.landed_minor) if route else "",
            str(route.worst_minutes) if route and route.worst_minutes else "",
        )
        made.add_section()
    return made


def what_to_do(job: Job, choice: Choice, numbered: steps.Numbers) -> RenderableType:
    """The work on a fault: its route step by step or its one repair with the parts, and why."""
    said = Text()
    said.append(wording.fault(choice), style="heading")
    grave = choice.fault.severity == Severity.DANGEROUS
    said.append(f" ({wording.SEVERITY_MARK[choice.fault.severity]})\n", style="danger" if grave else "")
    if choice.route is not None and choice.route.only_option is None:
        followed = route_words.followed(job, choice, numbered.trees[choice.fault.id])
        return Group(
            said[:-1],
            *(Padding(Text(line.said), (0, 0, 0, line.depth)) for line in followed),
            Text(wording.why(job, choice), style="detail"),
        )
    if choice.option is None:
        said.append("Leave it. ")
    else:
        by = " (workshop)" if choice.option.by_workshop else ""
        said.append(f"{wording.repair(job, choice.option)}{by}\n")
        for part in choice.parts:
            source = wording.source(job, part.quote)
            said.append(f"  {part.units} x {wording.part(job, part.part)}: {part.quote.condition}, {source}\n")
        said.append("".join(f"{route_words.long_shot(shot)}\n" for shot in long_shots.long_shots(job, choice)))
    said.append(wording.why(job, choice).removeprefix("Left. "), style="detail")
    return said


def odds(answer: Plan, looked: Iterable[Choice], width: int) -> Iterator[RenderableType]:
    """One small table a fault: its causes by what is believed of them; several tables where one is too wide."""
    for choice in looked:
        found = answer.odds[choice.fault.id]
        columns = [CausesThen("Now", [one.now for one in found])]
        if any(abs(one.written - one.now) > 5e-4 for one in found):
            columns.insert(0, CausesThen("As written", [one.written for one in found]))
        looked_at = "" if choice.route is None else choice.route.first_step[-1]
        for result in found[0].after:
            name = route_words.result(answer.job, choice.fault.id, looked_at, result)
            columns.append(CausesThen(name, [one.after[result] for one in found]))
        causes = [wording.plain(one.cause) for one in found]
        least = min(max(map(cell_len, causes)), WIDEST_CAUSE, width // 2)
        for beside in _side_by_side(columns, width - EDGES - least):
            yield _believed(wording.fault(choice), causes, beside, (least, width - EDGES))


WIDEST_CAUSE, LONGEST_WORD = 24, 16
"""Letters of a cause, and of a word of a result, that stay on one line, however narrow the screen is."""
GAP, EDGES = 3, 2
"""Columns between two of a table's, and at its sides."""


class CausesThen:
    """What is believed of each cause, by when or after what; as narrow as whole words allow, or its name in a line."""

    def __init__(self, name: str, chances: Sequence[float]) -> None:
        self.name, self.cells = name, route_words.shares(chances)
        self.narrow = GAP + min(max(map(cell_len, (*name.split(), *self.cells))), LONGEST_WORD)
        self.whole = GAP + max(map(cell_len, (name, *self.cells)))


def _side_by_side(columns: Sequence[CausesThen], room: int) -> Iterator[Sequence[CausesThen]]:
    """The columns by the tables that they fit into, one at the least in each."""
    some = list[CausesThen]()
    for column in columns:
        if some and sum(one.narrow for one in (*some, column)) > room:
            yield some
            some = []
        some.append(column)
    yield some


def _believed(fault: str, causes: Sequence[str], columns: Sequence[CausesThen], widths: tuple[int, int]) -> Table:
    """``widths``: the least of the causes' column, and all that there is."""
    least, width = widths
    whole = least + sum(one.whole for one in columns) <= width
    wide = [one.whole if whole else one.narrow for one in columns]
    made = layout.table((fault, "wrap"))
    made.columns[0].width = max(least, min(cell_len(fault), width - sum(wide)))
    for column, each in zip(columns, wide, strict=True):
        made.add_column(column.name, justify="right", width=each - GAP, overflow="fold")
    made.columns[0].overflow = "fold"
    for cause, *cells in zip(causes, *(column.cells for column in columns), strict=True):
        made.add_row(Text(cause), *cells)
    return made


def opening(answer: Plan, opened_up: Iterable[Access]) -> Table:
    """Covers that come off and tools that are hired, and for whose work."""
    made = layout.table(
        ("What comes off or is hired", "wrap"), ("Min", "right"), ("Price", "right"), ("For faults from step", "wrap")
    )
    numbered = steps.numbers(answer)
    for opened in opened_up:
        users = [c for c in answer.choices if opened.id in (named := _named_access(answer.job, c)) and named]
        own = any(_named_access(answer.job, c)[opened.id] for c in users)
        made.add_row(
            Text(route_words.opened_up(answer.job, opened)),
            str(opened.minutes) if own else "",
            answer.job.currency.text(opened.price_minor) if opened.price_minor else "",
            ", ".join(str(numbered.faults[c.fault.id]) for c in users),
        )
    return made


def _named_access(job: Job, choice: Choice) -> dict[str, bool]:
    """The accesses that a route may need, and whether the owner opens them."""
    named: dict[str, bool] = {}
    for step in () if choice.route is None else route_steps(choice.route.first):
        own = not (isinstance(step, AttemptStep) and step.option.by_workshop)
        for access in step_access(job, choice.fault.id, step):
            named[access] = named.get(access, False) or own
    return named
