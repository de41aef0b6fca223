"""The plan at other pots, in words."""

from __future__ import annotations

from collections.abc import Iterator

from optimiser.calls import call
from optimiser.model.job import Job
from optimiser.model.plan import Choice, Plan
from optimiser.model.stretch import READABLE, Rung, Stretch, is_safer
from optimiser.show import layout, wording
from optimiser.text import counted, first_of

MOST_NAMED = 3
LONGEST = 34
"""Letters of a title in a list of changes."""
LEAST_SHIFT = 0.01
"""Below that a chance is not told as another."""


def headline(known: Stretch) -> str:
    """The fixes of the pot as it is now; and with all checks, where the plan leaves out some and comes to others."""
    job, now, whole = known.job, fixes(known.now), fixes(known.at(known.now_minor).plan)
    said = f"With the {wording.amount(job, known.now_minor)} that are left for parts now: {now}."
    if now == whole:
        return said
    asked = wording.too_little(job)
    less = known.at(known.now_minor).plan.expected_fixes < known.now.expected_fixes
    rounded = " (no better mix, as chances count in whole steps)" if less else ""
    return f"{said} The plan leaves out checks that {asked}; with them, as at every point here, {whole}{rounded}."


def fixes(plan: Plan) -> str:
    if abs(plan.expected_count - plan.expected_fixes) < READABLE:
        return f"{plan.expected_fixes:.2f} fixes expected"
    return f"{plan.expected_fixes:.2f} fixes expected, weighted by importance ({plan.expected_count:.2f} counted alike)"


def changes(low: Rung | None, high: Rung) -> list[str]:
    """What the plan of a rung does otherwise than that of the one below it, what matters most first."""
    found = []
    for choice in high.plan.choices:
        before = None if low is None else low.plan.choice(choice.fault.id)
        if said := _turned(before, choice):
            moved = choice.fault.importance * abs(choice.chance - (0 if before is None else before.chance))
            found.append((-moved, said))
    return [said for _, said in sorted(found)]


def _turned(before: Choice | None, now: Choice) -> str | None:
    title = layout.shortened(wording.named(now.fault), LONGEST, "...")
    was = before is not None and before.route is not None
    if now.route is None:
        return f"drops {title}" if was else None
    if not was:
        return f"takes up {title} ({wording.chance(now.chance)})"
    if before is None or abs(before.chance - now.chance) < LEAST_SHIFT:
        return None
    return f"{title} {wording.chance(before.chance)} to {wording.chance(now.chance)}"


def does_more(low: Rung | None, rung: Rung) -> str:
    if low is not None:
        return in_short(changes(low, rung))
    worked = sum(choice.route is not None for choice in rung.plan.choices)
    return f"what costs nothing: {counted(worked, 'fault')} worked on" if worked else "nothing"


def in_short(said: list[str]) -> str:
    """The first of some changes, the others counted."""
    more = len(said) - MOST_NAMED
    named = said[:MOST_NAMED] if more > 1 else said
    return "; ".join([*named, *([f"{more} more"] if more > 1 else [])]) or "the same by other means"


def remarks(known: Stretch) -> Iterator[str]:
    """The conclusions for a person, the gravest first."""
    yield from _safety(known)
    for more in known.wanted_minor:
        yield _wanted(known, more)
    if (dear := known.dear) is not None:
        here, after = _about(known.job, dear.here_minor), _about(known.job, dear.after_minor)
        since = known.job.currency.text(dear.from_minor)
        yield f"From here a further fix (weighted) takes about {here}; from {since} for parts on about {after}."
    yield from _falls(known)
    yield from _limits(known)


def _safety(known: Stretch) -> Iterator[str]:
    job = known.job
    if known.safe_minor is not None and not (known.unsure and known.safe_minor == 0):
        sure = f"at least {wording.chance(job.settings.good_enough)} sure"
        reached = "as near that as anything offered comes" if known.unsure else sure
        yield f"From {_both(known, known.safe_minor)} on every dangerous fault is {reached}."
    if known.unsure:
        faults = {fault.id: fault for fault in job.faults}
        named = "; ".join(wording.plain(faults[name].title or name) for name in known.unsure)
        yield f"! No money makes these sure, with what is offered: {named}."


def _both(known: Stretch, left_minor: int) -> str:
    pot = known.job.currency.text(known.pot_minor(left_minor))
    return f"{wording.amount(known.job, left_minor)} for parts (a pot of {pot})"


def _wanted(known: Stretch, more_minor: int) -> str:
    now, then = known.at(known.now_minor), known.at(known.now_minor + more_minor)
    sign = f"{known.job.currency.text(more_minor)} more"
    if then is now:
        return f"{sign}: nothing more." if known.proven_at(known.now_minor + more_minor) else f"{sign}: not known."
    return f"{sign}: {_gained(now, then)}; {in_short(changes(now, then))}."


def _gained(now: Rung, then: Rung) -> str:
    """The fixes that are gained, weighted first; and why, where they are fewer by either count."""
    weighted = then.plan.expected_fixes - now.plan.expected_fixes
    counted = then.plan.expected_count - now.plan.expected_count
    said = f"{_more(weighted)} fixes"
    if weighted <= -READABLE and then.plan.profit_minor is not None:
        said += ", for profit is the aim"
    elif weighted <= -READABLE and is_safer(now, then):
        said += ", for what is dangerous comes first"
    if abs(weighted - counted) < READABLE:
        return said
    why = ": what is graver comes in for it" if counted <= -READABLE < weighted else ""
    return f"{said}, weighted ({_more(counted)} counted alike{why})"


def _more(gained: float) -> str:
    return f"{abs(gained):.2f} {'more' if gained > -READABLE else 'fewer'}"


def _about(job: Job, minor: float) -> str:
    """An amount that is no more than a measure, to two figures."""
    figures = len(str(round(minor))) - 2
    return job.currency.text(int(round(minor, -max(0, figures))))


def _falls(known: Stretch) -> Iterator[str]:
    if fallen := known.falls:
        money = known.job.currency.text
        at = first_of([money(rung.least_minor) for rung in fallen], MOST_NAMED)
        yield f"At {at} less is mended, weighted, than with less money: what is dangerous comes first there."


def _limits(known: Stretch) -> Iterator[str]:
    job = known.job
    if known.hours_bind_minor is not None:
        yield (
            f"With {wording.amount(job, known.hours_bind_minor)} for parts your hours bind, not the money: beyond the"
            " last line it was not looked."
        )
    if any(not rung.plan.outcome.proven for rung in known.rungs):
        yield "Lines marked ~ are the best found, not proven: some routes were not searched to their end."
    if not known.complete:
        yield (
            f"The plan does more at {len(known.rungs)} points that were found, and at others between them:"
            f" {call('stretch')} --all looks for every one, as long as [solve] seconds allows."
        )
    else:
        yield "That is every point at which more money does more; nothing lies between them."
