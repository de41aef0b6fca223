"""One page for the garage wall: the next steps with boxes to tick, blanks for the maker's figures, all their cautions.

A card that runs over would lose a caution, so steps are taken in their order as long as they and all their cautions are
sure to fit; how many more there are is said.
"""

from __future__ import annotations

from dataclasses import dataclass

from rich.cells import cell_len

from optimiser.model import danger
from optimiser.model.plan import Plan
from optimiser.model.report import Report
from optimiser.show import tonight, tonight_words, wording
from optimiser.show.dangers import MARK, lines
from optimiser.show.html import fault_sheets, marks, page, sections
from optimiser.show.html.marks import Caution, CautionsTold
from optimiser.text import first_of

STEP_LINES, STEP_SIGNS = 54, 40
CAUTION_LINES, CAUTION_SIGNS = 66, 50
"""Lines of the two columns, and signs that are sure to fit into one: measured on A4 and on Letter, with room over."""
MOST_SIGNS = 120
"""Signs of a name or of a deed."""
MOST_NAMED, MOST_OF_A_DANGER = 5, 70
"""Dangerous faults in the head, and signs of each."""


@dataclass(frozen=True)
class CardStep:
    """A step on the card; ``blanks`` are written by hand."""

    number: str
    title: str
    said: str
    dangerous: bool
    blanks: tuple[str, ...]

    @property
    def lines(self) -> int:
        """The lines that it takes at the most."""
        return _lines(self.title, STEP_SIGNS) + _lines(self.said, STEP_SIGNS) + 2 * len(self.blanks) + 1


def card(known: Report) -> str:
    plan = known.plan
    named = _named(plan)
    ban = next((line.removeprefix(MARK) for line in lines(plan.job, plan.selection)), "")
    steps, cautions, more = _fitting(known, _lines(named, STEP_SIGNS + CAUTION_SIGNS))
    return page.filled(
        "card.html",
        title=marks.short(wording.title(plan.job), MOST_SIGNS),
        day=sections.head(plan).day,
        dangers=" ".join(filter(None, (ban, named))),
        steps=steps,
        cautions=cautions,
        more=more,
        nothing="" if steps else tonight_words.next_step(plan, typed=False),
    )


def _named(plan: Plan) -> str:
    """The dangerous faults by name, of many the first."""
    faults = [one.fault for one in danger.dangers(plan.job, plan.selection)]
    titles = [marks.short(wording.named(fault), MOST_OF_A_DANGER) for fault in faults]
    return f"Dangerous: {first_of(titles, MOST_NAMED, '; ')}." if titles else ""


def _fitting(known: Report, head: int) -> tuple[list[CardStep], list[Caution], int]:
    """The steps that fit below so many lines of the ``head``, their cautions, and how many are left over."""
    tasks = [task for _, group in tonight.headed(known.tonight.tasks) for task in group]
    anchors, told = fault_sheets.anchors(known.plan), CautionsTold()
    steps, cautions, used, warned = list[CardStep](), list[Caution](), head, head
    for task in tasks:
        tick = sections.tick(known, task, anchors)
        blanks = ("Maker's figures", "What it showed") if task.doing.by_hand else ()
        said = marks.short(" ".join((tick.said, *tick.beside)), MOST_SIGNS * 2)
        step = CardStep(tick.number, marks.short(tick.title, MOST_SIGNS), said, tick.dangerous, blanks)
        by_hand = known.first_cautions.get(task.faults[0], {}) if task.doing.by_hand else {}
        new = [one for one in told.tell(by_hand) if one.lines]
        more = sum(1 + _lines(" ".join(one.lines), CAUTION_SIGNS) for one in new)
        if steps and (used + step.lines > STEP_LINES or warned + more > CAUTION_LINES):
            break
        steps.append(step)
        cautions += new
        used, warned = used + step.lines, warned + more
    return steps, cautions, len(tasks) - len(steps) + len(known.tonight.left)


def _lines(text: str, signs: int) -> int:
    """Lines that a text takes at the most, its words broken where they may be."""
    return -(-cell_len(text) // signs) if text else 0
