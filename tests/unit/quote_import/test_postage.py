"""Postage is asked about, and with a person's word it enters suppliers.csv, of which nothing else changes."""

from __future__ import annotations

from datetime import date

import pytest

from optimiser.errors import CallError
from optimiser.model.imports import Told, Understood
from optimiser.quote_import import accept, postage, telling, understand
from tests.unit.quote_import.conftest import GBP, KNOWN

DAY = date(2026, 11, 24)
LINE = """Part,Condition,Price inc VAT
front disc,new,40.00
Carriage,,6.50
"""
COLUMN = """Part,Condition,Price inc VAT,P&P
front disc,new,40.00,4.95
rear shoe,new,8.00,4.95
"""
TERMS = (
    b'\xef\xbb\xbfsupplier , title,postage,note\r\n\r\n"oddlode","Oddlode, ""the"" yard", 5.00 ,a\r\n'
    b'mossback,Mossback,,"two\r\nlines"'
)


@pytest.fixture
def read(tmp_path):
    def run(text: str, *options: str, kept: Told | None = None, name: str = "oddlode.csv"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        told = telling.told_by(options)
        return understand(path, KNOWN, told, {"oddlode": kept} if kept else None)

    return run


def first_way(understood) -> list[str]:
    (problem,) = understood.doubts
    assert "suppliers.csv" in problem.mend
    ((option, value),) = [tuple(way.split(" ", 1)) for way in telling.ways(problem)[:1]]
    return [option, value.strip('"')]


@pytest.mark.parametrize(("text", "minor"), [(LINE, 650), (COLUMN, 495)])
def test_what_is_printed_takes_it_in(read, text, minor):
    told = first_way(read(text))
    understood = read(text, *told)
    assert (understood.doubts, understood.postage) == ((), {"oddlode": minor})
    assert understood.rows[0].price_minor == 4000


PLUS_TAX = """All prices plus VAT at 20%
Part,Condition,Price
front disc,new,40.00
Carriage,,7.95
"""


@pytest.mark.parametrize(
    ("text", "ways"),
    [
        (PLUS_TAX, ["9.54", "7.95"]),
        (LINE.replace("6.50", "7.95"), ["7.95"]),
    ],
)
def test_carriage_beside_prices_without_the_tax_comes_with_theirs_first(read, text, ways):
    (problem,) = read(text).doubts
    offered = [value.strip('"') for _, value in (way.split(" ", 1) for way in telling.ways(problem))]
    assert [each.rpartition(" ")[2] for each in offered if "postage" in each] == ways
    for way, minor in zip(offered, ways):
        understood = read(text, "--word", way)
        assert (understood.doubts, understood.postage) == ((), {"oddlode": int(minor.replace(".", ""))})


@pytest.mark.parametrize("amount", ["9999999999.00", "9" * 60])
@pytest.mark.parametrize("sheet", [LINE.replace("6.50", "7.95"), PLUS_TAX])
def test_more_than_is_reckoned_with_is_a_doubt(read, sheet, amount):
    understood = read(sheet.replace("7.95", amount), "--word", f"Carriage=postage {amount}")
    assert understood.postage == {}
    assert any("suppliers.csv" in problem.mend for problem in understood.doubts)


HUGE = "99999999999.00"
"""Beyond what is reckoned with, in minor units too."""


@pytest.mark.parametrize(
    ("text", "part"),
    [
        (
            f"Part,Condition,Price inc VAT\nfront disc,refurbished,40.00\nfront disc old unit surcharge,,{HUGE}\n",
            "front-disc",
        ),
        (f"Part,Condition,Price\nfront disc,new,{HUGE} plus VAT\nrear shoe,new,8.00\n", "rear-shoe"),
    ],
)
def test_other_charges_that_are_more_are_asked_about_too(read, text, part):
    understood = read(text)
    assert understood.doubts
    assert [(row.part, row.deposit_minor) for row in understood.rows] == [(part, 0)]


def test_while_no_quote_is_understood_nobody_is_asked_whose_postage_it_is(read):
    text = LINE.replace("front disc", "a thing of theirs")
    assert "postage" not in [problem.key for problem in read(text, "--word", "Carriage=postage 6.50").doubts]


def test_a_total_with_the_postage_in_it_is_no_news(read):
    text = LINE + "Total,,46.50\n"
    assert [problem.key for problem in read(text).doubts] == ["postage"]
    assert read(text, "--word", "Carriage=postage 6.50").doubts == ()
    assert [problem.key for problem in read(LINE + "Total,,47.50\n", "--word", "Carriage=postage 6.50").doubts] == [
        "money"
    ]


def test_their_own_words_are_no_word_of_a_person(read):
    (problem,) = read(LINE.replace("Carriage,,6.50", "postage 6.50,,")).doubts
    assert problem.key == "postage"


def test_two_amounts_are_a_doubt(read):
    differing = COLUMN.replace("8.00,4.95", "8.00,6.95")
    assert "AMOUNT" in read(differing).doubts[0].mend or "=ignore" in read(differing).doubts[0].mend
    assert [problem.key for problem in read(differing, "--map", "P&P=postage").doubts] == ["postage"]
    both = COLUMN + "Carriage,,6.50,\n"
    keys = [problem.key for problem in read(both, "--map", "P&P=postage", "--word", "Carriage=postage 6.50").doubts]
    assert keys == ["postage"]


def test_another_amount_than_was_settled_before_is_asked(read):
    kept = Told(words={"Carriage": "postage 6.50"})
    assert read(LINE, kept=kept).doubts == ()
    dearer = LINE.replace("6.50", "7.50")
    told = first_way(read(dearer, kept=kept))
    assert told == ["--word", "Carriage=postage 7.50"]
    assert read(dearer, *told, kept=kept).postage == {"oddlode": 750}


def test_nothing_else_of_the_terms_changes(tmp_path, read):
    file = tmp_path / "suppliers.csv"
    file.write_bytes(TERMS)
    understood = read(LINE, "--word", "Carriage=postage 6.50")
    assert postage.changes(tmp_path, understood, GBP) == (
        "postage of oddlode: 5.00 before, 6.50 now, in suppliers.csv",
    )
    accept(tmp_path, [understood], GBP, DAY)
    assert file.read_bytes() == TERMS.replace(b" 5.00 ", b"6.50")
    accept(tmp_path, [understood], GBP, DAY)
    assert file.read_bytes() == TERMS.replace(b" 5.00 ", b"6.50")
    assert postage.changes(tmp_path, understood, GBP) == ()


@pytest.mark.parametrize(
    ("before", "after"),
    [
        (TERMS, TERMS.replace(b'Mossback,,"two', b'Mossback,3.20,"two')),
        (b"supplier,postage\nother,1.00", b"supplier,postage\nother,1.00\nmossback,3.20\n"),
        (None, b"supplier,postage\nmossback,3.20\n"),
    ],
)
def test_a_cell_is_filled_or_a_line_is_added(tmp_path, before, after):
    file = tmp_path / "suppliers.csv"
    if before is not None:
        file.write_bytes(before)
    assert postage.written(tmp_path, [Understood("", postage={"mossback": 320})], GBP) == after


def test_terms_without_the_column_and_links_are_refused_and_nothing_is_written(tmp_path, read):
    home = tmp_path / "job"
    home.mkdir()
    understood = read(LINE, "--word", "Carriage=postage 6.50")
    (home / "suppliers.csv").write_bytes(b"shop,title\noddlode,Oddlode\n")
    with pytest.raises(CallError, match="no column supplier"):
        accept(home, [understood], GBP, DAY)
    (home / "suppliers.csv").unlink()
    outside = tmp_path / "elsewhere.csv"
    outside.write_bytes(b"supplier,postage\n")
    (home / "suppliers.csv").symlink_to(outside)
    with pytest.raises(CallError, match="link"):
        accept(home, [understood], GBP, DAY)
    assert outside.read_bytes() == b"supplier,postage\n"
    assert list((home / "quotes").iterdir()) == []


def test_a_column_that_the_terms_lack_is_added_behind_the_others(tmp_path, read):
    """As `begin` writes them they have none for the least order."""
    understood = read(
        LINE.replace("Carriage,,6.50", "Minimum order 15.00"), "--word", "Minimum order 15.00=minimum order 15"
    )
    before = b'supplier,title,postage\r\noddlode,"Oddlode, ""the"" yard",5.00\r\nmossback,Mossback,\r\n'
    (tmp_path / "suppliers.csv").write_bytes(before)
    accept(tmp_path, [understood], GBP, DAY)
    assert (tmp_path / "suppliers.csv").read_bytes() == (
        b'supplier,title,postage,minimum_order\r\noddlode,"Oddlode, ""the"" yard",5.00,15.00\r\nmossback,Mossback,,\r\n'
    )


@pytest.mark.parametrize(
    "line", ["Carriage 5.95, free over 75", "Carriage £5.95 an order - free of charge on orders over £75"]
)
def test_from_which_goods_on_it_is_free_goes_into_the_terms_too(read, tmp_path, line):
    """It was lost without a word."""
    sheet = LINE.replace("Carriage,,6.50", f'"{line}"')
    understood = read(sheet, *first_way(read(sheet)))
    assert (understood.doubts, understood.postage, understood.free_over) == ((), {"oddlode": 595}, {"oddlode": 7500})
    accept(tmp_path, [understood], GBP, DAY)
    assert (tmp_path / "suppliers.csv").read_bytes() == b"supplier,postage,free_over\noddlode,5.95,75.00\n"
    assert postage.changes(tmp_path, understood, GBP) == ()


def test_an_amount_of_its_own_beside_the_goods_from_which_on_it_is_free(read):
    """The amount without a sign beside one with a sign is the postage, and the line is no part once it is settled."""
    sheet = "Item;Condition;Price;Note\nfront disc;new;£84.00;\nCarriage;;6.95;free over £100\n"
    of_tax = ("--ex-tax", "20", "--supplier", "oddlode")
    (problem,) = read(sheet, *of_tax).doubts
    assert '--word "Carriage=postage 8.34 free over 120.00"' in problem.mend, "their goods are without the tax too"
    assert '--word "Carriage=postage 6.95 free over 100"' in problem.mend
    understood = read(sheet, *of_tax, "--word", "Carriage=postage 8.34 free over 120.00")
    assert (understood.doubts, understood.postage, understood.free_over) == ((), {"oddlode": 834}, {"oddlode": 12000})
    assert understood.strangers == ()


@pytest.mark.parametrize(
    ("line", "written"),
    [
        ("Minimum order 15.00", b"supplier,minimum_order\noddlode,15.00\n"),
        ("Mindestbestellwert 15,00", b"supplier,minimum_order\noddlode,15.00\n"),
        ("Postage is free over 120.00", b"supplier,free_over\noddlode,120.00\n"),
    ],
)
def test_other_terms_of_orders_go_there_as_well(read, tmp_path, line, written):
    sheet = LINE.replace("Carriage,,6.50", f'"{line}"')
    understood = read(sheet, *first_way(read(sheet)))
    assert (understood.doubts, understood.postage) == ((), {})
    accept(tmp_path, [understood], GBP, DAY)
    assert (tmp_path / "suppliers.csv").read_bytes() == written


def test_a_least_order_in_a_column_is_not_offered_as_a_pack_alone(read):
    (problem,) = read("Part,Condition,Price inc VAT,Min order\nfront disc,new,40.00,25\nrear shoe,new,8.00,25\n").doubts
    assert problem.mend.startswith("say what it is: if an order must come to so much, write it below minimum_order")


def test_a_word_that_is_silent_about_it_is_answered_with_one_that_is_not(read):
    sheet = LINE.replace("Carriage,,6.50", '"Carriage £5.95, free over £75"')
    understood = read(sheet, "--word", "Carriage £5.95, free over £75=postage 5.95")
    (said,) = [caution for caution in understood.cautions if "names 75 of goods" in caution]
    assert '=postage 5.95 free over 75"' in said


def test_a_new_supplier_with_postage_told_is_not_said_to_be_without(read):
    understood = read(LINE, "--word", "Carriage=postage 6.50", name="Pellow Parts.csv")
    assert understood.postage == {"pellow-parts": 650}
    (said,) = [caution for caution in understood.cautions if "not in suppliers.csv" in caution]
    assert said == "not in suppliers.csv but for the postage told, so without minimum order: pellow-parts"


@pytest.mark.parametrize("line", ["Carriage £6.50, free collection from 9", "Carriage 6.50, free collection from 9am"])
def test_an_hour_is_no_amount_of_goods(read, line):
    sheet = LINE.replace("Carriage,,6.50", f'"{line}"')
    assert "free over" not in read(sheet).doubts[0].mend


def test_goods_beyond_what_a_word_may_name_are_not_printed_into_one(read):
    sheet = LINE.replace("Carriage,,6.50", '"Carriage 6.50, free over 99999999999999999999"')
    (problem,) = read(sheet).doubts
    assert "=postage" not in problem.mend
    assert "suppliers.csv" in problem.mend
    word = problem.mend.partition('--word "')[2].rstrip('"')
    assert read(sheet, "--word", word).doubts == ()
