"""Suppliers' sheets as they arrive: opened within bounds, understood, and on a person's word taken into the job.

``understand`` reads one file and writes nothing; ``accept`` writes its clean sheet; ``kept.read`` gives what was
settled on earlier sheets.
"""

from optimiser.read.intake.accept import Accepted, Change, Happened, accept
from optimiser.read.intake.understand import understand
from optimiser.read.intake.understood import Aside, Heading, Known, TakenRow, Told, Understood, Why

__all__ = [
    "Accepted",
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
    "understand",
]
