"""What is next: all that can be done and nothing that cannot, dangerous first, in no more minutes than there are."""

from __future__ import annotations

from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from optimiser import service
from optimiser.model.job import Access, Job, Repair, Severity
from optimiser.model.plan import Plan
from optimiser.model.route import AttemptStep, CheckStep
from optimiser.model.tonight import Doing, Task, Tonight
from optimiser.planning.sending import waiting
from optimiser.planning.totals import step_access
from optimiser.show import tonight, tonight_words
from tests import small_jobs, small_route_jobs
from tests.effort import examples


def handy(job: Job) -> Job:
    """The job with something to try by hand on two faults of three, behind one cover, and money enough for the rest."""
    wipe = Repair(id="wipe", chance=0.3, minutes=5, access=("dash",))
    ways = [lambda own: own, lambda _: (wipe,), lambda own: (*own, wipe)]
    faults = tuple(f.model_copy(update={"repairs": ways[n % 3](f.repairs)}) for n, f in enumerate(job.faults))
    pot = job.pot.model_copy(update={"cap_minor": 10 * job.pot.cap_minor})
    cover = () if any(access.id == "dash" for access in job.access) else (Access(id="dash", minutes=15),)
    return job.model_copy(update={"faults": faults, "pot": pot, "access": (*job.access, *cover)})


RANDOM = st.one_of(small_jobs.jobs(), small_route_jobs.jobs())
JOBS = st.one_of(RANDOM, RANDOM.map(handy))
MINUTES = st.one_of(st.none(), st.integers(0, 200))


def every(known: Tonight) -> tuple[Task, ...]:
    return (*known.tasks, *known.left)


def can_be_begun(plan: Plan) -> dict[str, Doing]:
    """By fault what can be begun today without buying anything, told from the first steps alone."""
    found = {}
    for choice in plan.choices:
        first = None if choice.route is None else choice.route.first
        if isinstance(first, CheckStep):
            found[choice.fault.id] = Doing.LOOK
        elif isinstance(first, AttemptStep) and not first.option.by_workshop:
            lines = first.option.lines
            here = all(line.quote.supplier is None and line.quote.lead_days == 0 for line in lines)
            if here and not first.option.days:
                found[choice.fault.id] = Doing.FIT if lines else Doing.TRY
    return found


def it_is_all_that_can_be_done_and_nothing_else(plan: Plan, limit: int | None) -> None:
    known = service.tonight(plan, limit)
    wanted, by_hand = can_be_begun(plan), [task for task in every(known) if task.doing.by_hand]
    assert all(wanted[task.faults[0]] == task.doing for task in by_hand)
    assert {fault for task in by_hand for fault in task.faults} >= wanted.keys()
    assert len({task.faults[0] for task in by_hand}) == len(by_hand)
    booked = {task.faults[0] for task in every(known) if task.doing == Doing.BOOK}
    assert booked == {c.fault.id for c in plan.choices if c.option is not None and c.option.by_workshop}
    lines = Counter(quote for task in every(known) for quote in (*task.lines, *task.later))
    assert lines == Counter(line.quote.id for order in plan.orders for line in order.lines)


def what_may_wait_is_never_sent_and_what_is_paid_adds_up(plan: Plan, limit: int | None) -> None:
    known, waits = service.tonight(plan, limit), waiting(plan).lines
    orders = {task.supplier: task for task in every(known) if task.doing == Doing.ORDER}
    assert orders.keys() == {order.supplier.id for order in plan.orders}
    for order in plan.orders:
        task = orders[order.supplier.id]
        assert not waits & set(task.lines)
        held = sum(x.goods_minor + x.deposits_minor for x in order.lines if x.quote.id in task.later)
        assert task.pay_minor + held == order.total_minor
    assert not [task for task in known.tasks if task.doing == Doing.ORDER and not task.lines]


def what_is_dangerous_comes_first(plan: Plan) -> None:
    """Before it only what costs nothing and may add to an order for it; after it kind by kind, the gravest first."""
    every_task = service.tonight(plan).tasks
    assert [task.long_shot for task in every_task] == sorted(task.long_shot for task in every_task)
    for task in every_task:
        chances = [option.chance for f in task.faults if (option := plan.choice(f).option) is not None]
        assert not task.long_shot or max(chances) < 0.095
    tasks = [task for task in every_task if not task.long_shot]
    grave = [place for place, task in enumerate(tasks) if task.dangerous]
    for place, task in enumerate(tasks[: max(grave, default=0)]):
        sent = [tasks[later] for later in grave if later > place and not tasks[later].doing.by_hand]
        adds = any(task.faults[0] in order.after for order in sent)
        assert task.dangerous or (task.doing.by_hand and not task.pay_minor and adds)
    kinds = {Doing.LOOK: 0, Doing.TRY: 0, Doing.FIT: 1, Doing.ORDER: 2, Doing.BOOK: 3}
    rest = tasks[max(grave, default=-1) + 1 :]
    order = [(kinds[task.doing], 9 if task.severity is None else task.severity.rank) for task in rest]
    assert order == sorted(order)


def the_minutes_are_kept_and_a_cover_comes_off_once(plan: Plan, limit: int | None) -> None:
    job, known = plan.job, service.tonight(plan, limit)
    minutes = {access.id: access.minutes for access in job.access}
    opened: set[str] = set()
    for task in known.tasks:
        if not task.doing.by_hand:
            assert not task.opens
            continue
        step = plan.choice(task.faults[0]).route.first  # type: ignore[union-attr]
        assert isinstance(step, CheckStep | AttemptStep)
        new = set(step_access(job, task.faults[0], step)) - opened
        assert set(task.opens) == new
        assert task.minutes == step.minutes + sum(minutes[name] for name in new)
        opened |= new
    if limit is None:
        assert not [task for task in known.left if task.doing.by_hand]
        return
    assert known.minutes <= limit
    whole = service.tonight(plan)
    assert Counter(t.faults for t in every(known)) == Counter(t.faults for t in every(whole))
    assert all(task.minutes or task.minutes_unsaid for task in known.left if task.doing.by_hand)


def next_is_the_first_of_them_and_no_danger_is_passed_over(plan: Plan) -> None:
    known = service.tonight(plan)
    said = tonight_words.next_step(plan)
    if known.tasks:
        assert said.startswith(f"Next: {tonight_words.in_short(plan, known.tasks[0])}.")
    else:
        assert said.startswith("Next, once it is here" if known.coming else "Nothing is left")
    for fault in plan.job.faults:
        if fault.severity == Severity.DANGEROUS and not any(fault.id in task.faults for task in every(known)):
            assert "DANGEROUS" in said
            assert (fault.title or fault.id) in said
    assert tonight.document(known)["next"] == said


@examples(400, usual=30)
@given(JOBS, MINUTES)
def test_every_rule_holds_for_any_plan(job: Job, limit: int | None) -> None:
    """One plan for all the rules above: planning takes longer than they do."""
    plan = service.plan(job)
    it_is_all_that_can_be_done_and_nothing_else(plan, limit)
    what_may_wait_is_never_sent_and_what_is_paid_adds_up(plan, limit)
    what_is_dangerous_comes_first(plan)
    the_minutes_are_kept_and_a_cover_comes_off_once(plan, limit)
    next_is_the_first_of_them_and_no_danger_is_passed_over(plan)
