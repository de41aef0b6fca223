"""Ordinary faults as patterns in the words of ``job.toml``: found by plain words, fitted to a place, written out."""

from optimiser.patterns.catalogue import Pattern, catalogue, own_folder
from optimiser.patterns.job_text import Wanted, fault_text, plain_fault_text
from optimiser.patterns.said import Said, said
from optimiser.patterns.search import Found, grave_systems, search, several

__all__ = [
    "Found", "Pattern", "Said", "Wanted", "catalogue", "fault_text", "grave_systems", "own_folder", "plain_fault_text",
    "said", "search", "several",
]  # fmt: skip
