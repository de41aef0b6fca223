"""What is believed about the cause of one fault, before and after what was seen.

One cause is present; results of different checks are independent given the cause.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import log

from optimiser.model.job import SOMETHING_ELSE, Check, Fault

DEFAULT = "default"
"""The key that, inside a row of results, serves the causes which the row does not name."""
SUM_TOLERANCE = 0.002
"""How far a column of written chances may be from 1 before it is refused; inside it is normalised."""

Belief = dict[str, float]
"""Chance by cause, in the job's order, something-else last; sums to 1."""
Table = dict[str, dict[str, float]]
"""Chance of a result given a cause, by result, then by cause."""


def prior(fault: Fault) -> Belief:
    """The chances before anything was seen: the odds, normalised, with something-else at its share.

    A fault without causes has something-else for certain. Raises ``ValueError`` where something-else is given odds.
    """
    if SOMETHING_ELSE in fault.causes:
        raise ValueError(f"{SOMETHING_ELSE} is always there; its share is set by something_else, not by odds")
    if not fault.causes:
        return {SOMETHING_ELSE: 1.0}
    largest = max(fault.causes.values())
    total = sum(odds / largest for odds in fault.causes.values())
    listed = 1 - fault.something_else
    belief = {cause: listed * (odds / largest / total) for cause, odds in fault.causes.items()}
    return belief | {SOMETHING_ELSE: fault.something_else}


def likelihoods(check: Check, causes: Sequence[str]) -> Table:
    """The full table P(result | cause) of a check, completing what is written.

    ``default`` in a row serves the causes that the row leaves out; what the rows then leave of a cause's column is
    split evenly over the rows that do not state it. Where one result is written the other is its complement
    ``not-<result>``, and a cause that is not stated has 0.5. Columns within 0.002 of 1 are normalised.
    Raises ``ValueError`` naming the check and the cause where a column does not fit or a cause is unknown.
    """
    for result, row in check.results.items():
        unknown = [cause for cause in row if cause != DEFAULT and cause not in causes]
        if unknown:
            raise ValueError(f'check "{check.id}": result "{result}" names "{unknown[0]}", no cause of this fault')
    if len(check.results) == 1:
        return _with_complement(check, causes)
    columns = {cause: _column(check, cause) for cause in causes}
    return {result: {cause: columns[cause][result] for cause in causes} for result in check.results}


def _with_complement(check: Check, causes: Sequence[str]) -> Table:
    """The table of a check of which one result is written."""
    ((result, row),) = check.results.items()
    written = {cause: row.get(cause, row.get(DEFAULT, 0.5)) for cause in causes}
    return {result: written, f"not-{result}": {cause: 1 - chance for cause, chance in written.items()}}


def _column(check: Check, cause: str) -> dict[str, float]:
    """Chance of each result under one cause, for a check with two or more results written."""
    stated = {result: row.get(cause, row.get(DEFAULT)) for result, row in check.results.items()}
    total = sum(chance for chance in stated.values() if chance is not None)
    open_rows = sum(chance is None for chance in stated.values())
    # a hair of slack, so that a column of 0.998 as written in decimals is not refused for its binary rounding
    short = 0 if open_rows else 1 - total
    if max(total - 1, short) > SUM_TOLERANCE + 1e-12:
        raise ValueError(f'check "{check.id}": under "{cause}" the results sum to {total:.6g}, not to 1')
    left = max(0.0, 1 - total) / max(open_rows, 1)
    column = {result: left if chance is None else chance for result, chance in stated.items()}
    whole = sum(column.values())
    return {result: chance / whole for result, chance in column.items()}


def telling(belief: Belief, table: Table) -> float:
    """How much a check tells of the cause: the mutual information of its result and the cause (Shannon 1948)."""
    found = 0.0
    for row in table.values():
        seen = sum(belief[cause] * row[cause] for cause in belief)
        found += sum(
            belief[cause] * row[cause] * log(row[cause] / seen) for cause in belief if belief[cause] * row[cause] > 0
        )
    return found
