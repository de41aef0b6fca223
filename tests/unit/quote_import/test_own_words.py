"""The table [words] of a job: its words hold for every sheet, a call's before them, and every mistake has its place."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from optimiser import job_folder
from optimiser.errors import InputError
from optimiser.model.imports import How, Known, Told
from optimiser.quote_import import accept, register, understand
from optimiser.state.moment import Moment

DAY = date(2026, 11, 24)
JOB = """
[job]
currency = "EUR"
[money]
cap = "300.00"
[[part]]
id = "front-disc"
title = "Front disc"
"""
WORDS = """
[words]
headings = { "Ár ÁFÁ-val" = "price", "Állapot" = "condition", "Súly" = "ignore" }
conditions = { "új" = "new", "B-áru" = "refurbished" }
cells = { "hívjon" = "not on offer" }
"""
SHEET = "Part;Állapot;Ár ÁFÁ-val;Súly\nFront disc;új;42,50;7\nFront disc;B-áru;30,00;7\nFront disc;új;hívjon;7\n"


def job(folder: Path, words: str = WORDS):
    (folder / "job.toml").write_text(JOB + words, encoding="utf-8")
    return job_folder.job(folder, DAY)


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "nyirfa.csv"
    path.write_text(SHEET, encoding="utf-8")
    return path


def test_the_job_s_own_words_hold_without_a_word_on_the_call(tmp_path: Path, sheet: Path):
    understood = understand(sheet, Known.of(job(tmp_path)))
    assert understood.doubts == ()
    assert [(row.condition, row.price_minor) for row in understood.rows] == [("new", 4250), ("refurbished", 3000)]
    assert {heading.text: heading.how for heading in understood.headings}["Állapot"] is How.OWN
    with pytest.raises(InputError):
        understand(sheet, Known.of(job(tmp_path, "")))


def test_a_word_on_the_call_wins_over_the_job_s(tmp_path: Path, sheet: Path):
    told = Told(words={"B-áru": "salvage"})
    understood = understand(sheet, Known.of(job(tmp_path)), told)
    assert [row.condition for row in understood.rows] == ["new", "salvage"]
    assert understood.told == told


def test_they_are_not_kept_for_a_supplier_and_not_called_an_earlier_sheet_s(tmp_path: Path, sheet: Path):
    here = job(tmp_path)
    accept(tmp_path, [understand(sheet, Known.of(here))], here.currency, DAY)
    assert register.read(tmp_path).suppliers == {}
    assert not any("earlier" in said for said in understand(sheet, Known.of(here)).cautions)


def test_a_word_settled_on_one_sheet_holds_for_the_supplier_s_next(tmp_path: Path, sheet: Path):
    """Words that a call gave a meaning to are kept like headings, and said to be."""
    here = job(tmp_path, WORDS.replace(', "B-áru" = "refurbished"', ""))
    accept(tmp_path, [understand(sheet, Known.of(here), Told(words={"B-áru": "salvage"}))], here.currency, DAY)
    again = understand(sheet, Known.of(here), kept=register.read(tmp_path).suppliers)
    assert (again.doubts, [row.condition for row in again.rows]) == ((), ["new", "salvage"])
    assert any('"B-áru" is salvage' in said for said in again.cautions)


def test_no_plan_depends_on_them(tmp_path: Path):
    with_words, without = Moment(job(tmp_path)), Moment(job(tmp_path, ""))
    assert with_words.job != without.job
    assert with_words.planned == without.planned


@pytest.mark.parametrize(
    ("words", "key", "mend"),
    [
        ('headings = { "Állapot" = "conditoin" }', 'headings."Állapot"', 'did you mean "condition"?'),
        ('headings = "Állapot"', "headings", 'write a table such as headings = { "Their word" = "part" }'),
        ('conditions = { "új" = "neu" }', 'conditions."új"', 'did you mean "new"?'),
        ('conditions = { "új" = 1 }', 'conditions."új"', "write one of these words"),
        ('cells = { "TBC" = 0 }', 'cells."TBC"', "write it between quotation marks"),
        ('cells = { " " = "0" }', 'cells." "', "take it out"),
        ('cells = { "TBC" = "0", "tbc" = "1" }', 'cells."tbc"', "take one of them out"),
        ('heading = { "Állapot" = "condition" }', "heading", 'did you mean "headings"?'),
    ],
)
def test_every_mistake_has_its_place_and_a_mend(tmp_path: Path, words: str, key: str, mend: str):
    with pytest.raises(InputError) as caught:
        job(tmp_path, f"\n[words]\n{words}\n")
    (problem,) = caught.value.problems
    assert (problem.file, problem.where, problem.key) == ("job.toml", "[words]", key)
    assert problem.mend.startswith(mend)


def test_a_table_that_is_none_is_refused(tmp_path: Path):
    with pytest.raises(InputError) as caught:
        job(tmp_path, "\n[[words]]\nheadings = {}\n")
    assert [problem.where for problem in caught.value.problems] == ["[words]"]


@pytest.mark.parametrize(
    ("cell", "for_one"),
    [("£42 each (£80 pair)", "42"), ("£80 a pair, £42 each", "42"), ("22.50 each and 40.00 per pair", "22.50")],
)
def test_of_a_price_for_one_and_one_for_a_pair_the_mend_names_that_for_one(tmp_path: Path, cell: str, for_one: str):
    path = tmp_path / "alder.csv"
    path.write_text(f'Part,Condition,Price\nFront disc,new,"{cell}"\nFront disc,refurbished,9.00\n', encoding="utf-8")
    known = Known.of(job(tmp_path, ""))
    (problem,) = understand(path, known).doubts
    assert f"={for_one}" in problem.mend
    rows = understand(path, known, Told(words={cell: for_one})).rows
    assert [(row.price_minor, row.pack) for row in rows] == [(int(float(for_one) * 100), 1), (900, 1)]
