"""The next tasks in words: a line each, with the work before it, its last day, and the words to type afterwards."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from itertools import groupby

from optimiser.calls import call
from optimiser.model.danger import dangers
from optimiser.model.job import Job, Severity
from optimiser.model.plan import Plan
from optimiser.model.route import CheckStep
from optimiser.model.tonight import Doing, Task, Tonight, TooLate
from optimiser.planning import tonight as planning
from optimiser.planning.totals import check_of
from optimiser.show import route_words, steps, wording
from optimiser.text import counted, in_shell, sentence

UNSAID = "minutes not said"
NOTHING_YET = "still open, with nothing to do for it yet"
MOST_TYPED = 3
"""Step numbers of an order that are typed one by one; for more of them its supplier is named."""
HEADINGS = {
    Doing.LOOK: "Look, and do what takes no part",
    Doing.TRY: "Look, and do what takes no part",
    Doing.FIT: "Parts that are here: fit them",
    Doing.ASK: "Prices to ask for: those planned with are rough",
    Doing.ORDER: "Orders to send",
    Doing.BOOK: "Workshops to book",
}
LONG_SHOTS = "Long shots: what cures less than one time in ten"
HELD = "Last of all, as something dangerous is open"


def heading(task: Task) -> str:
    """What a task stands under behind what is dangerous."""
    return HELD if task.held else LONG_SHOTS if task.long_shot else HEADINGS[task.doing]


def next_step(plan: Plan, *, typed: bool = True) -> str:
    """What to do next: the first task of all; and what is dangerous, wherever that is not what comes next.

    ``typed``: with the call that lists an order, for whoever reads it where calls are typed.
    """
    known = planning.tonight(plan)
    if not known.tasks:
        return nothing(known)
    first, *rest = known.tasks
    grave = None if first.dangerous else next((task for task in rest if task.dangerous), None)
    adds = "" if grave is None or first.faults[0] not in grave.after else " (this may add to it)"
    then = "" if grave is None else f" Then what is dangerous{adds}: {in_short(plan, grave, marked=False)}."
    waits = ", and says what may wait" if any(task.later for task in (*known.tasks, *known.left)) else ""
    lists = f" `{call('orders')}` lists it{waits}." if typed and first.doing == Doing.ORDER else ""
    return f"Next: {in_short(plan, first)}.{lists}{then}{still_open(known)}"


def nothing(known: Tonight) -> str:
    """That nothing can be done now, or only once a part is here; and what is dangerous all the same."""
    if not known.coming:
        return f"Nothing is left to do for this money.{still_open(known)}"
    first = known.coming[0]
    here = f"Next, once it is here ({counted(first.days, 'day')})"
    return f"{here}: {in_short(known.plan, first)}.{still_open(known, first)}"


def in_short(plan: Plan, task: Task, *, marked: bool = True) -> str:
    """A task in a line: its step, its fault, what is done, how long it takes or what is paid.

    ``marked``: a dangerous fault says that it is.
    """
    job, paid = plan.job, wording.amount(plan.job, task.pay_minor)
    seldom = f"; {_long_shot(task)}" if task.long_shot else ""
    if task.doing == Doing.ASK:
        return f"ask what shops want for {parts(plan, task)} (some {paid}{seldom}){_for(plan, task, marked)}"
    if task.doing == Doing.ORDER:
        return f"order from {wording.supplier(job, task.supplier)} ({paid}{seldom}){_for(plan, task, marked)}"
    beside = "; ".join(filter(None, (_minutes(task), _long_shot(task) if task.long_shot else "")))
    took = f" ({beside})" if beside else ""
    book = "book " if task.doing == Doing.BOOK else ""
    step = f"{number}. " if (number := numbers(plan, task)) else ""
    return f"{book}{step}{fault(plan, task, marked)}: {deed(job, task)}{took}"


def _minutes(task: Task) -> str:
    """How long a task takes; what is known of it, and that there is more, where nobody said all of it."""
    known = wording.hours(task.minutes) if task.minutes else ""
    return " and ".join(filter(None, (known, UNSAID if task.minutes_unsaid else "")))


def _long_shot(task: Task) -> str:
    return "a long shot" if task.option is None else f"a long shot: {wording.chance(task.option.chance)}"


def fault(plan: Plan, task: Task, marked: bool = True) -> str:
    """The fault of a task; marked, where it is dangerous."""
    title = wording.fault(plan.choice(task.faults[0]))
    return f"{title} ({wording.SEVERITY_MARK[Severity.DANGEROUS]})" if marked and task.dangerous else title


def told(plan: Plan, task: Task, *, marked: bool = True) -> tuple[str, str, str]:
    """A task to do: its step number, none for an order; its fault, or whom to ask or to order from; what is done."""
    if task.doing == Doing.ASK:
        return "", parts(plan, task), order(plan, task)
    if task.supplier:
        return "", wording.supplier(plan.job, task.supplier), order(plan, task)
    return numbers(plan, task), fault(plan, task, marked), sentence(deed(plan.job, task))


def deed(job: Job, task: Task) -> str:
    """The work of a task, without the fault."""
    if task.option is None:
        return route_words.look(job, task.faults[0], task.check, task.faults[1:])
    fits = task.option.lines and not task.option.by_workshop
    parts = f", {wording.sources(job, task.option)}" if fits else ""
    return f"{wording.repair(job, task.option)}{parts}"


def _for(plan: Plan, task: Task, marked: bool = True) -> str:
    """The faults that an order serves, the gravest by name."""
    if not task.faults:
        return ""
    more = len(task.faults) - 1
    return f", for {fault(plan, task, marked)}{f' and {more} more' if more else ''}"


def order(plan: Plan, task: Task) -> str:
    """An order: how much it is, for what, what may wait of it, and the trip to fetch it."""
    held = f" {_capital(stepped(_of_lines(plan, task.later)))} may wait." if task.lines and task.later else ""
    fetch = " Fetch it." if task.minutes else ""
    some = "some " if task.doing == Doing.ASK else ""
    return f"{some}{wording.amount(plan.job, task.pay_minor)}{_for(plan, task)}.{held}{fetch}"


def part_ids(plan: Plan, task: Task) -> list[str]:
    """The parts of an order by id, each once."""
    quotes = {line.quote.id: line.quote.part for order in plan.orders for line in order.lines}
    return list(dict.fromkeys(quotes[name] for name in task.lines or task.later))


def parts(plan: Plan, task: Task) -> str:
    """The parts of an order, each once."""
    return ", ".join(wording.part(plan.job, name) for name in part_ids(plan, task))


def beside(plan: Plan, task: Task) -> Iterator[str]:
    """What comes off, what is paid, how long it takes to be had, and what may add to an order."""
    job, paid = plan.job, wording.amount(plan.job, task.pay_minor)
    covers = {access.id: wording.named(access) for access in job.access}
    if task.opens:
        yield f"First: {'; '.join(covers[name] for name in task.opens)}."
    if task.minutes_unsaid:
        yield f"{_capital(UNSAID)}."
    if task.long_shot:
        yield f"{_capital(_long_shot(task))}."
    if task.doing.by_hand and task.pay_minor:
        yield f"Costs {paid}."
    if task.doing == Doing.BOOK:
        ordered = ", its parts ordered above" if task.option is not None and task.option.suppliers else ""
        had = f" in {counted(task.days, 'day')}{ordered}" if task.days else ordered
        yield f"{paid}{had}."
    if task.doing == Doing.ASK:
        yield f"Write what they ask into quotes.csv, or take their sheets in: {call('quotes')} FILE."
    if task.after and task.doing == Doing.ORDER:
        first = stepped([steps.numbers(plan).faults[name] for name in task.after])
        yield f"Better after {first}, which may add to it."


def _capital(said: str) -> str:
    return said[:1].upper() + said[1:]


def typed(plan: Plan, task: Task) -> list[str]:
    """What to type once it is done, a line for each way that it may come out."""
    return [call(verb, *map(in_shell, words)) for verb, *words in outcomes(plan, task)]


def outcomes(plan: Plan, task: Task) -> list[tuple[str, ...]]:
    """The verb and its words for each way that a task may come out; nothing where it depends on what a shop says."""
    if task.doing == Doing.ASK:
        return []
    if task.doing == Doing.ORDER:
        lines = _of_lines(plan, task.lines or task.later)
        whole = not (task.lines and task.later)
        return [("bought", *([task.supplier] if len(lines) > MOST_TYPED and whole else map(str, lines)))]
    verb, ends = ("found", _results(plan, task)) if task.doing == Doing.LOOK else ("fitted", ["cured", "not-cured"])
    return [(verb, *map(str, numbers_of(plan, task)), end) for end in ends]


def said_typed(commands: Sequence[str]) -> str:
    """The first command in full, of the others the last word."""
    if not commands:
        return ""
    others = [command.rpartition(" ")[2] for command in commands[1:]]
    return commands[0] + (f"  (or {', '.join(others)})" if others else "")


def _results(plan: Plan, task: Task) -> list[str]:
    """What a check may show, by the words that are written down: those of its branches, then its others."""
    route = plan.choice(task.faults[0]).route
    shown = [b.result for b in route.first.then] if route is not None and isinstance(route.first, CheckStep) else []
    written = check_of(plan.job, task.faults[0], task.check).results
    return list(dict.fromkeys((*shown, *written)))


def numbers(plan: Plan, task: Task) -> str:
    """The step number of a task; of an order those of its lines. An empty text where a what-if has none."""
    return ranges(numbers_of(plan, task))


def numbers_of(plan: Plan, task: Task) -> list[int]:
    if task.supplier:
        return _of_lines(plan, task.lines or task.later)
    number = steps.numbers(plan).faults.get(task.faults[0])
    return [] if number is None else [number]


def _of_lines(plan: Plan, quotes: Sequence[str]) -> list[int]:
    numbered = steps.numbers(plan).lines
    return sorted(numbered[quote] for quote in quotes)


def ranges(found: Sequence[int]) -> str:
    """Numbers in a few signs: "3, 7-9"."""
    runs = [[n for _, n in run] for _, run in groupby(enumerate(sorted(found)), key=lambda pair: pair[1] - pair[0])]
    return ", ".join(f"{run[0]}-{run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs)


def stepped(found: Sequence[int]) -> str:
    """Step numbers as they are said: "step 3", "steps 3, 7-9"."""
    return f"step{'' if len(found) == 1 else 's'} {ranges(found)}"


def cannot_wait(plan: Plan, task: Task) -> str:
    """A task with its last day, and what that is the last day of."""
    last = task.last_day
    if last is None:
        return in_short(plan, task)
    why = "a quote in it runs out" if last.why == TooLate.QUOTE else "else it is not done in time"
    return f"{_capital(in_short(plan, task))}: by {day(plan, last.day)}, {why}."


def day(plan: Plan, when: date) -> str:
    """A day, and how far off it is."""
    left = planning.days_left(plan, when)
    off = "" if left is None else " (today)" if left == 0 else f" ({counted(left, 'day')})" if left > 0 else " (past)"
    return f"{when.day} {when:%B}{off}"


def left_over(plan: Plan, task: Task) -> str:
    """A task for another evening, in a few words."""
    took = f" ({minutes})" if (minutes := _minutes(task)) else ""
    if task.supplier:
        waits = [steps.numbers(plan).faults[name] for name in task.after]
        why = "" if task.lines else f", which may wait for {stepped(waits)}"
        name = "prices" if task.doing == Doing.ASK else f"the order from {wording.supplier(plan.job, task.supplier)}"
        return f"{name}{_for(plan, task) if task.dangerous else ''}{took}{why}"
    named = f", {fault(plan, task)}" if task.dangerous else ""
    return f"{'book ' if task.doing == Doing.BOOK else ''}step {numbers(plan, task)}{named}{took}"


def unsaid(tasks: Sequence[Task]) -> str:
    """That beside the minutes of an evening there is work of which nobody said how long it takes."""
    many = sum(task.minutes_unsaid for task in tasks)
    return f", and {counted(many, 'step')} whose minutes are not said" if many else ""


def evening(known: Tonight) -> str:
    """How much of the evening is filled."""
    limit = "" if known.limit is None else f" of {wording.hours(known.limit)}"
    beyond = unsaid(known.tasks)
    filled = f" ({wording.hours(known.minutes)}{limit}{beyond})" if known.minutes or beyond else ""
    return f"{wording.title(known.plan.job)}: what is next{filled}"


def another_evening(known: Tonight) -> list[str]:
    """The tasks that are left, in a sentence; none where all are for this evening."""
    left = [left_over(known.plan, task) for task in known.left]
    return [f"For another evening: {'; '.join(left)}."] if left else []


def needed_by(plan: Plan) -> list[str]:
    """The day by which all has to be done, in a sentence; none where there is none."""
    by = plan.job.settings.needed_by
    return [] if by is None else [f"All of it is needed by {day(plan, by)}."]


def on_the_way(plan: Plan) -> list[str]:
    """The pieces bought and not here yet, in a sentence; none where all are."""
    coming = [
        f"{some.units} x {wording.part(plan.job, some.part)} (entry {some.bought}), {counted(some.days, 'day')}"
        for some in plan.job.on_order
        if some.days
    ]
    return [f"On its way: {'; '.join(coming)}."] if coming else []


def still_open(known: Tonight, said: Task | None = None) -> str:
    """The dangerous faults that no task serves, save one that is ``said``, or a long shot alone: they are never passed
    over in silence.
    """
    plan = known.plan
    served = {name for task in (*known.tasks, *known.left) for name in task.faults}
    served |= set(said.faults) if said is not None else set()
    waiting = {task.faults[0]: task.days for task in known.coming}
    stands: dict[str, list[str]] = {}
    looks_left = []
    for fault in (one.fault for one in dangers(plan.job, plan.selection)):
        title, short = wording.named(fault), _cheapest_way(plan, fault.id)
        if fault.id in served and short:
            how, of_it = "hardly planned for, and every other purchase makes that worse", f" ({short})"
        elif fault.id in served:
            continue
        elif fault.id in plan.job.left:
            how, of_it = "left as it is", ""
        elif fault.id in waiting:
            how, of_it = "waiting for its parts", f" ({counted(waiting[fault.id], 'day')})"
        else:
            how = _why_not_served(plan, fault.id)
            of_it = f" ({short})" if short else ""
            looks_left.append(_free_look(known, fault.id))
        stands.setdefault(how, []).append(f"{title}{of_it}")
    return "".join((*(f" DANGEROUS and {how}: {'; '.join(some)}." for how, some in stands.items()), *looks_left))


def _free_look(known: Tonight, fault_id: str) -> str:
    """What can be looked at for nothing of a fault that is left for want of money; empty where nothing can."""
    job, name = known.plan.job, known.for_nothing.get(fault_id)
    if name is None:
        return ""
    done, took = wording.check(job, fault_id, name), wording.hours(check_of(job, fault_id, name).minutes)
    typed = call("found", in_shell(fault_id), in_shell(name), "RESULT")
    return f" Look all the same, it is free and may show what the money does reach: {done} ({took}); then {typed}."


def _why_not_served(plan: Plan, fault_id: str) -> str:
    """Why nothing is done about a dangerous fault: for want of money, for others, or because nothing is known to do."""
    beyond = plan.choice(fault_id).beyond
    if beyond is None:
        return NOTHING_YET
    if beyond.cost_minor > plan.purse.remaining_minor:
        return "out of reach, and every other purchase makes that worse"
    return "set aside, as the plan spends the money on others"


def _cheapest_way(plan: Plan, fault_id: str) -> str:
    """What a fault's cheapest likely way costs, and by how much the money falls short of it; empty where it has none
    that the plan does without.
    """
    choice = plan.choice(fault_id)
    if choice.beyond is None:
        return ""
    cost, missing = choice.beyond.cost_minor, choice.beyond.cost_minor - plan.purse.remaining_minor
    more = f", {wording.amount(plan.job, missing)} more than remains" if missing > 0 else ""
    chance = "" if choice.route is None else f"{wording.chance(choice.chance)}; "
    return f"{chance}its cheapest likely way costs {wording.amount(plan.job, cost)}{more}"


def caution_titles(known: Sequence[str]) -> str:
    """Cautions by title alone: the checks that have them stand behind it where they are told in full."""
    return "; ".join(title.partition(" (")[0] for title in known)
