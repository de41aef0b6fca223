"""A new fault from patterns: searched by plain words, chosen, put at the end of ``job.toml`` by the service."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from optimiser import job_folder, money, patterns, starting
from optimiser.errors import CallError
from optimiser.job_folder import package_data
from optimiser.model.events import Happening
from optimiser.model.job import Severity
from optimiser.names import slug
from optimiser.page.forms import Sent
from optimiser.page.live import Live
from optimiser.patterns import Pattern, Wanted
from optimiser.show import cause_words

MOST_WORDS = 200
OF = "/"
"""Between a fault and a way to put it right."""
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


def systems() -> tuple[tuple[str, str], ...]:
    """What a fault may belong to, by the names that the rules know."""
    return tuple((name, name.replace("-", " ")) for name in sorted(package_data.systems()))


def found(words: str, known: Mapping[str, Pattern], about: str) -> tuple[PatternShown, ...]:
    """The patterns nearest to what was said; ``about`` is what else is known of the job."""
    if not words.strip():
        return ()
    told = patterns.said(words[:MOST_WORDS], known, about)
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
    _put_in(live, fault.ids, lambda: starting.add(live.folder, fault, live.clock.today()))
    return fault.ids


def add_way(live: Live, sent: Sent) -> str:
    """Put the way that a form describes behind those of a fault; the fault and the way, as ``FAULT/WAY``.

    Raises ``CallError`` and as ``starting.add_way``.
    """
    fault, title = sent.text("fault"), sent.text("title")
    if fault is None or title is None:
        raise CallError("Which fault, and what is done?", "Fill in both.")
    price_minor = money.given(sent.text("price") or "0", live.now().job.currency)
    by_workshop = sent.text("by") == "workshop"
    way = starting.Way(title, _chance(sent), price_minor, sent.number("minutes") or 0, by_workshop)
    name = f"{fault}{OF}{slug(title)}"
    _put_in(live, (name,), lambda: starting.add_way(live.folder, fault, way, live.clock.today()))
    return name


def _put_in(live: Live, names: tuple[str, ...], write: Callable[[], object]) -> None:
    """Write something into ``job.toml`` at one place, and remember it by its names, to be taken out again."""
    with live.turn:
        before = job_folder.job_bytes(live.folder)
        write()
        after = job_folder.job_bytes(live.folder)
    begin = next((n for n, (old, new) in enumerate(zip(before, after, strict=False)) if old != new), len(before))
    live.added[names] = after[begin : begin + len(after) - len(before)]


def undo(live: Live, ids: tuple[str, ...]) -> None:
    """Take what this page put into the job out again. Raises ``CallError`` and as ``starting.take_out``."""
    with live.turn:
        standing = [entry for entry in live.now().record if entry.stands]
        if said := [entry.number for entry in standing if any(_is_about(entry.happening, name) for name in ids)]:
            mend = "Strike out in the diary what is written down of it first."
            raise CallError(f"Something is written down of it: {cause_words.entries(said)}.", mend)
        if ids not in live.added:
            raise CallError("This page did not put it in.", "Write down that it is left as it is.")
        starting.take_out(live.folder, live.added[ids], live.clock.today())
        del live.added[ids]


def _is_about(happening: Happening, name: str) -> bool:
    """Whether it tells of a fault, or of a way of a fault."""
    fault, _, way = name.partition(OF)
    return getattr(happening, "fault", None) == fault and way in ("", getattr(happening, "repair", None))


def _wanted(name: str, sent: Sent, known: Mapping[str, Pattern]) -> Wanted:
    pattern = known.get(name)
    if pattern is None:
        raise CallError(f"There is no pattern {name!r}.", "Search for the fault again.")
    place, likely = sent.text("place"), sent.text("likely")
    text = ":".join(filter(None, (pattern.id, place, sent.text("severity"))))
    fault = patterns.said(text, known).wanted(pattern)
    return replace(fault, name=sent.text("name") or "", odds=pattern.odds_if(likely))


def _plain(live: Live, sent: Sent) -> starting.Plain:
    title, grave = sent.text("title"), sent.text("severity")
    if title is None or grave is None or grave not in list(Severity):
        raise CallError("What is wrong, and how grave is it?", "Fill in both.")
    price_minor, system = money.given(sent.text("price") or "0", live.now().job.currency), sent.text("system")
    return starting.Plain(title, Severity(grave), _chance(sent), price_minor, systems=(system,) if system else ())


def _chance(sent: Sent) -> float:
    try:
        said, percent, rest = (sent.text("chance") or "0.9").replace(",", ".").partition("%")
        chance = 0.0 if rest.strip() else float(said) / (100 if percent else 1)
    except ValueError:
        chance = 0.0
    if not 0 < chance <= 1:
        mend = "Write it in percent, such as 90%, or as a number above 0 and up to 1, such as 0.9."
        raise CallError(f"{sent.text('chance')!r} is no chance.", mend)
    return chance
