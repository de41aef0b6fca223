"""Posteriors printed in textbooks. Where a source was recalled and not read again it is marked "from memory"."""

from math import prod

import pytest

from optimiser.model.evidence import Finding
from optimiser.model.job import Check, Fault
from tests.one_fault import posterior


def fault(odds, tables, something_else=0.0):
    checks = tuple(Check(id=check, results=rows) for check, rows in tables.items())
    return Fault(id="f", severity="minor", causes=odds, something_else=something_else, check=checks)


def rows(table):
    """Rows of results by columns of causes, something-else last."""
    causes = ("d1", "d2", "d3", "something-else")
    return {result: dict(zip(causes, row, strict=True)) for result, row in table.items()}


# Ott & Longnecker, An Introduction to Statistical Methods, example 4.4 and exercise 4.31: circuit boards with at most
# one defect. Data read; the posteriors after A4 from memory, the others computed apart from this code.
BOARDS = rows({
    "a1": (0.90, 0.06, 0.02, 0.02), "a2": (0.05, 0.80, 0.06, 0.01),
    "a3": (0.03, 0.05, 0.82, 0.02), "a4": (0.02, 0.09, 0.10, 0.95),
})  # fmt: skip


@pytest.mark.parametrize(
    ("result", "expected"),
    [
        ("a1", (0.55851, 0.01596, 0.01418, 0.41135)),
        ("a2", (0.06306, 0.43243, 0.08649, 0.41802)),
        ("a3", (0.01817, 0.01298, 0.56747, 0.40138)),
        ("a4", (0.00063, 0.00122, 0.00361, 0.99454)),
    ],
)
def test_circuit_boards_with_four_causes_and_four_results(result, expected):
    boards = fault({"d1": 28, "d2": 12, "d3": 32}, {"inspect": BOARDS}, something_else=0.928)
    found = posterior(boards, [Finding("inspect", result)]).chances
    assert tuple(found.values()) == pytest.approx(expected, abs=5e-6)


def test_bolts_from_three_machines():
    # NCERT Mathematics, class XII, chapter on probability, Bayes' theorem
    bolts = fault({"a": 25, "b": 35, "c": 40}, {"look": {"defective": {"a": 0.05, "b": 0.04, "c": 0.02}}})
    found = posterior(bolts, [Finding("look", "defective")]).chances
    assert (found["a"], found["b"], found["c"]) == pytest.approx((25 / 69, 28 / 69, 16 / 69), rel=1e-12)


def test_items_from_three_machines():
    # NCERT Mathematics, class XII, exercise of the same chapter (answer from memory)
    items = fault({"a": 50, "b": 30, "c": 20}, {"look": {"defective": {"a": 0.02, "b": 0.02, "c": 0.03}}})
    assert posterior(items, [Finding("look", "defective")]).chances["a"] == pytest.approx(5 / 11, rel=1e-12)


def test_a_rare_illness():
    # Mitchell, Machine Learning, 1997, section 6.2.1 (from memory): 0.21
    ill = fault({"cancer": 8, "healthy": 992}, {"test": {"positive": {"cancer": 0.98, "healthy": 0.03}}})
    assert posterior(ill, [Finding("test", "positive")]).chances["cancer"] == pytest.approx(0.21, abs=0.005)


def test_four_independent_findings():
    # Mitchell, Machine Learning, 1997, section 6.9.1, play tennis (from memory): 0.795
    given_yes, given_no = (2 / 9, 3 / 9, 3 / 9, 3 / 9), (3 / 5, 1 / 5, 4 / 5, 3 / 5)
    tables = {f"k{i}": {"r": {"yes": y, "no": n}} for i, (y, n) in enumerate(zip(given_yes, given_no, strict=True))}
    found = posterior(fault({"yes": 9, "no": 5}, tables), [Finding(k, "r") for k in tables]).chances
    assert found["no"] == pytest.approx(0.795, abs=0.0005)
    assert found["yes"] / found["no"] == pytest.approx(9 * prod(given_yes) / (5 * prod(given_no)), rel=1e-12)


def test_both_neighbours_call():
    # Russell & Norvig, Artificial Intelligence, burglary network (from memory): 0.284. Burglary and earthquake may come
    # together, so the exclusive causes are the four pairs.
    b, e = 0.001, 0.002
    odds = {"both": b * e, "burglary": b * (1 - e), "quake": (1 - b) * e, "neither": (1 - b) * (1 - e)}
    alarm = {"both": 0.95, "burglary": 0.94, "quake": 0.29, "neither": 0.001}
    calls = {cause: p * 0.90 * 0.70 + (1 - p) * 0.05 * 0.01 for cause, p in alarm.items()}
    found = posterior(fault(odds, {"phone": {"both-call": calls}}), [Finding("phone", "both-call")]).chances
    assert found["both"] + found["burglary"] == pytest.approx(0.284, abs=0.0005)


def test_sweets_from_two_bags():
    # A. Downey, Think Bayes, the M&M problem: 20/27 that the yellow one came from the bag of 1994
    bags = fault(
        {"yellow-1994": 1, "green-1994": 1}, {"taste": {"yellow-green": {"yellow-1994": 0.04, "green-1994": 0.014}}}
    )
    found = posterior(bags, [Finding("taste", "yellow-green")]).chances
    assert found["yellow-1994"] == pytest.approx(20 / 27, rel=1e-12)
