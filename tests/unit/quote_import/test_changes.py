"""What taking a sheet in says of the offers before it, and what it leaves alone."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from optimiser.model.imports import Happened, Told
from optimiser.quote_import import accept, understand
from tests.unit.quote_import.conftest import GBP, KNOWN

DAY, LATER = date(2026, 11, 24), date(2026, 12, 1)
HEAD = "part,condition,price inc VAT,deposit,stock,valid until,returns\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "job.toml").write_text('[job]\ncurrency = "GBP"\n[money]\ncap = "1.00"\n', encoding="utf-8")
    return tmp_path


def take(folder: Path, text: str, day: date, name: str = "oddlode.csv"):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    (done,) = accept(folder, [understand(path, KNOWN, Told())], GBP, day)
    return done.changes


@pytest.mark.parametrize(
    ("column", "row"),
    [("deposit", "front disc,new,40,6,3,2027-01-05,100%"), ("stock", "front disc,new,40,5,1,2027-01-05,100%"),
     ("valid_until", "front disc,new,40,5,3,2027-02-05,100%"),
     ("refund_share", "front disc,new,40,5,3,2027-01-05,50%")],
)  # fmt: skip
def test_a_change_of_anything_that_costs_is_a_change(folder, column, row):
    take(folder, HEAD + "front disc,new,40,5,3,2027-01-05,100%\n", DAY)
    (change,) = take(folder, f"{HEAD}{row}\n", LATER)
    assert change.what is Happened.CHANGED
    assert [each[0] for each in change.rest] == [column]


def test_the_same_again_is_no_change(folder):
    take(folder, HEAD + "front disc,new,40,5,3,2027-01-05,100%\n", DAY)
    (change,) = take(folder, HEAD + "front disc,new,40.00,5,3,2027-01-05,100%\n", LATER)
    assert (change.what, change.rest) == (Happened.SAME, ())


def test_a_row_that_was_set_aside_is_not_told_as_gone(folder):
    take(folder, "part,condition,price\nfront disc,new,40\nrear shoe,new,9\n", DAY)
    changes = take(folder, "part,condition,price\nfront disc,new,POA\nrear shoe,new,9\n", LATER)
    assert [change.what for change in changes] == [Happened.SAME]


def test_what_is_sold_is_gone(folder):
    take(folder, "part,condition,price,status\nfront disc,used,40,in stock\nrear shoe,used,9,in stock\n", DAY)
    changes = take(folder, "part,condition,price,status\nfront disc,used,40,SOLD\nrear shoe,used,9,in stock\n", LATER)
    assert [(change.what, change.ended) for change in changes] == [(Happened.SAME, True), (Happened.GONE, True)]


def test_a_file_whose_name_is_no_utf_8_is_taken_in(folder):
    path = folder / "oddlode\udce9.csv"
    path.write_text("part,condition,price,supplier\nfront disc,new,40,oddlode\n", encoding="utf-8")
    (done,) = accept(folder, [understand(path, KNOWN, Told())], GBP, DAY)
    assert (folder / done.sheet).is_file()


def test_another_pack_is_a_change_and_ends_the_older_offer(folder):
    """Own arithmetic: 10.00 for one before, 18.00 for two now, so 9.00 each."""
    take(folder, "part,condition,price,pack\nfront disc,new,10,1\nrear shoe,new,9,1\n", DAY)
    changes = take(folder, "part,condition,price,pack\nfront disc,new,18,2\nrear shoe,new,9,1\n", LATER)
    assert [(change.what, change.rest, change.ended) for change in changes] == [
        (Happened.CHANGED, (("pack", "1", "2"),), True),
        (Happened.SAME, (), True),
    ]
    assert (changes[0].before_minor, changes[0].after_minor, changes[0].sheet) == (1000, 1800, "oddlode-2026-11-24.csv")
    older = (folder / "quotes" / "oddlode-2026-11-24.csv").read_text()
    assert older.count("newer quote of 2026-12-01") == 2


def test_a_pack_more_beside_the_old_one_is_new_and_ends_nothing(folder):
    take(folder, "part,condition,price,pack\nfront disc,new,10,1\n", DAY)
    changes = take(folder, "part,condition,price,pack\nfront disc,new,10,1\nfront disc,new,18,2\n", LATER)
    assert sorted(change.what.value for change in changes) == ["new", "same"]


def test_a_pack_in_a_sheet_of_another_name_takes_no_place(folder):
    """A special of two may stand beside the offer of one: only an edition of the same sheet takes its place."""
    take(folder, "part,condition,price,pack,supplier\nfront disc,new,10,1,oddlode\n", DAY)
    changes = take(folder, "part,condition,price,pack,supplier\nfront disc,new,18,2,oddlode\n", LATER, "special.csv")
    assert sorted((change.what.value, change.ended) for change in changes) == [("gone", False), ("new", False)]


@pytest.mark.parametrize(("before", "now"), [((1,), (2, 4)), ((1, 2), (4,))])
def test_packs_of_which_more_than_one_could_be_meant_are_new_and_gone(folder, before, now):
    head = "part,condition,price,pack\n"
    take(folder, head + "".join(f"front disc,new,{10 * pack},{pack}\n" for pack in before), DAY)
    changes = take(folder, head + "".join(f"front disc,new,{10 * pack},{pack}\n" for pack in now), LATER)
    assert sorted(change.what.value for change in changes) == sorted(["gone"] * len(before) + ["new"] * len(now))
