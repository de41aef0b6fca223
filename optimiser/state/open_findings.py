"""What was found on a fault that is cured, and which the cure does not explain: it may be there still.

One cause a fault is assumed, so a finding that points at another one than was put right is a fault of its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from optimiser.diagnosis.belief import likelihoods, prior
from optimiser.model import events, protection
from optimiser.model.job import SOMETHING_ELSE, Fault, Job, Repair, Severity
from optimiser.model.sale_paper import OpenFinding

TELLING, AS_TELLING, CURES = 4.0, 2.0, 0.5
"""A result points at a cause that makes it so many times as likely as none of those listed would, and at others that
make it not so many times less likely than that; a repair that did not cure the fault put right what it cures more often
than not. Invented, no published source."""


def open_findings(job: Job, record: Sequence[events.Entry], fault: Fault) -> Iterator[OpenFinding]:
    """Findings that nothing written down since has put right or ruled out, the first first.

    Only where somebody may be hurt: the fault is dangerous, or safety hangs on a part that puts such a cause right.
    """
    known = {each.id for each in (*job.faults, *job.closed)}
    told = [(entry.number, entry.happening) for entry in events.standing(record)
            if getattr(entry.happening, "fault", None) == fault.id]  # fmt: skip
    latest: dict[str, tuple[int, frozenset[str]]] = {}
    for number, what in told:
        if isinstance(what, events.CheckMade):
            latest[what.check] = number, _pointed_at(fault, what)
        elif isinstance(what, events.SeenToBe):
            latest[what.cause] = number, frozenset({what.cause} - {SOMETHING_ELSE})
    for number, causes in sorted(latest.values(), key=lambda one: one[0]):
        since = [what for later, what in told if later > number]
        ruled_out = {what.cause for what in since if isinstance(what, events.SeenNotToBe)}
        finding = OpenFinding(entry=number, causes=tuple(c for c in fault.causes if c in causes - ruled_out))
        put_right = any(_puts_right(repair, causes, cured) for repair, cured in _stayed(fault, since))
        if finding.causes and not put_right and finding.fault_id(fault) not in known and _grave(job, fault, finding):
            yield finding


def _pointed_at(fault: Fault, made: events.CheckMade) -> frozenset[str]:
    """The causes that a result points at; none where it is as likely without any of them, or with every one."""
    check = next((check for check in fault.checks if check.id == made.check), None)
    chances = {} if check is None else likelihoods(check, list(prior(fault))).get(made.result, {})
    most = max(chances.values(), default=0.0)
    low = {cause for cause, chance in chances.items() if chance * TELLING <= most}
    return frozenset(c for c, chance in chances.items() if chance * AS_TELLING >= most and SOMETHING_ELSE in low)


def _stayed(fault: Fault, since: Iterable[events.EventHead]) -> Iterator[tuple[Repair, bool]]:
    """The repairs made, as far as their pieces stayed on, each with whether it cured."""
    repairs = {repair.id: repair for repair in fault.repairs}
    for what in since:
        if not isinstance(what, events.Fitting) or what.repair not in repairs:
            continue
        if all(piece.then == "stays-on" for piece in what.pieces):
            yield repairs[what.repair], what.cured


def _puts_right(repair: Repair, causes: Iterable[str], cured: bool = False) -> bool:
    """What cured the fault put right whatever it may cure, however seldom that is."""
    chances = [] if repair.cures is None else [repair.cures.get(cause, 0.0) for cause in causes]
    return repair.cures is None or max(chances, default=0.0) >= CURES or (cured and any(chances))


def _grave(job: Job, fault: Fault, finding: OpenFinding) -> bool:
    parts = {part for repair in fault.repairs if repair.cures is not None and _puts_right(repair, finding.causes)
             for part in repair.parts}  # fmt: skip
    return fault.severity == Severity.DANGEROUS or any(protection.safety_kind(job.part(p), [fault]) for p in parts)
