"""After a cure that may have been the twins' too: whether they work, asked for and taken down; and what came right."""

from __future__ import annotations

from optimiser.calls import call
from optimiser.diagnosis.group_evidence import cured_for_all
from optimiser.entries.context import Desk
from optimiser.model import events
from optimiser.model.evidence import Cured
from optimiser.model.job import Fault
from optimiser.text import in_shell

STILL = "still"
ANSWERS = {"works too": True, "still as it was": False}


def asked(desk: Desk, cured: Fault, repair: str) -> tuple[events.AfterCure, ...]:
    """Whether the open twins work, after a repair cured one that cures what they may all have.

    Asked where somebody is there; else the person is told how to say it.
    """
    said = []
    for fault in desk.job.faults:
        if fault.id == cured.id or fault.twin is None or fault.twin != cured.twin or not cured_for_all(cured, repair):
            continue
        question = f"{fault.title or fault.id} may have had the same cause and be cured too. How is it now?"
        answer = desk.ask(question, list(ANSWERS))
        if answer in ANSWERS:
            said.append(desk.made(events.AfterCure, fault=fault.id, works=ANSWERS[answer]))
        else:
            desk.notes.append(
                f"{fault.id} may have had the same cause and be cured too. Try it, then say: {call('found')}"
                f" {in_shell(fault.id)} works; or: {call('found')} {in_shell(fault.id)} still. Until then it is planned"
                " as if still."
            )
    return tuple(said)


def is_meant(desk: Desk, subject: str, shown: frozenset[str], word: str) -> bool:
    """Whether "works", "gone" or "still" is said of a fault itself, and is no result of its checks (``shown``)."""
    fault = desk.surely(subject)
    return fault is not None and (word not in shown or _twin_cured(desk, fault))


def answer(desk: Desk, subject: str, word: str) -> events.AfterCure | events.CameRight | None:
    """How a fault is after its twin was cured; else that it came right by itself."""
    fault = desk.open_fault(subject)
    if fault is None:
        return None
    twin_cured = _twin_cured(desk, fault)
    if word != STILL and not twin_cured:
        desk.mind_gone(fault)
        return desk.made(events.CameRight, fault=fault.id)
    if not twin_cured:
        desk.wrong.add(
            f"No twin of {fault.id} was cured by a repair that would have cured it too.",
            f"If a repair cured it, say: {call('fitted')} {in_shell(fault.id)} REPAIR cured.",
        )
        return None
    return desk.made(events.AfterCure, fault=fault.id, works=word != STILL)


def _twin_cured(desk: Desk, fault: Fault) -> bool:
    """Whether a twin was cured, for as long as that lasts, by a repair that cures what they may all have."""
    return any(
        isinstance(entry, Cured) and cured_for_all(twin, entry.repair)
        for twin in desk.job.closed
        if fault.twin is not None and twin.twin == fault.twin and twin.id != fault.id
        for entry in desk.job.seen.get(twin.id, ())
    )
