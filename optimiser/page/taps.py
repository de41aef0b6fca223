"""A tap into the record: the words of a form understood as those of the command line are, and written before answering.

Whatever the entries would ask at a terminal is asked in the page. A form says which entry was the latest that its page
knew: where there are later ones nothing is written before the person has seen them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, cast

from optimiser import entries, service, starting
from optimiser.entries import Deal, Desk
from optimiser.entries.fitting import OUTCOMES
from optimiser.errors import CallError
from optimiser.model.events import MOST_SIGNS, Entry, Happening, standing
from optimiser.model.job import Severity
from optimiser.model.plan import Notice
from optimiser.model.quotes import CONDITIONS
from optimiser.page.forms import Sent
from optimiser.page.live import Live
from optimiser.show import wording
from optimiser.state import Moment
from optimiser.text import count

CHOSEN = ("found", "bought", "fitted", "returned")
FATES = ("kept", "sent-back", "stays-on")
BY_NUMBER_ALONE = ("bought", "returned")
"""What is said in full by the number of a step; all else takes one thing more: a result, an outcome, an amount."""


@dataclass(frozen=True)
class Done:
    """What is on the disk: the entries by number; of ``taken`` the one that was struck out."""

    numbers: tuple[int, ...]


@dataclass(frozen=True)
class Outdated:
    """Nothing was written: the form's page did not know these entries."""

    now: Moment
    since: tuple[Entry, ...]


@dataclass(frozen=True)
class Asked:
    """Nothing was written: first this is to be answered."""

    question: str
    answers: tuple[str, ...]


class _AskError(Exception):
    """Something is to be asked before anything is written."""

    def __init__(self, asked: Asked) -> None:
        self.asked = asked
        super().__init__(asked.question)


def tap(live: Live, verb: str, sent: Sent) -> Done | Outdated | Asked:
    """Write down what a form says. Raises ``CallError``, ``WordsError``, ``InputError`` and ``RecordError``."""
    if verb not in UNDERSTOOD:
        raise CallError(f"Nothing is written down by {verb!r}.", "Go back to the page and use one of its buttons.")
    if verb in CHOSEN and not sent.steps and {*sent.words} <= OUTCOMES.keys():
        raise CallError("Nothing is chosen that this is about.", "Choose it, or type the number of its step.")
    with live.turn:
        now = live.now()
        if sent.known != now.known:
            return Outdated(now, tuple(entry for entry in now.record if entry.number > sent.known))
        desk = Desk(now, live.clock.now().replace(microsecond=0), verb, _asking(sent.answers))
        _mind_steps(live, desk, sent)
        try:
            happenings = tuple(UNDERSTOOD[verb](desk, sent))
            entries.mind(desk, happenings)
            entries.settle(desk, happenings)
        except _AskError as wanted:
            return wanted.asked
        written = service.write_down(live.folder, now, happenings)
    desk.just_before(written.numbers)
    live.wrote(written.numbers, desk.notes)
    return Done(written.numbers)


def _mind_steps(live: Live, desk: Desk, sent: Sent) -> None:
    """A number typed for a step means the one that its page showed. Raises ``CallError`` where it may not."""
    if not sent.steps:
        return
    ids = {*desk.faults, *desk.titles_of_parts, *desk.titles_of_suppliers}
    beside = len(sent.all("word") + sent.all("words"))
    if beside > (desk.source not in BY_NUMBER_ALONE):
        raise CallError("A number and a name are given for one thing.", "Leave one of them out.")
    if wrong := [word for word in sent.steps if count(word) is None]:
        raise CallError(f"{wrong[0]!r} is no number of a step.", "Type it as it stands before the step, such as 4.")
    if named := ids.intersection(sent.steps):
        raise CallError(f"The job has something by the name of {min(named)} too.", "Choose by name what is meant.")
    if not live.holds(sent.plan):
        found = "The plan on that page was not kept, so the numbers of its steps may come to mean others."
        raise CallError(found, "Choose by name what is meant.")


STRIKE, LEAVE = "strike it out", "leave it"


