"""Sheets made from quotes: however they are written, the same quotes come back."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given
from hypothesis import strategies as st

from optimiser import job_folder
from optimiser import text as cells
from optimiser.errors import InputError
from optimiser.money import Currency
from optimiser.quote_import import (
    Known,
    TakenRow,
    Told,
    Understood,
    accept,
    clean_sheet,
    heeding,
    prices,
    row_values,
    understand,
)
from optimiser.sheet_files import currencies
from optimiser.show.as_xlsx import Table, write_xlsx
from optimiser.show.tables import Column
from tests.effort import examples

GBP = Currency.of("GBP")
DAY = date(2026, 11, 24)
KINDS = {"a": "Valve", "b": "Motor", "c": "Relay", "d": "Disc"}
PARTS = {f"part-{letter}": f"{name} of the {letter} kind" for letter, name in KINDS.items()}
KNOWN = Known(PARTS, {"oddlode": "Oddlode Rebuilds"}, GBP)
_UNSEEN = ("Cs", "Cc", "Cf", "Zl", "Zp", "Zs", "Co", "Cn")


def tells_nothing(note: str) -> bool:
    """Whether a remark speaks neither of money nor of a condition ("NOS" is new): nobody asks about it."""
    of_condition = row_values.condition(note)[2] != "no condition that is known"
    return not (heeding.kind(note) or currencies.others_in(note, GBP) or of_condition)


WORDS = st.text(st.characters(blacklist_categories=_UNSEEN), min_size=1, max_size=12)
ROWS = st.lists(
    st.builds(
        TakenRow,
        sheet=st.just(""),
        row=st.just(0),
        part=st.sampled_from(sorted(PARTS)),
        supplier=st.just("oddlode"),
        condition=st.sampled_from(["new", "refurbished", "salvage"]),
        price_minor=st.integers(1, 10**7),
        pack=st.integers(1, 20),
        stock=st.none() | st.integers(0, 99),
        good_chance=st.none() | st.sampled_from([0.5, 0.25, 0.985]),
        deposit_minor=st.integers(0, 5000),
        refund_share=st.none() | st.sampled_from([0.0, 0.7, 1.0]),
        lead_days=st.none() | st.integers(0, 90),
        warranty_months=st.none() | st.integers(0, 60),
        valid_until=st.none() | st.dates(date(2026, 1, 1), date(2030, 1, 1)),
        ref=st.just("") | WORDS.filter(lambda word: not prices.is_amount(word)),  # small numbers may count something
        note=st.just("") | WORDS.filter(tells_nothing),
    ),
    min_size=1,
    max_size=6,
)
SPELLED = {"new": "brand new", "refurbished": "recon", "salvage": "breaker's"}
HEADINGS = {
    "part": "Description", "condition": "State", "price": "Our price", "pack": "Pack size", "stock": "In stock",
    "good_chance": "Good chance",
    "deposit": "Core charge", "refund_share": "Returns", "lead_days": "Lead time", "warranty_months": "Guarantee",
    "valid_until": "Offer ends", "ref": "Part no", "note": "Remarks",
}  # fmt: skip


def contents(rows):
    return [row.content for row in rows]


def read_back(data: bytes, name: str, told: Told = Told()):  # noqa: B008
    with TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        understood = understand(path, KNOWN, told)
    assert understood.doubts == ()
    assert understood.aside == ()
    return understood.rows


@examples(60)
@given(ROWS)
def test_a_clean_sheet_comes_back_as_it_was(rows):
    data = clean_sheet.data(clean_sheet.of_row(row, GBP) for row in rows)
    back = clean_sheet.standing(data)
    assert [each.cells for each in back] == [clean_sheet.of_row(row, GBP).cells for row in rows]


@examples(60)
@given(ROWS, st.sampled_from(",;\t|"), st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]), st.booleans(), st.randoms())
def test_a_suppliers_sheet_comes_back_as_quotes(rows, sign, encoding, commas, rng):
    """With the trade's headings in any order, any sign between columns, decimal commas or points."""
    columns = list(HEADINGS)
    rng.shuffle(columns)
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=sign)
    writer.writerow(HEADINGS[column] for column in columns)
    for row in rows:
        written = dict(clean_sheet.of_row(row, GBP).cells)
        written |= {"part": PARTS[row.part].upper(), "condition": SPELLED[row.condition]}
        for column in ("price", "deposit"):
            amount = written.get(column, "")
            written[column] = f"£{amount}".replace(".", ",") if commas and amount else amount
        writer.writerow(written.get(column, "") for column in columns)
    got = read_back(out.getvalue().encode(encoding), "oddlode.csv")
    assert contents(got) == contents(rows)


