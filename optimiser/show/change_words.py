"""How the plan moved, in words: an item a moved fault with its cause and the money."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from optimiser.calls import call
from optimiser.model.job import Fault, Job, Severity
from optimiser.model.moves import Cause, Explained, Margin, Move, Moves, Side, Turn
from optimiser.model.plan import Plan
from optimiser.model.route import AttemptStep, CheckStep, Route
from optimiser.show import cause_words, tonight_words, wording
from optimiser.text import first_of

ITEM = "- "
"""Begins a line that is one of several alike."""
FIRST_TAKEN = frozenset({Turn.ADDED, Turn.NEW, Turn.REOPENED})
"""Turns of faults for which the earlier plan took nothing."""
MOST_SAID = 5
"""Of a list that is not the answer itself."""


def heading(moves: Moves) -> str:
    return (
        f"{wording.title(moves.plan.job)}: the plan now against plan {moves.number} of {moves.at:%d %B %Y, %H:%M} UTC"
    )


def nothing_moved(moves: Moves) -> str:
    return f"Nothing has moved since plan {moves.number}."


class Telling:
    """Tells of moves one after the other; what a cause is, or why none is told, is said in full the first time only."""

    def __init__(self, moves: Moves) -> None:
        self.moves, self.told, self.unexplained = moves, set[int](), set[Explained]()

    def move(self, one: Move) -> str:
        """The move of one fault, the money, and why."""
        job = self.moves.plan.job
        title = wording.named(one.fault)
        said = f"{title} ({wording.SEVERITY_MARK[one.fault.severity]}): {_turned(job, one)}."
        return " ".join(part for part in (said, _figures(job, one), self.because(one)) if part)

    def because(self, one: Move) -> str:
        """The cause of a move, as far as it is known."""
        if one.found in (Explained.ALONE, Explained.EACH):
            *most, last = (self._named(n, one) for n in one.causes)
            return f"It took {', '.join(most)} and {last}." if most else f"Because of {last}."
        if one.found == Explained.ENOUGH:
            *most, last = (self._named(n, one) for n in one.causes)
            named = f"{', '.join(most)} or {last}" if most else last
            return f"{named[:1].upper()}{named[1:]} alone was enough."
        again = one.found in self.unexplained
        self.unexplained.add(one.found)
        if one.found == Explained.TOGETHER:
            things = f"No one of the {len(self.moves.causes)} things that changed explains it: they did it together."
            return "This too they did together." if again else things
        if one.found == Explained.OPEN:
            what = "What brought it about was not found"
            return f"{what} either." if again else f"{what} in the time allowed."
        return "Nothing that is known of has changed to bring it about."

    def _named(self, n: int, one: Move) -> str:
        cause = self.moves.causes[n]
        again = n in self.told and cause.number is not None
        self.told.add(n)
        return cause_words.brief(cause) if again else cause_words.cause(self.moves.plan.job, cause, one.fault.id)


def _turned(job: Job, one: Move) -> str:
    before, now = _doing(job, one.fault, one.before), _doing(job, one.fault, one.after)
    was = f"it was: {before}"
    if one.foreseen is not None:
        was = f"the plan foresaw: {first_step(job, one.fault, one.foreseen)}"
    left = one.after is None or one.after.route is None
    grave = one.fault.severity == Severity.DANGEROUS
    return {
        Turn.CURED: "cured",
        Turn.GONE: f"no longer in the job{', though nothing says that it was cured' if grave else ''}",
        Turn.REOPENED: f"open again; {now}",
        Turn.NEW: f"new; {'left for now' if left else now}",
        Turn.AS_FORESEEN: "given up, as the plan foresaw" if left else f"goes on as the plan foresaw; now {now}",
        Turn.ADDED: f"was left, is taken up: {now}",
        Turn.DROPPED: f"is left now; {was}",
        Turn.NEW_CHOICE: f"now {now}; {was}",
        Turn.LATER_STEPS: f"still {now}; what follows it is another",
        Turn.SHIFTED: f"still {now}",
        Turn.KEPT: f"as before: {now}",
        Turn.LEFT: "left, as before",
    }[one.turn]


def _doing(job: Job, fault: Fault, side: Side | None) -> str:
    return "nothing" if side is None or side.route is None else first_step(job, fault, side.route)


def first_step(job: Job, fault: Fault, route: Route) -> str:
    node = route.first
    if isinstance(node, CheckStep):
        return f'look first, "{cause_words.check_title(fault, node.check)}"'
    if not isinstance(node, AttemptStep):
        return "nothing"
    title = cause_words.repair_title(fault, node.option.repair)
    return f'"{title}", {wording.sources(job, node.option)}' if node.option.lines else f'"{title}"'


def _figures(job: Job, one: Move) -> str:
    """Chance and money before and after."""
    said = []
    before = 0.0 if one.before is None else one.before.chance
    after = 0.0 if one.after is None else one.after.chance
    if one.after is not None and wording.chance(before) != wording.chance(after):
        was = f" (was {wording.chance(before)})" if before else ""
        said.append(f"chance {wording.chance(after)}{was}")
    if one.paid_minor:
        said.append(f"{wording.amount(job, one.paid_minor)} paid since")
    freed, holds = one.freed_minor, None if one.after is None else one.after.most_minor
    if freed and one.after is not None and freed > 0:
        said.append(f"frees {wording.amount(job, freed)} of the pot")
    elif freed and holds:
        more, in_all = "" if one.turn in FIRST_TAKEN else " more", "in all " if one.paid_minor else ""
        said.append(f"{in_all}takes {wording.amount(job, -freed)}{more} of the pot")
    sentence = ", ".join(said)
    return f"{sentence[:1].upper()}{sentence[1:]}." if sentence else ""


def _listed(job: Job, causes: Sequence[Cause]) -> str:
    """Entries by number, the rest in words."""
    numbers = [one.number for one in causes if one.number is not None and not one.supposed]
    others = [cause_words.cause(job, one) for one in causes if one.number is None or one.supposed]
    more = [f"{len(others) - MOST_SAID} more"] if len(others) > MOST_SAID else []
    return "; ".join([*([cause_words.entries(numbers)] if numbers else []), *others[:MOST_SAID], *more])


def sums(moves: Moves) -> str:
    """The whole: fixes, and the money."""
    job, before, now = moves.plan.job, moves.before, moves.now
    cured = sum(move.turn == Turn.CURED for move in moves.moves)
    done = f"{cured} cured since and " if cured else ""
    if before is None:
        return f"Fixes: {done}{now.fixes:.2f} expected. {left(moves.plan)}"
    spent = "" if not moves.spent_minor else f", {_spent(job, moves.spent_minor)} since"
    over = "" if now.remaining_minor < 0 else f", of which {job.currency.text(now.unspent_minor)} stays over"
    return (
        f"Fixes: {before.fixes:.2f} expected then; {done}{now.fixes:.2f} expected now.\n"
        f"To spend: {_to_spend(job, before.remaining_minor, wording.code(job))} then{spent};"
        f" {_to_spend(job, now.remaining_minor)} now{over}."
    )


def _to_spend(job: Job, minor: int, code: str = "") -> str:
    much = f"{job.currency.text(abs(minor))}{code}"
    return f"nothing, overdrawn by {much}," if minor < 0 else much


def _spent(job: Job, minor: int) -> str:
    return f"{job.currency.text(abs(minor))} {'spent' if minor > 0 else 'came back'}"


def left(plan: Plan) -> str:
    job, purse = plan.job, plan.purse
    if purse.remaining_minor < 0:
        return f"Nothing to spend: the pot is overdrawn by {wording.amount(job, -purse.remaining_minor)}."
    held = f", {wording.amount(job, purse.hold_back_minor)} more held back" if purse.hold_back_minor else ""
    return (
        f"{wording.amount(job, purse.remaining_minor)} to spend{held}; the plan takes"
        f" {job.currency.text(purse.cash_minor)} at most, {job.currency.text(purse.unspent_minor)} stays over."
    )


def switching(job: Job, margin: Margin) -> str:
    """Whether a switch is worth it; nothing where it plainly is."""
    if not margin.small:
        return ""
    if margin.unit == "money":
        better = "no better" if not margin.better else f"better by only {wording.amount(job, round(margin.better))}"
        little = wording.amount(job, round(margin.small_below))
    else:
        better, little = f"better by only {margin.better:.3f} fixes", f"{margin.small_below:.3f}"
    return (
        f"The new plan is {better} than keeping to the last one (less than {little} counts as a little):"
        " where anything is ordered for the last one, keep to it."
    )


def idle(moves: Moves) -> str:
    found = [cause for cause in moves.causes if cause.checked and not (cause.moved or cause.enough_for)]
    return f"Moved nothing by itself: {_listed(moves.plan.job, found)}." if found else ""


def untried(moves: Moves) -> str:
    found = [cause for cause in moves.causes if not cause.checked]
    if not found:
        return ""
    more = call("moved", "--seconds 180")
    return f"Not tried as causes in the time allowed: {_listed(moves.plan.job, found)}. To allow more: {more}"


def folder_unknown(moves: Moves) -> str:
    """A warning where the last plan's folder could not be compared."""
    if moves.folder_known:
        return ""
    return f"Plan {moves.number} does not say what the folder held then: only the record was searched for causes."


