"""What verify catches that a plan would only work around."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.unit.conftest import Run

JOB = """
[job]
currency = "GBP"
{more}

[money]
cap = "100.00"

[[fault]]
id = "lamp"
severity = "minor"
{fault}
  [[fault.repair]]
  id = "bulb"
  chance = {chance}
  parts = {{ bulb = 1 }}
"""


def verified(run: Run, folder: Path, more: str = "", fault: str = "", chance: str = "0.9", sheet: str = "") -> str:
    (folder / "job.toml").write_text(JOB.format(more=more, fault=fault, chance=chance), encoding="utf-8")
    if sheet:
        (folder / "quotes.csv").write_text(f"part,supplier,condition,price\n{sheet}\n", encoding="utf-8")
    _, out, err = run("verify", folder)
    return " ".join((out + err).split())


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({}, "Nobody quotes these parts, and none is on the shelf, so no repair with them is offered: bulb."),
        ({"more": 'aim = "profit"'}, "no fault says what mending it gains at the sale"),
        ({"fault": 'twin = "blower"'}, 'the only fault of the twin group blower: write twin = "blower"'),
        ({"chance": "95"}, "write 0.95 for 95%"),
        ({"fault": 'system = "flux"'}, "one of airbags-and-belts"),
    ],
)
def test_it_says_so(run: Run, tmp_path: Path, said: dict[str, str], told: str) -> None:
    assert told in verified(run, tmp_path, **said)


def test_a_sign_for_the_currency_is_told_by_its_letters(run: Run, tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text('[job]\ncurrency = "£"\n[money]\ncap = "1"\n', encoding="utf-8")
    assert 'write "GBP"' in run("verify", tmp_path)[2]


def test_nothing_is_said_where_nothing_is_missing(run: Run, tmp_path: Path) -> None:
    said = verified(run, tmp_path, 'aim = "profit"', 'sale_gain = "5.00"', sheet="bulb,kestrel,new,2.00")
    assert "Nobody quotes" not in said
    assert "gains at the sale" not in said


def test_a_rough_price_is_told_until_somebody_quotes_the_part(run: Run, tmp_path: Path) -> None:
    row = '[[part]]\nid = "bulb"\nrough_price = { new = ["1.00", "4.00"] }\n'
    (tmp_path / "job.toml").write_text(JOB.format(more="", fault="", chance="0.9") + row, encoding="utf-8")
    assert "Rough prices stand for quotes that nobody has given yet: bulb." in " ".join(
        run("verify", tmp_path)[1].split()
    )
    (tmp_path / "quotes.csv").write_text("part,supplier,condition,price\nbulb,kestrel,new,2.00\n")
    assert "Rough prices" not in run("verify", tmp_path)[1]


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ('{ new = ["4.00", "1.00"] }', "the lowest amount stands first"),
        ('{ new = ["1.00", "2.00", "3.00"] }', "an amount, or the lowest and the highest"),
        ("{ new = [] }", "an amount, or the lowest and the highest"),
        ('{ mint = "4.00" }', "one of new, refurbished, salvage"),
        ('"4.00"', "a table of rough prices by condition"),
        ('{ new = "-4" }', "an amount, or the lowest and the highest"),
    ],
)
def test_bad_rough_prices_are_problems_with_a_mend(run: Run, tmp_path: Path, row: str, told: str) -> None:
    text = JOB.format(more="", fault="", chance="0.9") + f'[[part]]\nid = "bulb"\nrough_price = {row}\n'
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    code, _, err = run("verify", tmp_path)
    assert code == 2
    assert told in " ".join(err.split())


def test_odds_in_words(run: Run, tmp_path: Path) -> None:
    fault = 'causes = { bulb = "likely", feed = "rare" }'
    text = JOB.format(more="", fault=fault, chance="0.9")
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    assert run("verify", tmp_path)[0] == 0
    (tmp_path / "job.toml").write_text(text.replace("likely", "likly"), encoding="utf-8")
    assert 'did you mean "likely"?' in run("verify", tmp_path)[2]
