"""Routes and checks in words: short numbered steps that a person follows, and why a check is not among them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from optimiser.calls import call
from optimiser.model.job import SOMETHING_ELSE, Access, Check, Job
from optimiser.model.plan import CheckWorth, Choice, Order, Plan
from optimiser.model.quotes import STILL_TO_BE_ASKED
from optimiser.model.route import CURED, NOT_CURED, AttemptStep, CheckStep, Stop
from optimiser.money import half_up
from optimiser.planning import long_shots, sending, tonight
from optimiser.planning.totals import check_of, step_access
from optimiser.show import cause_words, steps, wording
from optimiser.text import sentence


def worth(job: Job, choice: Choice, known: CheckWorth) -> str:
    figures = wording.worth_in_words(job, known.fixes, half_up(known.saved_minor), known.earned_minor)
    name = f"{wording.fault(choice)}: {wording.check(job, choice.fault.id, known.check)} ({known.minutes} min)"
    if known.same_next:
        return sentence(f"{name}: whatever it shows, you would still {_still(job, choice)}")
    adds = known.fixes >= 0.0005 or half_up(known.saved_minor) > 0
    return f"{name}{'' if adds else ' made first'} {figures}: not worth the time."


def _still(job: Job, choice: Choice) -> str:
    route = choice.route
    if route is None:
        return "leave it"
    if route.option is None:
        return f"go on with: {wording.check(job, choice.fault.id, route.first_step[-1])}"
    source = f", {wording.sources(job, route.option)}" if route.option.lines else ""
    return f"begin with: {wording.repair(job, route.option)}{source}"


def before_sending(answer: Plan, order: Order, numbered: steps.Numbers) -> str:
    """What to know before an order is sent: the steps that may add to it, and what of it may wait."""
    return " ".join(filter(None, (_better_after(answer, order, numbered), may_wait(answer, order, numbered))))


def _better_after(answer: Plan, order: Order, numbered: steps.Numbers) -> str:
    first = better_after(answer, order, numbered)
    return f"Better sent after {_numbered_things('step', first)}, which may add to it." if first else ""


def better_after(answer: Plan, order: Order, numbered: steps.Numbers) -> list[int]:
    """The steps that may add to an order, unless all of it may wait anyhow; none where prices are asked for first."""
    waits = sending.waiting(answer).lines
    if order.supplier.id == STILL_TO_BE_ASKED or all(line.quote.id in waits for line in order.lines):
        return []
    return sorted(numbered.faults[fault] for fault in tonight.adding(answer, order.supplier.id))


def may_wait(answer: Plan, order: Order, numbered: steps.Numbers) -> str:
    """The lines of an order that need not be sent yet, and the answer they wait for."""
    waits = sending.waiting(answer)
    later = [numbered.lines[line.quote.id] for line in order.lines if line.quote.id in waits.lines]
    if not later:
        return ""
    now = [numbered.lines[line.quote.id] for line in order.lines if line.quote.id not in waits.lines]
    which = _numbered_things("Line", later) if now else "This order"
    until = [numbered.faults[fault] for fault in waits.until]
    answered = f"{_numbered_things('step', until)} {'is' if len(until) == 1 else 'are'} answered"
    typed = f" Write down what you send by its number: {call('bought')} {' '.join(map(str, now))}." if now else ""
    said = f"{which} may wait until {answered}: nothing is lost by it, and the answer may free its money or change it."
    return said + typed


def _numbered_things(thing: str, found: Sequence[int]) -> str:
    *most, last = map(str, found)
    return f"{thing}s {', '.join(most)} and {last}" if most else f"{thing} {last}"


def shares(chances: Sequence[float]) -> list[str]:
    """Chances that make a certainty, in whole percent that make 100: what is over goes to the largest remainders."""
    whole = [int(100 * value + 1e-9) for value in chances]
    nearest = sorted(range(len(whole)), key=lambda n: (whole[n] - 100 * chances[n], n))
    for n in nearest[: max(0, round(100 * sum(chances)) - sum(whole))]:
        whole[n] += 1
    return [
        "under 1%" if percent == 0 < value else "over 99%" if percent == 100 and value < 1 else f"{percent}%"
        for percent, value in zip(whole, chances, strict=True)
    ]


SELDOM = "write down what you saw and plan again"


class RouteLine(NamedTuple):
    """A line of a route: how far it stands in, what it says, and the number where it is a step (None: a result).

    ``place`` is that among the steps of the route.
    """

    depth: int
    said: str
    step: int | None = None
    place: int | None = None


def followed(job: Job, choice: Choice, tree: Sequence[int | None]) -> Iterator[RouteLine]:
    """The route of a fault to be followed step by step, with a word before what is a long shot."""
    if choice.route is None:
        return
    shots = {shot.place: shot for shot in long_shots.long_shots(job, choice)}
    for line in route_lines(job, choice, steps.numbered(choice.route.first, tuple(tree))):
        if line.place in shots:
            yield RouteLine(line.depth, long_shot(shots[line.place]))
        yield line


def long_shot(shot: long_shots.LongShot) -> str:
    """That an attempt is one, what is likelier by then, and what to do rather than try it."""
    if not shot.cause:
        return f"A long shot: {wording.chance(shot.cures)}."
    likely = "none that is written here" if shot.cause == SOMETHING_ELSE else result_in_words(shot.cause).lower()
    by_now = " by now" if shot.place else ""
    said = f"A long shot ({wording.chance(shot.cures)}): the likely cause{by_now} is {likely}"
    said += f" ({wording.chance(shot.chance)}), for which this plan has nothing."
    return f"{said} Stop here, {SELDOM}: go on with this only if the new plan still has it." if shot.place else said


def route_lines(
    job: Job,
    choice: Choice,
    at: steps.Numbered,
    depth: int = 0,
    opened: frozenset[str] = frozenset(),
    chance: float = 1.0,
) -> Iterator[RouteLine]:
    """A route as short numbered lines with their indentation, to be followed step by step.

    ``chance`` is that of coming here; what is seldom come to is folded.
    """
    node = at.node
    if isinstance(node, Stop):
        yield RouteLine(depth, "Leave it.")
        return
    named = step_access(job, choice.fault.id, node)
    new = [access for access in job.access if access.id in named and access.id not in opened]
    first = "; ".join(opened_up(job, access) for access in new if not access.is_check)
    shared = [_once(job, access) for access in new if access.is_check]
    opened |= frozenset(named)
    kept = " kept for it" if isinstance(node, AttemptStep) and node.option.ordered else ""
    figures = [
        f"{node.minutes} min" if node.minutes else "",
        _ahead(job, node),
        f"{wording.amount(job, node.cash_minor)}{kept}" if node.cash_minor else "",
        f"first: {first}" if first else "",
        *shared,
    ]
    behind = "; ".join(figure for figure in figures if figure)
    numbered = "" if at.number is None else f"{at.number}. "
    said = sentence(f"{numbered}{_step(job, choice, node)}{f' ({behind})' if behind else ''}")
    yield RouteLine(depth, said, at.number, at.place)
    if isinstance(node, CheckStep):
        yield from _results(job, choice, node.check, at, (depth, chance), opened)
        return
    cured = next((likely for name, likely, _ in at.then if name == CURED), 0.0)
    failed = next((after for name, _, after in at.then if name == NOT_CURED), None)
    if failed is not None:
        said = f"Cured: {wording.chance(cured)}. Not cured{_back(job, choice, node)}"
        here = (depth + 2, depth + 2, chance * (1 - cured))
        yield from _branch(job, choice, said, failed, here, opened)


def _results(
    job: Job, choice: Choice, check: str, at: steps.Numbered, here: tuple[int, float], opened: frozenset[str]
) -> Iterator[RouteLine]:
    """What follows the results of a check; those that are seldom seen are one line together, the last."""
    depth, chance = here
    told = [(name, likely, after) for name, likely, after in at.then if not steps.seldom(after, chance * likely)]
    folded = sum(likely for _, likely, _ in at.then) - sum(likely for _, likely, _ in told)
    if not told:
        yield RouteLine(depth + 2, f"Whatever it shows: {SELDOM}.")
        return
    several = len(at.then) > len(told)
    *parts, rest = shares([*(likely for _, likely, _ in told), folded])
    for (name, likely, after), share in zip(told, parts, strict=True):
        said = f"{result(job, choice.fault.id, check, name)} ({share})"
        yield from _branch(job, choice, said, after, (depth + 2, depth + 4, chance * likely), opened)
    if several:
        yield RouteLine(depth + 2, f"Otherwise ({rest}): {SELDOM}.")


def _ahead(job: Job, node: CheckStep | AttemptStep) -> str:
    """What of a step comes with the first order, in case the step is come to."""
    if isinstance(node, CheckStep) or not node.option.ahead:
        return ""
    names = " and ".join(wording.part(job, line.quote.part) for line in node.option.bought_ahead)
    return f"{f'{names} ' if node.option.ordered else ''}ordered ahead, used only if wanted"


def _branch(
    job: Job, choice: Choice, said: str, after: steps.Numbered, here: tuple[int, int, float], opened: frozenset[str]
) -> Iterator[RouteLine]:
    """A result and what follows it; ``here``: where it stands, where its steps do, how likely it is from the root."""
    depth, deeper, chance = here
    if isinstance(after.node, Stop):
        yield RouteLine(depth, f"{said}: leave it.")
        return
    if steps.seldom(after, chance):
        yield RouteLine(depth, f"{said}: {SELDOM}.")
        return
    yield RouteLine(depth, f"{said}:")
    yield from route_lines(job, choice, after, deeper, opened, chance)


def _step(job: Job, choice: Choice, node: CheckStep | AttemptStep) -> str:
    if isinstance(node, CheckStep):
        return wording.check(job, choice.fault.id, node.check)
    option = node.option
    source = wording.sources(job, option) if option.lines else "workshop" if option.by_workshop else ""
    return ": ".join(part for part in (wording.repair(job, option), source) if part)


def _back(job: Job, choice: Choice, node: AttemptStep) -> str:
    """The fate of a part that did not help: sent back for money, or kept for another fault, the twin first."""
    if node.refund_minor:
        return f", send it back ({wording.amount(job, node.refund_minor)} comes back)"
    parts = {line.quote.part for line in node.option.lines if line.quote.supplier is not None}
    others = [f for f in job.faults if f.id != choice.fault.id and parts & {p for r in f.repairs for p in r.parts}]
    others.sort(key=lambda other: choice.fault.twin is None or other.twin != choice.fault.twin)
    return f", keep the part for: {wording.named(others[0])}" if others else ""


def result(job: Job, fault_id: str, check_id: str, name: str, *, alone: bool = False) -> str:
    """A result in words: "Much lost"; the complement of the only one written is "If not", or as it stands ``alone``."""
    check = check_of(job, fault_id, check_id)
    return result_alone(check, name) if alone or not complement_of(check, name) else "If not"


def complement_of(check: Check | None, name: str) -> str:
    """The only result that is written of a check, where ``name`` is that it is not so; else nothing."""
    written = [] if check is None else list(check.results)
    only = len(written) == 1 and name.startswith("not-")
    return wording.plain(written[0].replace("-", " ").replace("_", " ")) if only else ""


def result_alone(check: Check | None, name: str) -> str:
    """A result that stands by itself, where "If not" would hang in the air."""
    complement = complement_of(check, name)
    return f"Not “{complement}”" if complement else result_in_words(name)


def result_in_words(name: str) -> str:
    said = wording.plain(name.replace("-", " ").replace("_", " "))
    return said[:1].upper() + said[1:]


def _once(job: Job, access: Access) -> str:
    told = [wording.hours(access.minutes)] if access.minutes else []
    told += [wording.amount(job, access.price_minor)] if access.price_minor else []
    return ", ".join([*told, one_check(job, access)])


def look(job: Job, fault_id: str, check_id: str, also: Sequence[str]) -> str:
    """A check to begin with in words, and the other faults that it tells of."""
    others = ", ".join(cause_words.fault_title(job, name) for name in also)
    return wording.check(job, fault_id, check_id) + (f" (tells of {others} too)" if also else "")


def opened_up(job: Job, access: Access) -> str:
    """The covers that must come off first, in words; a check for several faults too: it is paid for once."""
    title = wording.named(access)
    return f"{title} ({one_check(job, access)})" if access.is_check else title


def one_check(job: Job, access: Access) -> str:
    faults = [f for f in (*job.faults, *job.closed) if any(access.id in check.access for check in f.checks)]
    return f"one check for {' and '.join(wording.named(f) for f in faults)}"