def unmoved(moves: Moves) -> str:
    kept = [cause_words.fault_title(moves.plan.job, m.fault.id) for m in moves.moves if m.turn == Turn.KEPT]
    if not kept:
        return ""
    return f"As before: {first_of(kept, MOST_SAID, '; ')}."


def short(moves: Moves) -> Iterator[str]:
    """The few lines after something was written down: what moved and why, the money left, what to do next."""
    telling = Telling(moves)
    yield from (f"{ITEM}{telling.move(one)}" for one in moves.moved)
    if not moves.moved:
        yield "The plan stays as it was."
    yield from tail(moves)
    yield left(moves.plan)
    yield tonight_words.next_step(moves.plan)


def tail(moves: Moves) -> Iterator[str]:
    """Remarks beside the moves themselves."""
    margin = "" if moves.margin is None else switching(moves.plan.job, moves.margin)
    yield from (line for line in (margin, untried(moves), folder_unknown(moves)) if line)


def long(moves: Moves) -> Iterator[str]:
    """Everything, an item a line; to be wrapped by whoever shows it."""
    telling = Telling(moves)
    yield from (f"{ITEM}{telling.move(one)}" for one in moves.moved)
    if not moves.moved:
        yield nothing_moved(moves)
    yield sums(moves)
    yield from (line for line in (unmoved(moves), idle(moves)) if line)
    yield from tail(moves)
    yield tonight_words.next_step(moves.plan)
