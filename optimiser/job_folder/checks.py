"""What no table can be wrong about alone: names that lead nowhere, rows alike, causes and results that do not fit."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeAlias

from optimiser.diagnosis.belief import DEFAULT, likelihoods
from optimiser.job_folder import fault_groups
from optimiser.job_folder.job_file import FaultTables, JobTables
from optimiser.job_folder.problems import Place, did_you_mean, listed, nearest, shown
from optimiser.model import protection
from optimiser.model.job import ONLY_NEW_KIND, SOMETHING_ELSE, Access, Check, Fault, Part, Repair

_ALL_BUT_EQUAL = 0.85
"""Likeness of two words above which one is taken for a slip of the pen."""
Titled: TypeAlias = Access | Part | Fault | Check | Repair


def examine(job: JobTables, quoted_parts: frozenset[str] | None, place: Place) -> None:
    """Note everything that does not fit together.

    ``quoted_parts`` are the parts that the sheets name, None where a sheet is not sound: what was reported already
    causes no second problem.
    """
    _unique(job.access, "[[access]]", place)
    _unique(job.parts, "[[part]]", place)
    _unique([each.fault for each in job.faults if each.fault is not None], "[[fault]]", place)
    for part in job.parts:
        users = [each.fault for each in job.faults if each.fault is not None and part.id in each.parts]
        _part_rules(part, users, place.at(f"[[part]] {shown(part.id)[1:-1]}"))
    if quoted_parts is not None:
        _owned_parts(job, quoted_parts, place)
    for fault in job.faults:
        _fault(fault, job.access_ids, place)
    fault_groups.examine(job.faults, job.access, place)


def _unique(rows: Sequence[Titled], name: str, place: Place) -> None:
    """Ids stand once; where a title stands for an id both titles are named."""
    first: dict[str, Titled] = {}
    for row in rows:
        other = first.setdefault(row.id, row)
        if other is row:
            continue
        found = f"{shown(row.id)} for {shown(other.title or other.id)} and for {shown(row.title or row.id)}"
        where = f"{name} {shown(row.id)[1:-1]}"
        mend = "give one of them an id of its own, or take one out"
        place.at(where).complain("id", found=found, expected="an id that no other row has", mend=mend)


def _part_rules(part: Part, faults: Sequence[Fault], place: Place) -> None:
    """No protection on restraints is ever lifted: not by a key, and not by another kind than its words imply."""
    implied = next(
        (kind for fault in (None, *faults) if (kind := protection.implied(part, fault)) == ONLY_NEW_KIND), None
    )
    if implied and part.kind not in (None, ONLY_NEW_KIND):
        place.complain(
            "kind",
            found=shown(part.kind),
            expected=f"{ONLY_NEW_KIND}, or no kind: its name says that it is one, and such parts are only fitted new",
            mend="rename it if it is none (such as Airbag fuse), else take kind out",
        )
    if ONLY_NEW_KIND in (implied, part.kind) and part.never_salvage is False:
        place.complain(
            "never_salvage",
            found="false",
            expected=f"no such key for the kind {ONLY_NEW_KIND}: it is never bought other than new",
            mend="take never_salvage out",
        )


def _owned_parts(job: JobTables, quoted_parts: frozenset[str], place: Place) -> None:
    """A piece on the shelf that nothing needs is no mistake, unless its name all but equals one that is needed."""
    known = job.part_ids | quoted_parts | frozenset(part for fault in job.faults for part in fault.parts)
    for owned in job.owned:
        close = "" if owned.part in known else nearest(owned.part, sorted(known), cutoff=_ALL_BUT_EQUAL)
        if close:
            place.at(f"[[owned]] {shown(owned.part)[1:-1]}").complain(
                "part",
                found=shown(owned.part),
                expected="a part that a repair, a [[part]] row or a quote names",
                mend=f"did you mean {shown(close)}? Else give the part a [[part]] row of its own",
            )


def _fault(tables: FaultTables, access_ids: frozenset[str] | None, place: Place) -> None:
    """Everything inside one fault: its causes, its checks, its repairs."""
    at = place.at(tables.where)
    _unique(tables.checks, f"{tables.where}, check", place)
    _unique(tables.repairs, f"{tables.where}, repair", place)
    _reserved(tables.causes or (), at)
    for check in tables.checks:
        within = place.at(f"{tables.where}, check {shown(check.id)[1:-1]}")
        _access(check.access, access_ids, within)
        if tables.causes is not None:
            _results(check, tables.causes, within)
    for repair in tables.repairs:
        within = place.at(f"{tables.where}, repair {shown(repair.id)[1:-1]}")
        _access(repair.access, access_ids, within)
        _chance_or_cures(repair, within)
        if tables.causes is not None:
            _cures(repair, tables.causes, within)


def _reserved(causes: Iterable[str], place: Place) -> None:
    """Two words are no causes: one always is there, the other serves causes left out of a row of results."""
    for cause in causes:
        if cause == SOMETHING_ELSE:
            mend = f"take it out, and set its share by something_else = 0.05 in the {place.where.split()[0]} table"
            expected = "the causes that can be named; this one is always there"
        elif cause == DEFAULT:
            mend = "choose another word for this cause"
            expected = "a cause; in the results of checks this word serves the causes left out"
        else:
            continue
        place.complain(f"causes.{cause}", found=shown(cause), expected=expected, mend=mend)


def _access(named: Iterable[str], access_ids: frozenset[str] | None, place: Place) -> None:
    if access_ids is None:
        return
    for access in named:
        if access not in access_ids:
            mend = did_you_mean(access, sorted(access_ids), "add an [[access]] row for it")
            place.complain("access", found=shown(access), expected="the id of an [[access]] row", mend=mend)


def _chance_or_cures(repair: Repair, place: Place) -> None:
    if (repair.chance is None) == (repair.cures is None):
        found = "neither chance nor cures" if repair.chance is None else "both chance and cures"
        mend = "write chance = 0.9 for the same chance on every cause, or cures = { motor = 0.97 } by cause"
        place.complain("chance", found=found, expected="one of chance and cures", mend=mend)
    elif repair.cures is not None and not repair.cures:
        mend = "write cures = { motor = 0.97 }, or take the repair out"
        place.complain("cures", found="an empty table", expected="at least one cause", mend=mend)


def _cures(repair: Repair, causes: tuple[str, ...], place: Place) -> None:
    if repair.cures and not causes:
        mend = "list the causes and their odds under [fault.causes], or write chance = 0.9 instead"
        place.complain("cures", found="a fault that lists no causes", expected="causes to cure", mend=mend)
        return
    for cause in repair.cures or ():
        if cause not in (*causes, SOMETHING_ELSE):
            _unknown_cause(f"cures.{shown(cause)[1:-1]}", cause, causes, place)


def _results(check: Check, causes: tuple[str, ...], place: Place) -> None:
    """The results name causes of the fault, and their chances make a whole under every cause."""
    known = tuple(dict.fromkeys((*causes, SOMETHING_ELSE)))
    unknown = [
        (result, cause) for result, row in check.results.items() for cause in row if cause not in (*known, DEFAULT)
    ]
    for result, cause in unknown:
        _unknown_cause(f"results.{shown(result)[1:-1]}.{shown(cause)[1:-1]}", cause, causes, place)
    if unknown:
        return
    try:
        likelihoods(check, known)
    except ValueError as error:
        expected = "chances that sum to 1 under every cause (within 0.002)"
        mend = "correct the chances, or leave a cause out of one row: it then gets what is left"
        place.complain("results", found=str(error), expected=expected, mend=mend)


def _unknown_cause(key: str, cause: str, causes: tuple[str, ...], place: Place) -> None:
    known = tuple(dict.fromkeys((*causes, SOMETHING_ELSE)))
    mend = did_you_mean(cause, known, "add it to [fault.causes]")
    place.complain(key, found=shown(cause), expected=f"a cause of this fault: {listed(known)}", mend=mend)
