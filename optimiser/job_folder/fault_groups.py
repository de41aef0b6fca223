"""What faults have to do with one another: twins, causes that they share, pieces borrowed, one check for several."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from optimiser.diagnosis.belief import likelihoods, prior
from optimiser.job_folder.job_file import FaultTables
from optimiser.job_folder.problems import Place, did_you_mean, listed, shown
from optimiser.model.job import SOMETHING_ELSE, Access, Check, Fault, Repair

_ODDS_TOLERANCE = 1e-9
MOST_STATES = 200_000
"""Combinations of causes of a twin group that are gone through where a check borrows a piece."""
OF_CHECK = "check:"
"""Begins the name under which a check for several faults is paid for once."""


def examine(faults: Sequence[FaultTables], access: Iterable[Access], place: Place) -> None:
    """Note everything that does not fit together between faults."""
    known = [each for each in faults if each.fault is not None]
    groups: dict[str, list[FaultTables]] = {}
    for each in known:
        if each.fault is not None and each.fault.twin is not None:
            groups.setdefault(each.fault.twin, []).append(each)
    for members in groups.values():
        _alike(members, place)
        _repairs_for_all(members, place)
        _not_too_many(members, place)
    checks = {f"{each.fault.id}.{check.id}": (each, check) for each in known if each.fault for check in each.checks}
    for each in known:
        _shared_causes(each, place.at(each.where))
        members = groups.get(each.fault.twin, []) if each.fault and each.fault.twin else []
        for check in each.checks:
            at = place.at(f"{each.where}, check {shown(check.id)[1:-1]}")
            _borrows(each, check, members, at)
            _same_as(each, check, checks, at)
    taken = {f"{OF_CHECK}{check.same_as}" for _, check in checks.values() if check.same_as}
    for row in access:
        if row.id in taken:
            where = place.at(f"[[access]] {shown(row.id)[1:-1]}")
            where.complain("id", found=shown(row.id), expected="a name of its own", mend="choose another id")


def once(faults: Sequence[Fault]) -> tuple[list[Fault], list[Access]]:
    """The faults with checks for several of them paid for once, and what they are paid for as.

    Such a check costs nothing by itself: its price and minutes are those of an access that all who list it name.
    """
    checks = {f"{fault.id}.{check.id}": check for fault in faults for check in fault.checks}
    owners = {check.same_as: checks[check.same_as] for check in checks.values() if check.same_as}
    access = [
        Access(
            id=f"{OF_CHECK}{name}", title=c.title or c.id, minutes=c.minutes, price_minor=c.cost_minor, is_check=True
        )
        for name, c in owners.items()
    ]

    def shared(fault: Fault, check: Check) -> Check:
        name = check.same_as or f"{fault.id}.{check.id}"
        if name not in owners:
            return check
        opening = (*owners[name].access, f"{OF_CHECK}{name}")
        own: dict[str, object] = {"minutes": 0, "cost_minor": 0, "access": opening}
        if check.same_as:
            own["pairs"] = paired(check, owners[name], fault)
        return check.model_copy(update=own)

    found = [f.model_copy(update={"checks": tuple(shared(f, check) for check in f.checks)}) for f in faults]
    return found, access


def paired(check: Check, owner: Check, fault: Fault) -> dict[str, str]:
    """A check's results by those of the check that it is: as paired in the row, else of the same name.

    Where one is left over on each side, these two go together. Raises ``ValueError`` where that does not come out.
    """
    own, others = list(likelihoods(check, list(prior(fault)))), _results(owner)
    pairs = {result: check.pairs.get(result, result) for result in own}
    free = [result for result in others if result not in pairs.values()]
    odd = [result for result in own if pairs[result] not in others]
    if len(free) == len(odd) == 1 and odd[0] not in check.pairs:
        pairs[odd[0]] = free[0]
    if not check.pairs.keys() <= set(own) or sorted(pairs.values()) != sorted(others):
        raise ValueError(f"{listed(own)} for {listed(others)}")
    return pairs


def _results(check: Check) -> list[str]:
    """The results of a check, one that is not written too."""
    (first, *rest) = check.results
    return [first, *rest] if rest else [first, f"not-{first}"]


def _alike(members: Sequence[FaultTables], place: Place) -> None:
    """Twins have the same causes, the odds up to scale, the share of something else, and share the same causes."""
    first = members[0].fault
    for tables in members[1:]:
        fault = tables.fault
        if first is None or fault is None:
            continue
        key = _unlike(first, fault)
        if key:
            found = f"{key} unlike those of {shown(first.id)}, its twin"
            expected = (
                "in a twin group the same causes, the same odds up to scale, the same something_else, and the same "
                "shared_causes"
            )
            mend = f"copy {key} from {shown(first.id)}, or take twin = {shown(fault.twin)} out"
            place.at(tables.where).complain(key, found=found, expected=expected, mend=mend)


def _unlike(one: Fault, other: Fault) -> str:
    """The key by which two twins are not alike, or nothing."""
    if one.something_else != other.something_else:
        return "something_else"
    whole, whole_other = sum(one.causes.values()), sum(other.causes.values())
    if one.causes.keys() != other.causes.keys() or any(
        abs(odds / whole - other.causes[cause] / whole_other) > _ODDS_TOLERANCE for cause, odds in one.causes.items()
    ):
        return "causes"
    return "" if set(one.shared_causes) == set(other.shared_causes) else "shared_causes"


def _shared_causes(tables: FaultTables, place: Place) -> None:
    fault = tables.fault
    if fault is None or not fault.shared_causes or tables.causes is None:
        return
    expected, mend = "some causes of the fault, each once, but not all", "take it out of the list"
    if fault.twin is None:
        told = 'write twin = "..." too, the same word in every fault that has them, or take shared_causes out'
        place.complain("shared_causes", found="a fault of no twin group", expected="a twin group", mend=told)
    for number, cause in enumerate(fault.shared_causes):
        if cause == SOMETHING_ELSE:
            place.complain("shared_causes", found=shown(cause), expected=expected, mend=f"{mend}: it is each one's own")
        elif cause not in tables.causes:
            meant = did_you_mean(cause, tables.causes, mend)
            place.complain("shared_causes", found=shown(cause), expected=expected, mend=meant)
        elif cause in fault.shared_causes[:number]:
            place.complain("shared_causes", found=f"{shown(cause)} twice", expected=expected, mend=mend)
    if set(tables.causes) and set(tables.causes) <= set(fault.shared_causes):
        told = "leave at least one out that each fault has by itself, or make one fault of the group"
        place.complain("shared_causes", found="every cause of the fault", expected=expected, mend=told)


def _repairs_for_all(members: Sequence[FaultTables], place: Place) -> None:
    """A repair that cures shared causes by ``cures`` is one repair for the group, so it cures them alike."""
    first: dict[str, tuple[str, dict[str, float]]] = {}
    for tables, repair, fault in _repairs(members):
        cures = {c: p for c, p in (repair.cures or {}).items() if c in fault.shared_causes and p > 0}
        other, same = first.setdefault(repair.id, (fault.id, cures)) if cures else ("", cures)
        if cures != same:
            at = place.at(f"{tables.where}, repair {shown(repair.id)[1:-1]}")
            found = f"other chances for {listed(fault.shared_causes)} than in {shown(other)}, its twin"
            expected = "one repair for the group where it cures shared causes"
            mend = f"copy them from {shown(other)}, or give the repair another id"
            at.complain("cures", found=found, expected=expected, mend=mend)


def _repairs(members: Iterable[FaultTables]) -> Iterator[tuple[FaultTables, Repair, Fault]]:
    for tables in members:
        if tables.fault is not None:
            yield from ((tables, repair, tables.fault) for repair in tables.repairs)


def _not_too_many(members: Sequence[FaultTables], place: Place) -> None:
    """Where a piece is borrowed, the causes of the group are gone through together."""
    fault = members[0].fault
    if fault is None or not any(check.borrows for tables in members for check in tables.checks):
        return
    own = len(fault.causes) + 1 - len(set(fault.shared_causes))
    states = own ** len(members) + len(set(fault.shared_causes))
    if states > MOST_STATES:
        place.at(members[0].where).complain(
            "twin",
            found=f"{len(members)} twins with {own} causes each of their own: {states} combinations",
            expected=f"at most {MOST_STATES} where a check borrows a piece",
            mend="make two groups of it, lay causes together, or take borrows out",
        )


def _borrows(tables: FaultTables, check: Check, members: Sequence[FaultTables], place: Place) -> None:
    if check.borrows is None or tables.fault is None:
        return
    wanted, cause = check.borrows.fault, check.borrows.cause
    others = {each.fault.id: each for each in members if each.fault is not None and each is not tables}
    if wanted not in others:
        found = "the fault itself" if wanted == tables.fault.id else shown(wanted)
        mend = did_you_mean(wanted, others, 'write the same twin = "..." in both faults, or take borrows out')
        expected = f"another fault of the twin group: {listed(others)}"
        place.complain("borrows.fault", found=found, expected=expected, mend=mend)
        return
    known = [c for c in others[wanted].causes or () if c not in tables.fault.shared_causes]
    if cause not in known and others[wanted].causes is not None:
        shared = cause in tables.fault.shared_causes
        found = f"{shown(cause)}, which the two share" if shared else shown(cause)
        expected = f"the cause that is this piece being bad, one of {listed(known)}"
        mend = "name a cause that is not shared" if shared else did_you_mean(cause, known, "name that cause")
        place.complain("borrows.cause", found=found, expected=expected, mend=mend)


def _same_as(tables: FaultTables, check: Check, checks: Mapping[str, tuple[FaultTables, Check]], place: Place) -> None:
    if check.same_as is None:
        if check.pairs:
            mend = 'write same_as = "FAULT.CHECK" too, or take pairs out'
            place.complain("pairs", found="a check that is no other's", expected="pairs beside same_as", mend=mend)
        return
    others = [name for name, (each, one) in checks.items() if each is not tables and one.same_as is None]
    owner = checks.get(check.same_as)
    if owner is None or owner[0] is tables or owner[1].same_as is not None:
        found = shown(check.same_as)
        if owner is not None:
            found = "a check of the fault itself" if owner[0] is tables else f"{found}, which is same_as another"
        nearer = owner[1].same_as if owner is not None and owner[0] is not tables else None
        meant = did_you_mean(check.same_as, others, "write it as FAULT.CHECK")
        told = f"write {shown(nearer)}" if nearer else meant
        place.complain("same_as", found=found, expected="a check of another fault, as FAULT.CHECK", mend=told)
        return
    if any(one is not check and one.same_as == check.same_as for one in tables.checks):
        mend = "take one of them out"
        place.complain("same_as", found=f"{shown(check.same_as)} twice in this fault", expected="once", mend=mend)
    for key, unlike in _said_otherwise(check, owner[1]).items():
        mend = f"take {key} out: it is that of {shown(check.same_as)}"
        place.complain(key, found=unlike, expected=f"what {shown(check.same_as)} says, or nothing", mend=mend)
    if tables.fault is not None and tables.causes is not None:
        _pairs(check, owner[1], tables.fault, place)


def _said_otherwise(check: Check, owner: Check) -> dict[str, str]:
    """What a check says of itself that the check that it is does not."""
    unlike = {"minutes": check.minutes != owner.minutes, "cost": check.cost_minor != owner.cost_minor}
    unlike |= {"access": set(check.access) != set(owner.access), "borrows": check.borrows not in (None, owner.borrows)}
    return {key: f"another {key}" for key, other in unlike.items() if other}


def _pairs(check: Check, owner: Check, fault: Fault, place: Place) -> None:
    try:
        paired(check, owner, fault)
    except ValueError as error:
        expected = "a result of the other check for each of this one, none twice"
        mend = 'pair them: pairs = { RESULT = "RESULT OF THE OTHER" }, or write the same names'
        if set(_causes_named(check)) <= {*fault.causes, SOMETHING_ELSE, "default"}:  # else that is said already
            place.complain("pairs", found=str(error), expected=expected, mend=mend)


def _causes_named(check: Check) -> Iterator[str]:
    for row in check.results.values():
        yield from row
