"""Suppliers' sheets as they arrive: opened within bounds, understood, and on a person's word taken into the job.

``understand`` reads one file and writes nothing; ``accept`` writes its clean sheet; ``kept.read`` gives what was
settled on earlier sheets. ``take_in`` does all of it for the files of one call.
"""

from optimiser.model.intake import (
    Accepted,
    Arrived,
    Aside,
    Change,
    Happened,
    Heading,
    Known,
    TakenRow,
    Told,
    Understood,
    Why,
)
from optimiser.read.intake.accept import accept, changes
from optimiser.read.intake.taken_in import take_in
from optimiser.read.intake.understand import understand

__all__ = [
    "Accepted",
    "Arrived",
    "Aside",
    "Change",
    "Happened",
    "Heading",
    "Known",
    "TakenRow",
    "Told",
    "Understood",
    "Why",
    "accept",
    "changes",
    "take_in",
    "understand",
]
