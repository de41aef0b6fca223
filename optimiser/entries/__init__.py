"""START HERE for what a person writes down: their words, by step numbers or names, into happenings for the record.

A ``Desk`` is what words are understood against; one function a verb turns them into happenings. None of
them writes anything: that is the caller's, once every word is understood.
"""

from optimiser.entries.context import Desk
from optimiser.entries.contradicting import mind, settle
from optimiser.entries.findings import found
from optimiser.entries.fitting import fitted
from optimiser.entries.naming import Ask, nobody
from optimiser.entries.other import corrected, left, noted, pot, spent
from optimiser.entries.purchases import Deal, bought
from optimiser.entries.returns import refunded, returned

__all__ = [
    "Ask",
    "Deal",
    "Desk",
    "bought",
    "corrected",
    "fitted",
    "found",
    "left",
    "mind",
    "nobody",
    "noted",
    "pot",
    "refunded",
    "returned",
    "settle",
    "spent",
]