def strike(live: Live, sent: Sent) -> Done | Outdated | Asked:
    """Strike out the entries that a form names, the latest first; asked first where others came after them. Raises as
    ``tap``.
    """
    numbers = sorted(set(sent.numbers("entry")), reverse=True)
    text = sent.text("text") or ""
    if not numbers or len(text) > MOST_SIGNS:
        raise CallError("No entry is named, or the reason is too long.", "Go back to the diary and choose one.")
    with live.turn:
        now, struck = live.now(), list[int]()
        if sent.known != now.known:
            return Outdated(now, tuple(entry for entry in now.record if entry.number > sent.known))
        after = [entry.number for entry in standing(now.record) if entry.number > numbers[-1]]
        if set(after) - set(numbers) and STRIKE not in sent.answers:
            return Done(()) if LEAVE in sent.answers else _whether_to_strike(numbers[-1], len(after))
        for number in numbers:
            _, written = service.strike(live.folder, now, live.clock.now().replace(microsecond=0), number, text)
            misfits = [each for each in written.now.job.unfit if each not in now.job.unfit]
            now = written.now
            struck += written.numbers
            live.wrote(written.numbers, [wording.notice(now.job, Notice.of_misfit(each)) for each in misfits])
    return Done(tuple(struck))


def _whether_to_strike(number: int, later: int) -> Asked:
    came = "an entry came after it" if later == 1 else f"{later} entries came after it"
    return Asked(f"Strike out entry {number}? It is not the latest: {came}, which may rest on it.", (STRIKE, LEAVE))


def _asking(answers: Sequence[str]) -> entries.Ask:
    """Answers one question after the other as the form did; the first that it did not is asked."""
    left = iter(answers)

    def ask(question: str, offered: Sequence[str]) -> str | None:
        said = next(left, None)
        if said is None:
            raise _AskError(Asked(question, tuple(offered)))
        return said if said in offered else None

    return ask


def _bought(desk: Desk, sent: Sent) -> Sequence[Happening]:
    seller = sent.text("from")
    words = [*sent.words, *(["from", seller] if seller else [])]
    deal = Deal(
        packs=_count(desk, sent, "packs"),
        pack=_count(desk, sent, "pack"),
        price=sent.text("price"),
        postage=sent.text("postage"),
        deposit=sent.text("deposit"),
        condition=cast("Any", _one_of(desk, sent, "condition", CONDITIONS)),
        ref=sent.text("ref"),
    )
    return entries.bought(desk, words, deal)


def _found(desk: Desk, sent: Sent) -> Sequence[Happening]:
    grave = _one_of(desk, sent, "severity", [one.value for one in Severity])
    return entries.found(
        desk, sent.words, sent.text("cost"), None if grave is None else Severity(grave), starting.heard_as
    )


def _fitted(desk: Desk, sent: Sent) -> Sequence[Happening]:
    then = cast("Any", _one_of(desk, sent, "then", FATES))
    return entries.fitted(desk, sent.words, then, sent.text("cost"), sent.number("entry"))


def _corrected(desk: Desk, sent: Sent) -> Sequence[Happening]:
    words, seller = sent.words, sent.text("from")
    if seller:
        words[1:1] = ["from", seller]
    condition = cast("Any", _one_of(desk, sent, "condition", CONDITIONS))
    return entries.corrected(desk, words, condition, sent.text("ref"))


UNDERSTOOD: Mapping[str, Callable[[Desk, Sent], Sequence[Happening]]] = {
    "found": _found,
    "bought": _bought,
    "fitted": _fitted,
    "refunded": lambda desk, sent: entries.refunded(
        desk, sent.words, sent.text("deposit") is not None, sent.number("entry"), sent.text("text") or ""
    ),
    "returned": lambda desk, sent: entries.returned(
        desk, sent.words, _count(desk, sent, "units"), sent.number("entry")
    ),
    "left": lambda desk, sent: entries.left(desk, sent.words, sent.text("text") or ""),
    "spent": lambda desk, sent: entries.spent(desk, sent.words, sent.text("fault")),
    "noted": lambda desk, sent: entries.noted(desk, sent.words, sent.text("fault")),
    "corrected": _corrected,
}
"""The verbs that write down, each with how a form of it is understood."""


def _one_of(desk: Desk, sent: Sent, name: str, known: Sequence[str]) -> str | None:
    text = sent.text(name)
    if text is not None and text not in known:
        desk.wrong.add(f"{text!r} is no {name}.", f"Choose one of: {', '.join(known)}.")
        return None
    return text


def _count(desk: Desk, sent: Sent, name: str) -> int | None:
    number = sent.number(name)
    if sent.text(name) is not None and not (number and number <= 10**6):
        desk.wrong.add(f"{sent.text(name)!r} is no number of {name}.", "Write a whole number such as 2.")
        return None
    return number
