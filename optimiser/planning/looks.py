"""The checks to make first over all faults, and the odds after each result."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import copysign, inf

from optimiser.diagnosis import belief, groups
from optimiser.model.evidence import Evidence, Finding
from optimiser.model.job import Check, Fault, Job
from optimiser.model.plan import Choice, FirstCheck, Odds
from optimiser.model.protection import licences_lacking
from optimiser.model.route import CheckStep
from optimiser.planning.totals import check_of


@dataclass(frozen=True)
class _Look:
    """A check that some route begins with, and its worth; ``also`` are other open faults that list it."""

    fault: Fault
    check: Check
    also: tuple[str, ...]
    fixes: float
    saved_minor: float
    earned_minor: float
    worth: float


def first_checks(job: Job, choices: Iterable[Choice]) -> tuple[FirstCheck, ...]:
    """The checks that routes begin with, the gravest faults' first (see ``Fault.turn``), every access counted once.

    Among equals next comes the block of looks with the greatest worth per minute: some access not open
    yet, with the looks behind it that raise the ratio. That is the rule for jobs behind a common preparation (Sidney
    1975, section 3; Horn 1972): it has the worth as early as can be where accesses are nested or apart. Of a block only
    the access that most of its looks name is opened before the next look round; its minutes go to the first look that
    names it.
    """
    minutes = {access.id: access.minutes for access in job.access}
    left = _once([look for choice in choices if (look := _look(job, choice)) is not None])
    opened: set[str] = set()
    owed: set[str] = set()
    ordered: list[FirstCheck] = []
    while left:
        first_turn = min(look.fault.turn for look in left)
        ready = [look for look in left if look.fault.turn == first_turn]
        block = max((_block(look, ready, opened, minutes) for look in ready), key=lambda b: _ratio(b, opened, minutes))
        closed = Counter(name for look in block for name in sorted(look.check.access) if name not in opened)
        if closed:
            first = closed.most_common(1)[0][0]
            opened.add(first)
            owed.add(first)
            continue
        look = block[0]
        opening = owed & set(look.check.access)
        owed -= opening
        left.remove(look)
        ordered.append(
            FirstCheck(
                fault=look.fault.id,
                check=look.check.id,
                also=look.also,
                minutes=look.check.minutes + sum(minutes[name] for name in opening),
                worth=look.worth,
                fixes=look.fixes,
                saved_minor=look.saved_minor,
                earned_minor=look.earned_minor,
            )
        )
    return tuple(ordered)


def for_nothing(job: Job, fault: Fault) -> Check | None:
    """The most telling check of a fault that takes no money and that nothing forbids now; None where there is none.

    A plan keeps money for whatever it may show, so it is worth nothing there while the dearest of that is out of reach;
    made all the same it may show something that the money does reach.
    """
    if licences_lacking(job, fault):
        return None
    made = {entry.check for entry in job.seen.get(fault.id, ()) if isinstance(entry, Finding)}
    priced = {access.id for access in job.access if access.price_minor}
    free = (c for c in fault.checks if c.id not in made and not c.cost_minor and priced.isdisjoint(c.access))
    able = [c for c in free if not job.must_wait(fault.id, c)]
    believed, tables = groups.standing(job, fault).chances, groups.tables(job, fault)
    told = {c.id: belief.telling(believed, tables.get(c.id) or belief.likelihoods(c, list(believed))) for c in able}
    return max((c for c in able if told[c.id] > 0), key=lambda c: (told[c.id], -c.minutes, c.id), default=None)


def _look(job: Job, choice: Choice) -> _Look | None:
    if choice.route is None or not isinstance(choice.route.first, CheckStep):
        return None
    check = check_of(job, choice.fault.id, choice.route.first.check)
    known = next((worth for worth in choice.checks if worth.check == check.id), None)
    fixes, saved, earned = (known.fixes, known.saved_minor, known.earned_minor) if known else (0.0, 0.0, 0.0)
    of_the_pot = saved / job.pot.remaining_minor if job.pot.remaining_minor > 0 else 0.0
    name = _name(choice.fault, check)
    also = tuple(f.id for f in job.faults if f.id != choice.fault.id and any(_name(f, c) == name for c in f.checks))
    return _Look(choice.fault, check, also, fixes, saved, earned, choice.fault.importance * fixes + of_the_pot)


def _name(fault: Fault, check: Check) -> str:
    """The name of a check, the same in every fault that lists it."""
    return check.same_as or f"{fault.id}.{check.id}"


def _once(looks: Iterable[_Look]) -> list[_Look]:
    """The looks with those laid together that are one check."""
    found: dict[str, _Look] = {}
    for look in looks:
        first = found.setdefault(_name(look.fault, look.check), look)
        if first is not look:
            found[_name(look.fault, look.check)] = replace(
                first,
                worth=first.worth + look.worth,
                fixes=first.fixes + look.fixes,
                saved_minor=first.saved_minor + look.saved_minor,
                earned_minor=first.earned_minor + look.earned_minor,
            )
    return list(found.values())


def _block(first: _Look, left: Sequence[_Look], opened: set[str], minutes: dict[str, int]) -> list[_Look]:
    """The looks that can be made once a look's accesses are open, as long as each raises the worth per minute."""
    reach = opened | set(first.check.access)
    behind = [look for look in left if reach.issuperset(look.check.access)]
    block: list[_Look] = []
    for look in sorted(behind, key=lambda x: (-_rate(x), x.fault.id)):
        if block and _rate(look) < _ratio(block, opened, minutes):
            break
        block.append(look)
    return block


def _rate(look: _Look) -> float:
    return _per_minute(look.worth, look.check.minutes)


def _ratio(block: Sequence[_Look], opened: set[str], minutes: dict[str, int]) -> float:
    """Worth per minute of a block, opening up for it included."""
    opening = {name for look in block for name in look.check.access} - opened
    spent = sum(minutes[name] for name in opening) + sum(look.check.minutes for look in block)
    return _per_minute(sum(look.worth for look in block), spent)


def _per_minute(worth: float, minutes: int) -> float:
    """A block without minutes comes before all others, unless it is worth nothing."""
    return worth / minutes if minutes else copysign(inf, worth) if worth else 0.0


def cause_odds(job: Job, choice: Choice) -> tuple[Odds, ...]:
    """The causes of a fault with several: as written, now, and after each result of the check that comes first."""
    fault = choice.fault
    written = belief.prior(fault)
    if len(written) < 2:
        return ()
    now = groups.standing(job, fault).chances
    after: dict[str, belief.Belief] = {}
    if choice.route is not None and isinstance(choice.route.first, CheckStep):
        check = check_of(job, fault.id, choice.route.first.check)
        for branch in choice.route.first.then:
            after[branch.result] = _after(job, fault, groups.made_now(job, fault, check, branch.result))
    return tuple(
        Odds(cause=cause, written=written[cause], now=now[cause], after={r: b[cause] for r, b in after.items()})
        for cause in written
    )


def _after(job: Job, fault: Fault, finding: Evidence) -> belief.Belief:
    seen = {**job.seen, fault.id: (*job.seen.get(fault.id, ()), finding)}
    return groups.standing(job.model_copy(update={"seen": seen}), fault).chances
