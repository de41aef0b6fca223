"""The whole story of a job at one moment, for a file that is looked at or printed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from optimiser.model.base import Record
from optimiser.model.events import Entry
from optimiser.model.moves import Moves
from optimiser.model.option import Option
from optimiser.model.plan import Plan
from optimiser.model.stretch import Stretch
from optimiser.model.tonight import Tonight


class Turns(StrEnum):
    """When a plan comes to an option: at first, only after a look or a failed attempt, or never."""

    FIRST = "first"
    LATER = "later"
    NEVER = "never"


class OptionBeside(Record):
    """An option beside the others of its fault, all bought by themselves: ``net_minor`` has deposits back.

    ``efficient``: no other option is as cheap and surer, or as sure and cheaper.
    """

    option: Option
    net_minor: int
    turn: Turns
    efficient: bool


class OptionsBeside(Record):
    """The options of one fault, the cheapest first; of very many ``left_out`` inefficient ones are not listed."""

    options: tuple[OptionBeside, ...] = ()
    left_out: int = 0

    @property
    def first(self) -> OptionBeside | None:
        """The one that the plan tries first; None where it begins with a look, or leaves the fault."""
        return next((one for one in self.options if one.turn == Turns.FIRST), None)


class Ask(StrEnum):
    """Why shops are asked about a part, in the order in which they are asked.

    ``NOBODY``: no quote may be used, and a repair waits for one. ``TRIED``: what is quoted was tried and did not cure,
    and was used, so it may have been bad itself. ``ROUGH``: the plan buys it at a price that nobody has
    quoted. ``ONE_SHOP``: the plan buys it, and no other shop has quoted it.
    """

    NOBODY = "nobody"
    TRIED = "tried"
    ROUGH = "rough"
    ONE_SHOP = "one-shop"


class PartWanted(Record):
    """A part to ask shops about: pieces, conditions that may be fitted, and the money that hangs on the answer.

    ``weight`` is for ``NOBODY`` and ``TRIED`` the importance of the faults that wait for it, ``in_doubt_minor`` for
    ``ROUGH`` the width of its range of prices times the pieces, for ``ONE_SHOP`` what the plan pays for it (own
    measures, no published source).
    """

    part: str
    pieces: int
    conditions: tuple[str, ...]
    why: Ask
    faults: tuple[str, ...]
    weight: float = 0.0
    in_doubt_minor: int = 0


Cautions = Mapping[str, tuple[str, ...]]
"""Cautions by title."""


@dataclass(frozen=True)
class Report:
    """All that a report tells.

    By fault: ``beside`` its options, ``cautions`` those of its whole route, ``first_cautions`` those of its first step
    alone. ``conditions`` are the chances taken where nothing is said. ``moves`` is None where no earlier plan is kept.
    """

    plan: Plan
    tonight: Tonight
    beside: Mapping[str, OptionsBeside]
    cautions: Mapping[str, Cautions]
    first_cautions: Mapping[str, Cautions]
    wanted: tuple[PartWanted, ...]
    conditions: Mapping[str, float]
    entries: tuple[Entry, ...] = ()
    moves: Moves | None = None
    stretch: Stretch | None = None
    """What other pots would bring; None where it was not asked."""
    written: Mapping[str, frozenset[str]] = field(default_factory=dict)
    """By table of ``job.toml`` the keys that the person wrote; all others are defaults."""
