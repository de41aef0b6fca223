"""Amounts, words and the pot as people type them: what is taken, and what is said where it is not."""

from __future__ import annotations

import json
import re
import shlex
from pathlib import Path

import pytest

from optimiser import money
from optimiser.errors import CallError
from optimiser.money import Currency
from tests.unit.conftest import Run

POUND, YEN = Currency.of("GBP"), Currency.of("JPY")


@pytest.fixture
def job(run: Run, tmp_path: Path) -> Path:
    folder = tmp_path / "van"
    assert run("begin", folder, "--pot", "900", "--fault", "seat torn", "--fault", "headlining sags")[0] == 0
    return folder


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("1,400", "It may mean 1400.00 or 1.40: write the one that is meant."),
        ("1.000", "It may mean 1000.00 or 1.00: write the one that is meant."),
        ("1,234", "GBP has 2 decimal places: for 1234.00 leave out the comma."),
        ("1400 EUR", "The job is in GBP: write what it comes to in that, without EUR."),
        ("€1400", "The job is in GBP: write what it comes to in that, without €."),
        ("USD 3", "The job is in GBP: write what it comes to in that, without USD."),
        ("5 all", "An amount such as '12.50' is expected; £ or pounds or GBP may stand before or behind it."),
        ("5 Try", "An amount such as '12.50' is expected; £ or pounds or GBP may stand before or behind it."),
        ("1400 euros", "The job is in GBP: write what it comes to in that, without euros."),
    ],
)
def test_what_an_amount_may_mean_is_said_in_the_places_of_its_currency(text: str, told: str) -> None:
    with pytest.raises(CallError) as refused:
        money.given(text, POUND)
    assert refused.value.mend == told


@pytest.mark.parametrize(
    "text", ["2100 pounds", "2100 GBP", "2100 quid", "GBP 2100", "Pounds 2100", "2100 Quid", "£2100"]
)
def test_what_people_call_a_currency_is_taken_before_and_behind(text: str) -> None:
    assert money.given(text, POUND) == 210000


def test_what_is_written_as_is_said_is_taken() -> None:
    assert [money.given(text, POUND) for text in ("1400.00", "1.40", "1234.00")] == [140000, 140, 123400]
    assert money.given("1,400", YEN) == 1400


@pytest.mark.parametrize(
    ("text", "code", "minor"),
    [("£1,200", "GBP", 120000), ("£ 1,250.50", "GBP", 125050), ("$1,000", "USD", 100000), ("₹1,200", "INR", 120000)],
)
def test_a_comma_behind_a_sign_that_stands_before_parts_thousands(text: str, code: str, minor: int) -> None:
    assert money.given(text, Currency.of(code)) == minor


@pytest.mark.parametrize(
    ("text", "code"), [("1,200", "GBP"), ("£1.200", "GBP"), ("£0,200", "GBP"), ("€1,200", "EUR"), ("1,200 £", "GBP")]
)
def test_what_may_still_mean_two_amounts_is_asked_about(text: str, code: str) -> None:
    with pytest.raises(CallError, match="is no amount"):
        money.given(text, Currency.of(code))


def test_two_bad_amounts_are_both_named_with_their_option(run: Run, tmp_path: Path) -> None:
    code, out, err = run("begin", tmp_path / "new", "--pot", "1,400", "--purchase", "3x", "--fault", "horn dead")
    assert (code, out) == (2, "")
    assert "--pot '1,400' is no amount." in err
    assert "--purchase '3x' is no amount." in err


def test_a_bad_price_of_a_way_is_named(job: Path, run: Run) -> None:
    assert "--price 'dear' is no amount." in run("add", job, "Weld it", "--to", "seat-torn", "--price", "dear")[2]


def test_hours_below_nothing_and_words_in_any_case(job: Path, run: Run, tmp_path: Path) -> None:
    err = run("begin", tmp_path / "new", "--pot", "900", "--hours", "-3")[2]
    assert "'--hours': -3.0 is not in the range x>=0" in err
    assert run("add", job, "flap rattles", "--plain", "--severity", "Minor")[0] == 0
    assert run("found", job, "new", "hook bent", "--severity", "DANGEROUS")[0] == 0
    bought = ("bought", job, "seat-cover", "from", "cole", "--price", "9", "--condition", "NEW")
    assert "(new)" in run(*bought)[1]


def test_the_pot_is_raised_by_one_word_and_lowered_again(job: Path, run: Run) -> None:
    file = job / "job.toml"
    before = file.read_bytes()
    code, out, _ = run("corrected", job, "pot", "1600", "--suppose")
    assert code == 0
    assert "Suppose: the pot is 1600.00 GBP, not 900.00 GBP." in out
    assert file.read_bytes() == before
    code, out, _ = run("corrected", job, "pot", "1600")
    assert code == 0
    assert "The pot is 1600.00 GBP now; it was 900.00 GBP. All else in job.toml stays as it was." in (
        " ".join(out.split())
    )
    assert "1600.00 GBP to spend" in " ".join(out.split())
    assert b'cap = "1600.00"' in file.read_bytes()
    back = out.partition("To take it back: optimiser ")[2].splitlines()[0]
    assert run(*shlex.split(back))[0] == 0
    assert file.read_bytes() == before
    for wrong in ("much", "-5", "900"):
        assert run("corrected", job, "pot", wrong)[0] == 2
    assert file.read_bytes() == before


