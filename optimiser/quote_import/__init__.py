"""Suppliers' sheets as they arrive: opened within bounds, understood, and on a person's word taken into the job.

``understand`` reads one file and writes nothing; ``accept`` writes its clean sheet; ``register.read`` gives what was
settled on earlier sheets. ``take_in`` does all of it for the files of one call, and ``turn_back`` takes
them out again.
"""

from optimiser.model.imports import (
    Accepted,
    Arrived,
    Aside,
    Change,
    Happened,
    Heading,
    Known,
    TakenIn,
    TakenRow,
    Told,
    TurnedBack,
    Understood,
    Why,
)
from optimiser.quote_import.accept import accept, changes
from optimiser.quote_import.importer import understand
from optimiser.quote_import.one_call import take_in
from optimiser.quote_import.take_out import taken_in, turn_back

__all__ = [
    "Accepted",
    "Arrived",
    "Aside",
    "Change",
    "Happened",
    "Heading",
    "Known",
    "TakenIn",
    "TakenRow",
    "Told",
    "TurnedBack",
    "Understood",
    "Why",
    "accept",
    "changes",
    "take_in",
    "taken_in",
    "turn_back",
    "understand",
]
