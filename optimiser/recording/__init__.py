"""START HERE for what a person writes down: their words, by step numbers or names, into happenings for the record.

A ``Desk`` is what words are understood against; one function a verb turns them into happenings. None of
them writes anything: that is the caller's, once every word is understood.
"""

from optimiser.recording.buying import Deal, bought
from optimiser.recording.desk import Desk
from optimiser.recording.finding import found
from optimiser.recording.fitting import fitted
from optimiser.recording.giving_back import refunded, returned
from optimiser.recording.naming import Ask, nobody
from optimiser.recording.sundry import corrected, noted, spent

__all__ = [
    "Ask",
    "Deal",
    "Desk",
    "bought",
    "corrected",
    "fitted",
    "found",
    "nobody",
    "noted",
    "refunded",
    "returned",
    "spent",
]
