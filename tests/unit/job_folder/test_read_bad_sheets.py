"""What may be wrong with a sheet of quotes or suppliers, and what its sender is told."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from optimiser import job_folder
from optimiser.errors import InputError
from optimiser.job_folder import quote_sheets
from optimiser.model.imports import Known
from optimiser.model.quotes import STILL_TO_BE_ASKED
from optimiser.quote_import import understand

from .conftest import TODAY, lay

M = "[job]\ncurrency = 'GBP'\n[money]\ncap = '100.00'\n"
HEAD = "part,supplier,condition,price"

ROWS = [
    ("", "a,s,new,-1", "price", "digits"),
    ("", "a,s,new,nan", "price", "digits"),
    ("", "a,s,new,1.005", "price", "digits"),
    ("", "a,s,new,free", "price", "digits"),
    ("", "a,s,new,£1", "price", "digits"),
    ("", "a,s,new,", "price", "add price"),
    ("", ",s,new,1", "part", "add part"),
    ("", "a,,new,1", "supplier", "add supplier"),
    ("", "a,s,,1", "condition", "add condition"),
    ("", "a,s,refurb,1", "condition", 'did you mean "refurbished"'),
    ("", '"a\nb",s,new,1', "part", "short name"),
    ("", "a\x1b[31m,s,new,1", "part", "short name"),
    ("", "a,s,new,1,2", "", "commas"),
    ("", "a,s,new", "", "commas"),
    (",pack", "a,s,new,1,0", "pack", "whole number"),
    (",pack", "a,s,new,1,1.5", "pack", "whole number"),
    (",stock", "a,s,new,1,-1", "stock", "whole number"),
    (",good_chance", "a,s,new,1,1.2", "good_chance", "0.9"),
    (",good_chance", "a,s,new,1,nan", "good_chance", "0.9"),
    (",deposit", "a,s,new,1,-3", "deposit", "digits"),
    (",refund_share", "a,s,new,1,50%", "refund_share", "0.9"),
    (",lead_days", "a,s,new,1,soon", "lead_days", "whole number"),
    (",valid_until", "a,s,new,1,31/12/2026", "valid_until", "2026-11-24"),
    (",valid_until", "a,s,new,1,0", "valid_until", "2026-11-24"),
    (",valid_until", "a,s,new,1,2026-02-30", "valid_until", "2026-11-24"),
    (",currency", "a,s,new,1,EUR", "currency", "convert"),
    (",currency", "a,s,new,1,gbp", "currency", "convert"),
]


@pytest.mark.parametrize(("more", "row", "key", "mend"), ROWS)
@pytest.mark.parametrize("file", ["quotes.csv", "quotes/north.csv"])
def test_one_mistake_one_problem(bad, file, more, row, key, mend):
    sound = f"x,s,new,1{',' if more else ''}\n"
    (problem,) = bad(M, {file: f"{HEAD}{more}\n{sound}\n{row}\n{sound}"})
    assert (problem.file, problem.where, problem.key) == (file, "row 4", key)
    assert mend in problem.mend
    assert (problem.found + problem.expected + problem.mend).isprintable()


def test_a_currency_where_the_job_names_none(bad):
    (problem,) = bad("[money]\ncap = '1'\n", {"quotes.csv": f"{HEAD},currency\na,s,new,1,GBP\n"})
    assert "under [job]" in problem.mend


def test_an_unknown_currency_of_the_job_is_one_problem(bad):
    (problem,) = bad(M.replace("GBP", "GBQ"), {"quotes.csv": f"{HEAD},currency\na,s,new,1.2345,GBP\n"})
    assert problem.key == "currency"
    assert problem.file == "job.toml"


HEADS = [
    ("", "", "", "a first line"),
    ("\n\n", "", "", "a first line"),
    ("part;supplier;condition;price\n", "row 1", "", "commas between"),
    ("a,s,new,1\n", "row 1", "", "a first line"),
    (f"{HEAD},stok\n", "row 1", "stok", 'did you mean "stock"'),
    (f"{HEAD},\n", "row 1", "", "take the column out"),
    (f"{HEAD},id\n", "row 1", "id", "take the column out"),
    (f"{HEAD},price\n", "row 1", "price", "take one of the two out"),
    ("part,supplier,price\n", "row 1", "condition", "add condition"),
]


@pytest.mark.parametrize(("text", "where", "key", "mend"), HEADS)
def test_headers(bad, text, where, key, mend):
    (problem,) = bad(M, {"quotes.csv": text})
    assert (problem.file, problem.where, problem.key) == ("quotes.csv", where, key)
    assert mend in problem.mend


def test_a_capital_in_a_column_is_found(bad):
    mends = {p.key: p.mend for p in bad(M, {"quotes.csv": "Part,supplier,condition,price\n"})}
    assert 'did you mean "part"' in mends["Part"]


def test_an_unknown_column_hides_no_problem_in_the_rows(bad):
    assert [p.key for p in bad(M, {"quotes.csv": f"{HEAD},stok\na,s,new,-1,3\n"})] == ["stok", "price"]


BROKEN = [
    ('a,s,new,"1\nb,s,new,2\n', "row 2", "quotation mark"),
    ('a,s,new,"1"x\n', "row 2", "quotation mark"),
    ("a,s,new,1\nb\0,s,new,1\n", "row 3", "UTF-8"),
    ('"' + "x" * 200_000 + '",s,new,1\n', "row 2", "shorten"),
]


@pytest.mark.parametrize(("rows", "where", "mend"), BROKEN)
def test_broken_sheets(bad, rows, where, mend):
    (problem,) = bad(M, {"quotes.csv": f"{HEAD}\n{rows}"})
    assert (problem.file, problem.where) == ("quotes.csv", where)
    assert mend in problem.mend


def test_wrong_encoding_says_at_which_line(bad):
    (problem,) = bad(M, {"quotes/south.csv": f"{HEAD}\nd,s,new,1\nd,caf".encode() + b"\xe9,new,1\n"})
    assert (problem.file, problem.where, problem.expected) == ("quotes/south.csv", "line 3", "UTF-8")
    assert "CSV UTF-8" in problem.mend


SUPPLIERS = [
    ("supplier,postage\nn,1\ns,-1\n", "row 3", "postage"),
    ("supplier,postage\nn,1\nn,2\n", "row 3", "supplier"),
    ("supplier,postage\n,1\n", "row 2", "supplier"),
    ("supplier,trip_minutes\nn,1.5\n", "row 2", "trip_minutes"),
    ("supplier,pstage\n", "row 1", "pstage"),
    ("title,postage\nn,1\n", "row 1", "supplier"),
]


@pytest.mark.parametrize(("text", "where", "key"), SUPPLIERS)
def test_suppliers(bad, text, where, key):
    (problem,) = bad(M, {"suppliers.csv": text})
    assert (problem.file, problem.where, problem.key) == ("suppliers.csv", where, key)


def test_problems_of_all_files_come_together(bad):
    bad_row = f"{HEAD}\na,s,new,-1\n"
    files = {"quotes.csv": bad_row, "quotes/a.csv": bad_row, "suppliers.csv": "supplier,postage\ns,x\n"}
    assert [p.file for p in bad("cap = ", files)] == ["job.toml", "suppliers.csv", "quotes.csv", "quotes/a.csv"]


def test_of_too_many_problems_every_file_keeps_its_share(tmp_path):
    bad_rows = f"{HEAD}\n" + "a,s,new,-1\n" * 5000
    files = {"job.toml": "[money]\n", "quotes.csv": bad_rows, "quotes/a.csv": bad_rows}
    with pytest.raises(InputError) as caught:
        job_folder.job(lay(tmp_path, files), TODAY)
    told = [p.file for p in caught.value.problems]
    assert (told.count("job.toml"), told.count("quotes.csv"), told.count("quotes/a.csv")) == (1, 25, 24)
    assert caught.value.left_out == 10_001 - 50
    assert [p.where for p in caught.value.problems[1:4]] == ["row 2", "row 3", "row 4"]


@pytest.mark.parametrize(
    ("row", "expected"), [("a,s,new,1\n", "250000 lines"), ("a,s,new,1" + "0" * 50 + "\n", "50 mil")]
)
def test_a_million_rows_are_refused_at_once(bad, row, expected):
    before = time.perf_counter()
    (problem,) = bad(M, {"quotes.csv": f"{HEAD}\n" + row * 1_000_000})
    assert time.perf_counter() - before < 3
    assert (problem.file, problem.where) == ("quotes.csv", "")
    assert expected in problem.expected


def test_sheets_share_one_greatest_number_of_lines(bad, monkeypatch):
    monkeypatch.setattr(quote_sheets, "MOST_LINES", 10)
    four = f"{HEAD}\n" + "a,s,new,1\n" * 4
    (problem,) = bad(M, {"quotes.csv": four, "quotes/a.csv": four})
    assert problem.file == "quotes/a.csv"


def test_a_large_sheet_is_read_in_a_few_seconds(good):
    before = time.perf_counter()
    job = good(M, {"quotes.csv": f"{HEAD},pack,note\n" + "a,s,new,12.50,2,some note\n" * 20_000})
    assert len(job.quotes) == 20_000
    assert time.perf_counter() - before < 5


@pytest.mark.parametrize("sheet", ["quotes.csv", "suppliers.csv"])
def test_nobody_supplies_what_is_still_to_be_asked_for(tmp_path: Path, sheet: str) -> None:
    """Rough prices stand under that name: a shop by it would be taken for nobody."""
    row = {"quotes.csv": f"{HEAD}\na,still-to-be-asked,new,1", "suppliers.csv": "supplier\nstill-to-be-asked"}[sheet]
    lay(tmp_path, {"job.toml": M, sheet: row})
    with pytest.raises(InputError) as caught:
        job_folder.job(tmp_path, TODAY)
    (problem,) = caught.value.problems
    assert (problem.file, problem.where, problem.key) == (sheet, "row 2", "supplier")


def test_no_sheet_is_taken_for_that_of_the_shop_still_to_be_asked(tmp_path: Path) -> None:
    part = '[[part]]\nid = "disc"\nrough_price = { new = ["20.00", "30.00"] }\n'
    fault = '[[fault]]\nid = "f"\nseverity = "minor"\n[[fault.repair]]\nid = "r"\nchance = 0.9\nparts = { disc = 1 }\n'
    lay(tmp_path, {"job.toml": M + part + fault, "shop.csv": "Item,Our price inc VAT,State\ndisc,22.50,new\n"})
    job = job_folder.job(tmp_path, TODAY)
    assert [quote.supplier for quote in job.quotes] == [STILL_TO_BE_ASKED]
    understood = understand(tmp_path / "shop.csv", Known.of(job))
    assert [row.supplier for row in understood.rows] == ["shop"]
