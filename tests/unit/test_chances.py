"""How chances count, at the edges of a step, each worked out by hand from the model page."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from optimiser.certificate.sums import as_counted
from optimiser.chances import counted, counted_for_safety, steps_in
from optimiser.model.job import Fault, Settings
from tests.brute_force import down_to_steps, in_steps

COUNTED = [  # chance, step, what it counts for
    (0.884, 0.01, "0.88"),
    (0.885, 0.01, "0.89"),  # half up, though the float lies a little below
    (0.005, 0.01, "0.005"),  # below one step it stays
    (0.0099, 0.01, "0.0099"),
    (0.01, 0.01, "0.01"),
    (0.0149999999, 0.01, "0.02"),  # to nine decimals first: 0.015
    (0.014999999, 0.01, "0.01"),
    (0.994, 0.01, "0.99"),
    (0.996, 0.01, "0.99"),  # short of a certainty it never is one
    (0.9999999996, 0.01, "1"),  # but to nine decimals this is
    (1.0, 0.01, "1"),
    (0.0, 0.01, "0"),
    (0.29, 0.2, "0.2"),
    (0.3, 0.2, "0.4"),
    (0.19, 0.2, "0.19"),
    (0.95, 0.2, "0.8"),
    (0.5, 1.0, "0.5"),  # one step is all there is
    (0.123456789499, 0, "0.123456789"),
    (0.1 + 0.2, 0, "0.3"),
]


@pytest.mark.parametrize(("chance", "step", "worth"), COUNTED)
def test_a_chance_counts_in_whole_steps(chance: float, step: float, worth: str) -> None:
    assert counted(chance, step) == as_counted(chance, step) == Fraction(worth)


FOR_SAFETY = [  # counted chance, good enough, step, what it counts for
    ("0.79", 0.8, 0.2, "0.6"),
    ("0.8", 0.8, 0.2, "0.8"),
    ("0.99", 0.8, 0.2, "0.8"),
    ("0.99", 0.85, 0.2, "0.8"),
    ("0.19", 0.8, 0.2, "0"),
    ("0.99", 0.85, 0, "0.85"),
    ("0.43", 0.85, 0, "0.43"),
    ("1", 1.0, 0.2, "1"),
    ("0.6", 0.6, 0.2, "0.6"),  # floats make 2.9999999999999996 steps of it
]


@pytest.mark.parametrize(("chance", "good_enough", "step", "worth"), FOR_SAFETY)
def test_for_safety_a_chance_counts_what_it_reaches(chance: str, good_enough: float, step: float, worth: str) -> None:
    assert counted_for_safety(Fraction(chance), good_enough, step) == Fraction(worth)


@given(st.floats(0, 1), st.floats(0, 1), st.sampled_from([0, 0.01, 0.05, 0.2, 0.25, 0.5, 1.0]))
def test_three_ways_of_counting_agree(chance: float, good_enough: float, step: float) -> None:
    worth = counted(chance, step)
    assert worth == as_counted(chance, step)
    assert worth == in_steps(Fraction(repr(chance)), step)
    enough = Fraction(repr(good_enough))
    assert counted_for_safety(worth, good_enough, step) == down_to_steps(min(worth, enough), step)


@given(st.floats(0, 1), st.floats(0, 1), st.sampled_from([0, 0.01, 0.2, 1.0]))
def test_a_surer_chance_never_counts_for_less(one: float, other: float, step: float) -> None:
    low, high = sorted((one, other))
    assert counted(low, step) <= counted(high, step)


@pytest.mark.parametrize("step", [0.03, 0.4, 0.7])
def test_a_step_is_a_whole_part_of_a_certainty(step: float) -> None:
    with pytest.raises(ValueError, match="1/n"):
        steps_in(step)
    with pytest.raises(ValidationError, match="1/n"):
        Settings(chance_step=step)
    assert steps_in(1 / 3) == 3


@pytest.mark.parametrize(("severity", "weight"), [("minor", 1), ("major", 2), ("dangerous", 2)])
def test_a_grave_fault_weighs_twice_unless_its_weight_is_said(severity: str, weight: float) -> None:
    assert Fault(id="horn", severity=severity).importance == weight
    assert Fault(id="horn", severity=severity, importance=1.5).importance == 1.5
