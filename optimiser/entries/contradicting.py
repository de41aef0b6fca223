"""What contradicts what was written down before, or says it again: the person is told which entries to look at."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from datetime import timedelta

from optimiser.calls import call
from optimiser.entries.context import Desk
from optimiser.errors import WordsError
from optimiser.model import events
from optimiser.state import Moment
from optimiser.state.open_findings import open_findings
from optimiser.text import in_shell

TELLING = (events.CheckMade, events.SeenToBe, events.SeenNotToBe, events.AfterCure, events.Fitting)
WITHIN = timedelta(minutes=10)
"""Invented, no published source."""
ONCE_MORE, LEAVE = "write it down once more", "leave it, it is the same"
WHEN_AND_BY = {"at", "source"}


def mind(desk: Desk, happenings: Sequence[events.Happening]) -> None:
    """Note what cannot be true beside what stands; of a fault that is open every plan says it, of a cured one none."""
    for happening in happenings:
        if isinstance(happening, events.CheckMade):
            _mind_result(desk, happening)
    _mind_overdraft(desk, happenings)
    if not any(isinstance(happening, TELLING) for happening in happenings):
        return
    then = desk.now.after(happenings, supposed=True)
    after = then.standing
    _mind_open_findings(desk, then, {getattr(happening, "fault", None) for happening in happenings})
    known = {one.clash for one in desk.now.standing.believed.values()}
    clashing = {after.believed[fault.id].clash: fault.id for fault in after.job.closed}
    for clash, fault in clashing.items():
        if clash in known | {()}:
            continue
        numbers = ", ".join(str(number) for number in sorted({what.number for _, what in clash if what.number}))
        desk.notes.append(
            f"{fault} is cured, and what is written down of it cannot all be true: entries {numbers}. If one of them is"
            f" wrong: {call('strike')} NUMBER"
        )


def _mind_overdraft(desk: Desk, happenings: Sequence[events.Happening]) -> None:
    """That more is gone by this than there was."""
    left = desk.now.after(happenings, supposed=True).job.pot.remaining_minor
    if left < 0 <= desk.job.pot.remaining_minor:
        desk.notes.append(
            f"By this the pot is overdrawn by {desk.job.currency.text(-left)} {desk.currency}: raise it if there is"
            " more, or strike this if it is not so."
        )


def _mind_open_findings(desk: Desk, then: Moment, about: Collection[str | None]) -> None:
    """What was found on a fault that is cured, and which nothing has put right: it is a fault of its own."""
    for fault in then.job.closed:
        for finding in open_findings(then.job, then.record, fault) if fault.id in about else ():
            new = call("found", "new", in_shell(finding.title(fault)), "--severity", "dangerous")
            causes = "; ".join(call("found", in_shell(fault.id), "is-not", in_shell(one)) for one in finding.causes)
            desk.notes.append(
                f"Entry {finding.entry} points at {finding.said}, and nothing written down has put that right. If it is"
                f" so, it is a fault of its own: {new}. If it is not: {causes}"
            )


def _mind_result(desk: Desk, made: events.CheckMade) -> None:
    """A check that showed something else before, with nothing fitted since that could have changed it."""
    earlier = next(_since_fitting(desk, made.fault, made.check), None)
    if earlier is not None and earlier[1].result != made.result:
        number, showed = earlier[0], earlier[1].result
        desk.notes.append(
            f"Entry {number} says that {made.check} showed {showed}: both are taken into account. If entry {number} is"
            f" wrong: {call('strike')} {number}"
        )


def _since_fitting(desk: Desk, fault: str, check: str) -> Iterator[tuple[int, events.CheckMade]]:
    """The results of a check since anything was last fitted for the fault, the latest first."""
    for number, made, _ in reversed(tuple(desk.standing)):
        if isinstance(made, events.Fitting | events.NewFault) and made.fault == fault:
            return
        if isinstance(made, events.CheckMade) and (made.fault, made.check) == (fault, check):
            yield number, made


def settle(desk: Desk, happenings: Sequence[events.Happening]) -> None:
    """Ask about what stands among the latest entries already; where nobody is there, note it.

    Raises ``WordsError`` where a person says that it is the same.
    """
    said = [happening.model_dump(exclude=WHEN_AND_BY) for happening in happenings]
    same = [
        entry.number
        for entry in desk.standing
        if desk.at - entry.happening.at <= WITHIN and entry.happening.model_dump(exclude=WHEN_AND_BY) in said
    ]
    if not same:
        return
    answer = desk.ask(
        f"Entry {same[-1]} says the same, written down minutes ago. What shall be done?", [ONCE_MORE, LEAVE]
    )
    if answer == LEAVE:
        raise WordsError([(f"Left as entry {same[-1]} has it.", "Nothing more is to be written.")])
    if answer is None and not any(f"Entry {same[-1]} says the same" in note for note in desk.notes):
        desk.notes.append(f"Entry {same[-1]} says the same, minutes ago. If it happened once: {call('undo')}")
