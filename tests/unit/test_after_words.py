"""What the plan leaves at the sale, and what its steps are said to add or to cost; all amounts worked out by hand."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser import service
from optimiser.model.job import Pot
from optimiser.model.outstanding import DepositDue
from optimiser.model.plan import PROFIT, CheckWorth
from optimiser.model.sale import sale
from optimiser.show import as_json, compare_words, outcome_words, route_words, steps, wording
from tests.tiny_job import BASE, HORN, LAMP, NEW, ROUTED, SECOND_HORN, but, planned, routed
from tests.unit.test_routes_shown import shown

SOLD = but(
    BASE, pot=Pot(cap_minor=12000, purchase_minor=9000, spent_minor=500, sale_as_it_stands_minor=10000),
    faults=(but(HORN, sale_gain_minor=2000), but(LAMP, sale_gain_minor=1000)), quotes=(but(NEW, deposit_minor=200),),
)  # fmt: skip


def test_the_sale_by_hand() -> None:
    """20.00 x 0.882 + 10.00 x 0.6 = 23.64; 95.00 gone, 9.00 + 2.50 more, 2.00 of deposits back."""
    known = sale(service.plan(SOLD))
    assert known is not None
    assert (known.mended_minor, known.expected_minor, known.gone_minor) == (2364, 12364, 9500 + 900 + 250)
    assert (known.left_minor, known.least_minor, known.most_gone_minor) == (
        12364 - 10650,
        10000,
        9500 + 900 + 250 + 200,
    )
    assert outcome_words.at_the_sale(service.plan(SOLD)) == (
        "At the sale: 123.64 GBP expected (100.00 as it stood, 23.64 by what is mended); 106.50 has gone in by then,"
        " so 17.14 GBP is left over. At the worst, all of it paid and nothing more cured: 100.00 less 108.50,"
        " so 8.50 GBP is lost. Your time is not counted."
    )
    assert as_json.plan(service.plan(SOLD))["sale"] == {
        "as_it_stands": "100.00", "mended": "23.64", "expected": "123.64", "gone_in": "106.50", "left": "17.14",
        "worst_expected": "100.00", "worst_gone_in": "108.50", "worst_left": "-8.50",
    }  # fmt: skip


def test_what_is_cured_stays_cured_at_the_worst_too() -> None:
    cured = but(SOLD, closed=(but(SECOND_HORN, sale_gain_minor=700),))
    known = sale(service.plan(cured))
    assert known is not None
    assert (known.mended_minor, known.least_minor) == (2364 + 700, 10700)


def test_a_deposit_that_is_due_comes_back_and_at_the_worst_does_not() -> None:
    due = but(
        SOLD,
        deposits_due=(DepositDue(bought=1, part="disc", supplier="alder", pieces=1, money_minor=300, each_minor=300),),
    )
    before, known = sale(service.plan(SOLD)), sale(service.plan(due))
    assert before is not None
    assert known is not None
    assert known.gone_minor == before.gone_minor - 300
    assert known.most_gone_minor == before.most_gone_minor


def test_without_a_figure_nothing_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    assert sale(planned("base")) is None
    assert as_json.plan(planned("base"))["sale"] is None
    assert "At the sale" not in "\n".join(shown(planned("base"), monkeypatch))
    assert "At the sale" in "\n".join(shown(service.plan(SOLD), monkeypatch))


# ---- what is added and what it costs

EARNS = "adds 10.0 points of chance and costs 0.20 GBP more on the average: in all it {} GBP, your time counted"


@pytest.mark.parametrize(
    ("chance", "saved", "earned", "said"),
    [
        (0.062, 371, 0, "adds 6.2 points of chance and saves 3.71 GBP on the average, your time counted"),
        (0.062, 0, 0, "adds 6.2 points of chance at the same cost"),
        (-0.1, -371, 0, "costs 10.0 points of chance and 3.71 GBP more on the average, your time counted"),
        (0.0, 371, 0, "leaves the chance as it is and saves 3.71 GBP on the average, your time counted"),
        (0.0, 0, 0, "leaves the chance as it is and costs no more"),
        (0.1, -20, 450.4, EARNS.format("earns 4.50")),
        (0.1, -20, -100, EARNS.format("costs 1.00")),
    ],
)  # fmt: skip
def test_the_word_fits_the_sign(chance: float, saved: int, earned: float, said: str) -> None:
    assert wording.worth_in_words(BASE, chance, saved, earned) == said


def test_time_that_is_worth_nothing_is_not_said_to_be_counted() -> None:
    idle = BASE.model_copy(update={"pot": BASE.pot.model_copy(update={"hour_worth_minor": 0})})
    assert wording.worth_in_words(idle, 0.062, 371) == "adds 6.2 points of chance and saves 3.71 GBP on the average"


def test_the_table_of_looks_has_words_and_no_minus(monkeypatch: pytest.MonkeyPatch) -> None:
    out = shown(routed("check"), monkeypatch)
    row = next(line for line in out if "Feed it 12 V" in line)
    assert "adds 50.0 pts" in row
    assert "costs 19.94" in row
    assert not any("Gain" in line or "-19.94" in line for line in out)


def test_with_aim_profit_a_look_says_what_it_earns(monkeypatch: pytest.MonkeyPatch) -> None:
    plan = routed("profit")
    (look,) = plan.do_first
    earning = plan.model_copy(update={"do_first": (look.model_copy(update={"earned_minor": 1234.0}),)})
    out = shown(earning, monkeypatch)
    assert any("Profit" in line for line in out)
    assert any("earns 12.34" in line for line in out)
    assert as_json.plan(earning)["do_first"][0]["earns"] == "12.34"
    costs = plan.model_copy(update={"do_first": (look.model_copy(update={"earned_minor": -1234.0}),)})
    assert any("costs 12.34" in line for line in shown(costs, monkeypatch))
    choice = plan.choices[0]
    known = CheckWorth(check="feed", fixes=0.1, saved_minor=0.0, minutes=10, taken=False, left_out=True, earned_minor=250.0)  # noqa: E501 # fmt: skip
    assert "in all it earns 2.50 GBP" in route_words.worth(plan.job, choice, known)


def test_a_loss_is_not_called_a_gain() -> None:
    plan = planned("profit")
    loss = plan.selection.model_copy(update={"levels": {**plan.selection.levels, PROFIT: -500}})
    assert "to add" in wording.gain(plan)
    assert wording.gain(plan.model_copy(update={"selection": loss})) == (
        "Expected to cost 5.00 GBP more than it adds to the sale, your time counted."
    )
    assert "Gain" not in compare_words.VALUE_KEY["profit"]


# ---- parts of one step


@pytest.mark.parametrize(
    ("chances", "said"),
    [
        ([0.405, 0.43, 0.165], ["41%", "43%", "16%"]),
        ([1 / 3] * 3, ["34%", "33%", "33%"]),
        ([0.5, 0.5], ["50%", "50%"]),
        ([0.996, 0.004], ["over 99%", "under 1%"]),
        ([1.0, 0.0], ["100%", "0%"]),
        ([], []),
    ],
)
def test_parts_by_hand(chances: list[float], said: list[str]) -> None:
    assert route_words.shares(chances) == said


@given(st.lists(st.floats(1e-6, 1.0), min_size=1, max_size=9))
def test_parts_make_a_hundred_and_none_is_off_by_a_point(weights: list[float]) -> None:
    chances = [weight / sum(weights) for weight in weights]
    ends = {"under 1%": 0, "over 99%": 100}
    whole = [ends[text] if text in ends else int(text.rstrip("%")) for text in route_words.shares(chances)]
    assert sum(whole) == 100
    assert all(abs(percent - 100 * chance) < 1 + 1e-6 for percent, chance in zip(whole, chances, strict=True))


def test_the_branches_of_a_check_make_a_hundred() -> None:
    """0.335, 0.335 and 0.33 would be 34, 34 and 33 one by one."""
    pump = ROUTED["three_results"].faults[0]
    job = but(ROUTED["three_results"], faults=(but(pump, causes={"fuse": 330.0, "plug": 335.0, "pump": 335.0}),))
    (choice,) = (plan := service.plan(job)).choices
    assert choice.route is not None
    tree = steps.numbered(choice.route.first, steps.numbers(plan).trees["pump"])
    said = "\n".join(line for _, line, *_ in route_words.route_lines(job, choice, tree))
    branches = re.findall(r"^(?:Hums|Clicks|Nothing) \((\d+)%\)", said, re.MULTILINE)
    assert sum(map(int, branches)) == 100
    assert sorted(branches) == ["33", "33", "34"]
