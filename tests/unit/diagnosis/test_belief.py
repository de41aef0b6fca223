"""Odds and tables as they are written, completed."""

import pytest

from optimiser.diagnosis.belief import likelihoods, prior
from optimiser.model.job import Check, Fault

CAUSES = ("a", "b", "something-else")


def fault(**more):
    return Fault(id="f", severity="minor", **more)


def table(**results):
    return likelihoods(Check(id="k", results=results), CAUSES)


def test_odds_are_normalised_in_the_jobs_order_and_something_else_takes_its_share_first():
    belief = prior(fault(causes={"z": 1, "a": 3}, something_else=0.2))
    assert list(belief) == ["z", "a", "something-else"]
    assert belief == pytest.approx({"z": 0.2, "a": 0.6, "something-else": 0.2})


def test_the_share_of_something_else_is_a_twentieth_unless_set():
    assert prior(fault(causes={"a": 7}))["something-else"] == 0.05


def test_a_fault_without_causes_has_something_else_for_certain():
    assert prior(fault()) == {"something-else": 1.0}


def test_something_else_takes_no_odds():
    with pytest.raises(ValueError, match="something_else"):
        prior(fault(causes={"something-else": 1}))


def test_huge_odds_do_not_overflow():
    assert prior(fault(causes={"a": 1e308, "b": 1e308}, something_else=0))["a"] == pytest.approx(0.5)


def test_one_result_written_has_its_complement_and_a_half_where_nothing_is_stated():
    assert table(spins={"a": 1.0}) == {
        "spins": {"a": 1.0, "b": 0.5, "something-else": 0.5},
        "not-spins": {"a": 0.0, "b": 0.5, "something-else": 0.5},
    }


def test_default_serves_the_causes_left_out_of_its_own_row_only():
    full = table(spins={"a": 0.9, "default": 0.3}, hums={"a": 0.1})
    assert full["spins"]["b"] == pytest.approx(0.3)
    assert full["hums"]["b"] == pytest.approx(0.7)
    assert full["spins"]["a"] == pytest.approx(0.9)


def test_default_serves_where_one_result_is_written():
    assert table(spins={"a": 0.9, "default": 0.3})["not-spins"]["b"] == pytest.approx(0.7)


def test_what_the_rows_leave_is_split_evenly_over_those_that_are_silent():
    full = table(one={"a": 0.4}, two={}, three={})
    assert [full[r]["a"] for r in ("one", "two", "three")] == pytest.approx([0.4, 0.3, 0.3])
    assert [full[r]["b"] for r in ("one", "two", "three")] == pytest.approx([1 / 3] * 3)


@pytest.mark.parametrize("second", [0.398, 0.402])
def test_a_column_within_two_thousandths_of_one_is_normalised(second):
    full = table(one={"a": 0.6, "default": 0.5}, two={"a": second, "default": 0.5})
    assert full["one"]["a"] + full["two"]["a"] == pytest.approx(1, abs=1e-15)
    assert full["one"]["a"] == pytest.approx(0.6 / (0.6 + second))


@pytest.mark.parametrize(("second", "total"), [(0.3, "0.9"), (0.397, "0.997"), (0.403, "1.003")])
def test_a_column_that_does_not_sum_to_one_is_refused_by_check_cause_and_sum(second, total):
    with pytest.raises(ValueError, match=f'check "k": under "a" the results sum to {total}, not to 1'):
        table(one={"a": 0.6, "default": 0.5}, two={"a": second, "default": 0.5})


def test_stated_rows_above_one_are_refused_though_another_row_is_silent():
    with pytest.raises(ValueError, match=r"sum to 1\.2"):
        table(one={"a": 0.6}, two={"a": 0.6}, three={})


def test_an_unknown_cause_is_refused_by_name():
    with pytest.raises(ValueError, match='result "spins" names "c"'):
        table(spins={"c": 0.5})
