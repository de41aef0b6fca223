"""What a route by itself adds to each stage, in whole numbers: millionths of a fix, minor units or sixtieths."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from functools import lru_cache

from optimiser.chances import MOST_KEPT, counted, counted_for_safety
from optimiser.model.candidates import Proposal
from optimiser.model.job import Job, Severity
from optimiser.model.plan import SIXTIETHS
from optimiser.money import half_up

Worth = dict[tuple[str, ...], int]
"""By a route's key."""


def for_safety(job: Job, proposals: Iterable[Proposal]) -> Worth:
    """Of the dangerous faults' routes: millionths in steps of safety, up to good enough. Empty without safety first."""
    settings = job.settings
    grave = {f.id: f for f in job.faults if f.severity == Severity.DANGEROUS} if settings.safety_first else {}
    return {
        p.key: millionths(
            grave[p.fault].importance, counted_for_safety(_counted(job, p), settings.good_enough, settings.safety_step)
        )
        for p in proposals
        if p.fault in grave
    }


def in_fixes(job: Job, proposals: Iterable[Proposal]) -> Worth:
    """All faults in full."""
    faults = {f.id: f for f in job.faults}
    return {p.key: millionths(faults[p.fault].importance, _counted(job, p)) for p in proposals}


def in_sale(job: Job, proposals: Iterable[Proposal]) -> Worth:
    """What a route adds to the sale, so that gain less whole net cost is its profit rounded once.

    A route that earns more than another of its fault is then never worth less: the search drops the other.
    """
    gains = {f.id: f.sale_gain_minor for f in job.faults}
    return {p.key: half_up(gains[p.fault] * p.chance - p.net_minor) + p.net_whole_minor for p in proposals}


def in_cost_and_time(job: Job, proposals: Iterable[Proposal]) -> Worth:
    """Net cost with the owner's expected time at what it is worth, in sixtieths of a minor unit, half up."""
    worth = job.hour_worth_minor
    return {p.key: half_up(SIXTIETHS * p.net_minor + worth * p.expected_minutes) for p in proposals}


@lru_cache(MOST_KEPT)
def millionths(importance: float, chance: Fraction) -> int:
    """``importance x chance`` in whole millionths of a fix, half rounded up."""
    return (2 * Fraction(repr(importance)) * chance * 1_000_000 + 1) // 2


def _counted(job: Job, proposal: Proposal) -> Fraction:
    return counted(proposal.chance, job.settings.chance_step)