@examples(40)
@given(ROWS)
def test_a_workbook_comes_back_as_quotes(rows):
    columns = tuple(Column(HEADINGS[column], "", "") for column in HEADINGS)
    with TemporaryDirectory() as folder:
        path = Path(folder) / "oddlode.xlsx"
        lines = []
        for row in rows:
            written = {
                **clean_sheet.of_row(row, GBP).cells,
                "price": Decimal(row.price_minor).scaleb(-2),
                "pack": row.pack,
            }
            lines.append(tuple(written.get(column) for column in HEADINGS))
        write_xlsx(path, [Table("q", columns, lines)])
        got = understand(path, KNOWN)
    assert got.doubts == ()
    assert contents(got.rows) == contents(rows)


@examples(60)
@given(ROWS, st.just(Decimal(0)) | st.decimals(1, 30, places=1))
def test_tax_is_added_half_up_to_the_smallest_coin(rows, rate):
    """Checked in whole numbers: twice the minor units of the net price times (100 + rate), rounded half up."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(["part", "condition", "price ex VAT"])
    for row in rows:
        writer.writerow([row.part, row.condition, GBP.text(row.price_minor)])
    got = read_back(out.getvalue().encode(), "oddlode.csv", Told(ex_tax=f"{rate}", decimal="."))
    for row, taken in zip(rows, got, strict=True):
        thousandths = row.price_minor * (1000 + int(rate * 10))
        assert taken.price_minor == (2 * thousandths + 1000) // 2000


RISKY = st.text(st.sampled_from("'=+-@;|ab"), min_size=1, max_size=6)


@examples(100)
@given(ROWS, st.lists(RISKY, min_size=6, max_size=6))
def test_what_is_taken_into_a_job_is_what_the_job_reads(rows, texts):
    """Texts that a spreadsheet would run too: they lie neutral in the clean sheet and are read as they were."""
    rows = [replace(row, ref=text, note=f"{text}{row.note}") for row, text in zip(rows, texts, strict=False)]
    with TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "job.toml").write_text('[job]\ncurrency = "GBP"\n[money]\ncap = "1.00"\n', encoding="utf-8")
        accept(folder, [Understood("oddlode.csv", rows=tuple(rows))], GBP, DAY)
        quotes = job_folder.job(folder, DAY).quotes
    assert [
        (q.part, q.supplier, q.condition, q.price_minor, q.pack, q.stock, q.deposit_minor, q.valid_until, q.ref, q.note)
        for q in sorted(quotes, key=lambda quote: quote.line)
    ] == [
        (r.part, r.supplier, r.condition, r.price_minor, r.pack, r.stock, r.deposit_minor, r.valid_until, r.ref, r.note)
        for r in rows
    ]
    for quote, row in zip(sorted(quotes, key=lambda quote: quote.line), rows, strict=True):
        assert (quote.refund_share, quote.lead_days) == (row.refund_share or 0.0, row.lead_days or 0)
        assert row.good_chance is None or quote.good_chance == row.good_chance


@examples(500)
@given(
    st.text(
        st.sampled_from("'=+-@;|\t\r\n ab\N{NO-BREAK SPACE}\N{FULLWIDTH EQUALS SIGN}") | st.characters(), max_size=12
    )
)
def test_neutral_text_comes_back(text):
    assert cells.plain_again(cells.neutral(text)) == text
    assert not cells.neutral(text).lstrip(" \N{NO-BREAK SPACE}").startswith(("=", "+", "-", "@", "\t", "\r", "\n"))
    assert cells.neutral(cells.plain_again(cells.neutral(text))) == cells.neutral(text)


@examples(200)
@given(st.binary(max_size=400), st.sampled_from(["oddlode.csv", "oddlode.xlsx"]))
def test_any_bytes_are_understood_or_refused(data, name):
    with TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        try:
            understand(path, KNOWN)
        except InputError as error:
            named = {problem.file for problem in error.problems}
        else:
            named = {name}
        assert named == {name}
