"""What is never bought used, and the work that only the licensed do: judged for each part and fault.

Only records: what the words of a part imply and which kinds a system names were settled when the job was read.
"""

from __future__ import annotations

from collections.abc import Iterable

from optimiser.model.job import (
    LICENSED_BY_KIND,
    NEVER_SALVAGE_KINDS,
    ONLY_NEW_KIND,
    Fault,
    Job,
    LicensedSystem,
    Part,
    Repair,
    Severity,
)
from optimiser.model.option import Bar
from optimiser.model.quotes import Condition


def implied(part: Part, fault: Fault | None) -> str | None:
    """The kind that the part's words imply: anywhere, or in a fault whose systems name it."""
    named = () if fault is None else fault.kinds
    return part.implied or next((kind for kind in part.implied_where_named if kind in named), None)


def kind_of(part: Part, fault: Fault | None) -> str | None:
    """The kind as written, else as its words imply; None where it is not said."""
    return implied(part, fault) if part.kind is None else part.kind


def unsaid_is_guarded(fault: Fault | None) -> bool:
    """Whether a part whose kind is not said may be one that is never bought as salvage."""
    return fault is not None and bool(fault.kinds or (fault.severity == Severity.DANGEROUS and not fault.systems))


def barred(part: Part, fault: Fault | None, condition: Condition) -> Bar | None:
    """Why a piece in this condition is not to be had for the fault (None: for no fault in particular)."""
    if ONLY_NEW_KIND in (part.kind, implied(part, fault)):
        return None if condition == "new" else Bar.ONLY_NEW
    if condition != "salvage" or part.never_salvage is False:
        return None
    kind = kind_of(part, fault)
    if part.never_salvage or kind in NEVER_SALVAGE_KINDS:
        return Bar.SALVAGE
    return Bar.KIND_NOT_SAID if kind is None and unsaid_is_guarded(fault) else None


def never_fits(part: Part, faults: Iterable[Fault], condition: Condition) -> bool:
    """Whether safety hangs on the part, so that none of the faults that use it takes a piece in this condition."""
    concerned: list[Fault | None] = [*faults]
    return all(barred(part, fault, condition) for fault in concerned or [None])


def never_bought(part: Part, faults: Iterable[Fault], condition: Condition) -> bool:
    """Whether none of the faults takes a piece in this condition, and not because nobody has said what the part is."""
    concerned: list[Fault | None] = [*faults]
    return {barred(part, fault, condition) for fault in concerned or [None]} <= {Bar.SALVAGE, Bar.ONLY_NEW}


def lifted(part: Part, fault: Fault | None) -> bool:
    """Whether the job lifts by a word of its own what would otherwise be kept."""
    unwritten = part.model_copy(update={"kind": None, "never_salvage": None})
    kept = part.kind in NEVER_SALVAGE_KINDS or barred(unwritten, fault, "salvage") is not None
    return kept and barred(part, fault, "salvage") is None


def safety_kind(part: Part, faults: Iterable[Fault | None]) -> str:
    """Why safety hangs on a part: its kind, or that the job says so; empty where nothing does.

    ``faults`` are those that use it; none: it is judged by itself.
    """
    kinds = {kind for fault in (*faults, None) for kind in (part.kind, implied(part, fault)) if kind is not None}
    named = sorted(kinds & NEVER_SALVAGE_KINDS)
    return named[0] if named else "never_salvage" if part.never_salvage else ""


def users(faults: Iterable[Fault]) -> dict[str, list[Fault]]:
    """The faults that a repair of theirs uses a part for, by part."""
    found: dict[str, list[Fault]] = {}
    for fault in faults:
        for part in dict.fromkeys(part for repair in fault.repairs for part in repair.parts):
            found.setdefault(part, []).append(fault)
    return found


def own_unlicensed(job: Job, fault: Fault, repair: Repair) -> tuple[str, ...]:
    """Licensed systems that a repair by the owner touches who is not licensed for them; none for a workshop's."""
    return () if repair.by == "workshop" else licences_lacking(job, fault, repair)


def licences_lacking(job: Job, fault: Fault, repair: Repair | None = None) -> tuple[str, ...]:
    """Licensed systems that the work touches and the owner is not licensed for: the fault's, and those of parts."""
    parts = () if repair is None else [job.part(part) for part in repair.parts]
    kinds = {kind for part in parts for kind in (part.kind, implied(part, fault)) if kind is not None}
    touched = {*fault.systems, *(LICENSED_BY_KIND[kind] for kind in kinds & LICENSED_BY_KIND.keys())}
    licensed = {system.value for system in LicensedSystem} - {system.value for system in job.settings.licensed}
    return tuple(sorted(touched & licensed))
