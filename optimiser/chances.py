"""How a chance counts where mixes are weighed: in whole steps, since nobody knows one better than to a point."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

PLACES = 10**9
"""Chances are told apart to nine decimals; what floats add below is noise."""
MOST_KEPT = 2**16
"""Chances whose figures are kept: those of the routes of one job are asked for again and again."""


def steps_in(step: float) -> int:
    """How many steps make a certainty: 100 for 0.01. Raises ``ValueError`` unless the step is 1/n."""
    count = round(1 / step)
    if abs(1 / step - count) > 1e-6 * count:
        raise ValueError(f"a step is 1/n, such as 0.01 or 0.2, not {step:g}")
    return count


def _nearest(billionths: int, count: int) -> int:
    """The nearest number of steps, ``count`` of which make a certainty, half up."""
    return (2 * billionths * count + PLACES) // (2 * PLACES)


def whole_percent(chance: float) -> int:
    """A chance in percent, half up; floats that stand beside a half by noise alone are read as the half."""
    return _nearest(round(chance * PLACES), 100)


@lru_cache(MOST_KEPT)
def counted(chance: float, step: float) -> Fraction:
    """The chance as it counts (model page, section 1): half up to a multiple of ``step``, itself where that is 0.

    Below one step it stays, and short of a certainty it never becomes one.
    """
    billionths = round(chance * PLACES)
    if step == 0 or billionths >= PLACES or billionths * (count := steps_in(step)) < PLACES:
        return Fraction(billionths, PLACES)
    return Fraction(min(_nearest(billionths, count), count - 1), count)


@lru_cache(MOST_KEPT)
def counted_for_safety(chance: Fraction, good_enough: float, step: float) -> Fraction:
    """What a counted chance is worth for safety: the greatest multiple of ``step`` in it, up to ``good_enough``."""
    enough = min(chance, Fraction(repr(good_enough)))
    if step == 0:
        return enough
    return Fraction(enough * steps_in(step) // 1, steps_in(step))
