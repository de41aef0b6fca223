"""Routes for twins, certified and gone down over every world: what a plan says of a check that tells of a twin too."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import pytest
from hypothesis import assume, event, given
from hypothesis import strategies as st

from optimiser import service
from optimiser.diagnosis.groups import made_now, standings
from optimiser.model.evidence import Finding
from optimiser.model.job import Fault, Job, Pot, Repair, Settings
from optimiser.model.route import CURED, AttemptStep, CheckStep, Node, Stop
from tests.effort import examples
from tests.property.diagnosis.test_twin_groups import World, evidence, groups, results_of, shows, worlds

TELLS = {"swap", "same"}


@st.composite
def jobs(draw) -> Job:
    """Groups with repairs that have a price and need no parts."""
    job = draw(groups())
    prices = {"mend": draw(st.sampled_from([5, 20])), "wash": 1, "motor": draw(st.sampled_from([10, 40]))}

    def priced(repair: Repair) -> Repair:
        return repair.model_copy(update={"parts": {}, "price_minor": prices[repair.id]})

    faults = tuple(f.model_copy(update={"repairs": tuple(map(priced, f.repairs))}) for f in job.faults)
    plain = Settings(currency="GBP", today=date(2026, 11, 28), check_must_gain=0.0, chance_step=0.0,
                     twin_strength=job.settings.twin_strength)  # fmt: skip
    return job.model_copy(update={"settings": plain, "faults": faults, "pot": Pot(cap_minor=draw(st.integers(20, 90)))})


def most_that_tell(node: Node) -> int:
    """The most checks on a path that tell of a twin too."""
    if isinstance(node, Stop):
        return 0
    own = int(isinstance(node, CheckStep) and node.check in TELLS)
    return own + max(most_that_tell(branch.then) for branch in node.then)


def cured(job: Job, fault: Fault, node: Node, likely: list[tuple[float, Mapping[str, str]]]) -> float:
    """The weight of the worlds that a route cures."""
    if isinstance(node, AttemptStep):
        repair = next(r for r in fault.repairs if r.id == node.option.repair)
        rest = next(branch.then for branch in node.then if branch.result != CURED) if len(node.then) > 1 else Stop()
        failed = [(w * (1 - repair.cure(at[fault.id])), at) for w, at in likely]
        return sum(w * repair.cure(at[fault.id]) for w, at in likely) + cured(job, fault, rest, failed)
    if isinstance(node, CheckStep):
        check = next(c for c in fault.checks if c.id == node.check)
        whole = 0.0
        for branch in node.then:
            made = made_now(job, fault, check, branch.result)
            whole += cured(job, fault, branch.then, [(w * shows(job, fault.id, made, at), at) for w, at in likely])
        return whole
    return 0.0


def found_elsewhere(job: Job, fault_id: str, entry: Finding) -> bool:
    """Whether a finding is of a check that other faults list too: a record writes it down on all of them."""
    names = [(f.id, c.id, c.same_as or f"{f.id}.{c.id}") for f in job.faults for c in f.checks]
    own = next(name for fault, check, name in names if (fault, check) == (fault_id, entry.check))
    return sum(name == own for _, _, name in names) > 1


@examples(40, usual=4)
@given(st.data(), jobs())
def test_a_route_cures_as_often_as_in_every_world(data, job) -> None:
    """Exact with one check on a path that tells of a twin too; the plan is certified, or it would not come."""
    looks = {f: tuple(e for e in entries if hasattr(e, "check")) for f, entries in data.draw(evidence(job, 2)).items()}
    seen = {fault: entries for fault, entries in looks.items() if entries}
    assume(not any(found_elsewhere(job, fault, entry) for fault, entries in seen.items() for entry in entries))
    all_worlds: list[World] = list(worlds(job, seen))
    total = sum(weight for weight, *_ in all_worlds)
    assume(total > 1e-6)
    job = job.model_copy(update={"seen": seen})
    plan = service.plan(job)
    for route in plan.selection.routes:
        fault = next(f for f in job.faults if f.id == route.fault)
        if most_that_tell(route.first) < 2:
            event(f"checks on a path that tell of a twin too: {most_that_tell(route.first)}")
            whole = cured(job, fault, route.first, [(w / total, at) for w, at, _ in all_worlds])
            assert route.chance == pytest.approx(whole, abs=1e-9)
    for fault in job.faults:
        for row in plan.odds.get(fault.id, ()):
            assert row.now == pytest.approx(standings(job)[fault.id].chances[row.cause], abs=1e-9)
            route = plan.selection.route_for(fault.id)
            if route is not None and isinstance(route.first, CheckStep):
                check = next(c for c in fault.checks if c.id == route.first.check)
                assert set(row.after) <= set(results_of(check))
