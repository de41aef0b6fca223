"""A line that says of the tax what is understood, and goes on about money, is heeded for both."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.sheets import corpus

TAX = {"All prices include VAT": 3000, "Prices ex VAT at 20%": 3600, "Precios sin IVA (21%)": 3630}
TAX["Preise inkl. MwSt"] = 3000
BESIDES = ["Carriage extra", "Portes debidos", "Versand unfrei", "Handling fee applies", "Less 5% for members"]
BESIDES += ["Small order surcharge applies", "Prices rise on Monday", "Cash only, cards cost more"]


def sheet(line: str) -> corpus.Sheet:
    text = f'Supplier: Mossback Yard\nPart,Condition,Price\nAlternator,used,30\n"{line}"\n'
    return corpus.Sheet("a line", "yard.xlsx", text, asks="line", currency="GBP" if "VAT" in line else "EUR")


@pytest.mark.parametrize("tax", TAX)
@pytest.mark.parametrize("line", ["{tax}. {besides}.", "{besides}. {tax}", "{tax} - {besides}", "{tax}, but {besides}"])
def test_what_stands_beside_the_tax_is_asked_about_and_settled(line: str, tax: str, tmp_path: Path):
    for besides in BESIDES:
        written = sheet(line.format(tax=tax, besides=besides))
        understood, problems = first = corpus.read(written, tmp_path)
        assert understood is not None, besides
        assert [row.price_minor for row in understood.rows] == [TAX[tax]], besides
        assert problems, besides
        assert not any(tax in problem.found for problem in problems), besides
        assert corpus.settled(written, tmp_path, first)[0] <= 2, besides
        assert corpus.unsettled(written, problems, tmp_path) == [], besides


@pytest.mark.parametrize("besides", ["Thank you for asking", "Free delivery", "Parts can be seen by appointment"])
@pytest.mark.parametrize("tax", TAX)
def test_what_changes_no_price_is_not_asked_about(tax: str, besides: str, tmp_path: Path):
    understood, problems = corpus.read(sheet(f"{tax}. {besides}."), tmp_path)
    assert understood is not None
    assert ([row.price_minor for row in understood.rows], problems) == ([TAX[tax]], ())


def test_carriage_may_be_in_the_price_as_the_tax_is(tmp_path: Path):
    assert corpus.read(sheet("All prices include VAT and carriage"), tmp_path)[1] == ()
    assert corpus.read(sheet("All prices ex VAT at 20% and carriage"), tmp_path)[1]


def test_so_many_at_so_much_in_a_name_is_asked_about(tmp_path: Path):
    text = "Supplier: Mossback Yard\nPart,Condition,Price inc VAT\nAlternator 2 @ 30.00,used,60\n"
    till = corpus.Sheet("till", "till.csv", text, asks="pack", parts={"Alternator 2 @ 30.00": "alternator"})
    _, problems = corpus.read(till, tmp_path)
    assert [problem.key for problem in problems] == ["pack"]
    rounds, (_, left) = corpus.settled(till, tmp_path)
    assert (rounds, left) == (1, ())


@pytest.mark.parametrize(("last", "asked"), [("48.00", []), ("47.00", ["money"])])
def test_a_column_of_prices_with_the_tax_added_says_nothing_new(last: str, asked: list[str], tmp_path: Path):
    text = f"Part,Condition,Trade,VAT,Wobble\nAlternator,used,30.00,6.00,36.00\nStarter motor,used,40.00,8.00,{last}\n"
    beside = corpus.Sheet("beside", "yard.csv", f"Supplier: Mossback Yard\n{text}", asks="column")
    understood, problems = corpus.read(beside, tmp_path)
    assert understood is not None
    assert [row.price_minor for row in understood.rows] == [3600, 4800]
    assert [problem.key for problem in problems] == asked


FOLLOWED = ["All parts used and tested. {}", "Everything is second hand, {}", "Supplier: Mossback Yard. {}"]
FOLLOWED += ["Mossback Yard - {}", "Offer valid until 31/12/2026, {}"]


@pytest.mark.parametrize("besides", ["carriage extra", "handling fee applies", "£10 for the old unit", "plus 2%"])
@pytest.mark.parametrize("line", FOLLOWED)
def test_what_stands_beside_a_line_that_was_followed_is_asked_about(line: str, besides: str, tmp_path: Path):
    text = f'"{line.format(besides)}"\nPart,Condition,Price inc VAT\nAlternator,used,30\n'
    followed = corpus.Sheet("followed", "mossback.xlsx", text, asks="line")
    understood, problems = first = corpus.read(followed, tmp_path)
    assert understood is not None
    assert [besides in problem.found for problem in problems] == [True]
    assert corpus.settled(followed, tmp_path, first)[0] <= 2
    assert corpus.unsettled(followed, problems, tmp_path) == []


def test_letters_for_the_tax_are_asked_about_one_by_one_and_no_row_is_thrown_away(tmp_path: Path):
    text = "Supplier: Mossback Yard\nPart,Condition,Price,VAT code\nAlternator,used,40,M\nStarter motor,used,35,S\n"
    codes = corpus.Sheet("letters", "yard.csv", text, asks="tax")
    (asked,) = corpus.read(codes, tmp_path)[1]
    assert asked.mend.startswith('say which: --map "VAT code=tax_said"')
    said = {"map": ["VAT code=tax_said"]}
    letters = corpus.read(codes, tmp_path, corpus.told_of(said))[1]
    assert ['--word "M=inc VAT"' in letters[0].mend, '--word "S=plus VAT"' in letters[1].mend] == [True, True]
    said |= {"word": ["M=inc VAT", "S=plus VAT"], "ex-tax": ["20"]}
    understood, problems = corpus.read(codes, tmp_path, corpus.told_of(said))
    assert understood is not None
    assert ([row.price_minor for row in understood.rows], problems) == ([4000, 4200], ())
