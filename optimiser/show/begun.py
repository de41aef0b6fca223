"""The answer of begin and add: the files written, the patterns used, and the next step."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optimiser.show import wording
from optimiser.text import in_shell

if TYPE_CHECKING:
    from rich.console import Console

    from optimiser.model.job import Fault, Job


def document(folder: Path, job: Job, names: Sequence[str], added: Sequence[tuple[str, str]]) -> dict[str, Any]:
    """The answer as JSON."""
    return {
        "folder": str(folder),
        "written": list(names),
        "faults": [
            {"id": fault.id, "title": fault.title, "severity": fault.severity.value, "pattern": pattern}
            for fault, pattern in _added(job, added)
        ],
        "overdrawn_by": job.currency.text(max(0, -job.pot.remaining_minor)),
    }


def show(out: Console, folder: Path, job: Job, names: Sequence[str], added: Sequence[tuple[str, str]]) -> None:
    """The answer for a person."""
    if names:
        out.print(f"Written into {wording.plain(str(folder))}: {', '.join(names)}.")
    for fault, pattern in _added(job, added):
        by = f"pattern {pattern}" if pattern else "no pattern"
        out.print(
            f"- {wording.plain(fault.title)} ({fault.severity.value}): {wording.plain(fault.id)}, by {by}",
            highlight=False,
        )
    if any(part.rough_price for part in job.parts):
        out.print(
            "Odds, minutes and rough prices are common practice, no published source: put in what you know better."
        )
    for line in overdrawn(job):
        out.print(f"! {line}", highlight=False)
    where = "" if folder == Path() else f" {in_shell(wording.plain(str(folder)))}"
    following = f"optimiser plan{where}" if job.faults else f'optimiser add{where} "WHAT IS WRONG"'
    out.print(f"Next: {following}", highlight=False)


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


def _added(job: Job, added: Sequence[tuple[str, str]]) -> Iterator[tuple[Fault, str]]:
    """The faults that were added, each with the id of its pattern; none where it is by no pattern."""
    faults = {fault.id: fault for fault in job.faults}
    return ((faults[name], pattern) for name, pattern in added)