def test_what_is_no_entry_is_not_undone_and_that_is_said(job: Path, run: Run) -> None:
    assert run("spent", job, "3", "tube of sealant")[0] == 0
    said = " ".join(run("corrected", job, "pot", "1600")[1].split())
    assert "The diary has no entry of it, so undo does not take it back." in said
    assert "Struck out entry 1: " in run("undo", job)[1]
    assert 'cap = "1600.00"' in (job / "job.toml").read_text(encoding="utf-8")


def test_a_pot_that_was_overdrawn_can_be_taken_back(job: Path, run: Run) -> None:
    file = job / "job.toml"
    assert run("spent", job, "700", "a new roof")[0] == 0
    for pot in ("500", "1600"):
        said = run("corrected", job, "pot", pot)[1]
        assert ("The pot is overdrawn by 200.00 GBP" in " ".join(said.split())) is (pot == "500"), said
    back = said.partition("To take it back: optimiser ")[2].splitlines()[0]
    assert run(*shlex.split(back))[0] == 0
    assert 'cap = "500.00"' in file.read_text(encoding="utf-8")


@pytest.mark.parametrize("supposed", [("--suppose",), ()])
def test_the_pot_is_in_the_json_answer(job: Path, run: Run, supposed: tuple[str, ...]) -> None:
    shown = json.loads(run("corrected", job, "POT", "650 GBP", "--json", *supposed)[1])
    assert shown["pot"] == {"was": "900.00", "now": "650.00"}
    assert shown["supposed"] is bool(supposed)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("pot",), "FAULT CAUSE ODDS; or pot AMOUNT."),
        ((), "FAULT CAUSE ODDS; or pot AMOUNT."),
        (("pot", "100", "200"), "'100 200' is no amount."),
        (("pot", "5000", "USD"), "'5000 USD' is no amount in GBP."),
        (("pot", "650", "--ref", "x"), "The pot has no condition and no reference."),
        (("pot", "650", "--condition", "new"), "The pot has no condition and no reference."),
        (("pot", "from", "cole", "3"), "no part in the job called 'pot'"),
    ],
)
def test_what_is_no_pot_is_said_to_be_none(job: Path, run: Run, words: tuple[str, ...], told: str) -> None:
    before = (job / "job.toml").read_bytes()
    code, _, err = run("corrected", job, *words)
    assert (code, told in " ".join(err.split())) == (2, True), err
    assert (job / "job.toml").read_bytes() == before


def test_a_fault_that_is_called_pot_has_odds(job: Path, run: Run) -> None:
    with (job / "job.toml").open("a", encoding="utf-8") as text:
        text.write(HOOK.replace('"hook"', '"pot"').replace("chance = 0.9", "cures = { worn = 0.9, loose = 0.5 }")
                   .replace("[[fault.repair]]", "causes = { worn = 2, loose = 1 }\n[[fault.repair]]"))  # fmt: skip
    assert "odds of loose 1 -> 4" in run("corrected", job, "pot", "loose", "4")[1]


HOOK = """
[[fault]]
id = "hook"
severity = "major"
[[fault.repair]]
id = "weld"
chance = 0.9
price = "60.00"
by = "workshop"
"""


def test_a_workshops_price_is_corrected_by_its_step(job: Path, run: Run) -> None:
    """The diary says what work really costs; ``job.toml`` stays as it is, and its price is back once struck."""
    with (job / "job.toml").open("a", encoding="utf-8") as text:
        text.write(HOOK)
    written = (job / "job.toml").read_bytes()
    (number,) = re.findall(r"^ *(\d+) +hook ", run("plan", job)[1], re.MULTILINE)
    code, told, _ = run("corrected", job, number, "85")
    assert (code, 'hook: "weld" costs 85.00 GBP, not 60.00' in " ".join(told.split())) == (0, True)
    assert (job / "job.toml").read_bytes() == written

    def price() -> str:
        return str(json.loads(run("plan", job, "hook", "--json")[1])["fault"]["most"])

    assert price() == "85.00"
    run("undo", job)
    assert price() == "60.00"
    assert "no amount" in run("corrected", job, number, "a lot")[2]


def test_nothing_to_order_writes_no_letter_and_says_so(run: Run, tmp_path: Path) -> None:
    folder = tmp_path / "bare"
    run("begin", folder, "--pot", "900")
    run("add", folder, "flap rattles", "--plain", "--severity", "minor")
    _, out, _ = run("report", folder, "-o", tmp_path / "car.html", "--orders", tmp_path / "letters")
    assert "Nothing is to be ordered, so no letter was written." in " ".join(out.split())
    assert not (tmp_path / "letters").exists()


def test_without_a_job_that_is_what_is_said(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for words in ((), ("blower dead",), ("nowhere", "blower dead")):
        code, _, err = run("add", *words)
        assert code == 2
        assert "There is no" in err
        assert "start one: optimiser begin FOLDER" in err


def test_a_way_that_was_added_says_how_to_take_it_out(job: Path, run: Run) -> None:
    _, out, _ = run("add", job, "Cole rewinds it", "--to", "seat-torn", "--price", "5")
    told = 'take it out again, remove its [[fault.repair]] (id = "cole-rewinds-it") from under seat-torn in job.toml.'
    assert told in " ".join(out.split())
