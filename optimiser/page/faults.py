"""A new fault from patterns: searched by plain words, chosen, put at the end of ``job.toml`` by the service."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from optimiser import job_folder, money, patterns, starting
from optimiser.errors import CallError
from optimiser.model.job import Severity
from optimiser.page.forms import Sent
from optimiser.page.live import Live
from optimiser.patterns import Pattern, Wanted
from optimiser.show import cause_words

MOST_WORDS = 200
BOTH = "both"


@dataclass(frozen=True)
class PatternShown:
    """A pattern that may be meant; ``causes`` with what is ordinarily believed of each."""

    id: str
    title: str
    severity: str
    places: tuple[str, ...]
    causes: tuple[tuple[str, str], ...]
    sure: bool


def found(words: str, known: Mapping[str, Pattern]) -> tuple[PatternShown, ...]:
    """The patterns nearest to what was said."""
    if not words.strip():
        return ()
    told = patterns.said(words[:MOST_WORDS], known)
    return tuple(_shown(one.pattern, sure=one.sure) for one in told.found)


def _shown(pattern: Pattern, *, sure: bool) -> PatternShown:
    total = sum(pattern.causes.values()) or 1
    causes = tuple((cause, f"{round(100 * odds / total)}%") for cause, odds in pattern.causes.items())
    both = (BOTH,) if len(pattern.places) == 2 else ()
    return PatternShown(pattern.id, pattern.title, pattern.severity, (*pattern.places, *both), causes, sure)


def add(live: Live, sent: Sent) -> tuple[str, ...]:
    """Put the fault that a form describes into the job; its ids. Raises ``CallError`` and as ``starting.add`` does."""
    name = sent.text("pattern")
    fault = _plain(live, sent) if name is None else _wanted(name, sent, starting.patterns())
    with live.turn:
        before = job_folder.job_bytes(live.folder)
        starting.add(live.folder, fault, live.clock.today())
        after = job_folder.job_bytes(live.folder)
    live.added[fault.ids] = after.removeprefix(before)
    return fault.ids


def undo(live: Live, ids: tuple[str, ...]) -> None:
    """Take a fault that this page put into the job out again. Raises ``CallError`` and as ``starting.take_out``."""
    with live.turn:
        standing = (entry for entry in live.now().record if entry.stands)
        if said := [entry.number for entry in standing if getattr(entry.happening, "fault", None) in ids]:
            mend = "Strike out in the diary what is written down of it first."
            raise CallError(f"Something is written down of that fault: {cause_words.entries(said)}.", mend)
        if ids not in live.added:
            raise CallError("This page did not put it in.", "Write down that it is left as it is.")
        starting.take_out(live.folder, live.added[ids], live.clock.today())
        del live.added[ids]


def _wanted(name: str, sent: Sent, known: Mapping[str, Pattern]) -> Wanted:
    pattern = known.get(name)
    if pattern is None:
        raise CallError(f"There is no pattern {name!r}.", "Search for the fault again.")
    place, likely = sent.text("place"), sent.text("likely")
    text = ":".join(filter(None, (pattern.id, place, sent.text("severity"))))
    fault = patterns.said(text, known).wanted(pattern)
    return replace(fault, name=sent.text("name") or "", odds=pattern.odds_if(likely))


def _plain(live: Live, sent: Sent) -> starting.Plain:
    """A fault that no pattern knows."""
    title, grave = sent.text("title"), sent.text("severity")
    if title is None or grave is None or grave not in _severities():
        raise CallError("What is wrong, and how grave is it?", "Fill in both.")
    try:
        chance = float((sent.text("chance") or "0.9").replace(",", "."))
    except ValueError:
        chance = 0.0
    if not 0 < chance <= 1:
        raise CallError(f"{sent.text('chance')!r} is no chance.", "Write a number above 0 and up to 1, such as 0.9.")
    return starting.Plain(
        title, Severity(grave), chance, money.given(sent.text("price") or "0", live.now().job.currency)
    )


def _severities() -> Sequence[str]:
    return [one.value for one in Severity]
