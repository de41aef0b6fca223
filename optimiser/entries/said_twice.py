"""The same thing written down twice within minutes: most often one and the same."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from optimiser.calls import call
from optimiser.entries.context import Desk
from optimiser.errors import WordsError
from optimiser.model import events

WITHIN = timedelta(minutes=10)
"""Invented, no published source."""
ONCE_MORE, LEAVE = "write it down once more", "leave it, it is the same"
WHEN_AND_BY = {"at", "source"}


def settle(desk: Desk, happenings: Sequence[events.Happening]) -> None:
    """Ask about what stands among the latest entries already; where nobody is there, note it.

    Raises ``WordsError`` where a person says that it is the same.
    """
    said = [happening.model_dump(exclude=WHEN_AND_BY) for happening in happenings]
    same = [
        entry.number
        for entry in desk.standing
        if desk.at - entry.happening.at <= WITHIN and entry.happening.model_dump(exclude=WHEN_AND_BY) in said
    ]
    if not same:
        return
    answer = desk.ask(
        f"Entry {same[-1]} says the same, written down minutes ago. What shall be done?", [ONCE_MORE, LEAVE]
    )
    if answer == LEAVE:
        raise WordsError([(f"Left as entry {same[-1]} has it.", "Nothing more is to be written.")])
    if answer is None and not any(f"Entry {same[-1]} says the same" in note for note in desk.notes):
        desk.notes.append(f"Entry {same[-1]} says the same, minutes ago. If it happened once: {call('undo')}")
