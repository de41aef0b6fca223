"""The answer of begin and add: the files written, the patterns used, and the next step."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from optimiser.calls import call
from optimiser.model import protection
from optimiser.show import wording
from optimiser.text import in_shell

if TYPE_CHECKING:
    from rich.console import Console

    from optimiser.model.job import Fault, Job


class PutIn(NamedTuple):
    """A fault that was put into a job, by its id, with the id of its pattern; none where it is by no pattern.

    ``made_light``: by its pattern it is dangerous, and the person said that it is less.
    """

    fault: str
    pattern: str
    made_light: bool


class LeftOut(NamedTuple):
    """What was told at a terminal and not put in: the words, and the call that adds it."""

    words: str
    adding: str


def document(folder: Path, job: Job, names: Sequence[str], added: Sequence[PutIn]) -> dict[str, Any]:
    return {
        "folder": str(folder),
        "written": list(names),
        "faults": [
            {"id": fault.id, "title": fault.title, "severity": fault.severity.value, "pattern": put_in.pattern}
            for fault, put_in in _added(job, added)
        ],
        "notes": [*_made_light(job, added), *_sale_as_said(job, names, added)],
        "overdrawn_by": job.currency.text(max(0, -job.pot.remaining_minor)),
    }


def show(
    out: Console, folder: Path, job: Job, names: Sequence[str], added: Sequence[PutIn], left_out: Iterable[LeftOut] = ()
) -> None:
    if names:
        out.print(f"Written into {wording.plain(str(folder))}: {', '.join(names)}.")
    for fault, put_in in _added(job, added):
        by = f"pattern {put_in.pattern}" if put_in.pattern else "no pattern"
        out.print(f"- {wording.plain(fault.title)} ({fault.severity.value}): {wording.plain(fault.id)}, by {by}")
    if any(part.rough_price for part in job.parts):
        out.print(
            "Odds, minutes and rough prices are common practice, no published source: put in what you know better."
        )
    for line in (*_made_light(job, added), *_sale_as_said(job, names, added), *overdrawn(job)):
        out.print(f"! {wording.plain(line)}")
    for left in left_out:
        out.print(f"! Left out, so in no plan: {wording.plain(left.words)}. To add it: {wording.plain(left.adding)}")
    following = call("plan") if job.faults else call("add", '"WHAT IS WRONG"')
    out.print(f"Next: {following}")


def _sale_as_said(job: Job, written: Sequence[str], added: Sequence[PutIn]) -> Iterator[str]:
    """That what it fetches as it stands was said before a fault was known, whose gain else counts as new money."""
    gain_minor = sum(fault.sale_gain_minor for fault, _ in _added(job, added))
    if gain_minor and job.pot.sale_as_it_stands_minor is not None and not written:
        yield (
            f"sale_as_it_stands under [money] was said before this was known: lower it by what this takes off, else the"
            f" {wording.amount(job, gain_minor)} that the sale gains by its repair count as new money."
        )


def way_document(folder: Path, job: Job, fault: Fault, row: Mapping[str, Any]) -> dict[str, Any]:
    lacking = list(_lacking(job, fault.id, row["id"]))
    return {"folder": str(folder), "fault": fault.id, "repair": dict(row), "licences_lacking": lacking}


def show_way(out: Console, job: Job, fault: Fault, row: Mapping[str, Any]) -> None:
    who = ", by a workshop" if row.get("by") == "workshop" else ""
    out.print(
        f"One more way to put right {wording.plain(fault.title)}: {wording.plain(row['title'])}{who}, for"
        f" {row['price']}{wording.code(job)}, with a chance of {wording.chance(row['chance'])}."
    )
    out.print(
        f'To take it out again, remove its [[fault.repair]] (id = "{row["id"]}") from under {wording.plain(fault.id)}'
        " in job.toml."
    )
    for line in unlicensed(job, fault.id, row["id"]):
        out.print(f"! {line}")
    out.print(f"Next: {call('plan')}; or beside the others: {call('compare', in_shell(fault.id))}")


def unlicensed(job: Job, fault: str, way: str) -> Iterator[str]:
    """That a way to put a fault right is no work of the owner's, and what to change where it is."""
    for system in _lacking(job, fault, way):
        yield (
            f"Work on {system} is for those licensed for it: no plan offers this as work of your own. If a workshop"
            f' does it, put by = "workshop" under it in job.toml; if you are licensed, licensed = ["{system}"] under'
            " [job]."
        )


def _lacking(job: Job, fault: str, way: str) -> Iterator[str]:
    """The licensed systems that a way of a fault touches and the owner is not licensed for."""
    for known in job.faults:
        for repair in known.repairs:
            if (known.id, repair.id) == (fault, way):
                yield from protection.own_unlicensed(job, known, repair)


def overdrawn(job: Job) -> Iterator[str]:
    """That more is gone of the pot, or held back, than there is in it: by how much, and what to change."""
    pot = job.pot
    if pot.remaining_minor >= 0:
        return
    shares = ((pot.purchase_minor, "paid for it"), (pot.spent_minor, "spent"), (pot.hold_back_minor, "held back"))
    gone = ", ".join(f"{wording.amount(job, minor)} {what}" for minor, what in shares if minor)
    cap, too_much = wording.amount(job, pot.cap_minor), wording.amount(job, -pot.remaining_minor)
    yield (
        f"The pot of {cap} is overdrawn by {too_much} from the start: {gone}. Only what costs nothing can be planned."
        ' Raise "cap" under [money] in job.toml, or lower what is too high there.'
    )


def _added(job: Job, added: Sequence[PutIn]) -> Iterator[tuple[Fault, PutIn]]:
    """The faults that were added, each with how it was put in."""
    faults = {fault.id: fault for fault in job.faults}
    return ((faults[put_in.fault], put_in) for put_in in added)


def _made_light(job: Job, added: Sequence[PutIn]) -> Iterator[str]:
    """That a fault is dangerous by its pattern, and nothing says so any more."""
    for fault, put_in in _added(job, added):
        if put_in.made_light:
            yield (
                f"{fault.title} is dangerous by its pattern; you said {fault.severity.value}: nothing bans its use now."
            )
