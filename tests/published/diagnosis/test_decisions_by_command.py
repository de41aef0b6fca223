"""Published decisions as job folders, asked of the command itself.

A thing bought or a well drilled is a fault: its worth is what the sale gains, its price the repair's, and a survey or
an inspection is a check. Chances count as they are, time is worth nothing, and no gain is too small for a check.
"""

from __future__ import annotations

import json

import pytest

from optimiser.cli import main

HEAD = """
[job]
currency = "USD"
aim = "profit"
chance_step = 0
check_must_gain = 0
safety_first = false

[money]
cap = "10000"
hour_worth = "0"

[[fault]]
id = "deal"
severity = "minor"
something_else = 0
"""
USED_CAR = """
sale_gain = "700"
causes = { good = 7, bad = 3 }
[[fault.check]]
id = "test"
cost = "50"
results.pass = { good = 0.8, bad = 0.35 }
[[fault.repair]]
id = "buy"
price = "200"
cures = { good = 1.0 }
"""
WELL = """
sale_gain = "270"
causes = { dry = 5, wet = 3, soaking = 2 }
[[fault.check]]
id = "test"
cost = "10"
results.none = { dry = 0.6, wet = 0.3, soaking = 0.1 }
results.open = { dry = 0.3, wet = 0.4, soaking = 0.4 }
results.closed = { dry = 0.1, wet = 0.3, soaking = 0.5 }
[[fault.repair]]
id = "drill"
price = "70"
cures = { wet = 0.44444444444444444, soaking = 1.0 }
"""
LAND = """
sale_gain = "800"
causes = { oil = 1, dry = 3 }
[[fault.check]]
id = "test"
cost = "30"
results.favourable = { oil = 0.6, dry = 0.2 }
[[fault.repair]]
id = "drill"
price = "190"
cures = { oil = 1.0 }
"""


@pytest.fixture
def plan(tmp_path, capsys):
    """The answer to a deal at another price of its survey."""

    def asked(deal: str, cost: str | None = None):
        text = deal if cost is None else "".join(
            f'cost = "{cost}"\n' if line.startswith("cost") else line for line in deal.splitlines(keepends=True)
        )  # fmt: skip
        (tmp_path / "job.toml").write_text(HEAD + text, encoding="utf-8")
        assert main(["plan", str(tmp_path), "--json"]) == 0
        answer = json.loads(capsys.readouterr().out)
        assert answer["proven"]
        return answer

    return asked


def then(answer) -> dict[str, str]:
    """What is done after each result of the survey."""
    return {result: node["do"] for result, node in answer["faults"][0]["route"]["then"].items()}


@pytest.mark.parametrize("cost", ["50", "0"])
def test_the_used_car_is_bought_without_a_test(plan, cost) -> None:
    """Russell & Norvig, Artificial Intelligence, exercise 16.22 (3rd edition 16.17), after Pearl 1988.

    Worth 2000, at a price of 1500 and 700 of repairs where it is bad. Data read, answers from memory: the gain is 290
    without the test, and one buys whatever it shows.
    """
    answer = plan(USED_CAR, cost)
    assert answer["expected_profit"] == "290.00"
    assert answer["faults"][0]["repair"] == "buy"
    assert answer["do_first"] == []


@pytest.mark.parametrize(("cost", "profit", "first"), [("10", "22.50", "check"), ("13", "20.00", "attempt")])
def test_the_oil_wildcatter(plan, cost, profit, first) -> None:
    """Raiffa, Decision Analysis, 1968 (from memory; likelihoods as in the SAS/OR manual): payoffs -70, 50, 200.

    20 without the test, 22.5 with it at 10, so it is worth 12.5 and one at 13 is not made; drill unless it shows none.
    """
    answer = plan(WELL, cost)
    assert answer["expected_profit"] == profit
    assert answer["faults"][0]["route"]["do"] == first
    if first == "check":
        assert then(answer) == {"none": "stop", "open": "attempt", "closed": "attempt"}


def test_goferbroke_surveys_then_drills_or_sells(plan) -> None:
    """Hillier & Lieberman, Introduction to Operations Research, decision analysis (data read, answers from memory).

    Oil .25, drill 700 or -100, sell 90, survey 30: 123 with the survey, all figures here above selling.
    """
    answer = plan(LAND)
    assert float(answer["expected_profit"]) + 90 == 123
    assert then(answer) == {"favourable": "attempt", "not-favourable": "stop"}
