"""The cautions of all that routes touch: the systems of their faults, the parts they fit, the checks they make."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from optimiser import job_folder
from optimiser.model import protection
from optimiser.model.job import SPARKING_SYSTEMS, Job
from optimiser.model.route import Route

NONE_KNOWN = "No cautions are known for this: name its system."


def cautions(job: Job, routes: Iterable[Route]) -> dict[str, tuple[str, ...]]:
    """By title those of systems and kinds of part, of what is raised, and of checks that are dangerous themselves.

    A fault that says no system has those that its words name; for those whose words name none one line says so.
    What may catch fire is minded in all work that makes sparks or heat, whoever mends it.
    """
    systems: set[str] = set()
    unknown: list[str] = []
    kinds: set[str] = set()
    opened: set[str] = set()
    minded: dict[str, list[str]] = defaultdict(list)
    taken = {route.fault: route for route in routes}
    for fault in job.faults:
        route = taken.get(fault.id)
        if route is None:
            continue
        named = fault.systems or job_folder.systems_named(fault.title or fault.id)
        systems |= job_folder.with_their_like(named)
        if not named:
            unknown.append(fault.title or fault.id)
        for part in route.parts:
            row = job.part(part)
            said = filter(None, (row.kind, protection.implied(row, fault)))
            kinds.update(kind for kind in said if not job_folder.is_minded_with(kind, named))
        made = {step.check for step in route.checks}
        checks = [check for check in fault.checks if check.id in made]
        opened.update(name for check in checks for name in check.access)
        opened.update(name for step in route.attempts if not step.option.by_workshop for name in step.option.access)
        for check in checks:
            for danger in check.mind:
                minded[danger].append(check.title or f"{fault.id} {check.id}")
    if any(row.id in opened and job_folder.is_raised(row.title) for row in job.access):
        systems.add("lifting")
    if minded or systems & SPARKING_SYSTEMS:
        systems.update(*(job_folder.with_their_like(fault.systems) for fault in job.faults if fault.may_catch_fire))
    known = job_folder.cautions_for(systems, kinds, minded)
    return known | ({f"No system named ({', '.join(unknown)})": (NONE_KNOWN,)} if unknown else {})
