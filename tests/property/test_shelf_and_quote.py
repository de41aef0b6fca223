"""A need covered from the shelf and by a quote together, in routes: every plan passes its certificate and is shown."""

from __future__ import annotations

from hypothesis import given

from optimiser import service
from optimiser.model.job import Job, Owned
from optimiser.show import steps
from tests.effort import examples
from tests.small_jobs import PARTS, jobs


def with_one_of_two(job: Job) -> Job:
    """The job with one piece of every part on the shelf, two wanted by each repair, and fallbacks."""
    repairs = {
        fault.id: tuple(r.model_copy(update={"parts": dict.fromkeys(r.parts, 2)}) for r in fault.repairs)
        for fault in job.faults
    }
    return job.model_copy(
        update={
            "settings": job.settings.model_copy(update={"fallbacks": True}),
            "pot": job.pot.model_copy(update={"cap_minor": 80}),
            "parts": (),
            "owned": tuple(Owned(part=part, units=1, condition="new", good_chance=0.9) for part in PARTS),
            "faults": tuple(
                f.model_copy(update={"systems": ("wiring",), "kinds": (), "repairs": repairs[f.id]}) for f in job.faults
            ),
        }
    )


@given(jobs(most_faults=2))
@examples(40)
def test_plans_of_two_batches_a_part_hold(job: Job) -> None:
    plan = service.plan(with_one_of_two(job))
    for choice in plan.choices:
        landed = sum(part.landed_minor for part in choice.parts)
        assert choice.landed_minor == landed + choice.own_minor + choice.access_minor + choice.postage_minor
    for route in plan.selection.routes:
        for step in route.attempts:
            names = [line.quote.id for line in step.option.lines]
            assert len(set(names)) == len(names)
            wanted = sum(line.wanted for line in step.option.lines)
            assert wanted == 2 * len({line.quote.part for line in step.option.lines})
    assert bool(steps.numbers(plan).by_key) is bool(plan.selection.routes)
